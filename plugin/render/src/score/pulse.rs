//! How strong the places of a bar are, for cutting notes and beaming them. Places are in ticks from the
//! beginning of the metre's bar; a pick-up's are those of the end of a full one.
//!
//! Not known here: what sounds.

use figwort_theory::{Metre, Span, TICKS_PER_QUARTER};

/// A 64th note: the finest place that notation reaches without tuplets.
pub(super) const FINEST: i64 = TICKS_PER_QUARTER / 16;

/// A metre as an engraver sees it.
#[derive(Clone, Debug)]
pub(super) struct Pulse {
    metre: Metre,
    bar: i64,
    /// The felt beat.
    beat: i64,
}

impl Pulse {
    pub(super) fn new(metre: Metre) -> Self {
        Self { metre, bar: metre.bar().0.max(1), beat: metre.beat().0.max(1) }
    }

    /// Length of a full bar.
    pub(super) fn bar(&self) -> i64 {
        self.bar
    }

    /// Length of the felt beat.
    pub(super) fn beat(&self) -> i64 {
        self.beat
    }

    /// Whether the felt beat divides in three.
    pub(super) fn is_compound(&self) -> bool {
        self.metre.is_compound()
    }

    /// Whether the beats are undotted ones that come in pairs: two or four of them.
    pub(super) fn in_pairs(&self) -> bool {
        !self.is_compound() && matches!(self.bar / self.beat, 2 | 4) && self.bar % self.beat == 0
    }

    /// Whether the bar has two halves of two or more beats each.
    fn is_halved(&self) -> bool {
        let beats = self.bar / self.beat;
        self.bar % self.beat == 0 && beats % 2 == 0 && (beats > 2 || self.is_compound())
    }

    /// 0 the bar line, 1 the middle of an even bar, 2 another beat, 3 its half or third, 4, 5 … half of that.
    pub(super) fn rank(&self, place: i64) -> u8 {
        let at = place.rem_euclid(self.bar);
        if at == 0 {
            return 0;
        }
        if self.is_halved() && at * 2 == self.bar {
            return 1;
        }
        let starts = self.beat_start(at);
        if starts == at {
            return 2;
        }
        let into = at - starts;
        let mut step = if self.is_compound() { self.beat / 3 } else { self.beat / 2 };
        let mut rank = 3;
        while step > FINEST / 4 && into % step != 0 {
            step /= 2;
            rank += 1;
        }
        rank
    }

    /// Beginning of the felt beat that holds a place: in 5/8 and 7/8 the last beat has three eighths.
    pub(super) fn beat_start(&self, place: i64) -> i64 {
        let bar_start = place.div_euclid(self.bar) * self.bar;
        let at = place - bar_start;
        let beats = (self.bar / self.beat).max(1);
        bar_start + (at / self.beat).min(beats - 1) * self.beat
    }

    /// The strongest rank strictly inside a stretch; `u8::MAX` where it is too short to have an inside.
    pub(super) fn strongest_inside(&self, from: i64, to: i64) -> u8 {
        if to - from > self.bar {
            return 0;
        }
        let mut strongest = u8::MAX;
        // The places that may be strong: multiples of the division of the beat, then finer ones.
        let mut step = self.beat;
        for _ in 0..8 {
            let bar_start = from.div_euclid(self.bar) * self.bar;
            let mut at = bar_start + ((from - bar_start) / step + 1) * step;
            while at < to {
                strongest = strongest.min(self.rank(at));
                at += step;
            }
            let next_bar = bar_start + self.bar;
            if from < next_bar && next_bar < to {
                strongest = 0;
            }
            if strongest < u8::MAX || step <= FINEST {
                break;
            }
            step = if step == self.beat && self.is_compound() { step / 3 } else { step / 2 };
        }
        strongest
    }

    /// Where the beam group that holds a place begins and how long it is, for eighths alone (`wide`) or for
    /// shorter notes: eighths go by half bars in common time and by whole bars in 3/4, 2/4 and 3/8, all others by
    /// beats. Common practice, no source.
    pub(super) fn group(&self, place: i64, wide: bool) -> (i64, i64) {
        let bar_start = place.div_euclid(self.bar) * self.bar;
        let at = place - bar_start;
        let (numerator, denominator) = (self.metre.numerator(), self.metre.denominator());
        let by = match (numerator, denominator) {
            (3, 8) => self.bar,
            (4, 4) if wide => self.bar / 2,
            (2..=3, 4) if wide => self.bar,
            (2..=4, 2) => Span::QUARTER.0 * if wide { 2 } else { 1 },
            _ => {
                let start = self.beat_start(place);
                let last = (self.bar / self.beat).max(1) - 1;
                let is_last = start - bar_start == last * self.beat;
                let length = if is_last { self.bar - last * self.beat } else { self.beat };
                return (start, length);
            }
        };
        (bar_start + at / by * by, by)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ranks(n: u8, d: u8, step: i64, count: usize) -> Vec<u8> {
        let pulse = Pulse::new(Metre::new(n, d).unwrap());
        (0..count).map(|i| pulse.rank(i as i64 * step)).collect()
    }

    #[test]
    fn places_are_ranked_by_the_metre() {
        let eighth = Span::EIGHTH.0;
        assert_eq!(ranks(4, 4, eighth, 8), [0, 3, 2, 3, 1, 3, 2, 3]);
        assert_eq!(ranks(2, 4, eighth, 4), [0, 3, 2, 3]);
        assert_eq!(ranks(6, 8, eighth, 6), [0, 3, 3, 1, 3, 3]);
        assert_eq!(ranks(7, 8, eighth, 7), [0, 3, 2, 3, 2, 3, 3]);
        assert_eq!(ranks(4, 4, eighth / 2, 4), [0, 4, 3, 4]);
    }

    #[test]
    fn the_strongest_place_inside() {
        let common = Pulse::new(Metre::FOUR_FOUR);
        let quarter = Span::QUARTER.0;
        assert_eq!(common.strongest_inside(0, quarter), 3);
        assert_eq!(common.strongest_inside(quarter, 3 * quarter), 1);
        assert_eq!(common.strongest_inside(quarter / 2, quarter + quarter / 2), 2);
        assert_eq!(common.strongest_inside(0, FINEST), u8::MAX);
        assert_eq!(common.strongest_inside(3 * quarter, 5 * quarter), 0);
    }

    #[test]
    fn beam_groups() {
        let quarter = Span::QUARTER.0;
        let common = Pulse::new(Metre::FOUR_FOUR);
        assert_eq!(common.group(quarter, true), (0, 2 * quarter));
        assert_eq!(common.group(quarter, false), (quarter, quarter));
        let seven = Pulse::new(Metre::new(7, 8).unwrap());
        assert_eq!(seven.group(quarter * 3, true), (2 * quarter, quarter * 3 / 2));
    }
}
