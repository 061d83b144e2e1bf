//! What was played, on the places where notation can write it.
//!
//! A performance of written music lies on such places already, but for a tick or two. One played by hand is
//! brought to the sixteenths of each beat, or to its triplets where those fit better.

use figwort_engine::Hand;
use figwort_theory::{Pitch, TICKS_PER_QUARTER};

use crate::perform::{Performance, PlayedBar};

/// A note with its place on the page, in ticks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Struck {
    pub(super) at: i64,
    pub(super) end: i64,
    pub(super) pitch: Pitch,
}

/// Divisions of a quarter that are written: binary ones, triplets, quintuplets, septuplets.
const WRITTEN: [i64; 4] = [16, 24, 20, 28];
/// How far a written place may be off, in ticks.
const SLACK: i64 = 4;
/// Share of the melody, in tenths, that has to lie on written places for the music to count as written.
const WRITTEN_TENTHS: usize = 9;
/// How much worse triplets may not be than sixteenths, in ticks of mean error, to be taken.
const TRIPLET_PENALTY: i64 = TICKS_PER_QUARTER / 48;

/// The grid of a performance.
#[derive(Clone, Debug)]
pub(super) struct Grid {
    /// Played by hand: the step of every beat, by its beginning.
    beats: Option<Vec<(i64, i64)>>,
}

impl Grid {
    pub(super) fn of(performance: &Performance) -> Self {
        let melody = || performance.notes.iter().filter(|note| note.hand == Hand::Melody);
        let near = melody().filter(|note| (written(note.at.0) - note.at.0).abs() <= SLACK).count();
        if near * 10 >= melody().count() * WRITTEN_TENTHS {
            return Self { beats: None };
        }
        let mut onsets: Vec<i64> = performance.notes.iter().map(|note| note.at.0).collect();
        onsets.sort_unstable();
        let mut beats = Vec::new();
        for bar in &performance.bars {
            let beat = bar.metre.beat().0.max(1);
            let mut start = bar.start.0;
            while start < bar.end().0 {
                beats.push((start, step(&onsets, start, beat, bar.metre.is_compound())));
                start += beat;
            }
        }
        Self { beats: Some(beats) }
    }

    /// Whether the music was played by hand rather than written.
    pub(super) fn is_played(&self) -> bool {
        self.beats.is_some()
    }

    /// The nearest place that is written.
    pub(super) fn place(&self, at: i64) -> i64 {
        let Some(beats) = &self.beats else { return written(at) };
        let after = beats.partition_point(|(start, _)| *start <= at);
        match beats.get(after.saturating_sub(1)) {
            Some((start, step)) => start + (at - start + step / 2).div_euclid(*step) * step,
            None => at,
        }
    }

    /// The shortest length at a place.
    fn shortest(&self, at: i64) -> i64 {
        let Some(beats) = &self.beats else { return TICKS_PER_QUARTER / 8 };
        let after = beats.partition_point(|(start, _)| *start <= at);
        beats.get(after.saturating_sub(1)).map_or(TICKS_PER_QUARTER / 4, |(_, step)| *step)
    }

    /// A hand's notes up to the end of the last bar, by place and pitch, none without length.
    pub(super) fn notes(&self, performance: &Performance, hand: Hand) -> Vec<Struck> {
        let last = performance.bars.last().map_or(0, |bar| bar.end().0);
        let mut notes: Vec<Struck> = performance
            .notes
            .iter()
            .filter(|note| note.hand == hand)
            .map(|note| {
                let at = self.place(note.at.0.max(0));
                let end = self.place(note.end().0);
                let end = if end > at { end } else { at + self.shortest(at) };
                Struck { at, end: end.min(last), pitch: note.pitch }
            })
            .filter(|note| note.at < note.end)
            .collect();
        notes.sort_by_key(|note| (note.at, note.pitch, note.end));
        notes.dedup_by(|after, before| {
            let same = after.at == before.at && after.pitch == before.pitch;
            if same {
                before.end = before.end.max(after.end);
            }
            same
        });
        notes
    }
}

/// The nearest written place; of equally near ones the plainest.
fn written(at: i64) -> i64 {
    let near = |division: i64| {
        let step = TICKS_PER_QUARTER / division;
        (at + step / 2).div_euclid(step) * step
    };
    WRITTEN.into_iter().map(near).min_by_key(|place| (place - at).abs()).unwrap_or(at)
}

/// The step of a beat that suits its onsets best.
fn step(onsets: &[i64], start: i64, beat: i64, compound: bool) -> i64 {
    let plain = if compound { beat / 6 } else { beat / 4 };
    let from = onsets.partition_point(|at| *at < start - plain / 2);
    let to = onsets.partition_point(|at| *at < start + beat - plain / 2);
    let here = onsets.get(from..to).unwrap_or_default();
    if compound || here.is_empty() {
        return plain;
    }
    let error = |step: i64| {
        let off = |at: &i64| {
            let into = (at - start).rem_euclid(step);
            into.min(step - into)
        };
        here.iter().map(off).sum::<i64>() / here.len() as i64
    };
    if error(beat / 3) + TRIPLET_PENALTY < error(plain) { beat / 3 } else { plain }
}

/// Stretches with the pedal down, in ticks.
#[derive(Clone, Debug, Default)]
pub(super) struct Pedalled(Vec<(i64, i64)>);

impl Pedalled {
    pub(super) fn of(played: &Performance) -> Self {
        let mut stretches = Vec::new();
        let mut down = None;
        for change in &played.pedal {
            match (down, change.down) {
                (None, true) => down = Some(change.at.0),
                (Some(from), false) => {
                    stretches.push((from, change.at.0));
                    down = None;
                }
                _ => {}
            }
        }
        if let Some(from) = down {
            stretches.push((from, played.end.0));
        }
        Self(stretches)
    }

    /// The stretches, by time.
    pub(super) fn stretches(&self) -> &[(i64, i64)] {
        &self.0
    }

    /// Whether the pedal is down, so that it holds what the hand lets go.
    pub(super) fn is_down(&self, at: i64) -> bool {
        self.holds(at, at)
    }

    /// Whether the pedal holds what ends at `from` until `to`.
    pub(super) fn holds(&self, from: i64, to: i64) -> bool {
        // The pedal comes up a little after the harmony has changed, or just on it.
        let slack = TICKS_PER_QUARTER / 8;
        let after = self.0.partition_point(|(down, _)| *down <= from + slack);
        let stretch = after.checked_sub(1).and_then(|index| self.0.get(index));
        stretch.is_some_and(|(_, up)| to <= up + slack)
    }
}

/// Index of the bar that holds a place.
pub(super) fn bar_of(bars: &[PlayedBar], at: i64) -> Option<usize> {
    let index = bars.partition_point(|bar| bar.start.0 <= at).checked_sub(1)?;
    (at < bars.get(index)?.end().0).then_some(index)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;

    #[test]
    fn written_places_stay_and_frames_are_mended() {
        for place in [0, TICKS_PER_QUARTER / 3, TICKS_PER_QUARTER / 5 * 2, TICKS_PER_QUARTER / 7, 1_260] {
            for off in [-2, 0, 2] {
                assert_eq!(written(place + off), place);
            }
        }
    }

    #[test]
    fn hands_are_brought_to_the_grid() {
        let mut performance = sample::two_bars();
        for (index, note) in performance.notes.iter_mut().enumerate() {
            note.at = figwort_theory::Moment((note.at.0 + [500, -700, 600, -450, 800][index % 5]).max(0));
        }
        let grid = Grid::of(&performance);
        assert!(grid.is_played());
        let places: Vec<i64> = grid.notes(&performance, Hand::Melody).iter().map(|note| note.at).collect();
        let wanted = Grid::of(&sample::two_bars());
        assert!(!wanted.is_played());
        let wanted: Vec<i64> =
            wanted.notes(&sample::two_bars(), Hand::Melody).iter().map(|note| note.at).collect();
        assert_eq!(places, wanted);
    }

    #[test]
    fn the_pedal_holds_what_it_was_down_for() {
        let pedal = Pedalled::of(&sample::two_bars());
        let quarter = TICKS_PER_QUARTER;
        assert_eq!(pedal.stretches(), [(quarter, 5 * quarter), (6 * quarter, 9 * quarter)]);
        assert!(pedal.holds(2 * quarter, 5 * quarter));
        assert!(!pedal.holds(2 * quarter, 7 * quarter));
        assert!(!pedal.holds(5 * quarter + quarter / 2, 6 * quarter));
    }
}
