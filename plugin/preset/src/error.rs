//! What can be wrong with a preset file, said so that its writer can put it right.

use std::fmt;
use std::ops::{Range, RangeInclusive};

use toml::Spanned;

/// A preset that cannot be used.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PresetError {
    /// The file, as its caller named it; empty where no file is concerned.
    pub file: String,
    /// The line, counted from 1; `None` where no single line is at fault.
    pub line: Option<usize>,
    /// What is wrong, without a full stop.
    pub what: String,
    /// What to do about it, without a full stop; may be a question.
    pub hint: String,
}

impl fmt::Display for PresetError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if !self.file.is_empty() {
            f.write_str(&self.file)?;
            if let Some(line) = self.line {
                write!(f, ", line {line}")?;
            }
            f.write_str(": ")?;
        }
        let end = if self.hint.ends_with('?') { "" } else { "." };
        write!(f, "{}. {}{end}", self.what, self.hint)
    }
}

impl std::error::Error for PresetError {}

/// A file being read: turns byte ranges into lines.
#[derive(Clone, Copy)]
pub(crate) struct Page<'a> {
    pub(crate) file: &'a str,
    pub(crate) text: &'a str,
}

impl Page<'_> {
    /// An error about the place that begins at `span`.
    pub(crate) fn error(
        self,
        span: Range<usize>,
        what: impl Into<String>,
        hint: impl Into<String>,
    ) -> PresetError {
        PresetError {
            file: self.file.to_owned(),
            line: Some(self.line(span.start)),
            what: what.into(),
            hint: hint.into(),
        }
    }

    /// An error about the file as a whole.
    pub(crate) fn whole(self, what: impl Into<String>, hint: impl Into<String>) -> PresetError {
        PresetError { file: self.file.to_owned(), line: None, what: what.into(), hint: hint.into() }
    }

    /// The line, counted from 1, of a byte.
    pub(crate) fn line(self, byte: usize) -> usize {
        1 + self.text.bytes().take(byte).filter(|b| *b == b'\n').count()
    }

    /// An error of the TOML reader, in our form. Its message may take several lines; they become one.
    pub(crate) fn toml(self, error: &toml::de::Error, example: &str) -> PresetError {
        let what = error.message().lines().map(str::trim).collect::<Vec<_>>().join(", ");
        let hint = format!("Correct this place; {example}");
        match error.span() {
            Some(span) => self.error(span, what, hint),
            None => self.whole(what, hint),
        }
    }
}

/// What figure and manner files share.
impl Page<'_> {
    /// A name: 1 to 40 characters on one line, with no space at either end.
    pub(crate) fn name(self, text: &Spanned<String>) -> Result<String, PresetError> {
        let name = text.get_ref();
        let fits = (1..=40).contains(&name.chars().count()) && name.trim() == name;
        if fits && !name.chars().any(char::is_control) {
            Ok(name.clone())
        } else {
            Err(self.error(
                text.span(),
                "the name does not fit in a list",
                "Write 1 to 40 characters, with no space at either end",
            ))
        }
    }

    /// A sentence: not empty, at most 300 characters.
    pub(crate) fn about(self, text: &Spanned<String>) -> Result<String, PresetError> {
        let about = text.get_ref().trim();
        if (1..=300).contains(&about.chars().count()) {
            Ok(about.split_whitespace().collect::<Vec<_>>().join(" "))
        } else {
            Err(self.error(text.span(), "`about` is empty or very long", "Write a sentence or two"))
        }
    }

    /// A whole number within its range.
    pub(crate) fn number(
        self,
        value: &Spanned<i64>,
        what: &str,
        range: RangeInclusive<i64>,
    ) -> Result<i64, PresetError> {
        self.in_range(*value.get_ref(), value.span(), what, range)
    }

    /// As [`Page::number`], for a value whose place is known otherwise.
    pub(crate) fn in_range(
        self,
        value: i64,
        span: Range<usize>,
        what: &str,
        range: RangeInclusive<i64>,
    ) -> Result<i64, PresetError> {
        if range.contains(&value) {
            Ok(value)
        } else {
            Err(self.error(
                span,
                format!("{what} is {value}"),
                format!("Write a whole number from {} to {}", range.start(), range.end()),
            ))
        }
    }
}
