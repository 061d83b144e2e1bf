//! The audition piano.

/// A struck-string piano for auditioning. Allocates only in [`Piano::new`].
#[derive(Clone, Debug)]
pub struct Piano {
    gain: f32,
}

impl Piano {
    /// A piano at rest.
    pub fn new(_sample_rate: f32) -> Self {
        Self { gain: 1.0 }
    }
    /// A key goes down: `key` 21 to 108 is the piano's range, `velocity` 1 to 127 (0 is a note-off).
    pub fn note_on(&mut self, _key: u8, _velocity: u8) {}
    /// A key comes up.
    pub fn note_off(&mut self, _key: u8) {}
    /// The sustain pedal goes down or up.
    pub fn pedal(&mut self, _down: bool) {}
    /// Every key and the pedal come up; strings are damped.
    pub fn all_off(&mut self) {}
    /// Loudness against the quiet default, 0 to 8 as a factor.
    pub fn set_gain(&mut self, gain: f32) {
        self.gain = gain;
    }
    /// Adds the next frames to two channels; the shorter one counts.
    pub fn add_to(&mut self, _left: &mut [f32], _right: &mut [f32]) {}
    /// Whether nothing sounds.
    pub fn is_silent(&self) -> bool {
        true
    }
}
