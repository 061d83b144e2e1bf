//! Keep take: the last minutes of what was played, as a Standard MIDI File.
//!
//! The file begins with the bar of the first note. Its time is roll time: where the host jumped or looped, it
//! runs on as it was heard, and the bar that was left is as short as it was played. Tracks: melody, right
//! hand, left hand, and the keys of the chord hand; chord symbols are markers. Not for the audio thread.
//!
//! Deliberately absent: quantising.

use std::path::{Path, PathBuf};

use figwort_engine::Hand;
use figwort_render::perform::{ChordMark, PedalChange, PlayedBar, PlayedNote, write_on_the_beat};
use figwort_render::{Performance, midi};
use figwort_sheet::TempoChange;
use figwort_theory::{ChordSymbol, Key, Metre, Moment, Pitch, Span, Velocity};

use crate::files::Written;
use crate::session::history::{Event, What};

/// The longest take, in seconds.
const LONGEST: u64 = 600;
/// A change of chord this soon after another is its refinement, in milliseconds; as in offline takes.
const REFINEMENT_MS: u64 = 70;
/// Most takes in one folder.
const MOST: u32 = 99_999;

/// The player's folder for takes: `Figwort/Takes` in the music folder, else in documents, else at home.
pub fn folder() -> Option<PathBuf> {
    let base = dirs::audio_dir().or_else(dirs::document_dir).or_else(dirs::home_dir)?;
    Some(base.join("Figwort").join("Takes"))
}

/// Writes what the events tell as a new file in a folder, which is made if need be.
pub(crate) fn keep(events: &[Event], title: &str, folder: &Path) -> Result<PathBuf, String> {
    let Some(take) = Take::of(events, title) else {
        return Err("nothing has been played yet, so there is no take to keep".into());
    };
    let bytes = midi::write_with_keys(&take.performance, &take.keys);
    write(&bytes, folder)
}

/// Never over a file that is there, and never half a file.
fn write(bytes: &[u8], folder: &Path) -> Result<PathBuf, String> {
    let wrong = |what| format!("{}: {what}; the take is still remembered, so press again", folder.display());
    let mut written = Written::new(bytes, folder).map_err(wrong)?;
    for number in 1..=MOST {
        let path = folder.join(format!("Take {number:03}.mid"));
        if path.exists() {
            continue;
        }
        match written.new_at(&path).map_err(wrong)? {
            None => return Ok(path),
            // Somebody else was faster with this number.
            Some(back) => written = back,
        }
    }
    Err(format!("{}: {MOST} takes are enough for one folder; move some away", folder.display()))
}

struct Take {
    performance: Performance,
    keys: Vec<PlayedNote>,
}

/// A note being paired.
struct Open {
    hand: Option<Hand>,
    pitch: Pitch,
    velocity: Velocity,
    at: Moment,
    frame: u64,
}

impl Take {
    /// `None` when nothing was played.
    fn of(events: &[Event], title: &str) -> Option<Self> {
        let mut events: Vec<Event> = events.to_vec();
        events.sort_by_key(|event| event.at);
        let rate = events.iter().rev().find_map(|event| match event.what {
            What::SampleRate(rate) => Some(rate.max(1.0) as u64),
            _ => None,
        });
        let rate = rate.unwrap_or(48_000);
        let newest = events.iter().map(|event| event.frame).max()?;
        let oldest = newest.saturating_sub(LONGEST * rate);
        let begins = |event: &&Event| matches!(event.what, What::On { .. } | What::ChordKeyDown { .. });
        let first = events.iter().filter(|event| event.frame >= oldest).find(begins)?.at;
        let start = beginning(&events, first);
        let end = events.iter().map(|event| event.at).max()?;
        let moved = |at: Moment| Moment::ZERO + (at - start).max(Span::ZERO);

        let mut tempos = vec![TempoChange { at: Moment::ZERO, micros_per_quarter: 500_000 }];
        let mut key = Key::default();
        let mut pedal: Vec<PedalChange> = Vec::new();
        for event in &events {
            match event.what {
                What::Tempo(tempo) => {
                    let micros = (60e6 / f64::from(tempo.clamp(4.0, 2_000.0))).round() as u32;
                    let change = TempoChange { at: moved(event.at), micros_per_quarter: micros };
                    if tempos.last().is_some_and(|last| last.at == change.at) {
                        tempos.pop();
                    }
                    tempos.push(change);
                }
                What::KeyHeard(heard) => key = heard,
                What::Pedal(down)
                    if event.at >= start && pedal.last().map_or(down, |last| last.down != down) =>
                {
                    pedal.push(PedalChange { frame: event.frame, at: moved(event.at), down });
                }
                _ => {}
            }
        }
        let (notes, keys) = notes(&events, start, end, moved);
        let end = notes.iter().chain(&keys).map(PlayedNote::end).fold(moved(end), Moment::max);
        let bars = bars(&events, start, end, key);
        let mut chords = chords(&events, start, key, REFINEMENT_MS * rate / 1_000, moved);
        write_on_the_beat(&mut chords, &bars);
        let end = bars.last().map_or(end, |bar| bar.end().max(end));
        let performance = Performance {
            title: title.to_owned(),
            composer: None,
            sample_rate: rate as u32,
            notes,
            pedal,
            decisions: Vec::new(),
            bars,
            chords,
            headings: Vec::new(),
            tempos,
            end,
            end_frame: newest,
            hanging: 0,
        };
        Some(Self { performance, keys })
    }
}

/// The bar line at or before the first note, if the note is in that bar; else the note itself.
fn beginning(events: &[Event], first: Moment) -> Moment {
    let line = events.iter().rev().find_map(|event| match event.what {
        What::Bar { metre, .. } if event.at <= first => Some((event.at, metre)),
        _ => None,
    });
    match line {
        Some((at, metre)) if first - at < metre.bar() => at,
        _ => first,
    }
}

/// What sounded, and the chord hand's keys.
fn notes(
    events: &[Event],
    start: Moment,
    end: Moment,
    moved: impl Fn(Moment) -> Moment,
) -> (Vec<PlayedNote>, Vec<PlayedNote>) {
    let mut open: Vec<Open> = Vec::new();
    let (mut notes, mut keys) = (Vec::new(), Vec::new());
    let mut close = |open: &mut Vec<Open>, hand: Option<Hand>, pitch: Pitch, at: Moment, frame: u64| {
        let Some(index) = open.iter().position(|note| note.hand == hand && note.pitch == pitch) else {
            return;
        };
        let note = open.swap_remove(index);
        let list = if hand.is_some() { &mut notes } else { &mut keys };
        list.push(PlayedNote {
            hand: hand.unwrap_or(Hand::Melody),
            pitch,
            velocity: note.velocity,
            on: note.frame,
            off: frame.max(note.frame),
            at: moved(note.at),
            length: at - note.at,
        });
    };
    for event in events.iter().filter(|event| event.at >= start) {
        let Event { at, frame, what } = *event;
        let begun = match what {
            What::On { hand, pitch, velocity } => Some((Some(hand), pitch, velocity)),
            What::ChordKeyDown { pitch, velocity } => Some((None, pitch, velocity)),
            What::Off { hand, pitch } => {
                close(&mut open, Some(hand), pitch, at, frame);
                None
            }
            What::ChordKeyUp(pitch) => {
                close(&mut open, None, pitch, at, frame);
                None
            }
            _ => None,
        };
        if let Some((hand, pitch, velocity)) = begun {
            close(&mut open, hand, pitch, at, frame);
            open.push(Open { hand, pitch, velocity, at, frame });
        }
    }
    while let Some(note) = open.last() {
        let (hand, pitch, frame) = (note.hand, note.pitch, note.frame);
        close(&mut open, hand, pitch, end, frame);
    }
    notes.sort_by_key(|note| (note.at, note.hand, note.pitch));
    keys.sort_by_key(|note| (note.at, note.pitch));
    (notes, keys)
}

/// Bars from the beginning to the end, without gaps: where no line was told for longer than a bar, the metre
/// goes on.
fn bars(events: &[Event], start: Moment, end: Moment, key: Key) -> Vec<PlayedBar> {
    let mut lines: Vec<(Moment, Metre)> = Vec::new();
    let before = events.iter().rev().find_map(|event| match event.what {
        What::Bar { metre, .. } if event.at <= start => Some(metre),
        _ => None,
    });
    lines.push((Moment::ZERO, before.unwrap_or(Metre::FOUR_FOUR)));
    for event in events.iter().filter(|event| event.at > start) {
        if let What::Bar { metre, .. } = event.what {
            let at = Moment::ZERO + (event.at - start);
            if lines.last().is_some_and(|line| line.0 == at) {
                lines.pop();
            }
            lines.push((at, metre));
        }
    }
    let mut bars = Vec::new();
    for (index, (at, metre)) in lines.iter().enumerate() {
        let until = lines.get(index + 1).map_or(end.max(*at + Span(1)), |line| line.0);
        let mut begin = *at;
        while begin < until {
            let full = begin + metre.bar();
            let stop = if index + 1 < lines.len() { full.min(until) } else { full };
            let number = u32::try_from(bars.len() + 1).unwrap_or(u32::MAX);
            bars.push(PlayedBar {
                start: begin,
                length: stop - begin,
                metre: *metre,
                key,
                number,
                section: false,
            });
            begin = stop;
        }
    }
    bars
}

/// A symbol at every change of chord; one that comes within `refinement` frames of another corrects it.
fn chords(
    events: &[Event],
    start: Moment,
    key: Key,
    refinement: u64,
    moved: impl Fn(Moment) -> Moment,
) -> Vec<ChordMark> {
    let mut marks: Vec<(u64, Moment, Option<figwort_theory::Chord>)> = Vec::new();
    for event in events.iter().filter(|event| event.at >= start) {
        let What::Decided(decided) = event.what else { continue };
        match marks.last_mut() {
            Some((_, _, chord)) if *chord == decided => {}
            None if decided.is_none() => {}
            Some((since, _, chord)) if event.frame.saturating_sub(*since) <= refinement => {
                *chord = decided;
            }
            _ => marks.push((event.frame, event.at, decided)),
        }
    }
    marks.dedup_by(|after, before| after.2 == before.2);
    let symbol = |chord| ChordSymbol::of(chord, key);
    marks
        .into_iter()
        .map(|(_, at, chord)| ChordMark {
            at: moved(at),
            text: chord.map_or(ChordSymbol::NO_CHORD, symbol).to_string(),
            chord,
        })
        .collect()
}

#[cfg(all(test, target_os = "linux"))]
mod faults;
#[cfg(test)]
mod tests;
