//! The pianist: reads chords and melody, decides, voices, plays.
//!
//! No allocation, no lock, no I/O, no clock of its own, no failure: none of those can be written here, as
//! the crate has neither `std` nor `alloc`. Data takes one road through the modules, in this order:
//!
//! `book, chart, event, observation, settings < reading < decision < voicing < figure < touch < schedule < snapshot < engine`
//!
//! Deliberately absent: files, names of figures and manners, MIDI bytes, threads.
#![no_std]
#![forbid(unsafe_code)]

pub mod book;
pub mod chart;
pub mod decision;
pub mod engine;
pub mod event;
pub mod figure;
pub mod observation;
pub mod reading;
pub mod schedule;
pub mod settings;
pub mod snapshot;
pub mod touch;
pub mod voicing;

pub use book::{Aim, Family, Figure, Hold, MAX_PATTERNS, MAX_STEPS, Pattern, Step, Thread, Who};
pub use chart::{Chart, ChartBar, ChartNote, Harmony};
pub use engine::Engine;
pub use event::{
    Block, EventSink, Full, Hand, InputEvent, InputMessage, OutputEvent, OutputMessage, Transport,
};
pub use observation::{Decision, MelodyState, Texture};
pub use settings::{Colour, Manner, Rung, Settings, Source, Start, Weights};
pub use snapshot::{MOST_PLANNED, Planned, Snapshot};
