//! Performances as sheet music: MusicXML 4.0, bare and compressed.
//!
//! The melody with its chord symbols stands over a piano part on two staves, one for each hand, written so that a
//! pianist can read it at sight. Repeats are written out as they are played, since the accompaniment differs
//! from one time to the next, or kept as signs ([`musicxml_on_page`]). Notes are written as meant, not as touched: give the exact performance
//! ([`Options::notated`]) for the notes, and the one to be heard for pedal, dynamics and spread chords.
//!
//! A part played by hand ([`crate::follow`]) is brought to sixteenths or triplets. Deliberately absent: page
//! layout, fingering, and words.
//!
//! [`Options::notated`]: crate::perform::Options::notated

mod accidentals;
mod bars;
mod beams;
mod clefs;
mod document;
mod harmony;
mod layout;
mod lengths;
mod marks;
mod names;
mod notes;
mod page;
mod pulse;
#[cfg(test)]
mod tests;
mod tuplets;
mod voices;
mod xml;

use std::io::{Cursor, Write};

use figwort_sheet::page::PageBar;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use crate::perform::Performance;

pub(crate) use names::Names;

/// The score's name in a compressed file.
const SCORE: &str = "score.musicxml";

/// The part as MusicXML 4.0. Notes, bars and chord symbols are those of `notated`; pedal, dynamics and spread
/// chords those of `played`, which may be the same.
pub fn musicxml(notated: &Performance, played: &Performance) -> String {
    document::write(&page::Page::new(notated, played), notated, &[])
}

/// The same with the repeat signs of the page that the sheet was read from: each bar once, the accompaniment as it
/// is played the first time. Played by its signs it is as long as the performance, with the same melody and
/// chords.
pub fn musicxml_on_page(notated: &Performance, played: &Performance, page: &[PageBar]) -> String {
    let (notated, played) = (notated.on_page(page), played.on_page(page));
    document::write(&page::Page::new(&notated, &played), &notated, page)
}

/// A score compressed (.mxl). Empty where it cannot be packed, which takes gigabytes.
pub fn mxl(score: &str) -> Vec<u8> {
    pack(score).unwrap_or_default()
}

fn pack(score: &str) -> zip::result::ZipResult<Vec<u8>> {
    let mut container = xml::Xml::new("");
    container.open("container", &[]);
    container.open("rootfiles", &[]);
    container
        .empty("rootfile", &[("full-path", SCORE), ("media-type", "application/vnd.recordare.musicxml+xml")]);
    container.close("rootfiles");
    container.close("container");
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    // No time of writing: the same part gives the same bytes.
    let plain = SimpleFileOptions::default().last_modified_time(zip::DateTime::default());
    archive.start_file("mimetype", plain.compression_method(CompressionMethod::Stored))?;
    archive.write_all(b"application/vnd.recordare.musicxml")?;
    let packed = plain.compression_method(CompressionMethod::Deflated);
    archive.start_file("META-INF/container.xml", packed)?;
    archive.write_all(container.finish().as_bytes())?;
    archive.start_file(SCORE, packed)?;
    archive.write_all(score.as_bytes())?;
    Ok(archive.finish()?.into_inner())
}
