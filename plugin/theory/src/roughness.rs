//! Sensory roughness after Hutchinson and Knopoff (1978), in the form that Parncutt and Mashinter gave it.
//!
//! Every note is eleven harmonics with amplitudes 1/n in equal temperament, A4 = 440 Hz; partials that
//! coincide are one, their energies added. Each pair of partials at frequencies f and g (Hz), amplitudes a
//! and b, rubs with a·b·[(y/0.25) e^(1−y/0.25)]², where y is their distance in critical bandwidths of
//! 1.72·((f+g)/2)^0.65 Hz, and not at all beyond y = 1.2; the sum is divided by the energy of all partials.
//! 0 is smooth; close triads on middle C lie between 0.12 and 0.2, a minor second near 0.5.
//!
//! Not here: loudness, masking, and the ear's coarser bands below about 200 Hz. Compare chords with equal
//! note counts; seconds alone say little below C3, where beats get slow.

use crate::pitch::{Pitch, PitchClassSet};

/// Harmonics of a note.
const HARMONICS: u8 = 11;
/// Most notes that count; the rest is left out.
pub const MOST_NOTES: usize = 12;
const MOST_PARTIALS: usize = MOST_NOTES * HARMONICS as usize;
/// The distance that rubs most, and the one beyond which nothing does, in critical bandwidths.
const ROUGHEST: f64 = 0.25;
const SMOOTH: f64 = 1.2;

/// Semitones of the odd harmonics above the fundamental. Two harmonics can coincide in equal temperament
/// only when they are octaves of the same odd one.
const ODD: [f64; 6] = [
    0.0,
    19.019_550_008_653_87,
    27.863_137_138_648_34,
    33.688_259_064_691_25,
    38.039_100_017_307_74,
    41.513_179_423_647_56,
];

/// A partial: which odd harmonic it is an octave of, where that would lie with its own semitones left out,
/// and its energy.
#[derive(Clone, Copy, Default)]
struct Partial {
    odd: u8,
    key: u8,
    frequency: f64,
    energy: f64,
}

/// Partials that don't coincide.
struct Spectrum {
    partials: [Partial; MOST_PARTIALS],
    len: usize,
}

impl Spectrum {
    /// The partials of some notes.
    fn of(pitches: impl Iterator<Item = Pitch>, harmonics: u8) -> Self {
        let mut spectrum = Self { partials: [Partial::default(); MOST_PARTIALS], len: 0 };
        for pitch in pitches.take(MOST_NOTES) {
            for n in 1..=harmonics {
                let octaves = n.trailing_zeros() as u8;
                let odd = (n >> octaves) / 2;
                let key = pitch.key() + 12 * octaves;
                let energy = 1.0 / (f64::from(n) * f64::from(n));
                spectrum.add(odd, key, f64::from(key) + ODD[usize::from(odd)], energy);
            }
        }
        spectrum
    }

    /// `semitones` on the scale of MIDI keys.
    fn add(&mut self, odd: u8, key: u8, semitones: f64, energy: f64) {
        let known = self.partials[..self.len].iter_mut().find(|p| p.odd == odd && p.key == key);
        if let Some(partial) = known {
            partial.energy += energy;
        } else if let Some(free) = self.partials.get_mut(self.len) {
            *free = Partial { odd, key, frequency: hertz(semitones), energy };
            self.len += 1;
        }
    }

    fn roughness(&mut self) -> f64 {
        let partials = &mut self.partials[..self.len];
        partials.sort_unstable_by(|a, b| a.frequency.total_cmp(&b.frequency));
        let total: f64 = partials.iter().map(|p| p.energy).sum();
        if total == 0.0 {
            return 0.0;
        }
        let mut rubbing = 0.0;
        for (i, low) in partials.iter().enumerate() {
            for high in &partials[i + 1..] {
                let y = (high.frequency - low.frequency) / critical_bandwidth(low.frequency, high.frequency);
                // It only grows with the upper partial.
                if y > SMOOTH {
                    break;
                }
                rubbing += libm::sqrt(low.energy * high.energy) * rub(y);
            }
        }
        rubbing / total
    }
}

/// Roughness of notes that sound together; 0 for none. A single note has a small share of its own, as its upper harmonics
/// rub: 0.0014 for C4. Allocates nothing; tens of microseconds for five notes, so not for every block: see
/// [`of_chord`] for that.
///
/// # Examples
/// ```
/// use figwort_theory::{Pitch, roughness};
/// let close = roughness::of([60, 64, 67].into_iter().map(Pitch::new));
/// assert!((close - 0.120_242_6).abs() < 1e-7);
/// ```
pub fn of(pitches: impl Iterator<Item = Pitch>) -> f64 {
    Spectrum::of(pitches, HARMONICS).roughness()
}

/// The critical bandwidth between two frequencies, all in hertz.
pub fn critical_bandwidth(f: f64, g: f64) -> f64 {
    1.72 * libm::pow((f + g) / 2.0, 0.65)
}

/// How much a pair of partials of amplitude 1 rubs at `y` critical bandwidths, without the end at 1.2.
fn rub(y: f64) -> f64 {
    let x = y / ROUGHEST;
    let root = x * libm::exp(1.0 - x);
    root * root
}

fn hertz(semitones: f64) -> f64 {
    440.0 * libm::exp2((semitones - 69.0) / 12.0)
}

/// Roughness in 1/300 of every set of intervals above the root, by bits 1 to 11 of the set, in the neutral
/// voicing of [`stacked`]. Clusters rougher than
/// 0.85 are stored as that. Made by [`of`]; a test makes it again.
static STACKED: &[u8; 2048] = include_bytes!("roughness/stacked.bin");
const STEPS: f32 = 300.0;

/// Roughness of a chord's intervals above its root in a neutral voicing: on middle C, sevenths and what is
/// below in close position, ninths, elevenths and thirteenths an octave up. Rounded to 1/300, at most 0.85; for the audio
/// thread. Whether the root itself is in the set makes no difference.
pub fn of_chord(intervals: PitchClassSet) -> f32 {
    let index = usize::from(intervals.bits() >> 1) & 2047;
    f32::from(STACKED[index]) / STEPS
}

/// The neutral voicing of a set of intervals above a root on middle C.
pub fn stacked(intervals: PitchClassSet) -> impl Iterator<Item = Pitch> {
    let has = move |interval: i32| intervals.bits() >> interval & 1 == 1;
    let third = has(3) || has(4);
    let fifth = has(7);
    let seventh = has(10) || has(11);
    let upper = move |interval: i32| match interval {
        1 => true,
        2 | 5 => third,
        3 => has(4),
        6 | 8 => fifth,
        9 => seventh,
        _ => false,
    };
    (0..12)
        .filter(move |interval| *interval == 0 || has(*interval))
        .filter_map(move |n| Pitch::C4.transpose(n + if upper(n) { 12 } else { 0 }))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn roughness(keys: &[u8]) -> f64 {
        of(keys.iter().copied().map(Pitch::new))
    }

    fn pure(keys: &[u8]) -> f64 {
        Spectrum::of(keys.iter().copied().map(Pitch::new), 1).roughness()
    }

    /// Equal to the number of places given.
    fn check(found: f64, published: f64, places: i32) {
        let half = 0.5 * libm::pow(10.0, -f64::from(places)) + 1e-12;
        assert!((found - published).abs() <= half, "{found} instead of {published}");
    }

    /// The tests of dycon and incon (R packages by P. Harrison), read in their source.
    #[test]
    fn parts_have_the_published_values() {
        check(rub(0.5), 0.5413, 4);
        check(rub(1.0), 0.0397, 4);
        check(rub(1.5), 0.0016, 4);
        check(critical_bandwidth(400.0, 440.0), 87.225, 3);
        check(critical_bandwidth(400.0, 380.0), 83.123, 3);
    }

    /// Beyond 1.2 bandwidths nothing rubs (the same tests: g(1.5) with the cut is 0).
    #[test]
    fn distant_partials_are_smooth() {
        let (low, high) = (57u8, 69u8);
        let y = 220.0 / critical_bandwidth(hertz(f64::from(low)), hertz(f64::from(high)));
        assert!(y > SMOOTH && rub(y) > 0.0);
        assert_eq!(pure(&[low, high]), 0.0);
    }

    /// The same tests, incon's regression test (a major triad) and its README (a minor one).
    #[test]
    fn chords_have_the_published_values() {
        check(pure(&[60, 61]), 0.499, 3);
        check(pure(&[69, 70]), 0.491, 3);
        check(roughness(&[60, 61]), 0.484, 3);
        check(roughness(&[60, 64, 67]), 0.120_242_6, 7);
        check(roughness(&[60, 63, 67]), 0.130_083_0, 7);
    }

    /// Comments of S. Ferguson's program (1998) of the same model: ten harmonics, rounded to semitones.
    #[test]
    fn rounded_harmonics_have_the_published_values() {
        for (keys, published) in
            [(&[60u8, 61, 62, 73][..], 0.7287), (&[47, 49, 53], 0.3846), (&[62, 67, 72, 77, 82], 0.1592)]
        {
            let mut spectrum = Spectrum { partials: [Partial::default(); MOST_PARTIALS], len: 0 };
            for key in keys {
                for n in 1..=10u8 {
                    let semitones = libm::round(f64::from(*key) + 12.0 * libm::log2(f64::from(n)));
                    let amplitude = 1.0 / f64::from(n);
                    spectrum.add(0, semitones as u8, semitones, amplitude * amplitude);
                }
            }
            check(spectrum.roughness(), published, 4);
        }
    }

    /// Bars of an order that people hear: published ratings rank a fifth, a third, a tritone, a minor second
    /// (Bowling, Purves and Gill 2018, PNAS 115, as in incon: 3.447, 3.173, 1.953, 1.317 on a scale of
    /// consonance).
    #[test]
    fn order_of_dyads_is_that_of_ratings() {
        let dyad = |semitones: u8| roughness(&[60, 60 + semitones]);
        assert!(dyad(7) < dyad(4) && dyad(4) < dyad(6) && dyad(6) < dyad(1));
    }

    #[test]
    fn odd_harmonics_are_where_they_are() {
        for (n, semitones) in ODD.iter().enumerate() {
            assert!((semitones - 12.0 * libm::log2(2.0 * n as f64 + 1.0)).abs() < 1e-12);
        }
    }

    #[test]
    fn any_notes_give_a_number() {
        assert_eq!(of(core::iter::empty()), 0.0);
        let all = of((0..=127).map(Pitch::new));
        assert!(all.is_finite() && all > 0.0);
        assert!(of([Pitch::new(127); 16].into_iter()).is_finite());
    }

    /// The table is what the formula gives.
    #[test]
    fn the_table_is_made_by_the_formula() {
        for bits in 0..2048u16 {
            let set = PitchClassSet::from_bits(bits << 1 | 1);
            let exact = (of(stacked(set)) * f64::from(STEPS)).min(255.0);
            let stored = f64::from(STACKED[usize::from(bits)]);
            assert!((exact - stored).abs() < 0.501, "{set:?}: {exact} stored as {stored}");
            assert_eq!(of_chord(set), of_chord(set.without(crate::PitchClass::C)));
        }
    }
}
