//! Lead sheets and takes: bytes in, values out.
//!
//! [`read`] turns the bytes of a lead sheet (ABC 2.1, MusicXML up to 4.0, or a Standard MIDI File with a melody and
//! chords) into a [`Sheet`]: every bar, chord change and melody note in playing order, repeats and endings played out.
//! [`take::read`] turns a recorded performance (Standard MIDI File) into a [`take::Take`].
//!
//! All times are [`Moment`](figwort_theory::Moment) and [`Span`](figwort_theory::Span): whole ticks of
//! 1/20160 quarter note. What can be read with a doubt comes back as a [`Warning`]; only what cannot be read
//! is a [`SheetError`]. Hostile bytes give an error or warnings, never a panic, and never more work or memory
//! than the limits in [`limits`] allow.
//!
//! Deliberately absent: files and paths (the caller reads them and names them in its messages), any musical
//! decision, any writing, and threads. Nothing here is meant for the audio thread.
#![forbid(unsafe_code)]

pub mod abc;
mod build;
mod choice;
mod complete;
mod error;
mod length;
pub mod limits;
pub mod musicxml;
mod order;
pub mod page;
mod sheet;
pub mod smf;
mod sniff;
mod symbol;
pub mod take;
mod text;
mod warnings;
mod written;

pub use choice::Choice;
pub use error::SheetError;
pub use page::Page;
pub use sheet::{Bar, ChordChange, Note, Sheet, TempoChange, Warning};
pub use sniff::{ENDINGS, Format, sniff};

/// Velocity of a melody note that a sheet writes without one.
pub const DEFAULT_VELOCITY: figwort_theory::Velocity = figwort_theory::Velocity::new(80);

/// Tempo where a sheet states none: 120 quarter notes a minute, as MIDI has it.
pub const DEFAULT_TEMPO: u32 = 500_000;

/// Reads a lead sheet, telling its format from the bytes. `tune` chooses a tune of an ABC file by its `X:`
/// number; without it the first is read. Other formats hold one tune and disregard it.
///
/// # Errors
/// [`SheetError`], saying what is wrong and what to do; the caller adds the file's name.
pub fn read(bytes: &[u8], tune: Option<usize>) -> Result<Sheet, SheetError> {
    read_chosen(bytes, Choice { tune, melody: None })
}

/// The same with a choice of the melody's line, too.
///
/// # Errors
/// As [`read`], and where there is no such line.
pub fn read_chosen(bytes: &[u8], choice: Choice<'_>) -> Result<Sheet, SheetError> {
    limits::check_size(bytes)?;
    match sniff(bytes) {
        Format::Abc => abc::read_chosen(bytes, choice),
        Format::Midi => smf::read_chosen(bytes, choice.melody),
        Format::Empty => Err(SheetError::Empty),
        Format::MusicXml | Format::CompressedMusicXml => musicxml::read_chosen(bytes, choice.melody),
        Format::Other(what) => Err(SheetError::NotASheet {
            what,
            hint: "give a MusicXML file (.musicxml, .mxl), an ABC file (text with X: and K: lines) or a Standard \
                   MIDI File (.mid)",
        }),
    }
}
