//! Keys that are played in the window: two rows of the computer's keys, and the page's keyboard under the mouse.
//!
//! Every key comes up in the hand in which it went down, whatever has been set meanwhile. Deliberately absent: which hand
//! a key of the page's keyboard lies under.

use egui::{Key, Ui};
use figwort_theory::{Pitch, Velocity};

use crate::session::{Row, Session};

/// How hard the computer's keys strike.
const KEY_VELOCITY: i32 = 84;

/// What is down.
#[derive(Debug, Default)]
pub(super) struct Hands {
    /// The computer's keys, with what each plays.
    pressed: Vec<(Key, Row, Pitch)>,
    /// Keys of the page's keyboard.
    struck: Vec<(Row, Pitch)>,
}

impl Hands {
    /// A key of the page's keyboard goes down in a hand, or comes up where there is no velocity.
    pub(super) fn strike(&mut self, session: &Session, row: Row, pitch: Pitch, velocity: Option<Velocity>) {
        if let Some(index) = self.struck.iter().position(|struck| struck.1 == pitch) {
            let (row, _) = self.struck.swap_remove(index);
            session.key(row, pitch, None);
        }
        if velocity.is_some() {
            self.struck.push((row, pitch));
            session.key(row, pitch, velocity);
        }
    }

    /// Two rows of the computer's keys: chords below, melody above.
    pub(super) fn computer_keys(&mut self, session: &Session, ui: &Ui) {
        if ui.ctx().text_edit_focused() || !ui.input(|i| i.focused) {
            self.lift_computer_keys(session);
            return;
        }
        let events = ui.input(|i| i.events.clone());
        for event in events {
            let egui::Event::Key { key, physical_key, pressed, repeat, modifiers } = event else { continue };
            // Where the key lies matters, not what is printed on it.
            let key = physical_key.unwrap_or(key);
            if !pressed {
                if let Some(index) = self.pressed.iter().position(|held| held.0 == key) {
                    let (_, row, pitch) = self.pressed.swap_remove(index);
                    session.key(row, pitch, None);
                }
            } else if !repeat
                && !modifiers.command
                && !modifiers.alt
                && let Some((row, pitch)) = note_of(key)
                && !self.pressed.iter().any(|held| held.0 == key)
            {
                self.pressed.push((key, row, pitch));
                session.key(row, pitch, Some(Velocity::new(KEY_VELOCITY)));
            }
        }
    }

    fn lift_computer_keys(&mut self, session: &Session) {
        for (_, row, pitch) in self.pressed.drain(..) {
            session.key(row, pitch, None);
        }
    }

    /// Lifts everything.
    pub(super) fn let_go(&mut self, session: &Session) {
        self.lift_computer_keys(session);
        for (row, pitch) in self.struck.drain(..) {
            session.key(row, pitch, None);
        }
    }
}

/// What a computer key plays: the lower rows chords from C3, the upper rows the melody from C5.
fn note_of(key: Key) -> Option<(Row, Pitch)> {
    use Key::{
        B, C, Comma, D, E, G, H, I, J, L, M, N, Num0, Num2, Num3, Num5, Num6, Num7, Num9, O, P, Period, Q, R,
        S, Semicolon, Slash, T, U, V, W, X, Y, Z,
    };
    const CHORDS: [Key; 17] = [Z, S, X, D, C, V, G, B, H, N, J, M, Comma, L, Period, Semicolon, Slash];
    const MELODY: [Key; 17] = [Q, Num2, W, Num3, E, R, Num5, T, Num6, Y, Num7, U, I, Num9, O, Num0, P];
    let find = |keys: &[Key; 17]| keys.iter().position(|k| *k == key).map(|index| index as u8);
    find(&CHORDS)
        .map(|index| (Row::Chords, Pitch::new(48 + index)))
        .or_else(|| find(&MELODY).map(|index| (Row::Melody, Pitch::new(72 + index))))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As on a piano: the letters' row has the white keys.
    #[test]
    fn computer_keys_lie_like_piano_keys() {
        let pitch = |key| note_of(key).map(|(row, pitch)| (row, pitch.to_string()));
        assert_eq!(pitch(Key::Z), Some((Row::Chords, "C3".into())));
        assert_eq!(pitch(Key::S), Some((Row::Chords, "C#3".into())));
        assert_eq!(pitch(Key::M), Some((Row::Chords, "B3".into())));
        assert_eq!(pitch(Key::Q), Some((Row::Melody, "C5".into())));
        assert_eq!(pitch(Key::U), Some((Row::Melody, "B5".into())));
        assert_eq!(pitch(Key::P), Some((Row::Melody, "E6".into())));
        assert_eq!(pitch(Key::A), None);
    }
}
