//! Chord symbols: text to chord and back, and spelling a chord to suit a key.
//!
//! Reading is liberal ([`ChordSymbol::parse`]: the usual jazz and folk spellings, ABC 2.1, the kind texts of
//! MusicXML), writing is strict: one spelling per chord, made of plain ASCII, that reads back as the same
//! chord. Not known here: roman numerals, figured bass, names in other languages (H, B for B flat, Sol).

mod cursor;
mod draft;
mod read;
mod write;

pub use write::Unicode;

use core::fmt;

use crate::chord::{Alterations, Chord, Degree, Kind};
use crate::pitch::{NoteName, PitchClass};
use crate::scale::Key;

/// A chord symbol as a sheet spells it: the chord, and how its root and bass are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct ChordSymbol {
    /// The chord that sounds; `None` for N.C. (no chord).
    pub chord: Option<Chord>,
    /// The root's spelling (C when there is no chord).
    pub root: NoteName,
    /// The bass as written after a slash.
    pub bass: Option<NoteName>,
}

/// Why a text is not a chord symbol, with the byte at which reading stopped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SymbolError {
    /// Byte offset of the first character that was not understood; the text's length where it ended too
    /// early.
    pub at: usize,
}

impl fmt::Display for SymbolError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "not a chord symbol: not understood from byte {} on", self.at + 1)
    }
}

impl core::error::Error for SymbolError {}

impl ChordSymbol {
    /// N.C.: no chord.
    pub const NO_CHORD: Self = Self { chord: None, root: NoteName::sharp(PitchClass::C), bass: None };

    /// Reads a chord symbol, spaces around it allowed.
    ///
    /// # Errors
    /// [`SymbolError`] where the text is no chord symbol, also when only its beginning is one.
    ///
    /// # Examples
    /// ```
    /// use figwort_theory::ChordSymbol;
    /// let symbol = ChordSymbol::parse("B♭m7♭5/F")?;
    /// assert_eq!(symbol, ChordSymbol::parse("Bbø/f")?);
    /// assert!(ChordSymbol::parse("From the top").is_err());
    /// # Ok::<(), figwort_theory::SymbolError>(())
    /// ```
    pub fn parse(text: &str) -> Result<Self, SymbolError> {
        let (symbol, end) = read::read(text);
        match symbol {
            Some(symbol) if end.whole => Ok(symbol),
            _ => Err(SymbolError { at: end.stopped }),
        }
    }

    /// Reads as much of a text as is a chord symbol: the symbol, and the byte where understanding ended
    /// (the text's length when all of it was read). `None` where not even a root could be read.
    ///
    /// Any text that begins with a letter A to G has a readable part ("From" gives F): whether what remains
    /// may be dropped is for the caller to judge.
    pub fn parse_prefix(text: &str) -> Option<(Self, usize)> {
        let (symbol, end) = read::read(text);
        symbol.map(|symbol| (symbol, end.understood))
    }

    /// From parts as a score file gives them. The bass is the root where none is given; the chord takes its
    /// plainest form ([`Chord::plainest`]).
    pub const fn from_parts(
        root: NoteName,
        kind: Kind,
        alterations: Alterations,
        bass: Option<NoteName>,
    ) -> Self {
        let lowest = match bass {
            Some(name) => name.class(),
            None => root.class(),
        };
        let chord = Chord { root: root.class(), kind, alterations, bass: lowest }.plainest();
        Self { chord: Some(chord), root, bass }
    }

    /// Spells a chord to suit a key, for chords that were heard rather than written.
    ///
    /// The root takes the key's own name for it; outside the scale, the name nearest to the key on the line
    /// of fifths, diminished roots leaning to the sharp side because they lead upwards (F♯dim7 in C minor).
    /// A bass within the chord is spelled as that degree above the root (A7/C♯ also in F), unless that needs
    /// a double accidental.
    pub fn of(chord: Chord, key: Key) -> Self {
        let leading = matches!(chord.kind, Kind::Diminished | Kind::DiminishedSeventh | Kind::HalfDiminished);
        let root = key.chord_root(chord.root, leading);
        let bass = (chord.bass != chord.root).then(|| bass_name(chord, root, key));
        Self { chord: Some(chord), root, bass }
    }

    /// The symbol with ♭ and ♯ for display; reads back like the plain text.
    pub const fn unicode(&self) -> Unicode<'_> {
        Unicode(self)
    }
}

/// The bass of a chord whose root is spelled `root`.
fn bass_name(chord: Chord, root: NoteName, key: Key) -> NoteName {
    let steps = match chord.degree(chord.bass) {
        Some(Degree::Second | Degree::Ninth) => 1,
        Some(Degree::Third) => 2,
        Some(Degree::Fourth | Degree::Eleventh) => 3,
        Some(Degree::Fifth) => 4,
        Some(Degree::Sixth | Degree::Thirteenth) => 5,
        Some(Degree::Seventh) => 6,
        Some(Degree::Root | Degree::ForeignBass) | None => return key.chord_root(chord.bass, false),
    };
    NoteName::on_letter((root.letter() + steps) % 7, chord.bass)
        .filter(|name| name.alter().abs() <= 1)
        .unwrap_or_else(|| key.chord_root(chord.bass, false))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scale::Mode;

    fn spelled(root: i32, kind: Kind, bass: i32, key: Key) -> ChordSymbol {
        ChordSymbol::of(Chord::new(PitchClass::new(root), kind).over(PitchClass::new(bass)), key)
    }

    /// Common practice, no source.
    #[test]
    fn roots_and_basses_suit_the_key() {
        let name = |text: &str, symbol: ChordSymbol| {
            assert_eq!(Ok(symbol), ChordSymbol::parse(text), "{text}");
        };
        let major = |fifths| Key::from_fifths(fifths, Mode::Major);
        let minor = |fifths| Key::from_fifths(fifths, Mode::Minor);
        name("Bb", spelled(10, Kind::Major, 10, major(-1)));
        name("Bb", spelled(10, Kind::Major, 10, major(0)));
        name("Eb", spelled(3, Kind::Major, 3, major(1)));
        name("A#m", spelled(10, Kind::Minor, 10, major(6)));
        name("A7/C#", spelled(9, Kind::Dominant, 1, major(-1)));
        name("D7/F#", spelled(2, Kind::Dominant, 6, minor(-2)));
        name("C#dim7", spelled(1, Kind::DiminishedSeventh, 1, minor(-1)));
        name("G#dim7", spelled(8, Kind::DiminishedSeventh, 8, minor(0)));
        name("F#dim7", spelled(6, Kind::DiminishedSeventh, 6, minor(-3)));
        name("Bdim7/Ab", spelled(11, Kind::DiminishedSeventh, 8, minor(-3)));
        name("B#dim7", spelled(0, Kind::DiminishedSeventh, 0, minor(4)));
        name("Db", spelled(1, Kind::Major, 1, major(0)));
        name("Db7", spelled(1, Kind::Dominant, 1, major(-1)));
        name("C#dim7", spelled(1, Kind::DiminishedSeventh, 1, major(0)));
        name("Ebdim7", spelled(3, Kind::DiminishedSeventh, 3, major(0)));
        name("F#m7b5", spelled(6, Kind::HalfDiminished, 6, major(0)));
        name("C/Bb", spelled(0, Kind::Major, 10, major(0)));
        name("E7/G#", spelled(4, Kind::Dominant, 8, minor(0)));
    }
}
