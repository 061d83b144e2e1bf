//! A sheet as written: bars in the order of the page, with the signs at their edges.

use figwort_theory::{ChordSymbol, Key, Metre, Pitch, Span};

/// A bar on the page.
#[derive(Clone, Debug)]
pub(crate) struct WrittenBar {
    /// Line of its first note, where lines are told.
    pub(crate) line: Option<u32>,
    /// Bar number as engravers count.
    pub(crate) number: u32,
    /// The metre; what the bar's length makes in free metre.
    pub(crate) metre: Metre,
    /// Whether the metre is free, so that any length is right.
    pub(crate) free: bool,
    /// The key at its beginning.
    pub(crate) key: Key,
    /// The tempo at its beginning, microseconds a quarter note.
    pub(crate) tempo: u32,
    /// Tempo changes inside.
    pub(crate) tempos: Vec<(Span, u32)>,
    /// Its actual length.
    pub(crate) length: Span,
    /// Its melody.
    pub(crate) notes: Vec<WrittenNote>,
    /// Quoted chord symbols as written.
    pub(crate) quoted: Vec<Quoted>,
    /// The symbols that were understood.
    pub(crate) symbols: Vec<(Span, ChordSymbol)>,
    /// What stands at its left edge.
    pub(crate) left: Left,
    /// What stands at its right edge.
    pub(crate) right: Right,
}

/// A melody note on the page.
#[derive(Clone, Copy, Debug)]
pub(crate) struct WrittenNote {
    /// Onset in the bar.
    pub(crate) at: Span,
    /// Length.
    pub(crate) length: Span,
    /// Sounding pitch.
    pub(crate) pitch: Pitch,
    /// Whether a tie leads to the next note.
    pub(crate) tied: bool,
}

/// Quoted texts over one note.
#[derive(Clone, Debug)]
pub(crate) struct Quoted {
    /// Where in the bar.
    pub(crate) at: Span,
    /// Length of the note under them.
    pub(crate) note: Span,
    /// The texts in order.
    pub(crate) texts: Vec<String>,
    /// Line in the file.
    pub(crate) line: u32,
}

/// Signs at the left edge of a bar.
#[derive(Clone, Debug, Default)]
pub(crate) struct Left {
    /// A section begins.
    pub(crate) section: bool,
    /// `|:`, with how often the section is played when its colons say so (2 for one colon).
    pub(crate) repeat: u32,
    /// Numbers of the ending that begins.
    pub(crate) ending: Vec<u32>,
    /// How many bars it has, where that is stated; 0 where signs tell.
    pub(crate) ending_bars: usize,
    /// The part that begins.
    pub(crate) part: Option<String>,
}

/// Signs at the right edge of a bar.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Right {
    /// `:|`, as how often the section is played; 0 without.
    pub(crate) repeat: u32,
    /// A double or thick bar line.
    pub(crate) double: bool,
    /// A later `:|` without its `|:` goes back to here.
    pub(crate) restarts: bool,
    /// `:|` holds after a jump, too.
    pub(crate) after_jump: bool,
}

/// A word or sign that directs the player elsewhere.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum MarkKind {
    Segno,
    /// A coda sign: the first is where to leave, the last where to arrive.
    Coda,
    /// Leave for the coda here.
    ToCoda,
    Fine,
    DaCapo(Al),
    DalSegno(Al),
}

/// Up to where a jump says that it leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Al {
    Unsaid,
    Fine,
    Coda,
}

impl MarkKind {
    /// Whether they are one sign, however far a jump says that it leads.
    pub(crate) fn is_like(self, other: Self) -> bool {
        core::mem::discriminant(&self) == core::mem::discriminant(&other)
    }
}

/// A mark and where it stands.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Mark {
    pub(crate) kind: MarkKind,
    /// Index of the bar that it stands in.
    pub(crate) bar: usize,
    /// Whether it stands before everything in that bar.
    pub(crate) before: bool,
    /// Its line, where lines are told.
    pub(crate) line: Option<u32>,
}

/// The number of a bar after another: a short first bar is 0, and a short bar that completes the short one
/// before it shares its number, as engravers count bars divided by a repeat sign (common practice, no source).
pub(crate) fn number_after(before: Option<&WrittenBar>, left: &Left, length: Span, metre: Metre) -> u32 {
    let Some(before) = before else { return u32::from(length >= metre.bar()) };
    let both = before.length + length;
    let divided = before.number > 0
        && before.length < before.metre.bar()
        && (both == metre.bar() || (left.section && both < metre.bar()));
    before.number.saturating_add(u32::from(!divided))
}

/// The metre that a bar of this length makes; 4/4 where none does.
pub(crate) fn metre_of(length: Span) -> Metre {
    for denominator in [4u8, 8, 16, 32, 64] {
        let unit = Span::WHOLE.0 / i64::from(denominator);
        if length.0 % unit == 0
            && let Ok(numerator) = u8::try_from(length.0 / unit)
            && let Some(metre) = Metre::new(numerator, denominator)
        {
            return metre;
        }
    }
    Metre::FOUR_FOUR
}

/// The kind of mark that a decoration's name or a quoted text means.
pub(crate) fn mark_kind(text: &str) -> Option<MarkKind> {
    // Digits and slashes make a chord: D7/c is none of these. Signs of segno and coda may stand among the words.
    let is_sign = |c: char| matches!(c, SEGNO | CODA);
    let is_words =
        text.chars().all(|c| c.is_alphabetic() || is_sign(c) || matches!(c, '.' | ' ' | '_' | '(' | ')'));
    // "D.C. al 2nd ending" has a digit and is no chord all the same.
    if text.len() > 60 || !(is_words || text.contains(" al ")) {
        return None;
    }
    let letters: String = text.chars().filter(|c| c.is_alphabetic()).flat_map(char::to_lowercase).collect();
    let mut signs = text.chars().filter(|c| is_sign(*c));
    // "al Fine e poi la Coda" goes to the coda in the end.
    let al = match letters.as_str() {
        words if words.contains("coda") => Al::Coda,
        words if words.contains("fine") => Al::Fine,
        _ => Al::Unsaid,
    };
    match letters.as_str() {
        "" => match signs.next()? {
            SEGNO => Some(MarkKind::Segno),
            _ => Some(MarkKind::Coda),
        },
        "segno" => Some(MarkKind::Segno),
        "coda" => Some(MarkKind::Coda),
        "tocoda" | "dacoda" | "allacoda" => Some(MarkKind::ToCoda),
        "to" if signs.any(|sign| sign == CODA) => Some(MarkKind::ToCoda),
        "fine" => Some(MarkKind::Fine),
        "dc" | "dacapo" => Some(MarkKind::DaCapo(Al::Unsaid)),
        "ds" | "dalsegno" => Some(MarkKind::DalSegno(Al::Unsaid)),
        // D.C. al Fine, D.S. al Coda, Da Capo al Segno e poi la Coda …
        _ if ["dcal", "dacapoal"].iter().any(|way| letters.starts_with(way)) => Some(MarkKind::DaCapo(al)),
        _ if ["dsal", "dalsegnoal"].iter().any(|way| letters.starts_with(way)) => {
            Some(MarkKind::DalSegno(al))
        }
        _ => None,
    }
}

/// The signs as characters.
const SEGNO: char = '\u{1d10b}';
const CODA: char = '\u{1d10c}';

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn directions_are_not_chords() {
        assert_eq!(mark_kind("D.C. al Fine"), Some(MarkKind::DaCapo(Al::Fine)));
        assert_eq!(mark_kind("D.S."), Some(MarkKind::DalSegno(Al::Unsaid)));
        assert_eq!(mark_kind("Fine"), Some(MarkKind::Fine));
        assert_eq!(mark_kind("To Coda"), Some(MarkKind::ToCoda));
        assert_eq!(mark_kind("To Coda \u{1d10c}"), Some(MarkKind::ToCoda));
        assert_eq!(mark_kind("To \u{1d10c}"), Some(MarkKind::ToCoda));
        assert_eq!(mark_kind("\u{1d10b}"), Some(MarkKind::Segno));
        assert_eq!(mark_kind("D. S. al Coda (senza rep.)"), Some(MarkKind::DalSegno(Al::Coda)));
        assert_eq!(mark_kind("D.C. al Fine e poi la Coda"), Some(MarkKind::DaCapo(Al::Coda)));
        assert_eq!(mark_kind("D.S. al 2nd ending"), Some(MarkKind::DalSegno(Al::Unsaid)));
        assert_eq!(mark_kind("To the sea"), None);
        for chord in ["D7/c", "D/c", "D", "Dsus", "F", "C"] {
            assert_eq!(mark_kind(chord), None, "{chord}");
        }
    }
}
