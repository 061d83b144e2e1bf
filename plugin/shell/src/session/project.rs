//! What of a session is kept in the project, and the player's own manners, of which one may be.

use std::path::Path;
use std::sync::Arc;

use figwort_preset::Library;
use serde::{Deserialize, Serialize};

use super::compare::ComparedTwin;
use super::shelf::{Book, MannerCard, MannerTwin, Shelf};
use super::{Session, lock, shelf};
use crate::manners;
use crate::sheet::SheetTwin;

/// What of a session is kept in the project. Fields are never used for anything else; new ones are optional.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub(crate) struct SessionTwin {
    /// Of this layout; 1 so far. A later version only adds fields.
    version: u32,
    #[serde(skip_serializing_if = "Option::is_none")]
    sheet: Option<SheetTwin>,
    #[serde(skip_serializing_if = "Option::is_none")]
    manner: Option<MannerTwin>,
    /// Where the player's soundfont is.
    #[serde(skip_serializing_if = "Option::is_none")]
    soundfont: Option<String>,
    /// The setting that is compared with the parameters.
    #[serde(skip_serializing_if = "Option::is_none")]
    compared: Option<ComparedTwin>,
    /// What was wrong with the project, on its way to the player; never in a project that is saved.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) complaints: Vec<String>,
}

/// The present layout of [`SessionTwin`].
const VERSION: u32 = 1;

/// A manner of the player's own that is in use.
pub(super) struct OwnManner {
    twin: MannerTwin,
    /// Knows its figures by number.
    library: Library,
}

impl Session {
    /// What the project keeps.
    pub(crate) fn twin(&self) -> SessionTwin {
        let sheet = self.sheet().map(|loaded| SheetTwin::of(&loaded));
        let manner = lock(&self.manner).as_ref().map(|own| own.twin.clone());
        // A name that is no text cannot be kept.
        let soundfont = self.soundfont().and_then(|path| path.into_os_string().into_string().ok());
        SessionTwin {
            version: VERSION,
            sheet,
            manner,
            soundfont,
            compared: self.compared_twin(),
            complaints: Vec::new(),
        }
    }

    /// Becomes what a project kept. What cannot be read is left out with a message.
    pub(crate) fn restore(self: &Arc<Self>, twin: SessionTwin) {
        lock(&self.messages).extend(twin.complaints);
        if let Err(error) = self.use_manner(twin.manner) {
            self.say(error);
        }
        self.restore_compared(twin.compared);
        self.restore_soundfont(twin.soundfont.as_deref());
        match twin.sheet.map(|sheet| sheet.load()) {
            Some(Ok(loaded)) => {
                self.put(loaded);
            }
            None => self.clear_sheet(),
            Some(Err(error)) => {
                self.clear_sheet();
                self.say(error);
            }
        }
    }

    /// The manners to choose from: the factory's, which the parameter `manner` numbers in this order, then the
    /// player's own as they were read last.
    pub fn manners(&self) -> Vec<MannerCard> {
        lock(&self.shelf).cards()
    }

    /// Reads the player's folder for manners anew; what is wrong with its files, in words.
    pub fn reload_manners(&self) -> Vec<String> {
        shelf::folder().map_or_else(Vec::new, |folder| self.reload_manners_from(&folder))
    }

    /// Reads manners from a folder instead of the player's own.
    pub fn reload_manners_from(&self, folder: &Path) -> Vec<String> {
        let (shelf, problems) = Shelf::read(folder);
        *lock(&self.shelf) = shelf;
        problems
    }

    /// Plays in a manner of the player's own, or (`None`) in the one that the parameter names.
    ///
    /// # Errors
    /// In words, when there is none of this name; then nothing changes.
    pub fn choose_manner(&self, name: Option<&str>) -> Result<(), String> {
        let twin = match name {
            Some(name) => Some(lock(&self.shelf).twin(name)?),
            None => None,
        };
        self.use_manner(twin)
    }

    /// The manner of the player's own in use; `None` while the parameter names it.
    pub fn own_manner(&self) -> Option<String> {
        lock(&self.manner).as_ref().map(|own| own.twin.name.clone())
    }

    /// The name of a figure by the number in a snapshot or decision.
    pub fn figure_name(&self, id: u16) -> Option<String> {
        match lock(&self.manner).as_ref() {
            Some(own) => own.library.figure_name(id).map(str::to_owned),
            None => manners::figure_name(id).map(str::to_owned),
        }
    }

    fn use_manner(&self, twin: Option<MannerTwin>) -> Result<(), String> {
        let mut manner = lock(&self.manner);
        let Some(twin) = twin else {
            if manner.take().is_some() {
                self.book.offer(None);
            }
            return Ok(());
        };
        let (found, library) = twin.read()?;
        self.book.offer(Some(Box::new(Book { manner: found.manner, figures: found.figures })));
        *manner = Some(OwnManner { twin, library });
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TUNE: &[u8] = b"X:1\nT:Three\nM:4/4\nL:1/4\nK:C\n\"C\"CDEF|\"G\"G4|]\n";

    #[test]
    fn a_project_brings_back_sheet_and_manner() {
        let folder = tempfile::tempdir().expect("a folder");
        let library = Library::factory();
        let entry = library.manners().next().expect("a manner");
        let text = entry.text.replace(&format!("name = \"{}\"", entry.name), "name = \"my own\"");
        std::fs::write(folder.path().join("mine.toml"), text).expect("written");
        let session = Session::new();
        assert_eq!(session.reload_manners_from(folder.path()), [""; 0]);
        session.choose_manner(Some("my own")).expect("a manner");
        assert!(session.choose_manner(Some("nobody's")).is_err());
        session.load_sheet_bytes("three.abc", TUNE, None).expect("a sheet");
        let json = serde_json::to_string(&session.twin()).expect("JSON");
        let other = Arc::new(Session::new());
        other.restore(serde_json::from_str(&json).expect("the same"));
        assert_eq!(other.twin(), session.twin());
        assert_eq!(other.own_manner().as_deref(), Some("my own"));
        assert_eq!(other.sheet().expect("a sheet").title(), "Three");
        let mut held = None;
        assert!(other.book.take(&mut held) && held.is_some());
        // An older project has neither, and takes both away.
        other.restore(SessionTwin::default());
        assert!(other.sheet().is_none() && other.own_manner().is_none());
        assert!(other.book.take(&mut held) && held.is_none());
        assert_eq!(other.messages(), [""; 0]);
    }
}
