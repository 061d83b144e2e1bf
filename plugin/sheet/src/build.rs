//! From written bars and their playing order to a sheet.

use figwort_theory::{ChordSymbol, Key, Moment};

use crate::order::{self, Order};
use crate::warnings::Warnings;
use crate::written::{WrittenBar, WrittenNote};
use crate::{Bar, ChordChange, DEFAULT_VELOCITY, Note, Sheet, SheetError, TempoChange, limits};

/// What stands over the music.
pub(crate) struct Heading {
    pub(crate) title: String,
    pub(crate) composer: Option<String>,
    /// Key where no bar tells.
    pub(crate) key: Key,
    /// Tempo where no bar tells, in microseconds a quarter note.
    pub(crate) tempo: u32,
    /// The warning where there are no chord symbols.
    pub(crate) no_chords: &'static str,
}

/// The sheet.
///
/// # Errors
/// [`SheetError::TooLarge`] where repeats make too many notes or chords.
pub(crate) fn sheet(
    heading: Heading,
    bars: &[WrittenBar],
    order: &Order,
    mut warnings: Warnings,
) -> Result<Sheet, SheetError> {
    let mut sheet = Sheet {
        title: heading.title,
        composer: heading.composer,
        key: bars.first().map_or(heading.key, |bar| bar.key),
        tempos: Vec::new(),
        bars: Vec::new(),
        chords: Vec::new(),
        melody: Vec::new(),
        end: Moment::ZERO,
        page: order::page(bars, order),
        warnings: Vec::new(),
    };
    let mut tied = false;
    for step in &order.steps {
        let Some(bar) = bars.get(step.bar) else { continue };
        let start = sheet.end;
        sheet.bars.push(Bar {
            start,
            length: bar.length,
            metre: bar.metre,
            key: bar.key,
            number: bar.number,
            section: bar.left.section || step.arrival || sheet.bars.is_empty(),
        });
        add_tempo(&mut sheet.tempos, start, bar.tempo);
        for (at, tempo) in &bar.tempos {
            add_tempo(&mut sheet.tempos, start + *at, *tempo);
        }
        for (at, symbol) in &bar.symbols {
            add_chord(&mut sheet.chords, start + *at, *symbol);
        }
        for note in &bar.notes {
            tied = add_note(&mut sheet.melody, start, note, tied);
        }
        if sheet.melody.len() > limits::MAX_NOTES || sheet.chords.len() > limits::MAX_CHORDS {
            let what = "notes or chords when the repeats are played out";
            return Err(SheetError::TooLarge { what, limit: limits::MAX_NOTES });
        }
        sheet.end = start + bar.length;
    }
    if sheet.tempos.is_empty() {
        add_tempo(&mut sheet.tempos, Moment::ZERO, heading.tempo);
    }
    if sheet.chords.is_empty() {
        warnings.push(None, None, heading.no_chords);
    }
    if sheet.melody.is_empty() {
        warnings.push(None, None, "the tune has no melody notes; only its chords are played");
    }
    sheet.warnings = warnings.into_list();
    Ok(sheet)
}

fn add_tempo(tempos: &mut Vec<TempoChange>, at: Moment, micros_per_quarter: u32) {
    match tempos.last_mut() {
        Some(last) if last.micros_per_quarter == micros_per_quarter => {}
        Some(last) if last.at == at => last.micros_per_quarter = micros_per_quarter,
        _ => tempos.push(TempoChange { at, micros_per_quarter }),
    }
}

fn add_chord(chords: &mut Vec<ChordChange>, at: Moment, symbol: ChordSymbol) {
    // A chord over a note too short for a tick has no time of its own.
    while chords.pop_if(|last| last.at >= at).is_some() {}
    if chords.last().is_none_or(|last| last.symbol != symbol) {
        chords.push(ChordChange { at, symbol });
    }
}

/// Adds a note, or lengthens the one that is tied to it; whether it is itself tied to the next.
fn add_note(melody: &mut Vec<Note>, start: Moment, note: &WrittenNote, tied: bool) -> bool {
    let at = start + note.at;
    match melody.last_mut() {
        Some(last) if tied && last.pitch == note.pitch && last.end() == at => last.length += note.length,
        _ => {
            melody.push(Note { at, length: note.length, pitch: note.pitch, velocity: DEFAULT_VELOCITY });
        }
    }
    note.tied
}
