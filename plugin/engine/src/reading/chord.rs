//! The chord reader: from keys going down and up to a chord in force.
//!
//! - A chord commits as soon as the keys struck together make one of three classes or more and are as many as
//!   the player's chords usually have; at the latest [`GATHER_MS`] after the first of them.
//! - Keys that follow within [`ROLL_MS`], none later than [`GAP_MS`] after the one before, refine it.
//! - A key beside another one that spoils a plain chord is taken for a slip, and counts only when it is still
//!   down after [`SLIP_MS`].
//! - Keys of the chord before that are still down (overlapping hands) count only while the new keys alone
//!   make no chord, or when they are still down after [`KEPT_MS`].
//! - One key alone under a chord that stands moves its bass. Two keys of a slow roll wait for the third.
//!
//! All times here are frames; naming itself is `figwort_theory::identify`.

mod sizes;
mod windows;

use figwort_theory::identify::{Context, identify};
use figwort_theory::{Chord, Key, Pitch};

use super::held::{HeldNotes, Keys};
use sizes::Sizes;
pub use windows::{GAP_MS, GATHER_MS, KEPT_MS, ROLL_MS, SLIP_MS, Windows};

/// What an event meant for the harmony.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Heard {
    /// Nothing new.
    Nothing,
    /// A chord to be struck.
    New,
    /// The chord in force has another bass now; nothing but the bass is to be struck.
    Bass,
    /// The chord in force is better known now, or has a note more; nothing is to be struck twice.
    Refined,
    /// The hand let go and the chord is over.
    Ended,
}

/// Reads the chord hand.
#[derive(Clone, Debug)]
pub struct ChordReader {
    windows: Windows,
    held: HeldNotes,
    /// Keys struck since the window opened, when it opened and when it closes.
    fresh: Keys,
    opened: Option<u64>,
    closes: u64,
    /// The keys that the chord in force was read from, and when.
    grip: Keys,
    committed: u64,
    /// Of those, the ones struck for this chord.
    struck: Keys,
    pressed: [u64; 128],
    last_press: u64,
    /// Keys beside another one that spoil the chord: slips, unless they stay.
    suspects: Keys,
    /// Keys that came up as soon as a slip does, and when they are taken for slips if others stay down.
    slipped: Keys,
    slips_due: Option<u64>,
    /// When the keys that stay down, suspects among them, are to be counted in.
    review: Option<u64>,
    /// Until when keys may still come that make another chord of it, if they may.
    open_until: Option<u64>,
    /// The chord before the one in force.
    before: Option<Chord>,
    sizes: Sizes,
    /// The first key of the chord in force, and how long the hand had been up before it.
    began: u64,
    gap: u64,
    /// How long the hand had been up when the window opened.
    up_for: u64,
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
            closes: 0,
            grip: Keys::NONE,
            committed: 0,
            struck: Keys::NONE,
            pressed: [0; 128],
            last_press: 0,
            suspects: Keys::NONE,
            slipped: Keys::NONE,
            slips_due: None,
            review: None,
            open_until: None,
            before: None,
            sizes: Sizes::default(),
            began: 0,
            gap: 0,
            up_for: 0,
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

    /// Whether keys are going down that don't make a chord yet.
    pub fn is_gathering(&self) -> bool {
        self.opened.is_some()
    }

    /// When the first key of the chord in force went down.
    pub fn began(&self) -> u64 {
        self.began
    }

    /// How long the hand had been up before that; 0 if it hadn't been.
    pub fn gap(&self) -> u64 {
        self.gap
    }

    /// Until when further keys may well make another chord of the one in force, its bass above all; `None` if
    /// that isn't to be expected. Until then nothing but the classes held is sure.
    pub fn settles(&self) -> Option<u64> {
        self.open_until
    }

    /// When the reader wants to be asked again: the end of the gathering window, or a second look at the keys.
    pub fn deadline(&self) -> Option<u64> {
        let gathered = self.opened.map(|_| self.closes);
        [gathered, self.review, self.open_until, self.slips_due].into_iter().flatten().min()
    }

    /// Forgets the chord; keys that are down stay known.
    pub fn forget(&mut self) {
        self.chord = None;
        self.opened = None;
        self.review = None;
        self.open_until = None;
        self.spare_slips();
        self.fresh = Keys::NONE;
        self.suspects = Keys::NONE;
        self.sizes = Sizes::default();
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
        self.suspects = Keys::NONE;
        self.spare_slips();
        self.before = None;
        self.sizes = Sizes::default();
        let down = self.held.all();
        if !down.is_empty() {
            self.commit(frame, down, down, key);
        }
        self.review = None;
        self.open_until = None;
        self.chord.is_some()
    }

    /// A key of the chord hand goes down.
    pub fn press(&mut self, frame: u64, pitch: Pitch, key: Key) -> Heard {
        let hand_was_up = self.held.down().is_empty();
        if hand_was_up && frame > self.last_press + self.windows.roll {
            self.held.drop_pedalled();
        }
        self.held.press(pitch);
        self.slipped.remove(pitch);
        self.pressed[pitch.index()] = frame;
        let follows = frame <= self.last_press + self.windows.gap;
        self.last_press = frame;
        if self.opened.is_none() {
            let rolling = self.chord.is_some()
                && follows
                && frame <= self.committed + self.windows.roll
                && self.grip.iter().filter(|p| self.held.all().contains(*p)).count() * 2
                    >= self.grip.len() as usize;
            if rolling {
                return self.roll(frame, pitch, key);
            }
            self.opened = Some(frame);
            self.closes = frame + self.windows.gather;
            self.up_for = self.lifted.filter(|_| hand_was_up).map_or(0, |lifted| frame - lifted);
            self.fresh = Keys::NONE;
        }
        self.fresh.insert(pitch);
        let usual = self.sizes.usual();
        let chord = self.fresh.classes().len() >= 3 || (usual == 2 && !self.sizes.may_exceed(2));
        let enough = chord && self.fresh.len() >= usual;
        if enough && self.opened == Some(frame) {
            // No hand is that exact: a sequence, all of whose keys come in this frame.
            self.closes = frame;
            return Heard::Nothing;
        }
        if enough && (!self.fresh.has_neighbours() || self.is_plain(self.fresh, key)) {
            return self.commit(frame, self.fresh, self.fresh, key);
        }
        Heard::Nothing
    }

    /// A key that follows a chord just committed.
    fn roll(&mut self, frame: u64, pitch: Pitch, key: Key) -> Heard {
        let mut with = self.grip.union(self.suspects);
        with.insert(pitch);
        if !self.is_plain(with, key) {
            with = with.minus(self.suspects);
            if with.beside(pitch) {
                self.suspects.insert(pitch);
                self.look_again(frame + self.windows.slip);
                return Heard::Nothing;
            }
        }
        self.struck.insert(pitch);
        self.suspects = self.suspects.minus(with);
        let with = self.suspect_slip(frame, with, key);
        self.grip = with;
        if self.grip.classes().len() < 3 {
            self.look_again(frame + self.windows.gap);
            return Heard::Nothing;
        }
        let before = self.chord;
        let heard = self.reread_grip(key);
        if self.open_until.is_some() && !self.sizes.may_exceed(with.len()) && self.is_plain(with, key) {
            self.open_until = None;
            return Heard::Refined;
        }
        if self.open_until.is_some() && self.chord == before { Heard::Refined } else { heard }
    }

    /// A key of the chord hand comes up.
    pub fn release(&mut self, frame: u64, pitch: Pitch, latch: bool, key: Key) -> Heard {
        self.held.release(pitch);
        self.suspects.remove(pitch);
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
        if self.held.all().is_empty() && !latch && self.opened.is_none() && self.chord.is_some() {
            return self.end();
        }
        if self.held.down().is_empty() {
            // All keys came up together: a short chord, and none of them a slip.
            self.spare_slips();
            return Heard::Nothing;
        }
        let slip = frame <= self.pressed[pitch.index()] + self.windows.slip;
        let leftover = !self.struck.contains(pitch) && frame <= self.committed + self.windows.roll;
        if self.opened.is_none() && self.grip.contains(pitch) && (slip || leftover) && self.grip.len() > 2 {
            if slip {
                self.slipped.insert(pitch);
                self.slips_due = Some(frame + self.windows.gather);
                return Heard::Nothing;
            }
            self.grip.remove(pitch);
            return self.reread_grip(key);
        }
        Heard::Nothing
    }

    fn spare_slips(&mut self) {
        self.slipped = Keys::NONE;
        self.slips_due = None;
    }

    /// The sustain pedal of the chord hand.
    pub fn pedal(&mut self, frame: u64, down: bool, latch: bool) -> Heard {
        let held_before = !self.held.all().is_empty();
        self.held.set_pedal(down);
        if held_before && self.held.all().is_empty() && !latch && self.chord.is_some() {
            self.lifted = Some(frame);
            return self.end();
        }
        Heard::Nothing
    }

    /// The chord is over, and with it everything that was still to be found out about it.
    fn end(&mut self) -> Heard {
        self.chord = None;
        self.open_until = None;
        self.review = None;
        self.spare_slips();
        Heard::Ended
    }

    /// Chords end with their keys from now on: one whose keys are up ends.
    pub fn unlatch(&mut self, frame: u64) -> Heard {
        if self.held.all().is_empty() && self.opened.is_none() && self.chord.is_some() {
            self.lifted = Some(frame);
            return self.end();
        }
        Heard::Nothing
    }

    /// The gathering window is over, or it is time to look at the keys again.
    pub fn expire(&mut self, frame: u64, latch: bool, key: Key) -> Heard {
        if self.opened.is_some() && frame >= self.closes {
            return self.close(frame, latch, key);
        }
        if self.open_until.is_some_and(|until| frame >= until) {
            return self.settle(frame, key);
        }
        if self.slips_due.is_some_and(|due| frame >= due) {
            let rest = self.grip.minus(self.slipped);
            self.spare_slips();
            self.grip = if rest.len() >= 2 { rest } else { self.grip };
            return self.reread_grip(key);
        }
        if self.review.is_some_and(|review| frame >= review) {
            self.review = None;
            return self.count_in(frame, key);
        }
        Heard::Nothing
    }

    /// No more keys are to be expected: the chord is what is held.
    fn settle(&mut self, frame: u64, key: Key) -> Heard {
        self.open_until = None;
        self.grip = self.suspect_slip(frame, self.grip, key);
        let previous = if self.grip.classes().len() < 3 { self.before } else { self.chord };
        if let Some(chord) = self.name_after(self.grip, key, previous) {
            self.chord = Some(chord);
        }
        Heard::Refined
    }

    /// Decides with the keys there are.
    fn close(&mut self, frame: u64, latch: bool, key: Key) -> Heard {
        let fresh = self.fresh;
        let alone = fresh.len() == 1 && self.held.down().bits() & !fresh.bits() == 0;
        let heard = if alone
            && let (Some(chord), Some(pitch)) = (self.chord, fresh.lowest())
            && latch
        {
            // One key under a chord that stands: its bass moves.
            self.began = self.opened.take().unwrap_or(frame);
            self.gap = self.up_for;
            self.grip = fresh;
            self.struck = fresh;
            self.committed = frame;
            self.open_until = None;
            self.review = None;
            self.chord = Some(chord.over(pitch.class()));
            Heard::Bass
        } else if fresh.classes().len() >= 3 {
            self.commit(frame, fresh, fresh, key)
        } else {
            self.commit(frame, fresh.union(self.held.all()), fresh, key)
        };
        if heard == Heard::Nothing {
            self.opened = None;
        }
        if self.held.all().is_empty() && !latch && self.chord.is_some() {
            return self.end();
        }
        heard
    }

    /// Keys that stayed down belong to the chord: suspects that were none, keys kept from the chord before.
    fn count_in(&mut self, frame: u64, key: Key) -> Heard {
        let kept = self.held.down().iter().filter(|p| {
            let since = self.pressed[p.index()].max(self.committed);
            let wait = if self.suspects.contains(*p) { self.windows.slip } else { self.windows.kept };
            frame >= since + wait.min(self.windows.kept) && !self.fresh.contains(*p)
        });
        let kept = kept.fold(Keys::NONE, |mut keys, pitch| {
            keys.insert(pitch);
            keys
        });
        self.suspects = self.suspects.minus(kept);
        self.grip = self.grip.union(kept);
        self.reread_grip(key)
    }

    fn look_again(&mut self, frame: u64) {
        self.review = Some(self.review.map_or(frame, |review| review.max(frame)));
    }

    fn name_after(&self, keys: Keys, key: Key, previous: Option<Chord>) -> Option<Chord> {
        let context = Context { key: Some(key), previous };
        identify(keys.classes(), keys.lowest()?.class(), &context)
    }

    /// Whether the keys are exactly a chord without alterations, additions or a missing note.
    fn is_plain(&self, keys: Keys, key: Key) -> bool {
        let context = Context { key: Some(key), previous: None };
        let classes = keys.classes();
        let chord = keys.lowest().and_then(|lowest| identify(classes, lowest.class(), &context));
        chord.is_some_and(|c| classes.len() >= 3 && Chord::new(c.root, c.kind).tones() == classes)
    }

    /// The keys without a slip, which is remembered and looked at again.
    fn suspect_slip(&mut self, frame: u64, keys: Keys, key: Key) -> Keys {
        let clean = self.without_slip(keys, key);
        if clean != keys {
            self.suspects = self.suspects.union(keys.minus(clean));
            self.look_again(frame + self.windows.slip);
        }
        clean
    }

    /// The keys without one that spoils a plain chord, if there is such a one.
    fn without_slip(&self, keys: Keys, key: Key) -> Keys {
        if keys.len() < 4 || self.is_plain(keys, key) {
            return keys;
        }
        let cleaned = keys.iter().filter(|pitch| keys.beside(*pitch)).find_map(|pitch| {
            let mut rest = keys;
            rest.remove(pitch);
            self.is_plain(rest, key).then_some(rest)
        });
        cleaned.unwrap_or(keys)
    }

    fn commit(&mut self, frame: u64, keys: Keys, struck: Keys, key: Key) -> Heard {
        let opened = self.opened.take().unwrap_or(frame);
        self.fresh = Keys::NONE;
        let clean = self.without_slip(keys, key);
        // Two keys where more are usual say little: what they were in the chord before doesn't count yet.
        let partial = clean.classes().len() < 3 && clean.len() < self.sizes.usual();
        let previous = if partial { None } else { self.chord };
        let Some(chord) = self.name_after(clean, key, previous) else { return Heard::Nothing };
        self.before = self.chord;
        if self.grip.len() >= 2 {
            self.sizes.add(self.grip.len());
        }
        let end = opened + self.windows.gather;
        let together = self.closes == opened;
        self.open_until = match (partial, self.sizes.may_exceed(clean.len())) {
            _ if together => None,
            (true, _) => Some(end + self.windows.gather),
            (false, true) if end > frame => Some(end),
            _ => None,
        };
        (self.began, self.gap) = (opened, self.up_for);
        self.suspects = keys.minus(clean);
        self.spare_slips();
        self.review = None;
        let others = self.held.down().minus(clean);
        if !others.is_empty() {
            self.look_again(frame + self.windows.kept);
        }
        self.grip = clean;
        self.struck = struck;
        self.committed = frame;
        self.chord = Some(chord);
        Heard::New
    }

    fn reread_grip(&mut self, key: Key) -> Heard {
        let before = self.chord;
        if let Some(chord) = self.name_after(self.grip, key, self.chord) {
            self.chord = Some(chord);
        }
        if self.chord == before { Heard::Nothing } else { Heard::Refined }
    }
}
