//! Playing figures: where a running figure stands, and which parts its next step means.

pub mod line;

use arrayvec::ArrayVec;
use figwort_theory::{Moment, Pitch, Span};

use crate::book::{Family, Figure, Pattern, Step, Who};
use crate::voicing::{MAX_PARTS, Voicing};

/// A figure that runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Running {
    /// Index in the book, and the figure's id, to notice that the book was changed.
    pub figure: (usize, u16),
    /// Where its pattern begins: a bar's start, or a change of harmony on a beat.
    pub origin: Moment,
    /// The step that comes next.
    pub next: usize,
    /// Its family.
    pub family: Family,
    /// The bar's end: the figure runs no further without a new decision.
    pub end: Moment,
}

impl Running {
    /// The figure from `now` on, its pattern counted from `origin`.
    pub fn start(
        figure: (usize, u16),
        (family, pattern): (Family, &Pattern),
        origin: Moment,
        now: Moment,
        end: Moment,
    ) -> Self {
        let next = pattern.steps.partition_point(|step| origin + step.at < now);
        Self { figure, origin, next, family, end }
    }

    /// The pattern, if the book still has it.
    pub fn pattern<'a>(&self, figures: &'a [Figure], metre: figwort_theory::Metre) -> Option<&'a Pattern> {
        figures.get(self.figure.0).filter(|f| f.id == self.figure.1)?.pattern(metre)
    }

    /// The next step and when it is due; `None` when there is none before the bar's end.
    pub fn upcoming(&self, pattern: &Pattern) -> Option<(Moment, Step)> {
        let step = *pattern.steps.get(self.next)?;
        let at = self.origin + step.at;
        (at < self.end).then_some((at, step))
    }
}

/// The notes of a voicing that a step strikes; none for steps that go beyond the voicing.
pub fn parts_of(who: Who, voicing: &Voicing) -> ArrayVec<Pitch, MAX_PARTS> {
    let notes = voicing.notes();
    let upper = notes.get(1..).unwrap_or_default();
    let chosen: &[Pitch] = match who {
        Who::Bass => notes.get(..1).unwrap_or_default(),
        Who::Inner(n) => match fold(usize::from(n), upper.len()) {
            Some(index) => upper.get(index..=index).unwrap_or_default(),
            None => &[],
        },
        Who::Top => upper.last().map_or(&[], core::slice::from_ref),
        Who::Upper => upper,
        Who::Right => voicing.right(),
        Who::Left => voicing.left(),
        Who::All => notes,
        Who::Line(..) | Who::Next | Who::BelowBass | Who::Climb(_) => &[],
    };
    chosen.iter().copied().collect()
}

/// The *n*th (from 1) of `count` parts, counting down again from the top where there are fewer.
fn fold(n: usize, count: usize) -> Option<usize> {
    let n = n.checked_sub(1)?;
    match count {
        0 => None,
        1 => Some(0),
        _ => {
            let period = 2 * (count - 1);
            let place = n % period;
            Some(if place < count { place } else { period - place })
        }
    }
}

/// Where a figure's pattern begins when the harmony changed at `changed`: on the felt beat it belongs to,
/// if it is close to one (hands are early or late), else with the bar.
pub fn origin(changed: Moment, bar_start: Moment, beat: Span) -> Moment {
    let from_bar = changed - bar_start;
    if beat.0 <= 0 || from_bar.0 < 0 {
        return bar_start;
    }
    let near = Span((from_bar.0 + beat.0 / 2).div_euclid(beat.0) * beat.0);
    if (from_bar - near).0.abs() * 6 <= beat.0 { bar_start + near } else { bar_start }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counting_folds_back_at_the_top() {
        let order = |count| [1, 2, 3, 4, 5, 6].map(|n| fold(n, count));
        assert_eq!(order(3), [0, 1, 2, 1, 0, 1].map(Some));
        assert_eq!(order(1), [0; 6].map(Some));
        assert_eq!(order(0), [None; 6]);
    }

    #[test]
    fn early_and_late_changes_belong_to_their_beat() {
        let at = |changed| origin(Moment(changed), Moment(0), Span(600));
        assert_eq!(at(0), Moment(0));
        assert_eq!(at(640), Moment(600));
        assert_eq!(at(510), Moment(600));
        assert_eq!(at(300), Moment(0));
    }
}
