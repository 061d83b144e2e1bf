//! The definitions, each a question about a sound and what its voice does before and after.

use super::{Passage, Sound, Type, Verdict};

/// Listens to one passage.
pub(super) struct Ear<'a> {
    pub(super) passage: &'a Passage,
    /// In order of time.
    pub(super) sounds: &'a [Sound],
}

impl Ear<'_> {
    pub(super) fn verdict(&self, n: usize) -> Verdict {
        if self.sounds[n].is_chord_tone {
            return Verdict::ChordTone;
        }
        [false, true]
            .into_iter()
            .find_map(|both| Some(Verdict::Named(self.name(n, both)?, both)))
            .unwrap_or(Verdict::Undefined)
    }

    /// The first definition that fits; `both` looks for the voice in both hands.
    pub(super) fn name(&self, n: usize, both: bool) -> Option<Type> {
        let (before, after) = (self.before(n, both), self.after(n, both));
        let fits = |kind: Type| match kind {
            Type::Suspension => self.resolves(n, &before, &after, -1),
            Type::Retardation => self.resolves(n, &before, &after, 1),
            Type::Passing => self.passes(n, both),
            Type::Neighbour => before.iter().any(|b| {
                let (b, a) = (&self.sounds[*b], |a: &usize| &self.sounds[*a]);
                self.is_step(n, b)
                    && b.is_chord_tone
                    && after.iter().map(a).any(|a| a.key == b.key && a.is_chord_tone)
            }),
            Type::DoubleNeighbour => self.doubles(n, both),
            Type::Appoggiatura => self.is_left_by_step(n, &before, &after, true),
            Type::IncompleteNeighbour => self.is_left_by_step(n, &before, &after, false),
            Type::Escape => self.escapes(n, &before, &after),
            Type::Anticipation => self.is_early(n, &after, true),
            Type::Syncopation => self.is_early(n, &after, false),
            Type::Cambiata => self.changes(n, both),
            Type::Pedal => self.stays(n),
        };
        const ORDER: [Type; 12] = [
            Type::Suspension,
            Type::Retardation,
            Type::Syncopation,
            Type::Anticipation,
            Type::Passing,
            Type::DoubleNeighbour,
            Type::Neighbour,
            Type::Appoggiatura,
            Type::IncompleteNeighbour,
            Type::Escape,
            Type::Cambiata,
            Type::Pedal,
        ];
        ORDER.into_iter().find(|kind| fits(*kind))
    }

    pub(super) fn level(&self, sound: &Sound) -> u8 {
        self.passage.level(sound.from)
    }

    /// Whether one sound is stronger placed than the other. Of two equal beats the earlier is the stronger;
    /// of two equal places within a beat, neither.
    pub(super) fn is_stronger(&self, earlier: &Sound, later: &Sound) -> bool {
        let (first, second) = (self.level(earlier), self.level(later));
        first < second || first == second && first <= 2
    }

    pub(super) fn is_step(&self, n: usize, other: &Sound) -> bool {
        (1..=2).contains(&(other.key - self.sounds[n].key).abs())
    }

    /// Prepared by the same pitch as a tone of the chord before, placed at the change, resolved by step over
    /// the same chord on a weaker place; the resolution's class sounds elsewhere in the bass only (9–8).
    pub(super) fn resolves(&self, n: usize, before: &[usize], after: &[usize], direction: i32) -> bool {
        let sound = &self.sounds[n];
        let change = self.passage.chords[sound.chord].0;
        let at_change = (sound.from - change).abs() * 6 <= self.passage.beat(change);
        let prepared = before
            .iter()
            .map(|b| &self.sounds[*b])
            .any(|b| b.key == sound.key && b.is_chord_tone && b.chord + 1 == sound.chord);
        at_change
            && prepared
            && after.iter().map(|a| &self.sounds[*a]).any(|a| {
                let step = (a.key - sound.key) * direction;
                (1..=2).contains(&step)
                    && a.is_chord_tone
                    && a.chord == sound.chord
                    && self.is_stronger(sound, a)
                    && !self.sounds_above_the_bass(sound, a.key)
            })
    }

    /// Whether a class sounds with another sound's beginning, not in the lowest part.
    pub(super) fn sounds_above_the_bass(&self, with: &Sound, key: i32) -> bool {
        let together = || self.sounds.iter().filter(|s| s.from <= with.from && s.to > with.from);
        let lowest = together().map(|s| s.key).min();
        together().any(|s| Some(s.key) != lowest && s.key != with.key && (s.key - key) % 12 == 0)
    }

    /// Left by step for a chord tone, reached by leap: accented an appoggiatura, whichever way the leap went
    /// (the books disagree); otherwise an incomplete neighbour.
    pub(super) fn is_left_by_step(
        &self,
        n: usize,
        before: &[usize],
        after: &[usize],
        accented: bool,
    ) -> bool {
        let sound = &self.sounds[n];
        let leapt = !before.is_empty() && before.iter().all(|b| (self.sounds[*b].key - sound.key).abs() >= 3);
        leapt
            && sound.struck
            && after.iter().map(|a| &self.sounds[*a]).any(|a| {
                let placed =
                    if accented { self.is_stronger(sound, a) } else { self.level(sound) > self.level(a) };
                (1..=2).contains(&(a.key - sound.key).abs()) && a.is_chord_tone && placed
            })
    }

    /// By step from a chord tone, by leap the other way, on the weaker place.
    pub(super) fn escapes(&self, n: usize, before: &[usize], after: &[usize]) -> bool {
        let sound = &self.sounds[n];
        before.iter().map(|b| &self.sounds[*b]).any(|b| {
            self.is_step(n, b)
                && b.is_chord_tone
                && self.level(b) < self.level(sound)
                && !after.is_empty()
                && after.iter().all(|a| (self.sounds[*a].key - sound.key).abs() >= 3)
                && after
                    .iter()
                    .any(|a| (self.sounds[*a].key - sound.key).signum() == (b.key - sound.key).signum())
        })
    }

    /// A tone of the next chord, within a beat of the change and on a weaker place: struck again there, or
    /// tied.
    pub(super) fn is_early(&self, n: usize, after: &[usize], again: bool) -> bool {
        let sound = &self.sounds[n];
        let Some((change, _)) = self.passage.chords.get(sound.chord + 1) else { return false };
        let soon = change - sound.from <= self.passage.beat(sound.from);
        let weak = self.passage.level(sound.from) > self.passage.level(*change);
        soon && weak
            && sound.struck
            && sound.held_into.is_some() != again
            && after
                .iter()
                .map(|a| &self.sounds[*a])
                .any(|a| a.key == sound.key && a.is_chord_tone && a.chord == sound.chord + 1)
    }

    /// The same pitch goes on through changes of harmony, and is a tone of the first and the last of these
    /// chords.
    pub(super) fn stays(&self, n: usize) -> bool {
        let walk = |forward: bool| {
            let mut here = n;
            loop {
                let next = if forward { self.after(here, false) } else { self.before(here, false) };
                let same = next.into_iter().find(|other| self.sounds[*other].key == self.sounds[n].key);
                match same {
                    Some(same) if self.sounds[same].is_chord_tone => return Some(self.sounds[same].chord),
                    Some(same) => here = same,
                    None => return None,
                }
            }
        };
        let here = self.sounds[n].chord;
        walk(false).zip(walk(true)).is_some_and(|(first, last)| first < here && here < last)
    }
}
