//! Every line that is found meets the definitions, read here from the notes alone.

extern crate std;

use std::vec;
use std::vec::Vec;

use figwort_theory::{Kind, Mode};
use proptest::prelude::*;

use super::*;

/// Whether the note at `i` of `line` (start, notes, and what follows) meets a definition of Open Music Theory's chapter
/// on embellishing tones (Shaffer, Hughes and Moseley, 2014); `tone` tells chord tones.
fn defined(line: &[i32], tone: &[bool], i: usize) -> bool {
    if tone[i] {
        return true;
    }
    let by = |a: usize, b: usize| line[b] - line[a];
    let step = |n: i32| n != 0 && n.abs() <= 2;
    let (into, out) = (by(i - 1, i), by(i, i + 1));
    let same_way = into.signum() == out.signum();
    let between_tones = tone[i - 1] && tone[i + 1];
    let passing = between_tones && step(into) && step(out) && same_way;
    let neighbour = between_tones && step(into) && out == -into;
    let two = |a: usize| {
        // a, a+1, a+2, a+3: tone, two others, tone.
        let (x, y, z) = (by(a, a + 1), by(a + 1, a + 2), by(a + 2, a + 3));
        let ends = tone[a] && tone[a + 3] && !tone[a + 1] && !tone[a + 2];
        let fourth = [x, y, z].iter().all(|n| step(*n) && n.signum() == x.signum())
            && matches!((x + y + z).abs(), 5 | 6);
        let double = line[a] == line[a + 3] && step(x) && step(z) && x.signum() == z.signum();
        ends && (fourth || double && matches!(y.abs(), 3 | 4))
    };
    let pairs = (i.saturating_sub(2)..i).any(|a| a + 3 < line.len() && two(a));
    passing || neighbour || pairs || (i + 2 == line.len() && out == 0)
}

fn aims() -> impl Strategy<Value = Aim> {
    prop::sample::select(vec![
        Aim::Step,
        Aim::Tone,
        Aim::Passing,
        Aim::Neighbour,
        Aim::Approach,
        Aim::Chromatic,
        Aim::Run,
        Aim::Down,
        Aim::Up,
        Aim::Leap,
    ])
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 4000, ..ProptestConfig::default() })]

    #[test]
    fn every_line_meets_the_definitions(
        root in 0..12i32, kind in 0..Kind::ALL.len(), fifths in -6..=6i32, minor in any::<bool>(),
        start in 36..64u8, asked in prop::collection::vec((aims(), 0..5u8), 1..9),
        known in prop::option::of((30..70u8, 0..4u8, any::<bool>())),
        held in prop::collection::vec(30..80u8, 0..4), beside in prop::collection::vec(30..80u8, 0..20),
        melody in prop::option::of((60..90u8, 0..6u8)),
    ) {
        let chord = Chord::new(PitchClass::new(root), Kind::ALL[kind]);
        let tones = chord.classes();
        let start = (start..).map(Pitch::new).find(|p| tones.contains(p.class())).expect("a tone");
        let mode = if minor { Mode::Minor } else { Mode::Major };
        let melody = melody.map(|(low, more)| (Pitch::new(low), Pitch::new(low + more)));
        // Each step has two of them, as far as they go.
        let beside = |n: usize| beside.iter().skip(2 * n).take(2).map(|key| Pitch::new(*key)).collect::<Held>();
        let steps: Vec<Wanted> = asked.iter().enumerate().map(|(n, (aim, level))| Wanted {
            aim: *aim, level: *level, melody, soon: true, bass: None, beside: beside(n),
        }).collect();
        let held: Vec<Pitch> = held.into_iter().map(Pitch::new).collect();
        let target = known.map_or(Target::Open, |(key, level, change)| {
            Target::Known { pitch: Pitch::new(key), level, change }
        });
        let task = Task {
            start, chord, key: Key::from_fifths(fifths, mode), steps: &steps, target,
            follows_home: None, low: Pitch::new(30), high: Pitch::new(70), held: &held, clarity: 0, reach: 40,
        };
        let Some(notes) = solve(&task) else { return Ok(()) };
        prop_assert_eq!(notes.len(), steps.len());
        let mut line: Vec<i32> = vec![i32::from(start.key())];
        line.extend(notes.iter().map(|(pitch, _)| i32::from(pitch.key())));
        let mut tone: Vec<bool> = vec![true];
        tone.extend(notes.iter().map(|(pitch, _)| tones.contains(pitch.class())));
        let mut level: Vec<u8> = vec![0];
        level.extend(asked.iter().map(|(_, level)| *level));
        match target {
            Target::Known { pitch, .. } => {
                line.push(i32::from(pitch.key()));
                tone.push(true);
            }
            Target::Open => prop_assert!(notes.last().is_some_and(|(_, tone)| *tone)),
        }
        for (i, (pitch, settled)) in notes.iter().enumerate() {
            let i = i + 1;
            prop_assert!(defined(&line, &tone, i), "note {i} of {line:?}, tones {tone:?}");
            prop_assert_eq!(*settled, tone[i]);
            prop_assert!(tone[i] || level[i] >= 2, "a non-chord tone on a strong place");
            let beside = &steps[i - 1].beside;
            prop_assert!(!held.iter().chain(beside).any(|h| matches!(h.above(*pitch).abs(), 0 | 1 | 13)));
            prop_assert!(melody.is_none_or(|(low, _)| low.above(*pitch) >= 3));
            if matches!(steps[i - 1].aim, Aim::Tone | Aim::Leap) {
                prop_assert!(tone[i]);
            }
        }
    }
}

fn line(chord: Chord, start: u8, aims: &[(Aim, u8)], target: Target, held: &[u8]) -> Option<Vec<u8>> {
    let steps: Vec<Wanted> = aims
        .iter()
        .map(|(aim, level)| Wanted {
            aim: *aim,
            level: *level,
            melody: None,
            soon: true,
            bass: None,
            beside: Held::new(),
        })
        .collect();
    let held: Vec<Pitch> = held.iter().map(|k| Pitch::new(*k)).collect();
    let task = Task {
        start: Pitch::new(start),
        chord,
        key: Key::from_fifths(-1, Mode::Major),
        steps: &steps,
        target,
        follows_home: None,
        low: Pitch::new(33),
        high: Pitch::new(72),
        held: &held,
        clarity: 0,
        reach: 40,
    };
    Some(solve(&task)?.iter().map(|(pitch, _)| pitch.key()).collect())
}

#[test]
fn d_minor_walks_through_e_to_f() {
    let chord = Chord::new(PitchClass::new(2), Kind::MinorSeventh);
    let aims = [(Aim::Passing, 3), (Aim::Tone, 2)];
    assert_eq!(line(chord, 50, &aims, Target::Open, &[57, 60]), Some(vec![52, 53]));
}

/// The bass of D minor in four quarters on its way to G: chord tones on 1 and 3, a step into G.
#[test]
fn a_bass_walks_into_the_next_chord() {
    let chord = Chord::new(PitchClass::new(2), Kind::MinorSeventh);
    let next = Target::Known { pitch: Pitch::new(43), level: 0, change: true };
    let aims = [(Aim::Step, 2), (Aim::Step, 1), (Aim::Chromatic, 2)];
    let found = line(chord, 38, &aims, next, &[57, 60, 65]).expect("a way");
    assert!(matches!(found.last(), Some(42 | 44)), "{found:?}");
    assert_eq!(
        line(chord, 38, &[(Aim::Step, 2), (Aim::Tone, 1), (Aim::Run, 2)], next, &[57, 60, 65])
            .map(|l| l.len()),
        Some(3)
    );
}

/// A run of four eighths from C down to the F below goes by the scale.
#[test]
fn a_run_fills_the_fifth() {
    let chord = Chord::new(PitchClass::C, Kind::Dominant);
    let next = Target::Known { pitch: Pitch::new(41), level: 0, change: true };
    let aims = [(Aim::Run, 3), (Aim::Run, 2), (Aim::Run, 3)];
    let found = line(chord, 48, &aims, next, &[64, 70]).expect("a way");
    assert_eq!(found, vec![46, 45, 43]);
}

/// A minor, from A to A: no two notes by turns, but a run through other notes, or up and down again.
#[test]
fn a_line_that_leads_back_goes_somewhere() {
    let chord = Chord::new(PitchClass::new(9), Kind::Minor);
    let next = Target::Known { pitch: Pitch::new(45), level: 0, change: false };
    let run = [(Aim::Run, 3), (Aim::Run, 2), (Aim::Run, 3)];
    assert_eq!(line(chord, 45, &run, next, &[60, 64]), Some(vec![40, 41, 43]));
    let walk = [(Aim::Step, 2), (Aim::Tone, 1), (Aim::Approach, 2)];
    assert_eq!(line(chord, 45, &walk, next, &[64, 69]), Some(vec![46, 48, 46]));
    let two = [(Aim::Step, 2), (Aim::Approach, 2)];
    assert_eq!(line(chord, 45, &two, next, &[64, 69]), Some(vec![48, 46]));
}

/// A neighbour once is what was asked for; it isn't the note that comes after the line's home.
#[test]
fn a_neighbour_leaves_the_next_bass_its_note() {
    let chord = Chord::new(PitchClass::new(7), Kind::Major);
    let steps =
        [Wanted { aim: Aim::Neighbour, level: 3, melody: None, soon: true, bass: None, beside: Held::new() }];
    let neighbour = |follows_home: Option<u8>| {
        let task = Task {
            start: Pitch::new(43),
            chord,
            key: Key::from_fifths(0, Mode::Major),
            steps: &steps,
            target: Target::Known { pitch: Pitch::new(43), level: 1, change: false },
            follows_home: follows_home.map(Pitch::new),
            low: Pitch::new(33),
            high: Pitch::new(72),
            held: &[],
            clarity: 0,
            reach: 40,
        };
        solve(&task).and_then(|notes| notes.first().map(|(pitch, _)| pitch.key()))
    };
    assert_eq!(neighbour(Some(41)), Some(45));
    assert_eq!(neighbour(Some(45)), Some(41));
}

/// What another part has at the time counts, not what it has at other times: over F, A goes to C by way of B,
/// but not while C sounds a semitone or a minor ninth away.
#[test]
fn a_line_keeps_clear_of_what_moves_beside_it() {
    let chord = Chord::new(PitchClass::new(5), Kind::Major);
    let passes = |beside: [&[u8]; 2]| {
        let wanted = |aim, level, beside: &[u8]| Wanted {
            aim,
            level,
            melody: None,
            soon: true,
            bass: None,
            beside: beside.iter().map(|key| Pitch::new(*key)).collect(),
        };
        let steps = [wanted(Aim::Passing, 2, beside[0]), wanted(Aim::Tone, 1, beside[1])];
        let task = Task {
            start: Pitch::new(57),
            chord,
            key: Key::from_fifths(0, Mode::Major),
            steps: &steps,
            target: Target::Open,
            follows_home: None,
            low: Pitch::new(57),
            high: Pitch::new(64),
            held: &[Pitch::new(41)],
            clarity: 0,
            reach: 40,
        };
        let notes = solve(&task).unwrap_or_default();
        notes.first().is_some_and(|(pitch, _)| pitch.key() == 59)
    };
    assert!(passes([&[], &[]]));
    assert!(!passes([&[60], &[64]]), "a semitone");
    assert!(!passes([&[72], &[77]]), "a minor ninth");
    assert!(passes([&[64], &[72]]), "C only comes with C");
}
