//! Harmonic tension: how much the chord of the moment wants to go on.
//!
//! Three things make it: how far the chord lies from the key's tonic (Lerdahl's distance), how much it rubs
//! by itself (its roughness in a neutral voicing, and a tritone that wants to resolve), and the place in the
//! phrase, which rises towards its third quarter and comes to rest. The shares are common practice, no
//! source. Depends on nothing but what is passed in, so that a bar has the same tension wherever playing
//! began. Not here: what came before, and how the chord is voiced.

use figwort_theory::{Chord, Key, PitchClass, distance, roughness};

use super::form::{Form, PHRASE};

/// Shares of the three, out of 100.
const FAR: f32 = 45.0;
const ROUGH: f32 = 40.0;
const PLACE: f32 = 15.0;
/// A distance from the tonic that is as far as can be told: chords of the key lie at 5 to 8, dominants of its
/// degrees around 10, those of remote keys further.
const FARTHEST: f32 = 12.0;
/// Roughness of a major triad, and how much more is as rough as can be told: about a minor ninth's.
const SMOOTH: f32 = 0.12;
const ROUGHER: f32 = 0.22;
/// What a tritone has of the roughness share.
const TRITONE: f32 = 0.4;
/// Out of 1, by bar of the phrase.
const BY_BAR: [f32; PHRASE as usize] = [0.0, 0.4, 0.8, 0.2];

/// Tension of a chord in a key and at a place of the form, 0 (a tonic triad at a phrase's beginning) to 100.
pub fn tension(chord: Chord, key: Key, form: Form) -> u8 {
    let far = (f32::from(distance::from_tonic(chord, key).total()) / FARTHEST).min(1.0);
    let intervals = chord.intervals();
    let rough = ((roughness::of_chord(intervals) - SMOOTH) / ROUGHER).clamp(0.0, 1.0);
    let has = |interval| intervals.contains(PitchClass::new(interval));
    let tritone = if has(6) || (has(4) && has(10)) { TRITONE } else { 0.0 };
    let place = BY_BAR.get(usize::from(form.of_phrase)).copied().unwrap_or(0.0);
    (FAR * far + ROUGH * (rough * (1.0 - TRITONE) + tritone) + PLACE * place) as u8
}

#[cfg(test)]
mod tests {
    use figwort_theory::{Alterations, Kind, Mode};

    use super::*;

    fn at(index: i64) -> Form {
        Form::free(index)
    }

    fn first_bar(root: i32, kind: Kind) -> u8 {
        tension(Chord::new(PitchClass::new(root), kind), Key::default(), at(0))
    }

    /// Rest and drive in C major, from least to most. Common practice, no source.
    #[test]
    fn order_is_a_musicians() {
        use Kind::*;
        let order = [
            (0, Major),
            (0, MajorSeventh),
            (7, Major),
            (9, Minor),
            (2, MinorSeventh),
            (7, Dominant),
            (11, HalfDiminished),
            (2, Dominant),
        ];
        for pair in order.windows(2) {
            let [low, high] = [pair[0], pair[1]].map(|(root, kind)| first_bar(root, kind));
            assert!(low < high, "{:?} {low}, {:?} {high}", pair[0], pair[1]);
        }
        assert_eq!(first_bar(0, Major), 0);
        let flat_ninth = Chord::new(PitchClass::new(7), Dominant).altered(Alterations::FLAT_NINTH);
        assert!(tension(flat_ninth, Key::default(), at(0)) > first_bar(7, Dominant));
    }

    #[test]
    fn the_same_chord_is_at_home_in_one_key_and_far_in_another() {
        let e = Chord::new(PitchClass::new(4), Kind::Major);
        let home = Key { tonic: PitchClass::new(4), mode: Mode::Major };
        assert!(tension(e, Key::default(), at(0)) > tension(e, home, at(0)) + 20);
    }

    #[test]
    fn a_phrase_rises_and_rests() {
        let chord = Chord::new(PitchClass::new(5), Kind::Major);
        let bars = [0, 1, 2, 3, 4, -1].map(|index| tension(chord, Key::default(), at(index)));
        assert!(bars[0] < bars[1] && bars[1] < bars[2] && bars[3] < bars[2]);
        assert_eq!((bars[4], bars[5]), (bars[0], bars[3]));
    }

    #[test]
    fn never_over_a_hundred() {
        for kind in Kind::ALL {
            for bits in 0..1 << 13 {
                let chord = Chord::new(PitchClass::new(6), kind).altered(Alterations::from_bits(bits));
                assert!(tension(chord, Key::default(), at(2)) <= 100);
            }
        }
    }
}
