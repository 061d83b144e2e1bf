//! `cargo xtask pictures`: the demo tunes' parts engraved, to be looked at.
//!
//! The engraver is a Python package used for nothing else; it gets a virtual environment in the target folder.

use std::path::{Path, PathBuf};
use std::process::Command;

use anyhow::{Context, Result, bail};

use crate::run;

const RUNGS: [&str; 5] = ["plain", "spaced", "shared", "flowing", "ornate"];

/// Writes every demo tune on every rung as MusicXML and engraves it, page by page, in `target/pictures`.
pub(crate) fn engraved() -> Result<()> {
    let root = crate::root()?;
    let out = crate::target()?.join("pictures");
    std::fs::create_dir_all(&out).with_context(|| format!("{} cannot be made", out.display()))?;
    run::headline("Writing the parts");
    let mut scores = Vec::new();
    for song in songs(&root)? {
        let stem = song.file_stem().context("a song without a name")?.to_string_lossy().into_owned();
        for rung in RUNGS {
            let score = out.join(format!("{stem}.{rung}.musicxml"));
            let mut command = run::cargo(&["run", "--quiet", "-p", "figwort-cli", "--", "arrange"])?;
            command.arg(&song).args(["--elaboration", rung, "--score"]).arg(&score);
            run::run(&mut command)?;
            scores.push(score);
        }
    }
    let python = engraver(&root)?;
    run::headline("Engraving");
    run::run(Command::new(python).arg(root.join("xtask/engrave.py")).arg(&out).args(&scores))
}

/// The demo tunes.
fn songs(root: &Path) -> Result<Vec<PathBuf>> {
    let folder = root.join("presets/songs");
    let mut songs = Vec::new();
    for entry in std::fs::read_dir(&folder).with_context(|| format!("no {}", folder.display()))? {
        let path = entry?.path();
        if path.extension().is_some_and(|ending| ending == "abc") {
            songs.push(path);
        }
    }
    songs.sort();
    Ok(songs)
}

/// The Python of an environment with the engraver in it, made if need be.
fn engraver(root: &Path) -> Result<PathBuf> {
    let home = crate::target()?.join("engraver");
    let python = home.join(if cfg!(windows) { "Scripts/python.exe" } else { "bin/python" });
    let works = |python: &Path| run::succeeds(python, &["-c", "import verovio, cairosvg"]);
    if !works(&python) {
        run::headline("Installing the engraver");
        run::run(Command::new("python3").args(["-m", "venv"]).arg(&home))?;
        run::run(
            Command::new(&python)
                .args(["-m", "pip", "install", "--quiet", "-r"])
                .arg(root.join("xtask/engraver.txt")),
        )?;
        if !works(&python) {
            bail!("the engraver in {} does not start; delete that folder and try again", home.display());
        }
    }
    Ok(python)
}
