//! One case for each definition and one that misses it, mostly in C major and 4/4.

use figwort_theory::{Chord, Kind, PitchClass};

use super::*;

const Q: i64 = Span::QUARTER.0;

/// Left-hand tones as (quarter, quarters long, key) under chords as (quarter, root class, kind).
fn passage(metre: (u8, u8), chords: &[(f64, i32, Kind)], tones: &[(f64, f64, i32)]) -> Passage {
    let ticks = |quarters: f64| (quarters * Q as f64).round() as i64;
    let metre = Metre::new(metre.0, metre.1).unwrap();
    Passage {
        tones: tones
            .iter()
            .map(|(at, long, key)| Tone {
                hand: Hand::Left,
                key: *key,
                at: ticks(*at),
                end: ticks(at + long),
            })
            .collect(),
        chords: chords
            .iter()
            .map(|(at, root, kind)| (ticks(*at), Chord::new(PitchClass::new(*root), *kind).classes()))
            .collect(),
        bars: (0..8).map(|n| Measure { start: n * metre.bar().0, into: 0, metre }).collect(),
    }
}

/// Every verdict but "chord tone", by time.
fn named(passage: &Passage) -> Vec<Option<Type>> {
    let verdict = |verdict: Verdict| match verdict {
        Verdict::ChordTone => None,
        Verdict::Named(kind, _) => Some(Some(kind)),
        Verdict::Undefined => Some(None),
    };
    name(passage).verdicts.into_iter().filter_map(verdict).collect()
}

const C: (f64, i32, Kind) = (0.0, 0, Kind::Major);

fn in_c(tones: &[(f64, f64, i32)]) -> Vec<Option<Type>> {
    named(&passage((4, 4), &[C], tones))
}

/// C to G at the second bar.
fn c_to_g(tones: &[(f64, f64, i32)]) -> Vec<Option<Type>> {
    named(&passage((4, 4), &[C, (4.0, 7, Kind::Major)], tones))
}

/// A line of quarters from the beginning.
fn line(keys: &[i32]) -> Vec<(f64, f64, i32)> {
    keys.iter().enumerate().map(|(n, key)| (n as f64, 1.0, *key)).collect()
}

#[test]
fn passing() {
    assert_eq!(in_c(&line(&[48, 50, 52])), [Some(Type::Passing)]);
    assert_eq!(in_c(&line(&[55, 57, 59, 60])), [Some(Type::Passing); 2], "two in a row fill a fourth");
    assert_eq!(in_c(&line(&[52, 53, 54, 55])), [Some(Type::Passing); 2], "chromatic");
    assert_eq!(in_c(&line(&[48, 50, 55])), [None], "left by leap the same way");
    assert_eq!(in_c(&line(&[55, 57, 58, 59, 60])), [None; 3], "three in a row");
    assert_eq!(in_c(&line(&[53, 55])), [None], "from nowhere");
}

#[test]
fn passing_in_a_figure_of_two_voices() {
    let figure = [(0.0, 0.5, 48), (0.5, 0.5, 55), (1.0, 0.5, 50), (1.5, 0.5, 55), (2.0, 0.5, 52)];
    assert_eq!(in_c(&figure), [Some(Type::Passing)]);
    let late = [(0.0, 0.5, 48), (2.5, 0.5, 50), (3.0, 0.5, 52)];
    assert_eq!(in_c(&late), [None], "two beats of silence are no voice");
}

#[test]
fn neighbour() {
    assert_eq!(in_c(&line(&[48, 50, 48])), [Some(Type::Neighbour)]);
    assert_eq!(in_c(&line(&[48, 47, 48])), [Some(Type::Neighbour)]);
    assert_eq!(in_c(&line(&[48, 49, 47])), [None; 2], "comes back to another pitch");
    assert_eq!(in_c(&line(&[48, 50, 48, 50, 48])), [Some(Type::Neighbour); 2]);
}

#[test]
fn double_neighbour() {
    assert_eq!(in_c(&line(&[48, 50, 47, 48])), [Some(Type::DoubleNeighbour); 2]);
    assert_eq!(in_c(&line(&[48, 47, 50, 48])), [Some(Type::DoubleNeighbour); 2]);
    assert_ne!(in_c(&line(&[48, 50, 46, 55])), [Some(Type::DoubleNeighbour); 2], "comes not back");
}

#[test]
fn incomplete_neighbour() {
    let approach = [(0.0, 1.0, 48), (3.0, 1.0, 42), (4.0, 1.0, 43)];
    assert_eq!(c_to_g(&approach), [Some(Type::IncompleteNeighbour)]);
    let by_leap = [(0.0, 1.0, 48), (3.0, 1.0, 40 - 4), (4.0, 1.0, 43)];
    assert_eq!(c_to_g(&by_leap), [], "a chord tone");
    let left_by_leap = [(0.0, 1.0, 48), (3.0, 1.0, 39), (4.0, 1.0, 43)];
    assert_eq!(c_to_g(&left_by_leap), [None]);
}

#[test]
fn appoggiatura() {
    let leap_up = [(0.0, 1.0, 48), (2.0, 1.0, 53), (3.0, 1.0, 52)];
    assert_eq!(in_c(&leap_up), [Some(Type::Appoggiatura)]);
    let left_by_leap = [(0.0, 1.0, 48), (2.0, 1.0, 53), (3.0, 1.0, 60)];
    assert_eq!(in_c(&left_by_leap), [None]);
    let second_and_third_of_six =
        named(&passage((6, 8), &[C], &[(0.0, 0.5, 48), (0.5, 0.5, 53), (1.0, 0.5, 52)]));
    assert_eq!(second_and_third_of_six, [None], "neither accented nor towards an accent");
}

#[test]
fn escape() {
    let leaps_down = [(0.0, 0.5, 52), (0.5, 0.5, 53), (1.0, 1.0, 48)];
    assert_eq!(in_c(&leaps_down), [Some(Type::Escape)]);
    let leaps_on = [(0.0, 0.5, 52), (0.5, 0.5, 53), (1.0, 1.0, 60)];
    assert_eq!(in_c(&leaps_on), [None], "the leap goes on the same way");
    let accented = [(0.5, 0.5, 52), (1.0, 1.0, 53), (2.0, 1.0, 48)];
    assert_eq!(in_c(&accented), [None]);
}

#[test]
fn anticipation() {
    let struck_again = [(0.0, 3.0, 48), (3.5, 0.5, 47), (4.0, 1.0, 47)];
    assert_eq!(c_to_g(&struck_again), [Some(Type::Anticipation)]);
    let early = [(0.0, 0.5, 48), (1.0, 0.5, 47), (4.0, 1.0, 47)];
    assert_eq!(c_to_g(&early), [None], "long before the change");
}

#[test]
fn syncopation() {
    assert_eq!(c_to_g(&[(0.0, 3.0, 48), (3.5, 2.0, 47)]), [Some(Type::Syncopation)]);
    let across_a_weak_change =
        named(&passage((4, 4), &[C, (3.0, 7, Kind::Major)], &[(0.0, 2.0, 48), (2.0, 2.0, 47)]));
    assert_eq!(across_a_weak_change, [None], "from strong to weak");
}

/// F in the right voice over C, the E nowhere else.
#[test]
fn suspension() {
    let chords = [(0.0, 5, Kind::Major), (4.0, 0, Kind::Major)];
    let held = passage((4, 4), &chords, &[(2.0, 3.0, 53), (4.0, 4.0, 36), (5.0, 1.0, 52)]);
    assert_eq!(named(&held), [Some(Type::Suspension)]);
    let struck = passage((4, 4), &chords, &[(2.0, 2.0, 53), (4.0, 1.0, 53), (4.0, 4.0, 36), (5.0, 1.0, 52)]);
    assert_eq!(named(&struck), [Some(Type::Suspension)]);
    let repeated = passage(
        (4, 4),
        &chords,
        &[(2.0, 2.0, 53), (4.0, 0.5, 53), (4.5, 0.5, 53), (4.0, 4.0, 36), (5.0, 1.0, 52)],
    );
    assert_eq!(named(&repeated), [Some(Type::Suspension)], "as one tone");
    let never_resolved = passage((4, 4), &chords, &[(2.0, 3.0, 53), (4.0, 4.0, 36)]);
    assert_eq!(named(&never_resolved), [None]);
    let doubled = passage((4, 4), &chords, &[(2.0, 3.0, 53), (4.0, 4.0, 36), (4.0, 4.0, 64), (5.0, 1.0, 52)]);
    assert_eq!(named(&doubled), [None], "its resolution sounds already");
    let nine_eight = [(0.0, 7, Kind::Major), (4.0, 0, Kind::Major)];
    let over_the_bass = passage((4, 4), &nine_eight, &[(2.0, 3.0, 50), (4.0, 4.0, 36), (5.0, 1.0, 48)]);
    assert_eq!(named(&over_the_bass), [Some(Type::Suspension)], "9–8 sounds against its resolution");
}

#[test]
fn retardation() {
    let chords = [(0.0, 7, Kind::Major), (4.0, 0, Kind::Major)];
    let up = passage((4, 4), &chords, &[(2.0, 3.0, 59), (4.0, 4.0, 36), (5.0, 1.0, 60)]);
    assert_eq!(named(&up), [Some(Type::Retardation)]);
    let late = passage((4, 4), &chords, &[(5.0, 1.0, 59), (7.0, 0.5, 55)]);
    assert_eq!(named(&late), [None], "not prepared");
}

#[test]
fn pedal() {
    let chords = [C, (4.0, 7, Kind::Major), (8.0, 0, Kind::Major)];
    assert_eq!(named(&passage((4, 4), &chords, &[(0.0, 12.0, 36)])), [Some(Type::Pedal)]);
    assert_eq!(named(&passage((4, 4), &chords, &line_of_bars(36))), [Some(Type::Pedal)]);
    let leaves = passage((4, 4), &chords, &[(0.0, 8.0, 36), (8.0, 4.0, 43)]);
    assert_eq!(named(&leaves), [None], "the last chord is not its own");
}

fn line_of_bars(key: i32) -> [(f64, f64, i32); 3] {
    [0.0, 4.0, 8.0].map(|at| (at, 4.0, key))
}

/// C B G A B over C and then G: the second note is outside C, the fifth is a tone of G.
#[test]
fn cambiata() {
    let chords = [C, (3.5, 7, Kind::Major)];
    let keys = [(0.0, 1.0, 60), (1.0, 1.0, 59), (2.0, 1.0, 55), (3.0, 0.5, 57), (3.5, 1.0, 59)];
    let found = named(&passage((4, 4), &chords, &keys));
    assert_eq!(found, [Some(Type::Cambiata), Some(Type::Passing)]);
    let leaps_off = [(0.0, 1.0, 60), (1.0, 1.0, 59), (2.0, 1.0, 55), (3.0, 0.5, 52)];
    assert_ne!(named(&passage((4, 4), &[C], &leaps_off)).first(), Some(&Some(Type::Cambiata)));
}

#[test]
fn a_voice_may_cross_the_hands() {
    let mut passage = passage((4, 4), &[C], &line(&[48, 50, 52]));
    passage.tones[2].hand = Hand::Right;
    let found = name(&passage);
    assert_eq!(found.verdicts[1], Verdict::Named(Type::Passing, true));
}

#[test]
fn what_is_let_go_late_is_not_held_over_and_tones_without_a_chord_are_counted() {
    assert_eq!(c_to_g(&[(0.0, 4.1, 48), (4.0, 1.0, 43)]), []);
    let silent = Passage { chords: vec![(0, PitchClassSet::EMPTY)], ..passage((4, 4), &[C], &line(&[48])) };
    assert_eq!(name(&silent).without_chord, 1);
}
