//! The page that a sheet was read from: its bars each once, with the signs that send the player back and ahead.
//!
//! Only what a writer of sheet music needs to write the repeats as signs; what is played stands in
//! [`Sheet`](crate::Sheet), played out.

use figwort_theory::{ChordSymbol, Pitch, Span};

/// How the bars of a sheet stand on its page.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Page {
    /// One after another, as they are played.
    #[default]
    AsPlayed,
    /// Each once, with signs. Played by the signs they give the sheet's bars.
    Signs(Vec<PageBar>),
    /// In an order that repeat signs, endings and one jump cannot tell, as some orders of named parts are.
    BeyondSigns,
}

/// A bar on the page.
#[derive(Clone, Debug, PartialEq)]
pub struct PageBar {
    /// Index in [`Sheet::bars`](crate::Sheet::bars) of the first time that it is played.
    pub played: usize,
    /// Whether a section begins here.
    pub section: bool,
    /// The melody, from the bar's beginning.
    pub notes: Vec<PageNote>,
    /// The chord symbols, from the bar's beginning.
    pub symbols: Vec<(Span, ChordSymbol)>,
    /// Tempo at its beginning, microseconds a quarter note.
    pub tempo: u32,
    /// Tempo changes inside, from its beginning.
    pub tempos: Vec<(Span, u32)>,
    /// The signs around it.
    pub signs: Signs,
}

/// A melody note on the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PageNote {
    /// Onset from the bar's beginning.
    pub at: Span,
    /// Length, positive.
    pub length: Span,
    /// Sounding pitch.
    pub pitch: Pitch,
    /// Whether a tie leads to it, at least in one of the ways to come to it.
    pub tied_from: bool,
    /// Whether a tie leads from it to the note that is played next, at least in one of the ways to go on.
    pub tied_to: bool,
}

/// The signs around a bar.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Signs {
    /// `|:` to its left.
    pub starts: bool,
    /// `:|` to its right, as how often the section is played; 0 without.
    pub ends: u32,
    /// The numbers of the ending that begins with it.
    pub ending: Vec<u32>,
    /// Whether an ending is over with it.
    pub ending_over: bool,
    /// A segno at its beginning.
    pub segno: bool,
    /// A coda sign at its beginning: where to arrive.
    pub coda: bool,
    /// Fine at its end.
    pub fine: bool,
    /// At its end the coda is left for, the second time.
    pub to_coda: bool,
    /// A jump at its end.
    pub jump: Option<Jump>,
}

/// A direction to go back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Jump {
    /// To the segno (D.S.) rather than the beginning (D.C.).
    pub to_segno: bool,
    /// Until where.
    pub until: Until,
}

/// How far is played after a jump.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Until {
    /// To the jump and on.
    Through,
    /// To Fine.
    Fine,
    /// To where the coda is left for, and on from the coda sign.
    Coda,
}

impl Jump {
    /// As it stands in music.
    pub fn words(self) -> &'static str {
        match (self.to_segno, self.until) {
            (false, Until::Through) => "D.C.",
            (false, Until::Fine) => "D.C. al Fine",
            (false, Until::Coda) => "D.C. al Coda",
            (true, Until::Through) => "D.S.",
            (true, Until::Fine) => "D.S. al Fine",
            (true, Until::Coda) => "D.S. al Coda",
        }
    }
}
