//! Reading files, never more of them than any real one holds.

use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use figwort_sheet::ENDINGS;

use crate::failure::{Failure, Outcome};

/// Largest sheet or take, in bytes.
pub(crate) const MAX_SHEET: usize = figwort_sheet::limits::MAX_BYTES;
/// Largest figure or manner file, in bytes.
pub(crate) const MAX_PRESET: usize = figwort_preset::library::MAX_BYTES;

/// Largest soundfont, in bytes: it is held in memory.
pub(crate) const MAX_FONT: usize = 1 << 30;

/// The bytes of a file, if there are at most `limit`; more are not even read.
pub(crate) fn bytes(path: &Path, limit: usize) -> Outcome<Vec<u8>> {
    let mut file = File::open(path).map_err(|error| unreadable(path, &error))?;
    let metadata = file.metadata().map_err(|error| unreadable(path, &error))?;
    if metadata.is_dir() {
        return Err(Failure::file(path, "this is a folder; give a file in it"));
    }
    let too_large = || {
        Failure::file(
            path,
            format!("larger than {}, which no such file is; check that it is the right one", size(limit)),
        )
    };
    if metadata.len() > limit as u64 {
        return Err(too_large());
    }
    // The length is no promise: a pipe or a growing file may hold more.
    let mut bytes = Vec::new();
    let ceiling = limit as u64 + 1;
    file.by_ref().take(ceiling).read_to_end(&mut bytes).map_err(|error| unreadable(path, &error))?;
    if bytes.len() > limit { Err(too_large()) } else { Ok(bytes) }
}

/// The text of a preset file.
pub(crate) fn preset_text(path: &Path) -> Outcome<String> {
    let bytes = bytes(path, MAX_PRESET)?;
    String::from_utf8(bytes).map_err(|error| {
        let valid = error.utf8_error().valid_up_to();
        let line = 1 + error.as_bytes().iter().take(valid).filter(|byte| **byte == b'\n').count();
        Failure::could_not(format!(
            "{}, line {line}: not text in UTF-8; save the file as UTF-8",
            path.display()
        ))
    })
}

/// What lies in a folder.
#[derive(Debug)]
pub(crate) struct Tree {
    /// Its files, sorted by path. Links that lead nowhere are among them, so that they are complained about.
    pub(crate) files: Vec<PathBuf>,
    /// Subfolders and entries that could not be looked into.
    pub(crate) unread: Vec<Failure>,
}

/// Every file of a folder and its subfolders, `except` one folder. Links to folders are not followed. What
/// cannot be looked into, or goes away meanwhile, does not keep the rest from being found.
///
/// # Errors
/// When the folder itself cannot be read.
pub(crate) fn tree_below(folder: &Path, except: Option<&Path>) -> Outcome<Tree> {
    let except = except.and_then(|path| fs::canonicalize(path).ok());
    let mut tree = Tree { files: Vec::new(), unread: Vec::new() };
    let mut open = vec![folder.to_owned()];
    while let Some(inner) = open.pop() {
        let entries = match fs::read_dir(&inner) {
            Ok(entries) => entries,
            Err(error) if inner == folder => return Err(unreadable(&inner, &error)),
            Err(error) => {
                tree.unread.push(unreadable(&inner, &error));
                continue;
            }
        };
        for entry in entries {
            let (path, kind) = match entry.and_then(|entry| Ok((entry.path(), entry.file_type()?))) {
                Ok(found) => found,
                Err(error) => {
                    tree.unread.push(unreadable(&inner, &error));
                    continue;
                }
            };
            if kind.is_dir() {
                if except.is_none() || fs::canonicalize(&path).ok() != except {
                    open.push(path);
                }
            } else if path.is_file() || (kind.is_symlink() && !path.exists()) {
                tree.files.push(path);
            }
        }
    }
    tree.files.sort();
    Ok(tree)
}

/// The same where everything has to be readable.
pub(crate) fn files_below(folder: &Path) -> Outcome<Vec<PathBuf>> {
    let Tree { files, unread } = tree_below(folder, None)?;
    unread.into_iter().next().map_or(Ok(files), Err)
}

/// Whether a file has the extension of a sheet: ABC, a Standard MIDI File, MusicXML plain or compressed.
pub(crate) fn is_sheet(path: &Path) -> bool {
    ENDINGS.contains(&extension(path).as_str())
}

/// The extensions of sheets, for messages: `.abc, .musicxml … or .smf`.
pub(crate) fn sheets() -> String {
    match ENDINGS.map(|ending| format!(".{ending}")).split_last() {
        Some((last, others)) => format!("{} or {last}", others.join(", ")),
        None => String::new(),
    }
}

/// A file's extension in lower case; empty where it has none.
pub(crate) fn extension(path: &Path) -> String {
    path.extension().map(|extension| extension.to_string_lossy().to_lowercase()).unwrap_or_default()
}

fn unreadable(path: &Path, error: &io::Error) -> Failure {
    match error.kind() {
        io::ErrorKind::NotFound => Failure::file(path, "there is no such file; check its path"),
        io::ErrorKind::PermissionDenied => {
            Failure::file(path, "you are not permitted to read it; change its permissions")
        }
        _ => Failure::file(path, format!("cannot be read ({error}); check the path and the disk")),
    }
}

/// A size as people say it.
fn size(bytes: usize) -> String {
    format!("{} MiB", bytes >> 20)
}
