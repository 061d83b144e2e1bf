//! What stands beside the notes: pedal, dynamics, spread chords. Taken from the part as it is played, put to the
//! places where it is written.

use std::collections::BTreeMap;

use figwort_engine::Hand;
use figwort_theory::{Pitch, TICKS_PER_QUARTER};

use super::notes::Pedalled;
use super::voices::Chord;
use crate::perform::{Performance, PlayedBar};

/// What the foot does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Pedal {
    Start,
    Change,
    Stop,
}

impl Pedal {
    /// MusicXML's name.
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::Change => "change",
            Self::Stop => "stop",
        }
    }
}

/// A lift of the pedal shorter than this is a change of pedal: half a second at 120 quarters a minute.
const CHANGE: i64 = TICKS_PER_QUARTER;

/// Pedal marks by place, at most one to a place; `end` is that of the last bar. Places are eighths, or where a
/// chord begins if that is near.
pub(super) fn pedal(pedalled: &Pedalled, onsets: &[i64], end: i64) -> Vec<(i64, Pedal)> {
    let place = |at: i64| {
        let step = TICKS_PER_QUARTER / 2;
        if at % step == 0 {
            return at;
        }
        let after = onsets.partition_point(|onset| *onset < at);
        let near = [after.checked_sub(1), Some(after)].into_iter().flatten();
        let onset = near.filter_map(|index| onsets.get(index)).min_by_key(|onset| (*onset - at).abs());
        match onset {
            Some(onset) if (onset - at).abs() <= step => *onset,
            _ => (at + step / 2).div_euclid(step) * step,
        }
    };
    let mut marks: Vec<(i64, Pedal)> = Vec::new();
    let mut lifted: Option<i64> = None;
    for (down, up) in pedalled.stretches() {
        if *down >= end {
            break;
        }
        match lifted.take() {
            Some(since) if down - since <= CHANGE => marks.push((place(since), Pedal::Change)),
            since => {
                marks.extend(since.map(|since| (place(since), Pedal::Stop)));
                marks.push((place(*down), Pedal::Start));
            }
        }
        lifted = Some((*up).min(end));
    }
    marks.extend(lifted.map(|since| (place(since).min(end), Pedal::Stop)));
    // Two that fall on one place: a stop before a start is a change, a change says nothing new after a start.
    let mut settled: Vec<(i64, Pedal)> = Vec::new();
    for (at, mark) in marks {
        match settled.last_mut() {
            Some((last, before)) if *last >= at => match (*before, mark) {
                (Pedal::Stop, Pedal::Start) => *before = Pedal::Change,
                (Pedal::Start, Pedal::Stop) => {
                    settled.pop();
                }
                (Pedal::Change, Pedal::Stop) => *before = Pedal::Stop,
                _ => {}
            },
            _ => settled.push((at, mark)),
        }
    }
    settled
}

/// Dynamics from pianissimo to fortissimo, by the loudest velocity of each. Common practice, no source.
const DYNAMICS: [(u8, &str); 6] = [(36, "pp"), (50, "p"), (64, "mp"), (80, "mf"), (96, "f"), (127, "ff")];
/// A section has to be this much beyond the border of its neighbour's dynamic to get one of its own.
const CLEARLY: i32 = 3;

/// A dynamic for the beginning, and for each section that is clearly louder or softer than what was written
/// last. Places are those of the accompaniment's first notes.
pub(super) fn dynamics(played: &Performance, bars: &[PlayedBar], onsets: &[i64]) -> Vec<(i64, &'static str)> {
    let mut marks: Vec<(i64, &'static str)> = Vec::new();
    let starts: Vec<usize> = bars
        .iter()
        .enumerate()
        .filter(|(index, bar)| *index == 0 || bar.section)
        .map(|(index, _)| index)
        .collect();
    let mut written: Option<usize> = None;
    for (index, first) in starts.iter().enumerate() {
        let from = bars.get(*first).map_or(0, |bar| bar.start.0);
        let to = starts.get(index + 1).and_then(|next| bars.get(*next)).map_or(i64::MAX, |bar| bar.start.0);
        let here = played
            .notes
            .iter()
            .filter(|note| note.hand != Hand::Melody && from <= note.at.0 && note.at.0 < to)
            .map(|note| i32::from(note.velocity.value()));
        let (sum, count) = here.fold((0, 0), |(sum, count), velocity| (sum + velocity, count + 1));
        let Some(&at) = onsets.get(onsets.partition_point(|at| *at < from)).filter(|at| **at < to) else {
            continue;
        };
        if count == 0 {
            continue;
        }
        let mean = sum / count;
        let class = |mean: i32| DYNAMICS.iter().position(|(top, _)| mean <= i32::from(*top)).unwrap_or(5);
        let found = class(mean);
        let is_new = match written {
            None => true,
            Some(before) => {
                found != before && class(mean - CLEARLY) != before && class(mean + CLEARLY) != before
            }
        };
        if is_new && let Some((_, name)) = DYNAMICS.get(found) {
            written = Some(found);
            marks.push((at, name));
        }
    }
    marks
}

/// The part as played, to look up when each note really began.
pub(super) struct Touch {
    rate: u64,
    onsets: BTreeMap<(Hand, Pitch), Vec<(i64, u64)>>,
}

/// A chord is spread when its notes begin one after another over at least this time, in milliseconds. Hands that
/// are merely human stay well below it.
const SPREAD_MS: u64 = 30;

impl Touch {
    pub(super) fn of(played: &Performance) -> Self {
        let mut onsets: BTreeMap<(Hand, Pitch), Vec<(i64, u64)>> = BTreeMap::new();
        for note in played.notes.iter().filter(|note| note.hand != Hand::Melody) {
            onsets.entry((note.hand, note.pitch)).or_default().push((note.at.0, note.on));
        }
        Self { rate: u64::from(played.sample_rate.max(1)), onsets }
    }

    /// Whether a chord of a hand is played from the bottom up.
    pub(super) fn is_spread(&self, hand: Hand, chord: &Chord) -> bool {
        let began = |pitch: &Pitch| {
            let onsets = self.onsets.get(&(hand, *pitch))?;
            let nearest = onsets.iter().min_by_key(|(at, _)| (at - chord.at).abs())?;
            ((nearest.0 - chord.at).abs() <= TICKS_PER_QUARTER).then_some(nearest.1)
        };
        let frames: Vec<u64> = chord.pitches.iter().filter_map(began).collect();
        let rises = frames.windows(2).all(|pair| matches!(pair, [low, high] if low < high));
        let [first, .., last] = frames.as_slice() else { return false };
        rises
            && frames.len() == chord.pitches.len()
            && last.saturating_sub(*first) * 1_000 >= SPREAD_MS * self.rate
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;

    const Q: i64 = TICKS_PER_QUARTER;

    #[test]
    fn a_short_lift_is_a_change() {
        let mut performance = sample::two_bars();
        performance.pedal[2].at = figwort_theory::Moment(5 * Q + Q / 8);
        let marks = pedal(&Pedalled::of(&performance), &[Q, 5 * Q], 9 * Q);
        assert_eq!(marks, [(Q, Pedal::Start), (5 * Q, Pedal::Change), (9 * Q, Pedal::Stop)]);
        let marks = pedal(&Pedalled::of(&sample::two_bars()), &[Q, 5 * Q, 8 * Q], 9 * Q);
        let kinds: Vec<Pedal> = marks.iter().map(|(_, mark)| *mark).collect();
        assert_eq!(kinds, [Pedal::Start, Pedal::Change, Pedal::Stop]);
    }

    #[test]
    fn dynamics_are_few() {
        let mut performance = sample::two_bars();
        let marks = dynamics(&performance, &performance.bars, &[Q, 5 * Q]);
        assert_eq!(marks, [(Q, "mp")]);
        performance.bars[2].section = true;
        for note in performance.notes.iter_mut().filter(|note| note.at.0 >= 5 * Q) {
            note.velocity = figwort_theory::Velocity::new(90);
        }
        let marks = dynamics(&performance, &performance.bars, &[Q, 5 * Q]);
        assert_eq!(marks, [(Q, "mp"), (5 * Q, "f")]);
    }

    #[test]
    fn a_chord_played_upwards_is_spread() {
        let mut performance = sample::two_bars();
        let pitches = vec![Pitch::new(41), Pitch::new(50)];
        let chord = Chord { at: 5 * Q, end: 9 * Q, pitches };
        assert!(!Touch::of(&performance).is_spread(Hand::Left, &chord));
        for note in performance.notes.iter_mut().filter(|note| note.pitch == Pitch::new(50)) {
            note.on += 48 * 40;
        }
        assert!(Touch::of(&performance).is_spread(Hand::Left, &chord));
        for note in performance.notes.iter_mut().filter(|note| note.pitch == Pitch::new(41)) {
            note.on += 48 * 90;
        }
        assert!(!Touch::of(&performance).is_spread(Hand::Left, &chord), "from the top down");
    }
}
