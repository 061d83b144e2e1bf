//! Measures Figwort over a folder of sheets and prints tables beside the reference figures.
//!
//! `evaluate reading DIR`: naming and hearing chords, the key, and the chance of long notes. `evaluate voicing
//! DIR`: which notes the accompaniment plays, and in which hand. `evaluate movement DIR`: how it moves against
//! the melody, and its non-chord tones. `cargo xtask evaluate` runs it.
#![allow(clippy::print_stdout, clippy::print_stderr, reason = "talking to the terminal is its job")]

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Result, bail};

mod corpus;
mod grid;
mod hands;
mod key;
mod melody;
mod movement;
mod naming;
mod voicing;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let done = match words.as_slice() {
        ["reading", folder] => reading(Path::new(folder)),
        ["train", file, folders @ ..] if !folders.is_empty() => melody::train(folders, Path::new(file)),
        ["movement", folder] => movement::run(Path::new(folder)),
        ["voicing", folder] => voicing::run(Path::new(folder)),
        _ => {
            eprintln!("usage: evaluate reading|voicing|movement DIR");
            return ExitCode::from(2);
        }
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("error: {error:#}");
            ExitCode::FAILURE
        }
    }
}

/// Where pictures and tables go.
pub(crate) fn output() -> PathBuf {
    std::env::var_os("FIGWORT_EVALUATE").map_or_else(|| PathBuf::from("target/evaluate"), PathBuf::from)
}

fn reading(folder: &Path) -> Result<()> {
    let sheets = corpus::sheets(folder)?;
    if sheets.is_empty() {
        bail!(
            "{} holds no sheet that can be read (.abc, .mid, .musicxml, .mxl); give another folder",
            folder.display()
        );
    }
    let bars: usize = sheets.iter().map(|sheet| sheet.sheet.bars.len()).sum();
    println!("{} tunes, {bars} bars", sheets.len());
    for tune in sheets.iter().filter(|tune| !tune.sheet.warnings.is_empty()) {
        println!("  {}: {} warnings", tune.name, tune.sheet.warnings.len());
    }
    hands::evaluate()?;
    naming::evaluate(folder)?;
    key::evaluate(&sheets)?;
    melody::evaluate(&sheets)?;
    println!("pictures: {}", output().display());
    Ok(())
}
