//! Which letter a pitch is written on.
//!
//! A chord tone stands where its degree does above the chord's root (thirds on thirds), a note of the scale as
//! the signature has it, any other by where it goes: raised when it rises by a semitone, lowered when it falls.
//! Double accidentals are written only where the key has them itself; C flat, F flat, E sharp and B sharp, and the
//! notes of diminished sevenths, which belong to no root, give way to notes of the scale. Common practice, no
//! source.

use crate::{ChordSymbol, Degree, Key, Kind, NoteName, Pitch, PitchClass};

/// A written pitch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Written {
    /// Letter and alteration.
    pub name: NoteName,
    /// The letter's octave; middle C is in the fourth.
    pub octave: i32,
}

impl Written {
    /// A pitch under a name of its class: B♯ is in the octave below what it sounds like, C♭ in the one above.
    fn new(pitch: Pitch, name: NoteName) -> Self {
        let octave = (i32::from(pitch.key()) - i32::from(name.alter())).div_euclid(12) - 1;
        Self { name, octave }
    }

    /// Steps of the staff above C of octave 0.
    pub fn step(self) -> i32 {
        self.octave * 7 + i32::from(self.name.letter())
    }
}

/// As text: `F#4`, `Bb3`.
impl core::fmt::Display for Written {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{}{}", self.name, self.octave)
    }
}

/// What surrounds a note.
#[derive(Clone, Copy, Debug, Default)]
pub struct Context {
    /// The key.
    pub key: Key,
    /// The chord in force as it is written; `None` where there is none.
    pub chord: Option<ChordSymbol>,
    /// The note before it in its line.
    pub before: Option<Pitch>,
    /// The note after it in its line.
    pub after: Option<Pitch>,
}

/// A pitch as it is written there. Neither allocates nor fails.
pub fn written(pitch: Pitch, context: &Context) -> Written {
    let name = chord_tone(pitch.class(), context)
        .or_else(|| foreign(pitch, context))
        .unwrap_or_else(|| context.key.name(pitch.class()));
    Written::new(pitch, name)
}

/// The name of a tone of the chord.
fn chord_tone(class: PitchClass, context: &Context) -> Option<NoteName> {
    let symbol = context.chord?;
    let chord = symbol.chord?;
    let degree = chord.degree(class)?;
    let steps = match degree {
        Degree::Root => return readable(symbol.root, context.key),
        Degree::ForeignBass => return symbol.bass.filter(|bass| bass.class() == class),
        Degree::Second | Degree::Ninth => 1,
        Degree::Third => 2,
        Degree::Fourth | Degree::Eleventh => 3,
        Degree::Fifth => 4,
        Degree::Sixth | Degree::Thirteenth => 5,
        Degree::Seventh => 6,
    };
    let name = NoteName::on_letter((symbol.root.letter() + steps) % 7, class)?;
    let is_white = matches!((name.letter(), name.alter()), (0 | 3, -1) | (2 | 6, 1));
    if (is_white || chord.kind == Kind::DiminishedSeventh) && context.key.scale().contains(class) {
        return Some(context.key.name(class));
    }
    readable(name, context.key)
}

/// A name unless it takes a double accidental that the key does not have.
fn readable(name: NoteName, key: Key) -> Option<NoteName> {
    (name.alter().abs() <= 1 || key.name(name.class()) == name).then_some(name)
}

/// The name of a note outside the chord; `None` for the key's own.
fn foreign(pitch: Pitch, context: &Context) -> Option<NoteName> {
    let key = context.key;
    let class = pitch.class();
    let own = key.name(class);
    let is_diatonic = key.scale().contains(class);
    // The raised fourth leads to the fifth even where it turns back.
    let raised_fourth = PitchClass::new((key.fifths() + 6) * 7);
    if is_diatonic || class == raised_fourth || key.name(class).class() != class {
        return NoteName::from_fifths(key.fifths() + 6).filter(|name| name.class() == class).or(Some(own));
    }
    let letter_of = |pitch: Pitch| key.name(pitch.class()).letter();
    let by = |neighbour: Option<Pitch>| neighbour.map(|neighbour| (neighbour.above(pitch), neighbour));
    let letter = match (by(context.after), by(context.before)) {
        (Some((1, after)), _) => (letter_of(after) + 6) % 7,
        (Some((-1, after)), _) => (letter_of(after) + 1) % 7,
        (_, Some((-1, before))) => letter_of(before),
        (_, Some((1, before))) => letter_of(before),
        _ => return None,
    };
    NoteName::on_letter(letter, class).filter(|name| name.alter().abs() <= 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    extern crate std;
    use std::string::{String, ToString};

    use crate::Mode;

    fn name(key: i32, mode: Mode, chord: &str, pitch: u8, before: u8, after: u8) -> String {
        let chord = ChordSymbol::parse(chord).ok();
        let pitch_of = |key: u8| (key > 0).then(|| Pitch::new(key));
        let context = Context {
            key: Key::from_fifths(key, mode),
            chord,
            before: pitch_of(before),
            after: pitch_of(after),
        };
        written(Pitch::new(pitch), &context).to_string()
    }

    /// Common practice, no source.
    #[test]
    fn chord_tones_stand_on_thirds() {
        assert_eq!(name(0, Mode::Major, "E7", 68, 0, 0), "G#4");
        assert_eq!(name(0, Mode::Major, "Fm", 68, 0, 0), "Ab4");
        assert_eq!(name(-3, Mode::Major, "D7b9", 66, 0, 0), "F#4");
        assert_eq!(name(-3, Mode::Major, "Abm6", 71, 0, 0), "Cb5");
        assert_eq!(name(4, Mode::Major, "G#7", 60, 0, 0), "B#3");
        assert_eq!(name(0, Mode::Major, "C7#9", 63, 0, 0), "D#4");
        assert_eq!(name(0, Mode::Major, "Cdim7", 69, 0, 0), "A4");
        assert_eq!(name(0, Mode::Major, "Gaug", 63, 0, 0), "D#4");
        assert_eq!(name(1, Mode::Major, "Bbdim7", 64, 0, 0), "E4");
        assert_eq!(name(1, Mode::Major, "Bbdim7", 61, 0, 0), "Db4");
        assert_eq!(name(1, Mode::Major, "Dbm", 64, 0, 0), "E4");
    }

    #[test]
    fn passing_notes_go_by_direction() {
        assert_eq!(name(0, Mode::Major, "C", 61, 60, 62), "C#4");
        assert_eq!(name(0, Mode::Major, "C", 61, 62, 60), "Db4");
        assert_eq!(name(0, Mode::Major, "C", 66, 67, 65), "F#4");
        assert_eq!(name(-3, Mode::Major, "Eb", 66, 65, 67), "F#4");
        assert_eq!(name(2, Mode::Major, "D", 68, 69, 67), "G#4");
        assert_eq!(name(0, Mode::Minor, "Am", 66, 64, 68), "F#4");
    }

    #[test]
    fn the_scale_is_as_the_signature_has_it() {
        assert_eq!(name(6, Mode::Major, "B", 65, 0, 0), "E#4");
        assert_eq!(name(-5, Mode::Major, "Db", 66, 0, 0), "Gb4");
    }

    /// Every name sounds what it stands for.
    #[test]
    fn names_sound_their_pitch() {
        for fifths in -6..=6 {
            for chord in ["C7b9", "F#m7b5", "Gbmaj7", "B7#9", "N.C.", "Ebdim7", "G#7(b13)"] {
                for pitch in 21..=108u8 {
                    let context = Context {
                        key: Key::from_fifths(fifths, Mode::Minor),
                        chord: ChordSymbol::parse(chord).ok(),
                        before: Some(Pitch::new(pitch - 1)),
                        after: Some(Pitch::new(pitch + 1)),
                    };
                    let written = written(Pitch::new(pitch), &context);
                    let natural = NoteName::new(written.name.letter(), 0).unwrap().class().number();
                    let sounds =
                        (written.octave + 1) * 12 + i32::from(natural) + i32::from(written.name.alter());
                    assert_eq!(sounds, i32::from(pitch));
                }
            }
        }
    }
}
