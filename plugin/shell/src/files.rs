//! The player's files: read with a limit, written whole or not at all.
//!
//! Errors are in words, what is wrong and what to do; the caller puts the file's name before them. Not for the audio
//! thread.

use std::fs::{self, File};
use std::io::{Error, ErrorKind, Read, Write};
use std::path::{Path, PathBuf};

use tempfile::{NamedTempFile, PersistError};

/// Reads an ordinary file of at most `most` bytes. A pipe or a device, which might never end, is not even opened.
///
/// # Errors
/// In words, which end with `advice`.
pub(crate) fn read(path: &Path, most: u64, advice: &str) -> Result<Vec<u8>, String> {
    let unreadable = |error: Error| match error.kind() {
        ErrorKind::NotFound => format!("there is no such file; {advice}"),
        ErrorKind::PermissionDenied => format!("you are not permitted to read it; {advice}"),
        _ => format!("{}; {advice}", reason(&error)),
    };
    let about = fs::metadata(path).map_err(unreadable)?;
    if about.is_dir() {
        return Err(format!("is a folder; {advice}"));
    }
    if !about.is_file() {
        return Err(format!("is no ordinary file; {advice}"));
    }
    let mut bytes = Vec::new();
    // The length is no promise: the file may be growing.
    File::open(path).and_then(|file| file.take(most + 1).read_to_end(&mut bytes)).map_err(unreadable)?;
    if bytes.len() as u64 > most {
        let (most, unit) = if most < 1 << 20 { (most >> 10, "kB") } else { (most >> 20, "MB") };
        return Err(format!("is larger than {most} {unit}; {advice}"));
    }
    Ok(bytes)
}

/// A file that is on the disk, but not yet in its place: whatever happens now, what is there stays whole. It takes
/// itself away unless it is moved.
#[derive(Debug)]
pub(crate) struct Written(NamedTempFile);

impl Written {
    /// Writes bytes into a folder, which is made if need be.
    ///
    /// # Errors
    /// In words, when there is no room or it may not be written; then nothing is left behind.
    pub(crate) fn new(bytes: &[u8], folder: &Path) -> Result<Self, String> {
        let write = || {
            fs::create_dir_all(folder)?;
            let mut builder = tempfile::Builder::new();
            builder.prefix(".figwort-");
            // As any new file has, less the user's mask; a temporary file would be readable by its owner only.
            #[cfg(unix)]
            let ordinary = std::os::unix::fs::PermissionsExt::from_mode(0o666);
            #[cfg(unix)]
            builder.permissions(ordinary);
            let mut file = builder.tempfile_in(folder)?;
            file.write_all(bytes)?;
            // Before it takes a place, so that losing power loses neither the old nor the new.
            file.as_file().sync_all()?;
            Ok(Self(file))
        };
        write().map_err(|error| unwritable(&error))
    }

    /// Moves it to a place where nothing is; gives it back where something is.
    ///
    /// # Errors
    /// In words, when it cannot be moved.
    pub(crate) fn new_at(self, path: &Path) -> Result<Option<Self>, String> {
        match self.0.persist_noclobber(path) {
            Ok(_) => {
                settle(path);
                Ok(None)
            }
            Err(PersistError { error, file }) if error.kind() == ErrorKind::AlreadyExists => {
                Ok(Some(Self(file)))
            }
            Err(PersistError { error, .. }) => Err(unwritable(&error)),
        }
    }

    /// Moves it to a place, instead of what may be there.
    ///
    /// # Errors
    /// In words, when it cannot be moved; what was there stays.
    #[cfg_attr(
        not(any(feature = "standalone", test)),
        allow(dead_code, reason = "a plugin's settings are the host's")
    )]
    pub(crate) fn over(self, path: PathBuf) -> Result<(), String> {
        match self.0.persist(&path) {
            Ok(_) => {
                settle(&path);
                Ok(())
            }
            Err(PersistError { error, .. }) => Err(unwritable(&error)),
        }
    }
}

/// Has the disk remember the folder as well, so that losing power does not lose the place of a file that is whole. Where
/// folders cannot be opened for that, the system writes them in its own time.
fn settle(path: &Path) {
    if cfg!(unix)
        && let Some(folder) = path.parent().and_then(|folder| File::open(folder).ok())
    {
        let _ = folder.sync_all();
    }
}

/// Why something could not be written, and what to do.
fn unwritable(error: &Error) -> String {
    let advice = match error.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::FileTooLarge => "make room there",
        _ => "make it a folder where you may write",
    };
    format!("cannot be written ({}); {advice}", reason(error))
}

/// An error without the temporary file's path, which would only confuse.
fn reason(error: &Error) -> String {
    error
        .raw_os_error()
        .map_or_else(|| error.kind().to_string(), |code| Error::from_raw_os_error(code).to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_ordinary_file_is_not_opened() {
        let folder = tempfile::tempdir().expect("a folder");
        let read = |path: &Path| read(path, 2_048, "choose another").expect_err("no file");
        assert_eq!(read(folder.path()), "is a folder; choose another");
        let large = folder.path().join("large");
        fs::write(&large, [0; 2_049]).expect("written");
        assert_eq!(read(&large), "is larger than 2 kB; choose another");
        assert_eq!(read(&folder.path().join("gone")), "there is no such file; choose another");
        #[cfg(unix)]
        {
            // Nobody ever writes into it: opening it would wait for ever.
            let pipe = folder.path().join("pipe");
            let made = std::process::Command::new("mkfifo").arg(&pipe).status().expect("mkfifo");
            assert!(made.success());
            assert_eq!(read(&pipe), "is no ordinary file; choose another");
        }
    }

    #[test]
    fn a_file_is_replaced_whole() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("deeper").join("file");
        for text in ["one", "another"] {
            Written::new(text.as_bytes(), &folder.path().join("deeper"))
                .expect("written")
                .over(path.clone())
                .expect("moved");
            assert_eq!(fs::read_to_string(&path).expect("there"), text);
        }
        // Where it cannot go, what is there stays, and nothing is left behind.
        let written = Written::new(b"third", folder.path()).expect("written");
        let back = written.new_at(&path).expect("no fault").expect("given back");
        assert!(back.over(folder.path().join("deeper")).is_err());
        assert_eq!(fs::read_to_string(&path).expect("there"), "another");
        assert_eq!(fs::read_dir(folder.path()).expect("a folder").count(), 1);
    }

    /// New files may be read as the player wishes it of new files: the mask is set for this test, run once more alone.
    #[cfg(unix)]
    #[test]
    fn files_keep_to_the_mask() {
        use std::os::unix::fs::PermissionsExt;
        use std::process::Command;
        const PLACE: &str = "FIGWORT_MASKED_FILE";
        if let Some(path) = std::env::var_os(PLACE).map(PathBuf::from) {
            let folder = path.parent().expect("a folder");
            Written::new(b"text", folder).expect("written").over(path.clone()).expect("moved");
            return;
        }
        let folder = tempfile::tempdir().expect("a folder");
        for (mask, mode) in [("022", 0o644), ("077", 0o600), ("002", 0o664)] {
            let path = folder.path().join(mask);
            let status = Command::new("sh")
                .args(["-c", "umask \"$1\"; exec \"$0\" --exact files::tests::files_keep_to_the_mask"])
                .arg(std::env::current_exe().expect("this program"))
                .arg(mask)
                .env(PLACE, &path)
                .output()
                .expect("run");
            assert!(status.status.success(), "{status:?}");
            assert_eq!(fs::metadata(&path).expect("there").permissions().mode() & 0o777, mode);
        }
    }
}
