//! Lines, comments and fields.

/// A line of the file.
#[derive(Clone, Copy, Debug)]
pub(super) struct Line<'a> {
    /// From 1.
    pub(super) number: u32,
    /// Without its end.
    pub(super) text: &'a str,
}

/// The lines, whichever of the three line ends is used.
pub(super) fn lines(text: &str) -> Vec<Line<'_>> {
    let mut lines = Vec::new();
    let mut rest = text;
    let mut number = 1;
    while let Some(end) = rest.find(['\n', '\r']) {
        let (line, tail) = rest.split_at(end);
        lines.push(Line { number, text: line });
        rest = tail.strip_prefix("\r\n").or_else(|| tail.get(1..)).unwrap_or("");
        number += 1;
    }
    if !rest.is_empty() {
        lines.push(Line { number, text: rest });
    }
    lines
}

/// The line up to a `%` that is not written `\%`.
pub(super) fn without_comment(line: &str) -> &str {
    let mut escaped = false;
    let end = line.char_indices().find(|(_, c)| {
        let found = *c == '%' && !escaped;
        escaped = *c == '\\' && !escaped;
        found
    });
    end.and_then(|(end, _)| line.get(..end)).unwrap_or(line)
}

/// Blocks of text between `%%begin…` and `%%end…`, which are no music.
#[derive(Default)]
pub(super) struct Blocks {
    inside: bool,
}

impl Blocks {
    /// Whether a line belongs to a block.
    pub(super) fn hold(&mut self, line: &str) -> bool {
        match line.strip_prefix("%%").map(str::trim_start) {
            Some(directive) if directive.starts_with("begin") => {
                self.inside = true;
                true
            }
            Some(directive) if directive.starts_with("end") => {
                self.inside = false;
                true
            }
            _ => self.inside,
        }
    }
}

/// A field line: its letter (`+` for a continued field) and its value.
pub(super) fn field(line: &str) -> Option<(char, &str)> {
    let mut chars = line.chars();
    let letter = chars.next().filter(|c| c.is_ascii_alphabetic() || *c == '+')?;
    (chars.next() == Some(':')).then_some((letter, chars.as_str()))
}

/// A field line in a tune body, where `A:|` is a note and a repeat sign.
pub(super) fn field_in_body(line: &str) -> Option<(char, &str)> {
    let (letter, value) = field(line)?;
    let may_be_music = matches!(letter, 'A'..='G' | 'X'..='Z' | 'a'..='g' | 'x'..='z');
    (!(may_be_music && value.starts_with(['|', ':', ']']))).then_some((letter, value))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn line_ends_of_all_kinds() {
        let numbered: Vec<_> =
            lines("a\nb\r\nc\rd\n\ne").iter().map(|line| (line.number, line.text)).collect();
        assert_eq!(numbered, [(1, "a"), (2, "b"), (3, "c"), (4, "d"), (5, ""), (6, "e")]);
    }

    #[test]
    fn comments_and_fields() {
        assert_eq!(without_comment("AB % two notes"), "AB ");
        assert_eq!(without_comment("T:100\\% mine % theirs"), "T:100\\% mine ");
        assert_eq!(field("K: G"), Some(('K', " G")));
        assert_eq!(field("|:A"), None);
        assert_eq!(field_in_body("A:|"), None);
        assert_eq!(field_in_body("M:3/4"), Some(('M', "3/4")));
        assert_eq!(field_in_body("w:la la"), Some(('w', "la la")));
    }
}
