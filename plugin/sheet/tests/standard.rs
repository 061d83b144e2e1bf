//! Guards what MusicXML 4.0 means: a small file for each feature in `tests/standard`, which names the page of the
//! standard in its head, says what it has there, and states what is to be read of it.
//!
//! `melody: 0 C5, 1.5 D5 2` is onset, pitch and, where a third word stands, length, in quarters; `chords: 0 C` onset
//! and symbol; `bars` are numbers, `lengths` quarters, `sections` the numbers of the bars that begin one, `keys`
//! sharps, `tempos` onset and quarters a minute. No file may give a warning, but that chord symbols are missing.

use std::fs;
use std::path::Path;

use figwort_sheet::Sheet;
use figwort_theory::ChordSymbol;

fn decimal(quarters: f64) -> String {
    format!("{:.3}", quarters).trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// What is read, in the words of the files; a length is told where it is asked for.
fn told(sheet: &Sheet, what: &str, wanted: &str) -> String {
    let list = |items: Vec<String>, between: &str| items.join(between);
    let bars = || sheet.bars.iter();
    let names = ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"];
    match what {
        "melody" => {
            let with_length =
                wanted.split(',').next().is_some_and(|note| note.split_whitespace().count() == 3);
            let note = |note: &figwort_sheet::Note| {
                let name = names[usize::from(note.pitch.key() % 12)];
                let at = decimal(note.at.since_zero().in_quarters());
                let length = if with_length {
                    format!(" {}", decimal(note.length.in_quarters()))
                } else {
                    String::new()
                };
                format!("{at} {name}{}{length}", note.pitch.key() / 12 - 1)
            };
            list(sheet.melody.iter().map(note).collect(), ", ")
        }
        "chords" => {
            let chord = |change: &figwort_sheet::ChordChange| {
                format!("{} {}", decimal(change.at.since_zero().in_quarters()), change.symbol)
            };
            list(sheet.chords.iter().map(chord).collect(), ", ")
        }
        "bars" => list(bars().map(|bar| bar.number.to_string()).collect(), " "),
        "lengths" => list(bars().map(|bar| decimal(bar.length.in_quarters())).collect(), " "),
        "sections" => list(bars().filter(|bar| bar.section).map(|bar| bar.number.to_string()).collect(), " "),
        "keys" => list(bars().map(|bar| bar.key.fifths().to_string()).collect(), " "),
        "metres" => {
            let metre =
                |bar: &figwort_sheet::Bar| format!("{}/{}", bar.metre.numerator(), bar.metre.denominator());
            list(bars().map(metre).collect(), " ")
        }
        "tempos" => {
            let tempo = |change: &figwort_sheet::TempoChange| {
                let rate = 60e6 / f64::from(change.micros_per_quarter);
                format!("{} {}", decimal(change.at.since_zero().in_quarters()), rate.round())
            };
            list(sheet.tempos.iter().map(tempo).collect(), ", ")
        }
        _ => panic!("a file asks for {what}"),
    }
}

/// Chord symbols alike in meaning are made alike in letters.
fn settled(what: &str, text: &str) -> String {
    if what != "chords" {
        return text.to_owned();
    }
    let chord = |item: &str| {
        let (at, symbol) = item.trim().split_once(' ').expect("an onset and a symbol");
        let symbol =
            if symbol == "N.C." { ChordSymbol::NO_CHORD } else { ChordSymbol::parse(symbol).expect(symbol) };
        format!("{at} {symbol}")
    };
    text.split(',').map(chord).collect::<Vec<_>>().join(", ")
}

#[test]
fn files_are_read_as_the_standard_means_them() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/standard");
    let mut checked = 0;
    for entry in fs::read_dir(folder).expect("the folder") {
        let path = entry.expect("an entry").path();
        let text = fs::read_to_string(&path).expect("a file");
        let sheet = figwort_sheet::read(text.as_bytes(), None).expect("a sheet");
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        let warnings: Vec<String> = sheet.warnings.iter().map(ToString::to_string).collect();
        let doubts: Vec<_> = warnings.iter().filter(|text| !text.contains("no chord symbols")).collect();
        assert_eq!(doubts, [] as [&String; 0], "{name}");
        let head = text.split("-->").next().unwrap_or_default();
        let (_, wanted) = head.split_once("\n\n").expect("what is wanted, after an empty line");
        for line in wanted.lines() {
            let (what, wanted) = line.split_once(": ").expect("what, and how it is to be");
            checked += 1;
            assert_eq!(told(&sheet, what, wanted), settled(what, wanted), "{name}: {what}");
        }
    }
    assert!(checked >= 40, "{checked}");
}
