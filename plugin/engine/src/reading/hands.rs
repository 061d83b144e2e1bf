//! Which hand a key belongs to, when nothing says so: a split that follows the hands.
//!
//! The split lies between the top of the chord hand and the melody, wherever they are, and each key is
//! decided when it goes down, never later. It leans on what hands can do: neither stretches over `REACH`;
//! while the chord hand is striking, a key under a melody that is held is more likely one of the chord's; and
//! when the chord hand holds its chord, a single key is more likely melody. Several keys struck at once above
//! the split show that the chord hand is there.
//!
//! It tells two hands apart, not voices: what the melody hand plays under its top note is melody too. Times
//! are frames, places are semitones.

use figwort_theory::Pitch;

use super::held::Keys;

/// Beyond the stretch of one hand, in semitones: an octave and a half, so that a hand that still holds its
/// last chord by a finger may begin the next. Chosen by simulation.
const REACH: i32 = 18;
/// Where the split is before anything was heard: C4, and the top of the chord and the melody around it.
const TOP: i32 = 55;
const LINE: i32 = 67;
/// The split's place between the chord's top and the melody, in hundredths: usually; while the chord hand is
/// striking under a held melody; while it holds its chord. Chosen by simulation.
const USUAL: i32 = 65;
const STRIKING: i32 = 75;
const HOLDING: i32 = 55;

/// Where the hands are.
#[derive(Clone, Copy, Debug)]
pub struct HandsReader {
    low: Keys,
    high: Keys,
    /// The chord struck last: its top, when it began, and the top of the one before.
    top: i32,
    began: u64,
    before: i32,
    /// The melody's last key, and the keys struck together with it.
    line: i32,
    together: Keys,
    line_began: u64,
    /// Keys this close belong to one chord, in frames.
    gather: u64,
}

impl HandsReader {
    /// Knows nothing yet. `gather` is the spread of a chord in frames.
    pub fn new(gather: u64) -> Self {
        Self {
            low: Keys::NONE,
            high: Keys::NONE,
            top: TOP,
            began: 0,
            before: TOP,
            line: LINE,
            together: Keys::NONE,
            line_began: 0,
            gather,
        }
    }

    /// Forgets the past and every key.
    pub fn clear(&mut self) {
        *self = Self::new(self.gather);
    }

    /// Forgets the past; the hands stay where they are.
    pub fn restart(&mut self) {
        let (low, high) = (self.low, self.high);
        *self = Self::new(self.gather);
        (self.low, self.high) = (low, high);
        self.top = low.highest().map_or(TOP, key);
        self.before = self.top;
        self.line = high.highest().map_or(LINE.max(self.top + 12), key);
    }

    /// A key goes down. Returns whether it is the melody hand's.
    pub fn press(&mut self, frame: u64, pitch: Pitch) -> bool {
        let melody = self.is_melody(frame, key(pitch));
        if melody {
            self.press_high(frame, pitch);
        } else {
            self.press_low(frame, pitch);
        }
        melody
    }

    /// A key comes up.
    pub fn release(&mut self, pitch: Pitch) {
        self.low.remove(pitch);
        self.high.remove(pitch);
    }

    fn is_melody(&self, frame: u64, place: i32) -> bool {
        let above_chord = self.low.lowest().is_some_and(|lowest| place - key(lowest) > REACH);
        let below_melody = self.high.highest().is_some_and(|highest| key(highest) - place > REACH);
        if above_chord != below_melody {
            return above_chord;
        }
        let striking = frame <= self.began + self.gather;
        // A chord that has just begun will probably reach as high as the one before.
        let top = if striking { self.top.max(self.before - 5) } else { self.top };
        let share = if striking && !self.high.is_empty() {
            STRIKING
        } else if self.low.len() >= 3 && !striking {
            HOLDING
        } else {
            USUAL
        };
        let split = top * 100 + (self.line - top).max(2) * share;
        place * 100 > split
    }

    fn press_low(&mut self, frame: u64, pitch: Pitch) {
        self.low.insert(pitch);
        if frame <= self.began + self.gather {
            self.top = self.top.max(key(pitch));
        } else {
            self.before = self.top;
            self.top = key(pitch);
            self.began = frame;
        }
    }

    fn press_high(&mut self, frame: u64, pitch: Pitch) {
        self.high.insert(pitch);
        if frame > self.line_began + self.gather {
            self.together = Keys::NONE;
            self.line_began = frame;
        }
        self.together.insert(pitch);
        let highest = self.together.highest().map_or(self.line, key);
        self.line = highest;
        if self.together.len() >= 3 {
            // Three at once are a chord, or a chord and the melody over it: the chord hand is up here.
            let mut rest = self.together;
            if let Some(top) = rest.highest() {
                rest.remove(top);
            }
            self.top = rest.highest().map_or(self.top, key);
            self.before = self.top;
            self.line = self.line.max(self.top + 3);
        }
    }
}

fn key(pitch: Pitch) -> i32 {
    i32::from(pitch.key())
}

#[cfg(test)]
mod tests {
    use super::*;

    const GATHER: u64 = 100;

    fn reader() -> HandsReader {
        HandsReader::new(GATHER)
    }

    /// Presses keys at the same time and lifts them; which were taken for melody.
    fn strike(reader: &mut HandsReader, frame: u64, keys: &[u8]) -> Vec<u8> {
        let melody = keys.iter().copied().filter(|k| reader.press(frame, Pitch::new(*k))).collect();
        keys.iter().for_each(|k| reader.release(Pitch::new(*k)));
        melody
    }

    extern crate std;
    use std::vec::Vec;

    #[test]
    fn the_split_goes_up_with_both_hands() {
        let mut reader = reader();
        assert_eq!(strike(&mut reader, 0, &[48, 52, 55, 72]), [72]);
        assert_eq!(strike(&mut reader, 1_000, &[84]), [84]);
        assert_eq!(strike(&mut reader, 2_000, &[60, 64, 67]), []);
        assert_eq!(strike(&mut reader, 3_000, &[81]), [81]);
    }

    #[test]
    fn a_hand_that_holds_a_chord_cant_reach_the_tenth_above() {
        let mut reader = reader();
        for key in [36, 40, 43] {
            assert!(!reader.press(0, Pitch::new(key)));
        }
        assert!(reader.press(1_000, Pitch::new(55)));
    }

    #[test]
    fn chords_above_the_first_split_are_found_out() {
        let mut reader = reader();
        strike(&mut reader, 0, &[62, 66, 69, 81]);
        assert_eq!(strike(&mut reader, 1_000, &[62, 67, 71]), []);
    }
}
