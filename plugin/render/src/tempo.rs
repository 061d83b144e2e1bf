//! The exact bridge between musical time and frames.
//!
//! A tempo map is piecewise linear: between two tempo changes a tick always takes the same time. All
//! arithmetic is on whole numbers (`i128`), so nothing drifts however long the music is; rounding happens
//! once, at the answer. Frame 0 is [`Moment::ZERO`]. Deliberately absent: gradual tempo changes, which the
//! sheets and MIDI files write as steps anyway.

use figwort_sheet::{DEFAULT_TEMPO, TempoChange};
use figwort_theory::{Moment, TICKS_PER_QUARTER};

/// Microsecond-ticks in a second at one tick per quarter: the common denominator of all frame positions.
const PER_SECOND: i128 = TICKS_PER_QUARTER as i128 * 1_000_000;

/// Tempo changes with the time that has passed until each.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TempoMap {
    sample_rate: u32,
    /// By time, the first at zero, no two at the same moment.
    segments: Vec<Segment>,
}

/// A stretch of constant tempo.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Segment {
    /// Its beginning in ticks.
    at: i64,
    /// Time until its beginning, in ticks × microseconds per quarter.
    elapsed: i128,
    /// Microseconds per quarter.
    micros: u32,
}

impl TempoMap {
    /// From tempo changes in any order. Of several at one moment the last counts; changes before zero count
    /// as at zero; without one at zero the music starts at 120 quarters a minute. `sample_rate` is taken as 1
    /// where it is 0, a tempo of 0 microseconds as 1.
    pub fn new(changes: &[TempoChange], sample_rate: u32) -> Self {
        let mut sorted: Vec<(i64, u32)> =
            changes.iter().map(|change| (change.at.0.max(0), change.micros_per_quarter.max(1))).collect();
        // Stable, so that the last of several at one moment stays the last.
        sorted.sort_by_key(|(at, _)| *at);
        let mut segments = vec![Segment { at: 0, elapsed: 0, micros: DEFAULT_TEMPO }];
        for (at, micros) in sorted {
            if let Some(last) = segments.last_mut() {
                if last.at == at {
                    last.micros = micros;
                } else if last.micros != micros {
                    let elapsed = last.elapsed + i128::from(at - last.at) * i128::from(last.micros);
                    segments.push(Segment { at, elapsed, micros });
                }
            }
        }
        Self { sample_rate: sample_rate.max(1), segments }
    }

    /// Frames per second.
    pub fn sample_rate(&self) -> u32 {
        self.sample_rate
    }

    /// The tempo changes, the first at zero; a change to the same tempo is left out.
    pub fn changes(&self) -> impl Iterator<Item = TempoChange> {
        self.segments
            .iter()
            .map(|segment| TempoChange { at: Moment(segment.at), micros_per_quarter: segment.micros })
    }

    /// Exact frame position of a moment as a fraction over [`PER_SECOND`]; negative before zero.
    fn exact_frame(&self, moment: Moment) -> i128 {
        let segment = self.segment(|segment| segment.at <= moment.0);
        let passed =
            segment.elapsed + (i128::from(moment.0) - i128::from(segment.at)) * i128::from(segment.micros);
        passed * i128::from(self.sample_rate)
    }

    /// The nearest frame to a moment; halves go up; moments before zero give frame 0.
    pub fn frame_at(&self, moment: Moment) -> u64 {
        to_frame((2 * self.exact_frame(moment) + PER_SECOND).div_euclid(2 * PER_SECOND))
    }

    /// The first frame that is not before a moment.
    pub fn first_frame_from(&self, moment: Moment) -> u64 {
        to_frame(-(-self.exact_frame(moment)).div_euclid(PER_SECOND))
    }

    /// Exact position of a frame in ticks, as numerator and positive denominator.
    fn exact_tick(&self, frame: u64) -> (i128, i128) {
        let rate = i128::from(self.sample_rate);
        let time = i128::from(frame) * PER_SECOND;
        let segment = self.segment(|segment| segment.elapsed * rate <= time);
        let per_tick = i128::from(segment.micros) * rate;
        (i128::from(segment.at) * per_tick + time - segment.elapsed * rate, per_tick)
    }

    /// The nearest tick to a frame; halves go up.
    pub fn moment_at(&self, frame: u64) -> Moment {
        let (ticks, over) = self.exact_tick(frame);
        let nearest = (2 * ticks + over).div_euclid(2 * over);
        Moment(i64::try_from(nearest).unwrap_or(i64::MAX))
    }

    /// The position of a frame in quarter notes: the exact fraction, rounded once to a double.
    pub fn quarters_at(&self, frame: u64) -> f64 {
        let (ticks, over) = self.exact_tick(frame);
        let over = over * i128::from(TICKS_PER_QUARTER);
        // The whole part apart, so that the remainder keeps its precision.
        (ticks.div_euclid(over)) as f64 + ticks.rem_euclid(over) as f64 / over as f64
    }

    /// Microseconds per quarter in force at a frame.
    pub fn micros_at(&self, frame: u64) -> u32 {
        let time = i128::from(frame) * PER_SECOND;
        self.segment(|segment| segment.elapsed * i128::from(self.sample_rate) <= time).micros
    }

    /// The last segment of those at the beginning that satisfy `begun`; the first one where none does.
    fn segment(&self, begun: impl Fn(&Segment) -> bool) -> Segment {
        let after = self.segments.partition_point(begun);
        self.segments.get(after.saturating_sub(1)).copied().unwrap_or(Segment {
            at: 0,
            elapsed: 0,
            micros: DEFAULT_TEMPO,
        })
    }
}

/// A frame number from an exact one: never negative.
fn to_frame(exact: i128) -> u64 {
    u64::try_from(exact.max(0)).unwrap_or(u64::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use figwort_theory::Span;
    use proptest::prelude::*;

    fn change(quarters: i64, micros: u32) -> TempoChange {
        TempoChange { at: Moment::quarters(quarters), micros_per_quarter: micros }
    }

    /// 120 a minute at 48 kHz: a quarter is 24 000 frames. Worked by hand.
    #[test]
    fn frames_of_even_tempi() {
        let map = TempoMap::new(&[change(0, 500_000)], 48_000);
        assert_eq!(map.frame_at(Moment::quarters(3)), 72_000);
        assert_eq!(map.moment_at(72_000), Moment::quarters(3));
        assert_eq!(map.quarters_at(36_000), 1.5);
    }

    /// 4 quarters at 1 s, then 2 at 0.25 s, then 0.6 s each: quarter 8 is at 4 + 0.5 + 1.2 = 5.7 s.
    #[test]
    fn time_adds_up_over_changes() {
        let map = TempoMap::new(&[change(6, 600_000), change(0, 1_000_000), change(4, 250_000)], 44_100);
        assert_eq!(map.frame_at(Moment::quarters(8)), 251_370);
        assert_eq!(map.moment_at(251_370), Moment::quarters(8));
        assert_eq!(map.micros_at(4 * 44_100 - 1), 1_000_000);
        assert_eq!(map.micros_at(4 * 44_100), 250_000);
        assert_eq!(map.micros_at(198_450), 600_000);
    }

    /// A third of a quarter at 70 a minute and 44.1 kHz: 60/70/3 s × 44 100 = 12 600 frames exactly, but one
    /// tick later is 0.5357 of the way to the next two frames.
    #[test]
    fn ceiling_and_nearest_differ_as_they_should() {
        let map = TempoMap::new(&[change(0, 857_143)], 44_100);
        let third = Moment(TICKS_PER_QUARTER / 3);
        // 857 143 µs / 3 × 44.1 = 12 600.0021: just past frame 12 600.
        assert_eq!(map.frame_at(third), 12_600);
        assert_eq!(map.first_frame_from(third), 12_601);
        assert_eq!(map.frame_at(Moment(-5)), 0);
    }

    #[test]
    fn a_map_without_tempo_is_midis_default() {
        let map = TempoMap::new(&[], 48_000);
        assert_eq!(map.frame_at(Moment::quarters(1)), 24_000);
        let late = TempoMap::new(&[change(2, 1_000_000)], 48_000);
        assert_eq!(late.frame_at(Moment::quarters(3)), 96_000);
    }

    proptest! {
        /// Against independent exact fractions: the frame's time and the moment's time differ by at most
        /// half a frame, computed here segment by segment in another way.
        #[test]
        fn nearest_means_nearest(
            steps in prop::collection::vec((1i64..400_000, 150_000u32..3_000_000), 1..12),
            rate in prop::sample::select(vec![8_000u32, 44_100, 48_000, 96_000, 192_000]),
            ticks in 0i64..8_000_000,
        ) {
            let mut changes = vec![change(0, 500_000)];
            let mut at = 0;
            for (gap, micros) in &steps {
                at += gap;
                changes.push(TempoChange { at: Moment(at), micros_per_quarter: *micros });
            }
            let map = TempoMap::new(&changes, rate);
            // Time of `ticks` in tick-microseconds, one segment after another.
            let mut time = 0i128;
            for (index, change) in changes.iter().enumerate() {
                let end = changes.get(index + 1).map_or(i64::MAX, |next| next.at.0).min(ticks);
                time += i128::from((end - change.at.0).max(0)) * i128::from(change.micros_per_quarter);
            }
            let exact = time * i128::from(rate);
            let frame = i128::from(map.frame_at(Moment(ticks))) * PER_SECOND;
            prop_assert!((frame - exact).abs() * 2 <= PER_SECOND);
            let from = i128::from(map.first_frame_from(Moment(ticks))) * PER_SECOND;
            prop_assert!(from >= exact && from - exact < PER_SECOND);
        }

        /// There and back: a frame's moment is a frame away by no more than half a tick's worth and rounding.
        #[test]
        fn round_trips(
            micros in 150_000u32..3_000_000,
            second in 150_000u32..3_000_000,
            rate in prop::sample::select(vec![22_050u32, 44_100, 48_000, 96_000]),
            frame in 0u64..20_000_000,
        ) {
            let map = TempoMap::new(&[change(0, micros), change(17, second)], rate);
            let back = map.frame_at(map.moment_at(frame));
            let slowest = micros.max(second);
            let frames_per_tick = f64::from(slowest) * f64::from(rate) / 1e6 / TICKS_PER_QUARTER as f64;
            prop_assert!((back as f64 - frame as f64).abs() <= frames_per_tick / 2.0 + 0.5);
            let quarters = map.quarters_at(frame);
            let tick = map.moment_at(frame).since_zero().in_quarters();
            prop_assert!((quarters - tick).abs() <= 0.5 / TICKS_PER_QUARTER as f64 + 1e-9);
        }

        /// Frames never run backwards, and moments after one another get frames after one another.
        #[test]
        fn order_is_kept(ticks in 0i64..4_000_000, gap in 0i64..100_000) {
            let map = TempoMap::new(&[change(0, 700_000), change(30, 333_333), change(60, 1_234_567)], 48_000);
            let (a, b) = (Moment(ticks), Moment(ticks) + Span(gap));
            prop_assert!(map.frame_at(a) <= map.frame_at(b));
        }
    }
}
