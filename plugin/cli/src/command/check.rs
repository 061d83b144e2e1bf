//! `figwort check`: reads files and says what is wrong with them.

use std::path::{Path, PathBuf};

use figwort_preset::{Added, Library};
use figwort_sheet::take::{self, Take, TakeMessage};
use figwort_sheet::{Format, Sheet, sniff};

use crate::args::Check;
use crate::command::part::check_duration;
use crate::command::{arrange, count, tunes};
use crate::failure::{Failure, Outcome};
use crate::{input, news, print};

/// Checks every file; a wrong one never keeps the others from being checked.
pub(crate) fn run(arguments: &Check) -> Outcome<()> {
    let mut files: Vec<PathBuf> = Vec::new();
    let mut failed = 0;
    for path in &arguments.files {
        if path.is_dir() {
            let below = input::tree_below(path, None)?;
            let known = |path: &PathBuf| input::is_sheet(path) || input::extension(path) == "toml";
            files.extend(below.files.into_iter().filter(known));
            for failure in below.unread {
                failed += 1;
                news(&format!("error: {failure}"));
            }
        } else {
            files.push(path.clone());
        }
    }
    if files.is_empty() && failed == 0 {
        let text = format!("nothing to check: no sheet ({}) and no preset (.toml) is there", input::sheets());
        return Err(Failure::could_not(text));
    }
    // Manners may name figures that are checked along with them, in any order.
    let mut library = Library::factory();
    let mut readings = Vec::new();
    for path in &files {
        readings.push(if input::extension(path) == "toml" {
            preset(path, &mut library)
        } else {
            music(path).map(Reading::Music)
        });
    }
    let unread = failed;
    for (path, reading) in files.iter().zip(readings) {
        let said = reading.and_then(|reading| match reading {
            Reading::Music(said) => Ok(said),
            Reading::Preset(Added::Figure(name)) => Ok(format!("figure \"{name}\"")),
            Reading::Preset(Added::Manner(name)) => {
                let manner = library.manner(&name)?;
                Ok(format!("manner \"{name}\", {}", count(manner.figures.len(), "figure")))
            }
        });
        match said {
            Ok(said) => print(&format!("ok    {}: {said}\n", path.display()))?,
            Err(failure) => {
                failed += 1;
                news(&format!("error: {failure}"));
            }
        }
    }
    if failed == 0 {
        Ok(())
    } else {
        let right = files.len() - (failed - unread);
        news(&format!("{right} of {} right", count(files.len(), "file")));
        Err(Failure::could_not(String::new()))
    }
}

enum Reading {
    Preset(Added),
    /// What to say about it.
    Music(String),
}

fn preset(path: &Path, library: &mut Library) -> Outcome<Reading> {
    let text = input::preset_text(path)?;
    Ok(Reading::Preset(library.add(&path.display().to_string(), &text)?))
}

/// Reads a sheet with all its tunes, or a take.
fn music(path: &Path) -> Outcome<String> {
    let bytes = input::bytes(path, input::MAX_SHEET)?;
    if !matches!(sniff(&bytes), Format::Abc | Format::MusicXml | Format::CompressedMusicXml) {
        return midi(path, &bytes);
    }
    let tunes = tunes::all(&bytes);
    if let [(_, tune)] = &tunes[..] {
        return Ok(describe(path, "", tune.as_ref().map_err(|error| Failure::file(path, error))?));
    }
    let (mut right, mut bars, mut warnings) = (0, 0, 0);
    let mut first_wrong = None;
    for (number, tune) in &tunes {
        let number = number.map(|number| format!("X:{number}, ")).unwrap_or_default();
        match tune {
            Ok(sheet) => {
                right += 1;
                bars += sheet.bars.len();
                warnings += arrange::warnings(sheet).len();
                describe(path, &number, sheet);
            }
            Err(error) => {
                let message = format!("{number}{error}");
                match first_wrong {
                    None => first_wrong = Some(message),
                    Some(_) => news(&format!("error: {}: {message}", path.display())),
                }
            }
        }
    }
    match first_wrong {
        Some(message) => Err(Failure::file(path, message)),
        None => Ok(format!("{}, {}{}", count(right, "tune"), count(bars, "bar"), doubts(warnings))),
    }
}

/// A MIDI file may serve as a sheet, as a take, or as both.
fn midi(path: &Path, bytes: &[u8]) -> Outcome<String> {
    let sheet = tunes::one(bytes);
    let take = take::read(bytes).map_err(|error| error.to_string()).and_then(|take| {
        check_duration(&take.tempos, take.end)?;
        Ok(take)
    });
    let mut said: Vec<String> = Vec::new();
    let has_chords = |sheet: &&Sheet| sheet.chords.iter().any(|change| change.symbol.chord.is_some());
    // Without chords it is rather somebody's playing.
    if let Some(sheet) = sheet.as_ref().ok().filter(|sheet| has_chords(sheet) || take.is_err()) {
        said.push(describe(path, "", sheet));
    }
    let is_note = |message: &TakeMessage| matches!(message, TakeMessage::NoteOn { .. });
    let notes = |take: &Take| take.events.iter().filter(|event| is_note(&event.message)).count();
    if let Some(take) = take.as_ref().ok().filter(|take| notes(take) > 0) {
        let known =
            |text: &str| sheet.as_ref().is_ok_and(|sheet| sheet.warnings.iter().any(|w| w.text == text));
        for warning in take.warnings.iter().filter(|warning| said.is_empty() || !known(&warning.text)) {
            news(&format!("warning: {}: {warning}", path.display()));
        }
        said.push(format!("take, {}{}", count(notes(take), "note"), doubts(take.warnings.len())));
    }
    match (said.is_empty(), sheet, take) {
        (true, Err(error), _) | (true, _, Err(error)) => Err(Failure::file(path, error)),
        (true, Ok(_), Ok(_)) => {
            Err(Failure::file(path, "there is no note in this file; record one with notes"))
        }
        _ => Ok(said.join("; ")),
    }
}

/// Says a sheet's warnings and describes it in a few words.
fn describe(path: &Path, tune: &str, sheet: &Sheet) -> String {
    let warnings = arrange::warnings(sheet);
    for warning in &warnings {
        news(&format!("warning: {}: {tune}{warning}", path.display()));
    }
    format!(
        "sheet, {}, {}{}",
        count(sheet.bars.len(), "bar"),
        count(sheet.chords.len(), "chord change"),
        doubts(warnings.len())
    )
}

fn doubts(warnings: usize) -> String {
    if warnings == 0 { String::new() } else { format!(", {}", count(warnings, "warning")) }
}
