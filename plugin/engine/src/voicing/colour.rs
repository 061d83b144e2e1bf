//! Colour tones: ninths, elevenths and thirteenths that the symbol doesn't name.

use figwort_theory::{Alterations, Chord, Degree, Key, Mode, PitchClass};

use crate::settings::Colour;

/// The chord with the colour that the setting allows. `sung` is a standing melody note.
pub fn coloured(chord: Chord, key: Key, sung: Option<PitchClass>, colour: Colour) -> Chord {
    match colour {
        Colour::Plain => chord,
        Colour::FromMelody => from_melody(chord, sung),
        Colour::Added => added(from_melody(chord, sung), key),
    }
}

fn has_seventh(chord: Chord) -> bool {
    chord.tones().iter().any(|class| chord.degree(class) == Some(Degree::Seventh))
}

/// A melody note that stands over a seventh chord and isn't in it belongs to it: natural ninths and
/// thirteenths over all, elevenths over minor ones, altered tones over dominants. Common practice, no source.
fn from_melody(chord: Chord, sung: Option<PitchClass>) -> Chord {
    let Some(class) = sung.filter(|class| !chord.classes().contains(*class)) else { return chord };
    if !has_seventh(chord) {
        return chord;
    }
    let dominant = chord.is_dominant();
    let minor = chord.intervals().contains(PitchClass::new(3));
    match class.above(chord.root) {
        1 if dominant => chord.altered(Alterations::FLAT_NINTH),
        2 => chord.altered(Alterations::ADD_NINTH),
        3 if dominant => chord.altered(Alterations::SHARP_NINTH),
        5 if minor => chord.altered(Alterations::ADD_ELEVENTH),
        6 if dominant => chord.altered(Alterations::SHARP_ELEVENTH),
        8 if dominant => chord.altered(Alterations::FLAT_THIRTEENTH),
        9 => chord.altered(Alterations::ADD_THIRTEENTH),
        _ => chord,
    }
}

/// A ninth where one is available: of the key's scale, and a whole step above the root, so not on the third
/// and seventh degrees (chord-scale rule after Nettles 1987 and Haerle 1980: the third degree avoids 2 and 6,
/// the seventh avoids 2). Only seventh chords of the key are coloured.
fn added(chord: Chord, key: Key) -> Chord {
    let ninth = chord.root.transpose(2);
    let scale = key.scale();
    let tonic = match key.mode {
        Mode::Major => key.tonic,
        Mode::Minor => key.tonic.transpose(3),
    };
    let avoided = matches!(chord.root.above(tonic), 4 | 11);
    let of_the_key = chord.tones().is_subset_of(scale.with(key.tonic.transpose(-1)));
    let has_ninth = chord.tones().iter().any(|class| chord.degree(class) == Some(Degree::Ninth));
    if has_seventh(chord) && of_the_key && scale.contains(ninth) && !avoided && !has_ninth {
        chord.altered(Alterations::ADD_NINTH)
    } else {
        chord
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use figwort_theory::Kind;

    const C: Key = Key { tonic: PitchClass::C, mode: Mode::Major };

    fn seventh_on(degree: i32) -> Chord {
        let kind = match degree {
            0 | 5 => Kind::MajorSeventh,
            7 => Kind::Dominant,
            11 => Kind::HalfDiminished,
            _ => Kind::MinorSeventh,
        };
        Chord::new(PitchClass::new(degree), kind)
    }

    #[test]
    fn a_sung_ninth_is_taken_into_the_dominant() {
        let g7 = seventh_on(7);
        let with_a = coloured(g7, C, Some(PitchClass::new(9)), Colour::FromMelody);
        assert_eq!(with_a.degree(PitchClass::new(9)), Some(Degree::Ninth));
        let with_a_flat = coloured(g7, C, Some(PitchClass::new(8)), Colour::FromMelody);
        assert_eq!(with_a_flat, g7.altered(Alterations::FLAT_NINTH));
        assert_eq!(coloured(g7, C, Some(PitchClass::new(0)), Colour::FromMelody), g7, "a fourth is none");
        assert_eq!(coloured(g7, C, Some(PitchClass::new(9)), Colour::Plain), g7);
    }

    /// Modes of the major scale and the ninth: iii and vii avoid it (Nettles 1987, Haerle 1980).
    #[test]
    fn ninths_are_added_where_they_are_available() {
        let coloured_degrees: [bool; 7] = [0, 2, 4, 5, 7, 9, 11]
            .map(|degree| coloured(seventh_on(degree), C, None, Colour::Added) != seventh_on(degree));
        assert_eq!(coloured_degrees, [true, true, false, true, true, true, false]);
        let foreign = Chord::new(PitchClass::new(10), Kind::Dominant);
        assert_eq!(coloured(foreign, C, None, Colour::Added), foreign);
    }
}
