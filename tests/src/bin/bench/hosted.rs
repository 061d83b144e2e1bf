//! In a host: the cost of a block beside that of a plugin which only passes notes on; memory, loading, looking, sizes.

use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use anyhow::{Context, Result, bail};
use tests::clap_host::ClapRig;
use tests::host::{Host, Send, Transport, bundle};
use tests::stopwatch::Spent;
use tests::vst3_host::Vst3Rig;

use super::at;
use super::load::{LOADS, Load, RATE, TEMPO};

/// Frames in a block.
const FRAMES: u64 = 64;
/// The plugins take turns of this many blocks, about half a minute.
const TURN: u64 = 22_500;
/// Instances for the memory of one.
const INSTANCES: usize = 200;

/// A plugin in the host, with how far it has played.
pub(crate) struct Played {
    rig: ClapRig,
    frame: u64,
}

impl Played {
    pub(crate) fn new(variable: &str) -> Self {
        let mut rig = ClapRig::load(&bundle(variable));
        rig.start(RATE);
        Self { rig, frame: 0 }
    }

    /// Plays blocks and answers how long each took.
    pub(crate) fn timed(&mut self, load: &Load, blocks: u64, frames: u64) -> Vec<Spent> {
        (0..blocks)
            .map(|_| {
                let end = self.frame + frames;
                let input: Vec<(u32, Send)> = load
                    .input(self.frame, end)
                    .into_iter()
                    .map(|(frame, send)| ((frame - self.frame) as u32, send))
                    .collect();
                let beats = self.frame as f64 / RATE * TEMPO / 60.0;
                let transport = Transport {
                    playing: true,
                    beats,
                    bar_start: (beats / 4.0).floor() * 4.0,
                    tempo: TEMPO,
                    metre: (4, 4),
                };
                self.rig.block(self.frame, frames as usize, Some(transport), &input);
                self.frame = end;
                self.rig.spent()
            })
            .collect()
    }
}

/// The table of blocks, both plugins in turns, each several times over.
pub(crate) fn table(minutes: f64) {
    println!("64-frame blocks in a CLAP host, {minutes} minutes of time a row, the two plugins in turns");
    println!(
        "\"own\" is what a block cost at the quickest of {PASSES} times it was played, the same each time: what"
    );
    println!("the plugin is answerable for, and not what else the machine did\n");
    println!(
        "{:9} {:12} {:>9} {:>9} {:>9} {:>9} {:>9}",
        "load", "plugin", "median", "p99", "p99.9", "p99.99", "max"
    );
    let blocks = (minutes * 60.0 * RATE / FRAMES as f64) as u64;
    for load in LOADS {
        let mut passes = ["FIGWORT_THROUGH", "FIGWORT_CLAP"].map(|plugin| passes(plugin, blocks));
        let mut left = blocks;
        while left > 0 {
            let turn = left.min(TURN);
            for (player, costs) in passes.iter_mut().flatten() {
                costs.extend(player.timed(&load, turn, FRAMES));
            }
            left -= turn;
        }
        let row = |name: &str, row: [f64; 5]| {
            let [a, b, c, d, e] = row;
            println!("{:9} {name:12} {a:9.2} {b:9.2} {c:9.2} {d:9.2} {e:9.2}", load.name);
        };
        let both = |floor: [f64; 5], ours: [f64; 5], of: &str| {
            row(&format!("through{of}"), floor);
            row(&format!("Figwort{of}"), ours);
            row(&format!("ratio{of}"), std::array::from_fn(|n| ours[n] / floor[n]));
        };
        let costs = passes.each_ref().map(|passes| passes.each_ref().map(|(_, costs)| costs.as_slice()));
        let [floor, ours] =
            costs.map(|[first, ..]| spread(first.iter().map(|spent| micros(spent.clock)).collect()));
        both(floor, ours, "");
        let [floor, ours] = costs.map(|costs| spread(least(costs)));
        both(floor, ours, ", own");
        println!("{}", longest(load.name, costs[1][0]));
    }
    println!();
}

/// Times that the same is played.
const PASSES: usize = 3;

/// A plugin several times over, each with room for what its blocks take.
fn passes(plugin: &str, blocks: u64) -> [(Played, Vec<Spent>); PASSES] {
    std::array::from_fn(|_| (Played::new(plugin), Vec::with_capacity(blocks as usize)))
}

/// What each block costs a plugin at the quickest of several times that it plays the same, in microseconds by the
/// clock.
pub(crate) fn own(plugin: &str, load: &Load, blocks: u64, frames: u64) -> Vec<f64> {
    let passes = passes(plugin, blocks).map(|(mut player, _)| player.timed(load, blocks, frames));
    least(passes.each_ref().map(Vec::as_slice))
}

/// The least of each block's times by the clock, in microseconds.
pub(crate) fn least(passes: [&[Spent]; PASSES]) -> Vec<f64> {
    let [first, ..] = passes;
    let quickest = |n: usize| passes.iter().filter_map(|pass| pass.get(n)).map(|spent| spent.clock).min();
    (0..first.len()).filter_map(quickest).map(micros).collect()
}

/// Median, some percentiles and the greatest.
fn spread(mut costs: Vec<f64>) -> [f64; 5] {
    costs.sort_by(f64::total_cmp);
    [0.5, 0.99, 0.999, 0.9999, 1.0].map(|share| at(&costs, share))
}

/// The block that took longest by the clock, with its processor time, and how many blocks were kept waiting: longer
/// by the clock than on the processor, by more than the two clocks' own doubt.
fn longest(load: &str, costs: &[Spent]) -> String {
    const DOUBT: Duration = Duration::from_micros(10);
    let waited = costs.iter().filter(|spent| spent.clock > spent.processor + DOUBT).count();
    let longest = costs.iter().max_by_key(|spent| spent.clock).copied().unwrap_or_default();
    format!(
        "{load:9} the longest block: {:.1} by the clock, {:.1} on the processor; {waited} of {} blocks had to wait for it",
        micros(longest.clock),
        micros(longest.processor),
        costs.len()
    )
}

/// In microseconds.
pub(crate) fn micros(time: Duration) -> f64 {
    time.as_nanos() as f64 / 1_000.0
}

/// Memory of an instance, and how long it takes to come to life.
pub(crate) fn memory_and_loading() {
    let begun = Instant::now();
    let first = Played::new("FIGWORT_CLAP");
    println!("first instance of a program, loaded and activated: {:.1} ms", millis(begun));
    let before = resident();
    let mut times = Vec::new();
    let more: Vec<Played> = (0..INSTANCES)
        .map(|_| {
            let begun = Instant::now();
            let instance = Played::new("FIGWORT_CLAP");
            times.push(millis(begun));
            instance
        })
        .collect();
    times.sort_by(f64::total_cmp);
    println!("each of {INSTANCES} more: median {:.2} ms, longest {:.2} ms", at(&times, 0.5), at(&times, 1.0));
    match (before, resident()) {
        (Some(before), Some(after)) => {
            println!(
                "memory of an instance without its editor: {:.2} MiB",
                (after - before) / INSTANCES as f64
            );
        }
        _ => println!("memory of an instance: this system doesn't tell"),
    }
    drop((first, more));
    println!();
}

/// Formats that are looked into.
const FORMATS: [&str; 2] = ["CLAP", "VST3"];
/// Programs that look into each.
const SCANS: usize = 21;

/// How long hosts take that look for plugins: in programs of their own, which know nothing of it yet, as scanners are.
pub(crate) fn scanning() -> Result<()> {
    for format in FORMATS {
        let mut times = [Vec::new(), Vec::new()];
        for _ in 0..SCANS {
            let output = Command::new(std::env::current_exe()?).args(["scan", format]).output()?;
            let said = String::from_utf8_lossy(&output.stdout).into_owned();
            let mut words = said.split_whitespace().map(str::parse::<f64>);
            for times in &mut times {
                let micros =
                    words.next().with_context(|| format!("looking into the {format} failed: {said}"))??;
                times.push(micros / 1_000.0);
            }
        }
        for times in &mut times {
            times.sort_by(f64::total_cmp);
        }
        let [first, again] = &times;
        println!(
            "{format}, loaded, asked what is in it, made and let go by a program of its own: median {:.1} ms, longest \
             {:.1} ms; again by the same program: median {:.2} ms",
            at(first, 0.5),
            at(first, 1.0),
            at(again, 0.5)
        );
    }
    println!();
    Ok(())
}

/// Looks into one bundle twice and prints the microseconds.
pub(crate) fn scan(format: Option<&str>) -> Result<()> {
    let (path, look): (_, fn(&Path)) = match format {
        Some("CLAP") => (bundle("FIGWORT_CLAP"), ClapRig::scan),
        Some("VST3") => (bundle("FIGWORT_VST3"), Vst3Rig::scan),
        _ => bail!("look into what? CLAP or VST3"),
    };
    for _ in 0..2 {
        let begun = Instant::now();
        look(&path);
        println!("{:.1}", micros(begun.elapsed()));
    }
    Ok(())
}

/// Sizes of what is installed.
pub(crate) fn sizes() {
    for variable in ["FIGWORT_CLAP", "FIGWORT_VST3", "FIGWORT_THROUGH"] {
        let path = bundle(variable);
        let size = weight(&path);
        let name = path.file_name().unwrap_or(Path::new("?").as_os_str()).to_string_lossy().into_owned();
        println!("{name}: {:.1} MB", size as f64 / 1e6);
    }
    println!();
}

/// The bytes of a file, or of all in a folder.
fn weight(path: &Path) -> u64 {
    let inside = std::fs::read_dir(path).into_iter().flatten().flatten();
    let file = std::fs::metadata(path).ok().filter(std::fs::Metadata::is_file);
    file.map_or_else(|| inside.map(|entry| weight(&entry.path())).sum(), |file| file.len())
}

fn millis(begun: Instant) -> f64 {
    begun.elapsed().as_secs_f64() * 1_000.0
}

/// Memory in use, in MiB; Linux only.
fn resident() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmRSS:"))?;
    let kib: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kib / 1_024.0)
}
