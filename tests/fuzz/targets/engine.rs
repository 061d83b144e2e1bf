//! The engine's event stream: any keys, pedals, transports, settings, block lengths, sinks that fill up and charts.
//! Each note-on has one note-off, no pitch begins while it sounds, offsets never fall, nothing panics.
#![no_main]

use std::sync::LazyLock;

use figwort_engine::{
    Block, Chart, ChartBar, ChartNote, Colour, Engine, EventSink, Full, Hand, Harmony, InputEvent,
    InputMessage, OutputEvent, OutputMessage, Settings, Source, Start, Transport,
};
use figwort_preset::{Library, ResolvedManner};
use figwort_theory::{Chord, Key, Kind, Metre, Mode, Moment, Pitch, PitchClass, Span, Velocity};
use libfuzzer_sys::arbitrary::{self, Arbitrary};
use libfuzzer_sys::fuzz_target;

/// Most blocks of one run, and frames of one block.
const MAX_BLOCKS: usize = 200;
const MAX_FRAMES: u32 = 48_000;

static MANNERS: LazyLock<Vec<ResolvedManner>> = LazyLock::new(|| {
    let library = Library::factory();
    library.manners().filter_map(|entry| library.manner(entry.name).ok()).collect()
});

#[derive(Arbitrary, Debug)]
struct Run {
    rate: u32,
    chart: Written,
    blocks: Vec<Given>,
}

#[derive(Arbitrary, Debug)]
struct Written {
    harmonies: Vec<(u16, u8, u8, u8)>,
    melody: Vec<(u16, u16, u8, u8)>,
    bars: Vec<(u8, u8, i8, bool)>,
}

#[derive(Arbitrary, Debug)]
struct Given {
    frames: u32,
    room: u8,
    reset: bool,
    time: Time,
    keys: Vec<Played>,
    chart: bool,
    change: Option<Change>,
}

#[derive(Arbitrary, Debug)]
enum Time {
    /// The host goes on from where it was.
    On,
    Stopped,
    /// It jumps to a sixteenth of a quarter.
    At(u16, u16, u8, u8),
    /// Whatever it says.
    Any {
        playing: bool,
        tempo: Option<f64>,
        position: Option<f64>,
        bar: Option<f64>,
        metre: Option<(u8, u8)>,
    },
}

#[derive(Arbitrary, Debug)]
enum Played {
    On(u16, u8, u8, u8),
    Off(u16, u8, u8),
    Pedal(u16, u8, bool),
    Other(u16, u8, [u8; 3]),
    /// A chord over a bass: steps upwards.
    Chord(u16, u8, u8, [u8; 4]),
}

#[derive(Arbitrary, Debug)]
struct Change {
    manner: u8,
    source: u8,
    keys: (u8, u8),
    flags: u8,
    elaboration: f32,
    wait: f32,
    space: f32,
    bytes: [u8; 4],
    colour: u8,
    tempo: f64,
    seed: u32,
}

/// What came out, checked as it comes.
struct Ear {
    sounding: [Option<(Hand, u8)>; 128],
    frames: u32,
    last: u32,
    room: u32,
    ons: u64,
    offs: u64,
}

impl EventSink for Ear {
    fn push(&mut self, event: OutputEvent) -> Result<(), Full> {
        assert!(event.offset < self.frames.max(1), "{event:?} in a block of {}", self.frames);
        assert!(event.offset >= self.last, "events out of order");
        if self.room == 0 {
            return Err(Full);
        }
        self.room -= 1;
        self.last = event.offset;
        match event.message {
            OutputMessage::NoteOn { hand, channel, pitch, .. } => {
                let before = self.sounding[pitch.index()].replace((hand, channel));
                assert!(before.is_none(), "{pitch} struck while it sounds");
                self.ons += 1;
            }
            OutputMessage::NoteOff { hand, channel, pitch } => {
                let before = self.sounding[pitch.index()].take();
                assert_eq!(before, Some((hand, channel)), "an end of {pitch} without its beginning");
                self.offs += 1;
            }
            OutputMessage::Pedal(_) | OutputMessage::Other { .. } => {}
        }
        Ok(())
    }
}

fuzz_target!(|run: Run| {
    let rate = f64::from(run.rate % 192_000 + 1000);
    let (harmonies, melody, bars) = chart(&run.chart);
    let chart = Chart { harmonies: &harmonies, melody: &melody, bars: &bars };
    let mut engine = Engine::new(rate);
    let mut ear = Ear { sounding: [None; 128], frames: 0, last: 0, room: 0, ons: 0, offs: 0 };
    let mut settings = Settings::default();
    let mut manner = 0;
    let mut transport = Transport::default();
    for block in run.blocks.iter().take(MAX_BLOCKS) {
        if let Some(change) = &block.change {
            settings = changed(change, settings);
            manner = usize::from(change.manner) % MANNERS.len();
            settings.manner = MANNERS[manner].manner;
        }
        let frames = block.frames % MAX_FRAMES;
        transport = timed(&block.time, transport);
        if block.reset {
            engine.reset();
        }
        let input: Vec<InputEvent> = block.keys.iter().take(200).flat_map(events).collect();
        ear.frames = frames;
        ear.last = 0;
        // Mostly there is room for everything.
        ear.room = if block.room < 8 { u32::from(block.room) } else { u32::MAX };
        let given = Block {
            frames,
            transport,
            input: &input,
            settings: &settings,
            figures: &MANNERS[manner].figures,
            chart: block.chart.then_some(&chart),
        };
        engine.process(given, &mut ear);
        if let Some(position) = &mut transport.position {
            *position += f64::from(frames) / rate * transport.tempo.unwrap_or(120.0) / 60.0;
        }
        let shown: u32 = engine.snapshot().sounding.iter().map(|bits| bits.count_ones()).sum();
        assert!(shown <= 128);
    }
    // Every key lifted, then bypass and reset: nothing sounds on.
    let input: Vec<InputEvent> = (0..16)
        .flat_map(|channel| {
            let lifted = (0..128).map(move |key| InputMessage::NoteOff { pitch: Pitch::new(key) });
            let messages = lifted.chain([InputMessage::Sustain(false)]);
            messages.map(move |message| InputEvent { offset: 0, channel, message })
        })
        .collect();
    settings.bypass = true;
    for input in [&input[..], &[]] {
        (ear.frames, ear.last, ear.room) = (1, 0, u32::MAX);
        let given = Block {
            frames: 1,
            transport,
            input,
            settings: &settings,
            figures: &MANNERS[manner].figures,
            chart: None,
        };
        engine.process(given, &mut ear);
        engine.reset();
    }
    assert_eq!(ear.ons, ear.offs);
    assert!(ear.sounding.iter().all(Option::is_none));
});

fn pitch(key: u8) -> Pitch {
    Pitch::new(key % 128)
}

fn metre(upper: u8, power: u8) -> Metre {
    Metre::new(upper % 16 + 1, 1 << (power % 5)).unwrap_or(Metre::FOUR_FOUR)
}

fn chart(written: &Written) -> (Vec<Harmony>, Vec<ChartNote>, Vec<ChartBar>) {
    let mut at = Moment::ZERO;
    let mut bars = Vec::new();
    for (upper, power, fifths, section) in written.bars.iter().take(64) {
        let metre = metre(*upper, *power);
        let key = Key::from_fifths(i32::from(fifths % 8), if *section { Mode::Minor } else { Mode::Major });
        bars.push(ChartBar { start: at, length: metre.bar(), metre, key, section: *section });
        at = at + metre.bar();
    }
    let mut harmonies = Vec::new();
    let mut at = Moment::ZERO;
    for (step, root, kind, bass) in written.harmonies.iter().take(64) {
        let kinds = Kind::ALL;
        let kind = kinds[usize::from(*kind) % kinds.len()];
        let chord =
            Chord::new(PitchClass::new(i32::from(*root)), kind).over(PitchClass::new(i32::from(*bass)));
        harmonies.push(Harmony { at, chord: (root % 13 != 12).then_some(chord) });
        at = at + Span(i64::from(*step) * 8);
    }
    let mut melody = Vec::new();
    let mut at = Moment::ZERO;
    for (length, gap, key, velocity) in written.melody.iter().take(64) {
        let length = Span(i64::from(*length) * 4 + 1);
        let velocity = Velocity::new(i32::from(*velocity));
        melody.push(ChartNote { at, length, pitch: pitch(*key), velocity });
        at = at + length + Span(i64::from(*gap));
    }
    (harmonies, melody, bars)
}

fn timed(time: &Time, before: Transport) -> Transport {
    match *time {
        Time::On => before,
        Time::Stopped => Transport { playing: false, ..before },
        Time::At(place, tempo, upper, power) => {
            let metre = metre(upper, power);
            let position = f64::from(place) / 16.0;
            let bar = metre.bar().in_quarters();
            Transport {
                playing: true,
                tempo: Some(f64::from(tempo % 600) + 1.0),
                position: Some(position),
                bar_start: Some((position / bar).floor() * bar),
                metre: Some(metre),
            }
        }
        Time::Any { playing, tempo, position, bar, metre } => Transport {
            playing,
            tempo,
            position,
            bar_start: bar,
            metre: metre.and_then(|(upper, lower)| Metre::new(upper, lower)),
        },
    }
}

fn events(played: &Played) -> Vec<InputEvent> {
    let event = |offset: u16, channel: u8, message| InputEvent {
        offset: offset.into(),
        channel: channel % 16,
        message,
    };
    match *played {
        Played::On(offset, channel, key, velocity) => {
            let velocity = Velocity::new(i32::from(velocity));
            vec![event(offset, channel, InputMessage::NoteOn { pitch: pitch(key), velocity })]
        }
        Played::Off(offset, channel, key) => {
            vec![event(offset, channel, InputMessage::NoteOff { pitch: pitch(key) })]
        }
        Played::Pedal(offset, channel, down) => vec![event(offset, channel, InputMessage::Sustain(down))],
        Played::Other(offset, channel, bytes) => vec![event(offset, channel, InputMessage::Other(bytes))],
        Played::Chord(offset, channel, bass, steps) => {
            let mut key = 30 + bass % 30;
            let mut keys = vec![key];
            for step in steps {
                key += step % 8 + 1;
                keys.push(key);
            }
            let velocity = Velocity::new(70);
            let message = |key| InputMessage::NoteOn { pitch: pitch(key), velocity };
            keys.into_iter().map(|key| event(offset, channel, message(key))).collect()
        }
    }
}

fn changed(change: &Change, before: Settings) -> Settings {
    let flag = |place: u8| change.flags >> place & 1 == 1;
    let [reach, clarity, level, weight] = change.bytes;
    let source = match change.source % 6 {
        0 => Source::Split(pitch(change.keys.0)),
        1 => Source::Channels { melody: change.keys.0 % 17, harmony: change.keys.1 % 17 },
        2 => Source::Hands,
        3 => Source::ChartHarmony,
        4 => Source::ChartMelody,
        _ => Source::Chart,
    };
    Settings {
        bypass: flag(0),
        source,
        latch: flag(1),
        elaboration: change.elaboration,
        wait: change.wait,
        start: if flag(2) { Start::ByChance } else { Start::AfterWait },
        space: change.space,
        reach,
        clarity: clarity as i8,
        colour: [Colour::Plain, Colour::FromMelody, Colour::Added][usize::from(change.colour % 3)],
        one_player: flag(3),
        level: level as i8,
        pedal: flag(4),
        dry: flag(5),
        finish: flag(6) && weight % 4 == 0,
        tempo: change.tempo,
        seed: change.seed,
        ..before
    }
}
