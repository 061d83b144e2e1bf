//! The player's habits: on which beats chords change, how early or late they come, and how the hand leaves a
//! chord. From them, whether the old chord is worth striking where a new one may come a moment later.
//!
//! Times are frames, chances are thousandths. All of it is counted from what this player did since the music
//! began; what is assumed before anything is known is common practice, no source.

use super::clock::Bar;
use figwort_theory::{Moment, Span};

/// Bars remembered.
const MEMORY: usize = 16;
/// Felt beats of a bar that are told apart.
const PLACES: usize = 8;
/// Deviations and gaps remembered.
const RECENT: usize = 16;
/// After how many bars harmony may repeat itself.
const PERIODS: [usize; 4] = [1, 2, 4, 8];
/// The chance of a change on the first beat and on another, before anything is known.
const FIRST: u32 = 600;
const OTHER: u32 = 150;
/// From this chance on a change is expected.
const EXPECTED: u32 = 150;
/// From this chance on it can't be ruled out: what need not be played now had better wait.
const POSSIBLE: u32 = 100;
/// Below this chance what a change would spoil may be begun.
const UNLIKELY: u32 = 40;

/// The last few values of something.
#[derive(Clone, Copy, Debug, Default)]
struct Ring {
    values: [i64; RECENT],
    seen: usize,
}

impl Ring {
    fn push(&mut self, value: i64) {
        self.values[self.seen % RECENT] = value;
        self.seen += 1;
    }

    fn known(&self) -> &[i64] {
        self.values.get(..self.seen).unwrap_or(&self.values)
    }
}

/// What happened lately.
#[derive(Clone, Copy, Debug, Default)]
pub struct Habit {
    /// One bit a felt beat for each of the last bars, the latest first: whether the chord changed there.
    bars: [u8; MEMORY],
    known: usize,
    /// The bar under way, and an early change of the next one.
    current: u8,
    coming: u8,
    /// How late changes came after their beat; early ones are negative.
    lateness: Ring,
    /// How long the hand was up before a change; 0 when it overlapped.
    gaps: Ring,
}

impl Habit {
    /// A chord was struck at `now`; its first key went down `late` frames after the beat (early: negative)
    /// that `now` is nearest to.
    pub fn change(&mut self, bar: &Bar, now: Moment, late: i64) {
        let Some(place) = nearest_beat(bar, now) else { return };
        self.lateness.push(late);
        if bar.start + bar.metre.beat() * place as i64 >= bar.end() {
            self.coming |= 1;
        } else {
            self.current |= bit(place);
        }
    }

    /// The hand had been up for so long when it struck a new chord; 0 if it hadn't been.
    pub fn leave(&mut self, gap: u64) {
        self.gaps.push(gap as i64);
    }

    /// A bar is over.
    pub fn pass(&mut self) {
        self.bars.rotate_right(1);
        self.bars[0] = self.current;
        self.known = (self.known + 1).min(MEMORY);
        self.current = self.coming;
        self.coming = 0;
    }

    /// Whether a change is still to be expected on this beat of the bar under way, `late` frames after it.
    pub fn expects(&self, place: usize, late: i64) -> bool {
        self.is_likely(place, late, EXPECTED)
    }

    /// Whether a change may still come on this beat, `late` frames after it.
    pub fn allows(&self, place: usize, late: i64) -> bool {
        self.is_likely(place, late, POSSIBLE)
    }

    /// Whether this player hardly ever changes on this beat.
    pub fn rules_out(&self, place: usize) -> bool {
        !self.is_likely(place, -1, UNLIKELY)
    }

    fn is_likely(&self, place: usize, late: i64, least: u32) -> bool {
        if self.current & bit(place) != 0 {
            return false;
        }
        let chance = self.chance(place);
        // The share of this player's changes that would have come by now. A sequence comes on the frame.
        let known = self.lateness.known();
        if late >= 0 && !known.is_empty() && known.iter().all(|late| late.abs() <= 1) {
            return false;
        }
        let come = known.iter().filter(|l| **l <= late).count() as u32;
        let come = (come * 1_000 + 500) / (known.len() as u32 + 1);
        let still = chance * (1_000 - come) / 1_000;
        still * 1_000 / (1_000 - chance * come / 1_000).max(1) >= least
    }

    /// The longest that this hand is usually up before it strikes a new chord, in frames: `None` when it is
    /// often up for longer than `most`, and its being up says nothing.
    pub fn reach(&self, most: u64) -> Option<u64> {
        let known = self.gaps.known();
        let most = most as i64;
        let brief = known.iter().filter(|gap| **gap <= most);
        if known.is_empty() {
            return Some(most as u64 / 2);
        }
        (brief.clone().count() * 4 >= known.len() * 3)
            .then(|| brief.max().map_or(0, |longest| (*longest * 3 / 2).min(most) as u64))
    }

    /// The chance that the chord changes on this beat of the bar under way.
    fn chance(&self, place: usize) -> u32 {
        let changed = |bars_ago: usize| self.bars.get(bars_ago - 1).is_some_and(|b| b & bit(place) != 0);
        let prior = if place == 0 { FIRST } else { OTHER };
        let mut best = (u32::MAX, prior);
        for period in PERIODS.into_iter().filter(|period| *period < self.known) {
            // How often the chord changed, and how often the period told wrongly, where it said what it says now.
            let (mut said, mut came, mut wrong) = (0, 0, 0);
            for ago in 1..=self.known - period {
                let (told, is) = (changed(ago + period), changed(ago));
                wrong += u32::from(told != is);
                if told == changed(period) {
                    said += 1;
                    came += u32::from(is);
                }
            }
            let all = (self.known - period) as u32;
            let price = (wrong * 1_000 + 500) / (all + 1);
            if price < best.0 {
                best = (price, (came * 1_000 + prior) / (said + 1));
            }
        }
        best.1
    }
}

/// The felt beat of a bar that a moment belongs to, counted from 0, the next bar's first among them; `None`
/// between beats.
pub fn nearest_beat(bar: &Bar, now: Moment) -> Option<usize> {
    let beat = bar.metre.beat();
    let place = (now - bar.start).0;
    if beat.0 <= 0 || place < 0 {
        return None;
    }
    let near = (place + beat.0 / 2) / beat.0;
    let off = Span(place - near * beat.0);
    (off.0.abs() * 4 <= beat.0).then_some(near as usize)
}

fn bit(place: usize) -> u8 {
    if place < PLACES { 1 << place } else { 0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use figwort_theory::Metre;

    fn bar(index: i64) -> Bar {
        let length = Metre::FOUR_FOUR.bar();
        Bar { start: Moment::ZERO + length * index, length, metre: Metre::FOUR_FOUR, index }
    }

    #[test]
    fn every_other_bar_is_told_from_every_bar() {
        let mut habit = Habit::default();
        for n in 0..20 {
            if n >= 12 {
                assert_eq!(habit.expects(0, 0), n % 2 == 0, "bar {n}");
            }
            if n % 2 == 0 {
                habit.change(&bar(n), bar(n).start + Span(600), 10);
            }
            habit.pass();
        }
    }

    #[test]
    fn the_middle_of_the_bar_is_learned() {
        let mut habit = Habit::default();
        assert!(!habit.expects(2, 0));
        for n in 0..4 {
            habit.change(&bar(n), bar(n).start + Span::QUARTER * 2, 50);
            habit.pass();
        }
        assert!(habit.expects(2, 0));
        assert!(!habit.expects(1, 0));
    }

    #[test]
    fn an_early_player_is_not_waited_for_after_the_beat() {
        let (mut early, mut late) = (Habit::default(), Habit::default());
        for n in 0..17 {
            // Changes in most bars, at no regular distance.
            if n % 7 != 3 && n % 5 != 2 {
                early.change(&bar(n), bar(n).start, -30);
                late.change(&bar(n), bar(n).start, 30);
            }
            early.pass();
            late.pass();
        }
        assert!(early.expects(0, -40) && late.expects(0, 0));
        assert!(!early.expects(0, 20));
    }

    #[test]
    fn a_hand_that_is_always_up_says_nothing() {
        let mut habit = Habit::default();
        for _ in 0..8 {
            habit.leave(3_000);
        }
        assert_eq!(habit.reach(20_000), Some(4_500));
        for _ in 0..8 {
            habit.leave(60_000);
        }
        assert_eq!(habit.reach(20_000), None);
    }
}
