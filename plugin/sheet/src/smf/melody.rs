//! Finding the melody among tracks and channels, and reading it as one line.

use std::collections::BTreeMap;

use figwort_theory::{Moment, Span, TICKS_PER_QUARTER};

use super::file::{File, RawNote};
use crate::{Note, SheetError, choice};

/// A track and channel.
pub(super) type Voice = (usize, u8);

/// Channel 10, which General MIDI keeps for drums.
const DRUMS: u8 = 9;
/// Share of notes that may sound together with the one before in a voice that plays one note at a time.
const MOSTLY_ONE: f64 = 0.1;
/// Notes that begin this close together are struck together; also, how far a note may run into the next.
const TOGETHER: Span = Span(TICKS_PER_QUARTER / 16);
/// What names of melody tracks contain.
const NAMES: [&str; 9] = ["melody", "melodie", "lead", "vocal", "voice", "tune", "solo", "singer", "soprano"];

/// Notes by voice, without drums.
pub(super) fn voices(file: &File) -> BTreeMap<Voice, Vec<RawNote>> {
    let mut voices: BTreeMap<Voice, Vec<RawNote>> = BTreeMap::new();
    for note in file.notes.iter().filter(|note| note.channel != DRUMS) {
        voices.entry((note.track, note.channel)).or_default().push(*note);
    }
    voices
}

/// The track that is wanted for the melody.
///
/// # Errors
/// [`SheetError::NoSuchLine`] where there is none.
pub(super) fn track(file: &File, wanted: &str) -> Result<usize, SheetError> {
    let named = file.names.iter().map(|name| (String::new(), name.clone())).collect::<Vec<_>>();
    choice::line("track", wanted, &named)
}

/// The voice that is the melody, of one track or of all.
pub(super) fn choose(file: &File, track: Option<usize>) -> Option<Voice> {
    let mut voices = voices(file);
    voices.retain(|voice, _| track.is_none_or(|track| voice.0 == track));
    let name = |voice: &Voice| file.names.get(voice.0).map(|name| name.to_lowercase()).unwrap_or_default();
    let named = voices.keys().find(|voice| NAMES.iter().any(|word| name(voice).contains(word)));
    if let Some(named) = named {
        return Some(*named);
    }
    let highest = |only_lines: bool| {
        voices
            .iter()
            .filter(|(_, notes)| !only_lines || together(notes) <= MOSTLY_ONE)
            .max_by(|a, b| mean(a.1).total_cmp(&mean(b.1)))
            .map(|(voice, _)| *voice)
    };
    let is_chords =
        |voice: &Voice| track.is_none() && voices.get(voice).is_some_and(|notes| only_chords(notes));
    highest(true).or_else(|| highest(false).filter(|voice| !is_chords(voice)))
}

/// The mean MIDI key of notes; 0 without any.
pub(super) fn mean(notes: &[RawNote]) -> f64 {
    notes.iter().map(|note| f64::from(note.pitch.key())).sum::<f64>() / notes.len().max(1) as f64
}

/// Whether a voice is chords and nothing else: nearly all that is struck is three notes or more at once, and no
/// oftener than every half note. Faster, its top is a tune in full harmony.
fn only_chords(notes: &[RawNote]) -> bool {
    let mut groups: Vec<(Moment, usize)> = Vec::new();
    for note in notes {
        match groups.last_mut().filter(|(at, _)| note.at <= *at + TOGETHER) {
            Some((_, count)) => *count += 1,
            None => groups.push((note.at, 1)),
        }
    }
    let (Some((first, _)), Some((last, _))) = (groups.first(), groups.last()) else { return false };
    let chords = groups.iter().filter(|(_, count)| *count >= 3).count();
    let slow = (*last - *first).0 >= Span::QUARTER.0 * 2 * (groups.len() as i64 - 1);
    slow && chords * 10 >= groups.len() * 9
}

/// The share of notes that begin well before the one before has ended.
pub(super) fn together(notes: &[RawNote]) -> f64 {
    let mut end = Moment::ZERO;
    let mut overlaps = 0usize;
    for note in notes {
        overlaps += usize::from(note.at + TOGETHER < end);
        end = end.max(note.end);
    }
    overlaps as f64 / notes.len().max(1) as f64
}

/// The voice as one line: of notes struck together the highest, notes cut where the next begins, and no note
/// that begins under a higher one still sounding unless that was about to end.
pub(super) fn read(file: &File, voice: Voice) -> Vec<Note> {
    let mut line: Vec<Note> = Vec::new();
    for note in file.notes.iter().filter(|note| (note.track, note.channel) == voice) {
        let new =
            Note { at: note.at, length: note.end - note.at, pitch: note.pitch, velocity: note.velocity };
        while let Some(last) = line.last_mut() {
            if last.end() <= new.at {
                break;
            }
            if last.at + TOGETHER >= new.at && new.pitch > last.pitch {
                // Struck together: the higher one is the melody.
                line.pop();
                continue;
            }
            if last.pitch <= new.pitch || new.at + TOGETHER >= last.end() {
                last.length = new.at - last.at;
                if last.length <= Span::ZERO {
                    line.pop();
                }
            }
            break;
        }
        if line.last().is_none_or(|last| last.end() <= new.at) {
            line.push(new);
        }
    }
    line
}
