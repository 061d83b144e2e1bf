//! Measures over a whole performance.

use figwort_engine::Hand;
use figwort_theory::{Moment, Span};

use crate::perform::Performance;

use super::{Totals, bars};

/// Notes begun within this time of each other are one attack: a thirty-second.
const ONE_ATTACK: Span = Span(Span::QUARTER.0 / 8);

pub(super) fn totals(performance: &Performance) -> Totals {
    let (first, held) = motion(performance);
    Totals {
        notes: bars::onsets(performance.notes.iter()),
        attacks_in_first_beat: first.unwrap_or(0.0),
        attacks_while_held: held.unwrap_or(0.0),
        held_to_first_beat: first
            .zip(held)
            .filter(|(first, _)| *first > 0.0)
            .map(|(first, held)| held / first),
        sounding_share: sounding_share(performance),
        pedal_share: pedal_share(performance),
        pedal_changes: performance.pedal.len(),
        hanging_notes: performance.hanging,
    }
}

/// Moments of accompaniment attacks, in order.
fn attacks(performance: &Performance) -> Vec<Moment> {
    let mut onsets: Vec<Moment> =
        performance.notes.iter().filter(|note| note.hand != Hand::Melody).map(|note| note.at).collect();
    onsets.sort_unstable();
    let mut attacks: Vec<Moment> = Vec::new();
    for at in onsets {
        if attacks.last().is_none_or(|last| at - *last > ONE_ATTACK) {
            attacks.push(at);
        }
    }
    attacks
}

/// Attacks a beat within the first beat of melody notes, and after it while they are held; `None` where
/// there is no such time.
fn motion(performance: &Performance) -> (Option<f64>, Option<f64>) {
    let attacks = attacks(performance);
    // Attacks and beats: in the first beat, then after it.
    let mut counts = [(0_usize, 0.0_f64); 2];
    for note in performance.notes.iter().filter(|note| note.hand == Hand::Melody) {
        let beat = beat_at(performance, note.at);
        let turn = note.end().min(note.at + beat);
        for (count, (from, to)) in counts.iter_mut().zip([(note.at, turn), (turn, note.end())]) {
            count.0 += attacks.partition_point(|at| *at < to) - attacks.partition_point(|at| *at < from);
            count.1 += (to - from).0 as f64 / beat.0.max(1) as f64;
        }
    }
    let rate = |(count, beats): (usize, f64)| (beats > 0.0).then(|| count as f64 / beats);
    (rate(counts[0]), rate(counts[1]))
}

/// The felt beat at a moment.
fn beat_at(performance: &Performance, at: Moment) -> Span {
    let after = performance.bars.partition_point(|bar| bar.start <= at);
    performance.bars.get(after.saturating_sub(1)).map_or(Span::QUARTER, |bar| bar.metre.beat())
}

/// Share of the time with so many notes sounding.
fn sounding_share(performance: &Performance) -> [f64; 8] {
    let mut changes: Vec<(u64, i32)> =
        performance.notes.iter().flat_map(|note| [(note.on, 1), (note.off, -1)]).collect();
    changes.push((performance.end_frame, 0));
    changes.sort_unstable();
    let mut frames = [0_u64; 8];
    let (mut now, mut sounding) = (0, 0_i32);
    for (frame, change) in changes {
        if let Some(count) = frames.get_mut(usize::try_from(sounding).unwrap_or(0).min(7)) {
            *count += frame - now;
        }
        now = frame;
        sounding += change;
    }
    let total = frames.iter().sum::<u64>().max(1) as f64;
    frames.map(|count| count as f64 / total)
}

fn pedal_share(performance: &Performance) -> f64 {
    let mut down = None;
    let mut frames = 0;
    for change in &performance.pedal {
        match (change.down, down) {
            (true, None) => down = Some(change.frame),
            (false, Some(from)) => {
                frames += change.frame - from;
                down = None;
            }
            _ => {}
        }
    }
    frames += down.map_or(0, |from| performance.end_frame.saturating_sub(from));
    frames as f64 / performance.end_frame.max(1) as f64
}
