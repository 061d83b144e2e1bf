//! Takes: recorded performances, every event at its exact moment.
//!
//! Times are scaled from the file's ticks to 1/20160 quarter; nothing is quantised. Deliberately absent:
//! telling melody from chords (that is the engine's reading) and any repair of notes.

use figwort_theory::{Key, Metre, Moment, Pitch, Velocity};

use crate::{SheetError, TempoChange, Warning};

/// A recorded performance.
#[derive(Clone, Debug, PartialEq)]
pub struct Take {
    /// Events in order of time; where times are equal, note-offs come first, then pedals, then note-ons.
    pub events: Vec<TakeEvent>,
    /// Tempo changes: at least one, the first at zero.
    pub tempos: Vec<TempoChange>,
    /// Metres: at least one, the first at zero (4/4 where the file states none).
    pub metres: Vec<MetreChange>,
    /// The first key signature, where the file has one.
    pub key: Option<Key>,
    /// The latest moment in the file: its last event or end of track.
    pub end: Moment,
    /// What was read with a doubt.
    pub warnings: Vec<Warning>,
}

/// A metre from a moment on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MetreChange {
    /// From when.
    pub at: Moment,
    /// The metre.
    pub metre: Metre,
}

/// Something played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TakeEvent {
    /// When.
    pub at: Moment,
    /// MIDI channel, 0 to 15.
    pub channel: u8,
    /// What.
    pub message: TakeMessage,
}

/// What a player does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum TakeMessage {
    /// A key goes down.
    NoteOn {
        /// The key.
        pitch: Pitch,
        /// How hard.
        velocity: Velocity,
    },
    /// A key comes up.
    NoteOff {
        /// The key.
        pitch: Pitch,
    },
    /// The sustain pedal (controller 64): down from value 64 on.
    Sustain(bool),
}

/// Reads a take from the bytes of a Standard MIDI File.
///
/// # Errors
/// [`SheetError`] where the bytes are no Standard MIDI File, are cut off, count time in SMPTE frames, or
/// exceed a limit.
pub fn read(bytes: &[u8]) -> Result<Take, SheetError> {
    crate::limits::check_size(bytes)?;
    Err(SheetError::Midi { what: "takes are not read yet".into(), hint: "wait for the reader" })
}
