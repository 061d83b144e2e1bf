//! What is right and wrong in a chord, restated from the sources and apart from the engine's own code.
//!
//! Keys are MIDI keys, intervals semitones. Not here: counting.

use figwort_engine::voicing::UNDER_MELODY;
use figwort_theory::{Chord, Degree, Key, PitchClass};

/// The lowest key on which an interval (index) is clear; 0 where there is no limit. Lowell and Pullig,
/// Arranging for Large Jazz Ensemble (Berklee Press 2003), the chart of low interval limits, from memory: m2 E3 … M10
/// B♭1.
const LOWEST: [i32; 17] = [0, 52, 51, 48, 46, 46, 47, 34, 41, 41, 41, 41, 0, 40, 39, 36, 34];
/// Without a melody, nothing stops the parts below E5.
const OPEN: i32 = 76;

/// A break of a low interval limit between neighbours, `tolerance` semitones allowed. The fifth has none:
/// the books differ upward from its limit.
pub(crate) fn is_murky(low: i32, high: i32, tolerance: i32) -> bool {
    let interval = high - low;
    let limit = usize::try_from(interval).ok().and_then(|n| LOWEST.get(n)).copied().unwrap_or(0);
    low < limit - if interval == 7 { 0 } else { tolerance }
}

/// The pairs of neighbours that break a limit.
pub(crate) fn murky_pairs(rising: &[i32], tolerance: i32) -> Vec<(i32, i32)> {
    let pairs = rising.windows(2).filter_map(|pair| match pair {
        [low, high] => Some((*low, *high)),
        _ => None,
    });
    pairs.filter(|(low, high)| is_murky(*low, *high, tolerance)).collect()
}

/// The root right under a bass that isn't it; `None` for the root itself and for a bass foreign to the chord.
pub(crate) fn assumed_root(chord: Chord, bass: i32) -> Option<i32> {
    let class = PitchClass::new(bass);
    let inverted = class != chord.root && chord.tones().contains(class);
    inverted.then(|| bass - i32::from(class.above(chord.root)))
}

/// The bass's possible keys: in the manner's range, a third below the melody at least.
fn basses(chord: Chord, range: (i32, i32), melody: Option<i32>) -> impl Iterator<Item = i32> {
    let under = melody.map_or(OPEN, |melody| melody - UNDER_MELODY);
    (range.0..=range.1.min(under)).filter(move |key| PitchClass::new(*key) == chord.bass)
}

/// Whether the written bass forces a break wherever it lies: no chord tone above it, a third below the melody
/// at least, would be clear.
pub(crate) fn bass_forces(chord: Chord, range: (i32, i32), melody: Option<i32>, tolerance: i32) -> bool {
    let under = melody.map_or(OPEN, |melody| melody - UNDER_MELODY);
    let clear = |bass: i32| {
        (bass + 1..=under)
            .filter(|key| chord.tones().contains(PitchClass::new(*key)))
            .any(|key| !is_murky(bass, key, tolerance))
    };
    !basses(chord, range, melody).any(clear)
}

/// Whether the written bass lies too low over its assumed root wherever it lies.
pub(crate) fn root_forces(chord: Chord, range: (i32, i32), melody: Option<i32>, tolerance: i32) -> bool {
    let clear = |bass: i32| assumed_root(chord, bass).is_none_or(|root| !is_murky(root, bass, tolerance));
    !basses(chord, range, melody).any(clear)
}

/// A minor second or minor ninth; the flat ninth over a dominant's root excepted.
pub(crate) fn clashes(low: i32, high: i32, chord: Option<Chord>) -> bool {
    let over_root = chord.is_some_and(|chord| chord.is_dominant() && PitchClass::new(low) == chord.root);
    match high - low {
        1 => true,
        13 => !over_root,
        _ => false,
    }
}

/// How many of the chord's guide tones nobody sounds.
pub(crate) fn missing_guides(chord: Chord, sounding: &[i32]) -> usize {
    let missing = |class: &PitchClass| !sounding.iter().any(|key| PitchClass::new(*key) == *class);
    chord.guide_tones().iter().filter(missing).count()
}

/// Whether the bass and all guide tones that the melody doesn't have can sound together: none on the melody
/// or less than a third below it, no clash, limits kept within two semitones, each hand within `reach`, the
/// right one with the melody if one player has both. Looks at every place of every one of them.
pub(crate) fn guides_fit(
    chord: Chord,
    range: (i32, i32),
    melody: Option<i32>,
    (reach, one_player): (i32, bool),
) -> bool {
    let sung = melody.map(PitchClass::new);
    let wanted: Vec<PitchClass> =
        chord.guide_tones().iter().filter(|c| Some(*c) != sung && *c != chord.bass).collect();
    let under = melody.map_or(OPEN, |melody| melody - UNDER_MELODY);
    let sounds_well = |notes: &[i32]| {
        let all: Vec<i32> = notes.iter().copied().chain(melody).collect();
        let clash = |n: usize| all.iter().skip(n + 1).any(|high| clashes(all[n], *high, Some(chord)));
        murky_pairs(notes, 2).is_empty() && !(0..all.len()).any(clash)
    };
    let in_hand = |notes: &[i32]| {
        let held = melody.filter(|_| one_player);
        (1..=notes.len()).any(|left| {
            let right: Vec<i32> = notes.iter().skip(left).copied().chain(held).collect();
            let span = |keys: &[i32]| keys.last().zip(keys.first()).map_or(0, |(high, low)| high - low);
            span(&notes[..left]) <= reach && span(&right) <= reach
        })
    };
    let places =
        |class: PitchClass, bass: i32| (bass + 1..=under).filter(move |k| PitchClass::new(*k) == class);
    basses(chord, range, melody).any(|bass| {
        let mut sets = vec![vec![bass]];
        for class in &wanted {
            sets = sets
                .iter()
                .flat_map(|set| places(*class, bass).map(|key| [set.as_slice(), &[key]].concat()))
                .collect();
        }
        sets.iter_mut().any(|set| {
            set.sort_unstable();
            sounds_well(set) && in_hand(set)
        })
    })
}

/// The key's leading tone where it leads: in a chord on the dominant, or as the root of a diminished one.
pub(crate) fn leading_tone(chord: Chord, key: Key) -> Option<PitchClass> {
    let tone = key.tonic.transpose(-1);
    let dominant = chord.root == key.tonic.transpose(7) && chord.tones().contains(tone);
    let diminished = chord.root == tone && chord.tones().contains(tone.transpose(6));
    (dominant || diminished).then_some(tone)
}

/// The chord's seventh, if it has one.
pub(crate) fn seventh(chord: Chord) -> Option<PitchClass> {
    chord.tones().iter().find(|class| chord.degree(*class) == Some(Degree::Seventh))
}

/// Whether the accompaniment doubles a class: in two parts, or with the melody. Melody and written bass on the
/// same class are nobody's doing.
pub(crate) fn doubles(class: PitchClass, chord: Chord, parts: &[i32], melody: Option<i32>) -> bool {
    let of_class = |key: &&i32| PitchClass::new(**key) == class;
    let count = parts.iter().filter(of_class).count();
    let sung = melody.is_some_and(|key| PitchClass::new(key) == class);
    let given = sung && count == 1 && chord.bass == class && parts.first().is_some_and(|b| of_class(&b));
    count + usize::from(sung) > 1 && count > 0 && !given
}

/// A perfect consonance that two parts keep while they move the same way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Parallel {
    Fifths,
    Octaves,
}

/// Parallels between a lower and an upper part, each before and after.
pub(crate) fn parallel(lower: (i32, i32), upper: (i32, i32)) -> Option<Parallel> {
    let (before, after) = (upper.0 - lower.0, upper.1 - lower.1);
    let same_way = (lower.1 - lower.0).signum() * (upper.1 - upper.0).signum() > 0;
    match (before.rem_euclid(12), after.rem_euclid(12)) {
        (7, 7) if same_way => Some(Parallel::Fifths),
        (0, 0) if same_way => Some(Parallel::Octaves),
        _ => None,
    }
}

/// Semitones that the parts move from one rising chord to the next: each part of the smaller chord is matched
/// with one of the larger, in order, so that the sum is least. The sum, and the number of parts matched.
pub(crate) fn motion(before: &[i32], after: &[i32]) -> (i32, usize) {
    let (few, many) = if before.len() <= after.len() { (before, after) } else { (after, before) };
    // least[j]: the first parts of `few` so far matched within the first j of `many`.
    let mut least = vec![Some(0); many.len() + 1];
    for part in few {
        let mut next = vec![None; many.len() + 1];
        for (j, other) in many.iter().enumerate() {
            let matched = least[j].map(|sum: i32| sum + (part - other).abs());
            next[j + 1] = match (next[j], matched) {
                (Some(a), Some(b)) => Some(i32::min(a, b)),
                (a, b) => a.or(b),
            };
        }
        least = next;
    }
    (least.last().copied().flatten().unwrap_or(0), few.len())
}

/// Whether a tone that wants to go on does: to one of `goals` (semitones from it; 0 is staying) that the next
/// chord has. `None` where the next chord has none of them.
pub(crate) fn resolves(tone: i32, goals: &[i32], next: Chord, sounding: &[i32]) -> Option<bool> {
    let mut open = goals.iter().filter(|by| next.classes().contains(PitchClass::new(tone + **by))).peekable();
    open.peek()?;
    Some(open.any(|by| sounding.contains(&(tone + by))))
}

#[cfg(test)]
mod tests {
    use super::*;
    use figwort_theory::{Kind, Mode};

    fn chord(root: i32, kind: Kind) -> Chord {
        Chord::new(PitchClass::new(root), kind)
    }

    /// A major third on A2 lies a semitone below its limit B♭2; on G2 it is three below.
    #[test]
    fn a_low_third_breaks_its_limit() {
        assert_eq!(murky_pairs(&[45, 49, 57], 0), [(45, 49)]);
        assert_eq!(murky_pairs(&[45, 49, 57], 2), []);
        assert_eq!(murky_pairs(&[43, 47], 2), [(43, 47)]);
        assert_eq!(murky_pairs(&[33, 40], 2), [(33, 40)], "the fifth has no tolerance");
        assert_eq!(murky_pairs(&[24, 36, 60], 0), [], "octaves and two octaves have no limit");
    }

    #[test]
    fn the_root_is_assumed_under_an_inversion() {
        let sixth = chord(0, Kind::Major).over(PitchClass::new(4));
        assert_eq!(assumed_root(sixth, 40), Some(36));
        assert_eq!(assumed_root(sixth.over(PitchClass::new(2)), 38), None);
        assert_eq!(assumed_root(chord(0, Kind::Major), 36), None);
        // E2 over C2 is too low, E3 over C3 is not.
        assert!(is_murky(36, 40, 0) && !is_murky(48, 52, 0));
        assert!(!root_forces(sixth, (36, 55), None, 0));
        assert!(root_forces(sixth, (36, 48), None, 0));
    }

    /// Under a melody on G3 the bass C has nothing clear above it but what breaks a limit… it has E3's tenth.
    #[test]
    fn a_bass_forces_a_break_only_where_nothing_else_is_left() {
        let c = chord(0, Kind::Major);
        assert!(!bass_forces(c, (36, 55), Some(55), 0));
        // F2 alone is left between E2 and the melody B♭2: nothing at all fits above it.
        assert!(bass_forces(chord(5, Kind::Major), (40, 55), Some(46), 0));
    }

    #[test]
    fn flat_ninths_belong_to_dominants() {
        let dominant = chord(7, Kind::Dominant);
        assert!(!clashes(43, 56, Some(dominant)));
        assert!(clashes(43, 56, Some(chord(7, Kind::Major))));
        assert!(clashes(55, 56, Some(dominant)));
        assert!(!clashes(43, 55, None));
    }

    #[test]
    fn guide_tones_may_be_the_melodys() {
        let dominant = chord(7, Kind::Dominant);
        assert_eq!(missing_guides(dominant, &[43, 55, 62, 65]), 1);
        assert_eq!(missing_guides(dominant, &[43, 55, 62, 65, 71]), 0);
    }

    /// G7 under C5: B3 is a minor ninth below it, B4 a minor second. Under G5, everything is free.
    #[test]
    fn guide_tones_may_have_no_place() {
        let dominant = chord(7, Kind::Dominant);
        assert!(!guides_fit(dominant, (36, 55), Some(72), (14, true)));
        assert!(guides_fit(dominant, (36, 55), Some(79), (14, true)));
        assert!(guides_fit(dominant, (36, 55), None, (14, false)));
    }

    #[test]
    fn doublings() {
        let g7 = chord(7, Kind::Dominant);
        let f = PitchClass::new(5);
        assert!(doubles(f, g7, &[43, 53, 65], None));
        assert!(doubles(f, g7, &[43, 53], Some(77)));
        assert!(!doubles(f, g7, &[43, 53], Some(79)));
        let third_inversion = g7.over(f);
        assert!(!doubles(f, third_inversion, &[41, 55, 59], Some(77)), "both are written");
        assert!(doubles(f, third_inversion, &[41, 55, 65], Some(77)));
        let key = Key { tonic: PitchClass::C, mode: Mode::Major };
        assert_eq!(leading_tone(g7, key), Some(PitchClass::new(11)));
        assert_eq!(leading_tone(chord(4, Kind::Minor), key), None);
        assert_eq!(leading_tone(chord(11, Kind::HalfDiminished), key), Some(PitchClass::new(11)));
        assert_eq!(leading_tone(chord(11, Kind::Dominant), key), None, "a dominant of another key");
    }

    #[test]
    fn parallels_need_the_same_direction_and_the_same_interval() {
        assert_eq!(parallel((48, 50), (72, 74)), Some(Parallel::Octaves));
        assert_eq!(parallel((48, 50), (67, 69)), Some(Parallel::Fifths));
        assert_eq!(parallel((48, 48), (72, 72)), None);
        assert_eq!(parallel((48, 50), (72, 71)), None);
        assert_eq!(parallel((48, 50), (72, 77)), None);
    }

    #[test]
    fn motion_matches_parts_in_order() {
        assert_eq!(motion(&[48, 55, 64], &[47, 55, 62]), (3, 3));
        // C4 goes to D4; the new G3 comes from nowhere.
        assert_eq!(motion(&[48, 60], &[48, 55, 62]), (2, 2));
        assert_eq!(motion(&[48, 55, 62], &[48, 60]), (2, 2));
    }

    #[test]
    fn sevenths_step_down_or_stay() {
        let c = chord(0, Kind::Major);
        assert_eq!(resolves(65, &[0, -1, -2], c, &[48, 64, 67]), Some(true));
        assert_eq!(resolves(65, &[0, -1, -2], c, &[48, 60, 67]), Some(false));
        assert_eq!(resolves(65, &[0, -1, -2], chord(6, Kind::Diminished), &[54]), None);
    }
}
