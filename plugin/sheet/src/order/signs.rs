//! From the order in which bars are played to the signs that tell it.
//!
//! The signs are taken from the order itself, not from the page: what goes back has a `|:` where it goes to and a
//! `:|` where it comes from, so that an order of parts or a repeat without its partner is told as plainly as
//! any. What the signs make is played again; where that is not the order, one D.C. or D.S. al Fine is tried,
//! and then no signs are given.

use std::collections::BTreeSet;

use figwort_theory::Span;

use super::jump::Followed;
use super::{Order, Step, ending};
use crate::page::{Jump, Page, PageBar, PageNote, Signs, Until};
use crate::warnings::Warnings;
use crate::written::{Al, Left, Mark, MarkKind, Right, WrittenBar, WrittenNote};

/// The page with the signs that make the order.
pub(crate) fn page(bars: &[WrittenBar], order: &Order) -> Page {
    let steps = &order.steps;
    if steps.windows(2).all(|pair| matches!(pair, [a, b] if a.bar < b.bar)) {
        return Page::AsPlayed;
    }
    // Bars that are never played are not on the page.
    let mut used: Vec<usize> = steps.iter().map(|step| step.bar).collect();
    used.sort_unstable();
    used.dedup();
    let place = |bar: usize| used.partition_point(|used| *used < bar);
    let order_here: Vec<usize> = steps.iter().map(|step| place(step.bar)).collect();
    let repeats = Places { bars, used: &used, order: &order_here };
    let followed = order.followed.map(|jump| Followed {
        bar: place(jump.bar),
        from: place(jump.from),
        fine: jump.fine.map(place),
        coda: jump.coda.map(|(leave, arrive)| (place(leave), place(arrive))),
        ..jump
    });
    let tries = [followed, repeats.last_return()];
    let signs = tries.into_iter().find_map(|jump| {
        let signs = repeats.signs(jump);
        (repeats.played_by(&signs).as_deref() == Some(&order_here)).then_some(signs)
    });
    let Some(signs) = signs else { return Page::BeyondSigns };
    let over_edges = ties_over_edges(bars, steps);
    let bars = used.iter().zip(signs).enumerate().filter_map(|(index, (used, signs))| {
        let bar = bars.get(*used)?;
        let played = order_here.iter().position(|here| *here == index)?;
        let section = bar.left.section || signs.starts || steps.get(played).is_some_and(|step| step.arrival);
        Some(PageBar {
            played,
            section,
            notes: notes(bar, over_edges.contains(&(*used, false)), over_edges.contains(&(*used, true))),
            symbols: bar.symbols.clone(),
            tempo: bar.tempo,
            tempos: bar.tempos.clone(),
            signs,
        })
    });
    Page::Signs(bars.collect())
}

/// The bars that are played and their order, by their places on the page.
struct Places<'a> {
    bars: &'a [WrittenBar],
    used: &'a [usize],
    order: &'a [usize],
}

impl Places<'_> {
    /// The last time that the player goes back, as a jump that ends where the music ends.
    fn last_return(&self) -> Option<Followed> {
        let last = self.order.windows(2).rposition(|pair| matches!(pair, [a, b] if b <= a))?;
        let (bar, from) = (*self.order.get(last)?, *self.order.get(last + 1)?);
        let kind = if from == 0 { MarkKind::DaCapo(Al::Fine) } else { MarkKind::DalSegno(Al::Fine) };
        Some(Followed { kind, at: last, bar, from, fine: self.order.last().copied(), coda: None })
    }

    /// The signs for going back as the order does, but for the jump, which has marks of its own.
    fn signs(&self, jump: Option<Followed>) -> Vec<Signs> {
        let mut signs = vec![Signs::default(); self.used.len()];
        for (index, pair) in self.order.windows(2).enumerate() {
            let [from, to] = pair else { continue };
            if to > from || jump.is_some_and(|jump| jump.at == index) {
                continue;
            }
            if let Some(bar) = signs.get_mut(*from) {
                bar.ends = (bar.ends + 1).max(2);
            }
            if let Some(bar) = signs.get_mut(*to).filter(|_| *to > 0) {
                bar.starts = true;
            }
        }
        let place = |bar: usize| self.used.partition_point(|used| *used < bar);
        for group in ending::groups(self.bars, 0..self.bars.len()) {
            for ending in group.endings {
                let (from, to) = (place(ending.from), place(ending.to));
                if from >= to {
                    continue;
                }
                if let Some(bar) = signs.get_mut(from) {
                    bar.ending = ending.numbers;
                }
                if let Some(bar) = signs.get_mut(to - 1) {
                    bar.ending_over = true;
                    // How often is for the numbers to say.
                    bar.ends = bar.ends.min(2);
                }
            }
        }
        let Some(jump) = jump else { return signs };
        let to_segno = matches!(jump.kind, MarkKind::DalSegno(_));
        let until = match (jump.coda, jump.fine) {
            (Some(_), _) => Until::Coda,
            (None, Some(_)) => Until::Fine,
            (None, None) => Until::Through,
        };
        let mut put = |bar: usize, sign: fn(&mut Signs) -> &mut bool| {
            if let Some(bar) = signs.get_mut(bar) {
                *sign(bar) = true;
            }
        };
        if to_segno {
            put(jump.from, |bar| &mut bar.segno);
        }
        if let Some((leave, arrive)) = jump.coda {
            put(leave.saturating_sub(1), |bar| &mut bar.to_coda);
            put(arrive, |bar| &mut bar.coda);
        } else if let Some(fine) = jump.fine {
            put(fine, |bar| &mut bar.fine);
        }
        if let Some(bar) = signs.get_mut(jump.bar) {
            bar.jump = Some(Jump { to_segno, until });
        }
        signs
    }

    /// The order that signs make; `None` where it is too long.
    fn played_by(&self, all: &[Signs]) -> Option<Vec<usize>> {
        let mut marks = Vec::new();
        let mut page = Vec::new();
        for (index, (used, signs)) in self.used.iter().zip(all).enumerate() {
            let bar = self.bars.get(*used)?;
            let rest = all.get(index..)?;
            let mut mark = |kind, before| marks.push(Mark { kind, bar: index, before, line: None });
            if signs.segno {
                mark(MarkKind::Segno, true);
            }
            if signs.coda {
                mark(MarkKind::Coda, true);
            }
            if signs.fine {
                mark(MarkKind::Fine, false);
            }
            if signs.to_coda {
                mark(MarkKind::ToCoda, false);
            }
            if let Some(jump) = signs.jump {
                let al = match jump.until {
                    Until::Through => Al::Unsaid,
                    Until::Fine => Al::Fine,
                    Until::Coda => Al::Coda,
                };
                mark(if jump.to_segno { MarkKind::DalSegno(al) } else { MarkKind::DaCapo(al) }, false);
            }
            let left = Left {
                section: true,
                repeat: if signs.starts { 2 } else { 0 },
                ending: signs.ending.clone(),
                ending_bars: if signs.ending.is_empty() { 0 } else { bars_to_end(rest) },
                part: None,
            };
            let right = Right { repeat: signs.ends, double: bar.right.double, ..Right::default() };
            page.push(bare(bar, left, right));
        }
        let order = super::order(&page, &marks, &[], &mut Warnings::default()).ok()?;
        Some(order.steps.iter().map(|step: &Step| step.bar).collect())
    }
}

/// How many bars the ending has that begins with the first of these.
fn bars_to_end(signs: &[Signs]) -> usize {
    signs.iter().position(|bar| bar.ending_over).map_or(0, |last| last + 1)
}

/// A bar without music, between other signs.
fn bare(bar: &WrittenBar, left: Left, right: Right) -> WrittenBar {
    WrittenBar {
        line: None,
        number: bar.number,
        metre: bar.metre,
        free: bar.free,
        key: bar.key,
        tempo: bar.tempo,
        tempos: Vec::new(),
        length: bar.length,
        notes: Vec::new(),
        quoted: Vec::new(),
        symbols: Vec::new(),
        left,
        right,
    }
}

/// Bars whose first (`false`) or last (`true`) note is tied over their edge, some time that they are played.
fn ties_over_edges(bars: &[WrittenBar], steps: &[Step]) -> BTreeSet<(usize, bool)> {
    let mut ties = BTreeSet::new();
    for pair in steps.windows(2) {
        let [before, after] = pair else { continue };
        let last = bars.get(before.bar).and_then(|bar| Some((bar.length, bar.notes.last()?)));
        let first = bars.get(after.bar).and_then(|bar| bar.notes.first());
        if let (Some((end, last)), Some(first)) = (last, first)
            && last.tied
            && last.at + last.length == end
            && first.at == Span::ZERO
            && first.pitch == last.pitch
        {
            ties.insert((before.bar, true));
            ties.insert((after.bar, false));
        }
    }
    ties
}

/// A bar's notes, the first and last tied over its edges or not.
fn notes(bar: &WrittenBar, tied_from: bool, tied_to: bool) -> Vec<PageNote> {
    let mut notes: Vec<PageNote> = Vec::with_capacity(bar.notes.len());
    for note in &bar.notes {
        let tied = notes.last_mut().is_some_and(|last| {
            last.tied_to &= last.pitch == note.pitch && last.at + last.length == note.at;
            last.tied_to
        });
        let WrittenNote { at, length, pitch, tied: tied_to } = *note;
        notes.push(PageNote { at, length, pitch, tied_from: tied, tied_to });
    }
    if let Some(first) = notes.first_mut() {
        first.tied_from = tied_from;
    }
    if let Some(last) = notes.last_mut() {
        last.tied_to = tied_to;
    }
    notes
}
