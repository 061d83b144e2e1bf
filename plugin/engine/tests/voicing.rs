//! Guards every rule that a voicing must keep, over thousands of random requests, each rule restated here
//! and named by what it says; and that each of these checks can fail. Not here: which of the allowed voicings
//! is best (the search's own test), and what a running figure makes of it.

use figwort_engine::voicing::{Request, Voicing, voice};
use figwort_engine::{Rung, Weights};
use figwort_theory::{Chord, Degree, Key, Kind, Mode, Pitch, PitchClass};

struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % sides
    }
}

fn request(dice: &mut Dice) -> Request {
    let mut chord = Chord::new(
        PitchClass::new(dice.roll(12) as i32),
        Kind::ALL[dice.roll(Kind::ALL.len() as u64) as usize],
    );
    if dice.roll(3) == 0 {
        let tones: Vec<PitchClass> = chord.tones().iter().collect();
        chord = chord.over(tones[dice.roll(tones.len() as u64) as usize]);
    }
    let melody = (dice.roll(5) > 0).then(|| Pitch::new(64 + dice.roll(24) as u8));
    let mode = if dice.roll(2) == 0 { Mode::Major } else { Mode::Minor };
    Request {
        chord,
        key: Key { tonic: PitchClass::new(dice.roll(12) as i32), mode },
        melody,
        sung: melody.filter(|_| dice.roll(3) == 0).map(Pitch::class),
        ceiling: melody.and_then(|m| m.transpose(-(dice.roll(4) as i32))),
        summit: melody.and_then(|m| m.transpose(dice.roll(9) as i32)),
        register: melody.and_then(|m| m.transpose(dice.roll(9) as i32 - 4)),
        tension: dice.roll(101) as u8,
        lenient: false,
        parts: 3 + dice.roll(4) as usize,
        rung: Rung::Shared,
        reach: [12, 14, 16][dice.roll(3) as usize],
        clarity: 0,
        one_player: dice.roll(2) == 0,
        weights: Weights::default(),
        bass_range: (Pitch::new(36), Pitch::new(55)),
        kept_bass: None,
        grip: Default::default(),
    }
}

/// The first of twenty thousand voicings, each after the one before, that breaks a rule.
fn broken(rule: impl Fn(&Request, &Voicing) -> bool) -> Option<String> {
    let mut dice = Dice(7);
    let mut previous: Option<Voicing> = None;
    for _ in 0..20_000 {
        let request = request(&mut dice);
        let voicing = voice(&request, previous.as_ref().filter(|_| dice.roll(4) > 0));
        if !rule(&request, &voicing) {
            return Some(format!("{:?} for {request:?}", voicing.notes()));
        }
        previous = Some(voicing);
    }
    None
}

/// The rule holds in every case, and is broken by these notes under C5 over a dominant seventh on G in C.
fn must(rule: impl Fn(&Request, &Voicing) -> bool + Copy, faulty: &[u8], left: usize) {
    assert_eq!(broken(rule), None);
    let g7 = Chord::new(PitchClass::new(7), Kind::Dominant);
    let melody = Some(Pitch::new(72));
    let one = Request {
        chord: g7,
        key: Key::default(),
        melody,
        ceiling: melody,
        parts: 4,
        reach: 14,
        one_player: true,
        sung: None,
        ..request(&mut Dice(1))
    };
    assert!(!rule(&one, &Voicing::new(faulty.iter().map(|key| Pitch::new(*key)), left)));
}

/// Everything that sounds, the melody last.
fn all(request: &Request, voicing: &Voicing) -> Vec<Pitch> {
    voicing.notes().iter().copied().chain(request.melody).collect()
}

#[test]
fn the_melody_stays_on_top_by_a_third() {
    let rule = |request: &Request, voicing: &Voicing| {
        voicing.notes().last().zip(request.melody).is_none_or(|(top, melody)| melody.above(*top) >= 3)
    };
    must(rule, &[43, 59, 65, 70], 1);
}

#[test]
fn no_minor_second_or_ninth_but_a_dominants_flat_ninth() {
    let rule = |request: &Request, voicing: &Voicing| {
        let all = all(request, voicing);
        let clash = |low: Pitch, high: Pitch| match high.above(low) {
            1 => true,
            13 => !(request.chord.is_dominant() && low.class() == request.chord.root),
            _ => false,
        };
        all.iter().enumerate().all(|(n, low)| !all[n + 1..].iter().any(|high| clash(*low, *high)))
    };
    must(rule, &[43, 53, 59], 2);
}

#[test]
fn each_hand_stays_within_its_reach() {
    let rule = |request: &Request, voicing: &Voicing| {
        let held = request.melody.filter(|_| request.one_player);
        let right: Vec<Pitch> = voicing.right().iter().copied().chain(held).collect();
        [voicing.left(), right.as_slice()]
            .iter()
            .all(|hand| hand.last().zip(hand.first()).is_none_or(|(h, l)| h.above(*l) <= request.reach))
    };
    must(rule, &[43, 53, 55, 65], 2);
}

#[test]
fn each_hand_has_five_fingers() {
    let rule = |request: &Request, voicing: &Voicing| {
        voicing.left().len() <= 5
            && voicing.right().len() + usize::from(request.one_player && request.melody.is_some()) <= 5
    };
    must(rule, &[41, 43, 47, 50, 53, 55], 6);
}

#[test]
fn the_bass_is_the_chords() {
    let rule = |request: &Request, voicing: &Voicing| {
        voicing
            .bass()
            .is_none_or(|bass| bass.class() == request.chord.bass && (36..=55).contains(&bass.key()))
    };
    must(rule, &[47, 55, 65], 1);
}

#[test]
fn no_seventh_and_no_leading_tone_is_doubled() {
    let rule = |request: &Request, voicing: &Voicing| {
        let leading = request.key.tonic.transpose(-1);
        let all = all(request, voicing);
        let tense = |class: PitchClass| match request.chord.degree(class) {
            Some(Degree::Seventh) => true,
            Some(Degree::Third | Degree::Fifth) => class == leading,
            _ => false,
        };
        // Melody and written bass on the same class are nobody's doing.
        let written = |class: PitchClass| {
            class == request.chord.bass && request.melody.is_some_and(|m| m.class() == class)
        };
        (0..12).map(PitchClass::new).filter(|class| tense(*class)).all(|class| {
            all.iter().filter(|note| note.class() == class).count() <= 1 + usize::from(written(class))
        })
    };
    must(rule, &[43, 53, 59, 65], 2);
}

/// Lowell and Pullig's limits from a minor third to a minor seventh, two semitones of grace but for tritone
/// and fifth, as in the limits' table, column B.
#[test]
fn low_intervals_are_clear() {
    let rule = |_: &Request, voicing: &Voicing| {
        voicing.notes().windows(2).all(|pair| {
            let lowest = match pair[1].above(pair[0]) {
                2 => 49,
                3 => 46,
                4 | 5 => 44,
                6 => 47,
                7 => 34,
                8..=11 => 39,
                _ => 0,
            };
            i32::from(pair[0].key()) >= lowest
        })
    };
    must(rule, &[43, 47, 65], 1);
}

/// Three to as many as are asked for; fewer only where nothing else is left.
#[test]
fn there_are_no_more_parts_than_asked_for() {
    must(|request, voicing| voicing.notes().len() <= request.parts, &[43, 50, 55, 59, 65], 3);
    let mut thin = 0;
    assert_eq!(broken(|_, voicing| !voicing.is_empty()), None);
    let mut dice = Dice(7);
    for _ in 0..5_000 {
        thin += usize::from(voice(&request(&mut dice), None).notes().len() < 3);
    }
    assert!(thin < 250, "{thin} of 5000 have fewer than three parts");
}

/// Without a melody, wherever there are parts for them; under one, in three of four random chords at least
/// (the melodies know nothing of the chords; `evaluate voicing` tells the impossible ones apart).
#[test]
fn guide_tones_are_there() {
    let missing = |request: &Request, voicing: &Voicing| -> Vec<PitchClass> {
        let sounding: Vec<PitchClass> = all(request, voicing).iter().map(|note| note.class()).collect();
        request.chord.guide_tones().iter().filter(|class| !sounding.contains(class)).collect()
    };
    let rule = |request: &Request, voicing: &Voicing| {
        let wanted = request.chord.guide_tones().without(request.chord.bass).len() as usize;
        request.melody.is_some() || request.parts <= wanted || missing(request, voicing).is_empty()
    };
    assert_eq!(broken(rule), None);
    let mut dice = Dice(11);
    let lacking = (0..10_000)
        .filter(|_| {
            let request = request(&mut dice);
            !missing(&request, &voice(&request, None)).is_empty()
        })
        .count();
    println!("{lacking} of 10000 random chords lack a guide tone under their melody");
    assert!(lacking < 2_500, "{lacking} of 10000");
}

/// In a seventh chord of three parts the fifth is the one that is left out (Gehrkens, Music Notation and Terminology,
/// 1914, § 201).
#[test]
fn the_fifth_goes_first() {
    for root in 0..12 {
        for kind in [Kind::Dominant, Kind::MinorSeventh, Kind::MajorSeventh] {
            let chord = Chord::new(PitchClass::new(root), kind);
            let request = Request {
                chord,
                melody: None,
                ceiling: None,
                summit: None,
                register: None,
                parts: 3,
                sung: None,
                ..request(&mut Dice(3))
            };
            let classes: Vec<PitchClass> = voice(&request, None).notes().iter().map(|n| n.class()).collect();
            assert!(
                !classes.contains(&chord.root.transpose(7)) && classes.len() == 3,
                "{chord:?}: {classes:?}"
            );
        }
    }
}

/// A bass that sounds already stays.
#[test]
fn a_kept_bass_is_kept() {
    let mut dice = Dice(5);
    let mut kept = 0;
    for _ in 0..5_000 {
        let first = request(&mut dice);
        let Some(bass) = voice(&first, None).bass() else { continue };
        let again = voice(&Request { kept_bass: Some(bass), parts: 6, ..first }, None);
        assert_eq!(again.bass(), Some(bass));
        kept += 1;
    }
    assert!(kept > 4_000);
}

/// As printed, but an octave lower where a low melody leaves no room.
#[test]
fn plain_chords_go_below_a_low_melody() {
    let mut dice = Dice(3);
    let plain = |chord, melody: u8, dice: &mut Dice| {
        let melody = Some(Pitch::new(melody));
        voice(&Request { chord, melody, grip: Default::default(), rung: Rung::Plain, ..request(dice) }, None)
    };
    let keys = |voicing: &Voicing| voicing.notes().iter().map(|pitch| pitch.key()).collect::<Vec<_>>();
    let c = Chord::new(PitchClass::new(0), Kind::Major);
    assert_eq!(keys(&plain(c, 72, &mut dice)), [48, 52, 55]);
    assert_eq!(keys(&plain(c, 55, &mut dice)), [48, 52]);
    assert_eq!(keys(&plain(c, 48, &mut dice)), [36, 40, 43]);
    assert_eq!(keys(&plain(c, 24, &mut dice)), []);
}
