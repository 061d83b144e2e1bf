//! Chord symbols: text to chord and back.

use core::fmt;

use crate::chord::Chord;
use crate::pitch::NoteName;

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
    /// Byte offset of the first character that was not understood.
    pub at: usize,
}

impl fmt::Display for SymbolError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "not a chord symbol from character {} on", self.at + 1)
    }
}

impl core::error::Error for SymbolError {}

impl ChordSymbol {
    /// Reads a chord symbol.
    ///
    /// # Errors
    /// [`SymbolError`] where the text is no chord symbol.
    pub fn parse(_text: &str) -> Result<Self, SymbolError> {
        Err(SymbolError { at: 0 })
    }

    /// Reads as much of a text as is a chord symbol: the symbol, and the byte where understanding ended
    /// (the text's length when all of it was read). `None` where not even a root could be read.
    pub fn parse_prefix(_text: &str) -> Option<(Self, usize)> {
        None
    }
}
