//! The key: after the first eight bars of each tune, heard note by note as when playing, against the key
//! signature that is written, and against music21's `analyze('key')` on the same bars.
//!
//! The bars are written to `key_bars.csv` in the output folder; `tests/reference/key_music21.py` makes
//! `key_music21.csv` of them, which is read from there or from `tests/reference`. Bars are known by a hash
//! of their notes, so that the reference holds no tunes.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use figwort_engine::reading::key::KeyReader;
use figwort_sheet::Sheet;
use figwort_theory::{Chord, Key, Mode, Moment, Pitch, PitchClass, Span};

use crate::corpus::Tune;

/// Full bars heard before the key is asked for.
const BARS: usize = 8;

/// What is heard, in time.
#[derive(Clone, Copy)]
enum Event {
    Chord(Chord),
    Note(Pitch),
}

/// The beginning of a tune.
struct Beginning {
    written: Key,
    /// When, how long, what; by time, chords first.
    events: Vec<(Moment, Span, Event)>,
    end: Moment,
}

/// How near a key is to the written one.
#[derive(Clone, Copy, Default)]
struct Count {
    all: usize,
    exact: usize,
    /// The same signature, the other mode.
    relative: usize,
    /// A fifth up or down, the same mode.
    fifth: usize,
    /// The same tonic, the other mode.
    parallel: usize,
}

impl Count {
    fn add(&mut self, found: Key, written: Key) {
        self.all += 1;
        let apart = found.tonic.above(written.tonic);
        if found == written {
            self.exact += 1;
        } else if found.mode != written.mode && found.fifths() == written.fifths() {
            self.relative += 1;
        } else if found.mode == written.mode && matches!(apart, 5 | 7) {
            self.fifth += 1;
        } else if apart == 0 {
            self.parallel += 1;
        }
    }

    fn print(&self, name: &str) {
        let share = |n: usize| 100.0 * n as f64 / self.all.max(1) as f64;
        println!(
            "  {name:<38}{:>6}{:>8.1} %{:>8.1} %{:>8.1} %{:>8.1} %{:>8.1} %",
            self.all,
            share(self.exact),
            share(self.relative),
            share(self.fifth),
            share(self.parallel),
            share(self.all - self.exact - self.relative - self.fifth - self.parallel),
        );
    }
}

/// The table, and the bars for the reference.
pub(crate) fn evaluate(tunes: &[Tune]) -> Result<()> {
    println!("\nKey after {BARS} bars, against the signature as written");
    let beginnings: Vec<Beginning> = tunes.iter().filter_map(|tune| beginning(&tune.sheet)).collect();
    println!("  {} of {} tunes (the others change key within these bars)", beginnings.len(), tunes.len());
    println!(
        "  {:<38}{:>6}{:>10}{:>10}{:>10}{:>10}{:>10}",
        "", "tunes", "exact", "relative", "a fifth", "parallel", "other"
    );
    let folder = crate::output();
    fs::create_dir_all(&folder).with_context(|| format!("{} can't be made", folder.display()))?;
    let bars = folder.join("key_bars.csv");
    fs::write(&bars, table(&beginnings)).with_context(|| format!("{} can't be written", bars.display()))?;

    let mut both = Count::default();
    let mut melody = Count::default();
    for beginning in &beginnings {
        both.add(hear(beginning, true), beginning.written);
        melody.add(hear(beginning, false), beginning.written);
    }
    both.print("Figwort, melody and chords, causal");
    melody.print("Figwort, melody alone, causal");
    modulations(&beginnings).print("Figwort, eight bars after a modulation");
    match reference(&folder)? {
        None => println!(
            "  music21: no key_music21.csv; make it with tests/reference/key_music21.py {}",
            bars.display()
        ),
        Some(reference) => {
            let mut counts = [Count::default(); 3];
            for beginning in &beginnings {
                if let Some([with_chords, alone]) = reference.get(&hash(beginning)) {
                    counts[0].add(hear(beginning, true), beginning.written);
                    counts[1].add(*with_chords, beginning.written);
                    counts[2].add(*alone, beginning.written);
                }
            }
            counts[1].print("music21, the bars as a whole");
            counts[2].print("music21, their melody alone");
            if counts[1].all < beginnings.len() {
                counts[0].print("Figwort on the tunes music21 was given");
            }
        }
    }
    Ok(())
}

fn beginning(sheet: &Sheet) -> Option<Beginning> {
    let pickup = usize::from(sheet.is_pickup(0));
    let bars = sheet.bars.get(..BARS + pickup).unwrap_or(&sheet.bars);
    let (first, last) = (bars.first()?, bars.last()?);
    if bars.iter().any(|bar| bar.key != first.key) {
        return None;
    }
    let end = last.end();
    let chords = sheet.chords.iter().enumerate().filter_map(|(n, change)| {
        let until = sheet.chords.get(n + 1).map_or(sheet.end, |next| next.at);
        Some((change.at, until.min(end) - change.at, Event::Chord(change.symbol.chord?)))
    });
    let notes =
        sheet.melody.iter().map(|note| (note.at, note.end().min(end) - note.at, Event::Note(note.pitch)));
    let mut events: Vec<_> = chords.chain(notes).filter(|(at, _, _)| *at < end).collect();
    // Stable: a chord comes before the note of its moment.
    events.sort_by_key(|(at, _, _)| *at);
    Some(Beginning { written: first.key, events, end })
}

fn hear(beginning: &Beginning, chords: bool) -> Key {
    let mut reader = KeyReader::default();
    listen(&mut reader, beginning, chords, 0, Span::ZERO);
    reader.key()
}

/// Hears all of a beginning, moved up by semitones and later by a span.
fn listen(reader: &mut KeyReader, beginning: &Beginning, chords: bool, by: i32, later: Span) {
    for (at, _, event) in &beginning.events {
        match event {
            Event::Chord(chord) if chords => {
                let (root, bass) = (chord.root.transpose(by), chord.bass.transpose(by));
                reader.hear_chord(Chord { root, bass, ..*chord }, *at + later);
            }
            Event::Chord(_) => {}
            Event::Note(pitch) => reader.hear_note(pitch.class().transpose(by), *at + later),
        }
    }
    reader.listen(beginning.end + later);
}

/// How far up the second tune's tonic lies from the first's; taken in turn.
const MODULATIONS: [i32; 6] = [1, 2, 3, 5, 7, 9];

/// Each tune straight after the one before it in the list, moved to begin a step, a third, a fourth … up.
fn modulations(beginnings: &[Beginning]) -> Count {
    let mut count = Count::default();
    for (pair, up) in beginnings.windows(2).zip(MODULATIONS.into_iter().cycle()) {
        let [first, second] = pair else { continue };
        let tonic = first.written.tonic.transpose(up);
        let by = i32::from(tonic.above(second.written.tonic));
        let mut reader = KeyReader::default();
        listen(&mut reader, first, true, 0, Span::ZERO);
        listen(&mut reader, second, true, by, first.end.since_zero());
        count.add(reader.key(), Key { tonic, mode: second.written.mode });
    }
    count
}

/// The bars as text: hash, when and how long in quarter notes, `n` or `c`, MIDI keys (chords from C3 up).
fn table(beginnings: &[Beginning]) -> String {
    let mut text = String::from("bars,written,at,length,what,keys\n");
    for beginning in beginnings {
        let hash = hash(beginning);
        for (at, length, event) in &beginning.events {
            let (what, keys) = match event {
                Event::Chord(chord) => ("c", chord_keys(*chord)),
                Event::Note(pitch) => ("n", vec![pitch.key()]),
            };
            let keys: Vec<String> = keys.iter().map(u8::to_string).collect();
            let at = at.since_zero().in_quarters();
            let length = length.in_quarters();
            let written = key_name(beginning.written);
            let _ = writeln!(text, "{hash:016x},{written},{at},{length},{what},{}", keys.join(" "));
        }
    }
    text
}

/// Close above the root, on or above C3; the bass below it if it isn't the root.
fn chord_keys(chord: Chord) -> Vec<u8> {
    let root = 48 + chord.root.number();
    let mut keys: Vec<u8> =
        chord.intervals().with(PitchClass::C).iter().map(|interval| root + interval.number()).collect();
    if chord.bass != chord.root {
        keys.insert(0, 36 + chord.bass.number());
    }
    keys
}

/// FNV-1a over the events.
fn hash(beginning: &Beginning) -> u64 {
    let mut hash = 0xcbf2_9ce4_8422_2325u64;
    let mut take = |value: i64| {
        for byte in value.to_le_bytes() {
            hash = (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
        }
    };
    take(beginning.end.0);
    for (at, length, event) in &beginning.events {
        take(at.0);
        take(length.0);
        match event {
            Event::Chord(chord) => chord_keys(*chord).iter().for_each(|key| take(i64::from(*key))),
            Event::Note(pitch) => take(i64::from(pitch.key())),
        }
    }
    hash
}

fn key_name(key: Key) -> String {
    let mode = match key.mode {
        Mode::Major => "major",
        Mode::Minor => "minor",
    };
    format!("{} {mode}", key.tonic.number())
}

fn key_of_name(name: &str) -> Option<Key> {
    let (tonic, mode) = name.split_once(' ')?;
    let mode = match mode {
        "major" => Mode::Major,
        "minor" => Mode::Minor,
        _ => return None,
    };
    Some(Key { tonic: PitchClass::new(tonic.parse().ok()?), mode })
}

/// music21's keys by hash: of melody and chords, of the melody alone.
fn reference(folder: &Path) -> Result<Option<BTreeMap<u64, [Key; 2]>>> {
    let kept = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("reference/key_music21.csv");
    let Some(path) = [folder.join("key_music21.csv"), kept].into_iter().find(|path| path.exists()) else {
        return Ok(None);
    };
    let text = fs::read_to_string(&path).with_context(|| format!("{} can't be read", path.display()))?;
    let mut keys = BTreeMap::new();
    for (n, line) in text.lines().enumerate().skip(1) {
        let fields: Vec<&str> = line.split(',').collect();
        let row = || {
            let [hash, both, melody] = fields.as_slice() else { return None };
            Some((u64::from_str_radix(hash, 16).ok()?, [key_of_name(both)?, key_of_name(melody)?]))
        };
        let (hash, found) = row().with_context(|| {
            format!("{} line {}: not `hash,key,key`; make the file anew", path.display(), n + 1)
        })?;
        keys.insert(hash, found);
    }
    Ok(Some(keys))
}
