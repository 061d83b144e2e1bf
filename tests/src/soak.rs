//! Soak: random players drive the engine for hours of musical time, and every event that leaves is checked.
//!
//! A run belongs to one manner and one seed and is repeatable. The host around the engine does what hosts do
//! and should not: it stops, jumps, loops, changes tempo and metre, leaves parts of the transport out, moves
//! every setting (to nonsense, too), changes manner and sheet, bypasses, resets, and at times has no room for
//! output. Another thread reads the snapshots meanwhile. Time is in frames of [`RATE`], blocks are of
//! [`FRAMES`] frames.
//!
//! Deliberately absent: any opinion on the music.

mod ear;
mod player;

use std::sync::atomic::{AtomicBool, Ordering};

use assert_no_alloc::assert_no_alloc;
use figwort_engine::{Block, Engine, Snapshot};
use figwort_preset::Library;
use figwort_render::chart::OwnedChart;

pub use ear::{Ear, Fault};
use player::Player;

/// Frames per second.
pub const RATE: f64 = 48_000.0;
/// Frames in a block.
pub const FRAMES: u32 = 64;
/// Every so many blocks (about 80 seconds) the players stop and everything has to fall silent.
const HUSH_EVERY: u64 = 60_000;
/// Blocks that the engine gets to fall silent: 2 seconds.
const HUSH: u64 = 1_500;

/// What one run heard.
#[derive(Clone, Debug, Default)]
pub struct Summary {
    /// The manner.
    pub manner: String,
    /// Minutes of time played.
    pub minutes: f64,
    /// Events sent in: notes, pedal and what is passed on.
    pub sent: u64,
    /// Note-ons that left.
    pub ons: u64,
    /// Note-offs that left.
    pub offs: u64,
    /// Pedal changes and messages passed on.
    pub others: u64,
    /// Events refused for lack of room.
    pub refused: u64,
    /// Times when everything had to be silent.
    pub hushes: u64,
    /// Jumps and loops, changes of tempo or metre, stops and starts of the transport.
    pub turns: u64,
    /// Changes of settings, manners and sheets.
    pub changes: u64,
    /// Snapshots that the other thread read and checked.
    pub snapshots: u64,
    /// What was wrong, the first hundred; empty when nothing was.
    pub faults: Vec<Fault>,
}

impl Summary {
    /// Whether nothing was wrong.
    pub fn is_clean(&self) -> bool {
        self.faults.is_empty() && self.ons == self.offs
    }
}

/// Plays one manner for a number of minutes. `charts` are the sheets that may be followed.
///
/// The engine runs under `assert_no_alloc`: in a program with that crate's allocator, an allocation aborts.
///
/// # Panics
/// When the engine panics, or the library doesn't have the manner.
pub fn soak(library: &Library, manner: &str, charts: &[OwnedChart], minutes: f64, seed: u64) -> Summary {
    let (mut input, mut output) = triple_buffer::triple_buffer(&Snapshot::default());
    let done = AtomicBool::new(false);
    let mut summary = Summary { manner: manner.to_owned(), minutes, ..Summary::default() };
    std::thread::scope(|scope| {
        let reader = scope.spawn(|| {
            let (mut read, mut faults) = (0u64, Vec::new());
            while !done.load(Ordering::Acquire) {
                if output.update() {
                    read += 1;
                    if let Some(fault) = ear::look(output.output_buffer_mut()) {
                        faults.push(fault);
                        faults.truncate(10);
                    }
                }
                std::thread::yield_now();
            }
            (read, faults)
        });
        let _ends = Ends(&done);
        let mut engine = Engine::new(RATE);
        let mut player = Player::new(library, manner, charts, seed);
        let mut ear = Ear::new(FRAMES);
        let blocks = (minutes * 60.0 * RATE / f64::from(FRAMES)) as u64;
        for block in 0..blocks {
            if block % HUSH_EVERY == HUSH_EVERY - 1 {
                hush(&mut engine, &mut player, &mut ear);
                summary.hushes += 1;
            }
            player.prepare();
            if player.resets() {
                engine.reset();
            }
            ear.begin(player.room());
            run(&mut engine, &player, &mut ear);
            ear.end();
            if block % 16 == 0 {
                input.write(*engine.snapshot());
            }
        }
        hush(&mut engine, &mut player, &mut ear);
        summary.hushes += 1;
        done.store(true, Ordering::Release);
        // A reader that panicked is a fault like any other.
        let (snapshots, faults) = reader.join().unwrap_or((0, vec![Fault::ReaderPanicked]));
        summary.snapshots = snapshots;
        summary.faults = ear.faults().to_vec();
        summary.faults.extend(faults);
        (summary.ons, summary.offs, summary.others, summary.refused) = ear.counts();
        (summary.sent, summary.turns, summary.changes) = player.counts();
    });
    summary
}

/// Lets the reader end, also when the engine panics.
struct Ends<'a>(&'a AtomicBool);

impl Drop for Ends<'_> {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Release);
    }
}

fn run(engine: &mut Engine, player: &Player<'_>, ear: &mut Ear) {
    let chart = player.chart();
    let block = Block {
        frames: FRAMES,
        transport: player.told(),
        input: player.input(),
        settings: player.settings(),
        figures: player.figures(),
        chart: chart.as_ref(),
    };
    assert_no_alloc(|| engine.process(block, ear));
}

/// Every key comes up, the transport stops, there is room: soon nothing may sound.
fn hush(engine: &mut Engine, player: &mut Player<'_>, ear: &mut Ear) {
    player.lift_everything();
    for _ in 0..HUSH {
        ear.begin(usize::MAX);
        run(engine, player, ear);
        ear.end();
        player.wait();
    }
    ear.expect_silence();
}
