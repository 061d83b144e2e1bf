//! The key heard so far.
//!
//! Krumhansl and Kessler's probe-tone profiles (Psychological Review 89, 1982; values as in music21 10.5.1)
//! correlated with a histogram of what was played, older notes counting less and less.

use figwort_theory::{Key, Mode, PitchClass, PitchClassSet};

const MAJOR: [f32; 12] = [6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88];
const MINOR: [f32; 12] = [6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17];
/// Means and standard deviations of the two profiles above.
const MAJOR_SPREAD: (f32, f32) = (3.4825, 1.2631);
const MINOR_SPREAD: (f32, f32) = (3.7092, 1.1550);
/// What is left of older notes after each new one.
const DECAY: f32 = 0.97;

/// Listens for the key.
#[derive(Clone, Debug, Default)]
pub struct KeyReader {
    weights: [f32; 12],
    key: Key,
}

impl KeyReader {
    /// Forgets everything; the key is C major until more is heard.
    pub fn clear(&mut self) {
        *self = Self::default();
    }

    /// The key.
    pub fn key(&self) -> Key {
        self.key
    }

    /// A melody note was heard.
    pub fn hear_note(&mut self, class: PitchClass) {
        self.hear(PitchClassSet::EMPTY.with(class), 1.0);
    }

    /// A chord was heard.
    pub fn hear_chord(&mut self, classes: PitchClassSet) {
        self.hear(classes, 1.0);
    }

    fn hear(&mut self, classes: PitchClassSet, weight: f32) {
        for (n, slot) in self.weights.iter_mut().enumerate() {
            *slot *= DECAY;
            if classes.contains(PitchClass::new(n as i32)) {
                *slot += weight;
            }
        }
        let mut best = f32::MIN;
        for tonic in 0..12 {
            for (mode, profile, (mean, deviation)) in
                [(Mode::Major, &MAJOR, MAJOR_SPREAD), (Mode::Minor, &MINOR, MINOR_SPREAD)]
            {
                // The histogram's own mean and deviation are the same for all keys and left out.
                let fit: f32 =
                    (0..12).map(|n| (profile[n] - mean) * self.weights[(n + tonic) % 12]).sum::<f32>()
                        / deviation;
                if fit > best {
                    best = fit;
                    self.key = Key { tonic: PitchClass::new(tonic as i32), mode };
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spreads_are_those_of_the_profiles() {
        for (profile, (mean, deviation)) in [(MAJOR, MAJOR_SPREAD), (MINOR, MINOR_SPREAD)] {
            let m: f32 = profile.iter().sum::<f32>() / 12.0;
            let variance: f32 = profile.iter().map(|x| (x - m) * (x - m)).sum::<f32>() / 12.0;
            assert!((m - mean).abs() < 1e-3);
            assert!((variance - deviation * deviation).abs() < 1e-3, "{m} {variance}");
        }
    }

    #[test]
    fn cadences_tell_their_key() {
        for tonic in 0..12 {
            let set =
                |list: &[i32]| list.iter().map(|n| PitchClass::new(n + tonic)).collect::<PitchClassSet>();
            let mut reader = KeyReader::default();
            for chord in [set(&[0, 4, 7]), set(&[5, 9, 0]), set(&[7, 11, 2, 5]), set(&[0, 4, 7])] {
                reader.hear_chord(chord);
            }
            assert_eq!(reader.key(), Key { tonic: PitchClass::new(tonic), mode: Mode::Major });
            reader.clear();
            for chord in [set(&[0, 3, 7]), set(&[5, 8, 0]), set(&[7, 11, 2, 5]), set(&[0, 3, 7])] {
                reader.hear_chord(chord);
            }
            assert_eq!(reader.key(), Key { tonic: PitchClass::new(tonic), mode: Mode::Minor });
        }
    }
}
