//! Figure and manner files: the promise made on disk.
//!
//! A *figure* file says how a texture lies in the bar; a *manner* file names figures and says how readily,
//! in how many parts, in which registers and with what touch they are played. Both are TOML with a format
//! number, are checked in full when they are read, and come out as the engine's own plain values. The
//! factory set is part of the binary.
//!
//! Every error names the file and the line, says what is wrong and what to do.
//!
//! Deliberately absent: reading the disk (callers hand in names and texts), writing files, and anything
//! that the audio thread may call: everything here allocates.
#![forbid(unsafe_code)]

pub mod error;
mod factory;
mod figure_file;
pub mod library;
mod manner_file;
pub mod names;
pub mod notation;

pub use error::PresetError;
pub use library::{Added, Entry, Library, ResolvedManner, check};
