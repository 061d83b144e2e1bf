//! What the standalone remembers: MIDI ports by name and the soundfont, in a small file of the player's settings
//! folder.

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::files::Written;

/// What was in use.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub(super) struct Choices {
    pub(super) input: Option<String>,
    pub(super) output: Option<String>,
    /// Where the soundfont's file is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) soundfont: Option<PathBuf>,
}

fn path() -> Option<PathBuf> {
    Some(dirs::config_dir()?.join("Figwort").join("standalone.json"))
}

impl Choices {
    /// What was remembered; nothing where there is no such file, or none that can be read.
    pub(super) fn read() -> Self {
        path().map_or_else(Self::default, |path| Self::read_from(&path))
    }

    fn read_from(path: &Path) -> Self {
        let text = std::fs::read_to_string(path).ok();
        text.and_then(|text| serde_json::from_str(&text).ok()).unwrap_or_default()
    }

    /// Remembers one thing more, and all the rest as it was.
    ///
    /// # Errors
    /// In words, when it cannot be written.
    pub(super) fn change(change: impl FnOnce(&mut Self)) -> Result<(), String> {
        path().map_or(Ok(()), |path| Self::change_at(&path, change))
    }

    fn change_at(path: &Path, change: impl FnOnce(&mut Self)) -> Result<(), String> {
        let mut choices = Self::read_from(path);
        change(&mut choices);
        let folder = path.parent().unwrap_or(Path::new("."));
        let text = serde_json::to_string_pretty(&choices).map_err(|error| error.to_string())? + "\n";
        let wrong = |what| format!("the choice is not remembered: {}: {what}", folder.display());
        Written::new(text.as_bytes(), folder).and_then(|written| written.over(path.to_owned())).map_err(wrong)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_choice_leaves_the_others() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("Figwort").join("standalone.json");
        Choices::change_at(&path, |choices| choices.input = Some("Stage keys".into())).expect("written");
        Choices::change_at(&path, |choices| choices.soundfont = Some("/fonts/grand.sf2".into()))
            .expect("written");
        let both = Choices {
            input: Some("Stage keys".into()),
            output: None,
            soundfont: Some("/fonts/grand.sf2".into()),
        };
        assert_eq!(Choices::read_from(&path), both);
        assert_eq!(std::fs::read_dir(folder.path().join("Figwort")).expect("there").count(), 1);
        // A file from before soundfonts, one that is damaged, and a folder that cannot be written.
        std::fs::write(&path, "{\"input\":\"Stage keys\",\"output\":null}").expect("written");
        assert_eq!(Choices::read_from(&path), Choices { soundfont: None, ..both });
        std::fs::write(&path, "{").expect("written");
        assert_eq!(Choices::read_from(&path), Choices::default());
        let error = Choices::change_at(&path.join("x.json"), |_| {}).expect_err("a file is no folder");
        assert!(error.contains("is not remembered"), "{error}");
    }
}
