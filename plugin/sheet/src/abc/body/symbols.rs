//! `s:`: symbols under a line of music, one for each note (ABC 2.1, 4.15).

use figwort_theory::Span;

use super::Body;
use crate::length::Exact;
use crate::written::{Mark, Quoted, mark_kind};
use crate::{SheetError, limits};

/// A note of the last line of music.
#[derive(Clone, Copy)]
pub(super) struct LineNote {
    /// Index of its bar and of its event in it.
    pub(super) bar: usize,
    pub(super) event: usize,
    pub(super) at: Exact,
    pub(super) length: Exact,
}

impl Body {
    /// Puts the symbols of a line under the notes of the music before it.
    ///
    /// # Errors
    /// [`SheetError::TooLarge`] beyond [`limits::MAX_CHORDS`].
    pub(super) fn symbol_line(&mut self, text: &str) -> Result<(), SheetError> {
        let notes = core::mem::take(&mut self.line_notes);
        let mut next = 0;
        let mut rest = text.trim_start();
        while let Some(sign) = rest.chars().next() {
            let closing = matches!(sign, '"' | '!' | '+').then(|| rest.get(1..)?.find(sign)).flatten();
            let (token, after) = match closing {
                Some(end) => (rest.get(1..=end).unwrap_or_default(), rest.get(end + 2..)),
                None => {
                    let end = rest.find(char::is_whitespace).unwrap_or(rest.len());
                    let end = if matches!(sign, '*' | '|') { 1 } else { end };
                    ("", rest.get(end..))
                }
            };
            rest = after.unwrap_or_default().trim_start();
            let Some(note) = notes.get(next) else {
                self.problem("a line of symbols (s:) has more of them than the music before has notes");
                break;
            };
            if sign == '|' {
                // On to the first note of the next bar.
                let before = next.checked_sub(1).and_then(|before| notes.get(before));
                let bar = before.map_or(note.bar, |before| before.bar);
                next = notes.partition_point(|note| note.bar <= bar).max(next);
                continue;
            }
            next += 1;
            let text = token.strip_prefix(['^', '_', '<', '>', '@']);
            if let Some(kind) = mark_kind(text.unwrap_or(token)) {
                let before = note.at == Exact::ZERO;
                self.marks.push(Mark { kind, bar: note.bar, before, line: Some(self.line) });
            } else if sign == '"' && text.is_none() {
                self.symbol_under(*note, token)?;
            }
        }
        self.line_notes = notes;
        Ok(())
    }

    fn symbol_under(&mut self, note: LineNote, text: &str) -> Result<(), SheetError> {
        self.chords += 1;
        if self.chords > limits::MAX_CHORDS {
            return Err(SheetError::TooLarge { what: "chord symbols", limit: limits::MAX_CHORDS });
        }
        let text: String = text.chars().take(40).collect();
        // A note that has a symbol already has two of them now.
        match self.bars.get_mut(note.bar) {
            Some(bar) => {
                let (at, length): (Span, Span) = (note.at.round(), note.length.round());
                match bar.quoted.iter_mut().find(|quoted| quoted.at == at) {
                    Some(quoted) => quoted.texts.push(text),
                    None => bar.quoted.push(Quoted { at, note: length, texts: vec![text], line: self.line }),
                }
                bar.quoted.sort_by_key(|quoted| quoted.at);
            }
            None => {
                match self.open.quoted.iter_mut().find(|(event, ..)| *event == note.event) {
                    Some((_, texts, _)) => texts.push(text),
                    None => self.open.quoted.push((note.event, vec![text], self.line)),
                }
                self.open.quoted.sort_by_key(|(event, ..)| *event);
            }
        }
        Ok(())
    }
}
