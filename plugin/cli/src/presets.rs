//! The library in use: the factory set and the user's own files.

use std::path::{Path, PathBuf};

use figwort_preset::{Added, Library, ResolvedManner};

use crate::args::Playing;
use crate::failure::{Failure, Outcome};
use crate::input;

/// The preset files of a folder and its subfolders.
fn files_in(folder: &Path) -> Outcome<Vec<PathBuf>> {
    if !folder.is_dir() {
        return Err(Failure::file(folder, "there is no such folder; check the path after --presets"));
    }
    let files = input::files_below(folder)?;
    Ok(files.into_iter().filter(|path| input::extension(path) == "toml").collect())
}

/// The manner file that is asked for, if it is one.
fn manner_file(playing: &Playing) -> Option<&Path> {
    let path = Path::new(&playing.manner);
    (input::extension(path) == "toml").then_some(path)
}

/// Every preset file that is read to play.
pub(crate) fn files(playing: &Playing) -> Outcome<Vec<PathBuf>> {
    let mut files = playing.presets.as_deref().map(files_in).transpose()?.unwrap_or_default();
    files.extend(manner_file(playing).map(Path::to_owned));
    Ok(files)
}

/// The factory set, with every preset file of a folder and its subfolders added.
pub(crate) fn library(folder: Option<&Path>) -> Outcome<Library> {
    let mut library = Library::factory();
    for path in folder.map(files_in).transpose()?.unwrap_or_default() {
        library.add(&path.display().to_string(), &input::preset_text(&path)?)?;
    }
    Ok(library)
}

/// The manner asked for, by name or as a file.
pub(crate) fn manner(playing: &Playing) -> Outcome<(Library, ResolvedManner)> {
    let mut library = library(playing.presets.as_deref())?;
    let asked = playing.manner.as_str();
    let manner = if let Some(path) = manner_file(playing) {
        let text = input::preset_text(path)?;
        if let Ok(Added::Figure(_)) = figwort_preset::check(asked, &text) {
            return Err(Failure::file(path, "this is a figure; give a manner that lists it"));
        }
        let name = library.add_manner(asked, &text)?;
        library.manner(&name)?
    } else {
        library.manner(asked).map_err(|error| {
            // An error about a file names it; one about the name alone needs the option.
            match error.file.as_str() {
                "" => Failure::could_not(format!("--manner: {error} `figwort manners` describes them all.")),
                _ => error.into(),
            }
        })?
    };
    Ok((library, manner))
}
