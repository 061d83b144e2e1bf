//! A place in a text, and the small words of chord symbols: numbers, letters, accidentals.

use crate::pitch::NoteName;

/// A place in the text, always between two characters.
#[derive(Clone, Copy)]
pub(super) struct Cursor<'a> {
    pub(super) text: &'a str,
    pub(super) at: usize,
}

impl<'a> Cursor<'a> {
    pub(super) fn rest(&self) -> &'a str {
        self.text.get(self.at..).unwrap_or("")
    }

    pub(super) fn take(&mut self, word: &str) -> bool {
        let found = self.rest().starts_with(word);
        if found {
            self.at += word.len();
        }
        found
    }

    /// The first of these words that stands here.
    pub(super) fn take_any(&mut self, words: &[&'static str]) -> Option<&'static str> {
        words.iter().copied().find(|word| self.take(word))
    }

    pub(super) fn at_digit(&self) -> bool {
        self.rest().starts_with(|c: char| c.is_ascii_digit())
    }

    /// One of the numbers that chords use; 69 is read as 6 and 9.
    pub(super) fn number(&mut self) -> Option<u8> {
        const NUMBERS: [(&str, u8); 9] =
            [("13", 13), ("11", 11), ("9", 9), ("7", 7), ("6", 6), ("5", 5), ("4", 4), ("3", 3), ("2", 2)];
        NUMBERS.into_iter().find(|(word, _)| self.take(word)).map(|(_, number)| number)
    }

    /// A single letter that no other letter follows.
    pub(super) fn stands_alone(&mut self, letter: char) -> bool {
        let mut rest = self.rest().chars();
        let alone = rest.next() == Some(letter) && rest.next().is_none_or(|next| !next.is_alphabetic());
        if alone {
            self.at += letter.len_utf8();
        }
        alone
    }

    /// A root: a capital and its accidentals.
    pub(super) fn root(&mut self) -> Option<NoteName> {
        let letter = self.letter(false)?;
        self.name(letter, &["#", "♯", "b", "♭"])
    }

    /// A bass: may be lower case, and its sharp a plus.
    pub(super) fn bass(&mut self) -> Option<NoteName> {
        let letter = self.letter(true)?;
        self.name(letter, &["#", "♯", "b", "♭", "+", "-"])
    }

    fn letter(&mut self, lower_case_too: bool) -> Option<u8> {
        let first = self.rest().chars().next()?;
        let upper = if lower_case_too { first.to_ascii_uppercase() } else { first };
        let letter = ['C', 'D', 'E', 'F', 'G', 'A', 'B'].iter().position(|name| *name == upper)?;
        self.at += 1;
        Some(letter as u8)
    }

    /// Accidentals as often as they stand, at most a double one.
    fn name(&mut self, letter: u8, signs: &[&'static str]) -> Option<NoteName> {
        if self.take("\u{1d12b}") {
            return NoteName::new(letter, -2);
        }
        if self.take("\u{1d12a}") {
            return NoteName::new(letter, 2);
        }
        let mut alter = 0_i8;
        while alter.abs() < 2 {
            let mut ahead = *self;
            let step = match ahead.take_any(signs) {
                Some("#" | "♯" | "+") => 1,
                Some(_) => -1,
                None => break,
            };
            // No name is both sharp and flat.
            if step * alter < 0 {
                break;
            }
            *self = ahead;
            alter += step;
        }
        NoteName::new(letter, alter)
    }
}
