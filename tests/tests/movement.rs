//! How the accompaniment moves, over the demo songs and, where they are at hand, a few tunes of an open
//! collection: in every manner on the moving rungs, with the sheet known and live. Nothing hangs, no beat is
//! added, every non-chord tone meets a published definition, and most of the melody's stillness is filled.

#[path = "../src/absent.rs"]
mod absent;

use std::fs;
use std::path::{Path, PathBuf};

use figwort_engine::{Rung, Settings, Source};
use figwort_preset::Library;
use figwort_render::{Options, arrange, follow};
use figwort_sheet::Sheet;
use tests::movement::{Measures, Share, measure, struck};
use tests::songs;

/// Tunes taken from each file of the collection.
const TUNES: usize = 3;
/// Percentage of non-chord tones that may meet no definition live, where a chord can come in the middle of a line
/// and no bass of it, nor the melody, leaves a proper way on. Measured over 773 tunes: 0.1 to 0.2.
const LIVE_UNDEFINED: usize = 1;

/// A few tunes: jigs, reels and waltzes.
fn collection() -> Vec<(String, Sheet)> {
    let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../shared/corpus");
    let corpus = std::env::var_os("FIGWORT_CORPUS").map_or(beside, PathBuf::from);
    let mut tunes = vec![];
    for file in ["jigs.abc", "reelsa-c.abc", "waltzes.abc"] {
        let path = corpus.join("nottingham_gpl3").join(file);
        let Ok(bytes) = fs::read(&path) else {
            absent::skipped(format_args!(
                "no {}; FIGWORT_CORPUS names the folder of collections",
                path.display()
            ));
            continue;
        };
        let sheets = figwort_sheet::abc::read_all(&bytes).into_iter().flatten().flatten();
        tunes.extend(sheets.take(TUNES).map(|sheet| (format!("{file}: {}", sheet.title), sheet)));
    }
    tunes
}

/// Everything that is played of the tunes: what, in which manner, and what was counted.
fn heard(tunes: &[(String, Sheet)]) -> Vec<(String, String, Measures)> {
    let library = Library::factory();
    let mut heard = vec![];
    for entry in library.manners() {
        let manner = library.manner(entry.name).expect("the manner");
        for rung in [Rung::Flowing, Rung::Ornate] {
            for source in [Source::Chart, struck::SOURCE] {
                let elaboration = f32::from(rung as u8);
                let settings = Settings { elaboration, source, manner: manner.manner, ..Settings::default() };
                let options = Options { settings, figures: manner.figures.clone(), ..Options::default() };
                for (name, sheet) in tunes {
                    let performance = match source {
                        Source::Chart => arrange(sheet, &options),
                        _ => follow(&struck::take(sheet), &options),
                    };
                    let found = measure(sheet, &performance, &settings, &manner.figures);
                    let what = format!("{name}, {}, {}, {source:?}", manner.name, rung.name());
                    heard.push((what, manner.name.clone(), found));
                }
            }
        }
    }
    heard
}

fn sound(heard: &[(String, String, Measures)]) {
    for (what, _, found) in heard {
        assert_eq!(found.hanging, 0, "{what}: notes that never end");
        assert_eq!(found.unpaired, 0, "{what}: note-ons without note-off, or the other way round");
        assert_eq!(found.beats_off, 0, "{what}: bars or melody notes that are not the sheet's");
        assert!(found.chord_tones.of > 0, "{what}: nothing was played");
    }
}

/// At most `most` percent of the non-chord tones meet no definition.
fn defined<'a>(heard: impl Iterator<Item = &'a (String, String, Measures)>, most: usize) {
    let (mut undefined, mut all) = (vec![], 0);
    for (what, _, found) in heard {
        undefined.extend(found.undefined.iter().map(|tone| format!("{what}: {tone}")));
        all += found.non_chord_tones();
    }
    assert!(all > 0, "no non-chord tone at all: nothing was tested");
    assert!(
        undefined.len() * 100 <= all * most,
        "{} of {all} non-chord tones undefined:\n{}",
        undefined.len(),
        undefined.join("\n")
    );
}

fn is_live((what, ..): &&(String, String, Measures)) -> bool {
    what.contains("Channels")
}

#[test]
fn the_demo_songs() {
    let heard = heard(&songs::sheets());
    sound(&heard);
    defined(heard.iter().filter(|played| !is_live(played)), 0);
    defined(heard.iter().filter(is_live), LIVE_UNDEFINED);
    let mut filled = Share::default();
    for (_, _, found) in heard.iter().filter(|(_, manner, _)| manner == Library::DEFAULT_MANNER) {
        filled.add(found.filled);
    }
    let percent = filled.percent().expect("stillness");
    assert!(percent >= 85.0, "only {percent:.0} % of the melody's stillness is filled");
}

#[test]
fn tunes_of_a_collection() {
    let tunes = collection();
    if tunes.is_empty() {
        return;
    }
    let heard = heard(&tunes);
    sound(&heard);
    defined(heard.iter().filter(|played| !is_live(played)), 0);
    defined(heard.iter().filter(is_live), LIVE_UNDEFINED);
}
