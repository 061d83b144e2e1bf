//! What stands on the page, as plain data in musical time.
//!
//! Times are roll time: ticks that never go back, whatever the host's transport does.

use figwort_engine::Hand;
use figwort_theory::{ChordSymbol, Key, Metre, Moment, Pitch, Span};

/// How sure a note is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum State {
    /// It was played, or sounds.
    #[default]
    Played,
    /// It is to come, as far as is known now.
    Planned,
}

/// A note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Note {
    /// Who plays it.
    pub hand: Hand,
    /// Which pitch.
    pub pitch: Pitch,
    /// When it begins.
    pub at: Moment,
    /// When it ended; `None` while it sounds.
    pub end: Option<Moment>,
    /// Played or to come.
    pub state: State,
}

/// A bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bar {
    /// Where it begins.
    pub start: Moment,
    /// How long it is.
    pub length: Span,
    /// Its metre.
    pub metre: Metre,
}

/// A chord above the staff.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ChordMark {
    /// From when on.
    pub at: Moment,
    /// What is written.
    pub symbol: ChordSymbol,
    /// Played or to come.
    pub state: State,
}

/// A stretch of the stillness ribbon: one melody note, or one rest of the melody.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// From when.
    pub from: Moment,
    /// Until when; `None` while it lasts.
    pub until: Option<Moment>,
    /// The chance that the note will be long, 0 to 1, as it was judged when it was struck.
    pub chance: Option<f32>,
}

/// Everything on the page.
#[derive(Clone, Debug, PartialEq)]
pub struct Page {
    /// The bars to draw, in order and without gaps.
    pub bars: Vec<Bar>,
    /// Index of the present one among them.
    pub present: usize,
    /// Number of the first bar, counted from 1; `None` where bars have no numbers.
    pub first_number: Option<u32>,
    /// Notes that sound in them.
    pub notes: Vec<Note>,
    /// Chords.
    pub chords: Vec<ChordMark>,
    /// The melody, as far as it stood.
    pub stretches: Vec<Stretch>,
    /// The present moment.
    pub now: Moment,
    /// The key, for spelling.
    pub key: Key,
    /// Whether the key is a sheet's and written at the clefs.
    pub signed: bool,
    /// How long the melody must stand before the accompaniment moves.
    pub wait: Span,
}

impl Default for Page {
    /// Four empty bars.
    fn default() -> Self {
        let metre = Metre::FOUR_FOUR;
        let bar = |n| Bar { start: Moment::ZERO + metre.bar() * n, length: metre.bar(), metre };
        Self {
            bars: (0..4).map(bar).collect(),
            present: 0,
            first_number: None,
            notes: Vec::new(),
            chords: Vec::new(),
            stretches: Vec::new(),
            now: Moment::ZERO,
            key: Key::default(),
            signed: false,
            wait: Span::QUARTER,
        }
    }
}
