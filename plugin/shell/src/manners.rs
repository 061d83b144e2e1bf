//! The factory manners, read once per process and shared by all instances.
//!
//! A choice is an index into the factory set in its order; projects store the manner's name instead, so the
//! set may grow. After the first use everything here is a plain read, safe on the audio thread. The plugin
//! makes that first use when it is constructed.
//!
//! Deliberately absent: the user's own manner files.

use std::sync::LazyLock;

use figwort_engine::{Figure, Manner};
use figwort_preset::Library;
use nice_plug::prelude::Enum;

/// One manner, ready to play.
#[derive(Debug)]
pub struct Entry {
    /// Its name, which is also its id in projects.
    pub name: String,
    /// When to use it.
    pub about: String,
    /// Its numbers.
    pub manner: Manner,
    /// Its figures.
    pub figures: Vec<Figure>,
}

struct Set {
    library: Library,
    entries: Vec<Entry>,
    names: Vec<&'static str>,
}

static SET: LazyLock<Set> = LazyLock::new(|| {
    let library = Library::factory();
    let mut entries: Vec<Entry> = library
        .manners()
        .filter_map(|listed| library.manner(listed.name).ok())
        .map(|found| Entry {
            name: found.name,
            about: found.about,
            manner: found.manner,
            figures: found.figures,
        })
        .collect();
    // The preset crate's tests read every factory file. Should one fail all the same, a choice of fewer
    // than two is no choice, and the framework divides by their number less one.
    while entries.len() < 2 {
        let name = if entries.is_empty() { "plain" } else { "plain too" };
        entries.push(Entry {
            name: name.into(),
            about: "Chords without figures".into(),
            manner: Manner::default(),
            figures: Vec::new(),
        });
    }
    // The framework wants names that live for ever; this runs once per process.
    let names = entries.iter().map(|entry| &*entry.name.clone().leak()).collect();
    Set { library, entries, names }
});

/// All manners in their fixed order.
pub fn all() -> &'static [Entry] {
    &SET.entries
}

/// The factory's figures and manners with their texts.
pub(crate) fn library() -> &'static Library {
    &SET.library
}

/// The name of a figure by the number in a snapshot.
pub fn figure_name(id: u16) -> Option<&'static str> {
    SET.library.figure_name(id)
}

/// A choice among the factory manners.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MannerChoice(usize);

impl MannerChoice {
    /// The manner that is meant.
    pub fn entry(self) -> &'static Entry {
        // An index from outside may be anything; there are always at least two.
        SET.entries.get(self.0).unwrap_or(&SET.entries[0])
    }
}

impl Default for MannerChoice {
    fn default() -> Self {
        Self(SET.entries.iter().position(|entry| entry.name == Library::DEFAULT_MANNER).unwrap_or(0))
    }
}

impl Enum for MannerChoice {
    fn variants() -> &'static [&'static str] {
        &SET.names
    }

    fn ids() -> Option<&'static [&'static str]> {
        Some(&SET.names)
    }

    fn to_index(self) -> usize {
        self.0
    }

    fn from_index(index: usize) -> Self {
        Self(if index < SET.entries.len() { index } else { 0 })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Automation counts the manners from the first. New ones go at the end of this list, and of the
    /// factory's.
    #[test]
    fn the_order_is_kept() {
        assert_eq!(
            MannerChoice::variants(),
            [
                "unhurried",
                "light-footed",
                "strolling bass",
                "held chords",
                "rippling",
                "cradle song",
                "brisk dance",
                "off the beat",
                "duet",
                "broad",
                "late evening",
            ]
        );
    }

    #[test]
    fn an_impossible_index_is_harmless() {
        assert_eq!(MannerChoice::from_index(999), MannerChoice(0));
        assert_eq!(MannerChoice(999).entry().name, all()[0].name);
    }
}
