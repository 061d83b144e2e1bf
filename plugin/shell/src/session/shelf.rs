//! The player's own manners: TOML files in a folder, beside the factory's.
//!
//! A manner that is chosen is kept in the project with the figures that it uses, so that the project plays the
//! same on a machine without the files. Not for the audio thread.

use std::path::{Path, PathBuf};

use figwort_engine::{Figure, Manner};
use figwort_preset::library::MAX_BYTES;
use figwort_preset::{Library, ResolvedManner};
use serde::{Deserialize, Serialize};

use crate::{files, manners};

/// Most files that are read from the folder.
const MOST: usize = 1_000;

/// A manner in the list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MannerCard {
    /// Its name.
    pub name: String,
    /// When to use it.
    pub about: String,
    /// Whether it is the player's own.
    pub own: bool,
}

/// A manner as the audio thread plays it.
#[derive(Debug)]
pub(crate) struct Book {
    pub(crate) manner: Manner,
    pub(crate) figures: Vec<Figure>,
}

/// A manner in a project: the files' texts.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct MannerTwin {
    pub(crate) name: String,
    text: String,
    figures: Vec<String>,
}

impl MannerTwin {
    /// What it holds, and the library that knows its figures' names.
    pub(crate) fn read(&self) -> Result<(ResolvedManner, Library), String> {
        let wrong = |error: figwort_preset::PresetError| {
            format!("The manner {} that the project keeps cannot be used: {error}", self.name)
        };
        let mut library = Library::factory();
        for figure in &self.figures {
            library.add_figure("the project", figure).map_err(wrong)?;
        }
        library.add_manner("the project", &self.text).map_err(wrong)?;
        let found = library.manner(&self.name).map_err(wrong)?;
        Ok((found, library))
    }
}

/// The manners there are.
#[derive(Debug)]
pub(crate) struct Shelf {
    /// With the player's own; `None` while there are none, as the factory's are shared by all instances and not
    /// small.
    extended: Option<Library>,
    own: Vec<String>,
}

impl Shelf {
    /// The factory's manners alone.
    pub(crate) fn new() -> Self {
        Self { extended: None, own: Vec::new() }
    }

    fn library(&self) -> &Library {
        self.extended.as_ref().unwrap_or_else(|| manners::library())
    }

    /// The factory's and a folder's, with what is wrong with its files. A folder that is not there is empty.
    pub(crate) fn read(folder: &Path) -> (Self, Vec<String>) {
        let mut shelf = Self::new();
        let mut problems = Vec::new();
        let listed = std::fs::read_dir(folder);
        if let Err(error) = &listed
            && error.kind() != std::io::ErrorKind::NotFound
        {
            let advice = "make it a folder that you may read";
            problems.push(format!(
                "{}: your own manners cannot be looked for ({error}); {advice}",
                folder.display()
            ));
        }
        let mut files: Vec<PathBuf> = listed
            .into_iter()
            .flatten()
            .filter_map(|entry| Some(entry.ok()?.path()))
            .filter(|path| path.extension().is_some_and(|extension| extension == "toml"))
            .collect();
        files.sort();
        if files.len() > MOST {
            problems.push(format!("{}: only the first {MOST} files are read", folder.display()));
            files.truncate(MOST);
        }
        if files.is_empty() {
            return (shelf, problems);
        }
        let mut library = Library::factory();
        for path in files {
            let name = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
            match read_text(&path) {
                Ok(text) => match library.add(&name, &text) {
                    Ok(figwort_preset::Added::Manner(manner)) => shelf.own.push(manner),
                    Ok(figwort_preset::Added::Figure(_)) => {}
                    Err(error) => problems.push(error.to_string()),
                },
                Err(error) => problems.push(format!("{name}: {error}")),
            }
        }
        // Figures may come after the manners that name them, so this is known only now.
        shelf.own.retain(|name| match library.manner(name) {
            Ok(_) => true,
            Err(error) => {
                problems.push(error.to_string());
                false
            }
        });
        shelf.extended = Some(library);
        (shelf, problems)
    }

    /// What reading a folder brought, in words. Where nothing was found and it is `known` already why, nothing.
    pub(crate) fn found(&self, folder: &Path, known: bool) -> Option<String> {
        let place = folder.display();
        match self.own.len() {
            1 => Some(format!("1 manner of yours, from {place}")),
            2.. => Some(format!("{} manners of yours, from {place}", self.own.len())),
            0 if known => None,
            0 if folder.is_dir() => {
                Some(format!("there is no manner in {place}; put one there, as a file that ends in .toml"))
            }
            0 => Some(format!(
                "there is no folder {place}; make it and put manners there, files that end in .toml"
            )),
        }
    }

    /// The list: the factory's in their order, then the player's own.
    pub(crate) fn cards(&self) -> Vec<MannerCard> {
        let card = |entry: figwort_preset::Entry<'_>| MannerCard {
            name: entry.name.to_owned(),
            about: entry.about.to_owned(),
            own: self.own.iter().any(|own| own == entry.name),
        };
        let (own, factory): (Vec<_>, Vec<_>) = self.library().manners().map(card).partition(|card| card.own);
        factory.into_iter().chain(own).collect()
    }

    /// A manner of the player's own with its texts.
    pub(crate) fn twin(&self, name: &str) -> Result<MannerTwin, String> {
        let library = self.library();
        let found = library.manner(name).map_err(|error| error.to_string())?;
        let entry = library.manners().find(|entry| entry.name == name);
        let text = entry.map_or_else(String::new, |entry| entry.text.to_owned());
        let texts = found.figures.iter().filter_map(|figure| {
            let name = library.figure_name(figure.id)?;
            library.figures().find(|entry| entry.name == name).map(|entry| entry.text.to_owned())
        });
        Ok(MannerTwin { name: name.to_owned(), text, figures: texts.collect() })
    }
}

fn read_text(path: &Path) -> Result<String, String> {
    let bytes = files::read(path, MAX_BYTES as u64, "only figures and manners belong here")?;
    String::from_utf8(bytes).map_err(|_| "is no text; only figures and manners belong here".into())
}

/// The player's folder for manners: `Figwort/Manners` in documents, else at home.
pub fn folder() -> Option<PathBuf> {
    let base = dirs::document_dir().or_else(dirs::home_dir)?;
    Some(base.join("Figwort").join("Manners"))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A factory manner under another name.
    fn own_text() -> String {
        let library = Library::factory();
        let entry = library.manners().next().expect("a manner");
        let line = format!("name = \"{}\"", entry.name);
        assert!(entry.text.contains(&line), "{}", entry.text);
        entry.text.replace(&line, "name = \"my own\"")
    }

    #[test]
    fn a_folder_adds_manners_and_says_what_is_wrong() {
        let folder = tempfile::tempdir().expect("a folder");
        let put = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).expect("written");
        put("mine.toml", &own_text());
        put("broken.toml", "format = 1\nname = ");
        put("letter.txt", "not looked at");
        let (shelf, problems) = Shelf::read(folder.path());
        assert_eq!(problems.len(), 1, "{problems:?}");
        assert!(problems[0].starts_with("broken.toml"), "{problems:?}");
        let cards = shelf.cards();
        let last = cards.last().expect("cards");
        assert!(last.own && last.name == "my own");
        assert_eq!(cards.iter().filter(|card| card.own).count(), 1);
        // What the project keeps is enough without the folder.
        let twin = shelf.twin("my own").expect("a twin");
        let json = serde_json::to_string(&twin).expect("JSON");
        let back: MannerTwin = serde_json::from_str(&json).expect("the same");
        let (found, _) = back.read().expect("a manner");
        let there = Library::factory().manner(Library::DEFAULT_MANNER).expect("a manner");
        assert_eq!(found.manner, there.manner);
        assert_eq!(found.figures.len(), there.figures.len());
        let damaged = MannerTwin { text: "nonsense".into(), ..back };
        assert!(damaged.read().expect_err("damaged").contains("my own"));
    }

    /// A folder with all kinds of things in it: each `.toml` that is no preset is named, the rest is used.
    #[test]
    fn a_folder_with_garbage() {
        let folder = tempfile::tempdir().expect("a folder");
        let place = |name: &str| folder.path().join(name);
        let garbage: [(&str, &[u8]); 5] = [
            ("binary.toml", b"\x89PNG\r\n\x1a\n\0\0"),
            ("empty.toml", b""),
            ("nested.toml", &[b'['; 100_000]),
            ("other.toml", b"[package]\nname = \"a-crate\"\n"),
            ("vast.toml", &[b'#'; MAX_BYTES + 1]),
        ];
        for (name, bytes) in garbage {
            std::fs::write(place(name), bytes).expect("written");
        }
        std::fs::write(place(".DS_Store"), b"\0\0\0\x01Bud1").expect("written");
        std::fs::write(place("mine.toml"), own_text()).expect("written");
        std::fs::create_dir(place("folder.toml")).expect("made");
        let mut wrong = 6;
        #[cfg(unix)]
        {
            std::os::unix::fs::symlink(place("nowhere"), place("lost.toml")).expect("made");
            // Opening it would wait for ever.
            let made = std::process::Command::new("mkfifo").arg(place("pipe.toml")).status();
            assert!(made.expect("mkfifo").success());
            wrong += 2;
        }
        let (shelf, problems) = Shelf::read(folder.path());
        assert_eq!(problems.len(), wrong, "{problems:?}");
        for problem in &problems {
            let named = problem.split(':').next().and_then(|place| place.split(',').next());
            assert!(named.is_some_and(|name| name.ends_with(".toml")) && problem.len() < 300, "{problem}");
        }
        assert!(shelf.cards().iter().any(|card| card.own && card.name == "my own"));
    }

    #[test]
    fn what_was_found_is_said() {
        let folder = tempfile::tempdir().expect("a folder");
        let place = folder.path().join("Manners");
        let said = || {
            let (shelf, problems) = Shelf::read(&place);
            shelf.found(&place, !problems.is_empty()).unwrap_or_default()
        };
        assert!(
            said().starts_with(&format!("there is no folder {}; make it", place.display())),
            "{}",
            said()
        );
        std::fs::create_dir(&place).expect("made");
        assert!(
            said().starts_with(&format!("there is no manner in {}; put one", place.display())),
            "{}",
            said()
        );
        std::fs::write(place.join("broken.toml"), "format = 1\nname = ").expect("written");
        assert_eq!(said(), "", "what is wrong is said by itself");
        std::fs::write(place.join("mine.toml"), own_text()).expect("written");
        assert_eq!(said(), format!("1 manner of yours, from {}", place.display()));
        std::fs::write(place.join("other.toml"), own_text().replace("my own", "another")).expect("written");
        assert_eq!(said(), format!("2 manners of yours, from {}", place.display()));
    }

    #[test]
    fn no_folder_is_an_empty_one() {
        let (shelf, problems) = Shelf::read(Path::new("no such folder"));
        assert!(problems.is_empty());
        assert!(shelf.cards().len() > 5 && shelf.cards().iter().all(|card| !card.own));
        assert!(shelf.twin("none of these").is_err());
    }

    /// Not the same as none: the player's manners are there and would be missed without a word.
    #[test]
    fn a_folder_that_cannot_be_read_is_said() {
        let folder = tempfile::tempdir().expect("a folder");
        let place = folder.path().join("Manners");
        std::fs::write(&place, "a file where the folder should be").expect("written");
        let (shelf, problems) = Shelf::read(&place);
        assert!(shelf.cards().len() > 5);
        assert!(problems.len() == 1 && problems[0].contains("cannot be looked for"), "{problems:?}");
    }
}
