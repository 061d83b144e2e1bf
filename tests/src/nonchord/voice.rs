//! Where a sound comes from and where it goes: the voice that it belongs to, by nearest step.
//!
//! A figure spreads several voices over time, so that the notes next in time are often another voice's. What
//! lies a step away, or is the same pitch, is the same voice; only where there is nothing so near does a voice
//! leap, from or to what is next in time. A voice may be silent for a beat and is still heard to go on.

use super::{Ear, Sound};

/// Beats before and after a sound that are searched.
const SEARCHED: i64 = 16;

impl Ear<'_> {
    /// The sounds that a sound may come from: those a step away or on the same pitch, the latest of each
    /// voice; where there is none, those just before it, to leap from.
    pub(super) fn before(&self, n: usize, both: bool) -> Vec<usize> {
        let sound = &self.sounds[n];
        if let Some(held) = sound.held_from {
            return vec![held];
        }
        let beat = self.passage.beat(sound.from);
        let earlier = || {
            self.sounds[..n]
                .iter()
                .enumerate()
                .rev()
                .take_while(|(_, s)| sound.from - s.from <= beat * SEARCHED)
                .filter(|(_, s)| s.from < sound.from && (both || s.hand == sound.hand))
        };
        let mut near: Vec<usize> = vec![];
        for (m, other) in earlier() {
            let is_near = (other.key - sound.key).abs() <= 2 && sound.from - other.to <= beat;
            if is_near && self.is_another(&near, other) {
                near.push(m);
            }
        }
        if !near.is_empty() {
            return near;
        }
        let Some((_, last)) = earlier().find(|(_, s)| s.struck) else { return vec![] };
        let leaps = |s: &Sound| s.struck && s.from == last.from && (s.key - sound.key).abs() > 2;
        earlier().filter(|(_, s)| leaps(s)).map(|(m, _)| m).collect()
    }

    /// Whether a sound is more than the continuation of one that was found nearer in time.
    fn is_another(&self, found: &[usize], other: &Sound) -> bool {
        found.iter().map(|m| &self.sounds[*m]).all(|nearer| {
            nearer.key != other.key && (nearer.from == other.from || (nearer.key - other.key).abs() > 2)
        })
    }

    /// The sounds that a sound may go to, likewise.
    pub(super) fn after(&self, n: usize, both: bool) -> Vec<usize> {
        let sound = &self.sounds[n];
        if let Some(held) = sound.held_into {
            return vec![held];
        }
        let beat = self.passage.beat(sound.from);
        let later = || {
            self.sounds
                .iter()
                .enumerate()
                .skip(n + 1)
                .take_while(|(_, s)| s.from - sound.to <= beat * SEARCHED)
                .filter(|(_, s)| s.struck && s.from > sound.from && (both || s.hand == sound.hand))
        };
        let mut near: Vec<usize> = vec![];
        for (m, other) in later() {
            let is_near = (other.key - sound.key).abs() <= 2 && other.from - sound.to <= beat;
            // Two that sound on together are two voices.
            let leaves = (sound.to - other.from) * 2 <= beat;
            if is_near && leaves && self.is_another(&near, other) {
                near.push(m);
            }
        }
        if !near.is_empty() {
            return near;
        }
        let Some((_, next)) = later().next() else { return vec![] };
        let leaps = |s: &Sound| s.from == next.from && (s.key - sound.key).abs() > 2;
        later().filter(|(_, s)| leaps(s)).map(|(m, _)| m).collect()
    }

    /// The sounds a step up (`direction` 1) or down (-1) from a sound, after it or before.
    fn steps(&self, n: usize, both: bool, forward: bool, direction: i32) -> Vec<usize> {
        let found = if forward { self.after(n, both) } else { self.before(n, both) };
        let key = self.sounds[n].key;
        let is_step = |m: &usize| (1..=2).contains(&((self.sounds[*m].key - key) * direction));
        found.into_iter().filter(is_step).collect()
    }

    /// Chord tones reached by steps in one direction: their keys, and how many more non-chord tones lie on the
    /// way, none or one.
    fn reached(&self, n: usize, both: bool, forward: bool, direction: i32) -> Vec<(i32, usize)> {
        let mut reached = vec![];
        for first in self.steps(n, both, forward, direction) {
            if self.sounds[first].is_chord_tone {
                reached.push((self.sounds[first].key, 0));
                continue;
            }
            let second = self.steps(first, both, forward, direction).into_iter();
            let tones = second.filter(|m| self.sounds[*m].is_chord_tone);
            reached.extend(tones.map(|m| (self.sounds[m].key, 1)));
        }
        reached
    }

    /// Between two chord tones by step in one direction: alone within a third, two in a row within a fourth.
    /// Chromatic ones may fill less: all books call what fills a second by semitones a passing tone, too.
    pub(super) fn passes(&self, n: usize, both: bool) -> bool {
        [1, -1].into_iter().any(|direction| {
            let starts = self.reached(n, both, false, -direction);
            let goals = self.reached(n, both, true, direction);
            starts.iter().any(|(start, more)| {
                goals.iter().any(|(goal, further)| match more + further {
                    0 => (goal - start).abs() <= 4,
                    1 => (goal - start).abs() <= 6,
                    _ => false,
                })
            })
        })
    }

    /// The step above and the step below a chord tone, in either order, between two statements of it.
    pub(super) fn doubles(&self, n: usize, both: bool) -> bool {
        [1, -1].into_iter().any(|side| {
            let as_first =
                self.across(n, both, true, side).into_iter().any(|second| self.turns_about(n, second, both));
            let as_second =
                self.across(n, both, false, side).into_iter().any(|first| self.turns_about(first, n, both));
            as_first || as_second
        })
    }

    /// Non-chord tones on the other side of a chord tone a step away: a third or so up (`side` 1) or down.
    fn across(&self, n: usize, both: bool, forward: bool, side: i32) -> Vec<usize> {
        let sound = &self.sounds[n];
        let beat = self.passage.beat(sound.from);
        let is_across = |s: &Sound| {
            let (earlier, later) = if forward { (sound, s) } else { (s, sound) };
            (2..=4).contains(&((s.key - sound.key) * side))
                && earlier.from < later.from
                && later.from - earlier.to <= beat
                && later.from - earlier.from <= beat * SEARCHED
                && !s.is_chord_tone
                && s.struck
                && (both || s.hand == sound.hand)
        };
        let near = n.saturating_sub(64)..(n + 64).min(self.sounds.len());
        near.filter(|m| is_across(&self.sounds[*m])).collect()
    }

    /// Whether two sounds lie about one chord tone that comes before the first and after the second.
    fn turns_about(&self, first: usize, second: usize, both: bool) -> bool {
        let (one, other) = (&self.sounds[first], &self.sounds[second]);
        let is_about = |key: i32| {
            let (a, b) = (one.key - key, other.key - key);
            a.signum() == -b.signum() && (1..=2).contains(&a.abs()) && (1..=2).contains(&b.abs())
        };
        let tones = |found: Vec<usize>| {
            found.into_iter().map(|m| &self.sounds[m]).filter(|s| s.is_chord_tone && is_about(s.key))
        };
        let goals: Vec<i32> = tones(self.after(second, both)).map(|s| s.key).collect();
        let returns =
            |key: i32| self.sounds.iter().any(|s| s.key == key && s.from > one.from && s.from < other.from);
        tones(self.before(first, both)).any(|s| goals.contains(&s.key) && !returns(s.key))
    }

    /// Step, third the same way, step and step back, so that the fifth note is the second: the first, third and
    /// fifth are chord tones, the second is not. The second is the cambiata.
    pub(super) fn changes(&self, n: usize, both: bool) -> bool {
        let key = self.sounds[n].key;
        [1, -1].into_iter().any(|up| {
            let from_step =
                self.steps(n, both, false, up).into_iter().any(|first| self.sounds[first].is_chord_tone);
            let beat = self.passage.beat(self.sounds[n].from);
            let third = self.sounds[n + 1..].iter().position(|s| {
                (3..=4).contains(&((key - s.key) * up))
                    && s.is_chord_tone
                    && s.struck
                    && s.from > self.sounds[n].from
                    && s.from - self.sounds[n].to <= beat
                    && (both || s.hand == self.sounds[n].hand)
            });
            let Some(third) = third.filter(|_| from_step).map(|m| n + 1 + m) else { return false };
            self.steps(third, both, true, up).into_iter().any(|fourth| {
                self.steps(fourth, both, true, up)
                    .into_iter()
                    .any(|fifth| self.sounds[fifth].key == key && self.sounds[fifth].is_chord_tone)
            })
        })
    }
}
