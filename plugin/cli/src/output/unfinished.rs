//! What is being written and not yet in its place: it goes away when the program is stopped before.
//!
//! Files and empty folders alike are known here to the thread that hears Ctrl-C. A set of files is moved to its
//! places while that thread waits, so that a stop leaves all of them or none.
//!
//! Deliberately absent: a hearing for what cannot be heard. A program that is killed outright leaves hidden files
//! (`.figwort-` and some letters), which are safe to delete.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process;
use std::sync::{Mutex, MutexGuard, PoisonError};

use tempfile::NamedTempFile;

/// What goes away at a stop.
struct Known {
    files: BTreeSet<PathBuf>,
    /// Folders that were made, outer ones first; only those that are empty go.
    folders: Vec<PathBuf>,
}

static KNOWN: Mutex<Known> = Mutex::new(Known { files: BTreeSet::new(), folders: Vec::new() });

/// Exit code of a program that was stopped: 128 and the number of the signal that Ctrl-C gives, as shells count.
const STOPPED: i32 = 130;

fn known() -> MutexGuard<'static, Known> {
    KNOWN.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Ends the program, leaving nothing half-written.
pub(crate) fn stop() -> ! {
    // Held until the end: nothing is begun or moved from here on.
    let known = known();
    for file in &known.files {
        let _gone_already = fs::remove_file(file);
    }
    clear(&known.folders);
    process::exit(STOPPED)
}

/// Takes away those of the folders in which nothing is, inner ones first.
fn clear(folders: &[PathBuf]) {
    for folder in folders.iter().rev() {
        let _in_use = fs::remove_dir(folder);
    }
}

/// A file beside its place. It takes itself away unless it is moved there.
pub(super) struct Unfinished(NamedTempFile);

impl Unfinished {
    /// An empty one, in the folder in which it is to stay.
    pub(super) fn new_in(folder: &Path) -> io::Result<Self> {
        let mut builder = tempfile::Builder::new();
        builder.prefix(".figwort-");
        // As any new file has, less the user's mask; a temporary file would be readable by its owner only.
        #[cfg(unix)]
        let ordinary = std::os::unix::fs::PermissionsExt::from_mode(0o666);
        #[cfg(unix)]
        builder.permissions(ordinary);
        let mut known = known();
        let file = builder.tempfile_in(folder)?;
        known.files.insert(file.path().to_owned());
        Ok(Self(file))
    }

    pub(super) fn write_all(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.0.write_all(bytes)?;
        self.0.flush()
    }

    /// Waits until the disk has it.
    pub(super) fn sync(&self) -> io::Result<()> {
        self.0.as_file().sync_all()
    }
}

/// Moves files to their places, all of them or none as far as the system goes along, and answers the places.
///
/// # Errors
/// The first that could not be moved, and why.
pub(super) fn settle(files: Vec<(PathBuf, Unfinished)>) -> Result<Vec<PathBuf>, (PathBuf, io::Error)> {
    let mut moved: Vec<(PathBuf, bool)> = Vec::new();
    {
        let mut known = known();
        for (path, Unfinished(file)) in files {
            let existed = path.exists();
            let begun = file.path().to_owned();
            let kept = file.persist(&path);
            known.files.remove(&begun);
            if let Err(error) = kept {
                for (path, _) in moved.iter().filter(|(_, existed)| !existed) {
                    let _gone_already = fs::remove_file(path);
                }
                return Err((path, error.error));
            }
            moved.push((path, existed));
        }
    }
    // The disk has the files; it is to have their places, too.
    let folders: BTreeSet<&Path> = moved.iter().filter_map(|(path, _)| path.parent()).collect();
    folders.into_iter().for_each(sync_folder);
    Ok(moved.into_iter().map(|(path, _)| path).collect())
}

/// Has the disk remember a folder. Where folders cannot be opened for that, the system writes them in its own time.
fn sync_folder(folder: &Path) {
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    if cfg!(unix)
        && let Ok(folder) = File::open(folder)
    {
        let _ = folder.sync_all();
    }
}

/// Folders that were made for files. Those in which nothing came to lie are taken away at the end.
#[derive(Debug, Default)]
pub(crate) struct Folders(Vec<PathBuf>);

impl Folders {
    /// Makes a folder, and those above it, if they are not there.
    pub(crate) fn make(&mut self, folder: &Path) -> io::Result<()> {
        let missing = folder.ancestors().take_while(|above| !above.as_os_str().is_empty() && !above.exists());
        let missing: Vec<&Path> = missing.collect();
        let mut known = known();
        for folder in missing.into_iter().rev() {
            fs::create_dir(folder)?;
            self.0.push(folder.to_owned());
            known.folders.push(folder.to_owned());
        }
        // It may be a file, or a link that leads nowhere.
        if folder.is_dir() { Ok(()) } else { Err(io::ErrorKind::NotADirectory.into()) }
    }
}

impl Drop for Folders {
    fn drop(&mut self) {
        let mut known = known();
        clear(&self.0);
        known.folders.retain(|folder| !self.0.contains(folder));
    }
}
