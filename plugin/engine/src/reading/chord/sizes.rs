//! How many keys the player's chords have: from it, whether a chord is complete.

/// How many keys the last chords had.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Sizes {
    last: [u8; 8],
    seen: usize,
}

impl Sizes {
    pub(super) fn add(&mut self, keys: u32) {
        self.last[self.seen % self.last.len()] = keys.min(10) as u8;
        self.seen += 1;
    }

    fn known(&self) -> &[u8] {
        self.last.get(..self.seen).unwrap_or(&self.last)
    }

    /// As many keys as all but one of the last chords had at least; three while too few are known.
    pub(super) fn usual(&self) -> u32 {
        let known = self.known();
        if known.len() < 4 {
            return 3;
        }
        let reached = |n: u8| known.iter().filter(|size| **size >= n).count() + 1 >= known.len();
        (2..=5).rev().find(|n| reached(*n)).map_or(2, u32::from)
    }

    /// Whether more keys than so many are quite possible: at least two of the last chords had more.
    pub(super) fn may_exceed(&self, keys: u32) -> bool {
        let known = self.known();
        known.len() < 4 || known.iter().filter(|size| u32::from(**size) > keys).count() >= 2
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_player_of_sevenths_is_waited_for() {
        let mut sizes = Sizes::default();
        assert_eq!((sizes.usual(), sizes.may_exceed(3)), (3, true));
        for _ in 0..8 {
            sizes.add(4);
        }
        assert_eq!((sizes.usual(), sizes.may_exceed(4)), (4, false));
        // One triad among them changes nothing; two do.
        sizes.add(3);
        assert_eq!(sizes.usual(), 4);
        sizes.add(3);
        assert_eq!((sizes.usual(), sizes.may_exceed(3)), (3, true));
    }
}
