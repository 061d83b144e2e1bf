//! Standard MIDI Files as lead sheets.
//!
//! - **Melody**: the track whose name says so (melody, lead, vocal …); else, of the tracks and channels that
//!   mostly play one note at a time, the one with the highest average pitch; else the highest of all. Of notes
//!   that sound together the highest is kept. Channel 10 (drums) is left aside. A file of nothing but slow block
//!   chords has no melody.
//! - **Chords**: markers, texts, cue points or lyrics, whichever holds the most chord symbols and mostly those;
//!   else the chords that another track plays, in blocks or broken, named from their notes; a track below it that plays
//!   one note at a time says which of their tones is the bass.
//! - **Bars**: from the time signatures. A first time signature of one bar, shorter than the next, is a
//!   pick-up.
//!
//! Deliberately absent: quantising (a file played freely stays so), and guessing a metre or pick-up that the
//! file does not state.

mod bars;
mod broken;
mod chunks;
pub(crate) mod file;
mod harmony;
mod melody;

use figwort_theory::{Key, Moment};

use crate::{Sheet, SheetError, limits};

/// Reads a lead sheet from the bytes of a Standard MIDI File of type 0 or 1.
///
/// # Errors
/// [`SheetError`] where the bytes are no such file, hold no notes and no chord symbols, or exceed a limit.
pub fn read_sheet(bytes: &[u8]) -> Result<Sheet, SheetError> {
    read_chosen(bytes, None)
}

/// The same with the choice of the melody's track.
pub(crate) fn read_chosen(bytes: &[u8], melody: Option<&str>) -> Result<Sheet, SheetError> {
    let mut file = file::read(bytes)?;
    let key = file.keys.first().map_or_else(Key::default, |(_, key)| *key);
    let track = match melody {
        Some(wanted) => Some(melody::track(&file, wanted)?),
        None => None,
    };
    let melody_voice = melody::choose(&file, track);
    let melody = melody_voice.map(|voice| melody::read(&file, voice)).unwrap_or_default();
    let (chords, warning) = harmony::read(&file, melody_voice, key);
    if let Some(text) = warning {
        file.warnings.push(None, None, text);
    }
    let last_note = melody.last().map_or(Moment::ZERO, crate::Note::end);
    let end = last_note.max(chords.last().map_or(Moment::ZERO, |chord| chord.at));
    if melody.is_empty() && chords.is_empty() {
        return Err(SheetError::Midi {
            what: "the file holds neither a melody nor chord symbols".into(),
            hint: "give a file with a melody track, and chords as markers or as a track that plays them",
        });
    }
    if melody.len() > limits::MAX_NOTES {
        return Err(SheetError::TooLarge { what: "notes", limit: limits::MAX_NOTES });
    }
    if melody.is_empty() {
        file.warnings.push(None, None, "the file has no melody notes; only its chords are played");
    }
    let bars = bars::read(&file, end)?;
    let end = bars.last().map_or(Moment::ZERO, crate::Bar::end);
    // The name of the first track is the sequence's (Standard MIDI Files 1.0); songs to sing along to have their
    // titles in texts (common practice, no source).
    let sung = file.texts.iter().find_map(|text| text.text.strip_prefix("@T"));
    let title =
        sung.map(|title| title.trim().to_owned()).or_else(|| file.names.first().cloned()).unwrap_or_default();
    file.tempos.retain(|tempo| tempo.at < end);
    Ok(Sheet {
        title,
        composer: None,
        key,
        tempos: file.tempos,
        bars,
        chords,
        melody,
        end,
        page: crate::Page::AsPlayed,
        warnings: file.warnings.into_list(),
    })
}

#[cfg(test)]
mod tests;
