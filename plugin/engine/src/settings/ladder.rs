//! The ladder between its rungs: which bars and which events have already climbed to the next one.
//!
//! Elaboration is continuous, rungs are not. So every place has a threshold of its own, 0 to 1, and has
//! climbed once the fraction of the elaboration passes it: what was elaborated stays so, and each step of the
//! control adds some more. Thresholds of neighbouring bars are spread evenly (multiples of the golden ratio,
//! the rotation whose gaps stay most alike however many bars there are: the three-gap theorem), not drawn one
//! by one, so that a step of 0.1 adds about a tenth of any stretch of bars and never a run of them. They depend
//! on nothing but seed, bar and slot.

use super::{Rung, Settings};

/// 2³² divided by the golden ratio.
const GOLDEN: u32 = 0x9e37_79b9;

/// Slots of the ladder's own thresholds; those of ornaments follow after.
const RUNG_SLOT: u32 = 0;
const BUDGET_SLOT: u32 = 0x8000_0003;

/// A place's threshold, as a share of 2³².
pub(crate) fn threshold(seed: u32, bar: i64, slot: u32) -> u32 {
    (bar as u32).wrapping_mul(GOLDEN).wrapping_add(hash(seed, slot))
}

/// A draw that depends on nothing but its arguments: the finaliser of SplitMix64.
pub(crate) fn hash(seed: u32, slot: u32) -> u32 {
    let mut x = (u64::from(seed) << 32 | u64::from(slot)).wrapping_add(0x9e37_79b9_7f4a_7c15);
    x = (x ^ x >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    x = (x ^ x >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
    ((x ^ x >> 31) >> 32) as u32
}

/// Whether a threshold lies below a share, 0 to 1; none below 0, all below 1.
pub(crate) fn below(threshold: u32, share: f32) -> bool {
    f64::from(threshold) < f64::from(share) * 4_294_967_296.0
}

impl Settings {
    /// The rung of a bar: the one that elaboration has reached, or the next for the bars that have climbed
    /// already. At a whole number it is that rung for all.
    pub fn rung_at(&self, bar: i64) -> Rung {
        let whole = (self.elaboration as usize).min(4);
        let climbed = below(threshold(self.seed, bar, RUNG_SLOT), self.elaboration - whole as f32);
        Rung::ALL.get(whole + usize::from(climbed)).copied().unwrap_or(Rung::Ornate)
    }

    /// The budget of motion: onsets per quarter note that melody and figure may make together. It grows with
    /// elaboration: four fifths of the manner's at Shared, all of it at Flowing, 1.3 times at Ornate.
    pub fn budget(&self) -> f32 {
        let above = self.elaboration - 3.0;
        let share = if above < 0.0 { 1.0 + 0.2 * above } else { 1.0 + 0.3 * above };
        f32::from(self.manner.motion) / 10.0 * share.max(0.2)
    }

    /// How much of the manner's accents and phrasing is used: 0.4 at Plain, all at Flowing, 1.2 at Ornate.
    pub fn expression(&self) -> f32 {
        0.4 + 0.2 * self.elaboration
    }

    /// What a bar has of the budget: all of it, or up to a tenth less, so that not all bars come by a busier
    /// figure at one point of the control.
    pub fn budget_at(&self, bar: i64) -> f32 {
        let share = threshold(self.seed, bar, BUDGET_SLOT) as f32 / u32::MAX as f32;
        self.budget() * (1.0 - 0.1 * share)
    }

    /// Whether an ornament (anything that belongs to the rung Ornate) is played at a place. None at 3 and
    /// below, all at 4; between, those whose place has climbed. `slot` tells the ornaments of a bar apart:
    /// give each kind and each beat its own.
    pub fn ornament(&self, bar: i64, slot: u32) -> bool {
        below(threshold(self.seed, bar, slot.wrapping_add(1)), self.elaboration - 3.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(elaboration: f32, seed: u32) -> Settings {
        Settings { elaboration, seed, ..Settings::default() }
    }

    #[test]
    fn whole_numbers_are_rungs() {
        for (n, rung) in Rung::ALL.into_iter().enumerate() {
            assert!((-4..200).all(|bar| at(n as f32, 7).rung_at(bar) == rung));
        }
        assert!((0..200).all(|bar| !at(3.0, 7).ornament(bar, 3) && at(4.0, 7).ornament(bar, 3)));
    }

    /// What was elaborated stays; each tenth adds a bar or more of any sixteen, and not more than five.
    #[test]
    fn each_step_adds_and_takes_nothing_away() {
        for seed in 1..200 {
            for first in [0, 5, 1_000] {
                for tenth in 0..40 {
                    let [low, high] = [tenth, tenth + 1].map(|n| at(n as f32 / 10.0, seed));
                    let bars = first..first + 16;
                    assert!(bars.clone().all(|bar| low.rung_at(bar) <= high.rung_at(bar)));
                    let risen = bars.clone().filter(|bar| low.rung_at(*bar) < high.rung_at(*bar)).count();
                    assert!((1..=5).contains(&risen), "seed {seed}, {tenth}/10: {risen} of 16 bars");
                    assert!(bars.clone().all(|bar| !low.ornament(bar, 9) || high.ornament(bar, 9)));
                }
            }
        }
    }
}
