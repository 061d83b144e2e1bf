//! Chance that comes out the same on every machine: SplitMix64 (Steele, Lea, Flood 2014).
#![allow(dead_code, unreachable_pub, reason = "each test program uses a part of it")]

/// A sequence of numbers that its seed decides.
#[derive(Clone, Debug)]
pub struct Dice(pub u64);

impl Dice {
    /// The next 64 bits.
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut x = self.0;
        x = (x ^ x >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        x = (x ^ x >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
        x ^ x >> 31
    }

    /// Even from 0 to below 1.
    pub fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }
}
