//! What of a session is kept in the project, and the player's own manners, of which one may be.
//!
//! What a project holds and this version cannot use (a later version's, or damaged) is complained of and kept as it is, so
//! that saving the project loses nothing.

use std::path::Path;
use std::sync::Arc;

use figwort_preset::Library;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

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
    /// Parts that cannot be used, by their names.
    #[serde(skip_serializing_if = "Map::is_empty")]
    unread: Unread,
    /// What was wrong with the project, on its way to the player; never in a project that is saved.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) complaints: Vec<String>,
}

/// Parts of a project by their names.
pub(super) type Unread = Map<String, Value>;

/// The present layout of [`SessionTwin`].
const VERSION: u32 = 1;

/// The parts' names.
pub(super) const SHEET: &str = "sheet";
const MANNER: &str = "manner";
const SOUNDFONT: &str = "soundfont";
const COMPARED: &str = "compared";

impl SessionTwin {
    /// Reads what a project kept, part by part; what cannot be read is left with complaints.
    pub(crate) fn read(text: &str) -> Self {
        let mut whole: Unread = match serde_json::from_str(text) {
            Ok(whole) => whole,
            Err(error) => {
                let complaint = format!(
                    "The sheet and what else was kept in the project are damaged and left out ({error}); load the sheet \
                     again"
                );
                return Self { complaints: vec![complaint], ..Self::default() };
            }
        };
        // What another version could not use may be usable here.
        if let Some(Value::Object(unread)) = whole.remove("unread") {
            for (name, part) in unread {
                whole.entry(name).or_insert(part);
            }
        }
        whole.remove("version");
        whole.remove("complaints");
        whole.retain(|_, part| !part.is_null());
        let mut twin = Self { version: VERSION, ..Self::default() };
        twin.sheet = twin.part(&mut whole, SHEET, "The sheet");
        twin.manner = twin.part(&mut whole, MANNER, "The player's own manner");
        twin.soundfont = twin.part(&mut whole, SOUNDFONT, "The soundfont's place");
        twin.compared = twin.part(&mut whole, COMPARED, "The second setting");
        twin.unread = whole;
        twin
    }

    /// Takes a part out; one that cannot be read stays, with a complaint.
    fn part<T: DeserializeOwned>(&mut self, whole: &mut Unread, name: &str, words: &str) -> Option<T> {
        match T::deserialize(whole.get(name)?) {
            Ok(part) => {
                whole.remove(name);
                Some(part)
            }
            Err(error) => {
                self.complaints.push(format!(
                    "{words} in the project is damaged or a later version's and left out ({error}); choose it again, or \
                     open the project in the version that saved it. The project keeps it until then"
                ));
                None
            }
        }
    }
}

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
        let compared = self.compared_twin();
        let mut unread = lock(&self.unread).clone();
        let used = [(SHEET, sheet.is_some()), (MANNER, manner.is_some())];
        let more = [(SOUNDFONT, soundfont.is_some()), (COMPARED, compared.is_some())];
        for (name, _) in used.into_iter().chain(more).filter(|(_, used)| *used) {
            unread.remove(name);
        }
        SessionTwin { version: VERSION, sheet, manner, soundfont, compared, unread, complaints: Vec::new() }
    }

    /// Keeps a part no longer that could not be used.
    pub(super) fn forget_unread(&self, name: &str) {
        lock(&self.unread).remove(name);
    }

    /// A part that could not be used, which the project keeps.
    fn keep_unread(&self, name: &str, part: &impl Serialize) {
        if let Ok(part) = serde_json::to_value(part) {
            lock(&self.unread).insert(name.to_owned(), part);
        }
    }

    /// Becomes what a project kept. What cannot be read is left out with a message.
    pub(crate) fn restore(self: &Arc<Self>, twin: SessionTwin) {
        self.say_all(twin.complaints);
        *lock(&self.unread) = twin.unread;
        if let Err(error) = self.use_manner(twin.manner.clone()) {
            self.put_manner_away();
            self.keep_unread(MANNER, &twin.manner);
            self.say(format!(
                "{error}. Until you choose another, that of the list plays; the project keeps it"
            ));
        }
        self.restore_compared(twin.compared);
        self.restore_soundfont(twin.soundfont.as_deref());
        match twin.sheet.as_ref().map(|sheet| sheet.load()) {
            Some(Ok(loaded)) => {
                self.put(loaded);
            }
            None => self.put_sheet_away(),
            Some(Err(error)) => {
                self.put_sheet_away();
                self.keep_unread(SHEET, &twin.sheet);
                self.say(format!("{error}. The project keeps it until another sheet is opened"));
            }
        }
    }

    /// The manners to choose from: the factory's, which the parameter `manner` numbers in this order, then the
    /// player's own as they were read last.
    pub fn manners(&self) -> Vec<MannerCard> {
        lock(&self.shelf).cards()
    }

    /// Reads the player's folder for manners anew. Answers in words: what is wrong with its files, and what was found
    /// or why there is nothing.
    pub fn reload_manners(&self) -> Vec<String> {
        match shelf::folder() {
            Some(folder) => self.reload_manners_from(&folder),
            None => vec![
                "there is no folder for documents and no home on this machine, so manners of your own have no place"
                    .into(),
            ],
        }
    }

    /// Reads manners from a folder instead of the player's own.
    pub fn reload_manners_from(&self, folder: &Path) -> Vec<String> {
        let (shelf, mut words) = Shelf::read(folder);
        words.extend(shelf.found(folder, !words.is_empty()));
        *lock(&self.shelf) = shelf;
        words
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
        self.use_manner(twin)?;
        self.forget_unread(MANNER);
        Ok(())
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
        let Some(twin) = twin else {
            self.put_manner_away();
            return Ok(());
        };
        let (found, library) = twin.read()?;
        let mut manner = lock(&self.manner);
        // Under the lock, so that two choices arrive in one order on both sides.
        self.book.offer(Some(Box::new(Book { manner: found.manner, figures: found.figures })));
        *manner = Some(OwnManner { twin, library });
        Ok(())
    }

    fn put_manner_away(&self) {
        let mut manner = lock(&self.manner);
        if manner.take().is_some() {
            self.book.offer(None);
        }
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
        let words = session.reload_manners_from(folder.path());
        assert_eq!(words, [format!("1 manner of yours, from {}", folder.path().display())]);
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

    /// A damaged part takes nothing else with it, and what cannot be used is saved again as it was.
    #[test]
    fn what_cannot_be_read_is_kept() {
        let folder = tempfile::tempdir().expect("a folder");
        let place = folder.path().join("grand.sf2").display().to_string();
        let text = serde_json::json!({
            "version": 2,
            "sheet": { "file": "later.abc", "scroll": "in a form of next year" },
            "manner": { "name": "mine", "text": "format = 99", "figures": [] },
            "soundfont": place,
            "weather": [1, 2],
        });
        let twin = SessionTwin::read(&text.to_string());
        assert!(twin.complaints.len() == 1 && twin.complaints[0].starts_with("The sheet "), "{twin:?}");
        let session = Arc::new(Session::new());
        session.load_sheet_bytes("three.abc", TUNE, None).expect("a sheet of another project");
        session.restore(twin);
        assert!(session.sheet().is_none() && session.own_manner().is_none());
        assert!(session.wait_for_soundfont(std::time::Duration::from_secs(60)));
        let said = session.messages();
        assert!(
            said.iter().any(|line| line.contains("The manner mine") && line.contains("keeps it")),
            "{said:?}"
        );
        let saved: Value = serde_json::to_value(session.twin()).expect("JSON");
        assert_eq!(saved["soundfont"], text["soundfont"]);
        for part in ["sheet", "manner", "weather"] {
            assert_eq!(saved["unread"][part], text[part], "{part}");
        }
        // Where they can be read, they are read again, and the same ones are kept as before.
        let again = Arc::new(Session::new());
        again.restore(SessionTwin::read(&saved.to_string()));
        assert_eq!(serde_json::to_value(again.twin()).expect("JSON"), saved);
        // What the player chooses instead takes their place.
        session.load_sheet_bytes("three.abc", TUNE, None).expect("a sheet");
        session.choose_manner(None).expect("the list's");
        let saved = serde_json::to_value(session.twin()).expect("JSON");
        assert_eq!(saved["unread"], serde_json::json!({ "weather": [1, 2] }));
        session.clear_sheet();
        assert_eq!(serde_json::to_value(session.twin()).expect("JSON")["unread"], saved["unread"]);
    }

    /// Whatever stands in a project, what is saved of it is read again as the same, and complained of no more than before.
    #[test]
    fn what_is_saved_is_read_as_the_same() {
        let odd = [
            "",
            "[]",
            "{}",
            r#"{"version":"x","complaints":["forged"]}"#,
            r#"{"sheet":null,"manner":null,"soundfont":null,"compared":null,"unread":null}"#,
            r#"{"unread":7,"sheet":{}}"#,
            // Found by fuzzing: a number that is not exact.
            r#"{"sheet":{"file":5555555555555555555555555555555555555555555555555555555555555555555555555555555555555555555555555,"text":"X:1"}}"#,
            r#"{"unread":{"unread":{"sheet":1},"version":9,"complaints":3,"later":[null]}}"#,
            r#"{"unread":{"sheet":{"file":"a.abc","text":"Dear Anna"}},"sheet":[]}"#,
            r#"{"soundfont":5,"compared":{"second":true},"manner":"mine"}"#,
            r#"{"sheet":{"file":"a.mid","base64":"!"},"manner":{"name":"","text":"","figures":[""]}}"#,
        ];
        for text in odd {
            let load = |text: &str| {
                let session = Arc::new(Session::new());
                session.restore(SessionTwin::read(text));
                let said = session.messages();
                assert!(
                    said.iter().all(|line| line.len() > 20 && !line.contains("forged")),
                    "{text}: {said:?}"
                );
                (serde_json::to_string(&session.twin()).expect("JSON"), said.len())
            };
            let (saved, said) = load(text);
            let (again, said_again) = load(&saved);
            assert_eq!(again, saved, "{text}");
            assert!(said_again <= said, "{text}");
        }
    }

    /// The manner of one project is not played in another, whose own cannot be used.
    #[test]
    fn a_manner_that_cannot_be_used_leaves_no_other() {
        let folder = tempfile::tempdir().expect("a folder");
        let library = Library::factory();
        let entry = library.manners().next().expect("a manner");
        let text = entry.text.replace(&format!("name = \"{}\"", entry.name), "name = \"my own\"");
        std::fs::write(folder.path().join("mine.toml"), text).expect("written");
        let session = Arc::new(Session::new());
        session.reload_manners_from(folder.path());
        session.choose_manner(Some("my own")).expect("a manner");
        let mut held = None;
        assert!(session.book.take(&mut held) && held.is_some());
        session.restore(SessionTwin::read(r#"{"manner":{"name":"theirs","text":"nonsense","figures":[]}}"#));
        assert_eq!(session.own_manner(), None);
        assert!(session.book.take(&mut held) && held.is_none());
        assert!(!serde_json::to_string(&session.twin()).expect("JSON").contains("my own"));
    }
}
