//! Blocks and transport: what a host does when it plays.

use figwort_engine::{Block, Chart, Engine, InputEvent, InputMessage, Settings, Transport};
use figwort_theory::{Moment, Span};

use super::keep::Kept;
use super::{Options, PlayedBar};
use crate::tempo::TempoMap;

/// An input event at its frame, with its channel.
pub(super) type Input = (u64, u8, InputMessage);

/// The final chord is announced this many frames before its place, so that an engine that rounds its place
/// to the frame before finds it announced.
const FINISH_LEAD: u64 = 2;

/// What is to be played.
pub(super) struct Script<'a> {
    /// The bars.
    pub bars: &'a [PlayedBar],
    /// The sheet, if one is followed.
    pub chart: Option<Chart<'a>>,
    /// Input by frame.
    pub input: &'a [Input],
    /// From when on the next chord is the last.
    pub finish: Option<Moment>,
    /// End of the music.
    pub end: Moment,
    /// When the transport stops at the latest.
    pub latest: Moment,
    /// After `end`, the transport stops at the first multiple of this at which nothing sounds.
    pub beat: Span,
}

/// A stretch of frames in which metre and bar are the same.
#[derive(Clone, Copy, Debug, PartialEq)]
struct BarFrames {
    /// First frame of the bar.
    from: u64,
    bar: PlayedBar,
}

/// Plays the script and returns everything that came out.
pub(super) fn run(script: &Script<'_>, map: &TempoMap, options: &Options) -> Kept {
    let mut host = Host::new(script, map, options);
    host.run_to(map.first_frame_from(script.end).saturating_add(1));
    // The tail: whole beats past the end, at frames that do not depend on the block size.
    let latest = map.first_frame_from(script.latest).saturating_add(1);
    let mut stop = script.end;
    while host.kept.sounds() && host.frame < latest && script.beat > Span::ZERO {
        stop += script.beat;
        host.run_to(map.first_frame_from(stop).saturating_add(1).min(latest));
    }
    host.stop();
    host.kept
}

struct Host<'a> {
    script: &'a Script<'a>,
    map: &'a TempoMap,
    options: &'a Options,
    settings: Settings,
    engine: Engine,
    bars: Vec<BarFrames>,
    /// Frames at which a block has to begin, rising.
    cuts: Vec<u64>,
    finish: Option<u64>,
    frame: u64,
    next_input: usize,
    /// Reused from block to block.
    events: Vec<InputEvent>,
    kept: Kept,
}

impl<'a> Host<'a> {
    fn new(script: &'a Script<'a>, map: &'a TempoMap, options: &'a Options) -> Self {
        let bars = bar_frames(script, map);
        let finish = script.finish.map(|at| map.first_frame_from(at).saturating_sub(FINISH_LEAD));
        let mut cuts: Vec<u64> = map.changes().map(|change| map.first_frame_from(change.at)).collect();
        for pair in bars.windows(2) {
            if let [before, after] = pair {
                // A bar that begins where the metre alone would not have put it is news to the engine.
                if before.bar.metre != after.bar.metre || before.bar.length != before.bar.metre.bar() {
                    cuts.push(after.from);
                }
            }
        }
        cuts.extend(finish);
        cuts.sort_unstable();
        cuts.dedup();
        Self {
            script,
            map,
            options,
            settings: options.settings,
            engine: Engine::new(f64::from(map.sample_rate())),
            bars,
            cuts,
            finish,
            frame: 0,
            next_input: 0,
            events: Vec::new(),
            kept: Kept::default(),
        }
    }

    /// Plays up to a frame, the transport running.
    fn run_to(&mut self, end: u64) {
        while self.frame < end {
            let cut = self.cuts.partition_point(|cut| *cut <= self.frame);
            let until = self.cuts.get(cut).copied().unwrap_or(u64::MAX).min(end);
            self.block(until - self.frame, true);
        }
    }

    /// Stops the transport and plays on until everything has ended, at most for a second; what still sounds
    /// then is ended by a reset.
    fn stop(&mut self) {
        let end = self.frame.saturating_add(u64::from(self.map.sample_rate()));
        loop {
            self.block(end - self.frame, false);
            if !self.kept.sounds() || self.frame >= end {
                break;
            }
        }
        if self.kept.sounds() {
            self.engine.reset();
            self.block(1, false);
        }
    }

    /// Plays one block of at most `room` frames.
    fn block(&mut self, room: u64, playing: bool) {
        let frames = u64::from(self.options.block.max(1)).min(room.max(1));
        let block_end = self.frame + frames;
        self.events.clear();
        while let Some((frame, channel, message)) = self.script.input.get(self.next_input).copied() {
            if frame >= block_end {
                break;
            }
            let offset = u32::try_from(frame.saturating_sub(self.frame)).unwrap_or(u32::MAX);
            self.events.push(InputEvent { offset, channel, message });
            self.next_input += 1;
        }
        self.settings.finish =
            self.options.settings.finish || self.finish.is_some_and(|finish| self.frame >= finish);
        self.kept.begin_block(self.frame);
        let block = Block {
            frames: u32::try_from(frames).unwrap_or(u32::MAX),
            transport: self.transport(playing),
            input: &self.events,
            settings: &self.settings,
            figures: &self.options.figures,
            chart: self.script.chart.as_ref(),
        };
        self.engine.process(block, &mut self.kept);
        self.frame = block_end;
    }

    /// The transport at the present frame.
    fn transport(&self, playing: bool) -> Transport {
        let bar = self.bars.partition_point(|bar| bar.from <= self.frame).saturating_sub(1);
        let bar = self.bars.get(bar).map(|frames| frames.bar);
        Transport {
            playing,
            tempo: Some(60_000_000.0 / f64::from(self.map.micros_at(self.frame))),
            position: Some(self.map.quarters_at(self.frame)),
            bar_start: bar.map(|bar| bar.start.since_zero().in_quarters()),
            metre: bar.map(|bar| bar.metre),
        }
    }
}

/// The bars with their first frames, and as many more of the last metre as the tail may need.
fn bar_frames(script: &Script<'_>, map: &TempoMap) -> Vec<BarFrames> {
    let mut bars: Vec<BarFrames> = script
        .bars
        .iter()
        .map(|bar| BarFrames { from: map.first_frame_from(bar.start), bar: *bar })
        .collect();
    while let Some(BarFrames { bar, .. }) = bars.last().copied() {
        let start = bar.end();
        if start > script.latest || bar.length <= Span::ZERO {
            break;
        }
        let bar = PlayedBar { start, length: bar.metre.bar(), section: false, ..bar };
        bars.push(BarFrames { from: map.first_frame_from(start), bar });
    }
    bars
}
