//! Ornaments of the change of chords: suspensions and retardations at it; passing notes and anticipations
//! just before it. They come in between the rungs Flowing and Ornate.
//!
//! The definitions are those of Open Music Theory (Shaffer, Hughes and Moseley, 2014, embellishing tones), of Rush's
//! sheet Non-Harmonic Tones (Music Theory for Musicians and Normal People) and of Gehrkens, Music Notation and
//! Terminology (1914), §§ 210–213. Which are played is drawn from the seed by place. Leads need to know the next
//! chord; suspensions only the last voicing.

use figwort_theory::{Chord, Moment, Pitch, Span};

use super::{Engine, Scene, sheet};
use crate::book::{Thread, Who};
use crate::event::{EventSink, Hand};
use crate::figure::line::scale;
use crate::observation::{MelodyState, Texture};
use crate::reading::Reading;
use crate::reading::clock::Bar;
use crate::reading::form::Form;
use crate::schedule::{Desk, Onset, Until};
use crate::settings::ladder::{below, hash};
use crate::voicing::spacing::is_clear;
use crate::voicing::{UNDER_MELODY, Voicing};

/// Shares of the changes that are to have a part late, and a part that leads there, on the rung Ornate. Fewer
/// do, as it has to be possible.
const LATE: f32 = 0.4;
const LEAD: f32 = 0.4;
/// The ladder's slots for changes, one a felt beat, and the one for what is drawn beside.
const CHANGES: u32 = 64;
const BASS_CHANGES: u32 = 128;
const DRAW: u32 = 0x8000_0010;

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

impl Ornament {
    /// Whether it is about this note's being held over a change.
    pub(super) fn is_held(&self, pitch: Pitch) -> bool {
        self.resolves && self.from == pitch
    }

    /// The resolution of a note held over a change, and when.
    pub(super) fn resolution(&self) -> Option<(Moment, Pitch)> {
        self.resolves.then_some((self.at, self.to))
    }
}

fn rub(a: Pitch, b: Pitch) -> bool {
    matches!(a.above(b).abs(), 0 | 1 | 13 | 25)
}

/// A part that might keep its note of the last chord for a beat.
#[derive(Clone, Copy)]
struct Late {
    part: usize,
    from: Pitch,
    to: Pitch,
    /// The lowest and highest melody note until it resolves.
    melody: Option<(Pitch, Pitch)>,
    /// How far below the melody the hand reaches.
    reach: i32,
}

impl Late {
    /// Whether it is a suspension or a retardation among the new chord's `notes`, and rubs nobody.
    fn is_proper(&self, chord: Chord, notes: &[Pitch]) -> bool {
        let Self { part, from, to, melody, reach } = *self;
        let down = from.above(to);
        // The resolution isn't heard before, but for 9-8 over the bass.
        let octave = notes.first().is_some_and(|bass| bass.class() == to.class());
        let elsewhere = notes.iter().enumerate().any(|(n, p)| n > 0 && n != part && p.class() == to.class());
        let sung = melody.is_some_and(|(low, high)| low.class() == to.class() || high.class() == to.class());
        let near = notes.get(part + 1).is_none_or(|above| above.above(from) >= 2)
            && part.checked_sub(1).and_then(|n| notes.get(n)).is_some_and(|below| from.above(*below) >= 2);
        let clear = notes.iter().enumerate().all(|(n, p)| n == part || !rub(*p, from));
        let free = melody.is_none_or(|(low, high)| {
            low.above(from) >= UNDER_MELODY
                && high.above(from) <= reach
                && !rub(low, from)
                && !rub(high, from)
        });
        matches!(down, -1 | 1 | 2)
            && !chord.classes().contains(from.class())
            && chord.tones().contains(to.class())
            && (!octave || down > 0)
            && !elsewhere
            && !sung
            && near
            && clear
            && free
    }
}

/// What a change of chords is ornamented with.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// A part that comes late.
    Late,
    /// A part that leads there.
    Lead,
}

impl Engine {
    /// The kind of ornament that is drawn for a change of chords; one at most.
    fn kind_at(&self, scene: &Scene<'_>, bar: &Bar, change: Moment) -> Option<Kind> {
        let settings = scene.settings;
        let slot = CHANGES + ((change - bar.start).0 / bar.metre.beat().0.max(1)) as u32;
        let drawn = hash(settings.seed ^ hash(DRAW, slot), bar.index as u32);
        let kind = if below(drawn, LATE) {
            Some(Kind::Late)
        } else {
            below(drawn, LATE + LEAD).then_some(Kind::Lead)
        };
        kind.filter(|_| settings.ornament(bar.index, slot))
    }

    /// A chord has just changed and its voicing was chosen: maybe one of its upper parts is late.
    pub(super) fn suspend(&mut self, scene: &Scene<'_>, reading: &Reading, before: &Voicing) {
        self.ornament = None;
        if self.plan.texture == Texture::Ending {
            return;
        }
        // What is held over sounds already. Where the sheet is known, it was prepared, or playing begins here.
        let known = scene.chart_harmony().is_some() && scene.chart_melody().is_some();
        let sounds = |pitch| self.schedule.note(pitch).is_some_and(|n| n.hand != Hand::Melody);
        let prepared = |late: &Ornament| known || sounds(late.from);
        self.ornament = self.late_part(scene, reading, before, &self.voicing).filter(prepared);
        if let Some(Ornament { part, from, .. }) = self.ornament {
            self.voicing = self.voicing.replaced(part, from);
        }
    }

    /// Plans that the note which the next chord will find held sounds by then: from a beat before on.
    pub(super) fn plan_preparation(&mut self, scene: &Scene<'_>) {
        self.preparation = self.look_ahead(scene).and_then(|(place, next, _)| {
            let from = self.held_into(scene, place, &next)?;
            let beat = self.bar(scene, self.now).metre.beat();
            Some(((place - beat).max(self.now), from))
        });
    }

    /// The preparation is due: the note is held from here on, or struck if no figure did.
    pub(super) fn prepare<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>, frame: u64) {
        let Some((at, pitch)) = self.preparation.take() else { return };
        self.now = self.now.max(at);
        if self.schedule.note(pitch).is_some_and(|note| note.hand != Hand::Melody) {
            self.schedule.hold(pitch, Until::Change);
        } else {
            self.strike_part(desk, scene, frame, pitch, Until::Change, 0);
        }
    }

    /// The note of the present chord that will be held into the next one at `at`, voiced so.
    pub(super) fn held_into(&self, scene: &Scene<'_>, at: Moment, voicing: &Voicing) -> Option<Pitch> {
        let chart = scene.chart_harmony().filter(|_| scene.chart_melody().is_some())?;
        let reading = sheet::read(chart, scene.settings, at);
        self.late_part(scene, &reading, &self.frame_voicing, voicing).map(|ornament| ornament.from)
    }

    /// The part that comes late when the chord of `reading` is voiced so after `before`, if there is any.
    fn late_part(
        &self,
        scene: &Scene<'_>,
        reading: &Reading,
        before: &Voicing,
        voicing: &Voicing,
    ) -> Option<Ornament> {
        let (now, bar) = (reading.now, &reading.bar);
        let chord = reading.chord?;
        let beat = bar.metre.beat();
        // Where the next chord isn't known, it may come with the next beat.
        let known = scene.chart_harmony().is_some();
        let division = if bar.metre.is_compound() { beat.fraction(1, 3) } else { beat.fraction(1, 2) };
        let later = now + if known { beat } else { division };
        let level = |at: Moment| bar.metre.level(at - bar.start);
        let lasts = reading.next.is_none_or(|(change, _)| change > later)
            && scene.chart_harmony().is_none_or(|c| c.next_harmony(now).is_none_or(|h| h.at > later))
            && later < bar.end();
        // Playing may begin inside a chord that lasts.
        let changes = scene
            .chart_harmony()
            .is_none_or(|chart| chart.harmony_at(now).is_some_and(|(_, harmony)| harmony.at == now));
        // A melody that rests may come in at any time, where it isn't known.
        let stands = match reading.melody {
            MelodyState::Moving => false,
            MelodyState::Still => true,
            MelodyState::Resting => scene.chart_melody().is_some(),
        };
        let wanted = lasts
            && changes
            && !self.breathes_before(scene, now)
            && !reading.last
            && stands
            && bar.length == bar.metre.bar()
            && (now - bar.start).0.rem_euclid(beat.0.max(1)) == 0
            && level(now) < level(later)
            && self.kind_at(scene, bar, now) == Some(Kind::Late);
        if !wanted {
            return None;
        }
        let notes = voicing.notes();
        // From the preparation on.
        let melody = self.melody_range(scene, if known { now - beat } else { now }, later);
        let reach = self.reach_under_melody(scene);
        (1..notes.len()).rev().find_map(|part| {
            let to = *notes.get(part)?;
            let reach = if part < voicing.left().len() { i32::MAX } else { reach };
            let from = before.notes().iter().skip(1).find(|from| {
                let found = Late { part, from: **from, to, melody, reach };
                found.is_proper(chord, notes)
            })?;
            Some(Ornament { at: later, part, from: *from, to, resolves: true })
        })
    }

    /// Whether a phrase ends just before a bar line of a known sheet: the right hand breathes there and holds
    /// nothing over.
    fn breathes_before(&self, scene: &Scene<'_>, now: Moment) -> bool {
        let Some(chart) = scene.chart_harmony().filter(|_| !scene.settings.dry) else { return false };
        let here = chart.bar_at(now).filter(|n| chart.bars.get(*n).is_some_and(|bar| bar.start == now));
        here.and_then(|n| n.checked_sub(1)).is_some_and(|before| Form::of(chart, before).ends_phrase())
    }

    /// The melody from one moment to another, as far as it is known.
    fn melody_range(&self, scene: &Scene<'_>, from: Moment, until: Moment) -> Option<(Pitch, Pitch)> {
        let Some(chart) = scene.chart_melody() else { return self.melody.sounding().map(|p| (p, p)) };
        let first = chart.melody.partition_point(|n| n.at + n.length <= from);
        let coming = chart.melody.get(first..)?.iter().take_while(|n| n.at <= until).map(|n| n.pitch);
        coming.fold(None, |range: Option<(Pitch, Pitch)>, p| {
            Some(range.map_or((p, p), |(low, high)| (low.min(p), high.max(p))))
        })
    }

    /// Looks whether an upper part leads into the next chord, and where.
    pub(super) fn plan_lead(&mut self, scene: &Scene<'_>, reading: &Reading) {
        if self.ornament.is_some()
            || !matches!(self.plan.texture, Texture::Block | Texture::Figure(_))
            || self.figure_leads(scene, reading)
        {
            return;
        }
        self.ornament = self.bass_lead(scene, reading);
        if self.ornament.is_some() {
            return;
        }
        let Some((place, next, true)) = self.look_ahead(scene) else { return };
        let there = self.bar(scene, place);
        if self.kind_at(scene, &there, place) != Some(Kind::Lead) || !self.opens_whole(scene, place) {
            return;
        }
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

    /// A bass note a step from the next chord's bass, just before it: a tone of the present chord, or a passing
    /// note. The beat before may have one note of the melody, not more.
    fn bass_lead(&mut self, scene: &Scene<'_>, reading: &Reading) -> Option<Ornament> {
        let (place, next, true) = self.look_ahead(scene)? else { return None };
        let (settings, bar) = (scene.settings, &reading.bar);
        let beat = bar.metre.beat();
        let there = self.bar(scene, place);
        let slot = BASS_CHANGES + ((place - there.start).0 / beat.0.max(1)) as u32;
        if !settings.ornament(there.index, slot) || place > bar.end() {
            return None;
        }
        let (from, goal) = (self.voicing.bass()?, next.bass()?);
        if matches!(goal.above(from).abs(), 0..=2) {
            return None;
        }
        let division = if bar.metre.is_compound() { beat.fraction(1, 3) } else { beat.fraction(1, 2) };
        let early = if place - self.now >= beat * 3 { beat } else { division };
        let written = place - early;
        let at = self.swung(scene, written);
        let level = |at: Moment| bar.metre.level(at - bar.start);
        let weak = if place == bar.end() { level(written) > 1 } else { level(place) < level(written) };
        if at <= self.now || !weak {
            return None;
        }
        let chart = scene.chart_melody()?;
        let first = chart.melody.partition_point(|n| n.at < place - beat);
        let onsets = chart.melody.get(first..)?.iter().take_while(|n| n.at < place).count();
        let in_the_way = self.running.is_some_and(|run| {
            run.pattern(scene.figures, bar.metre).is_some_and(|pattern| {
                let low = |who| matches!(who, Who::Line(Thread::Bass, _) | Who::Bass | Who::Left | Who::All);
                pattern.steps.iter().any(|step| low(step.who) && run.origin + step.at > self.now)
            })
        });
        if onsets > 1 || in_the_way {
            return None;
        }
        let chord = reading.chord?;
        let scale = scale(chord, reading.key);
        let melody = self.melody_range(scene, at, place);
        let notes = self.voicing.notes();
        let above = *notes.get(1)?;
        // The hand that holds the bass holds the parts above it, too.
        let held = self.voicing.left().last().copied().unwrap_or(from);
        let fits = |to: &Pitch| {
            let by = to.above(from);
            let on = goal.above(*to);
            let passing = by.abs() <= 2 && by.signum() == on.signum() && scale.contains(to.class());
            (chord.tones().contains(to.class()) && by.abs() <= 9 || passing)
                && by != 0
                && *to >= settings.manner.bass_low
                && above.above(*to) >= 3
                && held.above(*to) <= i32::from(settings.reach)
                && is_clear(*to, above, i32::from(settings.clarity))
                && notes.iter().skip(1).all(|p| !rub(*p, *to))
                && melody.is_none_or(|(low, high)| !rub(low, *to) && !rub(high, *to))
        };
        let to = [-1, 1, -2, 2].into_iter().filter_map(|by| goal.transpose(by)).filter(fits);
        let to = to.min_by_key(|to| to.above(from).abs())?;
        Some(Ornament { at, part: 0, from, to, resolves: false })
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

    /// Whether a part that is to lead on still can: no line has the part, and nothing rubs that has come since.
    fn is_free_to_lead(&self, scene: &Scene<'_>, part: usize, from: Pitch, to: Pitch) -> bool {
        let metre = self.bar(scene, self.now).metre;
        let pattern = self.running.and_then(|run| Some((run, run.pattern(scene.figures, metre)?)));
        let led = pattern.is_some_and(|(run, pattern)| {
            pattern.steps.iter().any(|step| match step.who {
                Who::Line(thread, _) => {
                    self.part_of(thread) == Some(part) && run.origin + step.at >= self.now
                }
                _ => false,
            })
        });
        let moved = self.lines.iter().any(|line| line.part == part && line.at.is_some());
        let sounding = self.schedule.sounding().iter().filter(|note| note.hand != Hand::Melody);
        let sounding = sounding.map(|note| note.pitch).filter(|pitch| *pitch != from);
        let done = self.running.map_or(0, |run| run.next);
        let to_come = self.lines.iter().flat_map(|line| &line.notes);
        let to_come = to_come.filter(|(n, ..)| *n >= done).map(|(_, pitch, _)| *pitch);
        let mut others = sounding.chain(to_come);
        !led && !moved && !others.any(|pitch| matches!(pitch.above(to).abs(), 0 | 1 | 13))
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
        if !own || (!resolves && (!sounds || !self.is_free_to_lead(scene, part, from, to))) {
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
            let velocity = self.velocity(scene, part == 0, 0);
            let onset = Onset { pitch: to, hand, channel: 0, velocity, until: Until::Change };
            self.leads = self.sound(desk, scene, frame, onset, Span::ZERO);
        }
        self.retake_soon(scene);
    }
}

/// Resolutions are softer than what they resolve, in velocity steps. Common practice, no source.
const RESOLVED: i8 = -4;
