//! Keys that are played in the window or come from a port of our own, as input to the engine.
//!
//! The row says which hand a key belongs to, so it is sent where the present input setting looks for that
//! hand: on its channel, or moved by octaves to its side of the split key.
//!
//! # Real time
//! No allocation, no lock.

use figwort_engine::Source;
use figwort_theory::{Pitch, Velocity};

use crate::process::Inlet;
use crate::session::{Incoming, PlayedKey, Row, Session};

/// What every key of both rows was sent as, so that it comes up as it went down.
#[derive(Debug)]
pub(crate) struct Rows {
    sent: [[Option<(u8, Pitch)>; 128]; 2],
}

impl Rows {
    pub(crate) fn new() -> Self {
        Self { sent: [[None; 128]; 2] }
    }

    /// Forgets what is held.
    pub(crate) fn reset(&mut self) {
        self.sent = [[None; 128]; 2];
    }

    /// Takes what was played since the last block.
    pub(crate) fn play(&mut self, session: &Session, inlet: &mut Inlet, source: Source) {
        while inlet.has_room() {
            match session.incoming.pop() {
                Some(Incoming::Key(key)) => self.key(key, inlet, source),
                Some(Incoming::Port(channel, message)) => inlet.port(channel, message),
                None => break,
            }
        }
    }

    fn key(&mut self, key: PlayedKey, inlet: &mut Inlet, source: Source) {
        let sent = &mut self.sent[usize::from(key.row == Row::Melody)][key.pitch.index()];
        if let Some((channel, pitch)) = sent.take() {
            // Also when a key goes down that was down: its end was lost.
            inlet.key(0, channel, pitch, None);
        }
        if let Some(velocity) = key.velocity {
            let (channel, pitch) = place(key.row, key.pitch, source);
            *sent = Some((channel, pitch));
            inlet.key(0, channel, pitch, Some(Velocity::new(i32::from(velocity.value()))));
        }
    }
}

/// Channel and pitch by which a key is heard as its row's.
fn place(row: Row, pitch: Pitch, source: Source) -> (u8, Pitch) {
    match (source, row) {
        (Source::Channels { melody, .. }, Row::Melody) => (melody, pitch),
        (Source::Channels { harmony, .. }, Row::Chords) => (harmony, pitch),
        (Source::Split(split), row) => {
            let octaves = |key: i32| Pitch::from_i32(key);
            let mut key = i32::from(pitch.key());
            let split = i32::from(split.key());
            match row {
                Row::Chords if key >= split => key -= (key - split) / 12 * 12 + 12,
                Row::Melody if key < split => key += (split - key + 11) / 12 * 12,
                _ => {}
            }
            (0, octaves(key).unwrap_or(pitch))
        }
        _ => (0, pitch),
    }
}

#[cfg(test)]
mod tests {
    use figwort_engine::{InputEvent, InputMessage};

    use super::*;

    #[test]
    fn each_row_stays_on_its_side_of_the_split() {
        for split in 0..=127u8 {
            for key in 0..=127u8 {
                let side = |row| place(row, Pitch::new(key), Source::Split(Pitch::new(split))).1.key();
                // At the ends of the keyboard there may be no octave left to move by.
                if split >= 12 && key < 116 {
                    assert!(side(Row::Chords) < split, "{key} at {split}");
                }
                if split <= 116 {
                    assert!(side(Row::Melody) >= split, "{key} at {split}");
                }
                assert_eq!(side(Row::Chords) % 12, key % 12);
            }
        }
        let c4 = Pitch::C4;
        assert_eq!(place(Row::Chords, c4, Source::Split(c4)).1.key(), 48);
        assert_eq!(place(Row::Melody, c4, Source::Split(c4)).1.key(), 60);
    }

    /// Other settings while a key is down do not leave it hanging.
    #[test]
    fn a_key_comes_up_as_it_went_down() {
        let session = Session::new();
        let (mut rows, mut inlet) = (Rows::new(), Inlet::new());
        session.key(Row::Chords, Pitch::C4, Some(Velocity::new(80)));
        rows.play(&session, &mut inlet, Source::Channels { melody: 0, harmony: 5 });
        session.key(Row::Chords, Pitch::C4, None);
        session.key(Row::Melody, Pitch::C4, None);
        rows.play(&session, &mut inlet, Source::Split(Pitch::C4));
        let down = InputMessage::NoteOn { pitch: Pitch::C4, velocity: Velocity::new(80) };
        let up = InputMessage::NoteOff { pitch: Pitch::C4 };
        let event = |message| InputEvent { offset: 0, channel: 5, message };
        assert_eq!(inlet.events(), [event(down), event(up)]);
    }
}
