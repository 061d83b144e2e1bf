//! Performs a lead sheet as a lead-sheet player would and writes the take as a Standard MIDI File.
//!
//!     cargo run -p figwort-sheet --example make_take -- SHEET.abc TAKE.mid
//!
//! The melody goes to MIDI channel 1, plain held left-hand chords to channel 2: close position, the written
//! bass lowest, at most four notes. Hands are human: chords rolled, early or late, lifted before the next or
//! a little overlapped; melody notes joined, two of them with a crushed note; loudness by phrase, bar and
//! pitch; the pedal twice. A pick-up is led in by rests, so that bar lines fall on the file's bars; a sheet
//! without one gets an empty bar, so that the first chord can come early.
//!
//! Spreads of time are in milliseconds at the tempo of the moment. Chance is a fixed seed and plain
//! arithmetic, so the same sheet gives the same bytes on every machine.
//!
//! Deliberately absent: tempo changes of its own (a player at a click), and anything but test material: this
//! is not how Figwort plays, it is what Figwort is played to.
#![forbid(unsafe_code)]

use std::error::Error;
use std::io::Write;
use std::process::ExitCode;

use figwort_sheet::{Bar, Note, Sheet, abc};
use figwort_theory::{Chord, Degree, Mode, Moment, Pitch, PitchClass, Span, TICKS_PER_QUARTER};
use midly::num::{u4, u7, u15, u24, u28};
use midly::{Format, Header, MetaMessage, MidiMessage, Smf, Timing, Track, TrackEvent, TrackEventKind};

const PPQ: u16 = 960;
const SEED: u64 = 0x0F16_0071;
const MELODY: u8 = 0;
const CHORDS: u8 = 1;
const SUSTAIN: u8 = 64;
/// The grip's bass is the lowest key of its class from here up: roots from G2 to F♯3.
const LOWEST_BASS: Pitch = Pitch::new(43);
/// A hand's reach in semitones.
const REACH: i32 = 14;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [from, to] = arguments.as_slice() else {
        complain("usage: make_take SHEET.abc TAKE.mid");
        return ExitCode::from(2);
    };
    match write_take(from, to) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            complain(&error.to_string());
            ExitCode::FAILURE
        }
    }
}

fn complain(text: &str) {
    // Nothing is left to do where even the error cannot be written.
    let _ = writeln!(std::io::stderr(), "{text}");
}

fn write_take(from: &str, to: &str) -> Result<(), Box<dyn Error>> {
    let bytes = std::fs::read(from).map_err(|error| format!("{from}: {error}"))?;
    let sheet = abc::read(&bytes, None).map_err(|error| format!("{from}: {error}"))?;
    for warning in &sheet.warnings {
        complain(&format!("{from}: {warning}"));
    }
    if sheet.melody.is_empty() || sheet.chords.is_empty() {
        return Err(format!("{from}: no melody or no chords; give a lead sheet with both").into());
    }
    let mut player = Player::new(&sheet);
    let melody = player.melody();
    let chords = player.chords();
    let smf = Smf {
        header: Header::new(Format::Parallel, Timing::Metrical(u15::new(PPQ))),
        tracks: vec![
            conductor(&sheet, player.clock.lead_in)?,
            track("Melody", melody, player.clock.end())?,
            track("Chords", chords, player.clock.end())?,
        ],
    };
    let mut out = Vec::new();
    smf.write_std(&mut out)?;
    std::fs::write(to, out).map_err(|error| format!("{to}: {error}"))?;
    Ok(())
}

/// One message at a tick of the file.
#[derive(Clone, Copy)]
struct Event {
    tick: i64,
    channel: u8,
    message: MidiMessage,
}

impl Event {
    fn on(tick: i64, channel: u8, pitch: Pitch, velocity: f64) -> Self {
        let velocity = (velocity.round() as i32).clamp(1, 127) as u8;
        Self { tick, channel, message: MidiMessage::NoteOn { key: pitch.key().into(), vel: velocity.into() } }
    }

    fn off(tick: i64, channel: u8, pitch: Pitch) -> Self {
        let message = MidiMessage::NoteOff { key: pitch.key().into(), vel: u7::new(64) };
        Self { tick, channel, message }
    }

    fn pedal(tick: i64, down: bool) -> Self {
        let value = u7::new(if down { 127 } else { 0 });
        Self {
            tick,
            channel: CHORDS,
            message: MidiMessage::Controller { controller: u7::new(SUSTAIN), value },
        }
    }

    /// Where ticks are equal, releases come first.
    fn order(&self) -> (i64, u8) {
        (self.tick, u8::from(!matches!(self.message, MidiMessage::NoteOff { .. })))
    }
}

/// One grip of the left hand as it is struck.
struct Grip {
    at: Moment,
    until: Moment,
    /// Keys from the lowest, each with the tick on which it goes down.
    keys: Vec<(Pitch, i64)>,
}

/// The sheet's time in ticks of the file.
struct Clock<'a> {
    sheet: &'a Sheet,
    /// What comes before the sheet's first bar.
    lead_in: Span,
}

impl<'a> Clock<'a> {
    fn new(sheet: &'a Sheet) -> Self {
        let bar = sheet.bars.first().map_or(Span::ZERO, |first| first.metre.bar());
        let lead_in = match sheet.bars.first() {
            Some(first) if sheet.is_pickup(0) => bar - first.length,
            _ => bar,
        };
        Self { sheet, lead_in }
    }

    /// The file's tick for a moment of the sheet, `ms` later.
    fn tick(&self, at: Moment, ms: f64) -> i64 {
        (written(at + self.lead_in) + self.ticks(at, ms)).max(0)
    }

    /// Milliseconds in ticks at the tempo of a moment.
    fn ticks(&self, at: Moment, ms: f64) -> i64 {
        let now = self.sheet.tempos.iter().take_while(|tempo| tempo.at <= at).last();
        let micros = now.map_or(figwort_sheet::DEFAULT_TEMPO, |tempo| tempo.micros_per_quarter);
        (ms * 1000.0 * f64::from(PPQ) / f64::from(micros)).round() as i64
    }

    /// One whole note of silence after the end lets the last sound go.
    fn end(&self) -> i64 {
        self.tick(self.sheet.end + Span::WHOLE, 0.0)
    }
}

/// Someone at the keys.
struct Player<'a> {
    sheet: &'a Sheet,
    clock: Clock<'a>,
    chance: Chance,
    /// Mean key of the melody.
    mean: f64,
}

impl<'a> Player<'a> {
    fn new(sheet: &'a Sheet) -> Self {
        let sum: f64 = sheet.melody.iter().map(|note| f64::from(note.pitch.key())).sum();
        Self { sheet, clock: Clock::new(sheet), chance: Chance(SEED), mean: sum / sheet.melody.len() as f64 }
    }

    /// Loudness a moment gains: an arch over every four bars and a little weight on strong beats.
    fn shape(&self, at: Moment) -> f64 {
        let Some(index) = self.sheet.bar_at(at) else { return 0.0 };
        let Some(bar) = self.sheet.bars.get(index) else { return 0.0 };
        let weight = match bar.metre.level(self.sheet.place(index, at)) {
            0 => 3.0,
            1 => 1.5,
            2 => 0.0,
            _ => -2.0,
        };
        if self.sheet.is_pickup(index) {
            return weight - 4.0;
        }
        let whole = index - usize::from(self.sheet.is_pickup(0));
        let within = (at - bar.start).0 as f64 / bar.length.0.max(1) as f64;
        let x = ((whole % 4) as f64 + within) / 4.0;
        weight + 10.0 * (4.0 * x * (1.0 - x)) - 5.0
    }

    fn melody(&mut self) -> Vec<Event> {
        let notes = &self.sheet.melody;
        let onsets: Vec<i64> = notes
            .iter()
            .map(|note| {
                let late = self.chance.normal(0.0, 10.0, 25.0);
                self.clock.tick(note.at, late)
            })
            .collect();
        let graced = self.graced();
        let mut events = Vec::new();
        for (index, (note, &onset)) in notes.iter().zip(&onsets).enumerate() {
            let long = if note.length >= Span::QUARTER * 2 { 3.0 } else { 0.0 };
            let height = 0.8 * (f64::from(note.pitch.key()) - self.mean);
            let velocity =
                76.0 + 1.2 * self.shape(note.at) + height + long + self.chance.normal(0.0, 2.5, 6.0);
            let off = self.melody_off(note, onset, notes.get(index + 1).zip(onsets.get(index + 1)));
            events.push(Event::on(onset, MELODY, note.pitch, velocity));
            events.push(Event::off(off, MELODY, note.pitch));
            let crushed = note.pitch.transpose(-1).filter(|_| graced.contains(&index));
            if let Some(crushed) = crushed {
                let before = self.clock.ticks(note.at, self.chance.even(38.0, 55.0));
                let after = self.clock.ticks(note.at, self.chance.even(-6.0, 3.0));
                events.push(Event::on(onset - before, MELODY, crushed, velocity - 16.0));
                events.push(Event::off(onset + after, MELODY, crushed));
            }
        }
        events
    }

    /// When a melody key comes up: joined to the next note, detached from one of the same pitch, and a little
    /// before a written rest.
    fn melody_off(&mut self, note: &Note, onset: i64, next: Option<(&Note, &i64)>) -> i64 {
        let off = match next {
            Some((next, &next_on)) if next.pitch == note.pitch && next.at <= note.end() => {
                next_on - self.clock.ticks(note.at, self.chance.even(40.0, 75.0))
            }
            Some((next, &next_on)) if next.at <= note.end() => {
                next_on + self.clock.ticks(note.at, self.chance.normal(18.0, 14.0, 30.0))
            }
            _ => {
                let early = self.chance.even(15.0, 90.0);
                self.clock.tick(note.end(), -early)
            }
        };
        off.max(onset + self.clock.ticks(note.at, 40.0))
    }

    /// The two melody notes that get a crushed note from a semitone below: the first of the highest, and the
    /// one that opens the last section.
    fn graced(&self) -> Vec<usize> {
        let notes = &self.sheet.melody;
        let top = notes.iter().map(|note| note.pitch).max();
        let peak = notes.iter().position(|note| Some(note.pitch) == top);
        let section = self.sheet.bars.iter().rev().find(|bar| bar.section).map(|bar| bar.start);
        let opening = notes.iter().position(|note| Some(note.at) == section);
        let mut list: Vec<usize> = peak.into_iter().chain(opening).collect();
        // A crushed note needs a key that the note before has left alone.
        list.retain(|&index| {
            index == 0
                || notes.get(index - 1).zip(notes.get(index)).is_some_and(|(a, b)| b.pitch.above(a.pitch) > 1)
        });
        list
    }

    fn chords(&mut self) -> Vec<Event> {
        let grips = self.grips();
        let mut events = Vec::new();
        let pedalled = self.pedalled(&grips);
        for (index, grip) in grips.iter().enumerate() {
            let next = grips.get(index + 1).filter(|next| next.at == grip.until);
            let loud = 55.0 + 0.9 * self.shape(grip.at) + self.chance.normal(0.0, 2.5, 6.0);
            let last = grip.keys.len().saturating_sub(1);
            let joined = self.chance.even(0.0, 1.0) < 0.28;
            let lift = self.chance.even(20.0, 135.0);
            for (part, &(pitch, onset)) in grip.keys.iter().enumerate() {
                let weight = if part == 0 {
                    3.0
                } else if part == last {
                    1.0
                } else {
                    -2.0
                };
                let velocity = loud + weight + self.chance.normal(0.0, 1.5, 4.0);
                events.push(Event::on(onset, CHORDS, pitch, velocity));
                let ragged = self.chance.even(0.0, 15.0);
                let end = next
                    .and_then(|next| next.keys.first())
                    .map_or(self.clock.tick(grip.until, 0.0), |first| first.1);
                let off = if pedalled.contains(&index) {
                    let early = self.chance.even(250.0, 500.0);
                    end - self.clock.ticks(grip.at, early)
                } else if joined && next.is_some() {
                    end + self.clock.ticks(grip.at, 10.0 + ragged * 1.5)
                } else {
                    end - self.clock.ticks(grip.at, lift + ragged)
                };
                // A key that the next grip strikes again must have come up by then.
                let again = next.and_then(|next| next.keys.iter().find(|(other, _)| *other == pitch));
                let limit = again.map_or(i64::MAX, |(_, on)| on - self.clock.ticks(grip.at, 25.0));
                events.push(Event::off(off.min(limit).max(onset + 1), CHORDS, pitch));
            }
            if pedalled.contains(&index) {
                let down = grip.keys.last().map_or(0, |key| key.1);
                events.push(Event::pedal(down + self.clock.ticks(grip.at, 180.0), true));
                let up = next.and_then(|next| next.keys.first()).map(|first| first.1);
                let up =
                    up.map_or(self.clock.tick(grip.until, 400.0), |on| on - self.clock.ticks(grip.at, 30.0));
                events.push(Event::pedal(up, false));
            }
        }
        events
    }

    /// Every grip: one at each change of harmony, and again at each bar line that a chord outlasts.
    fn grips(&mut self) -> Vec<Grip> {
        let sheet = self.sheet;
        let mut places: Vec<Moment> = sheet.chords.iter().map(|change| change.at).collect();
        places.extend(sheet.bars.iter().map(|bar: &Bar| bar.start));
        places.sort_unstable();
        places.dedup();
        let mut grips = Vec::new();
        for (index, &at) in places.iter().enumerate() {
            let until = places.get(index + 1).copied().unwrap_or(sheet.end);
            let Some(now) = sheet.chords.iter().take_while(|change| change.at <= at).last() else { continue };
            let Some(chord) = now.symbol.chord else { continue };
            let room = sheet.melody.iter().filter(|note| note.at < until && note.end() > at);
            let lowest = room.clone().map(|note| note.pitch).min();
            let first = room.min_by_key(|note| note.at).map(|note| note.pitch.class());
            let shape = shape(chord, first, lowest);
            let late = self.chance.normal(0.0, 25.0, 60.0);
            let wide = self.chance.even(0.0, 1.0) < 0.14;
            let spread = if wide { self.chance.even(60.0, 120.0) } else { self.chance.even(5.0, 35.0) };
            let step = spread / (shape.len().max(2) - 1) as f64;
            let keys = shape
                .iter()
                .enumerate()
                .map(|(part, &pitch)| (pitch, self.clock.tick(at, late + step * part as f64 - spread / 2.0)))
                .collect();
            grips.push(Grip { at, until, keys });
        }
        grips
    }

    /// The pedal helps twice: at the end, and where the melody leaves the longest gap before it.
    fn pedalled(&self, grips: &[Grip]) -> Vec<usize> {
        let rest_after = |grip: &Grip| {
            let notes = &self.sheet.melody;
            let before = notes.iter().rev().find(|note| note.at <= grip.at).map_or(grip.at, |note| note.at);
            let after = notes.iter().find(|note| note.at > grip.at).map_or(grip.at, |note| note.at);
            (after - before).0
        };
        let Some(last) = grips.len().checked_sub(1) else { return Vec::new() };
        let longest = grips.iter().take(last).enumerate().rev().max_by_key(|(_, grip)| rest_after(grip));
        longest.map(|(index, _)| index).into_iter().chain([last]).collect()
    }
}

/// A plain left-hand grip: close position above the written bass. Five notes don't fit: the fifth goes where
/// the chord has a ninth, unless the melody has that ninth itself, and then the hand leaves it to the melody.
/// Keys at or above the melody's lowest note are left out.
fn shape(chord: Chord, melody: Option<PitchClass>, lowest: Option<Pitch>) -> Vec<Pitch> {
    let mut classes = chord.classes();
    let ninth = classes.iter().find(|class| chord.degree(*class) == Some(Degree::Ninth));
    let fifth = classes.iter().find(|class| chord.degree(*class) == Some(Degree::Fifth));
    if classes.len() > 4 {
        let spare = if ninth.is_some() && ninth == melody { ninth } else { fifth };
        classes = spare.map_or(classes, |class| classes.without(class));
    }
    let Some(bass) = LOWEST_BASS.next_of_class(chord.bass) else { return Vec::new() };
    let mut keys: Vec<Pitch> = classes
        .iter()
        .filter_map(|class| {
            let key = bass.next_of_class(class)?;
            // A ninth a second above the bass would muddle the grip.
            let above = Some(class) == ninth && key.above(bass) < 3;
            if above { key.transpose(12) } else { Some(key) }
        })
        .filter(|key| key.above(bass) <= REACH && lowest.is_none_or(|lowest| *key < lowest))
        .collect();
    keys.sort_unstable();
    keys.truncate(4);
    keys
}

/// The nearest tick to a moment of the file.
fn written(at: Moment) -> i64 {
    (at.0 * i64::from(PPQ) + TICKS_PER_QUARTER / 2).div_euclid(TICKS_PER_QUARTER)
}

/// The track of tempo, metre and key.
fn conductor(sheet: &Sheet, lead_in: Span) -> Result<Track<'static>, Box<dyn Error>> {
    let mut list: Vec<(i64, MetaMessage<'static>)> = Vec::new();
    let mut before = None;
    for (index, bar) in sheet.bars.iter().enumerate() {
        // The first metre and key hold from the file's beginning, lead-in included.
        let tick = if index == 0 { 0 } else { written(bar.start + lead_in) };
        if before.is_none_or(|b: Bar| b.metre != bar.metre) {
            let power = bar.metre.denominator().trailing_zeros() as u8;
            list.push((tick, MetaMessage::TimeSignature(bar.metre.numerator(), power, 24, 8)));
        }
        if before.is_none_or(|b: Bar| b.key != bar.key) {
            let minor = bar.key.mode == Mode::Minor;
            list.push((tick, MetaMessage::KeySignature(bar.key.fifths() as i8, minor)));
        }
        before = Some(*bar);
    }
    for tempo in &sheet.tempos {
        let tick = if tempo.at == Moment::ZERO { 0 } else { written(tempo.at + lead_in) };
        list.push((tick, MetaMessage::Tempo(u24::new(tempo.micros_per_quarter))));
    }
    list.sort_by_key(|(tick, _)| *tick);
    let mut out = Vec::new();
    let mut now = 0;
    for (tick, message) in list {
        out.push(TrackEvent { delta: delta(now, tick)?, kind: TrackEventKind::Meta(message) });
        now = tick;
    }
    out.push(TrackEvent { delta: 0.into(), kind: TrackEventKind::Meta(MetaMessage::EndOfTrack) });
    Ok(out)
}

fn track(name: &'static str, mut events: Vec<Event>, end: i64) -> Result<Track<'static>, Box<dyn Error>> {
    events.sort_by_key(Event::order);
    let name = MetaMessage::TrackName(name.as_bytes());
    let mut out = vec![TrackEvent { delta: 0.into(), kind: TrackEventKind::Meta(name) }];
    let mut now = 0;
    for event in events {
        let kind = TrackEventKind::Midi { channel: u4::new(event.channel), message: event.message };
        out.push(TrackEvent { delta: delta(now, event.tick)?, kind });
        now = event.tick;
    }
    let end_of_track = TrackEventKind::Meta(MetaMessage::EndOfTrack);
    out.push(TrackEvent { delta: delta(now, end.max(now))?, kind: end_of_track });
    Ok(out)
}

fn delta(from: i64, to: i64) -> Result<u28, Box<dyn Error>> {
    let ticks = u32::try_from(to - from).ok().and_then(u28::try_from);
    ticks
        .ok_or_else(|| format!("{} ticks between two events are more than a file can hold", to - from).into())
}

/// Pseudo-random numbers by splitmix64 (Steele, Lea, Flood 2014): no library function whose last digit could
/// differ between machines takes part.
struct Chance(u64);

impl Chance {
    /// Evenly spread between two values.
    fn even(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^= z >> 31;
        low + (high - low) * ((z >> 11) as f64 / (1u64 << 53) as f64)
    }

    /// Nearly normal (the sum of twelve even numbers), at most `limit` from the mean.
    fn normal(&mut self, mean: f64, deviation: f64, limit: f64) -> f64 {
        let sum: f64 = (0..12).map(|_| self.even(-0.5, 0.5)).sum();
        mean + (sum * deviation).clamp(-limit, limit)
    }
}
