//! Bass lines: the way from one bass note through a passing note to another chord tone.
//!
//! A passing note is a non-chord tone entered and left by step in the same direction between two chord tones
//! (nonchord_tones.csv, after Open Music Theory and Rush). Here it fills a third.

use figwort_theory::{Chord, Key, Pitch, PitchClass, PitchClassSet};

use crate::voicing::Voicing;
use crate::voicing::spacing::is_clear;

/// A short move of the bass.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BassMove {
    /// The passing note.
    pub passing: Pitch,
    /// The chord tone that it leads to.
    pub goal: Pitch,
}

/// Notes that a passing note may take: the key's scale, bent to the chord.
fn scale(chord: Chord, key: Key) -> PitchClassSet {
    let (tones, scale) = (chord.tones(), key.scale());
    // A chord tone outside the key displaces its neighbours a semitone away.
    let altered = |class: PitchClass| tones.contains(class) && !scale.contains(class);
    let kept = |class: &PitchClass| {
        tones.contains(*class) || !altered(class.transpose(1)) && !altered(class.transpose(-1))
    };
    scale.iter().filter(kept).collect::<PitchClassSet>().union(tones)
}

/// The move for the voicing's bass; `None` where no third can be filled without getting in the way of the
/// parts above. `next` is the class of the next bass, where it is known: the goal nearest to it is taken;
/// otherwise the way up is preferred.
pub fn bass_move(
    chord: Chord,
    key: Key,
    voicing: &Voicing,
    next: Option<PitchClass>,
    lowest: Pitch,
    clarity: i32,
) -> Option<BassMove> {
    let bass = voicing.bass()?;
    let above = voicing.notes().get(1).copied();
    let scale = scale(chord, key);
    let mut best: Option<(i32, BassMove)> = None;
    for direction in [1, -1] {
        for third in [3, 4] {
            let Some(goal) = bass.transpose(third * direction) else { continue };
            let free = above.is_none_or(|above| goal < above && is_clear(goal, above, clarity));
            let clashes = voicing.notes().iter().skip(1).any(|note| matches!(note.above(goal), 1 | 13 | 25));
            if !chord.tones().contains(goal.class()) || goal < lowest || !free || clashes {
                continue;
            }
            let Some(passing) = between(bass, direction, third, scale, chord) else { continue };
            if voicing.notes().iter().skip(1).any(|note| matches!(note.above(passing), 1 | 13))
                || above.is_some_and(|above| !is_clear(passing, above, clarity))
            {
                continue;
            }
            let cost = match next {
                Some(next) => i32::from(next.above(goal.class()).min(goal.class().above(next))) * 2,
                None => 0,
            } + i32::from(direction < 0);
            if best.is_none_or(|(least, _)| cost < least) {
                best = Some((cost, BassMove { passing, goal }));
            }
        }
    }
    best.map(|(_, found)| found)
}

/// The note between two chord tones a third apart that is a step from both, of the scale if there is one.
fn between(from: Pitch, direction: i32, third: i32, scale: PitchClassSet, chord: Chord) -> Option<Pitch> {
    let candidates = [2, 1].into_iter().filter(|step| third - step <= 2);
    let mut found = None;
    for step in candidates {
        let pitch = from.transpose(step * direction)?;
        if chord.tones().contains(pitch.class()) {
            return None;
        }
        if scale.contains(pitch.class()) {
            return Some(pitch);
        }
        found = found.or(Some(pitch));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use figwort_theory::{Kind, Mode};

    fn voicing(keys: &[u8]) -> Voicing {
        Voicing::new(keys.iter().map(|k| Pitch::new(*k)), 1)
    }

    #[test]
    fn d_minor_walks_through_e_to_f() {
        let chord = Chord::new(PitchClass::new(2), Kind::MinorSeventh);
        let key = Key::from_fifths(-1, Mode::Major);
        let found = bass_move(chord, key, &voicing(&[50, 57, 60]), None, Pitch::new(36), 0);
        assert_eq!(found, Some(BassMove { passing: Pitch::new(52), goal: Pitch::new(53) }));
    }

    #[test]
    fn every_move_is_by_step_one_way_to_a_chord_tone() {
        let mut moves = 0;
        for root in 0..12 {
            for kind in Kind::ALL {
                for fifths in -5..=6 {
                    for inversion in Chord::new(PitchClass::new(root), kind).tones().iter() {
                        let chord = Chord::new(PitchClass::new(root), kind).over(inversion);
                        let Some(bass) = Pitch::new(40).next_of_class(inversion) else { continue };
                        let key = Key::from_fifths(fifths, Mode::Minor);
                        let upper = [bass, Pitch::new(64)];
                        let voicing = Voicing::new(upper, 1);
                        let Some(found) = bass_move(chord, key, &voicing, None, Pitch::new(30), 0) else {
                            continue;
                        };
                        moves += 1;
                        let (first, second) = (found.passing.above(bass), found.goal.above(found.passing));
                        assert!(first.abs() <= 2 && second.abs() <= 2 && first.signum() == second.signum());
                        assert!(chord.tones().contains(found.goal.class()));
                        assert!(!chord.tones().contains(found.passing.class()));
                    }
                }
            }
        }
        assert!(moves > 5_000, "only {moves} moves found");
    }
}
