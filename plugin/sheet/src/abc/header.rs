//! The header of a tune: fields up to `K:`.

use figwort_theory::Metre;

use super::body::Reach;
use super::definition::{self, Definitions};
use super::field::{self, Signature};
use super::mnemonic;
use super::text::{self, Line};
use super::voice;
use crate::length::Exact;
use crate::warnings::Warnings;

/// Longest text kept of a field.
const MAX_TEXT: usize = 300;
/// Most voices whose transposition is kept.
const MAX_VOICES: usize = 64;

/// What a header states; also, of a file header, what its tunes begin with.
#[derive(Clone)]
pub(super) struct Header {
    pub(super) title: String,
    pub(super) composer: Option<String>,
    pub(super) signature: Signature,
    pub(super) transpose: i32,
    pub(super) has_key: bool,
    /// `None` for free metre.
    pub(super) metre: Option<Metre>,
    pub(super) tempo: u32,
    pub(super) parts: Vec<char>,
    pub(super) reach: Reach,
    /// Voices that are named, with their semitones to sounding pitch.
    pub(super) voices: Vec<(String, Option<i32>)>,
    /// Their ids and names.
    pub(super) voice_names: Vec<(String, String)>,
    /// Letters that `U:` gives a meaning.
    pub(super) definitions: Definitions,
    /// Whether `!` ends a line of the page rather than enclosing a decoration.
    pub(super) bang_breaks: bool,
    unit: Option<Exact>,
    /// A tempo in units, which is known when the unit is.
    tempo_text: Option<(String, u32)>,
    pub(super) last_line: u32,
}

impl Default for Header {
    fn default() -> Self {
        Self {
            title: String::new(),
            composer: None,
            signature: Signature::default(),
            transpose: 0,
            has_key: false,
            metre: None,
            tempo: crate::DEFAULT_TEMPO,
            parts: Vec::new(),
            reach: Reach::default(),
            voices: Vec::new(),
            voice_names: Vec::new(),
            definitions: Definitions::new(),
            bang_breaks: false,
            unit: None,
            tempo_text: None,
            last_line: 1,
        }
    }
}

impl Header {
    /// The unit note length, stated or implied by the metre.
    pub(super) fn unit(&self) -> Exact {
        self.unit.unwrap_or_else(|| field::default_unit(self.metre))
    }

    /// Reads fields until `K:` has been read; how many lines that took.
    pub(super) fn read(&mut self, lines: &[Line<'_>], warnings: &mut Warnings) -> usize {
        let mut used = 0;
        let mut blocks = text::Blocks::default();
        for line in lines {
            used += 1;
            self.last_line = line.number;
            if blocks.hold(line.text) {
                continue;
            }
            if let Some(directive) = line.text.strip_prefix("%%") {
                self.instruction(directive);
                continue;
            }
            let Some((letter, value)) = text::field(text::without_comment(line.text)) else {
                let is_blank = text::without_comment(line.text).trim().is_empty();
                if !is_blank {
                    warnings.push_once(
                        None,
                        Some(line.number),
                        "a line before K: is no field; it is left out",
                    );
                }
                continue;
            };
            self.field(letter, value.trim(), line.number, warnings);
            if letter == 'K' {
                break;
            }
        }
        if let Some((text, line)) = self.tempo_text.take() {
            let taken = (60e6 / f64::from(self.tempo.max(1))).round();
            let doubt = match field::tempo(&text, self.unit()) {
                Ok(Some(tempo)) => {
                    self.tempo = tempo;
                    None
                }
                Ok(None) => Some("has no number".to_owned()),
                Err(field::NoTempo::Nonsense) => Some("is no tempo, write it like Q:1/4=120".to_owned()),
                Err(doubt) => Some(doubt.to_string()),
            };
            if let Some(doubt) = doubt {
                let text = format!("Q:{text} {doubt}; {taken} quarters a minute are taken");
                warnings.push(None, Some(line), text);
            }
        }
        used
    }

    fn field(&mut self, letter: char, value: &str, line: u32, warnings: &mut Warnings) {
        let clipped = || mnemonic::plain(value).chars().take(MAX_TEXT).collect::<String>();
        let mut no =
            |what: &str| warnings.push(None, Some(line), format!("{letter}:{} is no {what}", clipped()));
        match letter {
            'T' if self.title.is_empty() => self.title = clipped(),
            'C' if !value.is_empty() => {
                let composer = self.composer.get_or_insert_default();
                if composer.len() < MAX_TEXT {
                    if !composer.is_empty() {
                        composer.push_str(", ");
                    }
                    composer.push_str(&clipped());
                }
            }
            'M' => match field::metre(value) {
                Some(metre) => self.metre = metre,
                None => no("metre; write it like M:3/4"),
            },
            'L' => match field::unit(value) {
                Some(unit) => self.unit = Some(unit),
                None => no("note length; write it like L:1/8"),
            },
            'Q' => self.tempo_text = Some((clipped(), line)),
            'K' => {
                self.has_key = true;
                match field::key(value) {
                    Some(key) => {
                        self.signature = key.signature.unwrap_or_default();
                        self.transpose = key.transpose.unwrap_or(self.transpose);
                    }
                    None => no("key; C major is taken"),
                }
            }
            'P' if !value.is_empty() => match field::part_order(value) {
                Some(order) => self.parts = order,
                None => no("order of parts; the parts are played as written"),
            },
            'V' if self.voices.len() < MAX_VOICES => {
                self.voices.push(field::voice(value));
                self.voice_names.push(voice::named(value));
            }
            'I' => self.instruction(value),
            'U' if !definition::define(value, &mut self.definitions) => {
                no("definition; write it like U:T=!trill!")
            }
            'm' => warnings.push_once(None, Some(line), "m: macros are not expanded; write the notes out"),
            _ => {}
        }
    }

    /// `I:` or `%%`.
    fn instruction(&mut self, value: &str) {
        self.reach = field::reach(value).unwrap_or(self.reach);
        self.bang_breaks = field::bang_breaks(value).unwrap_or(self.bang_breaks);
    }
}
