extern crate std;
use std::vec::Vec;

use figwort_theory::{Chord, Kind, Metre, PitchClass, Velocity};

use super::*;
use crate::chart::{ChartBar, Harmony};

/// Sixteen bars of quarters on C5 with one leap of an octave and a half, a beat long, then a phrase an
/// octave up: the level hardly notices the leap, and takes bars to follow the phrase.
#[test]
fn the_level_follows_phrases_and_not_leaps() {
    let bars: Vec<ChartBar> = (0..16)
        .map(|n| ChartBar {
            start: Moment::ZERO + Span::WHOLE * n,
            length: Span::WHOLE,
            metre: Metre::FOUR_FOUR,
            key: Default::default(),
            section: n == 0,
        })
        .collect();
    let key = |n: i64| match n {
        13 => 90,
        32.. => 84,
        _ => 72,
    };
    let melody: Vec<ChartNote> = (0..64)
        .map(|n| ChartNote {
            at: Moment::ZERO + Span::QUARTER * n,
            length: Span::QUARTER,
            pitch: Pitch::new(key(n)),
            velocity: Velocity::new(80),
        })
        .collect();
    let chart = Chart { harmonies: &[], melody: &melody, bars: &bars };
    let at = |bar: i64| register(&chart, Moment::ZERO + Span::WHOLE * bar).map_or(0, Pitch::key);
    for bar in 0..6 {
        assert!((72..=74).contains(&at(bar)), "bar {bar}: {}", at(bar));
    }
    let rise: Vec<u8> = (6..12).map(at).collect();
    assert!(rise.windows(2).all(|pair| pair[0] <= pair[1] && pair[1] - pair[0] <= 4), "{rise:?}");
    assert_eq!((at(0), at(12)), (72, 84));
    assert_eq!(register(&Chart { melody: &[], ..chart }, Moment::ZERO), None);
}

/// Eight bars, a chord every four, the melody in quarters up to one long note in the last bar.
#[test]
fn the_last_chord_waits_for_the_last_note_unless_it_is_asked_for() {
    let at = |bar: i64| Moment::ZERO + Span::WHOLE * bar;
    let bars: Vec<ChartBar> = (0..8)
        .map(|n| ChartBar {
            start: at(n),
            length: Span::WHOLE,
            metre: Metre::FOUR_FOUR,
            key: Default::default(),
            section: n == 0,
        })
        .collect();
    let note = |from: Moment, length: Span| ChartNote {
        at: from,
        length,
        pitch: Pitch::new(72),
        velocity: Velocity::new(80),
    };
    let mut melody: Vec<ChartNote> =
        (0..28).map(|n| note(Moment::ZERO + Span::QUARTER * n, Span::QUARTER)).collect();
    melody.push(note(at(7), Span::WHOLE));
    let chord = Chord::new(PitchClass::C, Kind::Major);
    let harmonies = [0, 4].map(|bar| Harmony { at: at(bar), chord: Some(chord) });
    let chart = Chart { harmonies: &harmonies, melody: &melody, bars: &bars };
    let last =
        |bar: i64, finish: bool| read(&chart, &Settings { finish, ..Settings::default() }, at(bar)).last;
    assert_eq!([last(2, false), last(2, true)], [false, true], "asked for in the middle");
    assert_eq!([last(5, false), last(5, true)], [false, false], "under a melody that goes on");
    assert_eq!([last(7, false), last(7, true)], [true, true], "at the last note");
}
