//! `figwort manners` and `figwort figures`: what there is to play with.

use figwort_preset::Entry;

use crate::args::Listing;
use crate::failure::Outcome;
use crate::{presets, print};

/// Lists the manners, or prints one's file.
pub(crate) fn manners(listing: &Listing) -> Outcome<()> {
    let library = presets::library(listing.presets.as_deref())?;
    if let Some(name) = &listing.show {
        library.manner(name)?;
        return show(library.manners(), name);
    }
    list(library.manners(), |_| String::new())
}

/// Lists the figures, each with its family and metres, or prints one's file.
pub(crate) fn figures(listing: &Listing) -> Outcome<()> {
    let library = presets::library(listing.presets.as_deref())?;
    if let Some(name) = &listing.show {
        library.figure(name)?;
        return show(library.figures(), name);
    }
    list(library.figures(), |name| {
        let Ok(figure) = library.figure(name) else { return String::new() };
        let metres: Vec<String> = figure
            .patterns
            .iter()
            .filter(|pattern| !pattern.lent)
            .map(|pattern| format!("{}/{}", pattern.metre.numerator(), pattern.metre.denominator()))
            .collect();
        format!(" [{}; {}]", figure.family.name(), metres.join(" "))
    })
}

fn show<'a>(mut entries: impl Iterator<Item = Entry<'a>>, name: &str) -> Outcome<()> {
    match entries.find(|entry| entry.name == name) {
        Some(entry) => print(entry.text),
        None => Ok(()),
    }
}

fn list<'a>(entries: impl Iterator<Item = Entry<'a>>, more: impl Fn(&str) -> String) -> Outcome<()> {
    let entries: Vec<Entry<'_>> = entries.collect();
    let width = entries.iter().map(|entry| entry.name.chars().count()).max().unwrap_or(0);
    let lines: String = entries
        .iter()
        .map(|entry| format!("{:width$}  {}{}\n", entry.name, entry.about, more(entry.name)))
        .collect();
    print(&lines)
}
