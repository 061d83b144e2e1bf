//! One sounding note: rotating phasors, hammer noise, damper.
//!
//! Each oscillator is a point that turns and shrinks by one complex multiplication per frame. Groups of eight
//! run side by side; groups that have died away are skipped, which also keeps denormal numbers out.

use super::CHUNK;
use super::string::{GROUP, GROUPS, StringModel};

/// Below this energy (-100 dB) a group or a voice is over.
const SILENCE: f32 = 1e-10;

/// What stops a string.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Damper {
    /// The key's own damper, where it has one.
    Felt,
    /// Whatever it takes.
    Hand,
}

#[derive(Clone, Copy, Debug, Default)]
struct Group {
    re: [f32; GROUP],
    im: [f32; GROUP],
    cos: [f32; GROUP],
    sin: [f32; GROUP],
}

impl Group {
    /// Turns every point once per frame and adds its height to its lane of `out`.
    #[inline]
    fn run(&mut self, out: &mut [[f32; GROUP]]) {
        let (mut re, mut im) = (self.re, self.im);
        for frame in out {
            for lane in 0..GROUP {
                let x = re[lane] * self.cos[lane] - im[lane] * self.sin[lane];
                let y = re[lane] * self.sin[lane] + im[lane] * self.cos[lane];
                re[lane] = x;
                im[lane] = y;
                frame[lane] += y;
            }
        }
        for lane in 0..GROUP {
            // A lane among livelier ones must not creep into denormal numbers.
            if re[lane] * re[lane] + im[lane] * im[lane] < 1e-24 {
                re[lane] = 0.0;
                im[lane] = 0.0;
            }
        }
        self.re = re;
        self.im = im;
    }

    fn energy(&self) -> f32 {
        self.re.iter().chain(&self.im).map(|value| value * value).sum()
    }
}

/// A note, or a place for one.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Voice {
    key: u8,
    groups: [Group; GROUPS],
    /// Groups that still sound.
    alive: usize,
    damped: bool,
    pan: [f32; 2],
    energy: f32,
    /// Attack: how much of the hammer's push has come through, 0 to 1, and its step per frame.
    push: f32,
    push_step: f32,
    noise: f32,
    noise_level: f32,
    noise_decay: f32,
    noise_step: f32,
    random: u32,
    last: [f32; 2],
}

impl Voice {
    /// Whether it sounds.
    pub(super) fn sounds(&self) -> bool {
        self.alive > 0
    }

    /// Its MIDI key.
    pub(super) fn key(&self) -> u8 {
        self.key
    }

    /// How much of it is left; zero when it doesn't sound.
    pub(super) fn energy(&self) -> f32 {
        if self.sounds() { self.energy } else { 0.0 }
    }

    /// Its last frame, zero when it doesn't sound.
    pub(super) fn last_output(&self) -> [f32; 2] {
        if self.sounds() { self.last } else { [0.0; 2] }
    }

    /// The hammer strikes.
    pub(super) fn strike(&mut self, model: &StringModel, velocity: u8) {
        let force = f32::from(velocity) / 127.0;
        *self = Self {
            key: model.key,
            pan: model.pan,
            push_step: 1.0 / model.contact,
            noise_level: 0.05 * force.powf(2.2),
            noise_decay: model.noise_decay,
            noise_step: model.noise_step,
            // Never zero, and the same for the same key: what is played twice sounds alike twice.
            random: 0x9e37_79b9 ^ (u32::from(model.key) << 8),
            ..Self::default()
        };
        for (group, lanes) in self.groups.iter_mut().zip(model.lanes.chunks(GROUP)) {
            for (place, lane) in lanes.iter().enumerate() {
                group.re[place] = model.struck(lane, velocity);
                group.cos[place] = lane.cos;
                group.sin[place] = lane.sin;
            }
        }
        self.alive = model.used.div_ceil(GROUP);
        self.energy = self.groups.iter().map(Group::energy).sum();
    }

    /// The damper falls on the string.
    pub(super) fn damp(&mut self, model: &StringModel, damper: Damper) {
        if self.damped || (damper == Damper::Felt && !model.has_damper) {
            return;
        }
        self.damped = true;
        for (group, lanes) in self.groups.iter_mut().zip(model.lanes.chunks(GROUP)) {
            for (place, lane) in lanes.iter().enumerate() {
                group.cos[place] *= lane.damped;
                group.sin[place] *= lane.damped;
            }
        }
    }

    /// The hammer hits the sounding string again: what sounded gives way to the new blow.
    pub(super) fn restruck(&mut self, model: &StringModel) {
        self.damped = true;
        for group in &mut self.groups {
            for place in 0..GROUP {
                group.cos[place] *= model.restruck;
                group.sin[place] *= model.restruck;
            }
        }
    }

    /// Adds the next frames, at most [`CHUNK`].
    pub(super) fn add_to(&mut self, out: &mut [[f32; 2]]) {
        let mut lanes = [[0.0_f32; GROUP]; CHUNK];
        let frames = out.len().min(CHUNK);
        let lanes = &mut lanes[..frames];
        for group in self.groups.iter_mut().take(self.alive) {
            group.run(lanes);
        }
        for (frame, lanes) in out.iter_mut().zip(lanes.iter()) {
            let mut sum: f32 = lanes.iter().sum();
            if self.push < 1.0 {
                self.push = (self.push + self.push_step).min(1.0);
                // A smooth rise without a corner at either end.
                sum *= self.push * self.push * (3.0 - 2.0 * self.push);
            }
            if self.noise_level > 0.0 {
                sum += self.hammer_noise();
            }
            self.last = [sum * self.pan[0], sum * self.pan[1]];
            frame[0] += self.last[0];
            frame[1] += self.last[1];
        }
        self.energy = self.groups.iter().take(self.alive).map(Group::energy).sum();
        while let Some(last) = self.alive.checked_sub(1) {
            if self.groups.get(last).is_some_and(|group| group.energy() >= SILENCE) {
                break;
            }
            self.alive = last;
        }
    }

    /// The felt's rustle: low-passed noise that fades within some hundredths of a second.
    fn hammer_noise(&mut self) -> f32 {
        // Xorshift (Marsaglia 2003): white enough for a rustle.
        self.random ^= self.random << 13;
        self.random ^= self.random >> 17;
        self.random ^= self.random << 5;
        let white = self.random as i32 as f32 / i32::MAX as f32;
        self.noise += (white * self.noise_level - self.noise) * self.noise_step;
        self.noise_level *= self.noise_decay;
        if self.noise_level < 1e-7 {
            self.noise_level = 0.0;
        }
        self.noise * self.push
    }
}
