//! Musical time: whole ticks, so that bars add up exactly.

use core::ops::{Add, AddAssign, Mul, Neg, Sub};

/// Ticks in a quarter note: 2⁶·3²·5·7, so that 256th notes, triplets, quintuplets and septuplets of the
/// usual note values are whole.
pub const TICKS_PER_QUARTER: i64 = 20_160;

/// A place in musical time, in ticks from the song's beginning (negative before it).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Moment(pub i64);

/// A length of musical time in ticks; negative means backwards.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Span(pub i64);

impl Moment {
    /// The song's beginning.
    pub const ZERO: Self = Self(0);

    /// The moment a number of quarter notes from the beginning.
    pub const fn quarters(n: i64) -> Self {
        Self(n * TICKS_PER_QUARTER)
    }

    /// The length from the beginning.
    pub const fn since_zero(self) -> Span {
        Span(self.0)
    }
}

impl Span {
    /// No time.
    pub const ZERO: Self = Self(0);
    /// A quarter note.
    pub const QUARTER: Self = Self(TICKS_PER_QUARTER);
    /// An eighth note.
    pub const EIGHTH: Self = Self(TICKS_PER_QUARTER / 2);
    /// A whole note.
    pub const WHOLE: Self = Self(TICKS_PER_QUARTER * 4);

    /// `numerator`/`denominator` of this length, rounded towards zero; zero for a zero denominator.
    pub const fn fraction(self, numerator: i64, denominator: i64) -> Self {
        if denominator == 0 { Self(0) } else { Self(self.0 * numerator / denominator) }
    }

    /// In quarter notes, for display.
    pub fn in_quarters(self) -> f64 {
        self.0 as f64 / TICKS_PER_QUARTER as f64
    }
}

impl Add<Span> for Moment {
    type Output = Self;
    fn add(self, by: Span) -> Self {
        Self(self.0.saturating_add(by.0))
    }
}
impl AddAssign<Span> for Moment {
    fn add_assign(&mut self, by: Span) {
        *self = *self + by;
    }
}
impl Sub<Span> for Moment {
    type Output = Self;
    fn sub(self, by: Span) -> Self {
        Self(self.0.saturating_sub(by.0))
    }
}
impl Sub for Moment {
    type Output = Span;
    fn sub(self, earlier: Self) -> Span {
        Span(self.0.saturating_sub(earlier.0))
    }
}
impl Add for Span {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}
impl AddAssign for Span {
    fn add_assign(&mut self, by: Self) {
        *self = *self + by;
    }
}
impl Sub for Span {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}
impl Neg for Span {
    type Output = Self;
    fn neg(self) -> Self {
        Self(self.0.saturating_neg())
    }
}
impl Mul<i64> for Span {
    type Output = Self;
    fn mul(self, times: i64) -> Self {
        Self(self.0.saturating_mul(times))
    }
}

/// A time signature.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Metre {
    /// Upper number, 1 to 64.
    numerator: u8,
    /// Lower number: 1, 2, 4, 8, 16, 32 or 64.
    denominator: u8,
}

impl Metre {
    /// Common time.
    pub const FOUR_FOUR: Self = Self { numerator: 4, denominator: 4 };

    /// `None` unless the upper number is 1 to 64 and the lower a power of two up to 64.
    pub const fn new(numerator: u8, denominator: u8) -> Option<Self> {
        if numerator >= 1 && numerator <= 64 && denominator.is_power_of_two() && denominator <= 64 {
            Some(Self { numerator, denominator })
        } else {
            None
        }
    }

    /// The upper number, 1 to 64.
    pub const fn numerator(self) -> u8 {
        self.numerator
    }

    /// The lower number: a power of two, 1 to 64.
    pub const fn denominator(self) -> u8 {
        self.denominator
    }

    /// Whether the felt beat is dotted: 6, 9, 12, 15 … over 8 or shorter.
    pub const fn is_compound(self) -> bool {
        self.denominator >= 8 && self.numerator > 3 && self.numerator.is_multiple_of(3)
    }

    /// The length of one bar, in ticks, exact.
    pub const fn bar(self) -> Span {
        Span(TICKS_PER_QUARTER * 4 * self.numerator as i64 / self.denominator as i64)
    }

    /// Length of the felt beat: the lower number's note, or three of them in compound metres. Metres such
    /// as 5/8 and 7/8 are felt unevenly; their pulse here is the quarter, with a last beat of another length.
    pub const fn beat(self) -> Span {
        let unit = TICKS_PER_QUARTER * 4 / self.denominator as i64;
        if self.is_compound() {
            Span(unit * 3)
        } else if self.denominator >= 8 && self.numerator > 3 {
            Span(unit * 2)
        } else {
            Span(unit)
        }
    }

    /// Metrical weight of a place in the bar: 0 the bar's start, 1 the middle of an even bar, 2 another felt
    /// beat, 3 the beat's first division (half, or third in compound metres), 4 anything finer. Common
    /// practice; the order agrees with music21's accent weights for 4/4, 3/4 and 6/8.
    pub fn level(self, place: Span) -> u8 {
        let bar = self.bar().0;
        let beat = self.beat().0;
        let at = place.0.rem_euclid(bar);
        if at == 0 {
            0
        } else if at % beat == 0 {
            let beats = bar / beat;
            if bar % beat == 0 && beats % 2 == 0 && at * 2 == bar { 1 } else { 2 }
        } else {
            let division = if self.is_compound() { beat / 3 } else { beat / 2 };
            if at % division == 0 { 3 } else { 4 }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn felt_beats() {
        let beats = |n, d| {
            let metre = Metre::new(n, d).expect("a metre");
            (metre.bar().0, metre.beat().0)
        };
        assert_eq!(beats(4, 4), (80_640, 20_160));
        assert_eq!(beats(3, 4), (60_480, 20_160));
        assert_eq!(beats(6, 8), (60_480, 30_240));
        assert_eq!(beats(2, 2), (80_640, 40_320));
        assert_eq!(beats(3, 8), (30_240, 10_080));
        assert!(Metre::new(0, 4).is_none() && Metre::new(4, 3).is_none());
    }

    /// Order of accents as in music21's `getAccentWeight`: 4/4 1, .25, .5, .25; 3/4 1, .5, .5; 6/8 1 … .5.
    #[test]
    fn accents_follow_published_order() {
        let levels = |n, d, unit: Span, count: i64| -> [u8; 8] {
            let metre = Metre::new(n, d).expect("a metre");
            core::array::from_fn(|i| if (i as i64) < count { metre.level(unit * i as i64) } else { 9 })
        };
        assert_eq!(levels(4, 4, Span::EIGHTH, 8), [0, 3, 2, 3, 1, 3, 2, 3]);
        assert_eq!(levels(3, 4, Span::EIGHTH, 6), [0, 3, 2, 3, 2, 3, 9, 9]);
        assert_eq!(levels(6, 8, Span::EIGHTH, 6), [0, 3, 3, 1, 3, 3, 9, 9]);
    }
}
