//! Spacing: low interval limits, how rough two notes are, and the stretch of a hand.

use arrayvec::ArrayVec;
use figwort_theory::{Chord, Pitch};

use super::MAX_PARTS;

/// The lowest key on which each interval (index in semitones) stays clear, 0 where there is no limit.
/// Lowell and Pullig, Arranging for Large Jazz Ensemble (Berklee Press 2003), the chart of low interval limits, from
/// memory; unison and octave are unlimited there.
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

/// Semitones by which a limit may be missed where a guide tone has no other place: the books call limits
/// zones of risk, not walls.
pub const TOLERANCE: i32 = 2;

/// [`is_clear`] with the tolerance; fifth and tritone have none, because the books differ most about them.
pub fn is_nearly_clear(lower: Pitch, upper: Pitch, clarity: i32) -> bool {
    let tolerance = if matches!(upper.above(lower), 6 | 7) { 0 } else { TOLERANCE };
    is_clear(lower, upper, clarity - tolerance)
}

/// Lowest key and number of keys of [`DYADS`], and its intervals, a minor second to a major tenth.
const DYADS_FROM: u8 = 24;
const DYADS_KEYS: u8 = 73;
const DYADS_WIDE: usize = 16;
/// Sensory roughness of two notes in steps of 1/250 (Hutchinson and Knopoff, see [`figwort_theory::roughness`]),
/// by lower key, then interval. Made by that formula; a test makes it again.
static DYADS: &[u8; DYADS_KEYS as usize * DYADS_WIDE] = include_bytes!("dyads.bin");

/// Roughness of two notes in steps of 1/250, without arithmetic on partials; 0 beyond a tenth. Keys below C1
/// count as C1, those above C7 as C7.
pub fn roughness(lower: Pitch, interval: i32) -> i32 {
    let row = usize::from(lower.key().clamp(DYADS_FROM, DYADS_FROM + DYADS_KEYS - 1) - DYADS_FROM);
    let column = usize::try_from(interval - 1).unwrap_or(DYADS_WIDE);
    if column >= DYADS_WIDE {
        return 0;
    }
    DYADS.get(row * DYADS_WIDE + column).copied().map_or(0, i32::from)
}

/// How far, in semitones, a bass that isn't the root lies too low over its root, assumed to be just below it (Lowell
/// and Pullig, as with `LOWEST`); 0 if it is clear. The books call limits zones of risk, not walls, and a written bass
/// has to go somewhere: so this one is a cost. A foreign bass isn't checked: the root isn't under it.
pub fn murk_over_assumed_root(chord: Chord, bass: Pitch, clarity: i32) -> i32 {
    if chord.bass == chord.root || !chord.tones().contains(chord.bass) {
        return 0;
    }
    let above = i32::from(chord.bass.above(chord.root));
    (low_interval_limit(above, clarity) - (i32::from(bass.key()) - above)).max(0)
}

/// How many of the rising `notes` the left hand takes so that both hands reach theirs ([`can_hold`]). `melody`
/// is the right hand's too, where given. Of what is possible: as few as leave the right hand within its reach
/// of `summit`, the highest melody note to come, so that most of the chord lies under the melody and nothing
/// has to be let go; as many as there can be, where something has to. `None` if the hands can't do it.
pub fn hands(notes: &[Pitch], melody: Option<Pitch>, summit: Option<Pitch>, reach: i32) -> Option<usize> {
    let mut most = None;
    for left in 1..=notes.len() {
        let (low, high) = (notes.get(..left).unwrap_or_default(), notes.get(left..).unwrap_or_default());
        let right = high.iter().copied().chain(melody).collect::<ArrayVec<Pitch, { MAX_PARTS + 1 }>>();
        // The left hand's thumb is on top: its fingers are counted from there down.
        let from_the_thumb = low.iter().rev().copied().collect::<ArrayVec<Pitch, MAX_PARTS>>();
        if !can_hold(&from_the_thumb, reach) {
            break;
        }
        if can_hold(&right, reach) {
            most = Some(left);
            let lowest = high.first();
            if lowest.is_none_or(|low| summit.is_none_or(|summit| summit.above(*low) <= reach)) {
                break;
            }
        }
    }
    most
}

/// Widest practicable span of each pair of fingers, thumb first, in semitones: Parncutt, Sloboda, Clarke,
/// Raekallio and Desain, An ergonomic model of keyboard fingering, Music Perception 14 (1997), table 1,
/// column MaxPrac.
const WIDEST: [[i32; 5]; 5] =
    [[0, 10, 12, 14, 15], [0, 0, 5, 7, 10], [0, 0, 0, 4, 7], [0, 0, 0, 0, 5], [0, 0, 0, 0, 0]];

/// Whether five fingers, thumb first, can hold the notes, which rise or fall from the thumb: within `reach`
/// as a whole, and each pair of fingers within its practicable span.
pub fn can_hold(notes: &[Pitch], reach: i32) -> bool {
    let (Some(first), Some(last)) = (notes.first(), notes.last()) else { return true };
    notes.len() <= 5 && last.above(*first).abs() <= reach && finger(notes, &mut ArrayVec::new(), reach)
}

/// Gives the notes after the first `taken.len()` to fingers after the last one taken.
fn finger(notes: &[Pitch], taken: &mut ArrayVec<usize, 5>, reach: i32) -> bool {
    let Some(note) = notes.get(taken.len()) else { return true };
    let from = taken.last().map_or(0, |last| last + 1);
    for next in from..5 {
        let fits = taken.iter().zip(notes).all(|(&other, held)| {
            let widest = WIDEST.get(other).and_then(|row| row.get(next)).copied().unwrap_or(0);
            // A hand that reaches further than the table's does so between thumb and little finger.
            let widest = if (other, next) == (0, 4) { widest.max(reach) } else { widest };
            note.above(*held).abs() <= widest
        });
        if fits && !taken.is_full() {
            taken.push(next);
            if finger(notes, taken, reach) {
                return true;
            }
            taken.pop();
        }
    }
    false
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

    /// Lowell and Pullig's limits with two semitones' grace, as books differ by that much, but none for the fifth, which
    /// other charts have higher (Sweetwater's InSync glossary, Low Interval Limit: C♯2).
    #[test]
    fn tolerance_is_two_semitones_but_for_the_fifth() {
        let nearly = |low: u8, interval: u8| is_nearly_clear(Pitch::new(low), Pitch::new(low + interval), 0);
        assert!(nearly(46, 3) && !nearly(45, 3));
        assert!(!nearly(33, 7) && !nearly(46, 6));
    }

    /// The table is what the formula gives.
    #[test]
    fn the_table_of_dyads_is_made_by_the_formula() {
        for key in DYADS_FROM..DYADS_FROM + DYADS_KEYS {
            for interval in 1..=DYADS_WIDE as u8 {
                let both = [Pitch::new(key), Pitch::new(key + interval)];
                let exact = figwort_theory::roughness::of(both.into_iter()) * 250.0;
                let stored = f64::from(roughness(both[0], i32::from(interval)));
                assert!((exact - stored).abs() < 0.501, "{key} {interval}: {exact} stored as {stored}");
            }
        }
        assert_eq!(roughness(Pitch::new(48), 17), 0);
    }

    #[test]
    fn fingers_have_their_spans() {
        let hold = |keys: &[u8]| {
            let notes = keys.iter().map(|k| Pitch::new(*k)).collect::<ArrayVec<_, 8>>();
            can_hold(&notes, 14)
        };
        // A seventh chord over an octave lies well; a tenth between the outer of three upper fingers doesn't.
        assert!(hold(&[60, 64, 67, 72]));
        assert!(hold(&[60, 67, 72]));
        assert!(!hold(&[60, 61, 62, 71, 74]));
        assert!(!hold(&[60, 62, 64, 65, 67, 69]), "six notes");
        assert!(!hold(&[60, 75]), "beyond the reach");
    }

    #[test]
    fn the_left_hand_takes_as_little_as_the_right_can_spare() {
        let notes = |keys: &[u8]| keys.iter().map(|k| Pitch::new(*k)).collect::<arrayvec::ArrayVec<_, 8>>();
        // F2 E3 / C4 (A4): the right hand can't reach from E3.
        assert_eq!(hands(&notes(&[41, 52, 60]), Some(Pitch::new(69)), None, 14), Some(2));
        // The same without a melody to hold.
        assert_eq!(hands(&notes(&[41, 52, 60]), None, None, 14), Some(1));
        assert_eq!(hands(&notes(&[36, 60]), Some(Pitch::new(90)), None, 14), None);
        // F3 A3 C4 under C5, which rises to F5: the left hand takes all it can.
        let f = notes(&[53, 57, 60]);
        assert_eq!(hands(&f, Some(Pitch::new(72)), Some(Pitch::new(72)), 14), Some(2));
        assert_eq!(hands(&f, Some(Pitch::new(72)), Some(Pitch::new(77)), 14), Some(3));
        assert_eq!(hands(&notes(&[41, 60]), Some(Pitch::new(72)), Some(Pitch::new(77)), 14), Some(1));
    }
}
