//! The search against plain enumeration: every set of notes, whole, without leaving any branch early.

extern crate std;
use std::vec::Vec;

use figwort_theory::{Chord, Key, Kind, Mode, Pitch, PitchClass, PitchClassSet};

use super::*;

/// The best voicing by looking at all sets; the first of equals.
fn enumerate(
    request: &Request,
    parts: usize,
    wanted: PitchClassSet,
    previous: Option<&Voicing>,
) -> Option<(i32, Voicing)> {
    let classes = wanted_classes(request.chord, parts);
    let top = request.ceiling.map_or(i32::from(OPEN_CEILING.key()), |c| i32::from(c.key()) - UNDER_MELODY);
    let agrees = |pitch: Pitch| {
        request.melody.is_none_or(|melody| {
            let degree = request.chord.degree(melody.class());
            let leads = request.key.tonic.transpose(-1) == melody.class() && degree != Some(Degree::Root);
            let tense = degree == Some(Degree::Seventh) || leads;
            let doubled = tense && pitch.class() == melody.class() && request.chord.bass != pitch.class();
            melody > pitch && !clashes(pitch, melody, request) && !doubled
        })
    };
    let possible = |class: PitchClass| {
        (i32::from(request.bass_range.0.key())..=top)
            .filter_map(Pitch::from_i32)
            .any(|pitch| pitch.class() == class && agrees(pitch))
    };
    let required: PitchClassSet =
        wanted.iter().filter(|class| request.sung != Some(*class) && possible(*class)).collect();
    let bass_notes: Vec<Pitch> = match request.kept_bass {
        Some(bass) => std::vec![bass],
        None => bass_candidates(request.chord.bass, request.bass_range.0, request.bass_range.1).collect(),
    };
    let weighing = Weighing::new(request, previous);
    let mut best: Option<(i32, Voicing)> = None;
    for bass in bass_notes {
        let upper: Vec<Pitch> = (i32::from(bass.key()) + 2..=top)
            .filter_map(Pitch::from_i32)
            .filter(|pitch| classes.contains(pitch.class()))
            .collect();
        for set in subsets(&upper, parts - 1) {
            let notes: Vec<Pitch> = core::iter::once(bass).chain(set).collect();
            let Some(left) = keeps_the_rules(request, &notes, required, top, &agrees) else { continue };
            let found = weighing.cost(&notes, left);
            let lower = |best: &Voicing| notes.as_slice() < best.notes();
            if best.as_ref().is_none_or(|(least, v)| found < *least || found == *least && lower(v)) {
                best = Some((found, Voicing::new(notes, left)));
            }
        }
    }
    best
}

/// Every rising choice of `count` of the pitches, the lowest first.
fn subsets(pitches: &[Pitch], count: usize) -> Vec<Vec<Pitch>> {
    if count == 0 {
        return std::vec![Vec::new()];
    }
    let mut all = Vec::new();
    for (n, first) in pitches.iter().enumerate() {
        for mut rest in subsets(&pitches[n + 1..], count - 1) {
            rest.insert(0, *first);
            all.push(rest);
        }
    }
    all
}

/// The left hand's share if every rule is kept.
fn keeps_the_rules(
    request: &Request,
    notes: &[Pitch],
    required: PitchClassSet,
    top: i32,
    agrees: &impl Fn(Pitch) -> bool,
) -> Option<usize> {
    let sounding: PitchClassSet = notes.iter().map(|p| p.class()).collect();
    let fits = notes.iter().all(|p| agrees(*p)) && i32::from(notes[0].key()) <= top;
    let spaced = notes.windows(2).enumerate().all(|(n, pair)| {
        let gap = pair[1].above(pair[0]);
        let clear = if request.lenient { is_nearly_clear } else { is_clear };
        gap >= 2 && (n == 0 || gap <= WIDEST_GAP) && clear(pair[0], pair[1], request.clarity)
    });
    let pairs =
        || notes.iter().enumerate().flat_map(|(n, low)| notes[n + 1..].iter().map(move |high| (low, high)));
    let sweet = pairs().all(|(low, high)| !clashes(*low, *high, request));
    let doublings = pairs()
        .filter(|(low, high)| low.class() == high.class())
        .all(|(_, high)| may_be_doubled(request.chord.degree(high.class()), high.class(), request.key));
    if !fits || !spaced || !sweet || !doublings || !required.is_subset_of(sounding) {
        return None;
    }
    let left = request.hands(notes)?;
    (request.rung != Rung::Spaced || left == 1).then_some(left)
}

/// A minor second or a minor ninth; the flat ninth over a dominant's root excepted (Levine, The Jazz Theory Book, 1995;
/// from memory).
fn clashes(lower: Pitch, upper: Pitch, request: &Request) -> bool {
    let interval = upper.above(lower);
    let flat_ninth = interval == 13 && request.chord.is_dominant() && lower.class() == request.chord.root;
    matches!(interval, 1 | 13) && !flat_ninth
}

struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % sides
    }
}

fn random_request(dice: &mut Dice) -> (Request, usize, bool) {
    let root = PitchClass::new(dice.roll(12) as i32);
    let mut chord = Chord::new(root, Kind::ALL[dice.roll(Kind::ALL.len() as u64) as usize]);
    if dice.roll(3) == 0 {
        let tones: Vec<PitchClass> = chord.tones().iter().collect();
        chord = chord.over(tones[dice.roll(tones.len() as u64) as usize]);
    } else if dice.roll(12) == 0 {
        chord = chord.over(PitchClass::new(dice.roll(12) as i32));
    }
    let melody = (dice.roll(4) > 0).then(|| Pitch::new(57 + dice.roll(24) as u8));
    let ceiling = melody.map(|m| Pitch::new(m.key() - dice.roll(5) as u8));
    let parts = 2 + dice.roll(5) as usize;
    let request = Request {
        chord,
        key: Key {
            tonic: PitchClass::new(dice.roll(12) as i32),
            mode: if dice.roll(2) == 0 { Mode::Major } else { Mode::Minor },
        },
        melody,
        sung: melody.filter(|_| dice.roll(2) == 0).map(Pitch::class),
        ceiling,
        summit: melody.filter(|_| dice.roll(3) == 0).map(|m| Pitch::new(m.key() + dice.roll(9) as u8)),
        register: melody.filter(|_| dice.roll(3) > 0).map(|m| Pitch::new(m.key() + 4 - dice.roll(9) as u8)),
        tension: dice.roll(101) as u8,
        lenient: dice.roll(4) == 0,
        parts,
        rung: if dice.roll(4) == 0 { Rung::Spaced } else { Rung::Shared },
        reach: [12, 14, 16][dice.roll(3) as usize],
        clarity: dice.roll(9) as i32 - 4,
        one_player: dice.roll(2) == 0,
        weights: Default::default(),
        bass_range: (Pitch::new(36 + dice.roll(6) as u8), Pitch::new(50 + dice.roll(8) as u8)),
        kept_bass: None,
        grip: Default::default(),
    };
    (request, parts, dice.roll(4) > 0)
}

/// Chord kind, bass, melody or none, voicing before, parts 2 to 6, reach, clarity: the same voicing at the
/// same cost in every case.
#[test]
fn the_search_finds_the_true_minimum() {
    let mut dice = Dice(2_024);
    let mut previous: Option<Voicing> = None;
    let (mut found_some, mut most_nodes) = (0, 0);
    for case in 0..40_000 {
        let (mut request, parts, complete) = random_request(&mut dice);
        let wanted = if complete { request.chord.guide_tones() } else { PitchClassSet::EMPTY };
        if dice.roll(6) == 0 {
            request.kept_bass =
                previous.as_ref().and_then(Voicing::bass).filter(|b| b.class() == request.chord.bass);
        }
        let before = previous.as_ref().filter(|_| dice.roll(4) > 0);
        let found = search(&request, parts, wanted, before);
        let expected = enumerate(&request, parts, wanted, before);
        let got = found.voicing.clone().map(|voicing| (found.cost, voicing));
        assert_eq!(got, expected, "case {case}: {request:?} with {parts} parts after {before:?}");
        found_some += usize::from(got.is_some());
        most_nodes = most_nodes.max(found.nodes);
        if let Some(voicing) = found.voicing {
            previous = Some(voicing.of_chord(request.chord, request.key).under(request.melody));
        }
    }
    assert!(found_some > 20_000, "only {found_some} cases had a voicing at all");
    std::println!("{found_some} of 40000 cases have a voicing; at most {most_nodes} nodes in one search");
}
