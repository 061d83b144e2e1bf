//! The host of the offline world: drives the engine along a tempo map and keeps what it plays.

use figwort_engine::{Decision, Figure, Hand, Settings};
use figwort_sheet::take::Take;
use figwort_sheet::{Sheet, TempoChange};
use figwort_theory::{Chord, Key, Metre, Moment, Pitch, Span, Velocity};

/// How to perform.
#[derive(Clone, Debug)]
pub struct Options {
    /// Frames per second, 8000 to 192 000 in practice; taken into 1000 to 1 000 000.
    pub sample_rate: u32,
    /// Longest block in frames, at least 1. The music does not depend on it.
    pub block: u32,
    /// The engine's settings. [`arrange`] sets `source` and `finish` itself.
    pub settings: Settings,
    /// The figure book.
    pub figures: Vec<Figure>,
}

impl Default for Options {
    fn default() -> Self {
        Self { sample_rate: 48_000, block: 64, settings: Settings::default(), figures: Vec::new() }
    }
}

/// What was played, in frames and in musical time.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Performance {
    /// The sheet's title; empty for a take.
    pub title: String,
    /// Frames per second.
    pub sample_rate: u32,
    /// All notes, by onset, then hand, then pitch.
    pub notes: Vec<PlayedNote>,
    /// The accompaniment's pedal, by time; alternately down and up, ending up.
    pub pedal: Vec<PedalChange>,
    /// The engine's decisions, in the order they were made.
    pub decisions: Vec<Decision>,
    /// The bars, each beginning where the one before ends, the first at zero.
    pub bars: Vec<PlayedBar>,
    /// Chord symbols, by time.
    pub chords: Vec<ChordMark>,
    /// Tempo changes, by time, the first at zero.
    pub tempos: Vec<TempoChange>,
    /// End of the music in musical time: of the last bar, or of the last note if that is later.
    pub end: Moment,
    /// The frame at which the last note has ended and the music is over.
    pub end_frame: u64,
    /// Notes that the engine began and never ended; they are ended at `end_frame` here. Always zero unless
    /// the engine is at fault.
    pub hanging: usize,
}

/// A note that was played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PlayedNote {
    /// Who played it.
    pub hand: Hand,
    /// Which pitch.
    pub pitch: Pitch,
    /// How strong.
    pub velocity: Velocity,
    /// Its first frame.
    pub on: u64,
    /// The frame of its note-off, never before `on`.
    pub off: u64,
    /// `on` in musical time, to the nearest tick.
    pub at: Moment,
    /// From `on` to `off` in musical time.
    pub length: Span,
}

impl PlayedNote {
    /// Where it ends.
    pub fn end(&self) -> Moment {
        self.at + self.length
    }
}

/// A movement of the accompaniment's sustain pedal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PedalChange {
    /// When, in frames.
    pub frame: u64,
    /// When, in musical time.
    pub at: Moment,
    /// Down or up.
    pub down: bool,
}

/// A bar as it was played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PlayedBar {
    /// Its beginning.
    pub start: Moment,
    /// Its actual length.
    pub length: Span,
    /// Its metre.
    pub metre: Metre,
    /// Its key.
    pub key: Key,
    /// Its number as written; a pick-up is 0.
    pub number: u32,
    /// Whether a section begins here.
    pub section: bool,
}

impl PlayedBar {
    /// Where it ends.
    pub fn end(&self) -> Moment {
        self.start + self.length
    }
}

/// A chord symbol over the music.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChordMark {
    /// From when.
    pub at: Moment,
    /// The symbol in plain text, `b` for flat and `#` for sharp; `N.C.` for no chord.
    pub text: String,
    /// The chord.
    pub chord: Option<Chord>,
}

/// Plays a whole sheet with everything known: harmony and melody come from the sheet, and the sheet's last
/// change of harmony is the final chord.
pub fn arrange(sheet: &Sheet, _options: &Options) -> Performance {
    Performance { title: sheet.title.clone(), ..Performance::default() }
}

/// Plays a recorded take through the live engine, event by event, knowing nothing of what is to come.
pub fn follow(_take: &Take, _options: &Options) -> Performance {
    Performance::default()
}
