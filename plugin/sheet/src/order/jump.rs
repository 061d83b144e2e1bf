//! Da capo, dal segno, fine and coda.
//!
//! The first D.C. or D.S. is followed when the music has come to it for the last time. What is played again is
//! played without repeats and with the last endings (common practice, no source), up to Fine or to where the
//! coda is left for; without either, up to the jump and on to what follows it.

use super::{Mode, Order, Step, play};
use crate::warnings::Warnings;
use crate::written::{Mark, MarkKind, WrittenBar};
use crate::{SheetError, limits};

/// A jump that was followed, with what directed it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Followed {
    pub(super) kind: MarkKind,
    /// Place in the playing order of the bar at whose end it is followed.
    pub(super) at: usize,
    /// That bar, and the one that it leads to.
    pub(super) bar: usize,
    pub(super) from: usize,
    /// The bar that ends with Fine.
    pub(super) fine: Option<usize>,
    /// The bar before which the coda is left for, and the one where it begins.
    pub(super) coda: Option<(usize, usize)>,
}

/// Whether a mark sends the player back.
pub(super) fn is_jump(mark: &Mark) -> bool {
    matches!(mark.kind, MarkKind::DaCapo | MarkKind::DalSegno)
}

/// The steps with jumps followed.
///
/// # Errors
/// [`SheetError::TooLarge`] beyond [`limits::MAX_BARS`].
pub(super) fn follow(
    bars: &[WrittenBar],
    marks: &[Mark],
    mut steps: Vec<Step>,
    warnings: &mut Warnings,
) -> Result<Order, SheetError> {
    let mut jumps = marks.iter().filter(|mark| is_jump(mark));
    // A segno, a coda sign or a Fine where there is no way back directs nowhere.
    let Some(jump) = jumps.next() else { return Ok(Order { steps, followed: None }) };
    let number = |bar: usize| bars.get(bar).map(|bar| bar.number);
    if let Some(second) = jumps.next() {
        let text = "a second D.C. or D.S. is not followed; write the order with P: or play it out";
        warnings.push(number(second.bar), second.line, text);
    }
    let jump_bar = bar_before(bars, jump);
    let Some(place) = steps.iter().rposition(|step| step.bar == jump_bar) else {
        return Ok(Order { steps, followed: None });
    };
    let after = steps.split_off(place + 1);

    let find = |kind| marks.iter().find(|mark| mark.kind == kind);
    let from = match (jump.kind, find(MarkKind::Segno)) {
        (MarkKind::DalSegno, Some(segno)) => segno.bar,
        (MarkKind::DalSegno, None) => {
            let text = "D.S. has no segno sign to go back to; the beginning is taken";
            warnings.push(number(jump.bar), jump.line, text);
            0
        }
        _ => 0,
    };
    let fine = find(MarkKind::Fine).map(|mark| mark.bar);
    let coda = coda(bars, marks);
    if coda.is_none() && find(MarkKind::Coda).is_some() {
        warnings.push(number(jump.bar), jump.line, "a coda sign has no partner; it is not followed");
    }

    let followed = Followed { kind: jump.kind, at: place, bar: jump_bar, from, fine, coda };
    let mut again = Vec::new();
    play(bars, from..bars.len(), Mode::Once(limits::MAX_ENDING + 1), &mut again)?;
    let mut arrival = true;
    for step in again {
        if let Some((leave, arrive)) = coda
            && step.bar >= leave
        {
            let first = steps.len();
            play(bars, arrive..bars.len(), Mode::Signs, &mut steps)?;
            if let Some(step) = steps.get_mut(first) {
                step.arrival = true;
            }
            return bounded(steps, followed);
        }
        steps.push(Step { arrival: step.arrival || arrival, ..step });
        arrival = false;
        if fine == Some(step.bar) {
            return bounded(steps, followed);
        }
        if step.bar == jump_bar {
            break;
        }
    }
    steps.extend(after);
    bounded(steps, followed)
}

fn bounded(steps: Vec<Step>, followed: Followed) -> Result<Order, SheetError> {
    if steps.len() > limits::MAX_BARS {
        return Err(super::too_long());
    }
    Ok(Order { steps, followed: Some(followed) })
}

/// The bar at whose end a direction is followed. One that stands at the beginning of a bar belongs to the bar
/// before, unless a section ends with this bar and none ended with that one.
fn bar_before(bars: &[WrittenBar], mark: &Mark) -> usize {
    let ends = |index: usize| {
        bars.get(index).is_some_and(|bar| bar.right.double || bar.right.repeat > 0) || index + 1 == bars.len()
    };
    match mark.bar.checked_sub(1) {
        Some(before) if mark.before && (ends(before) || !ends(mark.bar)) => before,
        _ => mark.bar,
    }
}

/// The bar before which the coda is left for, and the bar where it begins.
fn coda(bars: &[WrittenBar], marks: &[Mark]) -> Option<(usize, usize)> {
    let arrive = marks.iter().rev().find(|mark| mark.kind == MarkKind::Coda)?;
    let leave = marks.iter().find(|mark| {
        mark.kind == MarkKind::ToCoda || (mark.kind == MarkKind::Coda && mark.bar < arrive.bar)
    })?;
    // A sign after notes is followed at the end of its bar, one before them at once.
    let leaving = match leave.kind {
        MarkKind::ToCoda => bar_before(bars, leave) + 1,
        _ => leave.bar + usize::from(!leave.before),
    };
    (leaving <= arrive.bar).then_some((leaving, arrive.bar))
}
