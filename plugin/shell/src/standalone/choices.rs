//! What the standalone remembers: the MIDI ports by name, in a small file of the player's settings folder.

use std::path::PathBuf;

use serde::{Deserialize, Serialize};

use crate::files::Written;

/// The ports in use.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub(super) struct Choices {
    pub(super) input: Option<String>,
    pub(super) output: Option<String>,
}

impl Choices {
    fn path() -> Option<PathBuf> {
        Some(dirs::config_dir()?.join("Figwort").join("standalone.json"))
    }

    /// What was remembered; nothing where there is no such file, or none that can be read.
    pub(super) fn read() -> Self {
        let text = Self::path().and_then(|path| std::fs::read_to_string(path).ok());
        text.and_then(|text| serde_json::from_str(&text).ok()).unwrap_or_default()
    }

    /// Remembers.
    ///
    /// # Errors
    /// In words, when it cannot be written.
    pub(super) fn write(&self) -> Result<(), String> {
        let Some(path) = Self::path() else { return Ok(()) };
        let Some(folder) = path.parent() else { return Ok(()) };
        let text = serde_json::to_string_pretty(self).map_err(|error| error.to_string())? + "\n";
        let wrong = |what| format!("{}: {what}", folder.display());
        Written::new(text.as_bytes(), folder).and_then(|written| written.over(path.clone())).map_err(wrong)
    }
}
