//! All the tunes of a sheet file.

use figwort_sheet::{Format, Sheet, SheetError};

/// A tune, or why it cannot be read, with its number where the file holds several.
pub(crate) type Tune = (Option<usize>, Result<Sheet, SheetError>);

/// Every tune of a file's bytes; always at least one, be it only the reason why there is none.
pub(crate) fn all(bytes: &[u8]) -> Vec<Tune> {
    if figwort_sheet::sniff(bytes) != Format::Abc {
        return vec![(None, figwort_sheet::read(bytes, None))];
    }
    let sheets = match figwort_sheet::abc::read_all(bytes) {
        Ok(sheets) if sheets.len() > 1 => sheets,
        // The reader of one tune says best what is wrong where there is none.
        Ok(_) => return vec![(None, figwort_sheet::read(bytes, None))],
        Err(error) => return vec![(None, Err(error))],
    };
    let listed = figwort_sheet::abc::tunes(bytes);
    // Numbers may be missing or come twice; the place in the file then stands for them.
    let mut numbers: Vec<usize> = listed.iter().map(|(number, _)| *number).collect();
    numbers.sort_unstable();
    numbers.dedup();
    let own = numbers.len() == sheets.len() && listed.len() == sheets.len();
    let number = |place: usize| match listed.get(place) {
        Some((number, _)) if own => *number,
        _ => place + 1,
    };
    sheets.into_iter().enumerate().map(|(place, sheet)| (Some(number(place)), sheet)).collect()
}
