//! Keys that are down, and keys that the sustain pedal holds.

use figwort_theory::{Pitch, PitchClassSet};

/// A set of keys, one bit each.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Keys(u128);

impl Keys {
    /// No key.
    pub const NONE: Self = Self(0);

    /// Whether there is none.
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// How many.
    pub fn len(self) -> u32 {
        self.0.count_ones()
    }

    /// Whether a key is among them.
    pub fn contains(self, pitch: Pitch) -> bool {
        self.0 >> pitch.key() & 1 == 1
    }

    /// Adds a key.
    pub fn insert(&mut self, pitch: Pitch) {
        self.0 |= 1 << pitch.key();
    }

    /// Takes a key away.
    pub fn remove(&mut self, pitch: Pitch) {
        self.0 &= !(1 << pitch.key());
    }

    /// Keys in either set.
    #[must_use]
    pub fn union(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// Keys of this set that aren't in the other.
    #[must_use]
    pub fn minus(self, other: Self) -> Self {
        Self(self.0 & !other.0)
    }

    /// Whether two of them are a tone apart, or less.
    pub fn has_neighbours(self) -> bool {
        self.0 & (self.0 << 1 | self.0 << 2) != 0
    }

    /// Whether one of them is a tone or less from this pitch.
    pub fn beside(self, pitch: Pitch) -> bool {
        let here = 1u128 << pitch.key();
        self.0 & (here << 1 | here << 2 | here >> 1 | here >> 2) != 0
    }

    /// The lowest key.
    pub fn lowest(self) -> Option<Pitch> {
        (self.0 != 0).then(|| Pitch::new(self.0.trailing_zeros() as u8))
    }

    /// The highest key.
    pub fn highest(self) -> Option<Pitch> {
        (self.0 != 0).then(|| Pitch::new(127 - self.0.leading_zeros() as u8))
    }

    /// The keys from the lowest up.
    pub fn iter(self) -> impl Iterator<Item = Pitch> {
        let mut rest = self.0;
        core::iter::from_fn(move || {
            let pitch = (rest != 0).then(|| Pitch::new(rest.trailing_zeros() as u8))?;
            rest &= rest - 1;
            Some(pitch)
        })
    }

    /// Their pitch classes.
    pub fn classes(self) -> PitchClassSet {
        self.iter().map(Pitch::class).collect()
    }

    /// One bit a key.
    pub fn bits(self) -> u128 {
        self.0
    }
}

/// The keys of one hand, with the pedal.
#[derive(Clone, Copy, Debug, Default)]
pub struct HeldNotes {
    down: Keys,
    pedalled: Keys,
    pedal: bool,
}

impl HeldNotes {
    /// A key goes down.
    pub fn press(&mut self, pitch: Pitch) {
        self.down.insert(pitch);
        self.pedalled.remove(pitch);
    }

    /// A key comes up.
    pub fn release(&mut self, pitch: Pitch) {
        if self.pedal && self.down.contains(pitch) {
            self.pedalled.insert(pitch);
        }
        self.down.remove(pitch);
    }

    /// The pedal goes down or up.
    pub fn set_pedal(&mut self, down: bool) {
        self.pedal = down;
        if !down {
            self.pedalled = Keys::NONE;
        }
    }

    /// Forgets what the pedal holds of an earlier chord.
    pub fn drop_pedalled(&mut self) {
        self.pedalled = Keys::NONE;
    }

    /// Keys that are down.
    pub fn down(&self) -> Keys {
        self.down
    }

    /// Keys that are down or held by the pedal.
    pub fn all(&self) -> Keys {
        self.down.union(self.pedalled)
    }
}
