//! Musical vocabulary: what the other crates mean by a pitch, a chord, a moment.
//!
//! Pure values and pure functions: no allocation, no I/O, no clock, no state. Everything here may be
//! called from the audio thread and takes bounded time.
//!
//! Deliberately absent: hands, voicings and figures (those are decisions, and live in the engine) and any
//! knowledge of files (that is the sheet crate's).
#![no_std]
#![forbid(unsafe_code)]

pub mod chord;
pub mod distance;
pub mod identify;
pub mod pitch;
pub mod roughness;
pub mod scale;
pub mod spelling;
pub mod symbol;
pub mod time;

pub use chord::{Alterations, Chord, Degree, Kind};
pub use pitch::{NoteName, Pitch, PitchClass, PitchClassSet, Velocity};
pub use scale::{Key, Mode};
pub use symbol::{ChordSymbol, SymbolError};
pub use time::{Metre, Moment, Span, TICKS_PER_QUARTER};
