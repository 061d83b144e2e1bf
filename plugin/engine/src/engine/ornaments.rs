//! Ornaments of the change of chords: suspensions and retardations at it; passing notes and anticipations
//! just before it. They come in between the rungs Flowing and Ornate.
//!
//! The definitions are those of `nonchord_tones.csv` (Open Music Theory; Rush; Gehrkens). Which are played is
//! drawn from the seed by place. Leads need to know the next chord; suspensions only the last voicing.

use figwort_theory::{Chord, Moment, Pitch, Span};

use super::{Engine, Scene};
use crate::book::{Thread, Who};
use crate::event::{EventSink, Hand};
use crate::figure::line::scale;
use crate::observation::{MelodyState, Texture};
use crate::reading::Reading;
use crate::schedule::{Desk, Onset, Until};
use crate::settings::ladder::{below, hash};
use crate::voicing::{UNDER_MELODY, Voicing};

/// Share of the changes that could have a suspension or retardation and do, on the rung Ornate.
const SUSPENDED: f32 = 0.6;
/// The same for passing notes and anticipations.
const LED: f32 = 0.6;
/// Slots of the ladder: one for each kind of ornament, and one for what is drawn beside.
const SUSPENSION: u32 = 1;
const LEAD: u32 = 2;
const DRAW: u32 = 0x8000_0010;
/// More felt beats than a bar has, to tell its places apart.
const BEATS: u32 = 64;

/// A part that moves by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Ornament {
    /// When.
    pub(super) at: Moment,
    /// The part's index in the voicing.
    part: usize,
    /// The note that it leaves.
    pub(super) from: Pitch,
    /// The note that it takes.
    to: Pitch,
    /// Whether it resolves a note held over the change; else it leads to the next chord.
    resolves: bool,
}

fn rub(a: Pitch, b: Pitch) -> bool {
    matches!(a.above(b).abs(), 0 | 1 | 13 | 25)
}

impl Engine {
    /// Whether a place has climbed to an ornament, and draws it.
    fn is_drawn(&self, scene: &Scene<'_>, reading: &Reading, slot: u32, share: f32) -> bool {
        let settings = scene.settings;
        let beat = reading.place().0 / reading.bar.metre.beat().0.max(1);
        let slot = slot * BEATS + beat as u32;
        let drawn = hash(settings.seed ^ hash(DRAW, slot), reading.bar.index as u32);
        settings.ornament(reading.bar.index, slot) && below(drawn, share)
    }

    /// A chord has just changed and its voicing was chosen: maybe one of its upper parts is late.
    pub(super) fn suspend<S: EventSink>(
        &mut self,
        _desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        reading: &Reading,
        before: &Voicing,
    ) {
        let beat = reading.bar.metre.beat();
        let later = self.now + beat;
        let level = |at: Moment| reading.bar.metre.level(at - reading.bar.start);
        let lasts = reading.next.is_none_or(|(change, _)| change > later) && later < reading.bar.end();
        let lasts = lasts
            && scene.chart_harmony().is_none_or(|c| c.next_harmony(self.now).is_none_or(|h| h.at > later));
        let moving = reading.melody == MelodyState::Moving || self.plan.texture == Texture::Ending;
        let Some(chord) = reading.chord else { return };
        if !lasts
            || moving
            || level(self.now) >= level(later)
            || !self.is_drawn(scene, reading, SUSPENSION, SUSPENDED)
        {
            return;
        }
        let upper = self.voicing.notes().len();
        self.ornament = (1..upper).rev().find_map(|part| {
            let to = *self.voicing.notes().get(part)?;
            before.notes().iter().skip(1).find_map(|from| {
                let fits = self.may_be_late(scene, chord, part, *from, to, later);
                fits.then_some(Ornament { at: later, part, from: *from, to, resolves: true })
            })
        });
        if let Some(Ornament { part, from, .. }) = self.ornament {
            self.voicing = self.voicing.replaced(part, from);
        }
    }

    /// Whether a part may keep the note `from` of the last chord until `until`, before it takes `to`.
    fn may_be_late(
        &self,
        scene: &Scene<'_>,
        chord: Chord,
        part: usize,
        from: Pitch,
        to: Pitch,
        until: Moment,
    ) -> bool {
        let notes = self.voicing.notes();
        let down = from.above(to);
        let rises = down == -1;
        let bass = notes.first().copied();
        // The resolution isn't heard before, but for 9-8 over the bass.
        let octave = bass.is_some_and(|bass| bass.class() == to.class());
        let elsewhere = notes.iter().enumerate().any(|(n, p)| n > 0 && n != part && p.class() == to.class());
        let melody = self.melody_range(scene, until);
        let melody_has_it =
            melody.is_some_and(|(low, high)| low.class() == to.class() || high.class() == to.class());
        let near = notes.get(part + 1).is_none_or(|above| above.above(from) >= 2)
            && notes.get(part - 1).is_some_and(|below| from.above(*below) >= 2);
        let clear = notes.iter().enumerate().all(|(n, p)| n == part || !rub(*p, from));
        let free = melody
            .is_none_or(|(low, high)| low.above(from) >= UNDER_MELODY && !rub(low, from) && !rub(high, from));
        (matches!(down, 1 | 2) || rises)
            && !chord.classes().contains(from.class())
            && chord.tones().contains(to.class())
            && (!octave || down > 0)
            && !elsewhere
            && !melody_has_it
            && near
            && clear
            && free
    }

    /// The melody from now to `until`, as far as it is known.
    fn melody_range(&self, scene: &Scene<'_>, until: Moment) -> Option<(Pitch, Pitch)> {
        let known = scene.chart_melody().and_then(|chart| {
            let first = chart.melody.partition_point(|n| n.at + n.length <= self.now);
            let coming = chart.melody.get(first..)?.iter().take_while(|n| n.at <= until).map(|n| n.pitch);
            coming.fold(None, |range: Option<(Pitch, Pitch)>, p| {
                Some(range.map_or((p, p), |(low, high)| (low.min(p), high.max(p))))
            })
        });
        known.or(self.melody.sounding().map(|p| (p, p)))
    }

    /// Looks whether an upper part leads into the next chord, and where.
    pub(super) fn plan_lead(&mut self, scene: &Scene<'_>, reading: &Reading) {
        if self.ornament.is_some()
            || !matches!(self.plan.texture, Texture::Block | Texture::Figure(_))
            || !self.is_drawn(scene, reading, LEAD, LED)
            || self.figure_leads(scene, reading)
        {
            return;
        }
        let Some((place, next, true)) = self.look_ahead(scene) else { return };
        let metre = reading.bar.metre;
        let division =
            if metre.is_compound() { metre.beat().fraction(1, 3) } else { metre.beat().fraction(1, 2) };
        let written = place - division;
        let at = self.swung(scene, written);
        let level = |at: Moment| metre.level(at - reading.bar.start);
        if at <= self.now || place > reading.bar.end() || level(written) < 3 || level(place) >= level(written)
        {
            return;
        }
        let Some(chord) = reading.chord else { return };
        let Some(chart) = scene.chart_melody() else { return };
        // Only while the melody stands: no onset from a beat before the note to the change.
        let after = chart.melody.partition_point(|n| n.at <= at - metre.beat());
        if chart.melody.get(after).is_some_and(|n| n.at < place) {
            return;
        }
        let melody = chart.note_at(at).map(|n| n.pitch);
        let scale = scale(chord, reading.key);
        let notes = self.voicing.notes();
        self.ornament = (1..notes.len()).rev().find_map(|part| {
            let from = *notes.get(part)?;
            // The same part from above, where the voicings differ in number.
            let from_top = notes.len() - part;
            let goal = *next.notes().get(next.notes().len().checked_sub(from_top).filter(|n| *n > 0)?)?;
            let by = goal.above(from);
            let to = match by.abs() {
                // Through the note between, a step from both.
                3 | 4 => [2, 1]
                    .into_iter()
                    .filter(|s| by.abs() - s <= 2)
                    .filter_map(|s| from.transpose(s * by.signum()))
                    .find(|p| scale.contains(p.class()))?,
                1 | 2 if !chord.classes().contains(goal.class()) => goal,
                _ => return None,
            };
            let free = notes.iter().enumerate().all(|(n, p)| n == part || !rub(*p, to))
                && notes.get(part + 1).is_none_or(|above| *above > to)
                && notes.get(part - 1).is_some_and(|below| *below < to)
                && melody.is_none_or(|m| m.above(to) >= UNDER_MELODY && !rub(m, to));
            let chordal = chord.classes().contains(from.class());
            (free && chordal).then_some(Ornament { at, part, from, to, resolves: false })
        });
    }

    /// Whether the figure that runs has upper lines or pushes of its own.
    fn figure_leads(&self, scene: &Scene<'_>, reading: &Reading) -> bool {
        let Some(run) = self.running else { return false };
        run.pattern(scene.figures, reading.bar.metre).is_some_and(|pattern| {
            pattern
                .steps
                .iter()
                .any(|step| matches!(step.who, Who::Line(Thread::Inner | Thread::Top, _) | Who::Next))
        })
    }

    /// The ornament that is due: a held note resolves, or a part leads on.
    pub(super) fn do_ornament<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
    ) {
        let Some(Ornament { at, part, from, to, resolves }) = self.ornament.take() else { return };
        self.now = self.now.max(at);
        let sounds = self.schedule.note(from).is_some_and(|n| n.hand != Hand::Melody);
        let own = self.voicing.notes().get(part) == Some(&from);
        if !own || (!resolves && !sounds) {
            return;
        }
        self.voicing = self.voicing.replaced(part, to);
        if sounds {
            self.lift_pedal(desk, scene);
            self.schedule.release(desk, |note| note.hand != Hand::Melody && note.pitch == from);
        }
        if resolves {
            self.strike_part(desk, scene, frame, to, Until::Change, RESOLVED);
        } else {
            let hand = self.hand_of(to);
            let velocity = self.velocity(scene, false, 0);
            let onset = Onset { pitch: to, hand, channel: 0, velocity, until: Until::Change };
            self.sound(desk, scene, frame, onset, Span::ZERO);
        }
        self.retake_soon(scene);
    }
}

/// Resolutions are softer than what they resolve, in velocity steps. Common practice, no source.
const RESOLVED: i8 = -4;
