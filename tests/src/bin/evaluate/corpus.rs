//! The sheets of a folder and its subfolders.

use std::fs;
use std::path::Path;

use anyhow::{Context, Result};
use figwort_sheet::{Sheet, SheetError};

/// A tune and where it is from.
pub(crate) struct Tune {
    /// The file below the folder, and the tune's title.
    pub(crate) name: String,
    pub(crate) sheet: Sheet,
}

/// Every tune that can be read, in the order of file names; what can't be read is left out and said.
pub(crate) fn sheets(folder: &Path) -> Result<Vec<Tune>> {
    let mut tunes = vec![];
    gather(folder, folder, &mut tunes)?;
    Ok(tunes)
}

fn gather(top: &Path, folder: &Path, tunes: &mut Vec<Tune>) -> Result<()> {
    let entries = fs::read_dir(folder).with_context(|| format!("{} can't be read", folder.display()))?;
    let mut paths: Vec<_> = entries.map(|entry| entry.map(|e| e.path())).collect::<Result<_, _>>()?;
    paths.sort();
    for path in paths {
        if path.is_dir() {
            gather(top, &path, tunes)?;
            continue;
        }
        let name = path.strip_prefix(top).unwrap_or(&path).display().to_string();
        let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase()).unwrap_or_default();
        let bytes = || fs::read(&path).with_context(|| format!("{} can't be read", path.display()));
        let read: Vec<Result<Sheet, SheetError>> = match ending.as_str() {
            "abc" => figwort_sheet::abc::read_all(&bytes()?).unwrap_or_else(|error| vec![Err(error)]),
            "mid" | "midi" | "musicxml" | "xml" | "mxl" => vec![figwort_sheet::read(&bytes()?, None)],
            _ => vec![],
        };
        for sheet in read {
            match sheet {
                Ok(sheet) => tunes.push(Tune { name: format!("{name}: {}", sheet.title), sheet }),
                Err(error) => eprintln!("left out: {name}: {error}"),
            }
        }
    }
    Ok(())
}
