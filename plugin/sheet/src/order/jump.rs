//! Da capo, dal segno, fine and coda.
//!
//! Each D.C. or D.S. is followed once, when the music has come to it for the last time. What is played again is
//! played without repeats and with the last endings (common practice; MusicXML 4.0, `repeat`, says so too: a sign
//! with `after-jump` is repeated there), up to Fine or to where the coda is left for; without either, up to the jump
//! and on to what follows it. A D.S. goes back to the last segno before it. Words that say *al Fine* or *al Coda*
//! choose between them; a jump that says neither takes what no other jump claims.

use super::{Mode, Order, Step, play};
use crate::warnings::Warnings;
use crate::written::{Al, Mark, MarkKind, WrittenBar};
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
    matches!(mark.kind, MarkKind::DaCapo(_) | MarkKind::DalSegno(_))
}

/// The steps with jumps followed.
///
/// # Errors
/// [`SheetError::TooLarge`] beyond [`limits::MAX_BARS`].
pub(super) fn follow(
    bars: &[WrittenBar],
    marks: &[Mark],
    steps: Vec<Step>,
    warnings: &mut Warnings,
) -> Result<Order, SheetError> {
    // A segno, a coda sign or a Fine where there is no way back directs nowhere.
    let jumps = jumps(bars, marks, warnings);
    if jumps.is_empty() {
        return Ok(Order { steps, followed: None });
    }
    let mut done: Vec<Followed> = Vec::new();
    let mut played: Vec<Step> = Vec::with_capacity(steps.len());
    // What is being played, since which jump, and what follows that jump.
    let (mut line, mut place, mut since, mut after) = (steps, 0, None::<Followed>, Vec::new());
    loop {
        let Some(step) = line.get(place).copied() else {
            if since.take().is_none() {
                break;
            }
            (line, place) = (core::mem::take(&mut after), 0);
            continue;
        };
        if let Some((leave, arrive)) = since.and_then(|jump| jump.coda)
            && step.bar >= leave
        {
            (line, place, since) = (arriving(bars, arrive, Mode::Signs)?, 0, None);
            continue;
        }
        if played.len() >= limits::MAX_BARS {
            return Err(super::too_long());
        }
        played.push(step);
        place += 1;
        let is_last = || line.iter().skip(place).all(|later| later.bar != step.bar);
        if let Some(jump) = since {
            if jump.fine == Some(step.bar) && is_last() {
                break;
            }
            if jump.bar == step.bar && is_last() {
                (line, place, since) = (core::mem::take(&mut after), 0, None);
                continue;
            }
        }
        let is_new =
            |jump: &&Followed| jump.bar == step.bar && done.iter().all(|other| other.bar != jump.bar);
        if let Some(jump) = jumps.iter().find(is_new).filter(|_| is_last()) {
            done.push(Followed { at: played.len() - 1, ..*jump });
            after = line.split_off(place);
            (line, place, since) =
                (arriving(bars, jump.from, Mode::Once(limits::MAX_ENDING + 1))?, 0, Some(*jump));
        }
    }
    // Signs around bars can tell of one jump.
    let followed = if let [jump] = done.as_slice() { Some(*jump) } else { None };
    Ok(Order { steps: played, followed })
}

/// The bars from one that the player jumps to.
fn arriving(bars: &[WrittenBar], from: usize, mode: Mode) -> Result<Vec<Step>, SheetError> {
    let mut steps = Vec::new();
    play(bars, from..bars.len(), mode, &mut steps)?;
    if let Some(step) = steps.first_mut() {
        step.arrival = true;
    }
    Ok(steps)
}

/// Every jump with what directs it; places in the playing order are not known yet.
fn jumps(bars: &[WrittenBar], marks: &[Mark], warnings: &mut Warnings) -> Vec<Followed> {
    let number = |bar: usize| bars.get(bar).map(|bar| bar.number);
    let find = |kind| marks.iter().find(|mark| mark.kind == kind);
    let al = |mark: &Mark| match mark.kind {
        MarkKind::DaCapo(al) | MarkKind::DalSegno(al) => Some(al),
        _ => None,
    };
    let claimed = |wanted: Al| marks.iter().any(|mark| al(mark) == Some(wanted));
    let fine = find(MarkKind::Fine).map(|mark| mark.bar);
    let mut to_codas = 0;
    let mut jumps = Vec::new();
    for mark in marks {
        let Some(al) = al(mark) else { continue };
        let bar = bar_before(bars, mark);
        let from = match mark.kind {
            MarkKind::DalSegno(_) => {
                let mut segnos = marks.iter().rev().filter(|other| other.kind == MarkKind::Segno);
                let segno = segnos.find(|segno| segno.bar < bar).or_else(|| find(MarkKind::Segno));
                if segno.is_none() {
                    let text = "D.S. has no segno sign to go back to; the beginning is taken";
                    warnings.push(number(mark.bar), mark.line, text);
                }
                segno.map_or(0, |segno| segno.bar)
            }
            _ => 0,
        };
        let coda = coda(bars, marks, to_codas);
        if coda.is_none() && find(MarkKind::Coda).is_some() {
            warnings.push(number(mark.bar), mark.line, "a coda sign has no partner; it is not followed");
        }
        let (fine, coda) = match al {
            Al::Fine if fine.is_some() => (fine, None),
            Al::Coda if coda.is_some() => (None, coda),
            Al::Fine | Al::Coda => (fine, coda),
            Al::Unsaid => (fine.filter(|_| !claimed(Al::Fine)), coda.filter(|_| !claimed(Al::Coda))),
        };
        to_codas += usize::from(coda.is_some());
        jumps.push(Followed { kind: mark.kind, at: 0, bar, from, fine, coda });
    }
    jumps
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

/// The bar before which the coda is left for, and the bar where it begins, for the jump before which so many have
/// gone to a coda.
fn coda(bars: &[WrittenBar], marks: &[Mark], before: usize) -> Option<(usize, usize)> {
    let of = |kind| marks.iter().filter(move |mark: &&Mark| mark.kind == kind);
    let (ways, signs) = (of(MarkKind::ToCoda).count(), of(MarkKind::Coda).count());
    // Several codas, each with its way there: one after another.
    let (leave, arrive) = if ways > 1 && ways == signs {
        let index = before.min(ways - 1);
        (of(MarkKind::ToCoda).nth(index)?, of(MarkKind::Coda).nth(index)?)
    } else {
        let arrive = marks.iter().rev().find(|mark| mark.kind == MarkKind::Coda)?;
        let leave = marks.iter().find(|mark| {
            mark.kind == MarkKind::ToCoda || (mark.kind == MarkKind::Coda && mark.bar < arrive.bar)
        })?;
        (leave, arrive)
    };
    // A sign after notes is followed at the end of its bar, one before them at once.
    let leaving = match leave.kind {
        MarkKind::ToCoda => bar_before(bars, leave) + 1,
        _ => leave.bar + usize::from(!leave.before),
    };
    (leaving <= arrive.bar).then_some((leaving, arrive.bar))
}
