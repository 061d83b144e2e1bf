//! Hours of random playing in each manner. `cargo xtask soak [MINUTES]` runs it; an hour a manner unless told.
#![allow(clippy::print_stdout, reason = "talking to the terminal is its job")]

use std::time::Instant;

use anyhow::{Context, Result};
use assert_no_alloc::AllocDisabler;
use figwort_preset::Library;
use figwort_render::chart::OwnedChart;
use tests::soak::soak;
use tests::songs;

/// Aborts at any allocation while the engine plays.
#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

fn main() -> Result<()> {
    let minutes: f64 =
        std::env::args().nth(1).map_or(Ok(60.0), |text| text.parse()).context("not a number of minutes")?;
    let charts: Vec<OwnedChart> = songs::sheets().iter().map(|(_, sheet)| OwnedChart::of(sheet)).collect();
    let library = Library::factory();
    let names: Vec<String> = library.manners().map(|entry| entry.name.to_owned()).collect();
    println!(
        "{:16} {:>8} {:>9} {:>9} {:>9} {:>7} {:>8} {:>6} {:>7} {:>9} {:>6}",
        "manner",
        "minutes",
        "sent",
        "ons",
        "offs",
        "refused",
        "settings",
        "turns",
        "hushes",
        "snapshots",
        "faults"
    );
    let begun = Instant::now();
    let (mut clean, mut total) = (true, 0.0);
    for (seed, name) in (1u64..).zip(&names) {
        let heard = soak(&library, name, &charts, minutes, seed);
        println!(
            "{:16} {:8.1} {:9} {:9} {:9} {:7} {:8} {:6} {:7} {:9} {:6}",
            heard.manner,
            heard.minutes,
            heard.sent,
            heard.ons,
            heard.offs,
            heard.refused,
            heard.changes,
            heard.turns,
            heard.hushes,
            heard.snapshots,
            heard.faults.len()
        );
        for fault in &heard.faults {
            println!("  {fault:?}");
        }
        clean &= heard.is_clean();
        total += heard.minutes;
    }
    let seconds = begun.elapsed().as_secs_f64();
    println!(
        "{total:.0} minutes of time in {seconds:.0} s, {:.0} times as fast; allocations 0, panics 0 (either \
         would have ended this program)",
        total * 60.0 / seconds
    );
    if !clean {
        std::process::exit(1);
    }
    Ok(())
}
