//! The engine's state as an editor shows it: plain values, copied whole at the end of a block.
//!
//! Musical time is in ticks of 1/20160 quarter. Deliberately absent: the past, which a front-end keeps, and
//! anything that flows back into the engine.
//!
//! # Real time
//! `Copy`, without a pointer: it may be handed over by a triple buffer. No allocation, no lock.

use figwort_theory::{Chord, Key, Metre, Moment, Pitch, Span};

use crate::event::Hand;
use crate::observation::{MelodyState, Texture};

/// Most planned notes that are told of.
pub const MOST_PLANNED: usize = 24;

/// A note that the accompaniment will strike if nothing happens.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Planned {
    /// When, in musical time.
    pub at: Moment,
    /// Which pitch.
    pub pitch: Pitch,
    /// Who will play it.
    pub hand: Hand,
}

/// The engine's state at the end of a block, for display.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Snapshot {
    /// Musical time at the end of the block: the host's, or the free clock's where it
    /// doesn't play.
    pub position: Moment,
    /// Start of the present bar.
    pub bar_start: Moment,
    /// The metre in force; `None` before the first block.
    pub metre: Option<Metre>,
    /// Quarter notes per minute in force: the host's, or the settings' where it gives none; 0 before the first
    /// block.
    pub tempo: f64,
    /// Whether the host's transport runs.
    pub playing: bool,
    /// The chord in force; `None` when no hand and no chart says one.
    pub chord: Option<Chord>,
    /// The key heard so far; C major before anything was.
    pub key: Key,
    /// The melody note that sounds; `None` while it rests.
    pub melody: Option<Pitch>,
    /// What the melody does.
    pub melody_state: MelodyState,
    /// Time since the melody's last onset.
    pub stillness: Span,
    /// The chance, 0 to 1, that the melody note struck last lasts 1.5 felt beats or more, as it was judged at
    /// its onset; 0 before any was judged. A melody that comes from a chart isn't judged.
    pub long_note_chance: f32,
    /// Melody onsets per felt beat, over the last few beats.
    pub melody_density: f32,
    /// What the accompaniment does.
    pub texture: Texture,
    /// The id of the figure in use ([`Figure::id`](crate::book::Figure::id)); `None` where there is none.
    pub figure: Option<u16>,
    /// Parts of the present voicing: 0 (none yet) to 6.
    pub parts: u8,
    /// Sounding pitches of each hand, one bit a key; indexed by [`Hand::index`].
    pub sounding: [u128; 3],
    /// Whether the accompaniment's pedal is down.
    pub pedal: bool,
    /// What the running figure has still to play in this bar, as far as it is known, the earliest first; no
    /// gaps but at the end. A line of the bass is told when it comes.
    pub planned: [Option<Planned>; MOST_PLANNED],
}

impl Snapshot {
    /// Whether a pitch sounds in a hand.
    pub fn sounds(&self, hand: Hand, pitch: Pitch) -> bool {
        self.sounding.get(hand.index()).is_some_and(|bits| bits >> pitch.key() & 1 == 1)
    }
}
