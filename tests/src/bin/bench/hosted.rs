//! In a host: the cost of a block beside that of a plugin which only passes notes on; memory, loading, sizes.

use std::path::Path;
use std::time::Instant;

use tests::clap_host::ClapRig;
use tests::host::{Host, Send, Transport, bundle};

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

    /// Plays blocks and answers what each cost, in microseconds.
    pub(crate) fn play(&mut self, load: &Load, blocks: u64, frames: u64) -> Vec<f64> {
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
                self.rig.spent().as_nanos() as f64 / 1_000.0
            })
            .collect()
    }
}

/// The table of blocks, both plugins in turns.
pub(crate) fn table(minutes: f64) {
    println!("64-frame blocks in a CLAP host, {minutes} minutes of time a row, the two plugins in turns");
    println!(
        "{:9} {:10} {:>9} {:>9} {:>9} {:>9} {:>9}",
        "load", "plugin", "median", "p99", "p99.9", "p99.99", "max"
    );
    let blocks = (minutes * 60.0 * RATE / FRAMES as f64) as u64;
    for load in LOADS {
        let mut players = ["FIGWORT_THROUGH", "FIGWORT_CLAP"].map(Played::new);
        let mut costs = [Vec::new(), Vec::new()];
        let mut left = blocks;
        while left > 0 {
            let turn = left.min(TURN);
            for (player, costs) in players.iter_mut().zip(&mut costs) {
                costs.extend(player.play(&load, turn, FRAMES));
            }
            left -= turn;
        }
        let [floor, ours] = costs.map(|mut costs| {
            costs.sort_by(f64::total_cmp);
            [0.5, 0.99, 0.999, 0.9999, 1.0].map(|share| at(&costs, share))
        });
        for (name, row) in [("through", floor), ("Figwort", ours)] {
            let [a, b, c, d, e] = row;
            println!("{:9} {name:10} {a:9.2} {b:9.2} {c:9.2} {d:9.2} {e:9.2}", load.name);
        }
        let [a, b, c, d, e] = std::array::from_fn(|n| ours[n] / floor[n]);
        println!("{:9} {:10} {a:9.1} {b:9.1} {c:9.1} {d:9.1} {e:9.1}", load.name, "ratio");
    }
    println!();
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

/// Sizes of what is installed.
pub(crate) fn sizes() {
    for variable in ["FIGWORT_CLAP", "FIGWORT_THROUGH"] {
        let path = bundle(variable);
        let size = std::fs::metadata(&path).map_or(0, |data| data.len());
        let name = path.file_name().unwrap_or(Path::new("?").as_os_str()).to_string_lossy().into_owned();
        println!("{name}: {:.1} MB", size as f64 / 1e6);
    }
    println!();
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
