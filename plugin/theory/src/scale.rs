//! Keys and their scales.

use crate::pitch::{NoteName, PitchClass, PitchClassSet};

/// Major or minor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Mode {
    /// The major scale.
    #[default]
    Major,
    /// The natural minor scale, its seventh raised where the harmony asks for it.
    Minor,
}

/// A key: a tonic and a mode.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub struct Key {
    /// The tonic.
    pub tonic: PitchClass,
    /// The mode.
    pub mode: Mode,
}

impl Key {
    /// From a count of sharps (flats when negative, -7 to 7) and a mode, as MIDI and MusicXML write it;
    /// counts beyond the range wrap around the circle of fifths.
    pub const fn from_fifths(fifths: i32, mode: Mode) -> Self {
        let major = fifths * 7;
        Self {
            tonic: PitchClass::new(match mode {
                Mode::Major => major,
                Mode::Minor => major + 9,
            }),
            mode,
        }
    }

    /// Sharps (positive) or flats (negative) of the signature, -6 to 6; six sharps rather than six flats.
    pub const fn fifths(self) -> i32 {
        let major = match self.mode {
            Mode::Major => self.tonic,
            Mode::Minor => self.tonic.transpose(3),
        };
        let sharps = major.number() as i32 * 7 % 12;
        if sharps > 6 { sharps - 12 } else { sharps }
    }

    /// The seven classes of the scale (natural minor in minor).
    pub const fn scale(self) -> PitchClassSet {
        let pattern = match self.mode {
            Mode::Major => 0b1010_1011_0101,
            Mode::Minor => 0b0101_1010_1101,
        };
        PitchClassSet::from_bits(pattern).transpose(self.tonic.number() as i32)
    }

    /// A name for a class that suits the signature: the scale's own notes as the signature spells them, the
    /// leading tone of a minor key as its raised seventh (F♯ in G minor), others with sharps in sharp keys and
    /// flats in flat keys, in C as players write it (F♯, C♯ but B♭, E♭, A♭).
    pub const fn name(self, class: PitchClass) -> NoteName {
        let fifths = self.fifths();
        if let Some(name) = self.own_name(class) {
            name
        } else if fifths < 0 {
            NoteName::flat(class)
        } else if fifths > 0 {
            NoteName::sharp(class)
        } else {
            match class.number() {
                3 | 8 | 10 => NoteName::flat(class),
                _ => NoteName::sharp(class),
            }
        }
    }

    /// A name for a chord's root: the scale's own, else the nearest on the line of fifths, so that ♭II, ♭III,
    /// ♭VI and ♭VII keep their flats in sharp keys. `leading` roots (of diminished chords) are taken up to two
    /// places more to the sharp side. Never C♭, F♭, E♯, B♯ or a double accidental but for the scale's own.
    pub(crate) const fn chord_root(self, class: PitchClass, leading: bool) -> NoteName {
        if let Some(name) = self.own_name(class) {
            return name;
        }
        // Twelve places on the line, lowest first; the scale's own seven lie from one below the signature.
        let lowest = self.fifths()
            + match (self.mode, leading) {
                (Mode::Major, false) => -5,
                (Mode::Major, true) | (Mode::Minor, false) => -3,
                (Mode::Minor, true) => -2,
            };
        // The one of the twelve that sounds `class`.
        let place = lowest + (class.number() as i32 * 7 - lowest).rem_euclid(12);
        // Beyond G flat and A sharp the plain names are the readable ones.
        if place < -6 {
            NoteName::sharp(class)
        } else if place > 10 {
            NoteName::flat(class)
        } else {
            match NoteName::from_fifths(place) {
                Some(name) => name,
                None => NoteName::sharp(class),
            }
        }
    }

    /// The name of one of the scale's own notes, or of the raised seventh in minor.
    const fn own_name(self, class: PitchClass) -> Option<NoteName> {
        let fifths = self.fifths();
        let lowest = fifths - 1;
        let place = lowest + (class.number() as i32 * 7 - lowest).rem_euclid(12);
        let raised_seventh = fifths + 8;
        if place < lowest + 7 || matches!(self.mode, Mode::Minor) && place == raised_seventh {
            NoteName::from_fifths(place)
        } else {
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signatures_round_trip() {
        for fifths in -5..=6 {
            for mode in [Mode::Major, Mode::Minor] {
                assert_eq!(Key::from_fifths(fifths, mode).fifths(), fifths);
            }
        }
    }

    #[test]
    fn scales_of_f_major_and_a_minor() {
        let classes = |key: Key| -> u16 { key.scale().bits() };
        let set = |list: [i32; 7]| list.into_iter().map(PitchClass::new).collect::<PitchClassSet>().bits();
        assert_eq!(classes(Key::from_fifths(-1, Mode::Major)), set([5, 7, 9, 10, 0, 2, 4]));
        assert_eq!(classes(Key::from_fifths(0, Mode::Minor)), set([9, 11, 0, 2, 4, 5, 7]));
    }

    #[test]
    fn names_follow_the_signature() {
        let name = |fifths, mode, class| {
            let name = Key::from_fifths(fifths, mode).name(PitchClass::new(class));
            (name.letter(), name.alter())
        };
        assert_eq!(name(0, Mode::Minor, 8), (4, 1)); // G sharp leads to A
        assert_eq!(name(-2, Mode::Minor, 6), (3, 1)); // F sharp leads to G
        assert_eq!(name(4, Mode::Minor, 0), (6, 1)); // B sharp leads to C sharp
        assert_eq!(name(6, Mode::Major, 5), (2, 1)); // E sharp is in F sharp major
        assert_eq!(name(-5, Mode::Major, 6), (4, -1)); // G flat is in D flat major
        assert_eq!(name(0, Mode::Major, 10), (6, -1));
        assert_eq!(name(0, Mode::Major, 6), (3, 1));
    }

    /// Whatever the key, a name sounds what it names.
    #[test]
    fn names_sound_their_class() {
        for fifths in -7..=7 {
            for mode in [Mode::Major, Mode::Minor] {
                let key = Key::from_fifths(fifths, mode);
                for class in (0..12).map(PitchClass::new) {
                    assert_eq!(key.name(class).class(), class);
                    assert_eq!(key.chord_root(class, false).class(), class);
                    assert_eq!(key.chord_root(class, true).class(), class);
                }
            }
        }
    }
}
