//! Offline: how many times faster than real time whole sheets are arranged, and what each stage takes of it.

use std::path::Path;
use std::time::{Duration, Instant};

use anyhow::Result;
use figwort_engine::Settings;
use figwort_preset::Library;
use figwort_render::piano::{Piano, VOICES};
use figwort_render::{Options, arrange, midi};

/// Times that each song is arranged.
const TURNS: u32 = 50;

/// Reads, arranges and writes every demo song over and over.
pub(crate) fn table() -> Result<()> {
    let songs = Path::new(env!("CARGO_MANIFEST_DIR")).join("../presets/songs");
    let resolved = Library::factory().manner(Library::DEFAULT_MANNER)?;
    let settings = Settings { manner: resolved.manner, ..Settings::default() };
    let options = Options { settings, figures: resolved.figures, ..Options::default() };
    let (mut read, mut played, mut written) = (Duration::ZERO, Duration::ZERO, Duration::ZERO);
    let (mut seconds, mut bars) = (0.0, 0);
    let mut paths: Vec<_> =
        std::fs::read_dir(songs)?.map(|entry| entry.map(|entry| entry.path())).collect::<Result<_, _>>()?;
    paths.sort();
    for path in paths.iter().filter(|path| path.extension().is_some_and(|extension| extension == "abc")) {
        let bytes = std::fs::read(path)?;
        for _ in 0..TURNS {
            let begun = Instant::now();
            let sheet = figwort_sheet::read(&bytes, None)?;
            read += begun.elapsed();
            let begun = Instant::now();
            let performance = arrange(&sheet, &options);
            played += begun.elapsed();
            let begun = Instant::now();
            let part = midi::write(&performance);
            written += begun.elapsed();
            bars += performance.bars.len();
            seconds += performance.end_frame as f64 / f64::from(performance.sample_rate);
            std::hint::black_box(part);
        }
    }
    let all = (read + played + written).as_secs_f64();
    let share = |part: Duration| 100.0 * part.as_secs_f64() / all;
    println!(
        "offline, four songs {TURNS} times: {bars} bars, {:.0} minutes in {:.2} s, {:.0} times real time; reading \
         {:.0} %, playing {:.0} %, writing {:.0} %\n",
        seconds / 60.0,
        all,
        seconds / all,
        share(read),
        share(played),
        share(written)
    );
    Ok(())
}

/// The audition piano with every voice sounding.
pub(crate) fn piano() {
    let mut piano = Piano::new(48_000.0);
    piano.pedal(true);
    for key in 30..30 + VOICES as u8 {
        piano.note_on(key, 100);
    }
    let (mut left, mut right) = ([0.0; 64], [0.0; 64]);
    let mut costs: Vec<f64> = (0..5_000)
        .map(|_| {
            let begun = Instant::now();
            piano.add_to(&mut left, &mut right);
            begun.elapsed().as_nanos() as f64 / 1_000.0
        })
        .collect();
    costs.sort_by(f64::total_cmp);
    println!(
        "audition piano, {VOICES} voices, 64 frames: median {:.1}, p99.9 {:.1}, longest {:.1}\n",
        super::at(&costs, 0.5),
        super::at(&costs, 0.999),
        super::at(&costs, 1.0)
    );
}
