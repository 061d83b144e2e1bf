//! Guards what no pianist may be asked to play, in whole songs as the engine plays them: every demo song on
//! every rung above Plain in every manner. At each attack of the accompaniment the melody is on top, each hand
//! is within its reach and its five fingers, the right one with the melody; nothing rubs, lines and their
//! non-chord tones included. From Flowing up the last chord is left out: it is rolled, with an octave below it and notes above the
//! melody, and no hand holds all of it.
//!
//! Common practice, no source; the same rules are tested voicing by voicing in the engine.

use std::fs;
use std::path::Path;

use figwort_engine::{Hand, Rung, Settings};
use figwort_preset::Library;
use figwort_render::perform::PlayedNote;
use figwort_render::{Options, Performance, arrange};
use figwort_sheet::Sheet;
use figwort_theory::Pitch;

fn songs() -> Vec<(String, Sheet)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../presets/songs");
    let mut paths: Vec<_> =
        fs::read_dir(folder).expect("the songs").map(|entry| entry.expect("an entry").path()).collect();
    paths.retain(|path| path.extension().is_some_and(|ending| ending == "abc"));
    paths.sort();
    paths
        .iter()
        .map(|path| {
            let bytes = fs::read(path).expect("a song");
            (path.display().to_string(), figwort_sheet::read(&bytes, None).expect("a sheet"))
        })
        .collect()
}

/// Whether two notes are a minor second or a minor ninth apart.
fn rub(a: Pitch, b: Pitch) -> bool {
    matches!(a.above(b).abs(), 1 | 13)
}

/// What is wrong at an attack of the accompaniment, if anything is.
fn fault(played: &Performance, struck: &PlayedNote, settings: &Settings) -> Option<String> {
    let sounding: Vec<_> =
        played.notes.iter().filter(|n| n.on <= struck.on && struck.on < n.off).copied().collect();
    let of = |hand: Hand| -> Vec<Pitch> {
        let mut pitches: Vec<_> = sounding.iter().filter(|n| n.hand == hand).map(|n| n.pitch).collect();
        pitches.sort();
        pitches
    };
    let (melody, left, mut right) = (of(Hand::Melody), of(Hand::Left), of(Hand::Right));
    if let Some(covered) = melody.iter().find(|m| **m <= struck.pitch) {
        return Some(format!("covers the melody's {covered:?}"));
    }
    if settings.one_player {
        right.extend(&melody);
    }
    for (name, hand) in [("left", &left), ("right", &right)] {
        let span = hand.last().zip(hand.first()).map_or(0, |(high, low)| high.above(*low));
        if span > i32::from(settings.reach) || hand.len() > 5 {
            return Some(format!("the {name} hand holds {hand:?}"));
        }
    }
    let chord = played.chords.iter().rev().find(|c| c.at <= struck.at).and_then(|c| c.chord);
    let ninth = |a: Pitch, b: Pitch| {
        let root = chord.filter(|c| c.is_dominant()).map(|c| c.root);
        a.above(b).abs() == 13 && root == Some(a.min(b).class())
    };
    let other = sounding.iter().find(|n| rub(n.pitch, struck.pitch) && !ninth(n.pitch, struck.pitch));
    other.map(|other| format!("rubs against {:?} {:?}", other.hand, other.pitch))
}

#[test]
fn what_must_be_is_so_in_whole_songs() {
    let library = Library::factory();
    let (mut attacks, mut faults) = (0, Vec::new());
    for (song, sheet) in songs() {
        for entry in library.manners() {
            let manner = library.manner(entry.name).expect("the manner");
            for rung in [Rung::Spaced, Rung::Shared, Rung::Flowing, Rung::Ornate] {
                let settings = Settings {
                    elaboration: f32::from(rung as u8),
                    manner: manner.manner,
                    ..Settings::default()
                };
                let options = Options { settings, figures: manner.figures.clone(), ..Options::default() };
                let played = arrange(&sheet, &options.notated());
                let last = played.chords.last().map(|c| c.at);
                for struck in played.notes.iter().filter(|n| n.hand != Hand::Melody) {
                    if rung >= Rung::Flowing && last.is_some_and(|last| struck.at >= last) {
                        continue;
                    }
                    attacks += 1;
                    if let Some(fault) = fault(&played, struck, &settings) {
                        faults.push(format!(
                            "{song}, {}, {rung:?}, {:?} at {:?}: {fault}",
                            entry.name, struck.pitch, struck.at
                        ));
                    }
                }
            }
        }
    }
    assert!(attacks > 10_000, "only {attacks} attacks");
    assert!(faults.is_empty(), "{} of {attacks} attacks\n{}", faults.len(), faults.join("\n"));
}

/// A tune whose melody goes from C up to C sharp over a chord of F that has a C: what is struck again from there
/// on leaves the C out.
#[test]
fn a_chord_that_is_struck_again_leaves_out_what_the_melody_rubs_against() {
    let abc = "X:1\nT:A Step Aside\nM:4/4\nL:1/4\nQ:1/4=72\nK:F\n\
               \"F\"A2 c2|\"F\"c2 ^c2|\"Bb\"d4|\"Bb\"d2 f2|\"C7\"e2 g2|\"C7\"g2 ^f2|\"F\"f4|\"F\"f4|]\n";
    let sheet = figwort_sheet::read(abc.as_bytes(), None).expect("a sheet");
    let library = Library::factory();
    let (mut before, mut under) = (0, 0);
    for name in ["unhurried", "broad"] {
        let manner = library.manner(name).expect("the manner");
        let settings = Settings {
            elaboration: Rung::Flowing as u8 as f32,
            manner: manner.manner,
            ..Settings::default()
        };
        let options = Options { settings, figures: manner.figures.clone(), ..Options::default() };
        let played = arrange(&sheet, &options.notated());
        let sharp = played.notes.iter().find(|n| n.pitch == Pitch::new(73)).expect("C sharp");
        let c = Pitch::new(60);
        let struck = || played.notes.iter().filter(|n| n.hand != Hand::Melody && n.pitch == c);
        before += struck().filter(|n| n.on < sharp.on).count();
        under += struck().filter(|n| (sharp.on..sharp.off).contains(&n.on)).count();
    }
    assert!(before >= 2, "the chord has its C before: {before}");
    assert_eq!(under, 0, "C struck under C sharp");
}
