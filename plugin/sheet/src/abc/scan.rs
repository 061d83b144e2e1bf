//! Reading along a line, and the parts of music code that need no memory: bar lines, lengths, pitches.

use crate::limits;

/// How far the end of an inline field or decoration is looked for.
const MAX_FIELD: usize = 300;
/// Highest octave marks that are told apart.
const MAX_OCTAVES: i32 = 10;

/// A place in a line.
pub(super) struct Scan {
    chars: Vec<char>,
    at: usize,
}

/// A bar line and the signs around it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct BarLine {
    /// Colons before it.
    pub(super) ends: u32,
    /// Colons after it.
    pub(super) starts: u32,
    /// Whether it is double or thick.
    pub(super) double: bool,
}

impl Scan {
    pub(super) fn new(line: &str) -> Self {
        Self { chars: line.chars().collect(), at: 0 }
    }

    pub(super) fn peek(&self) -> Option<char> {
        self.look(0)
    }

    /// The character so many places ahead.
    pub(super) fn look(&self, ahead: usize) -> Option<char> {
        self.chars.get(self.at + ahead).copied()
    }

    pub(super) fn next(&mut self) -> Option<char> {
        let c = self.peek()?;
        self.at += 1;
        Some(c)
    }

    /// Steps over a character if it is next.
    pub(super) fn take(&mut self, c: char) -> bool {
        let is_next = self.peek() == Some(c);
        self.at += usize::from(is_next);
        is_next
    }

    /// Steps over characters while they satisfy; how many there were.
    pub(super) fn skip(&mut self, accept: impl Fn(char) -> bool) -> usize {
        let from = self.at;
        while self.peek().is_some_and(&accept) {
            self.at += 1;
        }
        self.at - from
    }

    /// The text up to `close`, stepping over both, when it follows within `limit` characters.
    fn text_to(&mut self, close: char, limit: usize) -> Option<String> {
        let rest = self.chars.get(self.at..)?;
        let length = rest.iter().take(limit).position(|c| *c == close)?;
        let text = rest.get(..length)?.iter().collect();
        self.at += length + 1;
        Some(text)
    }

    /// The text of a quotation whose opening mark was just read; `None` where it is not closed on the line.
    pub(super) fn quotation(&mut self) -> Option<String> {
        let mut text = self.text_to('"', usize::MAX)?;
        if let Some((end, _)) = text.char_indices().nth(MAX_FIELD) {
            text.truncate(end);
        }
        Some(text)
    }

    /// The name of a decoration whose opening sign was just read; `None` where the sign stands alone.
    pub(super) fn decoration(&mut self, sign: char) -> Option<String> {
        let from = self.at;
        let name = self.text_to(sign, 40)?;
        let is_name = !name.is_empty() && !name.contains([' ', '[', ']', '|', ':', '"']);
        // `!D.C. al fine!` breaks the rule about spaces but is common.
        if is_name || crate::written::mark_kind(&name).is_some() {
            Some(name)
        } else {
            self.at = from;
            None
        }
    }

    /// Whether nothing but two or more notes stand up to the next such sign, which is no decoration then; `!ff!` is
    /// one.
    pub(super) fn is_notes_to(&self, sign: char) -> bool {
        let rest = self.chars.get(self.at..).unwrap_or_default();
        let Some(length) = rest.iter().take(40).position(|c| *c == sign) else { return false };
        let text = rest.get(..length).unwrap_or_default();
        let letters = text.iter().filter(|c| matches!(c, 'A'..='G' | 'a'..='g')).count();
        let is_note =
            |c: &char| matches!(c, 'A'..='G' | 'a'..='g' | '^' | '_' | '=' | ',' | '\'' | '/' | '0'..='9');
        letters > 1 && text.iter().all(is_note) && text.iter().any(|c| *c != 'f')
    }

    /// An inline field `[K:G]` at this place: its letter and value.
    pub(super) fn inline_field(&mut self) -> Option<(char, String)> {
        let letter = self.look(1).filter(char::is_ascii_alphabetic)?;
        if self.peek() != Some('[') || self.look(2) != Some(':') || matches!(self.look(3), Some('|' | ':')) {
            return None;
        }
        let from = self.at;
        self.at += 3;
        match self.text_to(']', MAX_FIELD) {
            Some(value) => Some((letter, value)),
            None => {
                self.at = from;
                None
            }
        }
    }

    /// Steps over grace notes whose opening brace was just read.
    pub(super) fn grace_notes(&mut self) {
        self.skip(|c| c != '}');
        self.take('}');
    }

    /// Steps to the next bar line outside quotation marks.
    pub(super) fn skip_to_bar_line(&mut self) {
        let mut quoted = false;
        self.at += self.chars.get(self.at..).map_or(0, |rest| {
            rest.iter()
                .position(|c| {
                    quoted ^= *c == '"';
                    *c == '|' && !quoted
                })
                .unwrap_or(rest.len())
        });
        // `:|` repeats: its colons belong to the bar line.
        while self.at > 0 && self.chars.get(self.at - 1) == Some(&':') && self.peek() == Some('|') {
            self.at -= 1;
        }
    }

    /// A whole number; saturates at a million. `None` where no digit follows.
    pub(super) fn number(&mut self) -> Option<u32> {
        let mut value = None;
        while let Some(digit) = self.peek().and_then(|c| c.to_digit(10)) {
            value = Some((value.unwrap_or(0) * 10 + digit).min(1_000_000));
            self.at += 1;
        }
        value
    }

    /// The length multiplier after a note: `3/2`, `/`, `//`, `/4`, `2` or nothing.
    pub(super) fn multiplier(&mut self) -> (u32, u32) {
        let numerator = self.number().unwrap_or(1);
        let mut denominator = 1u32;
        while self.take('/') {
            let by = self.number().unwrap_or(2).max(1);
            denominator = denominator.saturating_mul(by).min(1 << 20);
        }
        (numerator, denominator)
    }

    /// An accidental sign in semitones, where one stands here.
    pub(super) fn accidental(&mut self) -> Option<i8> {
        match self.peek()? {
            '=' => {
                self.at += 1;
                Some(0)
            }
            sign @ ('^' | '_') => {
                let count = self.skip(|c| c == sign).min(2) as i8;
                Some(if sign == '^' { count } else { -count })
            }
            _ => None,
        }
    }

    /// A note letter with its octave marks: letter step (0 = C) and octave (0 for `C`, 1 for `c`).
    pub(super) fn pitch(&mut self) -> Option<(u8, i32)> {
        let c = self.peek()?;
        let letter = "CDEFGAB".find(c.to_ascii_uppercase())?;
        self.at += 1;
        let mut octave = i32::from(c.is_ascii_lowercase());
        loop {
            if self.take('\'') {
                octave = (octave + 1).min(MAX_OCTAVES);
            } else if self.take(',') {
                octave = (octave - 1).max(-MAX_OCTAVES);
            } else {
                return Some((letter as u8, octave));
            }
        }
    }

    /// A bar line at this place, in any of its shapes: `|`, `||`, `[|`, `|]`, `:|`, `|:`, `::`, `:|:`, `.|`,
    /// `[|]`, `|[|`.
    pub(super) fn bar_line(&mut self) -> Option<BarLine> {
        let starts_here = match self.peek()? {
            '|' => true,
            // Alone at the beginning of a line it begins a repeat whose other half ended the line before.
            ':' if self.at == 0 && self.look(1).is_some_and(|c| !matches!(c, '|' | ':' | ']')) => {
                self.at = 1;
                return Some(BarLine { starts: 1, ..BarLine::default() });
            }
            ':' => matches!(self.look(1), Some('|' | ':' | ']')),
            '[' => matches!(self.look(1), Some('|')),
            '.' => matches!(self.look(1), Some('|')),
            _ => false,
        };
        if !starts_here {
            return None;
        }
        self.take('.');
        let from = self.at;
        let mut line = BarLine::default();
        let (mut strokes, mut thick) = (0u32, false);
        // Colons count for the end until a stroke has been seen, then for the start.
        loop {
            match self.peek() {
                Some('|') => strokes += 1,
                Some(']') => thick = true,
                Some('[') if matches!(self.look(1), Some('|' | ']')) => thick = true,
                Some(':') if strokes == 0 && !thick => line.ends += 1,
                Some(':') => line.starts += 1,
                _ => break,
            }
            // A stroke after the starting colons, as in `|:|||:`, is one more edge at the same place.
            line.double |= line.starts > 0 && self.peek() != Some(':');
            self.at += 1;
        }
        if strokes == 0 && !thick {
            // `::` and longer: half of them each.
            line.starts = line.ends / 2;
            line.ends -= line.starts;
        }
        // `|::|` is `::` with its strokes.
        let signs = self.chars.get(from..self.at).unwrap_or(&[]);
        if let ['|', colons @ .., '|'] = signs
            && colons.len() % 2 == 0
            && colons.iter().all(|c| *c == ':')
            && !colons.is_empty()
        {
            let half = colons.len() as u32 / 2;
            line = BarLine { starts: half, ends: half, ..line };
        }
        // `[|]` is an invisible bar line (ABC 2.1, 4.8) and ends nothing.
        let invisible = self.chars.get(from..self.at) == Some(&['[', '|', ']']);
        line.double |= strokes >= 2 || (thick && !invisible);
        Some(line)
    }

    /// The numbers of an ending at this place: `1`, `1,3`, `1-3`, `2.`. The opening bracket or bar line is
    /// behind. Empty where there are none.
    pub(super) fn ending(&mut self) -> Vec<u32> {
        let mut numbers = Vec::new();
        while let Some(first) = self.number() {
            let mut last = first;
            if self.peek() == Some('-') && self.look(1).is_some_and(|c| c.is_ascii_digit()) {
                self.at += 1;
                last = self.number().unwrap_or(first);
            }
            numbers.extend(
                (first.max(1)..=last.min(limits::MAX_ENDING))
                    .filter(|n| !numbers.contains(n))
                    .collect::<Vec<_>>(),
            );
            self.take('.');
            if !(self.peek() == Some(',') && self.look(1).is_some_and(|c| c.is_ascii_digit())) {
                break;
            }
            self.at += 1;
        }
        numbers
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(text: &str) -> (u32, u32, bool, String) {
        let mut scan = Scan::new(text);
        let line = scan.bar_line().expect(text);
        (line.ends, line.starts, line.double, scan.chars[scan.at..].iter().collect())
    }

    #[test]
    fn bar_lines_in_their_shapes() {
        assert_eq!(line("|A"), (0, 0, false, "A".into()));
        assert_eq!(line("||A"), (0, 0, true, "A".into()));
        assert_eq!(line("|]"), (0, 0, true, String::new()));
        assert_eq!(line("[|A"), (0, 0, true, "A".into()));
        assert_eq!(line("[|]A"), (0, 0, false, "A".into()));
        assert_eq!(line(".|A"), (0, 0, false, "A".into()));
        assert_eq!(line(":|[2A"), (1, 0, false, "[2A".into()));
        assert_eq!(line("|:[CE]"), (0, 1, false, "[CE]".into()));
        assert_eq!(line("::A"), (1, 1, false, "A".into()));
        assert_eq!(line(":|:A"), (1, 1, false, "A".into()));
        assert_eq!(line(":||:A"), (1, 1, true, "A".into()));
        assert_eq!(line("|::A"), (0, 2, false, "A".into()));
        // ABC 2.1, 4.8, asks for leave in recognising bar lines.
        assert_eq!(line("|::|A"), (1, 1, true, "A".into()));
        assert_eq!(line("::|A"), (2, 0, false, "A".into()));
        assert_eq!(line("|||:A"), (0, 1, true, "A".into()));
        assert_eq!(line(":||[2"), (1, 0, true, "[2".into()));
        assert_eq!(line("|[K:G]"), (0, 0, false, "[K:G]".into()));
        assert!(Scan::new("[CE]").bar_line().is_none());
        assert_eq!(line(": A"), (0, 1, false, " A".into()));
        let mut later = Scan::new("A:B");
        later.next();
        assert!(later.bar_line().is_none());
    }

    #[test]
    fn endings_and_lengths() {
        assert_eq!(Scan::new("1,3-5 A").ending(), [1, 3, 4, 5]);
        assert_eq!(Scan::new("2.A").ending(), [2]);
        assert_eq!(Scan::new("1-99999999 A").ending().len(), limits::MAX_ENDING as usize);
        assert!(Scan::new("A").ending().is_empty());
        let multiplier = |text| Scan::new(text).multiplier();
        assert_eq!(multiplier("3/2"), (3, 2));
        assert_eq!(multiplier("/"), (1, 2));
        assert_eq!(multiplier("//"), (1, 4));
        assert_eq!(multiplier("/4"), (1, 4));
        assert_eq!(multiplier("2"), (2, 1));
        assert_eq!(multiplier("A"), (1, 1));
        assert_eq!(multiplier("/0"), (1, 1));
    }

    #[test]
    fn pitches_with_octave_marks() {
        let pitch = |text| Scan::new(text).pitch();
        assert_eq!(pitch("C,"), Some((0, -1)));
        // ABC 2.1, 4.1: `C,',` is `C,` and `C'` is `c`.
        assert_eq!(pitch("C,',"), pitch("C,"));
        assert_eq!(pitch("C'"), pitch("c"));
        assert_eq!(pitch("b'"), Some((6, 2)));
        assert_eq!(pitch("H"), None);
    }
}
