//! How the cost grows: with notes, block size, instances and the length of the sheet. What else the machine does is
//! kept out: the same is played several times and the quickest counts, or the processor's time.

use anyhow::Result;
use figwort_engine::{
    Block, Chart, ChartBar, ChartNote, Engine, EventSink, Figure, Full, Harmony, InputEvent, InputMessage,
    OutputEvent, Settings, Source, Transport,
};
use figwort_preset::Library;
use figwort_theory::{Chord, Key, Kind, Metre, Moment, Pitch, PitchClass, Span, Velocity};
use tests::host::Send;
use tests::stopwatch::timed;

use super::at;
use super::hosted::{Played, least, micros, own};
use super::load::{LOADS, Load, RATE, TEMPO};
use super::plot::{Line, Plot};

struct Counter(u64);

impl EventSink for Counter {
    fn push(&mut self, _event: OutputEvent) -> Result<(), Full> {
        self.0 += 1;
        Ok(())
    }
}

/// All plots, named.
pub(crate) fn plots() -> Result<Vec<(&'static str, Vec<u8>)>> {
    Ok(vec![
        ("cost-by-notes.png", by_notes().png()?),
        ("cost-by-block.png", by_block().png()?),
        ("cost-by-instances.png", by_instances().png()?),
        ("cost-by-sheet.png", by_sheet().png()?),
    ])
}

/// Mean and 99.9th percentile.
fn summed_up(mut costs: Vec<f64>) -> (f64, f64) {
    costs.sort_by(f64::total_cmp);
    (costs.iter().sum::<f64>() / costs.len() as f64, at(&costs, 0.999))
}

fn by_notes() -> Plot {
    let mut lines = [Line::new("through, mean"), Line::new("Figwort, mean"), Line::new("Figwort, p99.9")];
    for notes in [0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0] {
        let load = Load { name: "", chord: Some(1.0), notes, stands: false };
        let seconds = notes * TEMPO / 60.0;
        let [floor, ours] =
            ["FIGWORT_THROUGH", "FIGWORT_CLAP"].map(|plugin| summed_up(own(plugin, &load, 20_000, 64)));
        lines[0].add(seconds, floor.0);
        lines[1].add(seconds, ours.0);
        lines[2].add(seconds, ours.1);
    }
    Plot {
        title: "64-frame block, melody notes a second over chords on every beat",
        x: "notes/s",
        y: "µs",
        lines: lines.into(),
    }
}

fn by_block() -> Plot {
    let mut lines = [Line::new("through, mean"), Line::new("Figwort, mean")];
    for frames in [16u64, 32, 64, 128, 256, 512, 1_024, 2_048, 4_096, 8_192] {
        let blocks = 2_000_000 / frames;
        for (line, plugin) in lines.iter_mut().zip(["FIGWORT_THROUGH", "FIGWORT_CLAP"]) {
            let cost = summed_up(own(plugin, &LOADS[1], blocks, frames)).0;
            line.add(frames as f64, cost * 1_000.0 / frames as f64);
        }
    }
    Plot {
        title: "A thousand frames of playing, by the frames of a block",
        x: "frames",
        y: "µs",
        lines: lines.into(),
    }
}

fn by_instances() -> Plot {
    let mut line = Line::new("all of them, mean of a round");
    for count in [1usize, 2, 4, 8, 16, 32, 64] {
        let mut players: Vec<Played> = (0..count).map(|_| Played::new("FIGWORT_CLAP")).collect();
        let mut rounds = vec![0.0; 4_000];
        for round in &mut rounds {
            let played = players.iter_mut().flat_map(|player| player.timed(&LOADS[2], 1, 64));
            *round = played.map(|spent| micros(spent.processor)).sum();
        }
        line.add(count as f64, summed_up(rounds).0);
    }
    Plot {
        title: "Dense playing, one 64-frame block of each instance",
        x: "instances",
        y: "µs",
        lines: vec![line],
    }
}

/// A made-up sheet of so many bars.
struct Sheet {
    harmonies: Vec<Harmony>,
    melody: Vec<ChartNote>,
    bars: Vec<ChartBar>,
}

impl Sheet {
    fn new(bars: usize) -> Self {
        let start = |bar: usize| Moment::ZERO + Span::WHOLE * bar as i64;
        let roots = [0, 9, 2, 7, 4, 5];
        let kinds = [Kind::Major, Kind::MinorSeventh, Kind::MinorSeventh, Kind::Dominant];
        let chord = |bar: usize| Chord::new(PitchClass::new(roots[bar % 6]), kinds[bar % 4]);
        let tones = |bar: usize| [72, 76, 79, 74].map(|key: u8| Pitch::new(key + (bar % 5) as u8));
        Self {
            harmonies: (0..bars).map(|bar| Harmony { at: start(bar), chord: Some(chord(bar)) }).collect(),
            melody: (0..bars)
                .flat_map(|bar| {
                    let notes = if bar % 2 == 0 { 4 } else { 1 };
                    let length = Span::WHOLE.fraction(1, notes);
                    (0..notes).map(move |n| ChartNote {
                        at: start(bar) + length * n,
                        length,
                        pitch: tones(bar)[n as usize],
                        velocity: Velocity::new(80),
                    })
                })
                .collect(),
            bars: (0..bars)
                .map(|bar| ChartBar {
                    start: start(bar),
                    length: Span::WHOLE,
                    metre: Metre::FOUR_FOUR,
                    key: Key::default(),
                    section: bar % 8 == 0,
                })
                .collect(),
        }
    }

    fn chart(&self) -> Chart<'_> {
        Chart { harmonies: &self.harmonies, melody: &self.melody, bars: &self.bars }
    }
}

fn by_sheet() -> Plot {
    let mut lines = [Line::new("engine, mean"), Line::new("engine, p99.9")];
    let (settings, figures) = manner();
    let settings = Settings { source: Source::Chart, ..settings };
    for bars in [8usize, 16, 32, 64, 128, 256, 512, 1_024] {
        let sheet = Sheet::new(bars);
        let chart = sheet.chart();
        // Its last two minutes, or all of it.
        let quarters = bars as f64 * 4.0;
        let first = (quarters - 240.0).max(0.0);
        let blocks = ((quarters - first) * 60.0 / TEMPO * RATE / 64.0) as u64;
        let pass = |_| {
            let mut engine = Engine::new(RATE);
            let mut sink = Counter(0);
            let cost = |block: u64| {
                let block = Block {
                    frames: 64,
                    transport: transport(first + block as f64 * 64.0 / RATE * TEMPO / 60.0),
                    input: &[],
                    settings: &settings,
                    figures: &figures,
                    chart: Some(&chart),
                };
                timed(|| engine.process(block, &mut sink)).1
            };
            (0..blocks).map(cost).collect::<Vec<_>>()
        };
        let (mean, tail) = summed_up(least(std::array::from_fn(pass).each_ref().map(Vec::as_slice)));
        lines[0].add(bars as f64, mean);
        lines[1].add(bars as f64, tail);
    }
    Plot {
        title: "Following a sheet, 64-frame block of the engine alone",
        x: "bars",
        y: "µs",
        lines: lines.into(),
    }
}

fn manner() -> (Settings, Vec<Figure>) {
    let resolved = Library::factory().manner(Library::DEFAULT_MANNER).unwrap();
    (Settings { manner: resolved.manner, ..Settings::default() }, resolved.figures)
}

fn transport(position: f64) -> Transport {
    Transport {
        playing: true,
        tempo: Some(TEMPO),
        position: Some(position),
        bar_start: Some((position / 4.0).floor() * 4.0),
        metre: Some(Metre::FOUR_FOUR),
    }
}

/// Minutes of the dense load through the engine, for counting instructions and taking samples.
pub(crate) fn fixed_load(minutes: u32) {
    let (settings, figures) = manner();
    let settings = Settings { elaboration: 4.0, space: 0.0, ..settings };
    let mut engine = Engine::new(RATE);
    let mut sink = Counter(0);
    let mut blocks = 0u64;
    for from in (0..(60.0 * RATE) as u64 * u64::from(minutes)).step_by(64) {
        let input: Vec<InputEvent> = LOADS[2]
            .input(from, from + 64)
            .into_iter()
            .filter_map(|(at, send)| {
                let message = match send {
                    Send::On(_, key, velocity) => InputMessage::NoteOn {
                        pitch: Pitch::new(key),
                        velocity: Velocity::new(i32::from(velocity)),
                    },
                    Send::Off(_, key) => InputMessage::NoteOff { pitch: Pitch::new(key) },
                    Send::Controller(..) | Send::Set(..) => return None,
                };
                Some(InputEvent { offset: (at - from) as u32, channel: 0, message })
            })
            .collect();
        let block = Block {
            frames: 64,
            transport: transport(from as f64 / RATE * TEMPO / 60.0),
            input: &input,
            settings: &settings,
            figures: &figures,
            chart: None,
        };
        engine.process(block, &mut sink);
        blocks += 1;
    }
    println!("{blocks} blocks, {} events out", sink.0);
}
