//! Every tune and score of the open collections, where they are at hand: `FIGWORT_CORPUS`, or `../shared/corpus` beside
//! the workspace. Skipped, and says so, where they are not.
#![allow(clippy::print_stdout, reason = "counts for who runs it with --nocapture")]

#[path = "../../../tests/src/absent.rs"]
mod absent;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use figwort_sheet::{Sheet, abc, read};
use figwort_theory::{Moment, Span};

const NONE: &str = "no open collections in ../shared/corpus; FIGWORT_CORPUS names another folder";

fn corpus() -> Option<PathBuf> {
    let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared/corpus");
    let path = std::env::var_os("FIGWORT_CORPUS").map_or(beside, PathBuf::from);
    path.is_dir().then_some(path)
}

fn files_below(folder: &Path, ending: &str, files: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let path = entry.path();
        if path.is_dir() {
            files_below(&path, ending, files);
        } else if path.extension().is_some_and(|extension| extension == ending) {
            files.push(path);
        }
    }
    files.sort();
}

#[test]
fn every_tune_reads_and_keeps_its_promises() {
    let Some(corpus) = corpus() else {
        return absent::skipped(NONE);
    };
    for (folder, least_tunes) in [("nottingham_gpl3", 700), ("tuneworks_ccbysa", 60)] {
        let mut files = Vec::new();
        files_below(&corpus.join(folder), "abc", &mut files);
        if files.is_empty() {
            absent::skipped(format_args!("no {folder} among the collections"));
            continue;
        }
        let mut tunes = 0;
        let mut kinds: BTreeMap<String, usize> = BTreeMap::new();
        for file in &files {
            let bytes = std::fs::read(file).expect("a readable file");
            let names = abc::tunes(&bytes);
            let sheets = abc::read_all(&bytes).expect("a file of tunes");
            assert_eq!(names.len(), sheets.len());
            for ((number, title), sheet) in names.iter().zip(sheets) {
                let place = format!("{}, X:{number} {title}", file.display());
                let sheet = sheet.unwrap_or_else(|error| panic!("{place}: {error}"));
                assert_sound(&sheet, &place);
                tunes += 1;
                count_warnings(&sheet, &mut kinds);
            }
        }
        println!("{folder}: {tunes} tunes");
        print_kinds(&kinds);
        assert!(tunes >= least_tunes, "{folder} has only {tunes} tunes");
    }
}

/// Lead sheets with chord symbols, and songs whose voice is the melody.
#[test]
fn every_score_reads_and_keeps_its_promises() {
    let Some(corpus) = corpus() else {
        return absent::skipped(NONE);
    };
    for (folder, least, has_chords) in [("openewld_pd", 75, true), ("openscore_lieder_cc0", 60, false)] {
        let mut files = Vec::new();
        files_below(&corpus.join(folder), "mxl", &mut files);
        if files.is_empty() {
            absent::skipped(format_args!("no {folder} among the collections"));
            continue;
        }
        let mut kinds: BTreeMap<String, usize> = BTreeMap::new();
        for file in &files {
            let place = file.display().to_string();
            let bytes = std::fs::read(file).expect("a readable file");
            let sheet = read(&bytes, None).unwrap_or_else(|error| panic!("{place}: {error}"));
            assert_sound(&sheet, &place);
            assert_eq!(!sheet.chords.is_empty(), has_chords, "{place}");
            assert!(!sheet.title.is_empty() && sheet.bars.len() > 7, "{place}");
            count_warnings(&sheet, &mut kinds);
        }
        println!("{folder}: {} scores", files.len());
        print_kinds(&kinds);
        assert!(files.len() >= least, "{folder} has only {} scores", files.len());
        let uneven = kinds.get("its notes make").copied().unwrap_or(0);
        assert!(uneven <= files.len() / 10, "{folder}: {uneven} bars that do not add up");
    }
}

fn count_warnings(sheet: &Sheet, kinds: &mut BTreeMap<String, usize>) {
    for warning in &sheet.warnings {
        let kind = warning.text.split(['"', ';', ',']).next().unwrap_or("");
        let kind = kind.split(|c: char| c.is_ascii_digit()).next().unwrap_or("").trim().to_string();
        *kinds.entry(kind).or_default() += 1;
    }
}

fn print_kinds(kinds: &BTreeMap<String, usize>) {
    for (kind, count) in kinds {
        println!("{count:>6}  {kind}");
    }
}

fn assert_sound(sheet: &Sheet, place: &str) {
    let mut at = Moment::ZERO;
    for bar in &sheet.bars {
        assert_eq!(bar.start, at, "{place}: bars follow one another");
        assert!(bar.length > Span::ZERO, "{place}");
        at = bar.end();
    }
    assert_eq!(sheet.end, at, "{place}");
    assert!(!sheet.melody.is_empty(), "{place}: a melody");
    assert!(sheet.melody.windows(2).all(|pair| pair[0].end() <= pair[1].at), "{place}: one note at a time");
    assert!(sheet.melody.iter().all(|note| sheet.bar_at(note.at).is_some() && note.end() <= at), "{place}");
    assert!(sheet.chords.windows(2).all(|pair| pair[0].at < pair[1].at), "{place}: chords in order");
    assert!(sheet.chords.iter().all(|chord| sheet.bar_at(chord.at).is_some()), "{place}: chords inside bars");
}
