//! Parts: `P:AABA` in the header, `P:A` in the body.
//!
//! Where the order names a part twice in a row and the part itself is one section with a repeat sign, the
//! order has spelled the repeat out: each mention is one pass, with that pass's ending. Otherwise a mention
//! plays the part with its repeats. Music before the first part mark is played once, first. Parts that the
//! order does not name are not played.

use core::ops::Range;

use super::{Mode, Step};
use crate::SheetError;
use crate::warnings::Warnings;
use crate::written::WrittenBar;

/// A part of the body.
struct Part {
    name: char,
    range: Range<usize>,
    spelled_out: bool,
}

/// Whether the body has marks for at least one part of the order.
pub(super) fn has_parts(bars: &[WrittenBar], order: &[char]) -> bool {
    bars.iter().any(|bar| name(bar).is_some_and(|name| order.contains(&name)))
}

/// Plays the parts in order.
pub(super) fn play(
    bars: &[WrittenBar],
    order: &[char],
    steps: &mut Vec<Step>,
    warnings: &mut Warnings,
) -> Result<(), SheetError> {
    let parts = parts(bars, order);
    let first = parts.first().map_or(bars.len(), |part| part.range.start);
    super::play(bars, 0..first, Mode::Signs, steps)?;
    let mut pass = 0;
    let mut before = None;
    for name in order {
        pass = if before == Some(name) { pass + 1 } else { 1 };
        before = Some(name);
        let Some(part) = parts.iter().find(|part| part.name == *name) else {
            warnings.push_once(
                None,
                None,
                format!("the order of parts names {name}, which the tune has not"),
            );
            continue;
        };
        let mode = if part.spelled_out { Mode::Once(pass) } else { Mode::Signs };
        let from = steps.len();
        super::play(bars, part.range.clone(), mode, steps)?;
        if let Some(step) = steps.get_mut(from) {
            step.arrival = true;
        }
    }
    for part in &parts {
        if !order.contains(&part.name) {
            let bar = bars.get(part.range.start);
            let text = format!("the order of parts leaves out part {}; it is not played", part.name);
            warnings.push(bar.map(|bar| bar.number), bar.and_then(|bar| bar.line), text);
        }
    }
    Ok(())
}

fn name(bar: &WrittenBar) -> Option<char> {
    bar.left.part.as_deref()?.trim().chars().next()
}

/// The parts of the body, each where it is first marked.
fn parts(bars: &[WrittenBar], order: &[char]) -> Vec<Part> {
    let starts: Vec<usize> =
        bars.iter().enumerate().filter(|(_, bar)| bar.left.part.is_some()).map(|(index, _)| index).collect();
    let mut parts: Vec<Part> = Vec::new();
    for (index, start) in starts.iter().enumerate() {
        let range = *start..starts.get(index + 1).copied().unwrap_or(bars.len());
        let Some(name) = bars.get(*start).and_then(name) else { continue };
        if parts.iter().any(|part| part.name == name) {
            continue;
        }
        let inside = bars.get(range.clone()).unwrap_or(&[]);
        let signs = inside.iter().filter(|bar| bar.right.repeat > 0).count();
        let endings = inside.iter().filter(|bar| !bar.left.ending.is_empty()).count();
        let one_section = signs == 1 || (endings > 0 && signs <= endings);
        let doubled = order.windows(2).any(|pair| pair == [name, name]);
        parts.push(Part { name, range, spelled_out: one_section && doubled });
    }
    parts
}
