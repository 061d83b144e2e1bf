//! Which part and which voice is the melody, and which part has the chord symbols.

use figwort_theory::Pitch;

use super::harmony::Harmony;
use super::measure::{Event, Measure};
use super::score::Part;
use crate::length::Exact;

/// Indices of the parts that are read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Chosen {
    pub(super) melody: usize,
    pub(super) harmony: usize,
}

/// Lowest mean pitch of a part that may be taken for the melody of another part's chord symbols.
const LOWEST: f64 = 55.0;

/// The melody is in the part with most chord symbols; where that is written on several staves and another part
/// on one staff has words, in that, or in a part before it on one staff that is not low (a solo over a piano);
/// without chord symbols, in the first part with words, else the first with notes. One that is chosen is the melody's
/// whatever it holds.
pub(super) fn parts(parts: &[Part], chosen: Option<usize>) -> Chosen {
    let chords = |part: &Part| part.measures.iter().map(|measure| measure.harmonies.len()).sum::<usize>();
    let any = |part: &Part, what: fn(&Event) -> bool| {
        part.measures.iter().any(|measure| measure.events.iter().any(what))
    };
    let has_notes = |part: &Part| any(part, |event| event.pitch.is_some());
    let is_sung = |part: &Part| any(part, |event| event.sung && event.pitch.is_some());
    let has_staves = |part: &Part| any(part, |event| event.staff > 1);
    let harmony = parts.iter().enumerate().rev().max_by_key(|(_, part)| chords(part));
    let harmony = harmony.filter(|(_, part)| chords(part) > 0);
    let sung = parts.iter().position(|part| is_sung(part) && !has_staves(part));
    let first = || sung.or_else(|| parts.iter().position(has_notes)).unwrap_or(0);
    let melody = match harmony {
        _ if chosen.is_some() => chosen.unwrap_or(0),
        Some((_, part)) if !has_notes(part) => first(),
        Some((index, part)) if has_staves(part) && !is_sung(part) => {
            let solo = parts.iter().take(index).position(|part| !has_staves(part) && mean(part) >= LOWEST);
            sung.or(solo).unwrap_or(index)
        }
        Some((index, _)) => index,
        None => first(),
    };
    let harmony = match harmony {
        Some(_) if parts.get(melody).is_some_and(|part| chords(part) > 0) => melody,
        Some((index, _)) => index,
        None => melody,
    };
    Chosen { melody, harmony }
}

/// Takes the words of a part for its chord symbols, where no part has a chord symbol and these words are plainly some:
/// at least four, one for every four bars, and not letters alone, as those of sections are. Whether that was done.
pub(super) fn words_as_chords(parts: &mut [Part]) -> bool {
    let stands = |harmony: &Harmony| harmony.symbol.is_some_and(|symbol| symbol.chord.is_some());
    let has_chords = |part: &Part| {
        part.measures.iter().any(|measure| measure.harmonies.iter().any(|(_, harmony)| stands(harmony)))
    };
    if parts.iter().any(has_chords) {
        return false;
    }
    let count = |part: &Part| part.measures.iter().map(|measure| measure.worded.len()).sum::<usize>();
    let Some(part) = parts.iter_mut().rev().max_by_key(|part| count(part)) else { return false };
    let is_plain = |(_, harmony): &(Exact, Harmony)| {
        harmony.symbol.is_none_or(|symbol| symbol.to_string().chars().count() == 1)
    };
    let letters =
        part.measures.iter().flat_map(|measure| &measure.worded).filter(|word| is_plain(word)).count();
    let count = count(part);
    if count < 4 || count * 4 < part.measures.len() || letters == count {
        return false;
    }
    for measure in &mut part.measures {
        // What N.C. there was stands among them.
        measure.harmonies.append(&mut measure.worded);
        measure.harmonies.sort_by(|a, b| a.0.order(b.0));
    }
    true
}

/// The mean MIDI key of a part; 0 without notes.
fn mean(part: &Part) -> f64 {
    let events = part.measures.iter().flat_map(|measure| &measure.events);
    let (sum, count) = events
        .filter_map(|event| event.pitch)
        .fold((0.0, 0.0), |(sum, count), pitch| (sum + f64::from(pitch.key()), count + 1.0));
    if count > 0.0 { sum / count } else { 0.0 }
}

/// The voice of the upper staff with the lowest number, of those with notes in many bars: at least half as many as
/// the busiest has.
pub(super) fn voice(measures: &[Measure]) -> u16 {
    let mut counts: Vec<(u16, usize)> = Vec::new();
    for measure in measures {
        let mut here: Vec<u16> = Vec::new();
        for event in &measure.events {
            if event.pitch.is_some() && event.staff <= 1 && !here.contains(&event.voice) {
                here.push(event.voice);
                // A bar of hundreds of voices is nobody's; the first ones tell.
                if here.len() > 16 {
                    break;
                }
            }
        }
        for voice in here {
            if let Some((_, count)) = counts.iter_mut().find(|(known, _)| *known == voice) {
                *count += 1;
            } else if counts.len() < 64 {
                counts.push((voice, 1));
            }
        }
    }
    let most = counts.iter().map(|(_, count)| *count).max().unwrap_or(0);
    counts.into_iter().filter(|(_, count)| count * 2 >= most).map(|(voice, _)| voice).min().unwrap_or(1)
}

/// A melody note with exact times.
pub(super) struct Sung {
    pub(super) at: Exact,
    pub(super) end: Exact,
    pub(super) pitch: Pitch,
    pub(super) tied: bool,
}

/// Most notes of a bar in whose chords held notes are looked for.
const MAX_CHORDAL: usize = 512;

/// Whether a note is a lower one of its chord and tied to one of this pitch at this place.
fn is_under(events: &[Event], note: &Event, voice: u16, pitch: Pitch, end: Exact) -> bool {
    note.tied
        && note.voice == voice
        && note.pitch == Some(pitch)
        && note.at.plus(note.length) == end
        && events.iter().any(|other| other.voice == voice && other.at == note.at && other.pitch > Some(pitch))
}

/// The melody of a bar: the highest notes of the voice, each until the next begins. Where the voice has no
/// note in the bar, the first of the upper staff that has some stands in. A lower note of a chord that is held by a
/// tie when the others are over sounds on, and is no new note; `before` is the bar before.
pub(super) fn line(measure: &Measure, before: Option<&Measure>, voice: u16) -> Vec<Sung> {
    let events = &measure.events;
    let voice = if events.iter().any(|event| event.voice == voice && event.pitch.is_some()) {
        voice
    } else {
        let upper = events.iter().filter(|event| event.staff <= 1 && event.pitch.is_some());
        upper.map(|event| event.voice).min().unwrap_or(voice)
    };
    let mut notes: Vec<(&Event, Pitch)> = events
        .iter()
        .filter(|event| event.voice == voice)
        .filter_map(|event| Some((event, event.pitch?)))
        .collect();
    notes.sort_by(|(a, high), (b, other)| a.at.order(b.at).then(other.cmp(high)));
    let is_held = |event: &Event, pitch: Pitch| {
        let few = |measure: &Measure| measure.events.len() <= MAX_CHORDAL;
        if !few(measure) {
            return false;
        }
        let in_bar = events.iter().any(|earlier| is_under(events, earlier, voice, pitch, event.at));
        let over_bar = || {
            before.filter(|before| few(before)).is_some_and(|before| {
                let events = &before.events;
                events.iter().any(|earlier| is_under(events, earlier, voice, pitch, before.length))
            })
        };
        in_bar || (event.at == Exact::ZERO && over_bar())
    };
    let mut line: Vec<Sung> = Vec::new();
    let mut struck = None;
    for (event, pitch) in notes {
        let end = event.at.plus(event.length);
        if struck == Some(event.at) {
            continue;
        }
        struck = Some(event.at);
        if event.held && is_held(event, pitch) {
            continue;
        }
        if let Some(last) = line.last_mut() {
            last.end = last.end.at_most(event.at);
        }
        line.push(Sung { at: event.at, end, pitch, tied: event.tied });
    }
    line
}
