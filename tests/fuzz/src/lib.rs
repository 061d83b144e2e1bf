//! What the targets share: the promises of the readers' values, as the sheet crate's own tests state them.

#[path = "../../../plugin/sheet/tests/hostile/sound.rs"]
pub mod sound;

use figwort_sheet::{Sheet, SheetError};

/// Checks a reader's answer: a value that keeps its promises, or an error that says something.
pub fn answer(sheet: Result<Sheet, SheetError>) {
    match sheet {
        Ok(sheet) => sound::assert_sound(&sheet),
        Err(error) => assert!(error.to_string().len() > 10),
    }
}
