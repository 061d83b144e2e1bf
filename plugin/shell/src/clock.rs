//! A clock of our own, for when there is no host: runs and stands, counts bars, clicks.
//!
//! Position in quarter notes from zero, at which it starts every time. Levels as factors of full scale.
//!
//! # Real time
//! No allocation, no lock.

use figwort_engine::Transport;
use figwort_theory::Metre;

/// Level of a click at its loudest: well below a chord of the audition piano at its own usual level.
const LEVEL: f32 = 0.06;
/// Pitch of an ordinary click and of a bar's first, in hertz.
const PITCHES: [f32; 2] = [1_000.0, 1_500.0];
/// Time in which a click falls to a third, in seconds.
const FALL: f32 = 0.012;

/// A bar that is counted from, and others of its metre after it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Bar {
    /// Its beginning in quarter notes; may lie before zero, as a pick-up's does.
    pub(crate) start: f64,
    pub(crate) metre: Metre,
}

impl Bar {
    /// Bars of a metre from zero on.
    pub(crate) fn first(metre: Metre) -> Self {
        Self { start: 0.0, metre }
    }
}

/// The clock.
#[derive(Debug)]
pub(crate) struct OwnClock {
    sample_rate: f64,
    running: bool,
    /// Quarter notes since it started.
    position: f64,
    tempo: f64,
    bar: Bar,
    click: Click,
}

impl OwnClock {
    pub(crate) fn new() -> Self {
        Self {
            sample_rate: 48_000.0,
            running: false,
            position: 0.0,
            tempo: 120.0,
            bar: Bar::first(Metre::FOUR_FOUR),
            click: Click::default(),
        }
    }

    pub(crate) fn set_rate(&mut self, sample_rate: f32) {
        self.sample_rate = f64::from(sample_rate.max(1.0));
    }

    /// A block begins: what is wanted of it, and the bar it begins in. It starts from zero whenever it did not run.
    pub(crate) fn begin(&mut self, running: bool, tempo: f64, bar: Bar) {
        if running && !self.running {
            self.position = 0.0;
        }
        self.running = running;
        self.tempo = tempo;
        self.bar = bar;
    }

    /// Starts from zero at the next block, running or not.
    pub(crate) fn rewind(&mut self) {
        self.running = false;
    }

    /// Quarter notes since it started; none while it stands.
    pub(crate) fn position(&self) -> f64 {
        if self.running { self.position } else { 0.0 }
    }

    fn quarters(&self, frames: u32) -> f64 {
        f64::from(frames) * self.tempo / (60.0 * self.sample_rate)
    }

    /// As a host would tell it, so many frames into the block.
    pub(crate) fn transport(&self, frames: u32) -> Transport {
        let position = self.position + if self.running { self.quarters(frames) } else { 0.0 };
        let Bar { start, metre } = self.bar;
        let bar = metre.bar().in_quarters();
        Transport {
            playing: self.running,
            tempo: Some(self.tempo),
            position: Some(position),
            bar_start: Some(start + ((position - start) / bar).floor() * bar),
            metre: Some(metre),
        }
    }

    /// The block is over: clicks on its beats where `audible`, and goes on.
    pub(crate) fn end(&mut self, left: &mut [f32], right: &mut [f32], audible: bool) {
        let frames = left.len().min(right.len());
        let Bar { start, metre } = self.bar;
        let (bar, beat) = (metre.bar().in_quarters(), metre.beat().in_quarters());
        let per_frame = self.quarters(1);
        let mut next = self.running.then(|| start + (((self.position - start) / beat) - 1e-9).ceil() * beat);
        for (frame, (left, right)) in left.iter_mut().zip(right).enumerate() {
            if let Some(at) = next
                && self.position + frame as f64 * per_frame >= at - per_frame * 0.5
            {
                let bars = (at - start) / bar;
                let first = (bars - bars.round()).abs() < 1e-6;
                if audible {
                    self.click.strike(PITCHES[usize::from(first)], self.sample_rate as f32);
                }
                next = Some(at + beat);
            }
            let sample = self.click.next();
            *left += sample;
            *right += sample;
        }
        if self.running {
            self.position += frames as f64 * per_frame;
        }
    }
}

/// A short sine.
#[derive(Debug, Default)]
struct Click {
    level: f32,
    fall: f32,
    phase: f32,
    step: f32,
}

impl Click {
    fn strike(&mut self, pitch: f32, sample_rate: f32) {
        *self = Self {
            level: LEVEL,
            fall: (-1.0 / (FALL * sample_rate)).exp(),
            phase: 0.0,
            step: std::f32::consts::TAU * pitch / sample_rate,
        };
    }

    fn next(&mut self) -> f32 {
        if self.level < 1e-5 {
            return 0.0;
        }
        let sample = self.level * self.phase.sin();
        self.level *= self.fall;
        self.phase += self.step;
        sample
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One second at 120: clicks at its beats whatever the blocks, and nowhere else.
    #[test]
    fn it_clicks_on_the_beat() {
        let heard = |blocks: &[usize]| {
            let mut clock = OwnClock::new();
            let mut sound = Vec::new();
            for size in blocks.iter().cycle() {
                if sound.len() >= 96_000 {
                    break;
                }
                let (mut left, mut right) = (vec![0.0; *size], vec![0.0; *size]);
                clock.begin(true, 120.0, Bar::first(Metre::FOUR_FOUR));
                clock.end(&mut left, &mut right, true);
                assert_eq!(left, right);
                sound.extend(left);
            }
            // A click's first sample is silent; the second tells.
            let starts: Vec<usize> = (1..96_000)
                .filter(|at| {
                    sound[*at] != 0.0 && sound[at.saturating_sub(1_000)..*at].iter().all(|s| *s == 0.0)
                })
                .collect();
            (starts, sound)
        };
        let (starts, sound) = heard(&[64]);
        assert_eq!(starts, [1, 24_001, 48_001, 72_001]);
        assert_eq!(heard(&[1, 500, 4096, 17]).0, starts);
        let peak = sound.iter().fold(0.0f32, |peak, sample| peak.max(sample.abs()));
        assert!(peak > 0.02 && peak <= LEVEL, "{peak}");
    }

    #[test]
    fn it_starts_from_zero_and_counts_bars() {
        let mut clock = OwnClock::new();
        let (mut left, mut right) = (vec![0.0; 24_000], vec![0.0; 24_000]);
        let three = Bar::first(Metre::new(3, 4).expect("a metre"));
        for _ in 0..4 {
            clock.begin(true, 120.0, three);
            clock.end(&mut left, &mut right, false);
        }
        let now = clock.transport(12_000);
        assert_eq!((now.playing, now.position, now.bar_start), (true, Some(4.5), Some(3.0)));
        assert!(left.iter().all(|sample| *sample == 0.0));
        clock.begin(false, 120.0, three);
        assert!(!clock.transport(0).playing);
        clock.begin(true, 90.0, three);
        assert_eq!(clock.transport(0).position, Some(0.0));
    }
}
