//! Text to chord symbols.
//!
//! One pass from left to right, longest word first, no backtracking. After each word, and each pair of
//! brackets, the symbol read so far is kept, so that a text with an unreadable end still gives its beginning.

use super::ChordSymbol;
use super::cursor::Cursor;
use super::draft::Draft;
use crate::chord::{Alterations, Kind};

/// How far reading came, in bytes.
#[derive(Clone, Copy)]
pub(super) struct End {
    /// The end of what the returned symbol stands for.
    pub(super) understood: usize,
    /// Where the first word began that was not understood.
    pub(super) stopped: usize,
    /// Whether the text is a symbol from end to end.
    pub(super) whole: bool,
}

/// Reads a symbol from the beginning of a text; `None` without a root.
pub(super) fn read(text: &str) -> (Option<ChordSymbol>, End) {
    let mut cursor = Cursor { text, at: 0 };
    let mut depth = 0_usize;
    while let Some(word) = cursor.take_any(&["(", " ", "\t"]) {
        depth += usize::from(word == "(");
    }
    if cursor.take_any(&["N.C.", "N.C", "NC", "n.c.", "n.c", "nc"]).is_some() {
        return close(cursor, depth, ChordSymbol::NO_CHORD);
    }
    let Some(root) = cursor.root() else {
        return (None, End { understood: 0, stopped: cursor.at, whole: false });
    };
    let after_root = cursor.at;
    let mut draft = Draft::new(root);
    // A root alone is a chord.
    let mut kept = (ChordSymbol::from_parts(root, Kind::Major, Alterations::NONE, None), cursor.at);
    let mut inner = 0_usize;
    loop {
        let before = cursor.at;
        let understood = if cursor.take_any(&[" ", ",", "\t"]).is_some() {
            continue;
        } else if cursor.take("(") {
            inner += 1;
            continue;
        } else if inner > 0 && cursor.take(")") {
            inner -= 1;
            true
        } else if cursor.rest().is_empty() || cursor.rest().starts_with(')') {
            break;
        } else if !cursor.take("/") {
            draft.word(&mut cursor, before == after_root, inner > 0)
        } else if cursor.at_digit() {
            draft.number(&mut cursor, true)
        } else {
            cursor.take(" ");
            draft.bass = cursor.bass();
            match draft.build() {
                Some(symbol) if inner == 0 && draft.bass.is_some() => return close(cursor, depth, symbol),
                _ => false,
            }
        };
        match draft.build() {
            Some(symbol) if understood => {
                if inner == 0 {
                    kept = (symbol, cursor.at);
                }
            }
            _ => return (Some(kept.0), End { understood: kept.1, stopped: before, whole: false }),
        }
    }
    if inner > 0 {
        return (Some(kept.0), End { understood: kept.1, stopped: cursor.at, whole: false });
    }
    cursor.at = kept.1;
    close(cursor, depth, kept.0)
}

/// Reads what may follow a complete symbol: spaces and the brackets opened before it.
fn close(mut cursor: Cursor<'_>, mut depth: usize, symbol: ChordSymbol) -> (Option<ChordSymbol>, End) {
    let complete = cursor.at;
    loop {
        if depth > 0 && cursor.take(")") {
            depth -= 1;
        } else if cursor.take_any(&[" ", "\t"]).is_none() {
            break;
        }
    }
    let whole = cursor.rest().is_empty() && depth == 0;
    let understood = if whole { cursor.at } else { complete };
    (Some(symbol), End { understood, stopped: cursor.at, whole })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chord::Chord;
    use crate::pitch::{NoteName, PitchClass};
    use crate::symbol::SymbolError;

    type A = Alterations;

    fn chord(text: &str) -> Chord {
        let symbol = ChordSymbol::parse(text);
        symbol.ok().and_then(|symbol| symbol.chord).unwrap_or_else(|| panic!("{text}: {symbol:?}"))
    }

    /// Each line: a kind, its flags, and ways to write it on C. Common practice, ABC 2.1 section 4.18, and
    /// the abbreviations of music21 10.5.1 (`harmony.CHORD_TYPES`) where they don't use "-" for flat.
    #[test]
    fn spellings() {
        let lines: [(Kind, A, &str); 47] = [
            (Kind::Major, A::NONE, "C|CM|Cmaj|Cma|Cmajor|C major| C |(C)|( C )|((C))"),
            (Kind::Minor, A::NONE, "Cm|Cmi|Cmin|C-|C−|Cminor|C minor"),
            (Kind::Augmented, A::NONE, "C+|Caug|Ca|C(#5)|C+5|Cmaj#5"),
            (Kind::Diminished, A::NONE, "Cdim|Co|C°|Cd|Cm(b5)|Cm-5|Cmb5"),
            (Kind::Dominant, A::NONE, "C7|Cdom7|(C7)|C(7)"),
            (Kind::MajorSeventh, A::NONE, "Cmaj7|CM7|Cma7|CMaj7|CΔ|CΔ7|C∆|C7M|C(maj7)|C maj7|Cmajor7"),
            (Kind::MinorSeventh, A::NONE, "Cm7|Cmin7|Cmi7|C-7"),
            (Kind::DiminishedSeventh, A::NONE, "Cdim7|Co7|C°7|Cd7"),
            (Kind::AugmentedSeventh, A::NONE, "Caug7|C+7|C7+|C7#5|C7+5|C7(#5)|C7♯5|Ca7"),
            (Kind::HalfDiminished, A::NONE, "Cm7b5|Cø|Cø7|Cm7♭5|Cm7(b5)|C-7b5|C-7-5|Cmin7b5|Chdim7"),
            (Kind::MajorMinor, A::NONE, "Cm(maj7)|CmM7|Cmmaj7|CmMaj7|Cminmaj7|C-Δ|C-Δ7|Cm#7|C-maj7|CmΔ"),
            (Kind::MajorSixth, A::NONE, "C6|Cadd6|CM6|Cmaj6"),
            (Kind::MinorSixth, A::NONE, "Cm6|Cmin6|C-6"),
            (Kind::MajorSixth, A::ADD_NINTH, "C6/9|C69|C6add9|C6(9)|C6(add9)"),
            (Kind::MinorSixth, A::ADD_NINTH, "Cm6/9|Cm69"),
            (Kind::DominantNinth, A::NONE, "C9|Cdom9|C7/9|C7add9"),
            (Kind::MajorNinth, A::NONE, "Cmaj9|CM9|CΔ9|Cmaj7(9)"),
            (Kind::MinorNinth, A::NONE, "Cm9|Cmin9|C-9|Cm7(9)"),
            (Kind::DominantEleventh, A::NONE, "C11"),
            (Kind::MajorEleventh, A::NONE, "Cmaj11|CM11"),
            (Kind::MinorEleventh, A::NONE, "Cm11|C-11|Cmin11"),
            (Kind::DominantThirteenth, A::NONE, "C13|Cdom13"),
            (Kind::MajorThirteenth, A::NONE, "Cmaj13|CM13"),
            (Kind::MinorThirteenth, A::NONE, "Cm13|C-13"),
            (Kind::SuspendedSecond, A::NONE, "Csus2"),
            (Kind::SuspendedFourth, A::NONE, "Csus|Csus4|C(sus4)|C4"),
            (Kind::Power, A::NONE, "C5|Cpower"),
            (Kind::Pedal, A::NONE, "Cpedal"),
            (Kind::Neapolitan, A::NONE, "CN6"),
            (Kind::Italian, A::NONE, "CIt+6|CIt6"),
            (Kind::French, A::NONE, "CFr+6"),
            (Kind::German, A::NONE, "CGr+6|CGer6"),
            (Kind::Dominant, A::SUSPEND_FOURTH, "C7sus4|C7sus|Csus7"),
            (Kind::DominantNinth, A::SUSPEND_FOURTH, "C9sus4|C9sus|Csus9"),
            (Kind::Major, A::ADD_NINTH, "Cadd9|Cadd2|C2|C(add9)|C(9)"),
            (Kind::Minor, A::ADD_NINTH, "Cmadd9|Cm(add9)|Cmadd2"),
            (Kind::Major, A::ADD_ELEVENTH, "Cadd11|Cadd4"),
            (Kind::Dominant, A::FLAT_NINTH, "C7b9|C7(b9)|C7-9|C7♭9|C7addb9"),
            (Kind::Dominant, A::SHARP_NINTH, "C7#9|C7+9|C7(♯9)"),
            (Kind::Dominant, A::SHARP_ELEVENTH, "C7#11|C7+11|C7#4|C7(#11)"),
            (Kind::Dominant, A::FLAT_THIRTEENTH, "C7b13|C7(b13)"),
            (
                Kind::Dominant,
                A::FLAT_NINTH.union(A::FLAT_THIRTEENTH),
                "C7b9b13|C7(b9,b13)|C7(b9b13)|C7 b9 b13",
            ),
            (Kind::AugmentedSeventh, A::FLAT_FIFTH.union(A::FLAT_NINTH).union(A::SHARP_NINTH), "C7alt|Calt"),
            (Kind::Major, A::OMIT_THIRD, "Cno3|C(no3)|C(omit3)|Comit3|C(no 3rd)"),
            (Kind::Dominant, A::OMIT_FIFTH, "C7no5|C7(no5)|C7omit5"),
            (Kind::MinorNinth, A::FLAT_FIFTH, "Cm9b5|Cø9|Cm9(b5)"),
            (Kind::DominantNinth, A::ADD_THIRTEENTH, "C13no11|C13(no11)|C9(13)|C9add13"),
        ];
        for (kind, flags, texts) in lines {
            for text in texts.split('|') {
                assert_eq!(chord(text), Chord::new(PitchClass::C, kind).altered(flags), "{text}");
            }
        }
    }

    #[test]
    fn roots_and_basses() {
        for (text, root, bass) in [
            ("Gm/bb", 7, 10),
            ("D/f+", 2, 6),
            ("E7/g+", 4, 8),
            ("Bb/d", 10, 2),
            ("B♭m7♭5/E", 10, 4),
            ("F#m/a", 6, 9),
            ("C/c", 0, 0),
            ("(D7/A)", 2, 9),
            ("C / E", 0, 4),
            ("C6/9/G", 0, 7),
            ("Bbb", 9, 9),
            ("F𝄪m", 7, 7),
            ("Abb/Cb", 7, 11),
        ] {
            let found = chord(text);
            assert_eq!((found.root, found.bass), (PitchClass::new(root), PitchClass::new(bass)), "{text}");
        }
        assert_eq!(ChordSymbol::parse("C/c").map(|symbol| symbol.bass), Ok(NoteName::new(0, 0)));
        for text in ["N.C.", "NC", "N.C", " n.c. ", "(N.C.)"] {
            assert_eq!(ChordSymbol::parse(text), Ok(ChordSymbol::NO_CHORD), "{text}");
        }
    }

    /// Text beside the music, broken symbols and nonsense, with the byte at which each stops making sense.
    #[test]
    fn what_is_no_chord() {
        for (text, at) in [
            ("", 0),
            (" ", 1),
            ("From A.Train's song", 1),
            ("Fine", 1),
            ("D.C.", 1),
            ("Coda", 2),
            ("Bass", 1),
            ("Ad lib.", 3),
            ("a tempo", 0),
            ("H7", 0),
            ("C7(b9", 5),
            ("(C7", 3),
            ("C7)", 2),
            ("C/", 1),
            ("C/H", 1),
            ("C/E x", 4),
            ("Cmm", 2),
            ("C7m", 2),
            ("C77", 2),
            ("C1", 1),
            ("C#13#13", 4),
            ("Cdim13", 4),
            ("C♭♭♭", 7),
            ("D Em", 2),
            ("C7b", 2),
            ("Cé", 1),
            ("Csus4x", 5),
        ] {
            assert_eq!(ChordSymbol::parse(text), Err(SymbolError { at }), "{text}");
        }
    }

    #[test]
    fn the_readable_beginning() {
        let read = |text| ChordSymbol::parse_prefix(text).map(|(symbol, end)| (symbol.chord, end));
        let plain = |root, kind| Some(Chord::new(PitchClass::new(root), kind));
        assert_eq!(read("C7foo"), Some((plain(0, Kind::Dominant), 2)));
        assert_eq!(read("Gm7(b9,x)"), Some((plain(7, Kind::MinorSeventh), 3)));
        assert_eq!(read("Fx"), Some((plain(5, Kind::Major), 1)));
        assert_eq!(read("C/H"), Some((plain(0, Kind::Major), 1)));
        assert_eq!(read(" (C7) "), Some((plain(0, Kind::Dominant), 6)));
        assert_eq!(read("N.C. here"), Some((None, 4)));
        assert_eq!(read("tacet"), None);
    }
}
