//! What the engine says of its decisions while it plays, for reports.

use figwort_theory::{Chord, Moment};

use crate::book::Family;

/// Whether the melody moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum MelodyState {
    /// No melody note sounds.
    #[default]
    Resting,
    /// Notes follow one another.
    Moving,
    /// A note has stood for the set wait, or is known to stand.
    Still,
}

/// What the accompaniment does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Texture {
    /// Nothing sounds.
    #[default]
    Silent,
    /// A chord was struck and is held.
    Block,
    /// A figure runs.
    Figure(Family),
    /// The last chord.
    Ending,
}

impl Texture {
    /// The trade's name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Silent => "silent",
            Self::Block => "block",
            Self::Figure(family) => family.name(),
            Self::Ending => "ending",
        }
    }
}

/// A musical decision, as it is made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Decision {
    /// When, in musical time.
    pub at: Moment,
    /// The chord in force.
    pub chord: Option<Chord>,
    /// What the melody does.
    pub melody: MelodyState,
    /// What the accompaniment does from here.
    pub texture: Texture,
    /// The id of the figure in use ([`Figure::id`](crate::book::Figure::id)); `None` where there is none.
    pub figure: Option<u16>,
    /// Parts of the voicing, bass included.
    pub parts: u8,
    /// Velocity of the accompaniment before accents, 1 to 127.
    pub dynamics: u8,
}
