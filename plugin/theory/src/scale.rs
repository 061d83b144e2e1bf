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

    /// A name for a class that suits the signature: sharps in sharp keys, flats in flat keys, in C as
    /// players write it (F♯, C♯ but B♭, E♭, A♭).
    pub const fn name(self, class: PitchClass) -> NoteName {
        let fifths = self.fifths();
        if fifths < 0 {
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
}
