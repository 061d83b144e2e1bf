//! The order in which written bars are played: repeats, endings, parts and jumps.
//!
//! - `:|` goes back to the `|:` before it; without one to the last double bar, repeat sign, part mark or the
//!   beginning, as ABC 2.1 (4.8) recommends; double bars count only where the format says so.
//! - Endings are played by their numbers, as often as the highest says. A first ending that does not end in
//!   `:|` is repeated all the same.
//! - `P:` in the header orders parts; see [`part`]. D.C., D.S., Fine and Coda: see [`jump`].

mod ending;
mod jump;
mod part;
mod signs;

use core::ops::Range;

use crate::warnings::Warnings;
use crate::written::{Mark, WrittenBar};
use crate::{SheetError, limits};
use ending::Group;

pub(crate) use signs::page;

/// A bar in playing order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Step {
    /// Index of the written bar.
    pub(crate) bar: usize,
    /// Whether the player came here by going back or ahead.
    pub(crate) arrival: bool,
}

/// The playing order of bars, and the jump in it.
#[derive(Clone, Debug)]
pub(crate) struct Order {
    pub(crate) steps: Vec<Step>,
    followed: Option<jump::Followed>,
}

/// How repeat signs are played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Mode {
    /// As they stand.
    Signs,
    /// Once through, with the endings of this pass, or the last ones.
    Once(u32),
}

/// The order of all bars.
///
/// # Errors
/// [`SheetError::TooLarge`] beyond [`limits::MAX_BARS`].
pub(crate) fn order(
    bars: &[WrittenBar],
    marks: &[Mark],
    parts: &[char],
    warnings: &mut Warnings,
) -> Result<Order, SheetError> {
    let mut steps = Vec::new();
    if part::has_parts(bars, parts) {
        part::play(bars, parts, &mut steps, warnings)?;
        if let Some(mark) = marks.iter().find(|mark| jump::is_jump(mark)) {
            let text = "a D.C. or D.S. beside an order of parts (P:) is not followed";
            warnings.push(bars.get(mark.bar).map(|bar| bar.number), mark.line, text);
        }
        return Ok(Order { steps, followed: None });
    }
    for group in ending::groups(bars, 0..bars.len()) {
        group.warn(bars, warnings);
    }
    play(bars, 0..bars.len(), Mode::Signs, &mut steps)?;
    jump::follow(bars, marks, steps, warnings)
}

fn too_long() -> SheetError {
    SheetError::TooLarge { what: "bars when the repeats are played out", limit: limits::MAX_BARS }
}

/// Plays a range of bars.
fn play(
    bars: &[WrittenBar],
    range: Range<usize>,
    mode: Mode,
    steps: &mut Vec<Step>,
) -> Result<(), SheetError> {
    let groups = ending::groups(bars, range.clone());
    let mut player = Player { start: range.start, pass: 1, times: 0, explicit: false };
    let mut at = range.start;
    let mut came_from = None;
    while at < range.end {
        let Some(bar) = bars.get(at) else { break };
        player.enter(at, bar);
        let group = groups.iter().find(|group| (group.from..group.to).contains(&at));
        if let Some(group) = group
            && let Some(ending) = group.beginning_at(at)
        {
            let wanted = group.ending_for(group.mode(bars, mode), player.pass);
            if wanted != Some(ending) {
                at = match wanted {
                    Some(wanted) if wanted.from > at => wanted.from,
                    _ => player.begin_section(group.to),
                };
                continue;
            }
        }
        if steps.len() >= limits::MAX_BARS {
            return Err(too_long());
        }
        steps.push(Step { bar: at, arrival: came_from.is_some_and(|from: usize| from + 1 != at) });
        came_from = Some(at);
        let mode = group.map_or(mode, |group| group.mode(bars, mode));
        at = player.leave(at, bar, group, mode, bars.get(at + 1));
    }
    Ok(())
}

/// Where the player is in a repeated section.
struct Player {
    /// Where `:|` goes back to.
    start: usize,
    /// The time that the section is being played, from 1.
    pass: u32,
    /// How often the section is played according to its `|:`; 0 where that says nothing.
    times: u32,
    /// Whether `start` is a `|:`.
    explicit: bool,
}

impl Player {
    /// Begins a new section; where.
    fn begin_section(&mut self, at: usize) -> usize {
        *self = Self { start: at, pass: 1, times: 0, explicit: false };
        at
    }

    /// Comes to a bar.
    fn enter(&mut self, at: usize, bar: &WrittenBar) {
        let begins = bar.left.repeat > 0 || (bar.left.part.is_some() && !self.explicit);
        if begins && at != self.start {
            self.begin_section(at);
        }
        if bar.left.repeat > 0 {
            self.explicit = true;
            self.times = bar.left.repeat;
        }
    }

    /// Where to go from the end of a bar.
    fn leave(
        &mut self,
        at: usize,
        bar: &WrittenBar,
        group: Option<&Group>,
        mode: Mode,
        next: Option<&WrittenBar>,
    ) -> usize {
        let (times, after) = match group {
            Some(group) if !group.ends_with(at) => return at + 1,
            Some(group) => (group.passes, group.to),
            None if bar.right.repeat > 0 => (bar.right.repeat.max(self.times), at + 1),
            // A double bar just before an ending does not begin a section.
            None if bar.right.restarts
                && !self.explicit
                && next.is_none_or(|next| next.left.ending.is_empty()) =>
            {
                return self.begin_section(at + 1);
            }
            None => return at + 1,
        };
        let mode = match group {
            Some(_) => mode,
            None if bar.right.after_jump => Mode::Signs,
            None => mode,
        };
        if mode == Mode::Signs && self.pass < times {
            self.pass += 1;
            return self.start;
        }
        self.begin_section(after)
    }
}

#[cfg(test)]
mod tests;
