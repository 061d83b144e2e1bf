//! The tune body: lines of music code and the fields between them, to bars as written.
//!
//! One melody is read: of several voices the first unless one is chosen, of note chords the top note, and no
//! overlays. Grace notes and ornaments take no time. An accidental holds to the bar line for its letter in all
//! octaves, as ABC 2.1 (11.3) has it, unless `%%propagate-accidentals` says otherwise.

mod bar;
mod music;
mod note;
mod symbols;

use figwort_theory::{Metre, Pitch};

use super::definition::{self, Definitions};
use super::field;
use super::header::Header;
use super::text::Line;
use crate::length::Exact;
use crate::written::{Left, Mark, MarkKind, WrittenBar};
use crate::{SheetError, limits};
use bar::OpenBar;

/// How far an accidental reaches within its bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub(super) enum Reach {
    /// Its own note.
    Note,
    /// Its letter in the same octave.
    Octave,
    /// Its letter in all octaves.
    #[default]
    Letter,
}

/// Something doubtful and where: index of the bar, line.
pub(super) struct Problem {
    pub(super) bar: usize,
    pub(super) line: u32,
    pub(super) text: String,
}

/// What a body holds.
pub(super) struct Written {
    pub(super) bars: Vec<WrittenBar>,
    pub(super) marks: Vec<Mark>,
    pub(super) problems: Vec<Problem>,
    /// The voice that was read, where `V:` tells voices apart, and the first line at which another begins.
    pub(super) voice: Option<String>,
    pub(super) others: Option<u32>,
}

/// A tuplet under way.
struct Tuplet {
    /// So many notes
    notes: u32,
    /// in the time of so many,
    time: u32,
    /// for so many more notes.
    left: u32,
}

/// The last note: letter, octave, alteration.
type Spelled = (u8, i32, i8);

/// The state of reading a body.
pub(super) struct Body {
    line: u32,
    signature: field::Signature,
    transpose: i32,
    metre: Option<Metre>,
    unit: Exact,
    tempo: u32,
    reach: Reach,
    bars: Vec<WrittenBar>,
    marks: Vec<Mark>,
    problems: Vec<Problem>,
    open: OpenBar,
    left: Left,
    /// The voice that is read, once a `V:` has been seen, and whether the present lines are of another.
    voice: Option<String>,
    elsewhere: bool,
    /// The first line at which another voice begins.
    others: Option<u32>,
    /// Semitones to sounding pitch of the header's voices, where stated.
    voices: Vec<(String, Option<i32>)>,
    tuplet: Option<Tuplet>,
    /// What a broken rhythm makes of the next note.
    broken: (u32, u32),
    /// Texts that wait for their note.
    quoted: Vec<String>,
    last_note: Option<Spelled>,
    /// What lies under the top of the last note chord, and whether it is tied.
    lower: Vec<(Pitch, bool)>,
    tie: Option<Spelled>,
    definitions: Definitions,
    bang_breaks: bool,
    /// The notes of the last line of music, for the symbols under it.
    line_notes: Vec<symbols::LineNote>,
    /// Signs and texts that have been reported.
    strange: Vec<char>,
    said: Vec<&'static str>,
    notes: usize,
    chords: usize,
}

impl Body {
    fn new(header: &Header, voice: Option<String>) -> Self {
        Self {
            line: header.last_line,
            signature: header.signature,
            transpose: match header.voices.as_slice() {
                [(_, Some(by))] => *by,
                _ => header.transpose,
            },
            metre: header.metre,
            unit: header.unit(),
            tempo: header.tempo,
            reach: header.reach,
            bars: Vec::new(),
            marks: Vec::new(),
            problems: Vec::new(),
            open: OpenBar::default(),
            left: Left { section: true, ..Left::default() },
            // Music before any V: belongs to voice 1.
            elsewhere: voice.as_deref().is_some_and(|voice| voice != "1"),
            voice,
            others: None,
            voices: header.voices.clone(),
            tuplet: None,
            broken: (1, 1),
            quoted: Vec::new(),
            last_note: None,
            lower: Vec::new(),
            tie: None,
            definitions: header.definitions.clone(),
            bang_breaks: header.bang_breaks,
            line_notes: Vec::new(),
            strange: Vec::new(),
            said: Vec::new(),
            notes: 0,
            chords: 0,
        }
    }

    /// Notes something doubtful about the present bar. Bounded like all warnings.
    fn problem(&mut self, text: impl Into<String>) {
        if self.problems.len() <= limits::MAX_WARNINGS * 2 {
            self.problems.push(Problem { bar: self.bars.len(), line: self.line, text: text.into() });
        }
    }

    /// The same once a tune.
    fn problem_once(&mut self, text: &'static str) {
        if !self.said.contains(&text) {
            self.said.push(text);
            self.problem(text);
        }
    }

    /// A field on a line of its own or inline.
    fn field(&mut self, letter: char, value: &str) -> Result<(), SheetError> {
        let value = value.trim();
        if letter == 'V' {
            self.enter_voice(value);
            return Ok(());
        }
        if self.elsewhere {
            return Ok(());
        }
        match letter {
            'K' => match field::key(value) {
                Some(key) => {
                    if let Some(signature) = key.signature {
                        self.signature = signature;
                        self.open.accidentals.clear();
                    }
                    self.transpose = key.transpose.unwrap_or(self.transpose);
                }
                None => self.problem(format!("K:{value} is no key; the key before it stays")),
            },
            'M' => match field::metre(value) {
                Some(metre) => self.metre = metre,
                None => self.problem(format!("M:{value} is no metre; the metre before it stays")),
            },
            'L' => match field::unit(value) {
                Some(unit) => self.unit = unit,
                None => self.problem(format!("L:{value} is no note length; the unit before it stays")),
            },
            'Q' => match field::tempo(value, self.unit) {
                Ok(Some(tempo)) => {
                    self.tempo = tempo;
                    if !self.open.is_empty() && self.open.tempos.len() < limits::MAX_NOTES {
                        self.open.tempos.push((self.open.at, tempo));
                    }
                }
                Ok(None) => {}
                Err(doubt) => self.problem(format!("Q:{value} {doubt}; the tempo before it stays")),
            },
            'P' => {
                self.close_bar()?;
                self.left.section = true;
                self.left.part = Some(value.chars().take(40).collect());
            }
            'T' if self.open.is_empty() => self.left.section = true,
            'U' if !definition::define(value, &mut self.definitions) => {
                self.problem(format!("U:{value} is no definition; write it like U:T=!trill!"));
            }
            'm' => self.problem_once("m: macros are not expanded; write the notes out"),
            's' => self.symbol_line(value)?,
            'I' => self.instruction(value),
            _ => {}
        }
        Ok(())
    }

    /// `I:` or `%%`.
    fn instruction(&mut self, value: &str) {
        if let Some(reach) = field::reach(value) {
            self.reach = reach;
        }
        self.bang_breaks = field::bang_breaks(value).unwrap_or(self.bang_breaks);
    }

    /// Of several voices, the one that comes first in the body is read.
    fn enter_voice(&mut self, value: &str) {
        let (name, mut by) = field::voice(value);
        let has_music = !self.bars.is_empty() || !self.open.is_empty();
        let first = match &self.voice {
            Some(first) => first,
            // Music before any V: belongs to voice 1.
            None => self.voice.insert(if has_music { "1".into() } else { name.clone() }),
        };
        self.elsewhere = *first != name;
        if self.elsewhere {
            self.others.get_or_insert(self.line);
            return;
        }
        if let Some((_, stated)) = self.voices.iter().find(|(known, _)| *known == name) {
            by = by.or(*stated);
        }
        self.transpose = by.unwrap_or(self.transpose);
    }

    /// Notes a mark such as Fine at the present place.
    fn mark(&mut self, kind: MarkKind) {
        if self.marks.len() < limits::MAX_BARS {
            let before = self.open.is_empty();
            self.marks.push(Mark { kind, bar: self.bars.len(), before, line: Some(self.line) });
        }
    }
}

/// Reads a body: a chosen voice, or the first.
///
/// # Errors
/// [`SheetError::TooLarge`].
pub(super) fn read(
    header: &Header,
    voice: Option<String>,
    lines: &[Line<'_>],
) -> Result<Written, SheetError> {
    let mut body = Body::new(header, voice);
    let mut blocks = super::text::Blocks::default();
    for line in lines {
        body.line = line.number;
        let text = line.text;
        if blocks.hold(text) {
            continue;
        }
        if let Some(directive) = text.strip_prefix("%%") {
            body.instruction(directive);
            continue;
        }
        let text = super::text::without_comment(text);
        match super::text::field_in_body(text) {
            Some((letter, value)) => body.field(letter, value)?,
            None if !body.elsewhere || text.contains("[V:") => {
                body.line_notes.clear();
                body.music(text)?;
            }
            None => {}
        }
    }
    body.finish()
}

impl Body {
    fn finish(mut self) -> Result<Written, SheetError> {
        self.close_bar()?;
        if !self.quoted.is_empty() {
            self.problem("a chord symbol after the last note has nothing to stand on and is left out");
        }
        let last = self.bars.len().saturating_sub(1);
        for mark in &mut self.marks {
            if mark.bar > last {
                *mark = Mark { bar: last, before: false, ..*mark };
            }
        }
        Ok(Written {
            bars: self.bars,
            marks: self.marks,
            problems: self.problems,
            voice: self.voice,
            others: self.others,
        })
    }
}
