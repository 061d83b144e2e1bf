//! Music code: one line at a time.

use super::super::definition::{self, Meaning};
use super::super::scan::{BarLine, Scan};
use super::{Body, limits};
use crate::SheetError;
use crate::written::{MarkKind, mark_kind};

/// Most texts over one note.
const MAX_QUOTED: usize = 8;
/// Most different signs that are reported as not understood.
const MAX_STRANGE: usize = 20;

impl Body {
    /// Reads a line of music code.
    ///
    /// # Errors
    /// [`SheetError::TooLarge`].
    pub(super) fn music(&mut self, text: &str) -> Result<(), SheetError> {
        let mut scan = Scan::new(text);
        while let Some(c) = scan.peek() {
            if let Some((letter, value)) = scan.inline_field() {
                self.field(letter, &value)?;
                continue;
            }
            if self.elsewhere {
                scan.next();
                continue;
            }
            if let Some(line) = scan.bar_line() {
                self.bar_line(&line)?;
                if scan.peek().is_some_and(|c| c.is_ascii_digit()) {
                    self.ending(&mut scan)?;
                }
                continue;
            }
            if matches!(c, '^' | '_' | '=' | 'A'..='G' | 'a'..='g') {
                self.note(&mut scan)?;
                continue;
            }
            scan.next();
            match c {
                '[' if scan.peek().is_some_and(|c| c.is_ascii_digit()) => self.ending(&mut scan)?,
                '[' => self.note_chord(&mut scan, ']')?,
                '+' if scan.is_notes_to('+') => self.note_chord(&mut scan, '+')?,
                // A line break of older files, with music between it and the next.
                '!' if self.bang_breaks || scan.is_notes_to('!') => {}
                'z' | 'x' => {
                    let multiplier = scan.multiplier();
                    self.add(None, multiplier)?;
                }
                'Z' | 'X' => self.bars_of_rest(scan.number().unwrap_or(1))?,
                '"' => match scan.quotation() {
                    Some(text) => self.quotation(text)?,
                    None => self.problem("a quotation mark is not closed; it is skipped"),
                },
                '{' => scan.grace_notes(),
                '(' if scan.peek().is_some_and(|c| c.is_ascii_digit()) => self.tuplet(&mut scan),
                '-' => self.tie(),
                '>' | '<' => {
                    let count = 1 + scan.skip(|next| next == c);
                    self.broken_rhythm(c == '>', count);
                }
                '!' | '+' => {
                    if let Some(kind) = scan.decoration(c).and_then(|name| mark_kind(&name)) {
                        self.mark(kind);
                    }
                }
                _ if definition::is_definable(c) => self.shorthand(c)?,
                '&' => {
                    self.problem_once("a second voice after & is left out");
                    scan.skip_to_bar_line();
                }
                'y' => {
                    scan.multiplier();
                }
                // Slurs, staccato, spaces and line ends.
                '(' | ')' | '.' | '`' | '\\' | '$' | ']' => {}
                // Kept for later use, to be passed over until then (ABC 2.1, 8.1).
                '#' | '*' | ';' | '?' | '@' => {}
                _ if c.is_whitespace() => {}
                _ if self.strange.len() >= MAX_STRANGE || self.strange.contains(&c) => {}
                _ => {
                    self.strange.push(c);
                    self.problem(format!("the sign {c:?} is not understood; it is skipped"));
                }
            }
        }
        Ok(())
    }

    /// A letter that stands for a decoration or a text.
    fn shorthand(&mut self, letter: char) -> Result<(), SheetError> {
        let defined = self.definitions.iter().find(|(known, _)| *known == letter);
        match (defined.map(|(_, meaning)| meaning.clone()), letter) {
            (Some(Meaning::Text(text)), _) => self.quotation(text)?,
            (Some(Meaning::Decoration(name)), _) => {
                if let Some(kind) = mark_kind(&name) {
                    self.mark(kind);
                }
            }
            // What they stand for where nothing else is said (ABC 2.1, 4.14).
            (None, 'O') => self.mark(MarkKind::Coda),
            (None, 'S') => self.mark(MarkKind::Segno),
            (None, _) => {}
        }
        Ok(())
    }

    fn bar_line(&mut self, line: &BarLine) -> Result<(), SheetError> {
        self.close_bar()?;
        if let Some(bar) = self.bars.last_mut() {
            if line.ends > 0 {
                bar.right.repeat = bar.right.repeat.max(times(line.ends));
            }
            bar.right.double |= line.double;
            bar.right.restarts |= line.double;
        }
        self.left.section |= line.double || line.ends > 0 || line.starts > 0;
        if line.starts > 0 {
            self.left.repeat = self.left.repeat.max(times(line.starts));
        }
        Ok(())
    }

    /// The numbers of an ending follow.
    fn ending(&mut self, scan: &mut Scan) -> Result<(), SheetError> {
        self.close_bar()?;
        self.left.ending = scan.ending();
        self.left.section = true;
        Ok(())
    }

    /// A text in quotation marks: an annotation, a direction such as Fine, or a chord symbol.
    pub(super) fn quotation(&mut self, text: String) -> Result<(), SheetError> {
        let annotation = text.strip_prefix(['^', '_', '<', '>', '@']);
        if let Some(kind) = mark_kind(annotation.unwrap_or(&text)) {
            self.mark(kind);
        } else if annotation.is_none() && self.quoted.len() < MAX_QUOTED {
            self.chords += 1;
            if self.chords > limits::MAX_CHORDS {
                return Err(SheetError::TooLarge { what: "chord symbols", limit: limits::MAX_CHORDS });
            }
            self.quoted.push(text);
        }
        Ok(())
    }
}

/// How often a section with so many colons is played.
fn times(colons: u32) -> u32 {
    colons.saturating_add(1).min(limits::MAX_TIMES)
}
