//! A host for the engine's tests: plays a script of keys, transport and settings in blocks of any cut, with
//! a beat position that is rounded and jittered as real hosts' are.
#![allow(dead_code, unreachable_pub, missing_docs, reason = "each test file uses a part of it")]

use figwort_engine::{
    Aim, Block, Chart, ChartBar, ChartNote, Engine, EventSink, Family, Figure, Full, Harmony, Hold,
    InputEvent, InputMessage, OutputEvent, OutputMessage, Pattern, Settings, Step, Thread, Transport, Who,
};
use figwort_theory::{Chord, Key, Kind, Metre, Moment, Pitch, PitchClass, Span, Velocity};
use proptest::prelude::*;

pub const RATE: f64 = 48_000.0;

/// Cases to try: the number given, or what `PROPTEST_CASES` asks for.
pub fn cases(usual: u32) -> u32 {
    std::env::var("PROPTEST_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(usual)
}

/// The transport from a frame on.
#[derive(Clone, Copy, Debug)]
pub struct Leg {
    pub frame: u64,
    pub playing: bool,
    /// Quarter notes at `frame`.
    pub beat: f64,
    pub tempo: f64,
    pub metre: (u8, u8),
    /// Start of some bar, in quarter notes.
    pub bar: f64,
}

impl Leg {
    pub fn stopped(frame: u64) -> Self {
        Self { frame, playing: false, beat: 0.0, tempo: 120.0, metre: (4, 4), bar: 0.0 }
    }

    pub fn playing(frame: u64, beat: f64, tempo: f64) -> Self {
        Self { frame, playing: true, beat, tempo, metre: (4, 4), bar: 0.0 }
    }

    /// What the host tells at a frame of this leg; `jitter` in quarter notes.
    fn at(&self, frame: u64, jitter: f64) -> Transport {
        let beat = self.beat + (frame - self.frame) as f64 * self.tempo / (60.0 * RATE) + jitter;
        let length = f64::from(self.metre.0) * 4.0 / f64::from(self.metre.1);
        let bars = ((beat - self.bar) / length + 1e-9).floor();
        Transport {
            playing: self.playing,
            tempo: Some(self.tempo),
            position: self.playing.then_some(beat),
            bar_start: self.playing.then_some(self.bar + bars * length + jitter),
            metre: Metre::new(self.metre.0, self.metre.1),
        }
    }
}

/// Everything that happens in a test.
#[derive(Clone, Debug)]
pub struct Script {
    pub length: u64,
    pub keys: Vec<(u64, u8, InputMessage)>,
    pub legs: Vec<Leg>,
    pub settings: Vec<(u64, Settings)>,
    pub resets: Vec<u64>,
}

impl Script {
    pub fn new(length: u64, settings: Settings) -> Self {
        Self {
            length,
            keys: vec![],
            legs: vec![Leg::playing(0, 0.0, 120.0)],
            settings: vec![(0, settings)],
            resets: vec![],
        }
    }

    pub fn on(mut self, frame: u64, key: u8) -> Self {
        self.keys.push((frame, 0, on(key, 80)));
        self
    }

    pub fn off(mut self, frame: u64, key: u8) -> Self {
        self.keys.push((frame, 0, off(key)));
        self
    }

    pub fn chord(mut self, frame: u64, until: u64, keys: &[u8]) -> Self {
        for key in keys {
            self.keys.push((frame, 0, on(*key, 80)));
            self.keys.push((until, 0, off(*key)));
        }
        self
    }
}

pub fn on(key: u8, velocity: u8) -> InputMessage {
    InputMessage::NoteOn { pitch: Pitch::new(key), velocity: Velocity::new(i32::from(velocity)) }
}

pub fn off(key: u8) -> InputMessage {
    InputMessage::NoteOff { pitch: Pitch::new(key) }
}

/// How a script is cut into blocks.
#[derive(Clone, Debug)]
pub struct Cut {
    /// Block lengths, used in turn.
    pub lengths: Vec<u32>,
    /// Seed of the jitter; 0 for none.
    pub jitter: u64,
    /// Room in the sink for each block.
    pub room: usize,
}

impl Cut {
    pub fn every(length: u32) -> Self {
        Self { lengths: vec![length], jitter: 0, room: usize::MAX }
    }
}

pub type Played = Vec<(u64, OutputMessage)>;

struct Recorder<'a> {
    played: &'a mut Played,
    start: u64,
    frames: u32,
    room: usize,
    last: u32,
}

impl EventSink for Recorder<'_> {
    fn push(&mut self, event: OutputEvent) -> Result<(), Full> {
        assert!(event.offset < self.frames, "event at {} of a block of {}", event.offset, self.frames);
        assert!(event.offset >= self.last, "events out of order");
        if self.room == 0 {
            return Err(Full);
        }
        self.room -= 1;
        self.last = event.offset;
        self.played.push((self.start + u64::from(event.offset), event.message));
        Ok(())
    }
}

/// Plays a script. Then the player lifts every key and pedal and turns bypass on, after which nothing may
/// sound, reset or not.
pub fn play(script: &Script, cut: &Cut, chart: Option<&OwnedChart>) -> Played {
    let mut engine = Engine::new(RATE);
    let mut played = play_on(&mut engine, script, cut, chart);
    let last = script.settings.last().expect("settings").1;
    let mut input = vec![];
    for channel in 0..16 {
        input.extend((0..128).map(|key| InputEvent { offset: 0, channel, message: off(key) }));
        input.push(InputEvent { offset: 0, channel, message: InputMessage::Sustain(false) });
    }
    let mut finish = |engine: &mut Engine, frame: u64, input: &[InputEvent], settings: Settings| {
        let mut sink = Recorder { played: &mut played, start: frame, frames: 1, room: usize::MAX, last: 0 };
        let transport = script.legs.last().expect("a leg").at(frame.max(script.length), 0.0);
        let figures = book();
        let block =
            Block { frames: 1, transport, input, settings: &settings, figures: &figures, chart: None };
        engine.process(block, &mut sink);
        played.len()
    };
    let lifted = finish(&mut engine, script.length, &input, Settings { bypass: true, ..last });
    engine.reset();
    let reset = finish(&mut engine, script.length + 1, &[], last);
    assert_eq!(lifted, reset, "something sounded on after every key was lifted: {:?}", played.last());
    played
}

pub fn play_on(engine: &mut Engine, script: &Script, cut: &Cut, chart: Option<&OwnedChart>) -> Played {
    let mut keys = script.keys.clone();
    keys.sort_by_key(|(frame, ..)| *frame);
    let mut edges: Vec<u64> = script.legs.iter().map(|l| l.frame).collect();
    edges.extend(script.settings.iter().map(|(frame, _)| *frame));
    edges.extend(script.resets.iter().copied());
    edges.sort_unstable();
    let figures = book();
    let chart = chart.map(OwnedChart::chart);
    let mut jitter = cut.jitter;
    let mut played = vec![];
    let (mut frame, mut next_key, mut n) = (0, 0, 0);
    while frame < script.length {
        let wanted = u64::from(cut.lengths[n % cut.lengths.len()]);
        n += 1;
        let edge = edges.iter().copied().find(|e| *e > frame).unwrap_or(script.length);
        let end = (frame + wanted).min(edge).min(script.length);
        let leg = script.legs.iter().rev().find(|l| l.frame <= frame).expect("a leg from the first frame");
        let settings = script.settings.iter().rev().find(|(f, _)| *f <= frame).expect("settings").1;
        if script.resets.contains(&frame) {
            engine.reset();
        }
        let mut input = vec![];
        while next_key < keys.len() && keys[next_key].0 < end {
            let (at, channel, message) = keys[next_key];
            input.push(InputEvent { offset: (at - frame) as u32, channel, message });
            next_key += 1;
        }
        // A fresh draw for each block, at most a millionth of a quarter.
        jitter = jitter.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let amount =
            if cut.jitter == 0 { 0.0 } else { (jitter >> 40) as f64 / (1u64 << 24) as f64 * 2e-6 - 1e-6 };
        let transport = leg.at(frame, amount);
        let frames = (end - frame) as u32;
        let mut sink = Recorder { played: &mut played, start: frame, frames, room: cut.room, last: 0 };
        engine.process(
            Block {
                frames,
                transport,
                input: &input,
                settings: &settings,
                figures: &figures,
                chart: chart.as_ref(),
            },
            &mut sink,
        );
        frame = end;
    }
    played
}

/// Checks the promises on notes: each on has one off, none begins while it sounds. Returns the note-ons.
pub fn check_balance(played: &Played) -> usize {
    let mut sounding = [None; 128];
    let mut ons = 0;
    for (frame, message) in played {
        match *message {
            OutputMessage::NoteOn { hand, channel, pitch, .. } => {
                let slot: &mut Option<_> = &mut sounding[pitch.index()];
                assert!(slot.is_none(), "{pitch} struck at {frame} while it sounds");
                *slot = Some((hand, channel));
                ons += 1;
            }
            OutputMessage::NoteOff { hand, channel, pitch } => {
                let ended = sounding[pitch.index()].take();
                assert_eq!(ended, Some((hand, channel)), "note-off of {pitch} at {frame} has no note-on");
            }
            OutputMessage::Pedal(_) | OutputMessage::Other { .. } => {}
        }
    }
    for (key, note) in sounding.iter().enumerate() {
        assert!(note.is_none(), "key {key} hangs");
    }
    ons
}

/// A small figure book: figures of each family in three metres.
pub fn book() -> Vec<Figure> {
    let eighth = Span::EIGHTH;
    let metres = [Metre::new(4, 4), Metre::new(3, 4), Metre::new(6, 8)];
    let figure = |id, family, steps: &dyn Fn(Metre) -> Vec<Step>| Figure {
        id,
        family,
        weight: 50,
        patterns: metres
            .iter()
            .flatten()
            .map(|metre| Pattern {
                metre: *metre,
                bars: 1,
                lent: false,
                steps: steps(*metre).into_iter().collect(),
            })
            .collect(),
    };
    let step = |at: Span, who, hold| Step { at, who, hold, strength: 0 };
    vec![
        figure(1, Family::BrokenChord, &|metre| {
            let count = metre.bar().0 / eighth.0;
            let mut steps = vec![step(Span::ZERO, Who::Bass, Hold::Through)];
            steps.extend((1..count).map(|n| step(eighth * n, Who::Inner(n as u8), Hold::Through)));
            steps
        }),
        figure(2, Family::RepeatedChord, &|metre| {
            let count = metre.bar().0 / eighth.0;
            let mut steps = vec![step(Span::ZERO, Who::Bass, Hold::For(metre.bar()))];
            steps.extend((1..count).map(|n| step(eighth * n, Who::Upper, Hold::For(eighth))));
            steps
        }),
        figure(3, Family::BassLine, &|metre| {
            let bar = metre.bar();
            vec![
                step(Span::ZERO, Who::Bass, Hold::For(bar - eighth * 2)),
                step(Span::ZERO, Who::Upper, Hold::Through),
                step(bar - eighth * 2, Who::Line(Thread::Bass, Aim::Passing), Hold::For(eighth)),
                step(bar - eighth, Who::Line(Thread::Bass, Aim::Tone), Hold::For(eighth)),
            ]
        }),
        figure(4, Family::BassLine, &|metre| {
            let beats = metre.bar().0 / metre.beat().0;
            let mut steps =
                vec![step(Span::ZERO, Who::Bass, Hold::Through), step(Span::ZERO, Who::Upper, Hold::Through)];
            steps.extend((1..beats).map(|n| {
                let aim = if n + 1 == beats { Aim::Approach } else { Aim::Step };
                step(metre.beat() * n, Who::Line(Thread::Bass, aim), Hold::For(metre.beat()))
            }));
            steps
        }),
        figure(5, Family::InnerLine, &|metre| {
            let count = metre.bar().0 / eighth.0;
            let mut steps =
                vec![step(Span::ZERO, Who::Bass, Hold::Through), step(Span::ZERO, Who::Upper, Hold::Through)];
            steps.extend((2..count).map(|n| {
                let thread = if n % 2 == 0 { Thread::Inner } else { Thread::Top };
                step(eighth * n, Who::Line(thread, Aim::Down), Hold::Through)
            }));
            steps
        }),
        figure(6, Family::RepeatedChord, &|metre| {
            vec![
                step(Span::ZERO, Who::Bass, Hold::Through),
                step(eighth, Who::Upper, Hold::For(eighth)),
                step(metre.bar() - eighth, Who::Next, Hold::Over),
            ]
        }),
        figure(7, Family::Block, &|metre| {
            vec![
                step(Span::ZERO, Who::Bass, Hold::Through),
                step(metre.beat().fraction(1, 1), Who::Upper, Hold::Through),
            ]
        }),
        figure(8, Family::Ending, &|metre| {
            vec![
                step(Span::ZERO, Who::All, Hold::Through),
                step(Span::ZERO, Who::BelowBass, Hold::Through),
                step(metre.beat(), Who::Climb(1), Hold::Through),
                step(metre.beat() + eighth, Who::Climb(2), Hold::Through),
            ]
        }),
    ]
}

/// The same without lines that step on every beat, for counting strikes of chords.
pub fn chords_only() -> Vec<Figure> {
    book().into_iter().take(3).collect()
}

/// A chart that owns its parts.
#[derive(Clone, Debug, Default)]
pub struct OwnedChart {
    pub harmonies: Vec<Harmony>,
    pub melody: Vec<ChartNote>,
    pub bars: Vec<ChartBar>,
}

impl OwnedChart {
    pub fn chart(&self) -> Chart<'_> {
        Chart { harmonies: &self.harmonies, melody: &self.melody, bars: &self.bars }
    }
}

/// Charts in one metre: a chord or two in a bar, and a melody of eighths to whole bars.
pub fn charts(bars: usize) -> impl Strategy<Value = OwnedChart> {
    let bar = (prop::collection::vec((0..12i32, 0..Kind::ALL.len(), any::<bool>()), 1..3), 0..4usize);
    let note = (57..84u8, 1..9i64, 0..4u8);
    let metre = prop::sample::select(vec![(4u8, 4u8), (3, 4), (6, 8)]);
    (prop::collection::vec(bar, bars), prop::collection::vec(note, bars * 3), metre).prop_map(
        |(bars, notes, (numerator, denominator))| {
            let metre = Metre::new(numerator, denominator).expect("a metre");
            let mut chart = OwnedChart::default();
            for (n, (chords, section)) in bars.iter().enumerate() {
                let start = Moment::ZERO + metre.bar() * n as i64;
                chart.bars.push(ChartBar {
                    start,
                    length: metre.bar(),
                    metre,
                    key: Key::default(),
                    section: *section == 0,
                });
                for (half, (root, kind, none)) in chords.iter().enumerate() {
                    let chord = Chord::new(PitchClass::new(*root), Kind::ALL[*kind]);
                    let at = start + metre.bar().fraction(half as i64, 2);
                    let silent = *none && half == 1;
                    chart.harmonies.push(Harmony { at, chord: (!silent).then_some(chord) });
                }
            }
            let end = Moment::ZERO + metre.bar() * bars.len() as i64;
            let mut at = Moment::ZERO;
            for (key, eighths, rest) in notes {
                let length = Span::EIGHTH * eighths;
                if rest > 0 && at + length <= end {
                    let pitch = Pitch::new(key);
                    chart.melody.push(ChartNote { at, length, pitch, velocity: Velocity::new(80) });
                }
                at += length;
            }
            chart
        },
    )
}
