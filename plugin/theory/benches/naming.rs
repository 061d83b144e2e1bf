//! How long naming a chord takes: median, 99.9th percentile and worst of single calls, over every set of
//! classes over every bass in it; and what tension is made of: roughness and distance. `cargo bench -p
//! figwort-theory` runs it; `cargo test` only builds it.

use std::hint::black_box;
use std::time::Instant;

use figwort_theory::identify::{Context, identify};
use figwort_theory::{Chord, Key, Kind, Mode, Pitch, PitchClass, PitchClassSet, distance, roughness};

/// Calls per measurement: one is too short for the clock.
const TOGETHER: u32 = 16;

#[allow(clippy::print_stdout, reason = "a bench's result")]
fn main() {
    // Cargo's tests start it, too, without this.
    if !std::env::args().any(|argument| argument == "--bench") {
        return;
    }
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
    let time = |label: &str, work: &dyn Fn(i32)| {
        let start = Instant::now();
        (0..20_000).for_each(work);
        println!("{label}: mean {:.0} ns", start.elapsed().as_nanos() as f64 / 20_000.0);
    };
    let chord = |n: i32| Chord::new(PitchClass::new(n * 5), Kind::ALL[n as usize % Kind::ALL.len()]);
    time("distance of a chord from the tonic", &|n| {
        black_box(distance::from_tonic(black_box(chord(n)), Key::default()));
    });
    time("roughness of a chord, from the table", &|n| {
        black_box(roughness::of_chord(black_box(chord(n).intervals())));
    });
    time("roughness of five notes, by the formula", &|n| {
        let low = 40 + (n % 24) as u8;
        black_box(roughness::of([0, 7, 16, 22, 26].into_iter().map(|up| Pitch::new(low + up))));
    });
}
