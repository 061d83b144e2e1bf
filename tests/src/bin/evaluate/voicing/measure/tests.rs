//! Hand-made chords with known faults, and without.

use figwort_theory::{Chord, Key, Kind as ChordKind, PitchClass, Span};

use super::*;
use crate::voicing::piece::{Bar, Played};

const Q: i64 = Span::QUARTER.0;

/// Chords of a quarter each: left hand, right hand, melody, symbol.
fn piece(chords: &[(&[i32], &[i32], i32, Chord)]) -> Piece {
    let mut piece = Piece {
        bars: vec![Bar { start: 0, number: 1, key: Some(Key::default()) }],
        end: chords.len() as i64 * Q,
        one_player: true,
        ..Piece::default()
    };
    for (n, (left, right, melody, chord)) in chords.iter().enumerate() {
        let at = n as i64 * Q;
        let hands = [(Hand::Left, *left), (Hand::Right, *right), (Hand::Melody, &[*melody][..])];
        for (hand, key) in hands.into_iter().flat_map(|(hand, keys)| keys.iter().map(move |k| (hand, *k))) {
            piece.notes.push(Played { hand, key, at, end: at + Q, silent: at + Q });
        }
        piece.chords.push((at, Some(*chord)));
    }
    piece
}

fn tally(chords: &[(&[i32], &[i32], i32, Chord)]) -> Tally {
    let mut tally = Tally::default();
    tally.add(&piece(chords), (36, 55));
    tally
}

fn kinds(tally: &Tally) -> Vec<Kind> {
    tally.findings.iter().map(|finding| finding.kind).collect()
}

fn chord(root: i32, kind: ChordKind) -> Chord {
    Chord::new(PitchClass::new(root), kind)
}

/// G7 to C in four parts under G4: nothing to find, both tendency tones resolve.
#[test]
fn a_clean_cadence_is_clean() {
    let g7 = chord(7, ChordKind::Dominant);
    let c = chord(0, ChordKind::Major);
    let found = tally(&[(&[43, 53], &[59, 62], 67, g7), (&[48, 52], &[60, 64], 67, c)]);
    assert_eq!(kinds(&found), []);
    assert_eq!(found.resolved, [Share { count: 1, of: 1 }, Share { count: 1, of: 1 }]);
    assert_eq!(found.strikes, 2);
    assert_eq!(found.motion[2], (5, 1));
    assert_eq!(found.sounding[2][5], 2 * Q);
}

/// Bass and top part go from C2 and C4 to D2 and D4.
#[test]
fn a_parallel_octave_is_found_once() {
    let c = chord(0, ChordKind::Major);
    let d = chord(2, ChordKind::Minor);
    let found = tally(&[(&[36, 48], &[60], 67, c), (&[38, 50], &[62], 69, d)]);
    assert_eq!(kinds(&found), [Kind::Parallel]);
    assert_eq!(found.parallels[0], [Share { count: 0, of: 1 }, Share { count: 1, of: 1 }]);
    // The melody goes with them in fifths.
    assert_eq!(found.parallels[1][0].count, 1);
}

/// C2–E2 is far below the major third's limit, and the chord's bass doesn't force it.
#[test]
fn a_low_third_is_found() {
    let found = tally(&[(&[36, 40], &[60], 67, chord(0, ChordKind::Major))]);
    assert_eq!(kinds(&found), [Kind::LowInterval]);
    assert_eq!(found.low.map(|low| low.neighbours.count), [1, 1]);
    assert_eq!(found.lowest[1], [4]);
}

#[test]
fn a_covered_melody_a_clash_and_a_stretch_are_found() {
    let c = chord(0, ChordKind::Major);
    let covered = tally(&[(&[36], &[60, 64], 62, c)]);
    assert_eq!(kinds(&covered), [Kind::Covered, Kind::TooClose]);
    let clash = tally(&[(&[36], &[55, 64], 65, c)]);
    assert!(kinds(&clash).contains(&Kind::MelodyClash));
    let wide = tally(&[(&[36, 52], &[55, 60], 67, c)]);
    assert_eq!(kinds(&wide), [Kind::Stretch]);
    assert_eq!(wide.stretched.map(|share| share.count), [1, 0, 0, 0]);
}

#[test]
fn a_missing_third_and_a_doubled_seventh_are_found() {
    let g7 = chord(7, ChordKind::Dominant);
    let found = tally(&[(&[43, 53], &[62, 65], 74, g7)]);
    assert_eq!(kinds(&found), [Kind::GuideMissing, Kind::Doubled]);
    // The melody has the third.
    let sung = tally(&[(&[43, 53], &[62, 67], 71, g7)]);
    assert_eq!(kinds(&sung), []);
}
