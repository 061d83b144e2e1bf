//! Reading: what is going on, as far as can be known now. The clock, the keys, the chord, the melody, the key.
//!
//! Each reader holds what it needs of the past; none of them plays anything.

pub mod chance;
pub mod chord;
pub mod clock;
pub mod form;
pub mod habit;
pub mod hands;
pub mod held;
pub mod key;
pub mod melody;
pub mod tension;

use figwort_theory::{Chord, Key, Moment, Pitch, Span};

use crate::observation::MelodyState;
use clock::Bar;
use form::Form;

/// What the readers know at one instant; the later stages see nothing else of them.
#[derive(Clone, Copy, Debug)]
pub struct Reading {
    /// Now.
    pub now: Moment,
    /// The bar that holds it.
    pub bar: Bar,
    /// The bar's place in its phrase and in the piece.
    pub form: Form,
    /// The number by which the bar takes its turn to climb the ladder: as a rule its index.
    pub turn: i64,
    /// The chord in force.
    pub chord: Option<Chord>,
    /// The key, as heard or as written.
    pub key: Key,
    /// Harmonic tension of the chord in its key and place, 0 to 100.
    pub tension: u8,
    /// What the melody does.
    pub melody: MelodyState,
    /// The pitch that the accompaniment has to stay under: the melody's, or the lowest that it is known to
    /// reach before the next change of harmony. `None` while there is no melody to speak of.
    pub ceiling: Option<Pitch>,
    /// The melody's highest pitch before the next change of harmony or bar, where that is known.
    pub summit: Option<Pitch>,
    /// Melody onsets per quarter note: those to come before the next change of harmony or bar, or while it
    /// stands, where they are known, else those of the last two beats, the older the less.
    pub melody_motion: f32,
    /// How high the melody lies against its own middle, in semitones, smoothed: -24 to 24.
    pub melody_height: i8,
    /// Velocity of the melody, 1 to 127.
    pub melody_velocity: u8,
    /// The next change of harmony, where it is known.
    pub next: Option<(Moment, Chord)>,
    /// Where a figure's pattern that begins here is counted from: the bar's start, or the last change of harmony.
    pub origin: Moment,
    /// When a melody that stands or rests will move again, where that is known.
    pub moves_at: Option<Moment>,
    /// Whether the chord in force is known to be the last, or asked to be.
    pub last: bool,
}

impl Reading {
    /// Metrical weight of now, as [`figwort_theory::Metre::level`] has it.
    pub fn level(&self) -> u8 {
        self.bar.metre.level(self.place())
    }

    /// Distance from the bar's start.
    pub fn place(&self) -> Span {
        self.now - self.bar.start
    }
}
