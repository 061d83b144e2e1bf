//! The audition piano: struck strings as sums of decaying partials.
//!
//! Every key has one to three strings with stiff-string inharmonicity, a hammer that strikes at an eighth of
//! the length, two-stage decay with slow beats, a damper, and the knock of the action. It starts quiet (a
//! four-note chord at ordinary strength peaks near -18 dB of full scale) and its own output never exceeds
//! 0.89 however many notes are struck.
//!
//! Real time: [`Piano::new`] allocates; everything else allocates nothing, takes bounded time and cannot
//! fail. Frequencies in hertz, levels as factors of full scale.
//!
//! Deliberately absent: sympathetic resonance of undamped strings, half-pedalling, the room, and the wear
//! and voicing of any particular instrument. It is for hearing what is played, not for recordings.

pub(crate) mod limiter;
mod string;
mod voice;

use limiter::Limiter;
use string::StringModel;
use voice::{Damper, Voice};

/// Notes that can sound at once; past that, the quietest gives way.
pub const VOICES: usize = 48;
/// Frames that are worked out in one go.
const CHUNK: usize = 64;
/// Output level of a struck string against its model, chosen so that a plain chord peaks near -18 dB.
const LEVEL: f32 = 0.148;
/// Time for a change of gain to come through, in seconds.
const GAIN_TIME: f32 = 0.01;
/// Time for what a stolen voice leaves behind to fade, in seconds.
const RESIDUE_TIME: f32 = 0.002;

/// A struck-string piano. About 200 kB; clone it only outside the audio thread.
#[derive(Clone, Debug)]
pub struct Piano {
    /// One for every MIDI key.
    models: Vec<StringModel>,
    voices: Vec<Voice>,
    /// Keys that are down, one bit each.
    held: u128,
    pedal: bool,
    limiter: Limiter,
    gain: f32,
    gain_now: f32,
    gain_step: f32,
    /// What stolen voices left behind, fading, so that stealing doesn't click.
    residue: [f32; 2],
    residue_factor: f32,
}

impl Piano {
    /// A piano at rest. `sample_rate` in frames per second, taken into 8000 to 768 000. Allocates; not for
    /// the audio thread.
    pub fn new(sample_rate: f32) -> Self {
        let rate = if sample_rate.is_nan() { 48_000.0 } else { sample_rate.clamp(8_000.0, 768_000.0) };
        Self {
            models: (0..128).map(|key| StringModel::new(key, rate)).collect(),
            voices: vec![Voice::default(); VOICES],
            held: 0,
            pedal: false,
            limiter: Limiter::new(rate),
            gain: 1.0,
            gain_now: 1.0,
            gain_step: 1.0 - (-1.0 / (GAIN_TIME * rate)).exp(),
            residue: [0.0; 2],
            residue_factor: (-1.0 / (RESIDUE_TIME * rate)).exp(),
        }
    }

    /// A key goes down. `key` is a MIDI key (higher than 127 is nothing), `velocity` 1 to 127; 0 is a
    /// note-off, as MIDI has it. A key that sounds already is damped and struck anew.
    pub fn note_on(&mut self, key: u8, velocity: u8) {
        if velocity == 0 {
            self.note_off(key);
            return;
        }
        let Some(model) = self.models.get(usize::from(key)) else { return };
        self.held |= 1 << key;
        for voice in self.voices.iter_mut().filter(|voice| voice.sounds() && voice.key() == key) {
            voice.restruck(model);
        }
        let quietest = self.voices.iter_mut().min_by(|a, b| a.energy().total_cmp(&b.energy()));
        if let Some(voice) = quietest {
            let left_behind = voice.last_output();
            for (residue, out) in self.residue.iter_mut().zip(left_behind) {
                *residue += out;
            }
            voice.strike(model, velocity.min(127));
        }
    }

    /// A key comes up: its strings are damped unless the pedal is down or the key has no damper.
    pub fn note_off(&mut self, key: u8) {
        if key > 127 {
            return;
        }
        self.held &= !(1 << key);
        if !self.pedal {
            self.damp(|voice| voice.key() == key);
        }
    }

    /// The sustain pedal goes down or up. Up damps every string whose key is up.
    pub fn pedal(&mut self, down: bool) {
        self.pedal = down;
        if !down {
            let held = self.held;
            self.damp(|voice| held >> voice.key() & 1 == 0);
        }
    }

    /// Every key and the pedal come up, and every string is damped, those without a damper too.
    pub fn all_off(&mut self) {
        self.held = 0;
        self.pedal = false;
        for voice in self.voices.iter_mut().filter(|voice| voice.sounds()) {
            if let Some(model) = self.models.get(usize::from(voice.key())) {
                voice.damp(model, Damper::Hand);
            }
        }
    }

    /// Loudness as a factor of the quiet default, taken into 0 to 8 (not-a-number is 1). The limiter comes
    /// after it. A change comes through within some hundredths of a second, without a click.
    pub fn set_gain(&mut self, gain: f32) {
        self.gain = if gain.is_nan() { 1.0 } else { gain.clamp(0.0, 8.0) };
    }

    /// Adds the next frames to two channels. Where they differ in length the shorter one counts.
    pub fn add_to(&mut self, left: &mut [f32], right: &mut [f32]) {
        for (left, right) in left.chunks_mut(CHUNK).zip(right.chunks_mut(CHUNK)) {
            let frames = left.len().min(right.len());
            let (left, right) = (&mut left[..frames], &mut right[..frames]);
            self.chunk(left, right);
        }
    }

    /// Whether nothing sounds any more.
    pub fn is_silent(&self) -> bool {
        self.voices.iter().all(|voice| !voice.sounds())
    }

    /// Voices that sound.
    #[cfg(test)]
    fn voices_sounding(&self) -> usize {
        self.voices.iter().filter(|voice| voice.sounds()).count()
    }

    fn damp(&mut self, which: impl Fn(&Voice) -> bool) {
        for voice in self.voices.iter_mut().filter(|voice| voice.sounds() && which(voice)) {
            if let Some(model) = self.models.get(usize::from(voice.key())) {
                voice.damp(model, Damper::Felt);
            }
        }
    }

    /// At most [`CHUNK`] frames, both slices of one length.
    fn chunk(&mut self, left: &mut [f32], right: &mut [f32]) {
        let mut dry = [[0.0_f32; 2]; CHUNK];
        let dry = &mut dry[..left.len()];
        for voice in self.voices.iter_mut().filter(|voice| voice.sounds()) {
            voice.add_to(dry);
        }
        for ((frame, left), right) in dry.iter().zip(left).zip(right) {
            self.gain_now += (self.gain - self.gain_now) * self.gain_step;
            let scale = self.gain_now * LEVEL;
            let out = self
                .limiter
                .limit([(frame[0] + self.residue[0]) * scale, (frame[1] + self.residue[1]) * scale]);
            self.residue = self.residue.map(|value| {
                let next = value * self.residue_factor;
                if next.abs() < 1e-9 { 0.0 } else { next }
            });
            *left += out[0];
            *right += out[1];
        }
    }
}

#[cfg(test)]
mod tests;
