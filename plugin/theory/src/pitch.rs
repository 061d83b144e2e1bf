//! Pitches as MIDI keys, pitch classes, sets of pitch classes, spelled note names, velocities.

use core::fmt;

/// A pitch as a MIDI key number, 0 to 127; 60 is middle C (C4), one per semitone.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Pitch(u8);

impl Pitch {
    /// Middle C.
    pub const C4: Self = Self(60);

    /// The pitch of a MIDI key; keys above 127 are taken as 127.
    pub const fn new(key: u8) -> Self {
        Self(if key > 127 { 127 } else { key })
    }

    /// The pitch of a MIDI key, or `None` outside 0 to 127.
    pub const fn from_i32(key: i32) -> Option<Self> {
        if key < 0 || key > 127 { None } else { Some(Self(key as u8)) }
    }

    /// MIDI key number, 0 to 127.
    pub const fn key(self) -> u8 {
        self.0
    }

    /// Array index, 0 to 127.
    pub const fn index(self) -> usize {
        self.0 as usize
    }

    /// The pitch without its octave.
    pub const fn class(self) -> PitchClass {
        PitchClass(self.0 % 12)
    }

    /// Moves by semitones; `None` outside the MIDI range.
    pub const fn transpose(self, semitones: i32) -> Option<Self> {
        Self::from_i32(self.0 as i32 + semitones)
    }

    /// Signed distance in semitones from `lower` up to this pitch.
    pub const fn above(self, lower: Self) -> i32 {
        self.0 as i32 - lower.0 as i32
    }

    /// The lowest pitch of this class at or above `self`; `None` above the MIDI range.
    pub const fn next_of_class(self, class: PitchClass) -> Option<Self> {
        self.transpose(class.above(self.class()) as i32)
    }
}

/// Scientific pitch name with sharps, e.g. `F#3`; C4 is middle C. For spelled names use [`NoteName`].
impl fmt::Display for Pitch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", NoteName::sharp(self.class()), i32::from(self.0 / 12) - 1)
    }
}

/// One of the twelve pitch classes, 0 (C) to 11 (B).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct PitchClass(u8);

impl PitchClass {
    /// C.
    pub const C: Self = Self(0);

    /// The class `n` semitones above C, taken modulo 12.
    pub const fn new(n: i32) -> Self {
        Self(n.rem_euclid(12) as u8)
    }

    /// 0 (C) to 11 (B).
    pub const fn number(self) -> u8 {
        self.0
    }

    /// Semitones up from `lower` to this class, 0 to 11.
    pub const fn above(self, lower: Self) -> u8 {
        (self.0 + 12 - lower.0) % 12
    }

    /// The class `semitones` higher (lower when negative).
    pub const fn transpose(self, semitones: i32) -> Self {
        Self::new(self.0 as i32 + semitones)
    }
}

/// A set of pitch classes: bit *n* stands for class *n*.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct PitchClassSet(u16);

impl PitchClassSet {
    /// No class at all.
    pub const EMPTY: Self = Self(0);

    /// From twelve bits; higher bits are dropped.
    pub const fn from_bits(bits: u16) -> Self {
        Self(bits & 0xfff)
    }

    /// Twelve bits, bit *n* for class *n*.
    pub const fn bits(self) -> u16 {
        self.0
    }

    /// Number of classes, 0 to 12.
    pub const fn len(self) -> u32 {
        self.0.count_ones()
    }

    /// Whether no class is in the set.
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// Whether `class` is in the set.
    pub const fn contains(self, class: PitchClass) -> bool {
        self.0 >> class.0 & 1 == 1
    }

    /// The set with `class` added.
    #[must_use]
    pub const fn with(self, class: PitchClass) -> Self {
        Self(self.0 | 1 << class.0)
    }

    /// The set with `class` taken away.
    #[must_use]
    pub const fn without(self, class: PitchClass) -> Self {
        Self(self.0 & !(1 << class.0))
    }

    /// Classes in either set.
    #[must_use]
    pub const fn union(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// Classes in both sets.
    #[must_use]
    pub const fn intersection(self, other: Self) -> Self {
        Self(self.0 & other.0)
    }

    /// Classes in this set and not in the other.
    #[must_use]
    pub const fn difference(self, other: Self) -> Self {
        Self(self.0 & !other.0)
    }

    /// Whether every class of this set is in the other.
    pub const fn is_subset_of(self, other: Self) -> bool {
        self.0 & !other.0 == 0
    }

    /// Every class moved up by `semitones` (down when negative).
    #[must_use]
    pub const fn transpose(self, semitones: i32) -> Self {
        let by = semitones.rem_euclid(12) as u32;
        Self((self.0 << by | self.0 >> (12 - by)) & 0xfff)
    }

    /// The classes in rising order from C.
    pub fn iter(self) -> impl Iterator<Item = PitchClass> {
        (0..12u8).map(PitchClass).filter(move |class| self.contains(*class))
    }
}

impl FromIterator<PitchClass> for PitchClassSet {
    fn from_iter<T: IntoIterator<Item = PitchClass>>(classes: T) -> Self {
        classes.into_iter().fold(Self::EMPTY, Self::with)
    }
}

/// A spelled note without its octave: a letter and an alteration, so that F♯ and G♭ differ.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NoteName {
    /// 0 = C, 1 = D … 6 = B.
    letter: u8,
    /// Semitones of alteration, -2 (double flat) to 2 (double sharp).
    alter: i8,
}

impl NoteName {
    /// From a letter step (0 = C … 6 = B) and an alteration in semitones; `None` outside those ranges
    /// (alterations -2 to 2).
    pub const fn new(letter: u8, alter: i8) -> Option<Self> {
        if letter > 6 || alter < -2 || alter > 2 { None } else { Some(Self { letter, alter }) }
    }

    /// The letter step, 0 = C … 6 = B.
    pub const fn letter(self) -> u8 {
        self.letter
    }

    /// The alteration in semitones, -2 to 2.
    pub const fn alter(self) -> i8 {
        self.alter
    }

    /// The pitch class that sounds.
    pub const fn class(self) -> PitchClass {
        const NATURAL: [i32; 7] = [0, 2, 4, 5, 7, 9, 11];
        PitchClass::new(NATURAL[self.letter as usize] + self.alter as i32)
    }

    /// The name of a class on a letter (0 = C … 6 = B); `None` where that takes more than a double accidental.
    pub const fn on_letter(letter: u8, class: PitchClass) -> Option<Self> {
        if letter > 6 {
            return None;
        }
        let natural = Self { letter, alter: 0 }.class();
        let up = class.above(natural) as i8;
        Self::new(letter, if up > 6 { up - 12 } else { up })
    }

    /// The name at a place on the line of fifths: … -1 F, 0 C, 1 G … 6 F♯; `None` outside -15 (F double flat)
    /// to 19 (B double sharp).
    pub const fn from_fifths(place: i32) -> Option<Self> {
        if place < -15 || place > 19 {
            return None;
        }
        let letter = (place * 4).rem_euclid(7) as u8;
        Self::new(letter, ((place + 1).div_euclid(7)) as i8)
    }

    /// The usual name of a class with sharps: C C♯ D D♯ E F F♯ G G♯ A A♯ B.
    pub const fn sharp(class: PitchClass) -> Self {
        const NAMES: [(u8, i8); 12] =
            [(0, 0), (0, 1), (1, 0), (1, 1), (2, 0), (3, 0), (3, 1), (4, 0), (4, 1), (5, 0), (5, 1), (6, 0)];
        let (letter, alter) = NAMES[class.number() as usize];
        Self { letter, alter }
    }

    /// The usual name of a class with flats: C D♭ D E♭ E F G♭ G A♭ A B♭ B.
    pub const fn flat(class: PitchClass) -> Self {
        const NAMES: [(u8, i8); 12] = [
            (0, 0),
            (1, -1),
            (1, 0),
            (2, -1),
            (2, 0),
            (3, 0),
            (4, -1),
            (4, 0),
            (5, -1),
            (5, 0),
            (6, -1),
            (6, 0),
        ];
        let (letter, alter) = NAMES[class.number() as usize];
        Self { letter, alter }
    }
}

/// Plain text, `#` for sharp and `b` for flat: `F#`, `Bb`.
impl fmt::Display for NoteName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        const LETTERS: [&str; 7] = ["C", "D", "E", "F", "G", "A", "B"];
        f.write_str(LETTERS[self.letter as usize])?;
        f.write_str(match self.alter {
            -2 => "bb",
            -1 => "b",
            1 => "#",
            2 => "##",
            _ => "",
        })
    }
}

/// Strength of a note-on, 1 to 127 as MIDI has it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Velocity(u8);

impl Velocity {
    /// The strength nearest to a value: what lies outside 1 to 127 becomes 1 or 127, as a note-on of 0 would be
    /// a note-off (MIDI 1.0).
    pub const fn new(value: i32) -> Self {
        Self(if value < 1 {
            1
        } else if value > 127 {
            127
        } else {
            value as u8
        })
    }

    /// The MIDI velocity, 1 to 127.
    pub const fn value(self) -> u8 {
        self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn transposed_sets_wrap() {
        let c_major: PitchClassSet = [0, 4, 7].into_iter().map(PitchClass::new).collect();
        let b_major: PitchClassSet = [11, 3, 6].into_iter().map(PitchClass::new).collect();
        assert_eq!(c_major.transpose(-1), b_major);
        assert_eq!(c_major.transpose(11), b_major);
        assert_eq!(c_major.transpose(12), c_major);
    }

    #[test]
    fn every_name_sounds_its_class() {
        for n in 0..12 {
            let class = PitchClass::new(n);
            assert_eq!(NoteName::sharp(class).class(), class);
            assert_eq!(NoteName::flat(class).class(), class);
        }
    }

    #[test]
    fn the_line_of_fifths_runs_from_f_double_flat_to_b_double_sharp() {
        let name = |place| NoteName::from_fifths(place).map(|name| (name.letter(), name.alter()));
        assert_eq!([name(-1), name(0), name(1)], [Some((3, 0)), Some((0, 0)), Some((4, 0))]);
        assert_eq!(
            [name(-15), name(-2), name(6), name(19)],
            [Some((3, -2)), Some((6, -1)), Some((3, 1)), Some((6, 2))]
        );
        assert_eq!([name(-16), name(20)], [None, None]);
        for place in -15..=19 {
            let name = NoteName::from_fifths(place).expect("on the line");
            assert_eq!(name.class(), PitchClass::new(place * 7));
            assert_eq!(NoteName::on_letter(name.letter(), name.class()), Some(name));
        }
    }

    #[test]
    fn next_of_class_is_never_below() {
        for key in 0..116 {
            for n in 0..12 {
                let found = Pitch::new(key).next_of_class(PitchClass::new(n)).expect("below 127");
                assert!((0..12).contains(&found.above(Pitch::new(key))));
                assert_eq!(found.class(), PitchClass::new(n));
            }
        }
    }
}
