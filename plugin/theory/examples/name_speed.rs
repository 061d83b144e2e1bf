//! How long naming a chord takes: median, 99.9th percentile and worst of single calls, over every set of
//! classes over every bass in it. Run with `--release`.

use std::hint::black_box;
use std::time::Instant;

use figwort_theory::identify::{Context, identify};
use figwort_theory::{Chord, Key, Kind, Mode, PitchClass, PitchClassSet};

/// Calls per measurement: one is too short for the clock.
const TOGETHER: u32 = 16;

#[allow(clippy::print_stdout, reason = "an example's result")]
fn main() {
    let contexts = [
        ("no context", Context::default()),
        (
            "key and previous chord",
            Context {
                key: Some(Key::from_fifths(-1, Mode::Major)),
                previous: Some(Chord::new(PitchClass::C, Kind::Dominant)),
            },
        ),
    ];
    for (label, context) in contexts {
        let mut nanoseconds = Vec::with_capacity(1 << 20);
        for _ in 0..20 {
            for bits in 1..4096 {
                let held = PitchClassSet::from_bits(bits);
                for bass in held.iter() {
                    let start = Instant::now();
                    for _ in 0..TOGETHER {
                        black_box(identify(black_box(held), black_box(bass), black_box(&context)));
                    }
                    nanoseconds.push(start.elapsed().as_nanos() as f64 / f64::from(TOGETHER));
                }
            }
        }
        nanoseconds.sort_by(f64::total_cmp);
        let at = |share: f64| nanoseconds[((nanoseconds.len() - 1) as f64 * share) as usize];
        println!(
            "{label}: median {:.0} ns, p99.9 {:.0} ns, worst {:.0} ns ({} measurements of {TOGETHER} calls)",
            at(0.5),
            at(0.999),
            at(1.0),
            nanoseconds.len(),
        );
    }
}
