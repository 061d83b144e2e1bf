//! The clock: frames to musical time and back, and where the bars are.
//!
//! Position is kept as an anchor (a frame and a place in fixed point) and a rate; nothing is accumulated, so
//! it doesn't matter into which blocks time is cut. Hosts round their positions: the clock believes its own
//! arithmetic until the host disagrees by more than rounding explains, and then takes the host's word.

use figwort_theory::{Metre, Moment, Span, TICKS_PER_QUARTER};

use crate::event::Transport;

/// Binary digits after the point in positions and rates.
const POINT: u32 = 64;
/// Host positions this close to a 1/960 of a quarter (in ticks) are taken to mean it.
const SNAP: f64 = 0.25;
/// Disagreement with the host, in ticks, that is put down to its rounding: 1/480 quarter.
const ROUNDING: i64 = TICKS_PER_QUARTER / 480;
/// Disagreement, in ticks, from which the host is said to have jumped: 1/64 quarter. Below, it is drift.
const JUMP: i64 = TICKS_PER_QUARTER / 64;
/// Bars start on multiples of a 128th note, whatever a host's rounding says.
const BAR_GRID: i64 = TICKS_PER_QUARTER / 32;

/// What drives the clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Drive {
    /// Nothing: musical time stands.
    #[default]
    Idle,
    /// The clock's own run, begun by the first chord.
    Free,
    /// The host's transport.
    Host,
}

/// What a new block's transport changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turn {
    /// Time goes on.
    On,
    /// The transport began to run, or jumped: the past is gone.
    Jump,
    /// The transport stopped.
    Stop,
}

/// A bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bar {
    /// Where it starts.
    pub start: Moment,
    /// Its length.
    pub length: Span,
    /// Its time signature.
    pub metre: Metre,
    /// A number that tells this bar from its neighbours and is the same each time it is played.
    pub index: i64,
}

impl Bar {
    /// Where the next bar starts.
    pub fn end(&self) -> Moment {
        self.start + self.length
    }
}

/// Musical time from frames.
#[derive(Clone, Copy, Debug)]
pub struct Clock {
    sample_rate: f64,
    drive: Drive,
    tempo: f64,
    /// Ticks per frame, fixed point.
    rate: i128,
    anchor_frame: u64,
    /// Ticks at the anchor, fixed point.
    anchor: i128,
    metre: Metre,
    /// The start of one bar of the present metre.
    bar_anchor: Moment,
}

impl Clock {
    /// A clock at rest. Rates outside 1 kHz to 1 MHz are brought into it.
    pub fn new(sample_rate: f64) -> Self {
        let sample_rate = if sample_rate.is_finite() { sample_rate.clamp(1_000.0, 1e6) } else { 48_000.0 };
        let mut clock = Self {
            sample_rate,
            drive: Drive::Idle,
            tempo: 0.0,
            rate: 1,
            anchor_frame: 0,
            anchor: 0,
            metre: Metre::FOUR_FOUR,
            bar_anchor: Moment::ZERO,
        };
        clock.set_rate(100.0);
        clock
    }

    /// What drives it.
    pub fn drive(&self) -> Drive {
        self.drive
    }

    /// Quarter notes per minute.
    pub fn tempo(&self) -> f64 {
        self.tempo
    }

    /// The metre.
    pub fn metre(&self) -> Metre {
        self.metre
    }

    /// Takes in the transport at the first frame of a block. `free_tempo` serves where the host gives none.
    pub fn begin_block(&mut self, frame: u64, transport: &Transport, free_tempo: f64) -> Turn {
        let tempo = transport
            .tempo
            .filter(|tempo| tempo.is_finite() && *tempo > 0.0)
            .unwrap_or(free_tempo)
            .clamp(1.0, 2_000.0);
        if !transport.playing {
            if self.drive == Drive::Host {
                self.drive = Drive::Idle;
                self.change_tempo(frame, tempo);
                return Turn::Stop;
            }
            self.change_tempo(frame, tempo);
            self.free_metre(frame, transport);
            return Turn::On;
        }

        let position = transport.position.filter(|p| p.is_finite() && p.abs() < 1e8).map(fixed_position);
        if self.drive != Drive::Host {
            self.drive = Drive::Host;
            self.set_rate(tempo);
            self.anchor_at(frame, position.unwrap_or(0));
            self.host_metre(frame, transport, true);
            return Turn::Jump;
        }
        let error = position.map_or(0, |p| ((p - self.fixed_at(frame)) >> POINT) as i64);
        if error.abs() > JUMP {
            self.set_rate(tempo);
            self.anchor_at(frame, position.unwrap_or(0));
            self.host_metre(frame, transport, true);
            return Turn::Jump;
        }
        if error.abs() > ROUNDING {
            self.anchor_at(frame, position.unwrap_or(0));
        }
        self.change_tempo(frame, tempo);
        self.host_metre(frame, transport, false);
        Turn::On
    }

    /// Starts the clock's own run at bar one.
    pub fn run_free(&mut self, frame: u64) {
        self.drive = Drive::Free;
        self.anchor_at(frame, 0);
        self.bar_anchor = Moment::ZERO;
    }

    /// Stops the clock's own run; a host's transport isn't stopped.
    pub fn rest(&mut self) {
        if self.drive == Drive::Free {
            self.drive = Drive::Idle;
        }
    }

    /// Forgets the transport, so that the next block starts afresh.
    pub fn reset(&mut self) {
        self.drive = Drive::Idle;
    }

    /// The tick nearest to a frame.
    pub fn moment_at(&self, frame: u64) -> Moment {
        let fixed = if self.drive == Drive::Idle { self.anchor } else { self.fixed_at(frame) };
        Moment(((fixed + (1 << (POINT - 1))) >> POINT) as i64)
    }

    /// The frame nearest to a moment; never for an idle clock.
    pub fn frame_of(&self, moment: Moment) -> u64 {
        if self.drive == Drive::Idle {
            return u64::MAX;
        }
        let ahead = (i128::from(moment.0) << POINT) - self.anchor;
        let frames = (ahead + self.rate / 2).div_euclid(self.rate);
        let frame = i128::from(self.anchor_frame) + frames;
        frame.clamp(0, i128::from(u64::MAX)) as u64
    }

    /// A length of real time in musical time at the present tempo.
    pub fn span_of_millis(&self, millis: u32) -> Span {
        Span((millis as f64 * self.tempo * TICKS_PER_QUARTER as f64 / 60_000.0) as i64)
    }

    /// A length of real time in frames.
    pub fn frames_of_millis(&self, millis: u32) -> u64 {
        (f64::from(millis) * self.sample_rate / 1_000.0) as u64
    }

    /// The bar that holds a moment.
    pub fn bar_at(&self, moment: Moment) -> Bar {
        let length = self.metre.bar();
        let bars = (moment - self.bar_anchor).0.div_euclid(length.0);
        let start = self.bar_anchor + length * bars;
        Bar { start, length, metre: self.metre, index: start.0.div_euclid(length.0) }
    }

    fn fixed_at(&self, frame: u64) -> i128 {
        self.anchor + self.rate * (i128::from(frame) - i128::from(self.anchor_frame))
    }

    fn set_rate(&mut self, tempo: f64) {
        self.tempo = tempo;
        let ticks_per_frame = tempo * TICKS_PER_QUARTER as f64 / (60.0 * self.sample_rate);
        self.rate = ((ticks_per_frame * (1u128 << POINT) as f64) as i128).max(1);
    }

    fn anchor_at(&mut self, frame: u64, position: i128) {
        self.anchor_frame = frame;
        self.anchor = position;
    }

    /// Goes on from where the clock is, at another tempo.
    fn change_tempo(&mut self, frame: u64, tempo: f64) {
        if tempo != self.tempo {
            let here = if self.drive == Drive::Idle { self.anchor } else { self.fixed_at(frame) };
            self.anchor_at(frame, here);
            self.set_rate(tempo);
        }
    }

    fn free_metre(&mut self, frame: u64, transport: &Transport) {
        if let Some(metre) = transport.metre
            && metre != self.metre
        {
            // The bar under way keeps its start; the new metre counts from there.
            self.bar_anchor = self.bar_at(self.moment_at(frame)).start;
            self.metre = metre;
        }
    }

    fn host_metre(&mut self, frame: u64, transport: &Transport, jumped: bool) {
        let metre = transport.metre.unwrap_or(self.metre);
        let here = self.moment_at(frame);
        let told = transport
            .bar_start
            .filter(|start| start.is_finite() && start.abs() < 1e8)
            .map(|start| snap_to_bar_grid(start * TICKS_PER_QUARTER as f64));
        let changed = metre != self.metre;
        match told {
            Some(start) => self.bar_anchor = start,
            // Without a word from the host, bars count from the song's beginning, or on from a new metre.
            None if jumped => self.bar_anchor = Moment::ZERO,
            None if changed => self.bar_anchor = self.bar_at(here).start,
            None => {}
        }
        self.metre = metre;
    }
}

fn fixed_position(quarters: f64) -> i128 {
    let ticks = quarters * TICKS_PER_QUARTER as f64;
    let grid = TICKS_PER_QUARTER as f64 / 960.0;
    let near = round(ticks / grid) * grid;
    let ticks = if (ticks - near).abs() < SNAP { near } else { ticks };
    let whole = floor(ticks);
    ((whole as i128) << POINT) + ((ticks - whole) * (1u128 << POINT) as f64) as i128
}

fn snap_to_bar_grid(ticks: f64) -> Moment {
    Moment(round(ticks / BAR_GRID as f64) as i64 * BAR_GRID)
}

// `core` has no rounding of floats; the values here are far inside the range of i64.
fn floor(x: f64) -> f64 {
    let whole = x as i64 as f64;
    if whole > x { whole - 1.0 } else { whole }
}

fn round(x: f64) -> f64 {
    floor(x + 0.5)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn playing(position: f64, tempo: f64) -> Transport {
        Transport { playing: true, tempo: Some(tempo), position: Some(position), ..Transport::default() }
    }

    /// Exact rational arithmetic: at 97 bpm and 44.1 kHz a quarter is 60·44100/97 frames.
    #[test]
    fn beats_land_on_the_nearest_frame_for_hours() {
        let mut clock = Clock::new(44_100.0);
        clock.begin_block(0, &playing(0.0, 97.0), 100.0);
        for quarter in [1i64, 2, 3, 1_000, 12_345, 40_000] {
            let exact_doubled = 2 * quarter * 60 * 44_100;
            let frame = clock.frame_of(Moment::quarters(quarter)) as i64;
            // |frame - exact| <= 1/2, scaled by 2·97.
            assert!((frame * 2 * 97 - exact_doubled).abs() <= 97, "quarter {quarter} at {frame}");
        }
    }

    #[test]
    fn a_rounding_host_is_not_believed_and_a_jumping_one_is() {
        let mut clock = Clock::new(48_000.0);
        assert_eq!(clock.begin_block(0, &playing(0.0, 120.0), 100.0), Turn::Jump);
        assert_eq!(clock.begin_block(24_000, &playing(1.000_4, 120.0), 100.0), Turn::On);
        assert_eq!(clock.moment_at(24_000), Moment::quarters(1));
        assert_eq!(clock.begin_block(24_064, &playing(8.0, 120.0), 100.0), Turn::Jump);
        assert_eq!(clock.moment_at(24_064), Moment::quarters(8));
        assert_eq!(clock.begin_block(24_128, &Transport::default(), 100.0), Turn::Stop);
    }

    #[test]
    fn drift_is_followed() {
        let mut clock = Clock::new(48_000.0);
        clock.begin_block(0, &playing(0.0, 120.0), 100.0);
        assert_eq!(clock.begin_block(24_000, &playing(1.005, 120.0), 100.0), Turn::On);
        assert_eq!(clock.moment_at(24_000), Moment(20_261)); // 1.005 · 20160 = 20260.8
    }

    #[test]
    fn bars_follow_the_host_and_the_metre() {
        let mut clock = Clock::new(48_000.0);
        let three = Metre::new(3, 4);
        let transport = Transport { metre: three, bar_start: Some(6.999_999_6), ..playing(8.5, 120.0) };
        clock.begin_block(0, &transport, 100.0);
        let bar = clock.bar_at(Moment::quarters(11));
        assert_eq!((bar.start, bar.length), (Moment::quarters(10), Span::QUARTER * 3));
        assert_eq!(clock.bar_at(Moment::quarters(9)).start, Moment::quarters(7));
    }
}
