//! What the checks play, and the names that they expect.

use crate::host::Script;

/// Names of all parameters, in the order hosts show them.
pub const NAMES: [&str; 26] = [
    "Bypass",
    "Manner",
    "Elaboration",
    "Wait",
    "Space",
    "Input",
    "Split key",
    "Melody channel",
    "Chord channel",
    "Latch",
    "Reach",
    "Clarity",
    "One player",
    "Level",
    "Pedal",
    "Dry",
    "Own tempo",
    "Seed",
    "Final chord",
    "Output channels",
    "Audition piano",
    "Colour tones",
    "Start",
    "Swing",
    "Sheet gives",
    "Sheet starts in bar",
];

/// A four-bar tune in C with a long note in bars 2 and 4, chords held below middle C.
pub fn tune() -> Script {
    tune_at(48_000.0, 100.0)
}

/// The same at a sample rate in frames per second and a tempo in quarter notes a minute.
pub fn tune_at(sample_rate: f64, tempo: f64) -> Script {
    let mut script = Script::new(0.0, tempo);
    script.sample_rate = sample_rate;
    script.frames = script.frame(16.0 + 2.0 / 3.0);
    for (bar, chord) in [[48, 52, 55], [45, 48, 52], [41, 45, 48], [43, 47, 53]].iter().enumerate() {
        for key in chord {
            script.note(0, *key, 70, bar as f64 * 4.0, 3.9);
        }
    }
    let melody = [(67, 0.0, 1.0), (69, 1.0, 1.0), (71, 2.0, 1.0), (72, 3.0, 1.0), (76, 4.0, 3.9)];
    let more = [(74, 8.0, 0.5), (72, 8.5, 0.5), (69, 9.0, 1.0), (72, 10.0, 1.9), (71, 12.0, 3.8)];
    for (key, at, length) in melody.into_iter().chain(more) {
        script.note(0, key, 96, at, length * 0.95);
    }
    script.stops_at = Some(script.frame(16.0));
    script
}
