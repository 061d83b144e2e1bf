//! Standard MIDI Files as lead sheets.

use crate::{Sheet, SheetError};

/// Reads a lead sheet from the bytes of a Standard MIDI File.
///
/// # Errors
/// [`SheetError`] where the bytes are no Standard MIDI File.
pub fn read_sheet(bytes: &[u8]) -> Result<Sheet, SheetError> {
    crate::limits::check_size(bytes)?;
    Err(SheetError::Midi { what: "MIDI sheets are not read yet".into(), hint: "give an ABC file" })
}
