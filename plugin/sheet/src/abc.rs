//! ABC 2.1.

use crate::{Sheet, SheetError};

/// Reads one tune: the one with that `X:` number, or the first.
///
/// # Errors
/// [`SheetError`] where there is no such tune or it has no music.
pub fn read(bytes: &[u8], _tune: Option<usize>) -> Result<Sheet, SheetError> {
    crate::limits::check_size(bytes)?;
    Err(SheetError::Abc { line: 1, what: "ABC is not read yet".into(), hint: "wait for the reader" })
}

/// The `X:` numbers and titles of the tunes in a file, in order.
pub fn tunes(_bytes: &[u8]) -> Vec<(usize, String)> {
    Vec::new()
}

/// Reads every tune of a file, in order.
pub fn read_all(_bytes: &[u8]) -> Vec<Result<Sheet, SheetError>> {
    Vec::new()
}
