//! The key heard so far.
//!
//! Krumhansl and Kessler's probe-tone profiles (Psychological Review 89, 1982; values as in music21 10.5.1)
//! correlated with a histogram of what was played: a note counts for its length, a chord's notes for half of
//! it and its root for more, the first chord's root most, and older time less and less. To the profiles a
//! share of the plain scale is added, since they alone can hardly tell a key from its dominant.
//!
//! The weights were chosen by how often the key after eight bars is the one that is written, over some nine
//! hundred tunes; `cargo xtask evaluate reading` counts that for any folder of sheets. Not here: modes other
//! than major and minor, and looking ahead.

use figwort_theory::{Chord, Key, Mode, Moment, PitchClass, TICKS_PER_QUARTER};

const MAJOR: [f32; 12] = [6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88];
const MINOR: [f32; 12] = [6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17];
/// Means and standard deviations of the two profiles above.
const MAJOR_SPREAD: (f32, f32) = (3.4825, 1.2631);
const MINOR_SPREAD: (f32, f32) = (3.7092, 1.1550);
/// The scales, with both sevenths in minor.
const MAJOR_SCALE: [f32; 12] = [1.0, 0.0, 1.0, 0.0, 1.0, 1.0, 0.0, 1.0, 0.0, 1.0, 0.0, 1.0];
const MINOR_SCALE: [f32; 12] = [1.0, 0.0, 1.0, 1.0, 0.0, 1.0, 0.0, 1.0, 1.0, 0.0, 0.7, 0.5];
/// Weight of the scale against a profile in standard deviations.
const SCALE: f32 = 6.0;
/// What is left after a quarter note: half after 12. Longer is
/// a little better in one key (24: one tune in a hundred) and far slower to follow a modulation.
const DECAY: f32 = 0.943_874;
/// Quarter notes after which nothing is left to speak of.
const FORGOTTEN: i64 = 250;
/// Weight of a chord's note against one of the melody that lasts as long, and what its root has besides.
const CHORD: f32 = 0.5;
const ROOT: f32 = 1.0;
/// What the root of the very first chord has besides, in quarter notes: tunes like to begin on the tonic.
const FIRST_ROOT: f32 = 8.0;
/// What beginning counts for, in quarter notes, so that a note is heard at once.
const ONSET: f32 = 0.5;
/// How long a note or a chord goes on counting, in quarter notes: it may have been let go unheard.
const LONGEST_NOTE: f32 = 4.0;
const LONGEST_CHORD: f32 = 16.0;
/// How much better another key has to fit, as a share of the fit, to take over: equals don't flicker.
const BETTER: f32 = 1.001;

/// Listens for the key.
#[derive(Clone, Debug, Default)]
pub struct KeyReader {
    weights: [f32; 12],
    key: Key,
    /// Up to when all was counted.
    heard: Moment,
    /// What sounds, and for how many quarter notes it still counts.
    note: Option<(PitchClass, f32)>,
    chord: Option<(Chord, f32)>,
    /// Whether there has been a chord.
    begun: bool,
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

    /// A melody note begins.
    pub fn hear_note(&mut self, class: PitchClass, now: Moment) {
        self.pass(now);
        self.note = Some((class, LONGEST_NOTE));
        self.add_note(class, ONSET);
        self.decide();
    }

    /// A chord begins.
    pub fn hear_chord(&mut self, chord: Chord, now: Moment) {
        self.pass(now);
        if !self.begun {
            self.begun = true;
            self.add_note(chord.root, FIRST_ROOT);
        }
        self.chord = Some((chord, LONGEST_CHORD));
        self.add_chord(chord, ONSET);
        self.decide();
    }

    /// The chord that sounds is better known.
    pub fn refine_chord(&mut self, chord: Chord) {
        if let Some((known, _)) = &mut self.chord {
            *known = chord;
        }
    }

    /// Time goes on until `now` with what sounds.
    pub fn listen(&mut self, now: Moment) {
        self.pass(now);
        self.decide();
    }

    /// Counts what sounded until `now`. Time doesn't run backwards: after a jump comes [`Self::clear`].
    fn pass(&mut self, now: Moment) {
        let ticks = (now - self.heard).0.max(0);
        self.heard = self.heard.max(now);
        let whole = ticks / TICKS_PER_QUARTER;
        let part = (ticks % TICKS_PER_QUARTER) as f32 / TICKS_PER_QUARTER as f32;
        let left = (0..whole.min(FORGOTTEN)).fold(1.0 - (1.0 - DECAY) * part, |left, _| left * DECAY);
        self.weights.iter_mut().for_each(|weight| *weight *= left);
        let quarters = whole as f32 + part;
        if let Some((class, rest)) = self.note {
            self.add_note(class, quarters.min(rest));
            self.note = Some((class, rest - quarters)).filter(|(_, rest)| *rest > 0.0);
        }
        if let Some((chord, rest)) = self.chord {
            self.add_chord(chord, quarters.min(rest));
            self.chord = Some((chord, rest - quarters)).filter(|(_, rest)| *rest > 0.0);
        }
    }

    fn add_note(&mut self, class: PitchClass, weight: f32) {
        if let Some(slot) = self.weights.get_mut(usize::from(class.number())) {
            *slot += weight;
        }
    }

    fn add_chord(&mut self, chord: Chord, weight: f32) {
        for class in chord.classes().iter() {
            self.add_note(class, CHORD * weight);
        }
        self.add_note(chord.root, ROOT * weight);
    }

    fn decide(&mut self) {
        let present = self.fit(self.key);
        let mut best = if present > 0.0 { present * BETTER } else { present };
        for tonic in (0..12).map(PitchClass::new) {
            for mode in [Mode::Major, Mode::Minor] {
                let key = Key { tonic, mode };
                let fit = self.fit(key);
                if fit > best {
                    (best, self.key) = (fit, key);
                }
            }
        }
    }

    /// How well a key fits: the correlation of the histogram with its profile (but for the histogram's own
    /// mean and deviation, which are the same for all keys), and what lies in its scale.
    fn fit(&self, key: Key) -> f32 {
        let (profile, (mean, deviation), scale) = match key.mode {
            Mode::Major => (&MAJOR, MAJOR_SPREAD, &MAJOR_SCALE),
            Mode::Minor => (&MINOR, MINOR_SPREAD, &MINOR_SCALE),
        };
        let turned = self.weights.iter().cycle().skip(usize::from(key.tonic.number()));
        let terms = profile.iter().zip(scale).zip(turned);
        terms.map(|((p, s), weight)| ((p - mean) / deviation + SCALE * s) * weight).sum()
    }
}

#[cfg(test)]
mod tests {
    use figwort_theory::{Kind, Span};

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

    /// A bar for each of four chords.
    fn heard(tonic: i32, cadence: [(i32, Kind); 4]) -> Key {
        let mut reader = KeyReader::default();
        for (bar, (root, kind)) in cadence.into_iter().enumerate() {
            let chord = Chord::new(PitchClass::new(tonic + root), kind);
            reader.hear_chord(chord, Moment::quarters(4 * bar as i64));
        }
        reader.listen(Moment::quarters(16));
        reader.key()
    }

    #[test]
    fn cadences_tell_their_key() {
        use Kind::{Dominant, Major, Minor};
        for n in 0..12 {
            let tonic = PitchClass::new(n);
            let major = heard(n, [(0, Major), (5, Major), (7, Dominant), (0, Major)]);
            assert_eq!(major, Key { tonic, mode: Mode::Major });
            let minor = heard(n, [(0, Minor), (5, Minor), (7, Dominant), (0, Minor)]);
            assert_eq!(minor, Key { tonic, mode: Mode::Minor });
        }
    }

    #[test]
    fn a_scale_alone_tells_its_key() {
        for n in 0..12 {
            let mut reader = KeyReader::default();
            let melody = [0, 2, 4, 5, 7, 9, 11, 0, 7, 4, 0];
            for (at, step) in melody.into_iter().enumerate() {
                reader.hear_note(PitchClass::new(n + step), Moment::quarters(at as i64));
            }
            assert_eq!(reader.key(), Key { tonic: PitchClass::new(n), mode: Mode::Major });
        }
    }

    /// A modulation is followed: 8 bars in another key outweigh 16 in the one before.
    #[test]
    fn an_old_key_is_forgotten() {
        let mut reader = KeyReader::default();
        let mut now = Moment::ZERO;
        let mut play = |reader: &mut KeyReader, tonic: i32, times: usize| {
            for root in [0, 5, 7, 0].into_iter().cycle().take(times) {
                reader.hear_chord(Chord::new(PitchClass::new(tonic + root), Kind::Major), now);
                now += Span::WHOLE;
            }
        };
        play(&mut reader, 0, 16);
        assert_eq!(reader.key(), Key::default());
        play(&mut reader, 2, 8);
        assert_eq!(reader.key(), Key { tonic: PitchClass::new(2), mode: Mode::Major });
    }

    /// However long nothing comes, and whatever the clock does, the key is one.
    #[test]
    fn odd_times_do_no_harm() {
        let mut reader = KeyReader::default();
        for at in [0, -5, i64::MAX / 2, 3, i64::MAX] {
            reader.hear_note(PitchClass::new(7), Moment(at));
            assert!(reader.weights.iter().all(|weight| weight.is_finite()));
        }
        assert_eq!(reader.key().tonic, PitchClass::new(7));
    }
}
