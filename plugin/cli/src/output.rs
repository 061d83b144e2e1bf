//! Writing files, all of them or none.
//!
//! Each file is first written whole beside its place and then moved there, so that nobody ever finds half of one.
//! The places are looked at before any work is done: none of them is another's, or a file that is read.
//!
//! Deliberately absent: asking. A file of an earlier run, or whatever else is in a place, is replaced.

mod unfinished;

use std::collections::{BTreeMap, BTreeSet};
use std::ffi::OsString;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

pub(crate) use unfinished::{Folders, stop};

use crate::failure::{Failure, Outcome};
use unfinished::Unfinished;

/// Where everything of a run goes, and what it reads.
#[derive(Debug, Default)]
pub(crate) struct Places {
    /// Files that are read, as the system names them.
    read: BTreeSet<PathBuf>,
    /// Places that are taken, by what is compared.
    taken: BTreeMap<PathBuf, PathBuf>,
}

impl Places {
    /// No place is taken yet; none of these files may be replaced.
    pub(crate) fn sparing(read: impl IntoIterator<Item = impl AsRef<Path>>) -> Self {
        let read = read.into_iter().filter_map(|path| fs::canonicalize(path).ok()).collect();
        Self { read, taken: BTreeMap::new() }
    }

    /// Takes a place for a file.
    ///
    /// # Errors
    /// When no file can be written there, it is one that is read, or it is taken.
    pub(crate) fn take(&mut self, path: &Path) -> Outcome<()> {
        self.free(path)?;
        self.taken.insert(compared(path), path.to_owned());
        Ok(())
    }

    /// Whether a place is taken.
    pub(crate) fn taken(&self, path: &Path) -> bool {
        self.taken.contains_key(&compared(path))
    }

    /// The same as [`Self::take`] without taking it.
    pub(crate) fn free(&self, path: &Path) -> Outcome<()> {
        let (really, _) = place(path)?;
        if fs::canonicalize(&really).is_ok_and(|really| self.read.contains(&really)) {
            return Err(Failure::file(
                path,
                "this would replace a file that is read; choose another name for the output",
            ));
        }
        match self.taken.get(&compared(path)) {
            None => Ok(()),
            Some(other)
                if other.file_name().map(lowered) == path.file_name().map(lowered)
                    && other.file_name() != path.file_name() =>
            {
                let message = format!(
                    "some systems do not tell this file from {}; give each a name of its own",
                    other.display()
                );
                Err(Failure::file(path, message))
            }
            Some(_) => Err(Failure::file(path, "two outputs go to this file; give each a name of its own")),
        }
    }
}

/// What two paths to one file have in common: the same file may be written `a.mid` and `./a.mid`, and on some systems
/// `A.mid`.
fn compared(path: &Path) -> PathBuf {
    let path = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let folder = fs::canonicalize(folder).unwrap_or_else(|_| folder.to_owned());
    folder.join(path.file_name().map(lowered).unwrap_or_default())
}

/// A name in small letters; as it is where it is no text.
fn lowered(name: &std::ffi::OsStr) -> OsString {
    name.to_str().map_or_else(|| name.to_owned(), |name| name.to_lowercase().into())
}

/// Files to be written.
#[derive(Debug)]
pub(crate) struct Outputs<'a> {
    places: &'a Places,
    files: Vec<(PathBuf, Vec<u8>)>,
}

impl<'a> Outputs<'a> {
    /// None yet, for places that were taken.
    pub(crate) fn new(places: &'a Places) -> Self {
        Self { places, files: Vec::new() }
    }

    /// Adds what goes to a place that was taken: a file there, or several beside it.
    ///
    /// # Errors
    /// When one of those beside it would go where it may not.
    pub(crate) fn add(&mut self, place: &Path, files: Vec<(PathBuf, Vec<u8>)>) -> Outcome<()> {
        for (path, _) in files.iter().filter(|(path, _)| path != place) {
            self.places.free(path)?;
        }
        self.files.extend(files);
        Ok(())
    }

    /// Writes them all, and waits until the disk has them. When one cannot be written, none is: files that did not
    /// exist before are taken away again. Files that were replaced by then stay replaced, which happens only if
    /// moving a file fails although one could be written beside its place.
    pub(crate) fn write(self) -> Outcome<Vec<PathBuf>> {
        let mut written = Vec::new();
        for (path, bytes) in self.files {
            let (path, folder) = place(&path)?;
            let write = || {
                let mut file = Unfinished::new_in(&folder)?;
                file.write_all(&bytes)?;
                // On the disk before it takes its place, so that losing power leaves no half of it, nor loses an
                // earlier file.
                file.sync()?;
                Ok(file)
            };
            let file = write().map_err(|error| unwritable(&path, "written", &error))?;
            written.push((path, file));
        }
        unfinished::settle(written).map_err(|(path, error)| unwritable(&path, "written", &error))
    }
}

/// Whether files can be written in a folder, by trying.
///
/// # Errors
/// What the system says against it.
pub(crate) fn try_folder(folder: &Path) -> Outcome<()> {
    match Unfinished::new_in(folder) {
        Ok(_) => Ok(()),
        Err(error) => Err(unwritable(folder, "written into", &error)),
    }
}

/// The file really meant by a path (links followed), and its folder.
fn place(path: &Path) -> Outcome<(PathBuf, PathBuf)> {
    match fs::metadata(path) {
        Ok(metadata) if metadata.is_dir() => {
            return Err(Failure::file(path, "this is a folder; give the name of a file in it"));
        }
        Ok(metadata) if !metadata.is_file() => {
            return Err(Failure::file(path, "this is no ordinary file; give another name"));
        }
        Err(error) if path.is_symlink() && error.kind() == io::ErrorKind::NotFound => {
            let message = "this is a link to a file that is not there; remove the link or give another name";
            return Err(Failure::file(path, message));
        }
        _ => {}
    }
    let path = if path.is_symlink() {
        fs::canonicalize(path).map_err(|error| unwritable(path, "written", &error))?
    } else {
        path.to_owned()
    };
    if path.file_name().is_none() {
        return Err(Failure::file(&path, "this names no file; give the name of a file"));
    }
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.to_owned(),
        _ => PathBuf::from("."),
    };
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

/// A file or folder that cannot be `written`, or whatever else was tried.
pub(crate) fn unwritable(path: &Path, tried: &str, error: &io::Error) -> Failure {
    // Its kind in words, as the whole error has numbers, or a temporary file's path, which would only confuse.
    let kind = error.kind().to_string();
    let reason = match error.raw_os_error() {
        Some(code) if kind == "uncategorized error" => io::Error::from_raw_os_error(code).to_string(),
        _ => kind,
    };
    let remedy = match error.kind() {
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded | io::ErrorKind::FileTooLarge => {
            "make room there or choose another place"
        }
        _ => "choose a place where you may write",
    };
    Failure::file(path, format!("cannot be {tried} ({reason}); {remedy}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_is_taken_once_however_it_is_written() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = |name: &str| folder.path().join(name);
        fs::write(path("read.mid"), "").expect("written");
        let mut places = Places::sparing([path("read.mid"), path("gone.abc")]);
        places.take(&path("a.mid")).expect("free");
        for (name, words) in [
            ("a.mid", "two outputs go to this file"),
            ("./a.mid", "two outputs go to this file"),
            ("A.mid", "some systems do not tell this file from"),
            ("read.mid", "a file that is read"),
        ] {
            let refused = places.take(&path(name)).expect_err(name).to_string();
            assert!(refused.contains(words), "{name}: {refused}");
        }
        places.take(&path("b.mid")).expect("free");
        // A page beside a place is looked at when it is known.
        let mut outputs = Outputs::new(&places);
        outputs.add(&path("c.svg"), vec![(path("c-1.svg"), Vec::new())]).expect("free");
        assert!(outputs.add(&path("c.svg"), vec![(path("b.mid"), Vec::new())]).is_err());
    }
}
