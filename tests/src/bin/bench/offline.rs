//! Offline: how many times faster than real time whole sheets are arranged, and what each stage takes of it; of the
//! processor's time.

use std::time::Duration;

use anyhow::Result;
use figwort_engine::Settings;
use figwort_preset::Library;
use figwort_render::piano::{Piano, VOICES};
use figwort_render::{Options, arrange, midi};
use tests::songs;
use tests::stopwatch::timed;

use super::hosted::micros;

/// Times that each song is arranged.
const TURNS: u32 = 50;

/// Reads, arranges and writes every demo song over and over.
pub(crate) fn table() -> Result<()> {
    let resolved = Library::factory().manner(Library::DEFAULT_MANNER)?;
    let settings = Settings { manner: resolved.manner, ..Settings::default() };
    let options = Options { settings, figures: resolved.figures, ..Options::default() };
    let (mut read, mut played, mut written) = (Duration::ZERO, Duration::ZERO, Duration::ZERO);
    let (mut seconds, mut bars) = (0.0, 0);
    for path in songs::paths() {
        let bytes = std::fs::read(path)?;
        for _ in 0..TURNS {
            let (sheet, spent) = timed(|| figwort_sheet::read(&bytes, None));
            let sheet = sheet?;
            read += spent.processor;
            let (performance, spent) = timed(|| arrange(&sheet, &options));
            played += spent.processor;
            let (part, spent) = timed(|| midi::write(&performance));
            written += spent.processor;
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
            let ((), spent) = timed(|| piano.add_to(&mut left, &mut right));
            micros(spent.processor)
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
