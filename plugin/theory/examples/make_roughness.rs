//! Makes the table of chord roughness anew: prints 2,048 bytes, to be kept as `src/roughness/stacked.bin`.
//! `cargo run -p figwort-theory --example make_roughness > plugin/theory/src/roughness/stacked.bin`

use std::io::Write;

use figwort_theory::{PitchClassSet, roughness};

fn main() -> std::io::Result<()> {
    let bytes: Vec<u8> = (0..2048u16)
        .map(|bits| {
            let set = PitchClassSet::from_bits(bits << 1 | 1);
            (roughness::of(roughness::stacked(set)) * 300.0).round().min(255.0) as u8
        })
        .collect();
    std::io::stdout().write_all(&bytes)
}
