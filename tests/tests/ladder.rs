//! Guards the ladder as one continuous control: over the demo tunes each step of 0.1 changes something, and no
//! step changes much.

use std::collections::BTreeSet;

use figwort_engine::{Hand, Settings, Source};
use figwort_preset::Library;
use figwort_render::{Options, Performance, arrange};
use tests::songs;

/// One step of the control changes at most this share of the notes. A tenth of the bars climb with a step, up to
/// five of sixteen where they lie badly (`settings/ladder.rs` tests that), and the voicing of a bar that changed
/// leads on to the next ones until the hands meet again. Measured over the demo tunes and three seeds: 0.24.
const MOST_CHANGED: f64 = 0.35;
/// And it adds or takes at most so many notes a bar; a bar has four to ten. Measured: 0.67.
const MOST_NOTES: f64 = 1.0;
/// And the mean number of notes struck together changes by at most this. Measured: 0.61, where blocks become
/// broken chords.
const MOST_TOGETHER: f64 = 1.0;
/// So many of the forty steps, at least, change notes, not only their touch. Measured: 29 to 40; 29 in the tune
/// whose melody hardly ever stands, as there is little to climb then.
const LEAST_STEPS: usize = 29;

/// Every note of the accompaniment: place, pitch, velocity.
fn notes(performance: &Performance) -> BTreeSet<(i64, u8, u8)> {
    let hands = performance.notes.iter().filter(|note| note.hand != Hand::Melody);
    // Frames and ticks don't meet exactly.
    hands.map(|note| ((note.at.0 + 420) / 840, note.pitch.key(), note.velocity.value())).collect()
}

/// The same without velocities.
fn keys(notes: &BTreeSet<(i64, u8, u8)>) -> BTreeSet<(i64, u8)> {
    notes.iter().map(|(at, pitch, _)| (*at, *pitch)).collect()
}

/// Notes struck at one moment, on average.
fn together(notes: &BTreeSet<(i64, u8)>) -> f64 {
    let moments: BTreeSet<i64> = notes.iter().map(|(at, _)| *at).collect();
    notes.len() as f64 / moments.len().max(1) as f64
}

#[test]
fn every_tenth_changes_something_and_none_changes_much() {
    let manner = Library::factory().manner(Library::DEFAULT_MANNER).expect("the manner");
    for (name, sheet) in songs::sheets() {
        for seed in 1..=3 {
            let play = |tenths: u16| {
                let settings = Settings {
                    elaboration: f32::from(tenths) / 10.0,
                    seed,
                    source: Source::Chart,
                    manner: manner.manner,
                    ..Settings::default()
                };
                let options = Options { settings, figures: manner.figures.clone(), ..Options::default() };
                let performance = arrange(&sheet, &options);
                (notes(&performance), performance.bars.len() as f64)
            };
            let (mut before, bars) = play(0);
            let mut steps = 0;
            for tenths in 1..=40 {
                let place = format!("{name}, seed {seed}, at {:.1}", f64::from(tenths) / 10.0);
                let (here, _) = play(tenths);
                assert_ne!(before, here, "{place}: nothing changed");
                let (old, new) = (keys(&before), keys(&here));
                let changed = old.symmetric_difference(&new).count() as f64 / old.union(&new).count() as f64;
                let more = (new.len() as f64 - old.len() as f64) / bars;
                let parts = together(&new) - together(&old);
                println!("{place}: changed {changed:.3}, {more:+.2} notes a bar, {parts:+.2} together");
                assert!(changed <= MOST_CHANGED, "{place}: {changed:.2} of the notes changed");
                assert!(more.abs() <= MOST_NOTES, "{place}: {more:+.2} notes a bar");
                assert!(parts.abs() <= MOST_TOGETHER, "{place}: {parts:+.2} notes together");
                steps += usize::from(old != new);
                before = here;
            }
            assert!(steps >= LEAST_STEPS, "{name}, seed {seed}: {steps} steps change notes");
            println!("{name}, seed {seed}: {steps} of 40 steps change notes");
        }
    }
}
