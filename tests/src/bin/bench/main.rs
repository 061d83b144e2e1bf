//! What Figwort costs, in one run. `cargo xtask bench [MINUTES]` runs it; ten minutes of time a row unless told.
//!
//! Every figure of a table comes from the same run on the same machine, taken in turns, so that ratios mean
//! something even where the machine is busy. `FIGWORT_BENCH` names the folder for the plots.
//!
//! With the arguments `instructions MINUTES` it plays a fixed load through the engine and nothing else, to be
//! counted by callgrind and sampled by perf. With `scan CLAP` or `scan VST3` it looks into the bundle as a host does that
//! looks for plugins, and prints how many microseconds that took, the first time and the second.
#![allow(clippy::print_stdout, clippy::unwrap_used, reason = "a program for the terminal; what fails, fails")]

mod hosted;
mod load;
mod offline;
mod plot;
mod scaling;

use std::path::PathBuf;
use std::process::Command;

use anyhow::{Context, Result};

fn main() -> Result<()> {
    let argument = std::env::args().nth(1);
    if argument.as_deref() == Some("instructions") {
        let minutes = std::env::args().nth(2).map_or(Ok(1), |text| text.parse());
        scaling::fixed_load(minutes.context("not a number of minutes")?);
        return Ok(());
    }
    if argument.as_deref() == Some("scan") {
        return hosted::scan(std::env::args().nth(2).as_deref());
    }
    let minutes: f64 = argument.map_or(Ok(10.0), |text| text.parse()).context("not a number of minutes")?;
    let folder = PathBuf::from(std::env::var_os("FIGWORT_BENCH").context("FIGWORT_BENCH is not set")?);
    std::fs::create_dir_all(&folder)?;
    println!(
        "{} cores; figures in µs unless said; deadline of a 64-frame block at 48 kHz: 1333 µs\n",
        std::thread::available_parallelism().map_or(0, usize::from)
    );
    hosted::scanning()?;
    // Before anything else that loads the plugin's library into this program.
    hosted::memory_and_loading();
    hosted::table(minutes);
    hosted::sizes();
    offline::table()?;
    offline::piano();
    frame()?;
    for (name, png) in scaling::plots()? {
        let path = folder.join(name);
        std::fs::write(&path, png)?;
        println!("wrote {}", path.display());
    }
    Ok(())
}

/// The editor's, which a program of its own draws.
fn frame() -> Result<()> {
    let program = std::env::var_os("FIGWORT_FRAME").context("FIGWORT_FRAME is not set")?;
    let output = Command::new(&program).output();
    let output = output.with_context(|| format!("{} does not start", program.display()))?;
    println!("{}", String::from_utf8_lossy(&output.stdout));
    Ok(())
}

/// A value at a share of a sorted list.
fn at(sorted: &[f64], share: f64) -> f64 {
    let last = sorted.len().saturating_sub(1);
    sorted.get((last as f64 * share).round() as usize).copied().unwrap_or(f64::NAN)
}
