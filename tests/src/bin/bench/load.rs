//! What is played: nothing, a player, a dense player. The same every time.

use tests::host::Send;

/// Frames per second.
pub(crate) const RATE: f64 = 48_000.0;
/// Quarter notes a minute.
pub(crate) const TEMPO: f64 = 120.0;

/// How much a player plays.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Load {
    /// The row's name.
    pub(crate) name: &'static str,
    /// Beats from chord to chord; `None` for silence.
    pub(crate) chord: Option<f64>,
    /// Melody notes a beat while it moves.
    pub(crate) notes: f64,
    /// Whether the melody stands every other bar.
    pub(crate) stands: bool,
}

/// The three rows of the table.
pub(crate) const LOADS: [Load; 3] = [
    Load { name: "idle", chord: None, notes: 0.0, stands: false },
    Load { name: "playing", chord: Some(4.0), notes: 2.0, stands: true },
    Load { name: "dense", chord: Some(1.0), notes: 4.0, stands: true },
];

impl Load {
    /// The input of the frames from `from` to `to`, by frame.
    pub(crate) fn input(&self, from: u64, to: u64) -> Vec<(u64, Send)> {
        let mut input = Vec::new();
        let Some(chord) = self.chord else { return input };
        let beat = RATE * 60.0 / TEMPO;
        every(chord * beat, from, to, |n, at| {
            const ROOTS: [u8; 8] = [48, 45, 50, 43, 52, 41, 46, 47];
            const KINDS: [[u8; 4]; 4] = [[0, 4, 7, 10], [0, 3, 7, 10], [0, 4, 7, 11], [0, 3, 6, 9]];
            let keys = |n: u64| KINDS[n as usize / 3 % 4].map(|step| ROOTS[n as usize % 8] + step);
            if let Some(last) = n.checked_sub(1) {
                input.extend(keys(last).map(|key| (at, Send::Off(0, key))));
            }
            input.extend(keys(n).map(|key| (at, Send::On(0, key, 80))));
        });
        if self.notes > 0.0 {
            let bar = 4.0 * beat;
            every(beat / self.notes, from, to, |n, at| {
                let stands = self.stands && (at as f64 / bar) as u64 % 2 == 1;
                let key = |n: u64| 72 + (n * 7 % 12) as u8;
                if !stands {
                    input.extend(n.checked_sub(1).map(|last| (at, Send::Off(0, key(last)))));
                    input.push((at, Send::On(0, key(n), 90)));
                }
            });
        }
        input.sort_by_key(|(at, _)| *at);
        input
    }
}

/// Calls with the number and frame of everything that comes once every `step` frames.
fn every(step: f64, from: u64, to: u64, mut call: impl FnMut(u64, u64)) {
    let mut n = (from as f64 / step).ceil() as u64;
    loop {
        let at = (n as f64 * step).round() as u64;
        if at >= to {
            return;
        }
        if at >= from {
            call(n, at);
        }
        n += 1;
    }
}
