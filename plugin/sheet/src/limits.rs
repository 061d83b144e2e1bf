//! What is refused, so that no file can cost more time or memory than a real sheet would.

use crate::SheetError;

/// Largest file in bytes. Checked before anything is read.
pub const MAX_BYTES: usize = 16 << 20;
/// Most bars, written or played out with all repeats. Four hours of 4/4 at 160 are about 9600.
pub const MAX_BARS: usize = 10_000;
/// Most melody notes, written or played out.
pub const MAX_NOTES: usize = 100_000;
/// Most chord symbols, written or played out.
pub const MAX_CHORDS: usize = 100_000;
/// Most events of a take.
pub const MAX_EVENTS: usize = 2_000_000;
/// Longest MIDI file in quarter notes: a day and more at 600 a minute.
pub const MAX_QUARTERS: usize = 1_000_000;
/// Fastest tempo of a page in quarter notes a minute: above 208 whole notes, the top of Maelzel's scale for metronomes
/// (from memory); a larger number is a slip.
pub const MAX_TEMPO: u32 = 1000;
/// Most tunes in one ABC file.
pub const MAX_TUNES: usize = 10_000;
/// Most times that a repeated section is played.
pub const MAX_TIMES: u32 = 16;
/// Highest number of an ending.
pub const MAX_ENDING: u32 = 32;
/// Most parts in a written-out `P:` order.
pub const MAX_PARTS: usize = 500;
/// Deepest parentheses in a `P:` order.
pub const MAX_NESTING: usize = 8;
/// Largest `p`, `q` or `r` of a tuplet.
pub const MAX_TUPLET: u32 = 64;
/// Longest note or rest, in whole notes.
pub const MAX_NOTE_WHOLES: i64 = 64;
/// Most files in a compressed MusicXML file.
pub const MAX_ENTRIES: usize = 1000;
/// Deepest nesting of MusicXML elements.
pub const MAX_DEPTH: usize = 64;
/// Most parts of a MusicXML score.
pub const MAX_SCORE_PARTS: usize = 200;
/// Most bars of all parts of a MusicXML score together.
pub const MAX_SCORE_BARS: usize = 100_000;
/// Most notes and rests of all parts of a MusicXML score together.
pub const MAX_SCORE_NOTES: usize = 1_000_000;
/// Most warnings kept; a last one then says how many more there were.
pub const MAX_WARNINGS: usize = 200;

/// # Errors
/// [`SheetError::Empty`] or [`SheetError::TooLarge`].
pub(crate) fn check_size(bytes: &[u8]) -> Result<(), SheetError> {
    if bytes.is_empty() {
        Err(SheetError::Empty)
    } else if bytes.len() > MAX_BYTES {
        Err(SheetError::TooLarge { what: "bytes", limit: MAX_BYTES })
    } else {
        Ok(())
    }
}
