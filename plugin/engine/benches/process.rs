//! Prints what the engine costs: microseconds per 64-frame block, idle and playing, and nanoseconds per
//! voicing. `cargo bench -p figwort-engine` runs it; `cargo test` only builds it.
#![allow(clippy::print_stdout, reason = "printing is what it is for")]

use std::time::Instant;

use figwort_engine::voicing::search::search;
use figwort_engine::voicing::{Request, Voicing, voice};
use figwort_engine::{
    Block, Engine, EventSink, Family, Figure, Full, Hold, InputEvent, InputMessage, OutputEvent, Pattern,
    Rung, Settings, Step, Transport, Who,
};
use figwort_theory::{Chord, Key, Kind, Metre, Pitch, PitchClass, Span, Velocity};

const FRAMES: u32 = 64;
const RATE: f64 = 48_000.0;

struct Counter(u64);

impl EventSink for Counter {
    fn push(&mut self, _event: OutputEvent) -> Result<(), Full> {
        self.0 += 1;
        Ok(())
    }
}

fn book() -> Vec<Figure> {
    let step = |at: i64, who| Step { at: Span::EIGHTH * at, who, hold: Hold::For(Span::EIGHTH), strength: 0 };
    let figure = |id, family, who: fn(i64) -> Who| Figure {
        id,
        family,
        weight: 50,
        patterns: [Pattern {
            metre: Metre::FOUR_FOUR,
            bars: 1,
            lent: false,
            steps: (0..8).map(|n| step(n, if n == 0 { Who::Bass } else { who(n) })).collect(),
        }]
        .into_iter()
        .collect(),
    };
    vec![
        figure(1, Family::BrokenChord, |n| Who::Inner(n as u8)),
        figure(2, Family::RepeatedChord, |_| Who::Upper),
    ]
}

/// Ten minutes of a player: a chord each bar, a melody that runs for a bar and stands for one; `dense` plays
/// chords on every beat and sixteenths above.
fn play(name: &str, dense: bool, silent: bool) {
    let settings = Settings { space: 0.0, ..Settings::default() };
    let figures = book();
    let mut engine = Engine::new(RATE);
    let mut sink = Counter(0);
    let blocks = (RATE * 600.0) as u64 / u64::from(FRAMES);
    let mut micros = Vec::with_capacity(blocks as usize);
    let grid = if dense { 6_000 } else { 12_000 };
    let chord_every = if dense { 24_000 } else { 96_000 };
    let roots = [48u8, 45, 50, 43];
    for block in 0..blocks {
        let start = block * u64::from(FRAMES);
        let end = start + u64::from(FRAMES);
        let mut input = Vec::new();
        let mut send = |at: u64, message| {
            input.push(InputEvent { offset: (at - start) as u32, channel: 0, message });
        };
        let key = |n: u64| 72 + (n * 7 % 12) as u8;
        if !silent {
            for at in (start..end).filter(|at| at.is_multiple_of(chord_every)) {
                let n = at / chord_every;
                let chord = |n: u64| [0, 4, 7, 10].map(|step| roots[n as usize % 4] + step);
                if n > 0 {
                    for key in chord(n - 1) {
                        send(at, InputMessage::NoteOff { pitch: Pitch::new(key) });
                    }
                }
                for key in chord(n) {
                    send(at, InputMessage::NoteOn { pitch: Pitch::new(key), velocity: Velocity::new(80) });
                }
            }
            for at in (start..end).filter(|at| at.is_multiple_of(grid)) {
                let n = at / grid;
                if dense || (at / 96_000).is_multiple_of(2) {
                    send(at, InputMessage::NoteOff { pitch: Pitch::new(key(n.wrapping_sub(1))) });
                    send(at, InputMessage::NoteOn { pitch: Pitch::new(key(n)), velocity: Velocity::new(90) });
                }
            }
        }
        let position = start as f64 / 24_000.0;
        let transport = Transport {
            playing: true,
            tempo: Some(120.0),
            position: Some(position),
            bar_start: Some((position / 4.0).floor() * 4.0),
            metre: Some(Metre::FOUR_FOUR),
        };
        let block = Block {
            frames: FRAMES,
            transport,
            input: &input,
            settings: &settings,
            figures: &figures,
            chart: None,
        };
        let before = Instant::now();
        engine.process(block, &mut sink);
        micros.push(before.elapsed().as_nanos() as f64 / 1_000.0);
    }
    report(name, "µs per block", &mut micros);
    println!("{:24} {} events in ten minutes", "", sink.0);
}

fn report(name: &str, unit: &str, values: &mut [f64]) {
    values.sort_by(f64::total_cmp);
    let at = |share: f64| values[((values.len() - 1) as f64 * share) as usize];
    println!(
        "{name:24} median {:8.3}  p99 {:8.3}  p99.9 {:8.3}  max {:8.3}  {unit}",
        at(0.5),
        at(0.99),
        at(0.999),
        at(1.0)
    );
}

/// Chords as they follow one another in songs, from the tonic: root, kind, melody above the tonic's C5.
const SONG: [(i32, Kind, i32); 16] = [
    (0, Kind::Major, 4),
    (9, Kind::MinorSeventh, 4),
    (2, Kind::MinorSeventh, 5),
    (7, Kind::Dominant, 11),
    (4, Kind::MinorSeventh, 7),
    (9, Kind::Dominant, 1),
    (2, Kind::Minor, 9),
    (7, Kind::DominantNinth, 5),
    (5, Kind::MajorSeventh, 9),
    (5, Kind::MinorSixth, 8),
    (0, Kind::Major, 7),
    (11, Kind::HalfDiminished, 5),
    (4, Kind::Dominant, 8),
    (9, Kind::Minor, 0),
    (7, Kind::SuspendedFourth, 2),
    (7, Kind::Dominant, 2),
];

/// Times every request five times, each after the voicing before it, and takes the quickest: what is left is
/// the request's own cost and not what else the machine did.
fn time_voicings(name: &str, count: i32, request: impl Fn(i32) -> Request) {
    let mut micros = vec![];
    let mut nodes = vec![];
    let mut previous: Option<Voicing> = None;
    for n in 0..count {
        let request = request(n);
        let mut found = Voicing::default();
        let quickest = (0..5).map(|_| {
            let before = Instant::now();
            found = voice(&request, previous.as_ref());
            before.elapsed().as_nanos() as f64 / 1_000.0
        });
        micros.push(quickest.fold(f64::MAX, f64::min));
        nodes.push(f64::from(
            search(&request, request.parts, request.chord.guide_tones(), previous.as_ref()).nodes,
        ));
        previous = Some(found);
    }
    report(name, "µs", &mut micros);
    report("  one search", "nodes", &mut nodes);
}

fn voicings() {
    let request = |n: i32, chord: Chord, melody: Option<Pitch>| Request {
        chord,
        key: Key::default(),
        melody,
        sung: None,
        ceiling: melody,
        summit: None,
        register: melody,
        tension: (n * 11 % 100) as u8,
        lenient: false,
        parts: 3 + n as usize % 4,
        rung: if n % 5 == 0 { Rung::Spaced } else { Rung::Shared },
        reach: 14,
        clarity: 0,
        one_player: n % 2 == 0,
        weights: Default::default(),
        bass_range: (Pitch::new(36), Pitch::new(55)),
        kept_bass: None,
        grip: Default::default(),
    };
    time_voicings("voicing, mixed chords", 20_000, |n| {
        let chord = Chord::new(PitchClass::new(n * 5), Kind::ALL[n as usize % Kind::ALL.len()]);
        request(n, chord, (n % 3 > 0).then(|| Pitch::new(62 + (n * 7 % 24) as u8)))
    });
    // In every key, in four octaves' places of the melody, with 3 to 6 parts.
    time_voicings("voicing, a song's chords", 16 * 12 * 4 * 4, |n| {
        let (root, kind, above) = SONG[n as usize % SONG.len()];
        let (key, octave, parts) = (n / 16 % 12, n / 192 % 4, n / 768);
        let chord = Chord::new(PitchClass::new(root + key), kind);
        let melody = Pitch::new((60 + (above + key) % 12 + [0, 5, 12, 17][octave as usize]) as u8);
        Request {
            parts: 3 + parts as usize,
            rung: Rung::Shared,
            one_player: true,
            ..request(n, chord, Some(melody))
        }
    });
}

fn main() {
    // Cargo's tests start it, too, without this.
    if !std::env::args().any(|argument| argument == "--bench") {
        return;
    }
    println!("size of an engine: {} KiB", size_of::<Engine>() / 1024);
    play("idle", false, true);
    play("playing", false, false);
    play("dense", true, false);
    voicings();
}
