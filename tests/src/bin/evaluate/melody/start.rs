//! What starting by chance wins, and what it costs, against waiting.

use std::fs;

use anyhow::{Context, Result};
use figwort_engine::{Hand, Settings, Source, Start, Texture};
use figwort_preset::Library;
use figwort_render::{Options, Performance, follow};
use figwort_theory::{Moment, Span};

use super::measures::Answer;

const TAKE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../presets/songs/lamps-along-the-landing.take.mid");

/// How the accompaniment of a take lies under its long notes.
#[derive(Default)]
struct Motion {
    /// Notes of 1.5 beats or more, and the beats that they last.
    long: usize,
    beats: f64,
    /// Beats of them under which a figure runs.
    moving: f64,
    /// Long notes, and shorter ones, under which a figure began before the melody had stood for a beat.
    begun_early: usize,
    false_starts: usize,
    notes: usize,
}

/// Prints what the demo take gains.
pub(super) fn demo() -> Result<()> {
    let bytes = fs::read(TAKE).with_context(|| format!("{TAKE} can't be read"))?;
    let take = figwort_sheet::take::read(&bytes)?;
    let manner = Library::factory().manner(Library::DEFAULT_MANNER)?;
    println!("\nthe demo take, rung Flowing, space 0; beats under long notes in which a figure runs:");
    println!(
        "{:<14}{:>8}{:>8}{:>12}{:>12}{:>14}",
        "start", "long", "beats", "moving", "begun in", "false starts"
    );
    println!(
        "{:<14}{:>8}{:>8}{:>12}{:>12}{:>14}",
        "", "notes", "of them", "beats", "first beat", "of all notes"
    );
    let mut moving = vec![];
    for (name, start) in [("after wait", Start::AfterWait), ("by chance", Start::ByChance)] {
        let source = Source::Channels { melody: 0, harmony: 1 };
        let settings = Settings { source, start, space: 0.0, manner: manner.manner, ..Settings::default() };
        let options = Options { settings, figures: manner.figures.clone(), ..Options::default() };
        let motion = motion(&follow(&take, &options));
        println!(
            "{name:<14}{:>8}{:>8.1}{:>12.1}{:>12}{:>8} of {:>3}",
            motion.long, motion.beats, motion.moving, motion.begun_early, motion.false_starts, motion.notes
        );
        moving.push(motion.moving);
    }
    if let [wait, chance] = moving.as_slice() {
        println!("beats of still melody won: {:.1}", chance - wait);
    }
    Ok(())
}

fn motion(performance: &Performance) -> Motion {
    let mut onsets: Vec<Moment> =
        performance.notes.iter().filter(|note| note.hand == Hand::Melody).map(|note| note.at).collect();
    onsets.sort_unstable();
    onsets.dedup();
    let mut motion = Motion { notes: onsets.len(), ..Motion::default() };
    for (n, onset) in onsets.iter().enumerate() {
        let next = onsets.get(n + 1).copied().unwrap_or(performance.end.max(*onset));
        let bar = performance.bars.partition_point(|bar| bar.start <= *onset).saturating_sub(1);
        let beat = performance.bars.get(bar).map_or(Span::QUARTER, |bar| bar.metre.beat());
        let in_beats = |span: Span| span.0 as f64 / beat.0.max(1) as f64;
        let long = in_beats(next - *onset) >= 1.45;
        // Whether a figure ran before the note, and from when to when it did under it.
        let (mut runs, mut from, mut moved, mut early) = (false, *onset, 0.0, false);
        for decision in performance.decisions.iter().take_while(|decision| decision.at < next) {
            let figure = matches!(decision.texture, Texture::Figure(_));
            if decision.at >= *onset {
                if runs {
                    moved += in_beats(decision.at - from);
                }
                early |= figure && in_beats(decision.at - *onset) < 0.95;
                from = decision.at;
            }
            runs = figure;
        }
        if runs {
            moved += in_beats(next - from);
        }
        if long {
            motion.long += 1;
            motion.beats += in_beats(next - *onset);
            motion.moving += moved;
            motion.begun_early += usize::from(early);
        } else {
            motion.false_starts += usize::from(early);
        }
    }
    motion
}

/// Prints what thresholds would win over waiting for a beat, in a hundred notes.
pub(super) fn thresholds(answers: &[Answer]) {
    println!(
        "\nstarting at the onset from a chance of …: of 100 long notes so many at once, of 100 short ones falsely"
    );
    let long = |answer: &&Answer| answer.length >= super::LENGTHS[0] - 1e-3;
    let all = answers.iter().filter(long).count().max(1) as f64;
    for least in [0.5, 0.6, 0.7, 0.8, 0.9] {
        let said = || answers.iter().filter(move |answer| answer.odds[0] >= least);
        let (right, said) = (said().filter(long).count() as f64, said().count() as f64);
        println!(
            "  {least:.1}  {:>5.1} {:>5.1}",
            100.0 * right / all,
            100.0 * (said - right) / (answers.len() as f64 - all)
        );
    }
}
