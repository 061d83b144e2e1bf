//! The piano's peak limiter: a gain that ducks quickly and recovers slowly, then a soft ceiling.
//!
//! No look-ahead and so no latency. Both channels get one gain, so that the stereo picture stands.

/// Where the gain begins to duck, and where the ceiling begins to bend.
const KNEE: f32 = 0.7;
/// No output sample is beyond this.
pub(super) const CEILING: f32 = 0.89;
/// Time for the gain to duck, in seconds.
const ATTACK: f32 = 0.000_5;
/// Time for the gain to recover, in seconds.
const RELEASE: f32 = 0.25;

#[derive(Clone, Debug)]
pub(crate) struct Limiter {
    /// The level that the gain goes by.
    level: f32,
    attack: f32,
    release: f32,
}

impl Limiter {
    pub(crate) fn new(rate: f32) -> Self {
        let step = |time: f32| 1.0 - (-1.0 / (time * rate)).exp();
        Self { level: 0.0, attack: step(ATTACK), release: step(RELEASE) }
    }

    /// One frame, limited.
    pub(crate) fn limit(&mut self, frame: [f32; 2]) -> [f32; 2] {
        let peak = frame[0].abs().max(frame[1].abs());
        let step = if peak > self.level { self.attack } else { self.release };
        self.level += (peak - self.level) * step;
        if self.level < 1e-12 {
            self.level = 0.0;
        }
        let gain = if self.level > KNEE { KNEE / self.level } else { 1.0 };
        frame.map(|sample| bend(sample * gain))
    }
}

/// Straight up to the knee, then bending towards the ceiling without reaching beyond it.
fn bend(sample: f32) -> f32 {
    let size = sample.abs();
    if size <= KNEE {
        return sample;
    }
    let over = (size - KNEE) / (CEILING - KNEE);
    (KNEE + (CEILING - KNEE) * (over / (1.0 + over))).min(CEILING).copysign(sample)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quiet_sound_passes_unchanged_and_nothing_passes_the_ceiling() {
        let mut limiter = Limiter::new(48_000.0);
        for i in 0..1_000 {
            let sample = 0.6 * (i as f32 * 0.1).sin();
            assert_eq!(limiter.limit([sample, -sample]), [sample, -sample]);
        }
        for loud in [0.9, 2.0, 50.0, 1e9, f32::MAX] {
            for _ in 0..20 {
                let out = limiter.limit([loud, -loud]);
                assert!(out[0] <= CEILING && out[0] > 0.0 && out[1] == -out[0], "{loud}: {out:?}");
            }
        }
    }

    #[test]
    fn it_recovers() {
        let mut limiter = Limiter::new(48_000.0);
        for _ in 0..4_800 {
            limiter.limit([3.0, 3.0]);
        }
        let ducked = limiter.limit([0.5, 0.5])[0];
        assert!(ducked < 0.15, "{ducked}");
        for _ in 0..96_000 {
            limiter.limit([0.5, 0.5]);
        }
        assert_eq!(limiter.limit([0.5, 0.5])[0], 0.5);
    }
}
