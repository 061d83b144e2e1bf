//! Metres that a figure wasn't written for, lent by the metre that is counted alike: a bar of 6/4 is a bar of 6/8 in notes
//! twice as long. Common practice, no source. Deliberately absent: metres that are counted like no other, such as 10/8.

use figwort_engine::{Figure, Hold, Pattern, Step};
use figwort_theory::{Metre, Span};

/// Upper and lower number.
type Signature = (u8, u8);

/// Who borrows, who lends, and the borrower's length of what the lender has as one, as a fraction.
const LOANS: [(Signature, Signature, (i64, i64)); LENT] = [
    ((2, 2), (4, 4), (1, 1)),
    ((3, 2), (3, 4), (2, 1)),
    ((4, 2), (4, 4), (2, 1)),
    ((6, 4), (6, 8), (2, 1)),
    ((7, 4), (7, 8), (2, 1)),
    ((9, 4), (9, 8), (2, 1)),
    ((3, 8), (3, 4), (1, 2)),
    ((5, 8), (5, 4), (1, 2)),
];
/// Metres that borrow.
pub(super) const LENT: usize = 8;
/// Two strikes of one part are no closer than this: a pattern that would be so in shorter notes isn't lent.
const CLOSEST: Span = Span(Span::WHOLE.0 / 16);

/// Adds a pattern for every metre that the figure has none for and can borrow.
pub(super) fn lend(figure: &mut Figure) {
    for ((numerator, denominator), (upper, lower), times) in LOANS {
        let (Some(metre), Some(lender)) = (Metre::new(numerator, denominator), Metre::new(upper, lower))
        else {
            continue;
        };
        if figure.pattern(metre).is_none()
            && let Some(pattern) = figure.pattern(lender).and_then(|pattern| paced(pattern, metre, times))
        {
            // There is room for all.
            let _ = figure.patterns.try_push(pattern);
        }
    }
}

/// A pattern in notes of other lengths; `None` where they don't come out exactly, or strikes come too close.
fn paced(pattern: &Pattern, metre: Metre, (times, parts): (i64, i64)) -> Option<Pattern> {
    let span = |span: Span| {
        let whole = span.0 * times;
        (whole % parts == 0).then_some(Span(whole / parts))
    };
    let mut paced = Pattern { metre, bars: pattern.bars, lent: true, steps: Default::default() };
    for step in &pattern.steps {
        let hold = match step.hold {
            Hold::For(length) => Hold::For(span(length)?),
            hold => hold,
        };
        let at = span(step.at)?;
        if paced.steps.iter().any(|other: &Step| other.who == step.who && at - other.at < CLOSEST) {
            return None;
        }
        paced.steps.try_push(Step { at, hold, ..*step }).ok()?;
    }
    Some(paced)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Library;

    fn metre(numerator: u8, denominator: u8) -> Metre {
        Metre::new(numerator, denominator).expect("a metre")
    }

    #[test]
    fn a_metre_counted_alike_is_lent_in_other_notes() {
        let library = Library::factory();
        let rocking = library.figure("rocking").expect("a figure");
        let (six, long) =
            (rocking.pattern(metre(6, 8)).expect("written"), rocking.pattern(metre(6, 4)).expect("lent"));
        assert!(six.steps.len() > 3 && six.steps.len() == long.steps.len());
        for (written, lent) in six.steps.iter().zip(&long.steps) {
            assert_eq!((written.at * 2, written.who, written.strength), (lent.at, lent.who, lent.strength));
            if let Hold::For(length) = written.hold {
                assert_eq!(lent.hold, Hold::For(length * 2));
            }
        }
        assert_eq!(
            rocking.pattern(metre(2, 2)).expect("lent").steps,
            rocking.pattern(metre(4, 4)).expect("written").steps
        );
        assert_eq!(rocking.pattern(metre(10, 8)), None);
    }

    #[test]
    fn what_is_written_stays() {
        let text = "format = 2\nname = \"mine\"\nabout = \"Mine.\"\nfamily = \"broken chord\"\nweight = 50\n\
                    [[pattern]]\nmetre = \"6/4\"\nsteps = [{ at = \"0\", who = \"all\", hold = \"through\" }]\n\
                    [[pattern]]\nmetre = \"6/8\"\nsteps = [{ at = \"0\", who = \"bass\", hold = \"through\" }]\n";
        let mut library = Library::factory();
        library.add("mine.toml", text).expect("a figure");
        let mine = library.figure("mine").expect("a figure");
        assert_eq!(
            mine.pattern(metre(6, 4)).map(|pattern| pattern.steps[0].who),
            Some(figwort_engine::Who::All)
        );
        assert_eq!(mine.patterns.len(), 2, "3/4 isn't there to be lent to 3/2");
    }

    /// Sixteenths in 3/4 would be thirty-seconds in 3/8.
    #[test]
    fn what_would_come_too_close_is_not_lent() {
        let strike = |at: &str| format!("{{ at = \"{at}\", who = \"top\", hold = \"1/16\" }}");
        let text = |second: &str| {
            format!(
                "format = 2\nname = \"mine\"\nabout = \"Mine.\"\nfamily = \"repeated chord\"\nweight = 50\n[[pattern]]\n\
                 metre = \"3/4\"\nsteps = [{}, {}]\n",
                strike("0"),
                strike(second)
            )
        };
        for (second, lent) in [("1/8", true), ("1/16", false)] {
            let mut library = Library::factory();
            library.add("mine.toml", &text(second)).expect("a figure");
            assert_eq!(
                library.figure("mine").expect("a figure").pattern(metre(3, 8)).is_some(),
                lent,
                "{second}"
            );
        }
    }
}
