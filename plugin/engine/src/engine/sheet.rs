//! Following a sheet: its bars, its chords, its melody, and where its voicings come from.
//!
//! With a sheet, what is played in a bar must not depend on where playing began. So the reading of a place
//! is taken from the chart alone, and the voicing before it is worked out anew after a jump: forward from
//! the last anchor, a section's start or every eighth bar.

use figwort_theory::{Moment, Pitch, Span};

use super::staying::may_stay;
use super::{Engine, Scene};
use crate::chart::{Chart, ChartNote};
use crate::decision::decide;
use crate::event::{EventSink, Hand};
use crate::observation::MelodyState;
use crate::reading::Reading;
use crate::reading::clock::Bar;
use crate::reading::form::Form;
use crate::reading::melody::stands;
use crate::reading::tension::tension;
use crate::schedule::{Desk, Onset, Until};
use crate::settings::Settings;
use crate::voicing::{Voicing, voice};

/// Bars from one anchor to the next, at most.
const ANCHOR_BARS: usize = 8;
/// Places voiced again after a jump, at most; a sheet with more changes than this in eight bars is voiced
/// from further on.
const MOST_PLACES: usize = 64;

/// How far ahead the melody's lowest note is looked for, in felt beats. A dip that comes later is given way
/// to when it comes.
const CEILING_BEATS: i64 = 2;

/// Bars that take turns to climb.
const TURN_BARS: usize = 32;

/// Bars on either side that say how high the melody lies usually.
const AROUND_BARS: i64 = 8;
/// Bars before and after a place whose melody makes its level, and the most notes of them that count.
const LEVEL_BARS: i64 = 2;
const MOST_NOTES: usize = 96;

/// A bar of a chart; an index past the end gives the last one.
pub(super) fn bar(chart: &Chart<'_>, index: usize) -> Bar {
    chart.bars.get(index).or(chart.bars.last()).map_or(
        Bar { start: Moment::ZERO, length: Span::WHOLE, metre: figwort_theory::Metre::FOUR_FOUR, index: 0 },
        |bar| Bar { start: bar.start, length: bar.length, metre: bar.metre, index: index as i64 },
    )
}

/// The last place before `at` where a voicing is chosen: a bar's start or a change of harmony.
fn place_before(chart: &Chart<'_>, at: Moment) -> Option<Moment> {
    let bar = chart.bars.partition_point(|b| b.start < at).checked_sub(1).and_then(|i| chart.bars.get(i));
    let harmony =
        chart.harmonies.partition_point(|h| h.at < at).checked_sub(1).and_then(|i| chart.harmonies.get(i));
    bar.map(|b| b.start).max(harmony.map(|h| h.at))
}

/// The first place after `at`.
pub(super) fn place_after(chart: &Chart<'_>, at: Moment) -> Option<Moment> {
    let bar = chart.bars.get(chart.bars.partition_point(|b| b.start <= at)).map(|b| b.start);
    let harmony = chart.next_harmony(at).map(|h| h.at);
    match (bar, harmony) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b),
    }
}

/// The anchor at or before `at`.
fn anchor(chart: &Chart<'_>, at: Moment) -> Moment {
    let mut index = chart.bars.partition_point(|b| b.start <= at).saturating_sub(1);
    while index > 0 && !is_anchor(chart, index) {
        index -= 1;
    }
    chart.bars.get(index).map_or(Moment::ZERO, |b| b.start)
}

fn is_anchor(chart: &Chart<'_>, index: usize) -> bool {
    index.is_multiple_of(ANCHOR_BARS) || chart.bars.get(index).is_some_and(|bar| bar.section)
}

/// What can be read of a place from the chart alone.
pub(super) fn read(chart: &Chart<'_>, settings: &Settings, now: Moment) -> Reading {
    let index = chart.bar_at(now).unwrap_or(0);
    let bar = bar(chart, index);
    let written = chart.bars.get(index);
    let beat = bar.metre.beat();
    let before = chart.melody.partition_point(|n| n.at <= now).checked_sub(1);
    let note = before.and_then(|i| chart.melody.get(i)).copied();
    let next = chart.next_note(now);
    let harmony = chart.harmony_at(now).and_then(|(_, h)| h.chord);
    let change = chart.next_harmony(now);
    let end = chart.end();
    let key = written.map_or_else(Default::default, |b| b.key);
    let form = Form::of(chart, index);
    let melody = melody_state(note, next, now, settings.wait_for(beat), beat);
    let moves_at = next.map(|n| n.at).filter(|_| melody != MelodyState::Moving);
    let changed = chart.harmony_at(now).map_or(bar.start, |(_, h)| h.at);
    let until = change.map_or(end, |h| h.at).min(bar.end());
    Reading {
        now,
        bar,
        form,
        turn: turn(chart, settings, index),
        chord: harmony,
        key,
        tension: harmony.map_or(0, |chord| tension(chord, key, form)),
        melody,
        ceiling: ceiling(chart, note, now, change.map_or(end, |h| h.at).min(now + beat * CEILING_BEATS)),
        summit: summit(chart, note, now, until),
        melody_motion: motion(chart, now, moves_at.map_or(until, |at| at.min(until))),
        melody_height: height(chart, &bar),
        melody_velocity: velocity(chart, now).unwrap_or(72),
        next: change.and_then(|h| Some((h.at, h.chord?))),
        origin: changed.max(bar.start),
        moves_at,
        // The sheet's last chord waits for the melody's last note; one that is to be the last before it doesn't.
        last: match change {
            Some(_) => settings.finish,
            None => next.is_none() && (settings.finish || end - now <= bar.length),
        },
    }
}

/// The melody note that sounds at a place.
fn sounding(note: Option<ChartNote>, now: Moment) -> Option<Pitch> {
    note.filter(|n| now < n.at + n.length).map(|n| n.pitch)
}

fn melody_state(
    note: Option<ChartNote>,
    next: Option<ChartNote>,
    now: Moment,
    wait: Span,
    beat: Span,
) -> MelodyState {
    let still = match (note, next) {
        (None, Some(next)) => next.at - now >= beat,
        // Nothing more comes: it stands.
        (_, None) => true,
        (Some(note), Some(next)) => stands(note.at, now, wait, beat, Some(next.at)),
    };
    match (still, sounding(note, now)) {
        (false, _) => MelodyState::Moving,
        (true, Some(_)) => MelodyState::Still,
        (true, None) => MelodyState::Resting,
    }
}

/// The lowest melody pitch from now to `until`; where it rests all along, the last one heard.
fn ceiling(chart: &Chart<'_>, note: Option<ChartNote>, now: Moment, until: Moment) -> Option<Pitch> {
    let coming = chart.melody.get(chart.melody.partition_point(|n| n.at <= now)..).unwrap_or_default();
    let lowest = coming.iter().take_while(|n| n.at < until).map(|n| n.pitch).min();
    let here = sounding(note, now);
    match (here, lowest) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b).or(note.map(|n| n.pitch)),
    }
}

/// A bar's turn to climb. Between Shared and Flowing only bars in which the melody stands can change, so those
/// are counted by themselves, and the others after them: each step of the control then finds some.
fn turn(chart: &Chart<'_>, settings: &Settings, index: usize) -> i64 {
    let place = index as i64;
    if settings.elaboration <= 2.0 || settings.elaboration >= 3.0 {
        return place;
    }
    let first = index / TURN_BARS * TURN_BARS;
    let here = stands_in(chart, settings, index);
    let like = (first..index).filter(|bar| stands_in(chart, settings, *bar) == here).count() as i64;
    if here { first as i64 + like } else { (first + TURN_BARS) as i64 - 1 - like }
}

/// Whether the melody stands somewhere in a bar.
fn stands_in(chart: &Chart<'_>, settings: &Settings, index: usize) -> bool {
    let bar = bar(chart, index);
    let beat = bar.metre.beat();
    let wait = settings.wait_for(beat);
    between(chart, bar.start, bar.end()).is_none_or(|notes| {
        let ends = notes.iter().skip(1).map(|n| n.at);
        let last = chart.next_note(bar.end() - Span(1)).map_or(chart.end(), |n| n.at);
        notes.iter().zip(ends.chain([last])).any(|(n, next)| stands(n.at, n.at, wait, beat, Some(next)))
    })
}

/// Melody notes between two moments, the first included; `None` where the sheet has none there.
fn between<'a>(chart: &Chart<'a>, from: Moment, until: Moment) -> Option<&'a [ChartNote]> {
    let place = |at: Moment| chart.melody.partition_point(|n| n.at < at);
    chart.melody.get(place(from)..place(until)).filter(|notes| !notes.is_empty())
}

/// Melody onsets per quarter note from `now` to `until`, taken over a quarter at least.
fn motion(chart: &Chart<'_>, now: Moment, until: Moment) -> f32 {
    let onsets = between(chart, now, until).map_or(0, <[_]>::len);
    onsets as f32 * Span::QUARTER.0 as f32 / (until - now).0.max(Span::QUARTER.0) as f32
}

/// How high the melody lies in a bar and half a bar on either side, against the bars around, in semitones.
fn height(chart: &Chart<'_>, bar: &Bar) -> i8 {
    let half = bar.length.fraction(1, 2);
    let mean = |from: Moment, until: Moment| {
        let notes = between(chart, from, until)?;
        // Long notes count more, as in the ear.
        let length: i64 = notes.iter().map(|n| n.length.0).sum();
        let sum: i64 = notes.iter().map(|n| n.length.0 * i64::from(n.pitch.key())).sum();
        (length > 0).then(|| sum as f32 / length as f32)
    };
    let here = mean(bar.start - half, bar.end() + half);
    let around = mean(bar.start - bar.length * AROUND_BARS, bar.end() + bar.length * AROUND_BARS);
    here.zip(around).map_or(0, |(here, around)| (here - around).clamp(-24.0, 24.0) as i8)
}

/// The mean velocity of the last few melody notes, the present one included.
fn velocity(chart: &Chart<'_>, now: Moment) -> Option<u8> {
    let last = chart.melody.partition_point(|n| n.at <= now);
    let notes = chart.melody.get(last.saturating_sub(4)..last).filter(|notes| !notes.is_empty())?;
    let sum: usize = notes.iter().map(|n| usize::from(n.velocity.value())).sum();
    u8::try_from(sum / notes.len()).ok()
}

/// The highest melody pitch from now to `until`.
fn summit(chart: &Chart<'_>, note: Option<ChartNote>, now: Moment, until: Moment) -> Option<Pitch> {
    let coming = chart.melody.get(chart.melody.partition_point(|n| n.at <= now)..).unwrap_or_default();
    coming.iter().take_while(|n| n.at < until).map(|n| n.pitch).max().max(sounding(note, now))
}

/// The melody's level around a place: its mean pitch, by length, over two bars before and two after. It
/// rises and falls with the phrases, not with their leaps. `None` where the melody rests all the while.
pub(super) fn register(chart: &Chart<'_>, now: Moment) -> Option<Pitch> {
    let reach = bar(chart, chart.bar_at(now)?).length * LEVEL_BARS;
    let (from, until) = (now - reach, now + reach);
    let first = chart.melody.partition_point(|n| n.at < from);
    let around = chart.melody.get(first..).unwrap_or_default().iter().take_while(|n| n.at < until);
    let (sum, time) = around.take(MOST_NOTES).fold((0, 0), |(sum, time), note| {
        (sum + i64::from(note.pitch.key()) * note.length.0, time + note.length.0)
    });
    Pitch::from_i32(sum.checked_div(time)? as i32)
}

impl Engine {
    /// Takes up the sheet where time stands: its harmony, its melody, the voicing that came before.
    pub(super) fn join_chart<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>, frame: u64) {
        let Some(chart) = scene.chart else { return };
        let before = |chart: &Chart<'_>| {
            chart.melody.get(chart.melody.partition_point(|n| n.at < self.now).checked_sub(1)?).copied()
        };
        if let Some(note) = scene.chart_melody().and_then(before) {
            // Its beginning was missed; it is known to stand, or to have stood, and isn't struck late.
            self.melody.adopt(note.at, frame, note.pitch, note.velocity);
            if note.at + note.length > self.now {
                self.cursor.note_end = Some((note.at + note.length, note.pitch));
            } else {
                self.melody.release(note.pitch);
            }
        }
        self.frame_voicing = self.voicing_heard(scene, chart, self.now).unwrap_or_default();
        if let (Some(_), Some((_, harmony))) = (scene.chart_harmony(), chart.harmony_at(self.now))
            && harmony.at < self.now
            && self.now < chart.end()
        {
            // The melody of this very moment comes first, as it would have.
            if let Some(note) = scene.chart_melody().and_then(|chart| chart.next_note(self.cursor.melody))
                && note.at == self.now
            {
                self.chart_note(desk, scene, frame);
            }
            self.strike_chord(desk, scene, frame);
        }
    }

    /// The voicing that leads to `now` when the sheet is played from its last anchor.
    pub(super) fn voicing_before(
        &self,
        scene: &Scene<'_>,
        chart: &Chart<'_>,
        now: Moment,
    ) -> Option<Voicing> {
        self.voicing_led(scene, chart, anchor(chart, now), now)
    }

    /// The voicing that sounds just before `now`. At an anchor that is another than the one which its own
    /// voicing leads on from.
    fn voicing_heard(&self, scene: &Scene<'_>, chart: &Chart<'_>, now: Moment) -> Option<Voicing> {
        let place = place_before(chart, now)?;
        self.voicing_led(scene, chart, anchor(chart, place), now)
    }

    /// The last voicing before `now`, led on from place to place since an anchor.
    fn voicing_led(
        &self,
        scene: &Scene<'_>,
        chart: &Chart<'_>,
        anchor: Moment,
        now: Moment,
    ) -> Option<Voicing> {
        scene.chart_melody()?;
        let voiced =
            |place: Moment, previous: Option<&Voicing>| self.voiced_at(scene, chart, place, previous);
        // At an anchor, the place before it gives the start, voiced as if nothing had come before.
        let mut last = place_before(chart, anchor).and_then(|place| voiced(place, None));
        let mut places = 0;
        let mut place = Some(anchor);
        while let Some(at) = place.filter(|at| *at < now && places < MOST_PLACES) {
            last = voiced(at, last.as_ref());
            place = place_after(chart, at);
            places += 1;
        }
        last
    }

    /// The voicing of a place, led on from the one before it.
    pub(super) fn voiced_at(
        &self,
        scene: &Scene<'_>,
        chart: &Chart<'_>,
        place: Moment,
        previous: Option<&Voicing>,
    ) -> Option<Voicing> {
        let reading = read(chart, scene.settings, place);
        let plan = decide(&reading, scene.settings, scene.figures);
        let note = chart.note_at(place).map(|n| n.pitch);
        let request = self.request(scene, &reading, &plan, note)?;
        let changed = chart.harmony_at(place).map_or(place, |(_, harmony)| harmony.at);
        match previous {
            Some(kept) if may_stay(&reading, &plan, changed, &request, kept) => Some(kept.clone()),
            _ => Some(voice(&request, previous)),
        }
    }

    /// The next bar or change of harmony, how its chord will be voiced, and whether it is another chord. Only
    /// where the whole sheet is known; the last chord, and silence, aren't looked forward to.
    pub(super) fn look_ahead(&mut self, scene: &Scene<'_>) -> Option<(Moment, Voicing, bool)> {
        let chart = scene.chart_harmony().filter(|_| scene.chart_melody().is_some())?;
        let place = place_after(chart, self.now)?;
        if let Some(known) = self.ahead.as_ref().filter(|(at, ..)| *at == place) {
            return Some(known.clone());
        }
        let (_, harmony) = chart.harmony_at(place)?;
        harmony.chord?;
        let before = if self.at_anchor(chart, place) {
            self.voicing_before(scene, chart, place)
        } else {
            Some(self.frame_voicing.clone())
        };
        let before = before.filter(|voicing| !voicing.is_empty());
        let found = (place, self.voiced_at(scene, chart, place, before.as_ref())?, harmony.at == place);
        self.ahead = Some(found.clone());
        Some(found)
    }

    /// Whether the voicing before `now` has to be worked out anew, so that a start from here finds the same.
    pub(super) fn at_anchor(&self, chart: &Chart<'_>, now: Moment) -> bool {
        chart.bar_at(now).is_some_and(|index| {
            is_anchor(chart, index) && chart.bars.get(index).is_some_and(|bar| bar.start == now)
        })
    }

    /// The next note of the chart's melody.
    pub(super) fn chart_note<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>, frame: u64) {
        let Some(chart) = scene.chart_melody() else { return };
        let Some(note) = chart.next_note(self.cursor.melody) else { return };
        self.now = self.now.max(note.at);
        self.cursor.melody = note.at;
        let ends = note.at + note.length;
        if scene.settings.bypass || ends <= self.now {
            return;
        }
        if let Some((_, pitch)) = self.cursor.note_end.take() {
            self.melody.release(pitch);
        }
        // Two notes that touch: the first ends before the second begins.
        self.schedule.release(desk, |n| n.hand == Hand::Melody && matches!(n.until, Until::At(_)));
        let onset = Onset {
            pitch: note.pitch,
            hand: Hand::Melody,
            channel: 0,
            velocity: note.velocity,
            until: Until::At(ends),
        };
        self.schedule.strike(desk, frame, onset);
        self.melody.adopt(note.at, frame, note.pitch, note.velocity);
        self.cursor.note_end = Some((ends, note.pitch));
        self.key.hear_note(note.pitch.class(), self.now);
        // The last note stands for good.
        let next = chart.next_note(note.at).map_or(chart.end() + Span::WHOLE * 8, |n| n.at);
        self.melody_moves(desk, scene, frame, (note.pitch, Some(next)));
    }

    /// The next change of the chart's harmony.
    pub(super) fn chart_harmony<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
    ) {
        let Some(harmony) = scene.chart_harmony().and_then(|chart| chart.next_harmony(self.cursor.harmony))
        else {
            return;
        };
        self.now = self.now.max(harmony.at);
        self.cursor.harmony = harmony.at;
        if scene.settings.bypass {
            return;
        }
        match harmony.chord {
            Some(_) => self.strike_chord(desk, scene, frame),
            None => self.end_chord(desk),
        }
    }

    /// The sheet is over.
    pub(super) fn chart_end<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>) {
        self.cursor.ended = true;
        if let Some(chart) = scene.chart {
            self.now = self.now.max(chart.end());
        }
        if scene.chart_harmony().is_some() {
            self.fall_silent(desk);
        }
        self.release_chart_note(desk);
    }
}

#[cfg(test)]
mod tests;
