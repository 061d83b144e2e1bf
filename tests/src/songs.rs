//! The demonstration songs.

use std::path::{Path, PathBuf};

use figwort_sheet::Sheet;

/// Their files, by name.
pub fn paths() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../presets/songs");
    let mut paths: Vec<PathBuf> = std::fs::read_dir(folder)
        .expect("the songs")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "abc"))
        .collect();
    paths.sort();
    assert!(paths.len() >= 3, "only {} songs", paths.len());
    paths
}

/// Each with the name of its file, without the ending.
pub fn sheets() -> Vec<(String, Sheet)> {
    let read = |path: PathBuf| {
        let sheet = figwort_sheet::read(&std::fs::read(&path).expect("a song"), None).expect("a sheet");
        (path.file_stem().expect("a name").to_string_lossy().into_owned(), sheet)
    };
    paths().into_iter().map(read).collect()
}
