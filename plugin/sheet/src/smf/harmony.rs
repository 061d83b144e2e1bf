//! Chords from texts, or from a track that plays chords, in blocks or broken.

use std::collections::BTreeMap;

use figwort_theory::identify::{Context, identify_keys};
use figwort_theory::{ChordSymbol, Key, Moment, Span, TICKS_PER_QUARTER};

use super::broken;
use super::file::{File, RawNote, RawText, TextKind};
use super::melody::{Voice, mean, together, voices};
use crate::{ChordChange, limits, symbol};

/// Least share of texts that are chord symbols for a kind of text to hold the chords.
const MOSTLY: f64 = 0.6;
/// Notes that begin this close to one another are one chord, rolled over no longer than [`ROLLED`].
const TOGETHER: Span = Span(TICKS_PER_QUARTER / 8);
const ROLLED: Span = Span(TICKS_PER_QUARTER / 2);
/// Most notes of a chord that are looked at.
const MAX_HELD: usize = 24;
/// Least share of notes that sound with others in a track of block chords.
const BLOCKS: f64 = 0.5;

/// The chord changes, and what there is to warn of.
pub(super) fn read(file: &File, melody: Option<Voice>, key: Key) -> (Vec<ChordChange>, Option<String>) {
    let written = written(file);
    if !written.is_empty() {
        return (changes(written), None);
    }
    let voices = voices(file);
    let blocks = voices
        .iter()
        .filter(|(voice, notes)| Some(**voice) != melody && together(notes) >= BLOCKS)
        .max_by_key(|(_, notes)| notes.len());
    // Melody and chords may be one voice, as both hands in one track; then its top line is no part of them.
    let both = || {
        let (voice, notes) = voices.iter().find(|(voice, _)| Some(**voice) == melody)?;
        let rest = under_line(file, *voice, notes);
        (together(&rest) >= BLOCKS).then_some((*voice, rest))
    };
    let blocks = blocks.map(|(voice, notes)| (*voice, notes.clone())).or_else(both);
    let named = |(track, channel): Voice, how: &str| {
        format!(
            "the file has no chord symbols; its chords are named from the {how} of track {}, channel {}",
            track + 1,
            channel + 1
        )
    };
    let bass = |voice: Voice, chords| over_bass(chords, &bass_notes(&voices, voice, melody), key);
    let blocks = blocks.map(|(voice, notes)| (voice, changes(bass(voice, played(&notes, key)))));
    let blocks = blocks.filter(|(_, chords)| !chords.is_empty());
    let count = blocks.as_ref().map_or(0, |(_, chords)| chords.len());
    // Blocks of two notes over a bass are a broken chord, too.
    if let Some((voice, chords)) =
        broken_chords(file, &voices, melody, key).filter(|(_, chords)| chords.len() > 2 * count)
    {
        let text = named(voice, "notes, one after another,") + "; look them through";
        return (changes(bass(voice, chords)), Some(text));
    }
    if let Some((voice, chords)) = blocks {
        return (chords, Some(named(voice, "notes")));
    }
    let text = "the file has no chord symbols (as markers or texts) and no track that plays chords, so nothing \
                accompanies its melody; add markers with chord symbols";
    (Vec::new(), Some(text.into()))
}

/// The chords of a broken accompaniment: of the voice that has most, or of what lies under the melody in its own voice.
fn broken_chords(
    file: &File,
    voices: &BTreeMap<Voice, Vec<RawNote>>,
    melody: Option<Voice>,
    key: Key,
) -> Option<(Voice, Vec<ChordChange>)> {
    let end = file.notes.iter().map(|note| note.end).max()?;
    let bars = super::bars::read(file, end).ok()?;
    let of = |notes: &[RawNote]| changes(broken::read(notes, &bars, key));
    let others = voices.iter().filter(|(voice, _)| Some(**voice) != melody).take(64);
    let best = others.map(|(voice, notes)| (*voice, of(notes))).max_by_key(|(_, chords)| chords.len());
    best.filter(|(_, chords)| chords.len() > 1).or_else(|| {
        let (voice, notes) = voices.iter().find(|(voice, _)| Some(**voice) == melody)?;
        let chords = of(&under_line(file, *voice, notes));
        (chords.len() > 1).then_some((*voice, chords))
    })
}

/// The notes of the lowest voice that plays one note at a time, where it lies under the chords' voice.
fn bass_notes(voices: &BTreeMap<Voice, Vec<RawNote>>, chords: Voice, melody: Option<Voice>) -> Vec<RawNote> {
    let Some(limit) = voices.get(&chords).map(|notes| mean(notes)) else { return Vec::new() };
    let others = voices.iter().filter(|(voice, _)| **voice != chords && Some(**voice) != melody);
    let bass = others.filter(|(_, notes)| together(notes) < BLOCKS && mean(notes) < limit);
    bass.min_by(|a, b| mean(a.1).total_cmp(&mean(b.1))).map(|(_, notes)| notes.clone()).unwrap_or_default()
}

/// Chords over the tones of theirs that the bass plays when they begin.
fn over_bass(mut chords: Vec<ChordChange>, bass: &[RawNote], key: Key) -> Vec<ChordChange> {
    for change in &mut chords {
        let by = change.at + TOGETHER;
        let before = bass.partition_point(|note| note.at <= by);
        let note = before.checked_sub(1).and_then(|last| bass.get(last)).filter(|note| note.end > by);
        if let (Some(chord), Some(note)) = (change.symbol.chord, note)
            && chord.tones().contains(note.pitch.class())
        {
            change.symbol = ChordSymbol::of(chord.over(note.pitch.class()), key);
        }
    }
    chords
}

/// The notes of a voice without its top line.
fn under_line(file: &File, voice: Voice, notes: &[RawNote]) -> Vec<RawNote> {
    let line = super::melody::read(file, voice);
    let is_line = |note: &RawNote| {
        let found = line.binary_search_by_key(&note.at, |line| line.at);
        found.is_ok_and(|index| line.get(index).is_some_and(|line| line.pitch == note.pitch))
    };
    notes.iter().filter(|note| !is_line(note)).copied().collect()
}

/// The chord symbols among the texts: those of the kind and track that has the most, if most of it is chords.
fn written(file: &File) -> Vec<ChordChange> {
    let of = |kind: TextKind, track: usize| {
        file.texts.iter().filter(move |text| text.kind == kind && text.track == track)
    };
    let mut best: Vec<ChordChange> = Vec::new();
    let mut places: Vec<(TextKind, usize)> = file.texts.iter().map(|text| (text.kind, text.track)).collect();
    places.sort_unstable();
    places.dedup();
    // One place at a time, and few of them: hostile files may have a track for every text.
    for (kind, track) in places.into_iter().take(256) {
        let read = |text: &RawText| {
            symbol::known(bare(&text.text)).map(|symbol| ChordChange { at: text.at, symbol })
        };
        let chords: Vec<ChordChange> = of(kind, track).filter_map(read).collect();
        let share = chords.len() as f64 / of(kind, track).count().max(1) as f64;
        if share >= MOSTLY && chords.len() > best.len() {
            best = chords;
        }
    }
    best
}

/// A text without the brackets that some programs put around chord symbols.
fn bare(text: &str) -> &str {
    let inner = |open, close| text.trim().strip_prefix(open)?.strip_suffix(close);
    inner('[', ']').or_else(|| inner('{', '}')).unwrap_or(text)
}

/// The chords that notes make, one for each group of notes struck together, with what still sounds.
fn played(notes: &[RawNote], key: Key) -> Vec<ChordChange> {
    let mut chords: Vec<ChordChange> = Vec::new();
    let mut held: Vec<RawNote> = Vec::new();
    let mut rest = notes;
    while let Some(first) = rest.first() {
        let mut reach = first.at;
        let is_struck = |note: &&RawNote| {
            let goes_on = note.at <= reach + TOGETHER && note.at <= first.at + ROLLED;
            reach = reach.max(note.at);
            goes_on
        };
        let count = rest.iter().take_while(is_struck).count();
        let (struck, after) = rest.split_at(count);
        rest = after;
        held.retain(|note| note.end > first.at + TOGETHER);
        held.extend(struck.iter().take(MAX_HELD.saturating_sub(held.len())));
        let previous = chords.last().and_then(|last| last.symbol.chord);
        let context = Context { key: Some(key), previous };
        let classes: figwort_theory::PitchClassSet = held.iter().map(|note| note.pitch.class()).collect();
        // Two notes are a passing of the hand, not a chord.
        if classes.len() >= 3
            && let Some(chord) = identify_keys(held.iter().map(|note| note.pitch), &context)
        {
            chords.push(ChordChange { at: first.at, symbol: ChordSymbol::of(chord, key) });
        }
    }
    chords
}

/// Sorted, one at a moment, and none that repeats the one before.
fn changes(mut chords: Vec<ChordChange>) -> Vec<ChordChange> {
    chords.sort_by_key(|chord| chord.at);
    let mut kept: Vec<ChordChange> = Vec::new();
    let mut last_at: Option<Moment> = None;
    for chord in chords {
        if last_at == Some(chord.at) {
            continue;
        }
        last_at = Some(chord.at);
        if kept.last().is_none_or(|last| last.symbol != chord.symbol) {
            kept.push(chord);
        }
    }
    kept.truncate(limits::MAX_CHORDS);
    kept
}
