//! A tune as written: bars in the order of the page, with the signs at their edges.

use figwort_theory::{ChordSymbol, Key, Metre, Pitch, Span};

/// A bar on the page.
#[derive(Clone, Debug)]
pub(super) struct WrittenBar {
    /// Line of its first note.
    pub(super) line: u32,
    /// Bar number as engravers count.
    pub(super) number: u32,
    /// The metre; what the bar's length makes in free metre.
    pub(super) metre: Metre,
    /// Whether the metre is free, so that any length is right.
    pub(super) free: bool,
    /// The key at its beginning.
    pub(super) key: Key,
    /// The tempo at its beginning, microseconds a quarter note.
    pub(super) tempo: u32,
    /// Tempo changes inside.
    pub(super) tempos: Vec<(Span, u32)>,
    /// Its actual length.
    pub(super) length: Span,
    /// Its melody.
    pub(super) notes: Vec<WrittenNote>,
    /// Quoted chord symbols as written.
    pub(super) quoted: Vec<Quoted>,
    /// The symbols that were understood.
    pub(super) symbols: Vec<(Span, ChordSymbol)>,
    /// What stands at its left edge.
    pub(super) left: Left,
    /// What stands at its right edge.
    pub(super) right: Right,
}

/// A melody note on the page.
#[derive(Clone, Copy, Debug)]
pub(super) struct WrittenNote {
    /// Onset in the bar.
    pub(super) at: Span,
    /// Length.
    pub(super) length: Span,
    /// Sounding pitch.
    pub(super) pitch: Pitch,
    /// Whether a tie leads to the next note.
    pub(super) tied: bool,
}

/// Quoted texts over one note.
#[derive(Clone, Debug)]
pub(super) struct Quoted {
    /// Where in the bar.
    pub(super) at: Span,
    /// Length of the note under them.
    pub(super) note: Span,
    /// The texts in order.
    pub(super) texts: Vec<String>,
    /// Line in the file.
    pub(super) line: u32,
}

/// Signs at the left edge of a bar.
#[derive(Clone, Debug, Default)]
pub(super) struct Left {
    /// A section begins.
    pub(super) section: bool,
    /// `|:`, with how often the section is played when its colons say so (2 for one colon).
    pub(super) repeat: u32,
    /// Numbers of the ending that begins.
    pub(super) ending: Vec<u32>,
    /// The part that begins.
    pub(super) part: Option<String>,
}

/// Signs at the right edge of a bar.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Right {
    /// `:|`, as how often the section is played; 0 without.
    pub(super) repeat: u32,
    /// A double or thick bar line.
    pub(super) double: bool,
}

/// A word or sign that directs the player elsewhere.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum MarkKind {
    Segno,
    /// A coda sign: the first is where to leave, the last where to arrive.
    Coda,
    /// Leave for the coda here.
    ToCoda,
    Fine,
    DaCapo,
    DalSegno,
}

/// A mark and where it stands.
#[derive(Clone, Copy, Debug)]
pub(super) struct Mark {
    pub(super) kind: MarkKind,
    /// Index of the bar that it stands in.
    pub(super) bar: usize,
    /// Whether it stands before everything in that bar.
    pub(super) before: bool,
    pub(super) line: u32,
}

/// The kind of mark that a decoration's name or a quoted text means.
pub(super) fn mark_kind(text: &str) -> Option<MarkKind> {
    // Digits and slashes make a chord: D7/c is none of these.
    let is_words = text.chars().all(|c| c.is_alphabetic() || matches!(c, '.' | ' ' | '_'));
    if text.len() > 40 || !is_words {
        return None;
    }
    let letters: String = text.chars().filter(|c| c.is_alphabetic()).flat_map(char::to_lowercase).collect();
    match letters.as_str() {
        "segno" => Some(MarkKind::Segno),
        "coda" => Some(MarkKind::Coda),
        "tocoda" | "dacoda" => Some(MarkKind::ToCoda),
        "fine" => Some(MarkKind::Fine),
        "dc" | "dacapo" | "dcalfine" | "dacapoalfine" | "dcalcoda" | "dacapoalcoda" => Some(MarkKind::DaCapo),
        "ds" | "dalsegno" | "dsalfine" | "dalsegnoalfine" | "dsalcoda" | "dalsegnoalcoda" => {
            Some(MarkKind::DalSegno)
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn directions_are_not_chords() {
        assert_eq!(mark_kind("D.C. al Fine"), Some(MarkKind::DaCapo));
        assert_eq!(mark_kind("D.S."), Some(MarkKind::DalSegno));
        assert_eq!(mark_kind("Fine"), Some(MarkKind::Fine));
        assert_eq!(mark_kind("To Coda"), Some(MarkKind::ToCoda));
        for chord in ["D7/c", "D/c", "D", "Dsus", "F", "C"] {
            assert_eq!(mark_kind(chord), None, "{chord}");
        }
    }
}
