//! Endings: which bars belong to which number.

use core::ops::Range;

use super::Mode;
use crate::warnings::Warnings;
use crate::written::WrittenBar;

/// One ending.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Ending {
    /// The passes that it is played in.
    pub(super) numbers: Vec<u32>,
    /// Its first bar.
    pub(super) from: usize,
    /// The bar after its last.
    pub(super) to: usize,
}

/// The endings of one section, which follow one another.
#[derive(Clone, Debug)]
pub(super) struct Group {
    pub(super) endings: Vec<Ending>,
    pub(super) from: usize,
    /// The bar after the last ending.
    pub(super) to: usize,
    /// How often the section is played.
    pub(super) passes: u32,
}

impl Group {
    /// The ending that begins at a bar.
    pub(super) fn beginning_at(&self, bar: usize) -> Option<&Ending> {
        self.endings.iter().find(|ending| ending.from == bar)
    }

    /// Whether an ending is over with this bar.
    pub(super) fn ends_with(&self, bar: usize) -> bool {
        self.endings.iter().any(|ending| ending.to == bar + 1)
    }

    /// How they are played: by their numbers, too, where a repeat sign among them holds after a jump.
    pub(super) fn mode(&self, bars: &[WrittenBar], mode: Mode) -> Mode {
        let holds =
            bars.get(self.from..self.to).is_some_and(|bars| bars.iter().any(|bar| bar.right.after_jump));
        if holds { Mode::Signs } else { mode }
    }

    /// The ending to play; `None` where the group is passed over.
    pub(super) fn ending_for(&self, mode: Mode, pass: u32) -> Option<&Ending> {
        let numbered = |pass| self.endings.iter().find(|ending| ending.numbers.contains(&pass));
        match mode {
            // Where numbers are left out, an ending serves until the next one's.
            Mode::Signs => numbered(pass).or_else(|| {
                if self.endings.len() < 2 {
                    return None;
                }
                let lowest = |ending: &Ending| ending.numbers.iter().copied().min();
                let before = self.endings.iter().filter(|ending| lowest(ending).is_some_and(|n| n < pass));
                before.max_by_key(|ending| lowest(ending))
            }),
            Mode::Once(pass) => numbered(pass).or(self.endings.last()),
        }
    }

    /// Warns of what was guessed.
    pub(super) fn warn(&self, bars: &[WrittenBar], warnings: &mut Warnings) {
        for ending in self.endings.iter().rev().skip(1) {
            if let Some(bar) = ending.to.checked_sub(1).and_then(|last| bars.get(last))
                && bar.right.repeat == 0
            {
                let text = "an ending before the last has no repeat sign :|; it is repeated all the same";
                warnings.push(Some(bar.number), bar.line, text);
            }
        }
        let missing =
            (1..=self.passes).find(|pass| self.endings.iter().all(|ending| !ending.numbers.contains(pass)));
        // A lone first ending is played the first time only.
        if let Some(missing) = missing.filter(|_| self.endings.len() > 1)
            && let Some(bar) = bars.get(self.from)
        {
            let text = format!("no ending is numbered {missing}; the one before serves for it too");
            warnings.push(Some(bar.number), bar.line, text);
        }
    }
}

/// The groups of endings in a range. Endings without a number 1 among them are played as ordinary bars.
pub(super) fn groups(bars: &[WrittenBar], range: Range<usize>) -> Vec<Group> {
    let mut groups = Vec::new();
    let mut at = range.start;
    while at < range.end {
        if bars.get(at).is_none_or(|bar| bar.left.ending.is_empty()) {
            at += 1;
            continue;
        }
        let from = at;
        let mut endings: Vec<Ending> = Vec::new();
        while let Some(bar) = bars.get(at).filter(|_| at < range.end) {
            let numbers = &bar.left.ending;
            let is_new = endings.iter().all(|ending| ending.numbers.iter().all(|n| !numbers.contains(n)));
            let continues = endings.is_empty() || (bar.left.repeat == 0 && !numbers.contains(&1));
            if numbers.is_empty() || !is_new || !continues {
                break;
            }
            let to = end_of(bars, at, range.end);
            endings.push(Ending { numbers: numbers.clone(), from: at, to });
            at = to;
        }
        let highest = endings.iter().flat_map(|ending| &ending.numbers).copied().max().unwrap_or(1);
        let repeats = endings.iter().any(|ending| {
            ending.to.checked_sub(1).and_then(|last| bars.get(last)).is_some_and(|bar| bar.right.repeat > 0)
        });
        if endings.iter().any(|ending| ending.numbers.contains(&1)) {
            let passes = highest.max(if repeats { 2 } else { 1 });
            groups.push(Group { endings, from, to: at, passes });
        }
    }
    groups
}

/// Where the ending that begins at `from` is over: after as many bars as it states; else after `:|` or a double bar, or before the next ending,
/// `|:` or part.
fn end_of(bars: &[WrittenBar], from: usize, limit: usize) -> usize {
    let stated = bars.get(from).map_or(0, |bar| bar.left.ending_bars);
    let mut to = from + 1;
    while to < limit {
        let is_over = match stated {
            0 => bars.get(to - 1).is_none_or(|last| last.right.repeat > 0 || last.right.double),
            _ => to - from >= stated,
        };
        let next_begins = bars.get(to).is_none_or(|next| {
            !next.left.ending.is_empty() || next.left.repeat > 0 || next.left.part.is_some()
        });
        if is_over || next_begins {
            break;
        }
        to += 1;
    }
    to
}
