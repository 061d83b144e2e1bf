//! Guards the naming of held chords: every kind in every inversion on every root, the chords that players
//! use besides, and the rules for ambiguity.
//!
//! Two measures. *One reading* counts a set as ambiguous when two listed chords have its notes; the list is
//! music21's kinds (without the sixths and the other names that only context gives) and eight altered
//! dominants. *One kind* counts only music21's kinds, so that G7(b9) is "wrong" for what music21 lists as a
//! diminished ninth on F over G.

#[path = "naming/kinds.rs"]
mod kinds;

use figwort_theory::identify::{Context, identify, identify_keys};
use figwort_theory::{Alterations, Chord, ChordSymbol, Key, Kind, Mode, Pitch, PitchClass, PitchClassSet};
use kinds::{KINDS, Kinds};

fn class(n: i32) -> PitchClass {
    PitchClass::new(n)
}

fn set(list: &[i32]) -> PitchClassSet {
    list.iter().copied().map(PitchClass::new).collect()
}

fn name(held: PitchClassSet, bass: PitchClass) -> Chord {
    identify(held, bass, &Context::default()).expect("notes are held")
}

/// The kinds' intervals agree with the table (music21 10.5.1, and MusicXML 4.0's wording where it states
/// them, which the table's maker found to agree).
#[test]
fn kinds_have_the_published_intervals() {
    let mut checked = 0;
    for entry in KINDS {
        if let Some(kind) = Kind::from_musicxml(entry.name) {
            assert_eq!(kind.intervals(), set(entry.semitones), "{}", entry.name);
            checked += 1;
        }
    }
    // All but "other", which has none.
    assert_eq!(checked, Kind::ALL.len() - 1);
}

#[derive(Default, Debug)]
struct Count {
    all: u32,
    right: u32,
}

impl Count {
    fn add(&mut self, right: bool) {
        self.all += 1;
        self.right += u32::from(right);
    }
}

#[test]
fn every_kind_in_every_inversion_on_every_root() {
    let table = Kinds::new();
    let (mut one_reading, mut one_kind, mut several) = (Count::default(), Count::default(), Count::default());
    for entry in KINDS.iter().filter(|entry| !entry.context_only) {
        for root in 0..12 {
            let held = set(entry.semitones).transpose(root);
            for bass in held.iter() {
                let found = name(held, bass);
                let right = found.root == class(root) && found.intervals() == set(entry.semitones);
                assert!(held.is_subset_of(found.classes()), "{entry:?} on {root} over {bass:?}: {found:?}");
                assert_eq!(found.bass, bass);
                if table.kinds_of(held) == 1 {
                    one_kind.add(right);
                }
                if table.readings_of(held) == 1 {
                    one_reading.add(right);
                    assert!(right, "{} on {root} over {bass:?}: {}", entry.name, kinds::text(found));
                } else {
                    several.add(right);
                    assert!(table.is_reading(found), "{} on {root}: {}", entry.name, kinds::text(found));
                    // Bass first: a reading whose root is the bass goes before the others.
                    if table.has_reading_on(held, bass) {
                        assert_eq!(found.root, bass, "{} on {root}: {}", entry.name, kinds::text(found));
                    }
                }
                // MusicXML's own kinds are answered as kinds, without alterations.
                if right && Kind::from_musicxml(entry.name).is_some() {
                    assert_eq!(Some(found.kind), Kind::from_musicxml(entry.name));
                    assert_eq!(found.alterations, Alterations::NONE);
                }
            }
        }
    }
    println!("one reading {one_reading:?}, several {several:?}; one kind {one_kind:?}");
}

/// MusicXML's kinds are ambiguous only among themselves: no altered dominant goes before them.
#[test]
fn musicxml_kinds_go_before_altered_dominants() {
    let table = Kinds::new();
    let mut count = Count::default();
    for entry in KINDS.iter().filter(|entry| !entry.context_only && Kind::from_musicxml(entry.name).is_some())
    {
        for root in 0..12 {
            let held = set(entry.semitones).transpose(root);
            if table.kinds_of(held) == 1 {
                held.iter().for_each(|bass| count.add(name(held, bass).root == class(root)));
            }
        }
    }
    println!("MusicXML kinds with one kind: {count:?}");
    assert_eq!(count.right, count.all);
}

/// Every set of classes over every bass in it: an answer, over that bass, that holds every held class; the
/// exceptions are counted and are clusters.
#[test]
fn every_set_of_notes_has_a_name() {
    let (mut all, mut unexplained) = (0, 0);
    for bits in 1..4096 {
        let held = PitchClassSet::from_bits(bits);
        for bass in held.iter() {
            let found = name(held, bass);
            assert_eq!(found.bass, bass);
            all += 1;
            if !held.is_subset_of(found.classes()) {
                unexplained += 1;
                assert!(held.len() >= 7, "{held:?} over {bass:?}: {}", kinds::text(found));
            }
            let symbol = ChordSymbol::of(found, Key::default());
            assert_eq!(ChordSymbol::parse(&symbol.to_string()), Ok(symbol));
        }
    }
    println!("{all} sets over a bass, {unexplained} with a note left over");
    assert_eq!(identify(PitchClassSet::EMPTY, PitchClass::C, &Context::default()), None);
    assert_eq!(identify_keys(core::iter::empty(), &Context::default()), None);
}

/// The same chord on another root has the same name there.
#[test]
fn naming_doesnt_depend_on_the_root() {
    for bits in 1..4096 {
        let held = PitchClassSet::from_bits(bits);
        for bass in held.iter() {
            let here = name(held, bass);
            for by in 1..12 {
                let there = name(held.transpose(by), bass.transpose(by));
                assert_eq!((there.root, there.kind), (here.root.transpose(by), here.kind));
                assert_eq!(there.alterations, here.alterations);
            }
        }
    }
}

/// Held notes (lowest first) and the symbol expected, on C's surroundings. Common practice, no source.
fn check(key: Option<Key>, previous: Option<&str>, cases: &[(&[u8], &str)]) {
    let previous = previous.map(kinds::chord);
    let context = Context { key, previous };
    let mut wrong = Vec::new();
    for (keys, expected) in cases {
        let found = identify_keys(keys.iter().copied().map(Pitch::new), &context).expect("keys are down");
        let symbol = ChordSymbol::of(found, key.unwrap_or_default());
        if symbol.to_string() != *expected {
            wrong.push(format!("{keys:?}: {symbol} instead of {expected}"));
        }
    }
    assert!(wrong.is_empty(), "with {context:?}: {wrong:#?}");
}

#[test]
fn what_players_hold() {
    check(
        None,
        None,
        &[
            // Fifth missing.
            (&[48, 52, 58], "C7"),
            (&[48, 52, 59], "Cmaj7"),
            (&[48, 51, 58], "Cm7"),
            (&[48, 58, 62, 64], "C9"),
            (&[48, 58, 64, 69], "C7(add13)"),
            (&[48, 51, 58, 62], "Cm9"),
            (&[52, 58, 60], "C7/E"),
            // Added and altered.
            (&[48, 55, 62, 64], "C(add9)"),
            (&[48, 55, 62, 63], "Cm(add9)"),
            (&[48, 52, 55, 57, 62], "C6/9"),
            (&[52, 55, 57, 60, 62], "C6/9/E"),
            (&[45, 48, 52, 55, 62], "Am7(add11)"),
            (&[43, 47, 50, 53, 56], "G7(b9)"),
            (&[47, 50, 53, 55, 56], "G7(b9)/B"),
            (&[50, 53, 55, 56, 59], "G7(b9)/D"),
            (&[56, 59, 62, 65, 67], "G7(b9)/Ab"),
            (&[43, 47, 53, 58], "G7(#9)"),
            (&[43, 47, 50, 53, 58], "G7(#9)"),
            (&[43, 53, 59, 61], "G7(b5)"),
            (&[43, 53, 59, 62, 61], "G7(#11)"),
            (&[43, 53, 57, 59, 61, 62], "G9(#11)"),
            (&[43, 53, 57, 59, 61, 62, 64], "G13(#11)"),
            (&[43, 53, 59, 64, 68], "G7(b9,add13)"),
            (&[43, 53, 59, 62, 64, 68], "G7(b9,add13)"),
            (&[43, 53, 57, 59, 62, 64], "G9(add13)"),
            (&[40, 50, 56, 59, 60, 65], "E7(b9,b13)"),
            (&[43, 53, 59, 63, 56], "Gaug7(b9)"),
            (&[41, 48, 52, 57, 59], "Fmaj7(#11)"),
            (&[41, 52, 57, 59], "Fmaj7(#11)"),
            (&[43, 53, 57, 60, 62], "G9sus4"),
            (&[43, 53, 60, 62, 64, 57], "Dm11/G"),
            (&[43, 53, 60, 64, 57], "Fmaj9/G"),
            (&[43, 53, 60, 62], "G7sus4"),
            (&[48, 53, 55], "Csus4"),
            (&[48, 50, 55], "Csus2"),
            (&[55, 60, 62], "Gsus4"),
            // Slash chords with a foreign bass; a triad over the note above its root is a ninth chord.
            (&[41, 48, 52, 55], "C/F"),
            (&[47, 53, 57, 60], "F/B"),
            (&[40, 50, 53, 57], "Dm/E"),
            (&[48, 55, 59, 62], "G/C"),
            (&[50, 57, 60, 64], "Am/D"),
            (&[51, 60, 64, 67], "C/Eb"),
            (&[54, 60, 64, 67], "C/F#"),
            (&[48, 55, 59, 62, 65], "G7/C"),
            (&[43, 53, 57, 60], "G9sus4"),
            // Two notes and one.
            (&[48, 55], "C5"),
            (&[48, 53], "F5/C"),
            (&[48, 52], "C"),
            (&[48, 51], "Cm"),
            (&[48, 56], "Ab/C"),
            (&[48, 57], "Am/C"),
            (&[48, 58], "C7(no3)"),
            (&[48, 59], "Cmaj7(no3)"),
            (&[48, 60], "Cpedal"),
            // Rootless: third, seventh and ninth or thirteenth.
            (&[52, 58, 62], "Em7b5(no3)"),
            (&[58, 64, 69], "C7(add13)/Bb"),
            // Names of the sixths in context are ordinary chords.
            (&[56, 60, 63, 66], "Ab7"),
            (&[56, 60, 66], "Ab7"),
            (&[53, 59, 63, 68], "Fm7b5"),
        ],
    );
}

#[test]
fn the_bass_decides_first() {
    let c = Some(Key::from_fifths(0, Mode::Major));
    for key in [None, c, Some(Key::from_fifths(0, Mode::Minor)), Some(Key::from_fifths(6, Mode::Major))] {
        let chord = |keys: &[u8]| {
            identify_keys(keys.iter().copied().map(Pitch::new), &Context { key, previous: None })
        };
        let plain = |root, kind| Some(Chord::new(class(root), kind));
        assert_eq!(chord(&[48, 52, 55, 57]), plain(0, Kind::MajorSixth));
        assert_eq!(chord(&[45, 48, 52, 55]), plain(9, Kind::MinorSeventh));
        assert_eq!(chord(&[50, 53, 57, 59]), plain(2, Kind::MinorSixth));
        assert_eq!(chord(&[47, 50, 53, 57]), plain(11, Kind::HalfDiminished));
        for bass in [47, 50, 53, 56] {
            let keys = [bass, 59, 62, 65, 68];
            assert_eq!(chord(&keys), plain(i32::from(bass), Kind::DiminishedSeventh));
        }
    }
}

#[test]
fn then_the_key() {
    let major = |fifths| Some(Key::from_fifths(fifths, Mode::Major));
    let minor = |fifths| Some(Key::from_fifths(fifths, Mode::Minor));
    check(major(0), None, &[(&[52, 57, 60, 67], "C6/E"), (&[52, 58], "C7/E"), (&[50, 60], "Dm7")]);
    check(major(2), None, &[(&[52, 57, 60, 67], "Am7/E")]);
    check(minor(0), None, &[(&[52, 57, 60, 67], "Am7/E"), (&[53, 57, 59, 62], "Bm7b5/F")]);
    check(
        major(-1),
        None,
        &[(&[52, 58], "C7/E"), (&[58, 64], "C7/Bb"), (&[48, 58], "C7"), (&[52, 58, 62], "C9/E")],
    );
    check(minor(-1), None, &[(&[52, 58, 62], "Em7b5(no3)")]);
    check(major(-1), None, &[(&[48, 53, 58, 62, 67, 69], "C9sus4(add13)")]);
    check(minor(-3), None, &[(&[48, 58], "Cm7"), (&[55, 65], "G7"), (&[47, 53], "G7/B")]);
    check(
        minor(0),
        None,
        &[(&[52, 62], "E7"), (&[45, 56], "Am(maj7)"), (&[40, 50, 56, 59, 60, 65], "E7(b9,b13)")],
    );
    // Am11 over C in no key.
    check(None, None, &[(&[48, 52, 55, 59, 62, 69], "Am11/C")]);
    check(major(0), None, &[(&[48, 52, 55, 59, 62, 69], "Cmaj9(add13)")]);
}

#[test]
fn then_continuity() {
    check(None, Some("C6"), &[(&[52, 57, 60, 67], "C6/E")]);
    check(None, Some("Am7"), &[(&[52, 57, 60, 67], "Am7/E")]);
    check(None, Some("C7"), &[(&[52, 58], "C7/E"), (&[48, 55], "C7"), (&[55, 64], "C7/G"), (&[46], "C7/Bb")]);
    check(None, Some("Gb7"), &[(&[52, 58], "F#7/E")]);
    check(None, Some("Cm7"), &[(&[48, 58], "Cm7"), (&[50], "Dpedal")]);
    check(None, Some("C13"), &[(&[58, 64, 69], "C13/Bb")]);
    // A chord of its own is not the previous one.
    check(None, Some("C7"), &[(&[52, 55, 58], "Edim"), (&[48, 52, 55], "C")]);
}

/// The 50 kinds in every inversion on every root, 2820 voicings that music21 made (`tests/reference`). Kind and root
/// come out where the notes leave no choice, else a chord that has exactly these notes. What music21 calls them
/// itself is compared by `cargo xtask evaluate reading`.
#[test]
fn published_voicings() {
    let text = include_str!("../../../tests/reference/voicings.csv");
    let table = Kinds::new();
    let (mut all, mut one_reading, mut one_kind) = (Count::default(), Count::default(), Count::default());
    let (mut published, mut in_context) = (Count::default(), Count::default());
    for row in text.lines().filter(|line| !line.starts_with('#')).skip(1) {
        let fields: Vec<&str> = row.split(',').collect();
        let wanted = match fields[0] {
            "dominant-seventh" => "dominant",
            "minor-major-seventh" => "major-minor",
            "half-diminished-seventh" => "half-diminished",
            other => other,
        };
        let entry = KINDS.iter().find(|entry| entry.name == wanted).expect("a kind of the table");
        let on_c: Vec<i32> = fields[2].split(' ').map(|key| key.parse().expect("a key")).collect();
        for root in 0..12 {
            // The lowest key stays in the octave from C3.
            let up = if on_c[0] + root < 60 { root } else { root - 12 };
            let keys = || on_c.iter().filter_map(|key| Pitch::from_i32(key + up));
            let root = class(root);
            let found = identify_keys(keys(), &Context::default()).expect("keys are held");
            let told = || format!("{row}, up {up}: {}", kinds::text(found));
            let held: PitchClassSet = keys().map(Pitch::class).collect();
            assert_eq!(held, set(entry.semitones).transpose(i32::from(root.number())), "{}", told());
            assert!(held.is_subset_of(found.classes()), "{}", told());
            let right = found.root == root && found.intervals() == set(entry.semitones);
            all.add(right);
            if entry.context_only {
                in_context.add(right);
                continue;
            }
            if table.readings_of(held) == 1 {
                one_reading.add(right);
                assert!(right, "{}", told());
            } else {
                assert!(table.is_reading(found), "{}", told());
            }
            if table.kinds_of(held) == 1 {
                one_kind.add(right);
                if Kind::from_musicxml(wanted).is_some() {
                    published.add(right);
                }
            }
        }
    }
    println!("rows {all:?}; names in context {in_context:?}");
    println!("one reading {one_reading:?}; one kind {one_kind:?}, of these MusicXML kinds {published:?}");
    assert_eq!(all.all, 2820);
    assert!(one_reading.all > 0);
    assert_eq!(published.right, published.all);
}
