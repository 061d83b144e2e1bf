//! Whether the notes of each bar add up to its metre.

use figwort_theory::Span;

use crate::length::in_wholes;
use crate::warnings::Warnings;
use crate::written::WrittenBar;

/// Warns of bars whose notes do not add up. A short bar at either edge of a section is taken as a pick-up or
/// what completes one, and a short bar that fills up its neighbour as half of a divided bar.
pub(crate) fn check(bars: &[WrittenBar], warnings: &mut Warnings) {
    for (index, bar) in bars.iter().enumerate() {
        let full = bar.metre.bar();
        if bar.free || bar.length == full {
            continue;
        }
        let before = index.checked_sub(1).and_then(|before| bars.get(before));
        let after = bars.get(index + 1);
        let fills = |other: Option<&WrittenBar>| {
            other.is_some_and(|other| other.metre == bar.metre && other.length + bar.length == full)
        };
        let begins = before.is_none() || bar.left.section;
        let ends = after.is_none_or(|after| after.left.section) || bar.right.repeat > 0 || bar.right.double;
        if bar.length < full && (begins || ends || fills(before) || fills(after)) {
            continue;
        }
        let metre = format!("{}/{}", bar.metre.numerator(), bar.metre.denominator());
        let length = in_written(bar.length, bar.metre.denominator());
        let text =
            format!("its notes make {length}, its metre is {metre}; the bar is taken as long as its notes");
        warnings.push(Some(bar.number), bar.line, text);
    }
}

/// A length over the metre's lower number where that comes out even.
fn in_written(length: Span, denominator: u8) -> String {
    let unit = Span::WHOLE.0 / i64::from(denominator);
    if length.0 % unit == 0 { format!("{}/{denominator}", length.0 / unit) } else { in_wholes(length) }
}
