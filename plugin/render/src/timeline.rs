//! Things in the order of their moments, so that those of a bar are found without looking at all of them.
//!
//! Not here: what a thing is, or how its moment is rounded.

use figwort_theory::Moment;

/// Things by moment; those of one moment in the order in which they came.
pub(crate) struct Timeline<T>(Vec<(Moment, T)>);

impl<T> Timeline<T> {
    /// Things in any order, as what comes.
    pub(crate) fn of(things: impl Iterator<Item = (Moment, T)>) -> Self {
        let mut things: Vec<(Moment, T)> = things.collect();
        things.sort_by_key(|(at, _)| *at);
        Self(things)
    }

    /// All of them, by moment.
    pub(crate) fn all(&self) -> &[(Moment, T)] {
        &self.0
    }

    /// Those at or after a moment and before another.
    pub(crate) fn within(&self, from: Moment, to: Moment) -> &[(Moment, T)] {
        self.0.get(self.count(from)..self.count(to)).unwrap_or_default()
    }

    /// The last one before a moment.
    pub(crate) fn before(&self, at: Moment) -> Option<&T> {
        let last = self.count(at).checked_sub(1)?;
        self.0.get(last).map(|(_, thing)| thing)
    }

    /// How many come before a moment.
    pub(crate) fn count(&self, at: Moment) -> usize {
        self.0.partition_point(|(place, _)| *place < at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_lies_in_a_bar() {
        let line =
            Timeline::of([(4, 'c'), (0, 'a'), (8, 'e'), (4, 'd')].map(|(at, c)| (Moment(at), c)).into_iter());
        let within =
            |from, to| line.within(Moment(from), Moment(to)).iter().map(|(_, c)| *c).collect::<String>();
        assert_eq!((within(0, 4), within(4, 8), within(5, 9)), ("a".into(), "cd".into(), "e".into()));
        assert_eq!((within(9, 99), within(8, 4)), (String::new(), String::new()));
        assert_eq!(
            (line.before(Moment(8)), line.before(Moment(0)), line.count(Moment(5))),
            (Some(&'d'), None, 3)
        );
    }
}
