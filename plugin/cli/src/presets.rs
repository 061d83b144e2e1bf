//! The library in use: the factory set and the user's own files.

use std::path::Path;

use figwort_preset::{Library, ResolvedManner};

use crate::args::Playing;
use crate::failure::{Failure, Outcome};
use crate::input;

/// The factory set, with every preset file of a folder and its subfolders added.
pub(crate) fn library(folder: Option<&Path>) -> Outcome<Library> {
    let mut library = Library::factory();
    if let Some(folder) = folder {
        if !folder.is_dir() {
            return Err(Failure::file(folder, "there is no such folder; check the path after --presets"));
        }
        for path in input::files_below(folder)? {
            if input::extension(&path) == "toml" {
                library.add(&path.display().to_string(), &input::preset_text(&path)?)?;
            }
        }
    }
    Ok(library)
}

/// The manner asked for, by name or as a file.
pub(crate) fn manner(playing: &Playing) -> Outcome<(Library, ResolvedManner)> {
    let mut library = library(playing.presets.as_deref())?;
    let asked = playing.manner.as_str();
    let path = Path::new(asked);
    let manner = if input::extension(path) == "toml" {
        match library.add(asked, &input::preset_text(path)?)? {
            figwort_preset::Added::Manner(name) => library.manner(&name)?,
            figwort_preset::Added::Figure(_) => {
                return Err(Failure::file(path, "this is a figure; give a manner that lists it"));
            }
        }
    } else {
        library.manner(asked).map_err(|error| {
            // An error about a file names it; one about the name alone needs the option.
            match error.file.as_str() {
                "" => Failure::could_not(format!("--manner: {error}")),
                _ => error.into(),
            }
        })?
    };
    Ok((library, manner))
}
