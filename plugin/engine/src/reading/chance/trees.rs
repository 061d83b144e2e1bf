//! The weights: trees whose every level asks whether one cue is over a value.

use super::cues::CUES;

/// Questions that each tree asks.
pub const DEPTH: usize = 5;
/// Answers of each tree.
pub const LEAVES: usize = 1 << DEPTH;

/// A tree: the answers to its questions, as a binary number, choose a leaf.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tree {
    /// The cue that each question is about.
    pub cues: [u8; DEPTH],
    /// The value that it has to be over.
    pub over: [u8; DEPTH],
    /// What each leaf adds to the log-odds of 1.5 beats and of 2, in [`Prior::UNIT`].
    pub leaves: [[i8; 2]; LEAVES],
}

impl Tree {
    /// What it says of an onset.
    pub fn answer(&self, cues: &[u8; CUES]) -> [i8; 2] {
        let mut leaf = 0;
        for (level, (cue, over)) in self.cues.iter().zip(self.over).enumerate() {
            let value = cues.get(usize::from(*cue)).copied().unwrap_or_default();
            leaf |= usize::from(value > over) << level;
        }
        self.leaves[leaf % LEAVES]
    }
}

/// What is known before a tune begins.
#[derive(Clone, Copy, Debug)]
pub struct Prior {
    /// Log-odds of 1.5 beats and of 2 without any cue.
    pub base: [f32; 2],
    /// The trees.
    pub trees: &'static [Tree],
}

impl Prior {
    /// Log-odds that a leaf's number stands for.
    pub const UNIT: f32 = 1.0 / 256.0;

    /// Log-odds of 1.5 beats and of 2.
    pub fn weigh(&self, cues: &[u8; CUES]) -> [f32; 2] {
        let mut sums = [0_i32; 2];
        for tree in self.trees {
            let [half, two] = tree.answer(cues);
            sums[0] += i32::from(half);
            sums[1] += i32::from(two);
        }
        [self.base[0] + sums[0] as f32 * Self::UNIT, self.base[1] + sums[1] as f32 * Self::UNIT]
    }
}
