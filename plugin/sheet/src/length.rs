//! Exact lengths: fractions of a tick, so that no tuplet loses time before the bar line.

use figwort_theory::Span;

/// Largest denominator kept; beyond it a length is rounded to whole ticks.
const MAX_DENOMINATOR: i128 = 1 << 30;

/// A length in ticks as a fraction in lowest terms.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Exact {
    numerator: i128,
    denominator: i128,
}

impl Default for Exact {
    fn default() -> Self {
        Self::ZERO
    }
}

impl Exact {
    pub(crate) const ZERO: Self = Self { numerator: 0, denominator: 1 };

    /// A whole number of ticks.
    pub(crate) const fn of(span: Span) -> Self {
        Self { numerator: span.0 as i128, denominator: 1 }
    }

    fn reduced(numerator: i128, denominator: i128) -> Self {
        let divisor = gcd(numerator.unsigned_abs(), denominator.unsigned_abs()).max(1) as i128;
        let (numerator, denominator) = (numerator / divisor, denominator / divisor);
        if denominator > MAX_DENOMINATOR {
            Self { numerator: (numerator + denominator / 2).div_euclid(denominator), denominator: 1 }
        } else {
            Self { numerator, denominator }
        }
    }

    /// This length `numerator`/`denominator` times; itself for a zero denominator.
    pub(crate) fn times(self, numerator: u32, denominator: u32) -> Self {
        if denominator == 0 {
            return self;
        }
        Self::reduced(self.numerator * i128::from(numerator), self.denominator * i128::from(denominator))
    }

    pub(crate) fn plus(self, other: Self) -> Self {
        Self::reduced(
            self.numerator * other.denominator + other.numerator * self.denominator,
            self.denominator * other.denominator,
        )
    }

    /// The length that remains; none where `other` is longer, with whether it is.
    pub(crate) fn less(self, other: Self) -> (Self, bool) {
        let numerator = self.numerator * other.denominator - other.numerator * self.denominator;
        if numerator < 0 {
            (Self::ZERO, true)
        } else {
            (Self::reduced(numerator, self.denominator * other.denominator), false)
        }
    }

    /// Which is longer.
    pub(crate) fn order(self, other: Self) -> core::cmp::Ordering {
        (self.numerator * other.denominator).cmp(&(other.numerator * self.denominator))
    }

    /// The longer of the two.
    pub(crate) fn at_least(self, other: Self) -> Self {
        if self.numerator * other.denominator < other.numerator * self.denominator { other } else { self }
    }

    /// The nearest whole number of ticks.
    pub(crate) fn round(self) -> Span {
        let rounded = (self.numerator * 2 + self.denominator).div_euclid(self.denominator * 2);
        Span(i64::try_from(rounded).unwrap_or(i64::MAX))
    }

    /// The shorter of the two.
    pub(crate) fn at_most(self, limit: Self) -> Self {
        if self.numerator * limit.denominator > limit.numerator * self.denominator { limit } else { self }
    }
}

fn gcd(mut a: u128, mut b: u128) -> u128 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

/// A length as a fraction of a whole note, for messages: `5/8`.
pub(crate) fn in_wholes(span: Span) -> String {
    let whole = Span::WHOLE.0.unsigned_abs() as u128;
    let ticks = span.0.unsigned_abs() as u128;
    let divisor = gcd(ticks, whole).max(1);
    let (mut numerator, mut denominator) = (ticks / divisor, whole / divisor);
    // Musicians count in quarters or shorter.
    while denominator < 4 {
        numerator *= 2;
        denominator *= 2;
    }
    format!("{numerator}/{denominator}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn eleven_in_the_time_of_eight_fill_their_time() {
        let note = Exact::of(Span::EIGHTH).times(8, 11);
        let sum = (0..11).fold(Exact::ZERO, |sum, _| sum.plus(note));
        assert_eq!(sum, Exact::of(Span::WHOLE));
    }

    #[test]
    fn absurd_denominators_are_rounded_and_stay_bounded() {
        let mut length = Exact::of(Span::WHOLE);
        for prime in [1_048_573, 1_048_571, 1_048_559, 1_048_549] {
            length = length.times(1_048_576, prime).plus(length);
        }
        assert!(length.denominator <= MAX_DENOMINATOR);
        assert!(length.round() > Span::WHOLE);
    }

    #[test]
    fn lengths_in_words() {
        assert_eq!(in_wholes(Span::EIGHTH * 5), "5/8");
        assert_eq!(in_wholes(Span::WHOLE), "4/4");
        assert_eq!(in_wholes(Span::QUARTER * 3), "3/4");
    }
}
