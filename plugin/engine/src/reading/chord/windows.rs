//! How long the chord reader waits for what.

/// Longest wait for a chord's keys, in milliseconds from the first one.
pub const GATHER_MS: u32 = 35;
/// How long after its commitment a chord is still refined by further keys, in milliseconds.
pub const ROLL_MS: u32 = 400;
/// A key let go this soon was a slip, in milliseconds.
pub const SLIP_MS: u32 = 80;
/// The longest time from key to key of a rolled chord, in milliseconds.
pub const GAP_MS: u32 = 220;
/// A key of the chord before that is still down so long after a new chord belongs to both, in milliseconds.
pub const KEPT_MS: u32 = 100;

/// Lengths of the reader's windows in frames.
#[derive(Clone, Copy, Debug)]
pub struct Windows {
    /// See [`GATHER_MS`].
    pub gather: u64,
    /// See [`ROLL_MS`].
    pub roll: u64,
    /// See [`SLIP_MS`].
    pub slip: u64,
    /// See [`GAP_MS`].
    pub gap: u64,
    /// See [`KEPT_MS`].
    pub kept: u64,
}
