//! What lines owe when a chord comes that nobody could foresee, while a part is at a non-chord tone.
//!
//! The new chord is voiced so that the tone becomes one of the published kinds after all (Open Music Theory, 2014,
//! embellishing tones; Rush, Non-Harmonic Tones): a passing note, a neighbour, an anticipation, or in the bass an
//! escape tone. Not here: lines that run to their end, which are solved beforehand.

use figwort_theory::{Pitch, PitchClass, Span};

use super::{Engine, Scene};
use crate::book::{Thread, Who};
use crate::event::{EventSink, Hand};
use crate::schedule::{Desk, Onset, Until};
use crate::voicing::search::may_be_doubled;
use crate::voicing::spacing::is_clear;
use crate::voicing::{UNDER_MELODY, Voicing, bass_candidates};

/// How far beyond the manner's range a bass may lie to be a proper end, in semitones.
const BEYOND: i32 = 12;
/// A voicing of fewer notes is too high a price for a proper end.
const FEWEST: usize = 3;

impl Engine {
    /// A bass for the new chord to which the present non-chord tone in the bass leads properly: on by step, back
    /// where it came from or the same again; else by a leap against the step. `None` if nothing is owed, or
    /// there is no such bass.
    pub(super) fn owed_bass(&self, bass: PitchClass, (low, high): (Pitch, Pitch)) -> Option<Pitch> {
        let line = self.lines.get(Thread::Bass.index()).filter(|line| line.open)?;
        let (at, before) = (line.at?, line.before?);
        let entered = at.above(before);
        let beyond = |pitch: &Pitch| low.above(*pitch).max(pitch.above(high)).max(0);
        let rank = |to: &Pitch| {
            let by = to.above(at);
            match by.abs() {
                0 => Some((0, 0)),
                1 | 2 if by.signum() == entered.signum() || *to == before => Some((0, by.abs())),
                3.. if by.signum() != entered.signum() => Some((1 + beyond(to), by.abs())),
                _ => None,
            }
        };
        let lowest = low.transpose(-BEYOND).unwrap_or(low);
        let highest = high.transpose(BEYOND).unwrap_or(high);
        bass_candidates(bass, lowest, highest)
            .filter_map(|to| Some((rank(&to)?, to)))
            .min_by_key(|(rank, _)| *rank)
            .map(|(_, to)| to)
    }

    /// Whether a voicing with the owed bass is worth having.
    pub(super) fn is_worth_it(voicing: &Voicing, bass: Pitch) -> bool {
        voicing.bass() == Some(bass) && voicing.notes().len() >= FEWEST
    }

    /// Where a part goes on to that was to come home from a non-chord tone and finds the melody in its way: on
    /// by step to a chord tone.
    pub(super) fn way_on(&self, scene: &Scene<'_>, who: Who) -> Option<(Thread, Pitch)> {
        let thread = match who {
            Who::Bass => Thread::Bass,
            Who::Top => Thread::Top,
            _ => return None,
        };
        let line = self.lines.get(thread.index()).filter(|line| line.open)?;
        let (at, before) = (line.at?, line.before?);
        let home = match thread {
            Thread::Bass => self.voicing.bass(),
            _ => self.voicing.notes().last().copied(),
        };
        let tones = self.harmony.chord?.tones();
        let on = at.above(before).signum();
        home.filter(|home| !self.is_out_of_the_way(scene, *home))?;
        [on, 2 * on]
            .into_iter()
            .filter_map(|by| at.transpose(by))
            .find(|to| tones.contains(to.class()) && self.is_out_of_the_way(scene, *to))
            .map(|to| (thread, to))
    }

    /// A part goes on to a chord tone by step.
    pub(super) fn go_on<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        (thread, to): (Thread, Pitch),
        (until, strength): (Until, i8),
    ) {
        let Some(line) = self.lines.get_mut(thread.index()) else { return };
        let left = line.at.replace(to);
        line.open = false;
        let hand = left.and_then(|left| self.schedule.note(left)).map(|note| note.hand);
        let hand = hand.filter(|hand| *hand != Hand::Melody).unwrap_or_else(|| self.hand_of(to));
        self.lift_pedal(desk, scene);
        self.schedule.release(desk, |note| note.hand != Hand::Melody && Some(note.pitch) == left);
        let velocity = self.velocity(scene, thread == Thread::Bass, strength);
        let onset = Onset { pitch: to, hand, channel: 0, velocity, until };
        self.sound(desk, scene, frame, onset, Span::ZERO);
        self.retake_soon(scene);
    }

    /// Gives upper parts that are at a non-chord tone a note of the new voicing to go to, where it has none.
    pub(super) fn settle_upper(&mut self, scene: &Scene<'_>) {
        if self.ornament.is_some() {
            return;
        }
        for thread in [Thread::Top, Thread::Inner] {
            let line = self.lines.get(thread.index()).filter(|line| line.open);
            let Some((at, before)) = line.and_then(|line| Some((line.at?, line.before?))) else { continue };
            if let Some(settled) = self.settled(scene, at, before) {
                self.voicing = settled.clone();
                self.frame_voicing = settled;
            }
        }
    }

    /// The voicing with the nearest part where the tone at `at`, entered from `before`, leads; `None` if it has
    /// such a note already, or no part can take it.
    fn settled(&self, scene: &Scene<'_>, at: Pitch, before: Pitch) -> Option<Voicing> {
        let (chord, key) = (self.harmony.chord?, self.reading(scene).key);
        let on = at.above(before).signum();
        let ends = [at.transpose(on), at.transpose(2 * on), Some(before), Some(at)];
        let mut ends = ends.into_iter().flatten().filter(|p| chord.tones().contains(p.class()));
        let notes = self.voicing.notes();
        if ends.clone().any(|end| notes.iter().skip(1).any(|note| *note == end)) {
            return None;
        }
        let (settings, left) = (scene.settings, self.voicing.left().len());
        let reach = i32::from(settings.reach);
        let fits = |part: usize, end: Pitch| {
            let Some(old) = notes.get(part) else { return false };
            let others = || notes.iter().enumerate().filter(|(n, _)| *n != part).map(|(_, p)| *p);
            let doubled = others().any(|p| p.class() == end.class());
            let needed = chord.guide_tones().contains(old.class())
                && old.class() != end.class()
                && !others().any(|p| p.class() == old.class());
            let below = part.checked_sub(1).and_then(|n| notes.get(n));
            let above = notes.get(part + 1);
            let hand = |n: usize| (n < left) == (part < left);
            !needed
                && (!doubled || may_be_doubled(chord.degree(end.class()), end.class(), key))
                && below.is_some_and(|p| end.above(*p) >= 2 && is_clear(*p, end, i32::from(settings.clarity)))
                && above.is_none_or(|p| p.above(end) >= 2)
                && others().all(|p| p.above(end).abs() != 13)
                && notes.iter().enumerate().all(|(n, p)| !hand(n) || p.above(end).abs() <= reach)
                && self.melody.sounding().is_none_or(|m| m.above(end) >= UNDER_MELODY && m.above(end) != 13)
        };
        ends.find_map(|end| {
            let parts = (1..notes.len()).filter(|part| fits(*part, end));
            let nearest = parts.min_by_key(|part| notes.get(*part).map(|p| p.above(end).abs()))?;
            Some(self.voicing.replaced(nearest, end))
        })
    }
}
