//! All the tunes of a sheet file.

use std::collections::BTreeSet;

use figwort_sheet::{Format, Sheet, SheetError};

use crate::command::part::check_duration;

/// A tune, or why it cannot be played, with its number where the file holds several.
pub(crate) type Tune = (Option<usize>, Result<Sheet, String>);

/// The tune of a file that holds one.
pub(crate) fn one(bytes: &[u8]) -> Result<Sheet, String> {
    playable(figwort_sheet::read(bytes, None))
}

fn playable(sheet: Result<Sheet, SheetError>) -> Result<Sheet, String> {
    let sheet = sheet.map_err(|error| error.to_string())?;
    check_duration(&sheet.tempos, sheet.end)?;
    Ok(sheet)
}

/// How the tunes of a file's bytes are numbered, without reading them; `None` where there is one, or none.
pub(crate) fn numbers(bytes: &[u8]) -> Vec<Option<usize>> {
    if figwort_sheet::sniff(bytes) != Format::Abc {
        return vec![None];
    }
    let listed = figwort_sheet::abc::tunes(bytes);
    if listed.len() < 2 {
        return vec![None];
    }
    // Numbers may be missing or come twice; the place in the file then stands for them.
    let different: BTreeSet<usize> = listed.iter().map(|(number, _)| *number).collect();
    let own = different.len() == listed.len();
    let number =
        |(place, (number, _)): (usize, &(usize, String))| Some(if own { *number } else { place + 1 });
    listed.iter().enumerate().map(number).collect()
}

/// Every tune of a file's bytes; always at least one, be it only the reason why there is none.
pub(crate) fn all(bytes: &[u8]) -> Vec<Tune> {
    if figwort_sheet::sniff(bytes) != Format::Abc {
        return vec![(None, one(bytes))];
    }
    match figwort_sheet::abc::read_all(bytes) {
        Ok(sheets) if sheets.len() > 1 => {
            numbers(bytes).into_iter().zip(sheets.into_iter().map(playable)).collect()
        }
        // The reader of one tune says best what is wrong where there is none.
        Ok(_) => vec![(None, one(bytes))],
        Err(error) => vec![(None, Err(error.to_string()))],
    }
}
