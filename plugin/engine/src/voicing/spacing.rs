//! Spacing: low interval limits and the stretch of a hand.

use figwort_theory::{Chord, Pitch};

/// The lowest key on which each interval (index in semitones) stays clear, 0 where there is no limit.
/// Lowell and Pullig, Arranging for Large Jazz Ensemble (Berklee Press 2003), as kept in
/// `low_interval_limits.csv` column B; unison and octave are unlimited there.
const LOWEST: [u8; 17] = [0, 52, 51, 48, 46, 46, 47, 34, 41, 41, 41, 41, 0, 40, 39, 36, 34];

/// The lowest key for an interval's lower note, `clarity` semitones up; 0 without a limit.
pub fn low_interval_limit(interval: i32, clarity: i32) -> i32 {
    match LOWEST.get(interval.unsigned_abs() as usize) {
        Some(0) | None => 0,
        Some(limit) => i32::from(*limit) + clarity,
    }
}

/// Whether two neighbouring notes are clear where they lie.
pub fn is_clear(lower: Pitch, upper: Pitch, clarity: i32) -> bool {
    i32::from(lower.key()) >= low_interval_limit(upper.above(lower), clarity)
}

/// How far, in semitones, a bass that isn't the root lies too low over its root, assumed to be just below it
/// (spacing_rules L1); 0 if it is clear. The books call limits zones of risk, not walls, and a written bass
/// has to go somewhere: so this one is a cost. A foreign bass isn't checked: the root isn't under it.
pub fn murk_over_assumed_root(chord: Chord, bass: Pitch, clarity: i32) -> i32 {
    if chord.bass == chord.root || !chord.tones().contains(chord.bass) {
        return 0;
    }
    let above = i32::from(chord.bass.above(chord.root));
    (low_interval_limit(above, clarity) - (i32::from(bass.key()) - above)).max(0)
}

/// How many of the rising `notes` the left hand takes so that both hands reach theirs with five fingers
/// each: as few as possible, so that most of the chord lies under the melody. `melody` is the right hand's
/// too, where given. `None` if the hands can't do it.
pub fn hands(notes: &[Pitch], melody: Option<Pitch>, reach: i32) -> Option<usize> {
    let first = *notes.first()?;
    (1..=notes.len()).find(|&left| {
        let left_span = notes.get(left - 1).map_or(0, |top| top.above(first));
        let right_lowest = notes.get(left).copied().or(melody);
        let right_highest = melody.or(notes.last().copied());
        let right_span = match (right_lowest, right_highest) {
            (Some(low), Some(high)) if left < notes.len() || melody.is_some() => high.above(low),
            _ => 0,
        };
        let right_fingers = notes.len() - left + usize::from(melody.is_some());
        left_span <= reach && right_span <= reach && left <= 5 && right_fingers <= 5
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Published points: a minor third is clear from C3 (filmmusictheory.com after Lowell and Pullig), a
    /// major third from B♭2 (Hoffmann's worked example), the fifth from B♭1, the octave everywhere.
    #[test]
    fn published_limits() {
        let clear = |low: u8, interval: u8| is_clear(Pitch::new(low), Pitch::new(low + interval), 0);
        assert!(clear(48, 3) && !clear(47, 3));
        assert!(clear(46, 4) && !clear(45, 4));
        assert!(clear(34, 7) && !clear(33, 7));
        assert!(clear(21, 12));
    }

    #[test]
    fn the_left_hand_takes_as_little_as_the_right_can_spare() {
        let notes = |keys: &[u8]| keys.iter().map(|k| Pitch::new(*k)).collect::<arrayvec::ArrayVec<_, 8>>();
        // F2 E3 / C4 (A4): the right hand can't reach from E3.
        assert_eq!(hands(&notes(&[41, 52, 60]), Some(Pitch::new(69)), 14), Some(2));
        // The same without a melody to hold.
        assert_eq!(hands(&notes(&[41, 52, 60]), None, 14), Some(1));
        assert_eq!(hands(&notes(&[36, 60]), Some(Pitch::new(90)), 14), None);
    }
}
