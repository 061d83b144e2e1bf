//! Chord symbols to text.
//!
//! Root, kind, suspensions, then everything altered, added or left out in one pair of brackets, then the
//! bass: `Bbm7b5/E`, `C7(b9,b13)`, `F#m(maj9)`, `G9sus4`, `Ab6/9/C`. The brackets keep `C(b5)` apart from
//! `Cb5`, C flat's bare fifth.

use core::fmt::{self, Write};

use super::ChordSymbol;
use crate::chord::{Alterations, Chord, Kind};

/// A symbol that displays with ♭ and ♯; made by [`ChordSymbol::unicode`].
#[derive(Clone, Copy, Debug)]
pub struct Unicode<'a>(pub(super) &'a ChordSymbol);

/// What stands in the brackets, in this order.
const BRACKETED: [(Alterations, &str); 11] = [
    (Alterations::FLAT_FIFTH, "b5"),
    (Alterations::SHARP_FIFTH, "#5"),
    (Alterations::FLAT_NINTH, "b9"),
    (Alterations::SHARP_NINTH, "#9"),
    (Alterations::SHARP_ELEVENTH, "#11"),
    (Alterations::FLAT_THIRTEENTH, "b13"),
    (Alterations::ADD_NINTH, "add9"),
    (Alterations::ADD_ELEVENTH, "add11"),
    (Alterations::ADD_THIRTEENTH, "add13"),
    (Alterations::OMIT_THIRD, "no3"),
    (Alterations::OMIT_FIFTH, "no5"),
];

/// The flags of "alt" on an augmented seventh: with the root and the third, the seven notes of the altered
/// scale.
pub(super) const ALTERED: Alterations =
    Alterations::FLAT_FIFTH.union(Alterations::FLAT_NINTH).union(Alterations::SHARP_NINTH);

/// The kind's text, and the flags that it doesn't yet express.
fn kind_text(chord: Chord) -> (&'static str, Alterations) {
    const NINTH: Alterations = Alterations::ADD_NINTH;
    const ELEVENTH: Alterations = NINTH.union(Alterations::ADD_ELEVENTH);
    const THIRTEENTH: Alterations = ELEVENTH.union(Alterations::ADD_THIRTEENTH);
    let flags = chord.alterations;
    let text = match chord.kind {
        Kind::Major => "",
        Kind::Minor => "m",
        Kind::Augmented => "aug",
        Kind::Diminished => "dim",
        Kind::Dominant => "7",
        Kind::MajorSeventh => "maj7",
        Kind::MinorSeventh => "m7",
        Kind::DiminishedSeventh if flags.contains(ELEVENTH) => return ("dim11", flags.without(ELEVENTH)),
        Kind::DiminishedSeventh if flags.contains(NINTH) => return ("dim9", flags.without(NINTH)),
        Kind::DiminishedSeventh => "dim7",
        Kind::AugmentedSeventh if flags == ALTERED => return ("7alt", Alterations::NONE),
        Kind::AugmentedSeventh => "aug7",
        Kind::HalfDiminished => "m7b5",
        Kind::MajorMinor if flags.contains(THIRTEENTH) => return ("m(maj13)", flags.without(THIRTEENTH)),
        Kind::MajorMinor if flags.contains(ELEVENTH) => return ("m(maj11)", flags.without(ELEVENTH)),
        Kind::MajorMinor if flags.contains(NINTH) => return ("m(maj9)", flags.without(NINTH)),
        Kind::MajorMinor => "m(maj7)",
        Kind::MajorSixth if flags.contains(NINTH) => return ("6/9", flags.without(NINTH)),
        Kind::MajorSixth => "6",
        Kind::MinorSixth if flags.contains(NINTH) => return ("m6/9", flags.without(NINTH)),
        Kind::MinorSixth => "m6",
        Kind::DominantNinth => "9",
        Kind::MajorNinth => "maj9",
        Kind::MinorNinth => "m9",
        Kind::DominantEleventh => "11",
        Kind::MajorEleventh => "maj11",
        Kind::MinorEleventh => "m11",
        Kind::DominantThirteenth => "13",
        Kind::MajorThirteenth => "maj13",
        Kind::MinorThirteenth => "m13",
        Kind::SuspendedSecond => "sus2",
        Kind::SuspendedFourth => "sus4",
        Kind::Neapolitan => "N6",
        Kind::Italian => "It6",
        Kind::French => "Fr6",
        Kind::German => "Ger6",
        Kind::Pedal => "pedal",
        Kind::Power => "5",
        Kind::Tristan => "Tristan",
        Kind::Other => "other",
    };
    (text, flags)
}

/// One plain ASCII spelling per chord; reading it gives the same symbol back (the chord in its plainest
/// form).
impl fmt::Display for ChordSymbol {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Some(chord) = self.chord else {
            return f.write_str("N.C.");
        };
        let (text, flags) = kind_text(chord);
        write!(f, "{}{text}", self.root)?;
        if flags.contains(Alterations::SUSPEND_SECOND) {
            f.write_str("sus2")?;
        }
        if flags.contains(Alterations::SUSPEND_FOURTH) {
            f.write_str("sus4")?;
        }
        let mut opened = false;
        for (flag, name) in BRACKETED {
            if flags.contains(flag) {
                f.write_char(if opened { ',' } else { '(' })?;
                f.write_str(name)?;
                opened = true;
            }
        }
        if opened {
            f.write_char(')')?;
        }
        match self.bass {
            Some(bass) => write!(f, "/{bass}"),
            None => Ok(()),
        }
    }
}

/// Puts ♭ and ♯ where b and #: no word of a symbol has another b.
struct Signs<'a, 'b>(&'a mut fmt::Formatter<'b>);

impl fmt::Write for Signs<'_, '_> {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        text.chars().try_for_each(|letter| {
            self.0.write_char(match letter {
                'b' => '♭',
                '#' => '♯',
                other => other,
            })
        })
    }
}

impl fmt::Display for Unicode<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(Signs(f), "{}", self.0)
    }
}
