//! Prints sheets as JSON lines, for comparing with other readers: title, bars, notes and chords in quarter notes.
//!
//! `cargo run -p figwort-sheet --example dump_sheet -- FILE…`
#![allow(clippy::print_stdout, clippy::print_stderr, reason = "a command-line example")]

use figwort_sheet::{Sheet, read};
use figwort_theory::Kind;

fn main() {
    for path in std::env::args_os().skip(1) {
        let name = path.to_string_lossy().into_owned();
        match std::fs::read(&path)
            .map_err(|error| error.to_string())
            .and_then(|bytes| read(&bytes, None).map_err(|error| error.to_string()))
        {
            Ok(sheet) => println!("{}", line(&name, &sheet)),
            Err(error) => eprintln!("{name}: {error}"),
        }
    }
}

fn line(name: &str, sheet: &Sheet) -> String {
    let list = |items: Vec<String>| format!("[{}]", items.join(","));
    let notes = sheet.melody.iter().map(|note| {
        format!("[{},{},{}]", note.at.since_zero().in_quarters(), note.length.in_quarters(), note.pitch.key())
    });
    let bars = sheet.bars.iter().map(|bar| {
        format!("[{},{},{}]", bar.start.since_zero().in_quarters(), bar.length.in_quarters(), bar.number)
    });
    let chords = sheet.chords.iter().map(|change| {
        let at = change.at.since_zero().in_quarters();
        match change.symbol.chord {
            Some(chord) => format!(
                "[{at},\"{}\",{},{},\"{}\",{}]",
                change.symbol,
                chord.root.number(),
                chord.bass.number(),
                Kind::musicxml(chord.kind),
                chord.intervals().bits()
            ),
            None => format!("[{at},\"N.C.\",-1,-1,\"none\",0]"),
        }
    });
    let warnings = sheet.warnings.iter().map(|warning| format!("{:?}", warning.to_string()));
    format!(
        "{{\"file\":{name:?},\"bars\":{},\"notes\":{},\"chords\":{},\"warnings\":{}}}",
        list(bars.collect()),
        list(notes.collect()),
        list(chords.collect()),
        list(warnings.collect())
    )
}
