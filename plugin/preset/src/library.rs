//! The library: figures and manners by name.

use std::sync::LazyLock;

use figwort_engine::{Figure, Manner};
use serde::Deserialize;
use toml::Spanned;

use crate::error::{Page, PresetError};
use crate::{factory, figure_file, manner_file, names};

/// The newest format that this version reads; it reads all from 1.
pub const FORMAT: i64 = 2;
/// Longest preset file, in bytes.
pub const MAX_BYTES: usize = 1 << 20;
/// Most figures of a library; the engine numbers them in 16 bits.
pub const MAX_FIGURES: usize = 4096;

/// Figures and manners. Figures keep their numbers for the library's life.
#[derive(Clone, Debug, Default)]
pub struct Library {
    figures: Vec<LoadedFigure>,
    manners: Vec<LoadedManner>,
}

#[derive(Clone, Debug)]
struct LoadedFigure {
    name: String,
    about: String,
    figure: Figure,
    text: String,
}

#[derive(Clone, Debug)]
struct LoadedManner {
    file: String,
    read: manner_file::ReadManner,
    text: String,
}

/// The factory set.
static FACTORY: LazyLock<Library> = LazyLock::new(|| {
    let mut library = Library::empty();
    // The tests read every factory file, so none is ever left out here.
    for (file, text) in factory::FIGURES {
        let added = library.add_figure(file, text);
        debug_assert!(added.is_ok(), "{added:?}");
    }
    for (file, text) in factory::MANNERS {
        let added = library.add_manner(file, text);
        debug_assert!(added.is_ok(), "{added:?}");
    }
    library
});

/// What a listing shows of a figure or manner.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Entry<'a> {
    /// The name.
    pub name: &'a str,
    /// A sentence about it.
    pub about: &'a str,
    /// The file's text.
    pub text: &'a str,
}

/// What a file turned out to be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Added {
    /// A figure of this name.
    Figure(String),
    /// A manner of this name.
    Manner(String),
}

/// A manner with everything that the engine needs to play it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ResolvedManner {
    /// The name.
    pub name: String,
    /// When to use it.
    pub about: String,
    /// The numbers, for [`figwort_engine::Settings::manner`].
    pub manner: Manner,
    /// The figures, in the order of the file, for [`figwort_engine::Block`].
    pub figures: Vec<Figure>,
}

impl Library {
    /// Name of the manner used when nobody chooses one.
    pub const DEFAULT_MANNER: &'static str = "unhurried";

    /// A library with nothing in it.
    pub fn empty() -> Self {
        Self::default()
    }

    /// The factory set. Its files are read once in a process; what is answered is a copy.
    pub fn factory() -> Self {
        FACTORY.clone()
    }

    /// Adds a figure file. A figure of the same name is replaced and keeps its number.
    ///
    /// # Errors
    /// What is wrong with the file; the library is then unchanged.
    pub fn add_figure(&mut self, file: &str, text: &str) -> Result<(), PresetError> {
        self.put_figure(checked_page(file, text)?).map(drop)
    }

    /// Adds a figure from a file whose format was checked; answers its name.
    fn put_figure(&mut self, page: Page<'_>) -> Result<String, PresetError> {
        let figure_file::ReadFigure { name, about, mut figure } = figure_file::read(page)?;
        let place = self.figures.iter().position(|loaded| loaded.name == name);
        let index = place.unwrap_or(self.figures.len());
        if index >= MAX_FIGURES {
            return Err(page.whole(format!("more than {MAX_FIGURES} figures"), "Remove some figure files"));
        }
        figure.id = index as u16;
        let loaded = LoadedFigure { name: name.clone(), about, figure, text: page.text.to_owned() };
        match self.figures.get_mut(index) {
            Some(old) => *old = loaded,
            None => self.figures.push(loaded),
        }
        Ok(name)
    }

    /// Adds a manner file. A manner of the same name is replaced. The figures that it names are looked up
    /// when it is used, so the order of adding is free. Answers the manner's name.
    ///
    /// # Errors
    /// What is wrong with the file; the library is then unchanged.
    pub fn add_manner(&mut self, file: &str, text: &str) -> Result<String, PresetError> {
        self.put_manner(checked_page(file, text)?)
    }

    /// Adds a manner from a file whose format was checked; answers its name.
    fn put_manner(&mut self, page: Page<'_>) -> Result<String, PresetError> {
        let read = manner_file::read(page)?;
        let name = read.name.clone();
        let place = self.manners.iter().position(|loaded| loaded.read.name == name);
        let loaded = LoadedManner { file: page.file.to_owned(), read, text: page.text.to_owned() };
        match place.and_then(|index| self.manners.get_mut(index)) {
            Some(old) => *old = loaded,
            None => self.manners.push(loaded),
        }
        Ok(name)
    }

    /// Adds a file that may be either, told apart by what it holds.
    ///
    /// # Errors
    /// What is wrong with the file; the library is then unchanged.
    pub fn add(&mut self, file: &str, text: &str) -> Result<Added, PresetError> {
        let page = checked_page(file, text)?;
        match kind(page) {
            Some(Kind::Manner) => self.put_manner(page).map(Added::Manner),
            Some(Kind::Figure) => self.put_figure(page).map(Added::Figure),
            None => Err(page.whole("neither a figure nor a manner", EXAMPLES)),
        }
    }

    /// A manner, ready to play.
    ///
    /// # Errors
    /// When there is no manner of that name, or it names a figure that there is not.
    pub fn manner(&self, name: &str) -> Result<ResolvedManner, PresetError> {
        let Some(loaded) = self.manners.iter().find(|loaded| loaded.read.name == name) else {
            return Err(PresetError {
                file: String::new(),
                line: None,
                what: format!("there is no manner \"{name}\""),
                hint: instead(name, self.manners().map(|entry| entry.name)),
            });
        };
        self.resolved(loaded)
    }

    /// A manner with the figures that it names.
    fn resolved(&self, loaded: &LoadedManner) -> Result<ResolvedManner, PresetError> {
        let read = &loaded.read;
        let mut figures = Vec::with_capacity(read.figures.len());
        for (figure, line) in &read.figures {
            match self.figures.iter().find(|loaded| loaded.name == *figure) {
                Some(found) => figures.push(found.figure.clone()),
                None => {
                    return Err(PresetError {
                        file: loaded.file.clone(),
                        line: Some(*line),
                        what: format!("there is no figure \"{figure}\""),
                        hint: instead(figure, self.figures().map(|entry| entry.name)),
                    });
                }
            }
        }
        Ok(ResolvedManner {
            name: read.name.clone(),
            about: read.about.clone(),
            manner: read.manner,
            figures,
        })
    }

    /// The name of a figure by the number that decisions and snapshots carry.
    pub fn figure_name(&self, id: u16) -> Option<&str> {
        self.figures.get(usize::from(id)).map(|loaded| loaded.name.as_str())
    }

    /// The manners, in the order of adding; of the factory set, the default one first.
    pub fn manners(&self) -> impl Iterator<Item = Entry<'_>> {
        self.manners.iter().map(|loaded| Entry {
            name: &loaded.read.name,
            about: &loaded.read.about,
            text: &loaded.text,
        })
    }

    /// The figures, in the order of adding.
    pub fn figures(&self) -> impl Iterator<Item = Entry<'_>> {
        self.figures.iter().map(|loaded| Entry {
            name: &loaded.name,
            about: &loaded.about,
            text: &loaded.text,
        })
    }

    /// A figure by name.
    ///
    /// # Errors
    /// When there is no figure of that name.
    pub fn figure(&self, name: &str) -> Result<&Figure, PresetError> {
        self.figures.iter().find(|loaded| loaded.name == name).map(|loaded| &loaded.figure).ok_or_else(|| {
            PresetError {
                file: String::new(),
                line: None,
                what: format!("there is no figure \"{name}\""),
                hint: instead(name, self.figures().map(|entry| entry.name)),
            }
        })
    }
}

/// Reads a figure or manner file and says what it is; a manner may name factory figures.
///
/// # Errors
/// What is wrong with the file.
pub fn check(file: &str, text: &str) -> Result<Added, PresetError> {
    let mut alone = Library::empty();
    let added = alone.add(file, text)?;
    if let Some(manner) = alone.manners.first() {
        FACTORY.resolved(manner)?;
    }
    Ok(added)
}

/// What to write instead of a name that there is not.
fn instead<'a>(wanted: &str, all: impl Iterator<Item = &'a str>) -> String {
    let all: Vec<&str> = all.collect();
    let near = names::near(wanted, all.iter().copied());
    if !near.is_empty() {
        format!("Did you mean {}?", names::listed(near))
    } else if all.is_empty() {
        "Add its file first".to_owned()
    } else {
        format!("Choose from {}", names::listed(all).replace("\" or \"", "\" and \""))
    }
}

/// What to begin from.
const EXAMPLES: &str =
    "`figwort figures --show rising` and `figwort manners --show unhurried` print examples";

/// The format number, whatever else is in the file, so that files of later formats are told apart from
/// broken ones.
#[derive(Deserialize)]
struct Head {
    format: Option<Spanned<toml::Value>>,
}

/// A file whose size and format are ours.
fn checked_page<'a>(file: &'a str, text: &'a str) -> Result<Page<'a>, PresetError> {
    let page = Page { file, text };
    if text.len() > MAX_BYTES {
        return Err(page.whole("more than 1 MiB, which is no figure or manner", "Check the file's name"));
    }
    if text.trim().is_empty() {
        return Err(page.whole("the file is empty", EXAMPLES));
    }
    let head: Head = toml::from_str(text).map_err(|error| page.toml(&error, EXAMPLES))?;
    let Some(format) = head.format else {
        return Err(page.error(0..0, "the file does not say its format", "Write `format = 2` at its top"));
    };
    match format.get_ref().as_integer() {
        Some(1..=FORMAT) => Ok(page),
        Some(later) if later > FORMAT => Err(page.error(
            format.span(),
            format!("made by a newer Figwort (format {later}, this one reads up to {FORMAT})"),
            "Update Figwort to use this file",
        )),
        _ => Err(page.error(format.span(), "there is no such format", "Write `format = 2`")),
    }
}

/// What a file is that may be either.
enum Kind {
    Figure,
    Manner,
}

/// A manner names figures or has one of its tables, a figure has its own; `None` where neither is so. A file that
/// cannot be read to its end is taken for a figure, whose reader says where it is wrong.
fn kind(page: Page<'_>) -> Option<Kind> {
    let Ok(table) = toml::from_str::<toml::Table>(page.text) else { return Some(Kind::Figure) };
    let has = |keys: &[&str]| keys.iter().any(|key| table.contains_key(*key));
    if has(&["figures", "texture", "voicing", "touch", "weights"]) {
        Some(Kind::Manner)
    } else if has(&["family", "weight", "pattern"]) {
        Some(Kind::Figure)
    } else {
        None
    }
}

#[cfg(test)]
mod tests;
