//! Writing files, all of them or none.
//!
//! Each file is first written whole beside its place and then moved there, so that nobody ever finds half
//! of one. The places are looked at before any work is done.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use crate::failure::{Failure, Outcome};

/// Files to be written.
#[derive(Debug, Default)]
pub(crate) struct Outputs(Vec<(PathBuf, Vec<u8>)>);

impl Outputs {
    /// Adds files.
    pub(crate) fn add_all(&mut self, files: impl IntoIterator<Item = (PathBuf, Vec<u8>)>) {
        self.0.extend(files);
    }

    /// Writes them all. When one cannot be written, none is: files that did not exist before are taken away
    /// again. Files that were replaced by then stay replaced, which happens only if moving a file fails
    /// although one could be written beside its place.
    pub(crate) fn write(self) -> Outcome<Vec<PathBuf>> {
        let mut written = Vec::new();
        for (path, bytes) in self.0 {
            let (path, folder) = place(&path)?;
            let mut file = temporary(&folder).map_err(|error| unwritable(&path, &error))?;
            file.write_all(&bytes)
                .and_then(|()| file.flush())
                // On the disk before it takes an earlier file's place, so that losing power loses neither.
                .and_then(|()| if path.exists() { file.as_file().sync_all() } else { Ok(()) })
                .map_err(|error| unwritable(&path, &error))?;
            written.push((path, file));
        }
        let mut moved: Vec<(PathBuf, bool)> = Vec::new();
        for (path, file) in written {
            let existed = path.exists();
            if let Err(error) = file.persist(&path) {
                for (path, existed) in &moved {
                    if !existed {
                        let _gone_already = fs::remove_file(path);
                    }
                }
                return Err(unwritable(&path, &error.error));
            }
            moved.push((path, existed));
        }
        Ok(moved.into_iter().map(|(path, _)| path).collect())
    }
}

/// Whether these files could be written and are neither each other nor one of the files read.
pub(crate) fn check_places<'a>(places: impl IntoIterator<Item = &'a Path>, read: &Path) -> Outcome<()> {
    let read = fs::canonicalize(read).ok();
    let mut seen: Vec<PathBuf> = Vec::new();
    for path in places {
        let (path, folder) = place(path)?;
        if read.is_some() && fs::canonicalize(&path).ok() == read {
            return Err(Failure::file(
                &path,
                "this would replace the file that is read; choose another name for the output",
            ));
        }
        // The same file may be written `a.mid` and `./a.mid`.
        let name = path.file_name().unwrap_or_default();
        let really = fs::canonicalize(folder).map(|folder| folder.join(name)).unwrap_or(path.clone());
        if seen.contains(&really) {
            return Err(Failure::file(&path, "two outputs go to this file; give each a name of its own"));
        }
        seen.push(really);
    }
    Ok(())
}

/// The file really meant by a path (links followed), and its folder.
fn place(path: &Path) -> Outcome<(PathBuf, PathBuf)> {
    let path = if path.is_symlink() {
        fs::canonicalize(path).map_err(|error| unwritable(path, &error))?
    } else {
        path.to_owned()
    };
    match fs::metadata(&path) {
        Ok(metadata) if metadata.is_dir() => {
            return Err(Failure::file(&path, "this is a folder; give the name of a file in it"));
        }
        Ok(metadata) if !metadata.is_file() => {
            return Err(Failure::file(&path, "this is no ordinary file; give another name"));
        }
        _ => {}
    }
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.to_owned(),
        _ => PathBuf::from("."),
    };
    if path.file_name().is_none() {
        return Err(Failure::file(&path, "this names no file; give the name of a file"));
    }
    if !folder.exists() {
        let message = format!("the folder {} does not exist; create it first", folder.display());
        return Err(Failure::file(&path, message));
    }
    if !folder.is_dir() {
        let message = format!("{} is a file, not a folder; give another path", folder.display());
        return Err(Failure::file(&path, message));
    }
    Ok((path, folder))
}

/// A file in `folder` that takes itself away unless it is moved to its place.
fn temporary(folder: &Path) -> std::io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".figwort-");
    // As any new file has, less the user's mask; a temporary file would be readable by its owner only.
    #[cfg(unix)]
    let ordinary = std::os::unix::fs::PermissionsExt::from_mode(0o666);
    #[cfg(unix)]
    builder.permissions(ordinary);
    builder.tempfile_in(folder)
}

fn unwritable(path: &Path, error: &std::io::Error) -> Failure {
    // The temporary file's own path, which the library adds, would only confuse.
    let reason = match error.raw_os_error() {
        Some(code) => std::io::Error::from_raw_os_error(code).to_string(),
        None => error.kind().to_string(),
    };
    let remedy = match error.kind() {
        std::io::ErrorKind::StorageFull
        | std::io::ErrorKind::QuotaExceeded
        | std::io::ErrorKind::FileTooLarge => "make room there or choose another place",
        _ => "choose a place where you may write",
    };
    Failure::file(path, format!("cannot be written ({reason}); {remedy}"))
}
