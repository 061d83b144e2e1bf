//! What the words of a chord symbol add up to.
//!
//! Where usage differs: C2 is an added second, C4 a suspended fourth, C11 holds its third (as MusicXML has
//! it), `alt` is the altered scale, `d` and `a` directly after the root are diminished and augmented (a habit
//! of folk collections), `+` and `-` before 5, 9, 11, 13 are sharp and flat once a kind or number stands
//! before them (C7-9), augmented and minor otherwise (C-9); before 5 they are always accidentals.

use super::ChordSymbol;
use super::cursor::Cursor;
use crate::chord::{Alterations, Chord, Kind};
use crate::pitch::NoteName;

/// What the words so far have said.
#[derive(Clone, Copy)]
pub(super) struct Draft {
    root: NoteName,
    quality: Quality,
    /// "maj" or a triangle was read.
    major: bool,
    /// A triangle, which means a major seventh without saying seven.
    triangle: bool,
    /// 6, 7, 9, 11 or 13.
    number: Option<u8>,
    /// A kind written as a word of its own.
    named: Option<Kind>,
    flags: Alterations,
    omit_ninth: bool,
    omit_eleventh: bool,
    /// The bass, as written after the slash.
    pub(super) bass: Option<NoteName>,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Quality {
    Unsaid,
    Minor,
    Diminished,
    HalfDiminished,
    Augmented,
}

const MAJOR: [&str; 8] = ["major", "Major", "MAJ", "maj", "Maj", "ma", "Ma", "M"];
const TRIANGLE: [&str; 3] = ["\u{394}", "\u{2206}", "\u{25b3}"];
const MINOR: [&str; 10] = ["minor", "Minor", "MIN", "min", "Min", "mi", "Mi", "m", "-", "\u{2212}"];
const DIMINISHED: [&str; 7] = ["diminished", "dim", "Dim", "DIM", "°", "º", "o"];
const HALF_DIMINISHED: [&str; 6] = ["half-diminished", "hdim", "ø", "Ø", "\u{2205}", "\u{2300}"];
const AUGMENTED: [&str; 5] = ["augmented", "aug", "Aug", "AUG", "+"];
const NAMED: [(&str, Kind); 16] = [
    ("Neapolitan", Kind::Neapolitan),
    ("N6", Kind::Neapolitan),
    ("Italian", Kind::Italian),
    ("It+6", Kind::Italian),
    ("It6", Kind::Italian),
    ("French", Kind::French),
    ("Fr+6", Kind::French),
    ("Fr6", Kind::French),
    ("German", Kind::German),
    ("Ger+6", Kind::German),
    ("Ger6", Kind::German),
    ("Gr+6", Kind::German),
    ("pedal", Kind::Pedal),
    ("power", Kind::Power),
    ("Tristan", Kind::Tristan),
    ("other", Kind::Other),
];

impl Draft {
    pub(super) const fn new(root: NoteName) -> Self {
        Self {
            root,
            quality: Quality::Unsaid,
            major: false,
            triangle: false,
            number: None,
            named: None,
            flags: Alterations::NONE,
            omit_ninth: false,
            omit_eleventh: false,
            bass: None,
        }
    }

    /// Whether a kind or a number has been read, after which + and - are accidentals.
    fn has_kind(&self) -> bool {
        self.quality != Quality::Unsaid || self.major || self.number.is_some() || !self.flags.is_empty()
    }

    fn add(&mut self, flag: Alterations) -> bool {
        self.flags = self.flags.union(flag);
        true
    }

    /// Reads one word, the `first` after the root or not, inside brackets (`inner`) or not; false where none
    /// is understood.
    pub(super) fn word(&mut self, cursor: &mut Cursor<'_>, first: bool, inner: bool) -> bool {
        if self.named.is_none() && !self.has_kind() {
            for (word, kind) in NAMED {
                if cursor.take(word) {
                    self.named = Some(kind);
                    return true;
                }
            }
        }
        if cursor.take("add") {
            return self.added(cursor);
        }
        if cursor.take_any(&["omit", "no"]).is_some() {
            return self.omitted(cursor);
        }
        if cursor.take("sus") {
            return self.suspended(cursor);
        }
        if cursor.take("alt") {
            return self.altered();
        }
        if let Some(understood) = self.accidental(cursor, inner) {
            return understood;
        }
        if cursor.at_digit() {
            return self.number(cursor, inner && !self.major);
        }
        if cursor.take("dom") {
            return !self.has_kind();
        }
        if first && cursor.stands_alone('d') {
            return self.says(Quality::Diminished);
        }
        if first && cursor.stands_alone('a') {
            return self.says(Quality::Augmented);
        }
        // "madd9" is minor with an added ninth.
        if !cursor.rest().starts_with("madd") && cursor.take_any(&MAJOR).is_some() {
            return self.says_major();
        }
        if cursor.take_any(&TRIANGLE).is_some() {
            self.triangle = true;
            return self.says_major();
        }
        for (words, quality) in [
            (&HALF_DIMINISHED[..], Quality::HalfDiminished),
            (&DIMINISHED[..], Quality::Diminished),
            (&AUGMENTED[..], Quality::Augmented),
            (&MINOR[..], Quality::Minor),
        ] {
            if cursor.take_any(words).is_some() {
                return self.says(quality);
            }
        }
        false
    }

    /// A quality is said once, before the number unless augmented (7+), and not after "maj".
    fn says(&mut self, quality: Quality) -> bool {
        let late = self.number.is_some() || self.major;
        let allowed = self.quality == Quality::Unsaid && (!late || quality == Quality::Augmented);
        self.quality = quality;
        allowed && self.named.is_none()
    }

    fn says_major(&mut self) -> bool {
        let allowed = !self.major && self.named.is_none() && self.quality != Quality::HalfDiminished;
        self.major = true;
        allowed
    }

    /// An altered degree; `None` where no accidental stands, or where + or - is a quality.
    fn accidental(&mut self, cursor: &mut Cursor<'_>, inner: bool) -> Option<bool> {
        type A = Alterations;
        let mut ahead = *cursor;
        let sign = ahead.take_any(&["b", "♭", "#", "♯", "+", "-", "\u{2212}"])?;
        let flat = matches!(sign, "b" | "♭" | "-" | "\u{2212}");
        let number = ahead.number();
        if matches!(sign, "+" | "-" | "\u{2212}") {
            let degree = match number {
                Some(5) => true,
                Some(9 | 11 | 13) => inner || self.has_kind(),
                _ => false,
            };
            if !degree {
                return None;
            }
        }
        *cursor = ahead;
        let flag = match (flat, number) {
            (true, Some(5)) => A::FLAT_FIFTH,
            (false, Some(5)) => A::SHARP_FIFTH,
            (true, Some(2 | 9)) => A::FLAT_NINTH,
            (false, Some(2 | 9)) => A::SHARP_NINTH,
            (false, Some(4 | 11)) => A::SHARP_ELEVENTH,
            (true, Some(6 | 13)) => A::FLAT_THIRTEENTH,
            // Minor with a raised seventh.
            (false, Some(7)) if self.quality == Quality::Minor && self.number.is_none() => {
                self.number = Some(7);
                return Some(self.says_major());
            }
            _ => return Some(false),
        };
        Some(self.add(flag))
    }

    /// A number: the chord's own, or, when `added` or after it, one more degree.
    pub(super) fn number(&mut self, cursor: &mut Cursor<'_>, added: bool) -> bool {
        let Some(number) = cursor.number() else {
            return false;
        };
        match number {
            5 if self.named.is_none() && !self.has_kind() => {
                self.named = Some(Kind::Power);
                true
            }
            _ if self.named.is_some() => false,
            2 => self.add(Alterations::ADD_NINTH),
            4 if self.number.is_some() => self.add(Alterations::ADD_ELEVENTH),
            4 => self.add(Alterations::SUSPEND_FOURTH),
            6 | 7 if self.number.is_none() => {
                self.number = Some(number);
                true
            }
            9 | 11 | 13 if self.number.is_none() && !added => {
                self.number = Some(number);
                true
            }
            6 | 13 => self.add(Alterations::ADD_THIRTEENTH),
            9 => self.add(Alterations::ADD_NINTH),
            11 => self.add(Alterations::ADD_ELEVENTH),
            _ => false,
        }
    }

    fn added(&mut self, cursor: &mut Cursor<'_>) -> bool {
        if let Some(understood) = self.accidental(cursor, true) {
            return understood;
        }
        match cursor.number() {
            Some(2 | 9) => self.add(Alterations::ADD_NINTH),
            Some(4 | 11) => self.add(Alterations::ADD_ELEVENTH),
            Some(6) if self.number.is_none() && self.named.is_none() => {
                self.number = Some(6);
                true
            }
            Some(6 | 13) => self.add(Alterations::ADD_THIRTEENTH),
            _ => false,
        }
    }

    fn omitted(&mut self, cursor: &mut Cursor<'_>) -> bool {
        cursor.take(" ");
        let number = cursor.number();
        cursor.take_any(&["rd", "th"]);
        match number {
            Some(3) => self.add(Alterations::OMIT_THIRD),
            Some(5) => self.add(Alterations::OMIT_FIFTH),
            Some(9) if matches!(self.number, Some(11 | 13)) => {
                self.omit_ninth = true;
                true
            }
            Some(11) if self.number == Some(13) => {
                self.omit_eleventh = true;
                true
            }
            _ => false,
        }
    }

    /// "sus" alone is the fourth.
    fn suspended(&mut self, cursor: &mut Cursor<'_>) -> bool {
        let second = cursor.take("2");
        let fourth = cursor.take("4");
        if second {
            self.add(Alterations::SUSPEND_SECOND);
        }
        if fourth || !second {
            self.add(Alterations::SUSPEND_FOURTH);
        }
        true
    }

    fn altered(&mut self) -> bool {
        let fifths = Alterations::FLAT_FIFTH.union(Alterations::SHARP_FIFTH);
        let ninths = Alterations::FLAT_NINTH.union(Alterations::SHARP_NINTH);
        let allowed = *self.number.get_or_insert(7) == 7 && self.quality == Quality::Unsaid && !self.major;
        self.add(fifths.union(ninths)) && allowed && self.named.is_none()
    }

    /// The symbol so far; `None` where the words don't make a chord (a diminished thirteenth).
    pub(super) fn build(&self) -> Option<ChordSymbol> {
        let (kind, more) = match self.named {
            Some(kind) => (kind, Alterations::NONE),
            None => self.kind()?,
        };
        let chord = self.thinned(Chord { kind, alterations: self.flags.union(more), ..Chord::default() });
        Some(ChordSymbol::from_parts(self.root, chord.kind, chord.alterations, self.bass))
    }

    /// Kind from quality and number, with the flags that it takes besides.
    fn kind(&self) -> Option<(Kind, Alterations)> {
        type A = Alterations;
        const NINTH: A = A::ADD_NINTH;
        const ELEVENTH: A = NINTH.union(A::ADD_ELEVENTH);
        const THIRTEENTH: A = ELEVENTH.union(A::ADD_THIRTEENTH);
        let seventh_said =
            self.triangle || self.major && matches!(self.quality, Quality::Minor | Quality::Diminished);
        let number = self.number.or(seventh_said.then_some(7));
        let pick = |seven, nine, eleven, thirteen| match number {
            Some(9) => nine,
            Some(11) => eleven,
            Some(13) => thirteen,
            _ => seven,
        };
        let (dominant, major, minor) = (
            pick(Kind::Dominant, Kind::DominantNinth, Kind::DominantEleventh, Kind::DominantThirteenth),
            pick(Kind::MajorSeventh, Kind::MajorNinth, Kind::MajorEleventh, Kind::MajorThirteenth),
            pick(Kind::MinorSeventh, Kind::MinorNinth, Kind::MinorEleventh, Kind::MinorThirteenth),
        );
        // Over kinds that MusicXML doesn't stack.
        let stacked = match number {
            Some(9) => NINTH,
            Some(11) => ELEVENTH,
            Some(13) => THIRTEENTH,
            _ => A::NONE,
        };
        let with_seventh = if self.major { major } else { dominant };
        Some(match (self.quality, number) {
            (Quality::Unsaid, None) => (Kind::Major, A::NONE),
            (Quality::Unsaid, Some(6)) => (Kind::MajorSixth, A::NONE),
            (Quality::Unsaid, Some(_)) => (with_seventh, A::NONE),
            (Quality::Minor, None) => (Kind::Minor, A::NONE),
            (Quality::Minor, Some(6)) => (Kind::MinorSixth, A::NONE),
            (Quality::Minor, Some(_)) if self.major => (Kind::MajorMinor, stacked),
            (Quality::Minor, Some(_)) => (minor, A::NONE),
            (Quality::Diminished, None) => (Kind::Diminished, A::NONE),
            (Quality::Diminished | Quality::HalfDiminished, Some(6)) => return None,
            (Quality::Diminished, Some(_)) if self.major => (Kind::MajorMinor, stacked.union(A::FLAT_FIFTH)),
            // Its thirteenth would be its seventh.
            (Quality::Diminished, Some(13)) => return None,
            (Quality::Diminished, Some(_)) => (Kind::DiminishedSeventh, stacked),
            (Quality::HalfDiminished, _) => (minor, A::FLAT_FIFTH),
            (Quality::Augmented, None) => (Kind::Augmented, A::NONE),
            (Quality::Augmented, Some(6)) => (Kind::MajorSixth, A::SHARP_FIFTH),
            (Quality::Augmented, Some(_)) => (with_seventh, A::SHARP_FIFTH),
        })
    }

    /// A stacked chord without the ninth or eleventh that the text leaves out: the seventh chord, with what
    /// remains added.
    fn thinned(&self, chord: Chord) -> Chord {
        type A = Alterations;
        if !self.omit_ninth && !self.omit_eleventh {
            return chord;
        }
        let (seventh, mut own) = match chord.kind {
            Kind::DominantEleventh => (Kind::Dominant, A::NONE),
            Kind::DominantThirteenth => (Kind::Dominant, A::ADD_THIRTEENTH),
            Kind::MajorEleventh => (Kind::MajorSeventh, A::NONE),
            Kind::MajorThirteenth => (Kind::MajorSeventh, A::ADD_THIRTEENTH),
            Kind::MinorEleventh => (Kind::MinorSeventh, A::NONE),
            Kind::MinorThirteenth => (Kind::MinorSeventh, A::ADD_THIRTEENTH),
            other => (other, A::NONE),
        };
        if seventh != chord.kind {
            own = own.union(A::ADD_NINTH).union(A::ADD_ELEVENTH);
        }
        for (altered, natural) in [
            (A::FLAT_NINTH.union(A::SHARP_NINTH), A::ADD_NINTH),
            (A::SHARP_ELEVENTH, A::ADD_ELEVENTH),
            (A::FLAT_THIRTEENTH, A::ADD_THIRTEENTH),
        ] {
            if chord.alterations.intersects(altered) {
                own = own.without(natural);
            }
        }
        let mut flags = chord.alterations.union(own);
        if self.omit_ninth {
            flags = flags.without(A::ADD_NINTH);
        }
        if self.omit_eleventh {
            flags = flags.without(A::ADD_ELEVENTH);
        }
        Chord { kind: seventh, alterations: flags, ..chord }
    }
}
