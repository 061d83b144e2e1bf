//! The chord reader: from keys going down and up to a chord in force.
//!
//! A chord commits as soon as the keys struck together make one of three classes or more, at the latest
//! [`GATHER_MS`] after the first of them. Keys that follow within [`ROLL_MS`] refine it. Keys of the chord
//! before that are still down (overlapping hands) count only while the new keys alone make no chord, and are
//! dropped when they come up. One key alone under a chord that stands moves its bass.
//!
//! All times here are frames; naming itself is `figwort_theory::identify`.

use figwort_theory::identify::{Context, identify};
use figwort_theory::{Chord, Key, Pitch};

use super::held::{HeldNotes, Keys};

/// Longest wait for a chord's keys, in milliseconds from the first one.
pub const GATHER_MS: u32 = 35;
/// How long after its commitment a chord is still refined by further keys, in milliseconds.
pub const ROLL_MS: u32 = 400;
/// A key let go this soon was a slip, in milliseconds.
pub const SLIP_MS: u32 = 80;

/// What an event meant for the harmony.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Heard {
    /// Nothing new.
    Nothing,
    /// A chord to be struck.
    New,
    /// The chord in force is better known now, or has a note more; nothing is to be struck twice.
    Refined,
    /// The hand let go and the chord is over.
    Ended,
}

/// Lengths of the reader's windows in frames.
#[derive(Clone, Copy, Debug)]
pub struct Windows {
    /// See [`GATHER_MS`].
    pub gather: u64,
    /// See [`ROLL_MS`].
    pub roll: u64,
    /// See [`SLIP_MS`].
    pub slip: u64,
}

/// Reads the chord hand.
#[derive(Clone, Debug)]
pub struct ChordReader {
    windows: Windows,
    held: HeldNotes,
    /// Keys struck since the window opened, and when it opened.
    fresh: Keys,
    opened: Option<u64>,
    /// The keys that the chord in force was read from, and when.
    grip: Keys,
    committed: u64,
    /// Of those, the ones struck for this chord.
    struck: Keys,
    pressed: [u64; 128],
    last_press: u64,
    /// When the last key of the hand came up.
    lifted: Option<u64>,
    chord: Option<Chord>,
}

impl ChordReader {
    /// A reader that has heard nothing.
    pub fn new(windows: Windows) -> Self {
        Self {
            windows,
            held: HeldNotes::default(),
            fresh: Keys::NONE,
            opened: None,
            grip: Keys::NONE,
            committed: 0,
            struck: Keys::NONE,
            pressed: [0; 128],
            last_press: 0,
            lifted: None,
            chord: None,
        }
    }

    /// The chord in force.
    pub fn chord(&self) -> Option<Chord> {
        self.chord
    }

    /// The keys that it was read from.
    pub fn grip(&self) -> Keys {
        self.grip
    }

    /// When the hand was lifted, if no key is down.
    pub fn lifted(&self) -> Option<u64> {
        if self.held.down().is_empty() { self.lifted } else { None }
    }

    /// When the reader wants to be asked again: the end of the gathering window.
    pub fn deadline(&self) -> Option<u64> {
        self.opened.map(|opened| opened + self.windows.gather)
    }

    /// Forgets the chord; keys that are down stay known.
    pub fn forget(&mut self) {
        self.chord = None;
        self.opened = None;
        self.fresh = Keys::NONE;
        self.held.drop_pedalled();
    }

    /// Forgets the chord and every key.
    pub fn clear(&mut self) {
        *self = Self::new(self.windows);
    }

    /// Reads again what is down now, for a new start of time. Returns whether there is a chord.
    pub fn reread(&mut self, frame: u64, key: Key) -> bool {
        self.opened = None;
        self.fresh = Keys::NONE;
        let down = self.held.all();
        if !down.is_empty() {
            self.commit(frame, down, down, key);
        }
        self.chord.is_some()
    }

    /// A key of the chord hand goes down.
    pub fn press(&mut self, frame: u64, pitch: Pitch, key: Key) -> Heard {
        let hand_was_up = self.held.down().is_empty();
        if hand_was_up && frame > self.last_press + self.windows.roll {
            self.held.drop_pedalled();
        }
        self.held.press(pitch);
        self.pressed[pitch.index()] = frame;
        self.last_press = frame;
        if self.opened.is_none() {
            let rolling = self.chord.is_some()
                && frame <= self.committed + self.windows.roll
                && self.grip.iter().filter(|p| self.held.all().contains(*p)).count() * 2
                    >= self.grip.len() as usize;
            if rolling {
                self.struck.insert(pitch);
                self.grip.insert(pitch);
                return self.reread_grip(key);
            }
            self.opened = Some(frame);
            self.fresh = Keys::NONE;
        }
        self.fresh.insert(pitch);
        if self.fresh.classes().len() >= 3 && self.name(self.fresh, key).is_some() {
            return self.commit(frame, self.fresh, self.fresh, key);
        }
        Heard::Nothing
    }

    /// A key of the chord hand comes up.
    pub fn release(&mut self, frame: u64, pitch: Pitch, latch: bool, key: Key) -> Heard {
        self.held.release(pitch);
        if self.opened.is_some() {
            // A slip, or a very short chord; the window's end decides with what was struck, if all is up.
            if !self.held.down().is_empty() {
                self.fresh.remove(pitch);
                if self.fresh.is_empty() {
                    self.opened = None;
                }
            }
        }
        if self.held.down().is_empty() {
            self.lifted = Some(frame);
        }
        if self.held.all().is_empty() {
            if !latch && self.opened.is_none() && self.chord.is_some() {
                self.chord = None;
                return Heard::Ended;
            }
            return Heard::Nothing;
        }
        let slip = frame <= self.pressed[pitch.index()] + self.windows.slip;
        let leftover = !self.struck.contains(pitch) && frame <= self.committed + self.windows.roll;
        if self.opened.is_none() && self.grip.contains(pitch) && (slip || leftover) && self.grip.len() > 2 {
            self.grip.remove(pitch);
            return self.reread_grip(key);
        }
        Heard::Nothing
    }

    /// The sustain pedal of the chord hand.
    pub fn pedal(&mut self, frame: u64, down: bool, latch: bool) -> Heard {
        let held_before = !self.held.all().is_empty();
        self.held.set_pedal(down);
        if held_before && self.held.all().is_empty() && !latch && self.chord.is_some() {
            self.lifted = Some(frame);
            self.chord = None;
            return Heard::Ended;
        }
        Heard::Nothing
    }

    /// The gathering window is over.
    pub fn expire(&mut self, frame: u64, latch: bool, key: Key) -> Heard {
        if self.deadline().is_none_or(|deadline| frame < deadline) {
            return Heard::Nothing;
        }
        let fresh = self.fresh;
        let alone = fresh.len() == 1 && self.held.down().bits() & !fresh.bits() == 0;
        let heard = if alone
            && let (Some(chord), Some(pitch)) = (self.chord, fresh.lowest())
            && latch
        {
            // One key under a chord that stands: its bass moves.
            self.opened = None;
            self.grip = fresh;
            self.struck = fresh;
            self.committed = frame;
            let moved = chord.over(pitch.class());
            self.chord = Some(moved);
            if moved == chord { Heard::Nothing } else { Heard::New }
        } else if fresh.classes().len() >= 3 {
            self.commit(frame, fresh, fresh, key)
        } else {
            self.commit(frame, fresh.union(self.held.all()), fresh, key)
        };
        if heard == Heard::Nothing {
            self.opened = None;
        }
        if self.held.all().is_empty() && !latch && self.chord.is_some() {
            self.chord = None;
            return Heard::Ended;
        }
        heard
    }

    fn name(&self, keys: Keys, key: Key) -> Option<Chord> {
        let context = Context { key: Some(key), previous: self.chord };
        identify(keys.classes(), keys.lowest()?.class(), &context)
    }

    fn commit(&mut self, frame: u64, keys: Keys, struck: Keys, key: Key) -> Heard {
        self.opened = None;
        self.fresh = Keys::NONE;
        let Some(chord) = self.name(keys, key) else { return Heard::Nothing };
        self.grip = keys;
        self.struck = struck;
        self.committed = frame;
        self.chord = Some(chord);
        Heard::New
    }

    fn reread_grip(&mut self, key: Key) -> Heard {
        let before = self.chord;
        if let Some(chord) = self.name(self.grip, key) {
            self.chord = Some(chord);
        }
        if self.chord == before { Heard::Nothing } else { Heard::Refined }
    }
}
