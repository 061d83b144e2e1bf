//! MusicXML up to 4.0 (<https://www.w3.org/2021/06/musicxml40/>), plain or compressed (.mxl): one melody of a
//! score with its chord symbols as a sheet.
//!
//! Stages, one module each: archive (`container`) → tags (`element`) → parts and their bars (`score`, `measure`,
//! `attributes`, `direction`, `harmony`, `degree`) → melody and chords (`choose`) → bars as written (`bars`);
//! then, as for every format, whether bars add up, playing order and sheet.
//!
//! Chord symbols that are words over the stave are read where there are no others. Deliberately absent: lyrics,
//! ornaments, dynamics, grace and cue notes (no sound of the melody's), percussion,
//! figured bass, roman numerals and functions, repeat signs for single bars and beats, and anything outside the
//! file: no document type or entity is ever fetched.

mod attributes;
mod bars;
mod choose;
mod container;
mod degree;
mod direction;
mod element;
mod harmony;
mod measure;
mod score;

use figwort_theory::Key;

use crate::build::Heading;
use crate::warnings::Warnings;
use crate::{DEFAULT_TEMPO, Sheet, SheetError, build, choice, complete, limits, order, text};

/// Reads a lead sheet from MusicXML or compressed MusicXML.
///
/// # Errors
/// [`SheetError`] where the bytes are no score, hold no bars, or exceed a limit. A damaged file is read as far
/// as it goes.
pub fn read(bytes: &[u8]) -> Result<Sheet, SheetError> {
    read_chosen(bytes, None)
}

/// The same with the choice of the melody's part.
pub(crate) fn read_chosen(bytes: &[u8], melody: Option<&str>) -> Result<Sheet, SheetError> {
    limits::check_size(bytes)?;
    if bytes.starts_with(b"PK") {
        return read_text(&container::score(bytes)?, melody);
    }
    read_text(bytes, melody)
}

fn read_text(bytes: &[u8], melody: Option<&str>) -> Result<Sheet, SheetError> {
    limits::check_size(bytes)?;
    let mut score = score::read(&text::decode(bytes))?;
    let mut warnings = Warnings::default();
    if let Some(line) = score.damaged {
        let text = "the file is damaged from here on; what stands before is read";
        warnings.push(None, Some(line), text);
    }
    if choose::words_as_chords(&mut score.parts) {
        let text =
            "the chord symbols are words over the stave; they are read, but better entered as chord symbols";
        warnings.push(None, None, text);
    }
    let melody = match melody {
        Some(wanted) => Some(choice::line("part", wanted, &score.names())?),
        None => None,
    };
    let chosen = choose::parts(&score.parts, melody);
    let (bars, marks) = bars::written(&score.parts, chosen, &mut warnings)?;
    if bars.is_empty() {
        return Err(match score.damaged {
            Some(line) => SheetError::MusicXml {
                what: format!("line {line}: the XML is damaged before the first bar"),
                hint: "export the sheet again",
            },
            None => SheetError::MusicXml {
                what: "the score has no bars".into(),
                hint: "give a score with a melody and chord symbols",
            },
        });
    }
    complete::check(&bars, &mut warnings);
    let order = order::order(&bars, &marks, &[], &mut warnings)?;
    let heading = Heading {
        title: score.title(),
        composer: score.composer,
        key: Key::default(),
        tempo: DEFAULT_TEMPO,
        no_chords: "the sheet has no chord symbols, so nothing accompanies its melody; enter them as such, not as text \
                    over the staff",
    };
    build::sheet(heading, &bars, &order, warnings)
}

#[cfg(test)]
mod tests;
