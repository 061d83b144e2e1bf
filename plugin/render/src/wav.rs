//! Performances as sound.

use crate::perform::Performance;

/// A 16-bit stereo WAV file at the performance's sample rate.
pub fn write(performance: &Performance) -> Vec<u8> {
    write_measured(performance).0
}

/// As [`write`], with how loud it came out.
pub fn write_measured(_performance: &Performance) -> (Vec<u8>, Loudness) {
    (Vec::new(), Loudness::default())
}

/// How loud a rendering came out.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Loudness {
    /// Highest absolute sample, 0 to 1.
    pub peak: f32,
    /// Length in seconds.
    pub seconds: f64,
}
