//! Why a command did not do what it was asked to.

use std::fmt;
use std::path::Path;

use figwort_preset::PresetError;

/// A command's result.
pub(crate) type Outcome<T> = Result<T, Failure>;

/// What went wrong, in one message that names the file and says what to do.
#[derive(Debug)]
pub(crate) enum Failure {
    /// It could not be done.
    CouldNot(String),
    /// It was asked for in a way that makes no sense.
    Misuse(String),
}

impl Failure {
    /// It could not be done; an empty message where everything has been said.
    pub(crate) fn could_not(message: impl Into<String>) -> Self {
        Self::CouldNot(message.into())
    }

    /// A file, what is wrong with it, what to do.
    pub(crate) fn file(path: &Path, message: impl fmt::Display) -> Self {
        Self::CouldNot(format!("{}: {message}", path.display()))
    }

    /// Options that contradict one another.
    pub(crate) fn misuse(message: impl Into<String>) -> Self {
        Self::Misuse(message.into())
    }

    /// 1 could not, 2 misuse.
    pub(crate) fn exit_code(&self) -> u8 {
        match self {
            Self::CouldNot(_) => 1,
            Self::Misuse(_) => 2,
        }
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::CouldNot(message) => f.write_str(message),
            Self::Misuse(message) => write!(f, "{message}\n\nFor more information, try '--help'."),
        }
    }
}

impl From<PresetError> for Failure {
    fn from(error: PresetError) -> Self {
        Self::CouldNot(error.to_string())
    }
}
