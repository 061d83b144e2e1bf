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

fn voicings() {
    let mut micros = vec![];
    let mut nodes = vec![];
    let mut previous: Option<Voicing> = None;
    for n in 0..20_000i32 {
        let chord = Chord::new(PitchClass::new(n * 5), Kind::ALL[n as usize % Kind::ALL.len()]);
        let melody = (n % 3 > 0).then(|| Pitch::new(62 + (n * 7 % 24) as u8));
        let request = Request {
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
        let before = Instant::now();
        let found = voice(&request, previous.as_ref());
        micros.push(before.elapsed().as_nanos() as f64 / 1_000.0);
        nodes.push(f64::from(
            search(&request, request.parts, request.chord.guide_tones(), previous.as_ref()).nodes,
        ));
        previous = Some(found);
    }
    report("voicing, mixed chords", "µs", &mut micros);
    report("  one search", "nodes", &mut nodes);
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
