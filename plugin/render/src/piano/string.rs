//! What one key's strings are: partials with their frequencies, strengths and decays, worked out once.
//!
//! Values are of a medium grand, from memory of the acoustics literature unless a line says otherwise; they
//! are for a believable sound and not a measurement of an instrument.

use std::f64::consts::PI;

/// Oscillators of a key at most: partials, their aftersounds, and the knock.
pub(super) const LANES: usize = 48;
/// Oscillators that are worked out side by side.
pub(super) const GROUP: usize = 8;
/// Groups of a key at most.
pub(super) const GROUPS: usize = LANES / GROUP;

/// Most partials of a string.
const PARTIALS: usize = 24;
/// Partials that have an aftersound; higher ones have died before it could be heard.
const WITH_AFTERSOUND: usize = 10;
/// Where the hammer strikes, as a part of the string's length: partials that have a node there are missing.
const STRIKING_POINT: f64 = 1.0 / 8.0;
/// Partials above this part of the sample rate are left out.
const HIGHEST: f64 = 0.45;
/// Keys from here on have no damper (F#6 and up; common building practice, from memory).
const UNDAMPED_FROM: u8 = 90;
/// Modes of soundboard and case that the blow of the key excites: hertz, strength.
const KNOCK: [(f64, f32); 4] = [(63.0, 0.9), (104.0, 1.0), (187.0, 0.6), (331.0, 0.35)];
/// Time in which the knock falls by 60 dB, in seconds.
const KNOCK_T60: f64 = 0.16;

/// One oscillator: a rotation per frame, and what decides its strength.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Lane {
    /// Rotation and decay per frame: cosine part.
    pub cos: f32,
    /// Rotation and decay per frame: sine part.
    pub sin: f32,
    /// Strength before the hammer's softness, signed by the striking point.
    pub strength: f32,
    /// Hertz.
    pub frequency: f32,
    /// Extra decay per frame while damped.
    pub damped: f32,
    /// Whether it is part of the knock rather than of the tone.
    pub knock: bool,
}

/// One key's strings.
#[derive(Clone, Debug)]
pub(super) struct StringModel {
    /// MIDI key.
    pub key: u8,
    /// Hertz of the first partial.
    pub fundamental: f32,
    /// Oscillators, those that last longest first.
    pub lanes: [Lane; LANES],
    /// How many of them are used.
    pub used: usize,
    /// Loudness of the two channels.
    pub pan: [f32; 2],
    /// Frames that the hammer stays on the string.
    pub contact: f32,
    /// Decay of the hammer noise per frame.
    pub noise_decay: f32,
    /// How much of a new noise value comes through: the noise's low-pass.
    pub noise_step: f32,
    /// Whether the key has a damper.
    pub has_damper: bool,
    /// Decay factor per frame while the hammer strikes the sounding string again.
    pub restruck: f32,
}

impl StringModel {
    pub(super) fn new(key: u8, rate: f32) -> Self {
        let rate = f64::from(rate);
        let place = f64::from(key);
        let fundamental = 440.0 * ((place - 69.0) / 12.0).exp2();
        let stiffness = inharmonicity(place);
        let mut model = Self {
            key,
            fundamental: fundamental as f32,
            lanes: [Lane::default(); LANES],
            used: 0,
            pan: pan(place),
            // From some 4 ms at the bottom to half a millisecond at the top.
            contact: (rate * 0.004 * (-(place - 21.0) / 30.0).exp2()).max(2.0) as f32,
            noise_decay: per_frame(0.09 - 0.05 * (place / 127.0), rate) as f32,
            noise_step: (1.0 - (-2.0 * PI * (900.0 + 22.0 * place) / rate).exp()) as f32,
            has_damper: key < UNDAMPED_FROM,
            restruck: per_frame(0.03, rate) as f32,
        };
        let partials = partials_of(place);
        for n in 1..=partials.min(WITH_AFTERSOUND) {
            model.partial(n, fundamental, stiffness, rate, true);
        }
        for n in WITH_AFTERSOUND + 1..=partials {
            model.partial(n, fundamental, stiffness, rate, false);
        }
        model.even_out();
        for (frequency, strength) in KNOCK {
            model.push(frequency, strength, KNOCK_T60, KNOCK_T60, rate, true);
        }
        model
    }

    /// Adds a partial with its prompt sound and, if wanted, its aftersounds.
    fn partial(&mut self, n: usize, fundamental: f64, stiffness: f64, rate: f64, aftersound: bool) {
        let order = n as f64;
        // Tuned so that the first partial has the key's pitch, as a tuner does.
        let frequency = fundamental * order * ((1.0 + stiffness * order * order) / (1.0 + stiffness)).sqrt();
        if frequency > HIGHEST * rate {
            return;
        }
        // A hammer has some width, so that no partial is missing altogether.
        let comb = (order * PI * STRIKING_POINT).sin();
        let comb = comb.abs().max(0.06).copysign(comb);
        let strength = (comb * radiation(frequency)) as f32;
        let key = f64::from(self.key);
        let prompt = prompt_t60(key, frequency);
        let damped = damped_t60(key, n);
        self.push(frequency, strength, prompt, damped, rate, false);
        if !aftersound {
            return;
        }
        // Strings of one key are never quite in tune: coupled, they sound together first, and what they do
        // against one another is weaker, lasts longer and beats (Weinreich 1977, "Coupled piano strings",
        // JASA 62:1474; sizes here from memory).
        let cents = [0.9, -0.6].map(|cents| cents * spread(self.key, n));
        let strings = strings_of(self.key);
        let parts = if strings == 3 { 2 } else { 1 };
        for cents in cents.iter().take(parts) {
            let beside = frequency * (cents / 1_200.0).exp2();
            self.push(beside, strength * 0.17, prompt * 3.4, damped, rate, false);
        }
    }

    fn push(&mut self, frequency: f64, strength: f32, t60: f64, damped: f64, rate: f64, knock: bool) {
        if let Some(lane) = self.lanes.get_mut(self.used) {
            let decay = per_frame(t60, rate);
            let turn = 2.0 * PI * frequency / rate;
            *lane = Lane {
                cos: (decay * turn.cos()) as f32,
                sin: (decay * turn.sin()) as f32,
                strength,
                frequency: frequency as f32,
                damped: per_frame(damped, rate) as f32,
                knock,
            };
            self.used += 1;
        }
    }

    /// Brings every key to one loudness at full strength, falling a little towards the top.
    fn even_out(&mut self) {
        let energy: f32 =
            self.lanes.iter().map(|lane| lane.strength * lane.strength * self.felt(lane, 1.0)).sum();
        let wanted = 1.0 - 0.35 * ((f32::from(self.key) - 60.0) / 48.0).clamp(0.0, 1.0);
        let scale = wanted / energy.max(1e-9).sqrt();
        for lane in &mut self.lanes {
            lane.strength *= scale;
        }
    }

    /// What the hammer's felt lets through of a lane, squared, at `force` 0 to 1: harder blows press the felt
    /// hard and reach higher. The slope is fitted by ear-known shapes (about -13 dB at A4's fourth partial,
    /// played mezzoforte), from memory.
    pub(super) fn felt(&self, lane: &Lane, force: f32) -> f32 {
        let edge = (230.0 + 0.9 * self.fundamental) * (2.6 * (force - 0.5)).exp2();
        let ratio = lane.frequency / edge;
        (1.0 + ratio * ratio).powf(-2.8)
    }

    /// Signed strength of a lane struck with `velocity` 1 to 127.
    pub(super) fn struck(&self, lane: &Lane, velocity: u8) -> f32 {
        let force = f32::from(velocity) / 127.0;
        let level = force.powf(1.7);
        if lane.knock {
            lane.strength * level * 0.045
        } else {
            lane.strength * level * self.felt(lane, force).sqrt()
        }
    }
}

/// Partials of a key's strings: fewer and fewer towards the top, where the ear and the sample rate end.
fn partials_of(key: f64) -> usize {
    let wanted = 24.0 - (key - 33.0).max(0.0) * 16.0 / 63.0;
    (wanted.round().max(8.0) as usize).min(PARTIALS)
}

/// Strings of a key: one in the low bass, two in the upper bass, three above (common building practice, from
/// memory). One string still moves in two directions, so it has an aftersound too.
fn strings_of(key: u8) -> u8 {
    match key {
        ..=32 => 1,
        33..=44 => 2,
        _ => 3,
    }
}

/// The stiffness coefficient B in f(n) = n·f0·√(1 + B·n²): the sum of a bass and a treble line, straight in
/// log B over keys. Rigaud, David, Daudet (2013), "A parametric model and estimation techniques for the
/// inharmonicity and tuning of the piano", JASA 133:3107-3118; its coefficients from memory. They give
/// 5·10⁻⁴ at A0, 1.4·10⁻⁴ at A2, 7·10⁻⁴ at A4 and 10⁻² near C7, the sizes that textbooks state.
pub(super) fn inharmonicity(key: f64) -> f64 {
    (0.0926 * key - 13.64).exp() + (-0.0847 * key - 5.82).exp()
}

/// How well the soundboard gives off a frequency: poorly below its first modes.
fn radiation(frequency: f64) -> f64 {
    let x = frequency / 70.0;
    x * x / (1.0 + x * x)
}

/// Time in which a partial's prompt sound falls by 60 dB, in seconds: 10 at the bottom, 2 in the middle, a
/// third of a second at the top, and shorter the higher the partial.
fn prompt_t60(key: f64, frequency: f64) -> f64 {
    let slow = 10.0 * (-(key - 21.0) / 20.0).exp2();
    let loss = 0.12 * (frequency / 1_000.0).powf(1.5);
    1.0 / (1.0 / slow + loss)
}

/// Time in which a damped partial falls by 60 dB, in seconds: felt stops short strings and high partials soonest.
fn damped_t60(key: f64, n: usize) -> f64 {
    let first = (0.42 - 0.0036 * (key - 21.0)).clamp(0.08, 0.42);
    first / (1.0 + 0.08 * (n as f64 - 1.0))
}

/// Decay factor per frame that falls by 60 dB in `t60` seconds.
fn per_frame(t60: f64, rate: f64) -> f64 {
    (-(1_000.0_f64).ln() / (t60 * rate)).exp()
}

/// Channel gains: bass a little to the left, treble a little to the right, one loudness everywhere.
fn pan(key: f64) -> [f32; 2] {
    let place = ((key - 64.5) / 43.5).clamp(-1.0, 1.0) * 0.35;
    let angle = (1.0 + place) * PI / 4.0;
    [angle.cos() as f32, angle.sin() as f32]
}

/// A fixed irregularity for a key and partial, 0.7 to 1.3: no two unisons are tuned alike.
fn spread(key: u8, n: usize) -> f64 {
    let mixed = (u32::from(key) * 97 + n as u32 * 31).wrapping_mul(2_654_435_761) >> 16;
    0.7 + 0.6 * f64::from(mixed & 0xff) / 255.0
}
