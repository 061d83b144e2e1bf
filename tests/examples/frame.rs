//! What a frame of the editor costs while the page moves: laid out and cut into triangles, without a screen.
//! `cargo xtask bench` runs it.
#![allow(unsafe_code, reason = "the framework's host interface hands over raw parameters")]
#![allow(clippy::print_stdout, reason = "talking to the terminal is its job")]
#![allow(dead_code, reason = "the pictures need more of the same")]

use std::time::Duration;

#[path = "../tests/pictures/desk.rs"]
mod desk;
#[path = "../tests/pictures/scene.rs"]
mod scene;

/// Frames that are drawn.
const FRAMES: usize = 3_000;

fn main() {
    let (times, sizes) = desk::moving(&scene::live(), [1040.0, 760.0], FRAMES);
    println!(
        "editor frame, the page moving, {} of them, {} vertices: {} by the clock; {} on the processor",
        times.len(),
        sizes.last().copied().unwrap_or(0),
        spread(times.iter().map(|spent| spent.clock).collect()),
        spread(times.iter().map(|spent| spent.processor).collect())
    );
}

/// Median, a percentile and the greatest, in microseconds.
fn spread(mut times: Vec<Duration>) -> String {
    times.sort();
    let micros = |share: f64| {
        let place = (times.len().saturating_sub(1) as f64 * share).round() as usize;
        times.get(place).map_or(f64::NAN, |time| time.as_nanos() as f64 / 1_000.0)
    };
    format!("median {:.0}, p99 {:.0}, longest {:.0}", micros(0.5), micros(0.99), micros(1.0))
}
