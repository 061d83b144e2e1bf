//! The player's habit of changing chords with the bar: whether the old chord is worth striking on a bar line
//! that a late hand may be about to give a new one.

use figwort_theory::Moment;

/// Bar lines remembered.
const MEMORY: u32 = 4;

/// What happened at the last few bar lines.
#[derive(Clone, Copy, Debug, Default)]
pub struct Habit {
    /// One bit a bar line, the latest lowest: whether the chord changed there.
    history: u8,
    /// The last two bar lines that had a change.
    changed: [Option<Moment>; 2],
}

impl Habit {
    /// A chord was struck that belongs to the bar line at `line`.
    pub fn change(&mut self, line: Moment) {
        if self.changed[1] != Some(line) {
            self.changed = [self.changed[1], Some(line)];
        }
    }

    /// The bar that began at `line` is over.
    pub fn pass(&mut self, line: Moment) {
        self.history = self.history << 1 | u8::from(self.changed.contains(&Some(line)));
    }

    /// Whether a change with the bar is to be expected: at least every other of the last few had one.
    pub fn expects_change(&self) -> bool {
        (self.history & ((1 << MEMORY) - 1)).count_ones() * 2 >= MEMORY
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_other_bar_makes_a_habit() {
        let mut habit = Habit::default();
        assert!(!habit.expects_change());
        for bar in 0..4 {
            if bar % 2 == 0 {
                habit.change(Moment(bar));
            }
            // The change of the next bar may come early, before this one is counted.
            habit.pass(Moment(bar));
        }
        assert!(habit.expects_change());
        for bar in 4..8 {
            habit.pass(Moment(bar));
        }
        assert!(!habit.expects_change());
    }
}
