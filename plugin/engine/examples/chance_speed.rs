//! Prints what the chance of a long note costs, in nanoseconds per onset, and its size. Run with
//! `cargo run --release -p figwort-engine --example chance_speed`.
#![allow(clippy::print_stdout, reason = "printing is what it is for")]

use std::hint::black_box;
use std::time::Instant;

use figwort_engine::reading::chance::{Around, Chance, PRIOR};
use figwort_engine::reading::clock::Bar;
use figwort_theory::{Metre, Moment, TICKS_PER_QUARTER};

/// A tune of so many onsets; lengths and pitches by an irregular rule, some repeated.
fn tune(onsets: usize) -> Vec<(Moment, Bar, Around)> {
    let metre = Metre::FOUR_FOUR;
    let (mut at, mut state) = (0, 7_u32);
    (0..onsets)
        .map(|n| {
            if n % 40 == 0 {
                state = 7 + n as u32 / 320;
            }
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let bar = at / metre.bar().0;
            let start = Moment(bar * metre.bar().0);
            let here = Bar { start, length: metre.bar(), metre, index: bar };
            let key = 60 + (state >> 28) as u8;
            let around = Around { key, degree: key % 12, chord_degree: (key + 5) % 12, changed: Some(start) };
            let onset = (Moment(at), here, around);
            at += TICKS_PER_QUARTER / 4 * [1, 2, 2, 2, 4, 4, 6, 8][(state >> 20) as usize % 8];
            onset
        })
        .collect()
}

fn main() {
    let tune = tune(4_000);
    let mut nanos = vec![];
    let mut sum = 0.0;
    for _ in 0..50 {
        let mut chance = Chance::new(PRIOR);
        for (at, bar, around) in &tune {
            let start = Instant::now();
            sum += black_box(chance.strike(black_box(*at), *bar, *around)).half;
            nanos.push(start.elapsed().as_nanos());
        }
    }
    nanos.sort_unstable();
    let at = |share: f64| nanos[((nanos.len() - 1) as f64 * share) as usize];
    println!("chance of a long note, {} onsets, mean chance {:.3}:", nanos.len(), sum / nanos.len() as f32);
    println!("  median {} ns, 99 % {} ns, 99.9 % {} ns, worst {} ns", at(0.5), at(0.99), at(0.999), at(1.0));
    println!(
        "  size {} bytes for each engine, {} bytes shared",
        size_of::<Chance>(),
        size_of_val(PRIOR.trees)
    );
}
