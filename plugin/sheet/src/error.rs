//! Why bytes are not a sheet or a take.

/// What could not be read, why, and what to do about it. The file's name is the caller's to add.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum SheetError {
    /// No bytes, or nothing but white space.
    #[error("the file is empty; give a file with a tune in it")]
    Empty,
    /// More of something than any real sheet has.
    #[error(
        "more than {limit} {what}; this is larger than any sheet, so check that it is the right file, or split it"
    )]
    TooLarge {
        /// What there is too much of, as a plural.
        what: &'static str,
        /// How many are allowed.
        limit: usize,
    },
    /// Bytes of another kind.
    #[error("not a lead sheet but {what}; {hint}")]
    NotASheet {
        /// What it is.
        what: &'static str,
        /// What to do.
        hint: &'static str,
    },
    /// ABC that cannot be read.
    #[error("line {line}: {what}; {hint}")]
    Abc {
        /// Line in the file, from 1.
        line: u32,
        /// What is wrong.
        what: String,
        /// What to do.
        hint: &'static str,
    },
    /// MusicXML that cannot be read.
    #[error("{what}; {hint}")]
    MusicXml {
        /// What is wrong, with the line where it is known.
        what: String,
        /// What to do.
        hint: &'static str,
    },
    /// A Standard MIDI File that cannot be read.
    #[error("{what}; {hint}")]
    Midi {
        /// What is wrong.
        what: String,
        /// What to do.
        hint: &'static str,
    },
    /// The file has no part, voice or track as asked for.
    #[error("no {kind} \"{wanted}\"; choose {available}")]
    NoSuchLine {
        /// What the format calls it.
        kind: &'static str,
        /// What was asked for.
        wanted: String,
        /// Those there are, as text: numbers, with names where there are any; shortened when there are many.
        available: String,
    },
    /// The ABC file has no tune of the number asked for.
    #[error(
        "no tune with X:{wanted} among {count} in the file (it has {available}); choose one of those numbers"
    )]
    NoTune {
        /// The number asked for.
        wanted: usize,
        /// How many tunes there are.
        count: usize,
        /// The numbers there are, as text, shortened when there are many.
        available: String,
    },
}
