//! Guards chord symbols: what is printed reads back as the same symbol, nothing makes the reader panic, and
//! every chord symbol of the tune collections beside the workspace is understood.

#[path = "../../../tests/src/absent.rs"]
mod absent;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use figwort_theory::{Alterations, Chord, ChordSymbol, Key, Kind, Mode, NoteName, PitchClass};
use proptest::prelude::*;

/// Every kind with every set of flags, 262,144 chords: the text reads back as the chord's plainest form.
#[test]
fn printed_symbols_read_back() {
    let root = NoteName::flat(PitchClass::new(10));
    for kind in Kind::ALL {
        for bits in 0..1 << 13 {
            let chord = Chord::new(root.class(), kind).altered(Alterations::from_bits(bits));
            let written = ChordSymbol { chord: Some(chord), root, bass: None };
            let text = written.to_string();
            let read = ChordSymbol::parse(&text);
            assert_eq!(read, Ok(ChordSymbol { chord: Some(chord.plainest()), ..written }), "{text}");
        }
    }
    assert_eq!(ChordSymbol::parse(&ChordSymbol::NO_CHORD.to_string()), Ok(ChordSymbol::NO_CHORD));
}

/// The spellings that a player sees, so that a change of them is noticed.
#[test]
fn what_is_printed() {
    for (read, printed, pretty) in [
        ("B♭-7♭5/e", "Bbm7b5/E", "B♭m7♭5/E"),
        ("C#ø9", "C#m9(b5)", "C♯m9(♭5)"),
        ("Ebo9", "Ebdim9", "E♭dim9"),
        ("FmM9", "Fm(maj9)", "Fm(maj9)"),
        ("G7susb9", "G7sus4(b9)", "G7sus4(♭9)"),
        ("Calt/Gb", "C7alt/Gb", "C7alt/G♭"),
        ("Ab69", "Ab6/9", "A♭6/9"),
        ("D7-9-13", "D7(b9,b13)", "D7(♭9,♭13)"),
        ("C(b5)", "C(b5)", "C(♭5)"),
        ("C+M7", "Cmaj7(#5)", "Cmaj7(♯5)"),
        ("Fa7", "Faug7", "Faug7"),
        ("Bbbsus", "Bbbsus4", "B♭♭sus4"),
        ("nc", "N.C.", "N.C."),
    ] {
        let symbol = ChordSymbol::parse(read).unwrap();
        assert_eq!(symbol.to_string(), printed);
        assert_eq!(symbol.unicode().to_string(), pretty);
        assert_eq!(ChordSymbol::parse(pretty), Ok(symbol));
    }
}

fn names() -> impl Strategy<Value = NoteName> {
    (0..7_u8, -2..=2_i8).prop_map(|(letter, alter)| NoteName::new(letter, alter).expect("a name"))
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_root_and_bass_reads_back(
        root in names(), bass in proptest::option::of(names()), kind in 0..Kind::ALL.len(), bits in 0..1_u16 << 13,
    ) {
        let symbol = ChordSymbol::from_parts(root, Kind::ALL[kind], Alterations::from_bits(bits), bass);
        prop_assert_eq!(ChordSymbol::parse(&symbol.to_string()), Ok(symbol));
        prop_assert_eq!(ChordSymbol::parse(&symbol.unicode().to_string()), Ok(symbol));
    }

    #[test]
    fn spelling_never_changes_the_sound(
        root in 0..12, bass in 0..12, kind in 0..Kind::ALL.len(), bits in 0..1_u16 << 13,
        fifths in -7..=7, minor: bool,
    ) {
        let chord = Chord::new(PitchClass::new(root), Kind::ALL[kind])
            .altered(Alterations::from_bits(bits)).over(PitchClass::new(bass)).plainest();
        let key = Key::from_fifths(fifths, if minor { Mode::Minor } else { Mode::Major });
        let symbol = ChordSymbol::of(chord, key);
        prop_assert_eq!(symbol.root.class(), chord.root);
        prop_assert_eq!(symbol.bass.map_or(chord.root, NoteName::class), chord.bass);
        prop_assert_eq!(ChordSymbol::parse(&symbol.to_string()), Ok(symbol));
    }

    /// Any text, and text made of the words of chord symbols: no panic, and offsets that lie between
    /// characters and within the text.
    #[test]
    fn no_text_is_too_strange(
        any in ".{0,24}",
        likely in r"[ (]{0,2}[A-GN][#b♯♭𝄫]{0,3}(m|maj|min|dim|aug|sus|add|no|omit|alt|Δ|ø|°|o|\+|-|M|a|d|5|6|7|9|11|13|b5|♭9|#11|/|\(|\)|,| |é|[A-Ga-g]){0,8}",
    ) {
        for text in [&any, &likely] {
            let parsed = ChordSymbol::parse(text);
            let prefix = ChordSymbol::parse_prefix(text);
            if let Some((symbol, end)) = prefix {
                prop_assert!(text.is_char_boundary(end));
                // What the beginning was understood to say, the beginning alone says too.
                if !text.starts_with([' ', '(', '\t']) {
                    prop_assert_eq!(ChordSymbol::parse(&text[..end]), Ok(symbol));
                }
            }
            match parsed {
                Ok(symbol) => prop_assert_eq!(prefix, Some((symbol, text.len()))),
                Err(error) => prop_assert!(error.at <= text.len() && text.is_char_boundary(error.at)),
            }
        }
    }
}

/// The text in quotation marks of every ABC file in the collections: chord symbols, and two that are not.
#[test]
fn collections_of_tunes() {
    let folder = std::env::var_os("FIGWORT_CORPUS")
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared/corpus"), PathBuf::from);
    let mut texts = BTreeMap::<String, usize>::new();
    for name in ["nottingham_gpl3", "tuneworks_ccbysa"] {
        quoted(&folder.join(name), &mut texts);
    }
    if texts.is_empty() {
        return absent::skipped(format_args!(
            "no tunes of the open collections in {}; FIGWORT_CORPUS names another folder",
            folder.display()
        ));
    }
    let unread: Vec<&str> =
        texts.keys().map(String::as_str).filter(|text| ChordSymbol::parse(text).is_err()).collect();
    let total: usize = texts.values().sum();
    println!("{} spellings in {total} places; not chord symbols: {unread:?}", texts.len());
    assert!(unread.iter().all(|text| [" ", "From A.Train's song"].contains(text)), "{unread:?}");
    for text in texts.keys().filter(|text| !unread.contains(&text.as_str())) {
        let symbol = ChordSymbol::parse(text).unwrap();
        assert_eq!(ChordSymbol::parse(&symbol.to_string()), Ok(symbol), "{text}");
    }
}

fn quoted(folder: &Path, texts: &mut BTreeMap<String, usize>) {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return;
    };
    for path in entries.flatten().map(|entry| entry.path()) {
        if path.is_dir() {
            quoted(&path, texts);
        } else if path.extension().is_some_and(|ext| ext == "abc") {
            let bytes = std::fs::read(&path).expect("a readable file");
            for line in String::from_utf8_lossy(&bytes).lines() {
                for text in line.split('"').skip(1).step_by(2) {
                    *texts.entry(text.to_owned()).or_default() += 1;
                }
            }
        }
    }
}
