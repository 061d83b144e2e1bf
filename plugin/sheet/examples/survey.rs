//! Reads every ABC and MusicXML file (.abc, .musicxml, .xml, .mxl) of the folders given and prints what was understood: per folder the tunes, bars,
//! notes, chord changes, chord symbols not known, bars that do not add up and seams that do not (a short bar at
//! a section's end that the bar played after it does not complete), then the warnings by kind and the tunes
//! that could not be read.
//!
//! `cargo run -p figwort-sheet --example survey -- FOLDER…` (searched with their subfolders).
#![allow(clippy::print_stdout, clippy::print_stderr, reason = "a command-line example")]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use figwort_sheet::{Format, Sheet, SheetError, abc, read, sniff};
use figwort_theory::Span;

fn main() {
    let folders: Vec<PathBuf> = std::env::args_os().skip(1).map(PathBuf::from).collect();
    if folders.is_empty() {
        eprintln!("say which folders to survey");
        std::process::exit(2);
    }
    println!("{:<24} files tunes  bars notes chords unknown  uneven  seams unread", "folder");
    let mut details = Vec::new();
    for folder in &folders {
        let survey = survey(folder);
        println!(
            "{:<24} {:>5} {:>5} {:>5} {:>5} {:>6} {:>7} {:>7} {:>6} {:>6}",
            folder.file_name().unwrap_or_default().to_string_lossy(),
            survey.files,
            survey.tunes,
            survey.bars,
            survey.notes,
            survey.chords,
            survey.unknown,
            survey.uneven,
            survey.seams,
            survey.unread.len()
        );
        details.push((folder, survey));
    }
    for (folder, survey) in details {
        println!("\n{}", folder.display());
        for (kind, (count, example)) in &survey.kinds {
            println!("{count:>6}  {kind}\n        first: {example}");
        }
        for text in &survey.unread {
            println!("unread  {text}");
        }
    }
}

#[derive(Default)]
struct Survey {
    files: usize,
    tunes: usize,
    bars: usize,
    notes: usize,
    chords: usize,
    unknown: usize,
    uneven: usize,
    seams: usize,
    kinds: BTreeMap<String, (usize, String)>,
    unread: Vec<String>,
}

fn survey(folder: &Path) -> Survey {
    let mut survey = Survey::default();
    for path in sheet_files(folder) {
        survey.files += 1;
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let Ok(bytes) = std::fs::read(&path) else {
            survey.unread.push(format!("{name}: the file could not be read"));
            continue;
        };
        if sniff(&bytes) != Format::Abc {
            survey.add(&name, read(&bytes, None));
            continue;
        }
        match abc::read_all(&bytes) {
            Ok(sheets) => {
                for ((number, title), sheet) in abc::tunes(&bytes).into_iter().zip(sheets) {
                    survey.add(&format!("{name} X:{number} {title}"), sheet);
                }
            }
            Err(error) => survey.unread.push(format!("{name}: {error}")),
        }
    }
    survey
}

impl Survey {
    fn add(&mut self, name: &str, sheet: Result<Sheet, SheetError>) {
        let sheet = match sheet {
            Ok(sheet) => sheet,
            Err(error) => {
                self.unread.push(format!("{name}: {error}"));
                return;
            }
        };
        self.tunes += 1;
        self.bars += sheet.bars.len();
        self.notes += sheet.melody.len();
        self.chords += sheet.chords.len();
        self.seams += seams(&sheet);
        for warning in &sheet.warnings {
            self.unknown += usize::from(warning.text.contains("is not known"));
            self.uneven += usize::from(warning.text.starts_with("its notes make"));
            let example = format!("{name}: {warning}");
            let entry = self.kinds.entry(kind(&warning.text)).or_insert((0, example));
            entry.0 += 1;
        }
    }
}

/// Short bars, neither the first nor the last, that do not make a full one with the bar played next.
fn seams(sheet: &Sheet) -> usize {
    let mut count = 0;
    let mut bars = sheet.bars.iter().skip_while(|bar| bar.number == 0).peekable();
    while let Some(bar) = bars.next() {
        let missing = bar.metre.bar() - bar.length;
        if missing <= Span::ZERO {
            continue;
        }
        match bars.peek() {
            Some(next) if next.length == missing => drop(bars.next()),
            Some(_) => count += 1,
            None => {}
        }
    }
    count
}

/// A warning's text without what differs from case to case.
fn kind(text: &str) -> String {
    let mut quoted = false;
    text.chars()
        .filter_map(|c| {
            quoted ^= c == '"';
            if quoted && c != '"' { None } else { Some(if c.is_ascii_digit() { '#' } else { c }) }
        })
        .collect()
}

fn is_sheet(path: &Path) -> bool {
    let extension = path.extension().and_then(|extension| extension.to_str()).unwrap_or_default();
    ["abc", "musicxml", "xml", "mxl"].iter().any(|known| extension.eq_ignore_ascii_case(known))
}

fn sheet_files(folder: &Path) -> Vec<PathBuf> {
    let mut files = Vec::new();
    let mut folders = vec![folder.to_path_buf()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
            let path = entry.path();
            if path.is_dir() {
                folders.push(path);
            } else if is_sheet(&path) {
                files.push(path);
            }
        }
    }
    files.sort();
    files
}
