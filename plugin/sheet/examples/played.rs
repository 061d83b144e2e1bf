//! Prints what is played of each sheet, and of each tune of an ABC file, as a line of JSON, for comparing with
//! other readers: bars (start, length, number), notes (onset, length, MIDI key) and chords (onset, symbol, root
//! and bass as pitch classes or -1, kind, intervals above the root as bits), all times in quarter notes.
//!
//! `cargo run -p figwort-sheet --example played -- FILE… > played.jsonl`
#![allow(clippy::print_stdout, clippy::print_stderr, reason = "a command-line example")]

use figwort_sheet::{Bar, ChordChange, Format, Note, Sheet, SheetError, abc, read, sniff};
use serde_json::{Value, json};

fn main() {
    for path in std::env::args_os().skip(1) {
        let file = path.to_string_lossy();
        let bytes = std::fs::read(&path).map_err(|error| error.to_string());
        let tunes = bytes.and_then(|bytes| tunes(&bytes).map_err(|error| error.to_string()));
        match tunes {
            Ok(tunes) => {
                for (number, sheet) in tunes {
                    match sheet {
                        Ok(sheet) => println!("{}", played(&file, number, &sheet)),
                        Err(error) => eprintln!("{file}, X:{number}: {error}"),
                    }
                }
            }
            Err(error) => eprintln!("{file}: {error}"),
        }
    }
}

type Tunes = Vec<(usize, Result<Sheet, SheetError>)>;

/// Every tune with its number; 0 for formats that hold one.
fn tunes(bytes: &[u8]) -> Result<Tunes, SheetError> {
    if sniff(bytes) != Format::Abc {
        return Ok(vec![(0, read(bytes, None))]);
    }
    let numbers = abc::tunes(bytes).into_iter().map(|(number, _)| number);
    Ok(numbers.zip(abc::read_all(bytes)?).collect())
}

fn played(file: &str, tune: usize, sheet: &Sheet) -> Value {
    let bar = |bar: &Bar| json!([bar.start.since_zero().in_quarters(), bar.length.in_quarters(), bar.number]);
    let note = |note: &Note| {
        json!([note.at.since_zero().in_quarters(), note.length.in_quarters(), note.pitch.key()])
    };
    let chord = |change: &ChordChange| {
        let at = change.at.since_zero().in_quarters();
        match change.symbol.chord {
            Some(chord) => json!([
                at,
                change.symbol.to_string(),
                chord.root.number(),
                chord.bass.number(),
                chord.kind.musicxml(),
                chord.intervals().bits()
            ]),
            None => json!([at, "N.C.", -1, -1, "none", 0]),
        }
    };
    json!({
        "file": file,
        "tune": tune,
        "title": sheet.title,
        "bars": sheet.bars.iter().map(bar).collect::<Vec<_>>(),
        "notes": sheet.melody.iter().map(note).collect::<Vec<_>>(),
        "chords": sheet.chords.iter().map(chord).collect::<Vec<_>>(),
        "warnings": sheet.warnings.iter().map(ToString::to_string).collect::<Vec<_>>(),
    })
}
