//! Offline rendering: a sheet or a take is performed by the engine, and the performance is written out.
//!
//! [`perform`] is the host: it feeds the engine block by block and collects what it plays as a
//! [`Performance`]. The other modules turn that into something to hear ([`wav`],
//! [`piano`], [`soundfont`], [`midi`]), to look at ([`picture`]), to
//! play from ([`score`]) or to read ([`report`], [`text`]).
//!
//! Musical time is in ticks ([`figwort_theory::Moment`]), sounding time in frames; [`tempo::TempoMap`] is
//! the exact bridge between the two.
//!
//! Deliberately absent: files and paths (bytes and text go out by value), and any musical decision. Only
//! [`piano`] and an instrument of [`soundfont`] may be called from the audio thread.
#![forbid(unsafe_code)]

pub mod chart;
pub mod midi;
pub mod perform;
pub mod piano;
pub mod picture;
pub mod report;
#[cfg(test)]
pub(crate) mod sample;
pub mod score;
pub mod soundfont;
pub mod tempo;
pub mod text;
mod timeline;
pub mod wav;

pub use perform::{Options, Performance, arrange, follow};
