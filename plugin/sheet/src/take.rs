//! Takes: recorded performances, every event at its exact moment.
//!
//! Times are scaled from the file's ticks to 1/20160 quarter; nothing is quantised. Deliberately absent:
//! telling melody from chords (that is the engine's reading) and any repair of notes.

use figwort_theory::{Key, Metre, Moment, Pitch, Velocity};

use crate::smf::file::{self, RawNote};
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

/// Reads a take from the bytes of a Standard MIDI File of type 0 or 1.
///
/// Every note-on of the take has exactly one note-off after it: notes without one end with their track, notes
/// of no length and note-offs without a note are left out, each with a warning. The same key may sound twice at
/// a time where it did so in the file. Tracks are merged and keep their channels. A take without notes is no fault
/// here; whether there is enough to play by is the caller's to say.
///
/// # Errors
/// [`SheetError`] where the bytes are no such file, count time in SMPTE frames, or exceed a limit.
pub fn read(bytes: &[u8]) -> Result<Take, SheetError> {
    let file = file::read(bytes)?;
    let mut events = Vec::with_capacity(file.notes.len() * 2 + file.pedals.len());
    for note in &file.notes {
        let RawNote { at, end, channel, pitch, velocity, .. } = *note;
        events.push(TakeEvent { at, channel, message: TakeMessage::NoteOn { pitch, velocity } });
        events.push(TakeEvent { at: end, channel, message: TakeMessage::NoteOff { pitch } });
    }
    for (at, channel, down) in &file.pedals {
        events.push(TakeEvent { at: *at, channel: *channel, message: TakeMessage::Sustain(*down) });
    }
    events.sort_by_key(|event| {
        let rank = match event.message {
            TakeMessage::NoteOff { .. } => 0,
            TakeMessage::Sustain(_) => 1,
            TakeMessage::NoteOn { .. } => 2,
        };
        (event.at, rank)
    });
    Ok(Take {
        events,
        tempos: file.tempos,
        metres: file.metres,
        key: file.keys.first().map(|(_, key)| *key),
        end: file.end,
        warnings: file.warnings.into_list(),
    })
}

#[cfg(test)]
mod tests;
