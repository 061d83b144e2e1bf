//! How far apart two chords lie in tonal space: Lerdahl's chord distance (*Tonal Pitch Space*, 2001).
//!
//! A chord is heard in a region, the key that it belongs to for the moment. The distance is the sum of
//! three counts: steps between the regions' scales on the circle of fifths; steps between the roots on the
//! circle of a scale's seven fifths; and new classes in the basic space, whose levels are the root, the root
//! and fifth, the triad and the scale, so that a new root counts at all of them.
//!
//! Sevenths and other tones above the triad count only by where they lie: outside the old scale or in it.
//! Dissonance is not in it (see [`crate::roughness`]), nor what comes before or after.

use crate::chord::{Chord, Kind};
use crate::pitch::{PitchClass, PitchClassSet};
use crate::scale::{Key, Mode};

/// The three counts of a distance.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub struct Distance {
    /// Steps between the regions on the circle of fifths, 0 to 6.
    pub regions: u8,
    /// Steps between the roots on the scale's circle of fifths, 0 to 3.
    pub roots: u8,
    /// New classes at all levels of the basic space.
    pub classes: u8,
}

impl Distance {
    /// The distance as a number; 0 to itself, 5 to 8 within a key, 7 to the tonics of the nearest keys.
    pub const fn total(self) -> u8 {
        self.regions + self.roots + self.classes
    }
}

/// The distance from one chord in its region to another in its own.
///
/// # Examples
/// ```
/// use figwort_theory::distance::between;
/// use figwort_theory::{Chord, Key, Kind, PitchClass};
/// let c = Chord::new(PitchClass::C, Kind::Major);
/// let g = Chord::new(PitchClass::new(7), Kind::Major);
/// assert_eq!(between((c, Key::default()), (g, Key::default())).total(), 5);
/// ```
pub const fn between(from: (Chord, Key), to: (Chord, Key)) -> Distance {
    // The shorter way round the circle of twelve, sharps up.
    let around = (to.1.fifths() - from.1.fifths()).rem_euclid(12);
    let shift = if around > 6 { around - 12 } else { around };
    let steps = (shift + place(to.0.root, to.1) - place(from.0.root, from.1)).rem_euclid(7);
    let (old, new) = (Space::of(from.0, from.1), Space::of(to.0, to.1));
    let mut classes = 0;
    let mut level = 0;
    while level < 4 {
        classes += new.0[level].difference(old.0[level]).len();
        level += 1;
    }
    Distance {
        regions: shift.unsigned_abs() as u8,
        roots: (if steps > 3 { 7 - steps } else { steps }) as u8,
        classes: classes as u8,
    }
}

/// The distance of a chord from a key's tonic chord, heard in the region where it fits best: with the fewest
/// notes outside, then the nearest.
pub fn from_tonic(chord: Chord, key: Key) -> Distance {
    let kind = match key.mode {
        Mode::Major => Kind::Major,
        Mode::Minor => Kind::Minor,
    };
    let home = (Chord::new(key.tonic, kind), key);
    let mut best: Option<((u32, u8), Distance)> = None;
    for tonic in 0..12 {
        for mode in [Mode::Major, Mode::Minor] {
            let region = Key { tonic: PitchClass::new(tonic), mode };
            let outside = chord.tones().difference(region.scale().union(raised_seventh(region))).len();
            let distance = between(home, (chord, region));
            let rank = (outside, distance.total());
            if best.is_none_or(|(found, _)| rank < found) {
                best = Some((rank, distance));
            }
        }
    }
    best.map_or_else(Distance::default, |(_, distance)| distance)
}

/// The leading tone of a minor key; nothing in major, whose scale has it.
const fn raised_seventh(key: Key) -> PitchClassSet {
    match key.mode {
        Mode::Major => PitchClassSet::EMPTY,
        Mode::Minor => PitchClassSet::EMPTY.with(key.tonic.transpose(11)),
    }
}

/// Where a root lies on the line of fifths, from the tonic of the region's major scale: -1 to 5 for the
/// scale's own, the others as they are usually spelled (flats in major; the raised sixth and seventh in
/// minor).
const fn place(root: PitchClass, region: Key) -> i32 {
    let lowest = match region.mode {
        Mode::Major => -5,
        Mode::Minor => -3,
    };
    let place = root.number() as i32 * 7 - region.fifths();
    lowest + (place - lowest).rem_euclid(12)
}

/// The basic space of a chord in its region: root, root and fifth, triad, scale. All chord tones belong to
/// the scale's level, where the raised seventh of minor takes the natural one's place.
struct Space([PitchClassSet; 4]);

impl Space {
    const fn of(chord: Chord, region: Key) -> Self {
        let tones = chord.tones();
        let root = PitchClassSet::EMPTY.with(chord.root);
        let fifth = root.union(first(chord, &[7, 6, 8], 7));
        let triad = fifth.union(first(chord, &[4, 3, 5, 2], 0));
        let raised = raised_seventh(region);
        let natural = raised.transpose(-1);
        let mut scale = region.scale();
        if raised.intersection(tones).len() == 1 {
            scale = scale.difference(natural);
        }
        Self([root, fifth, triad, scale.union(tones)])
    }
}

/// The first of some intervals that the chord has, else `otherwise`, as a class above its root.
const fn first(chord: Chord, intervals: &[u8], otherwise: i32) -> PitchClassSet {
    let bits = chord.intervals().bits();
    let mut i = 0;
    while i < intervals.len() {
        if bits >> intervals[i] & 1 == 1 {
            return PitchClassSet::EMPTY.with(chord.root.transpose(intervals[i] as i32));
        }
        i += 1;
    }
    PitchClassSet::EMPTY.with(chord.root.transpose(otherwise))
}

#[cfg(test)]
mod tests {
    use super::*;

    const C: Key = Key::from_fifths(0, Mode::Major);

    fn chord(root: i32, kind: Kind) -> Chord {
        Chord::new(PitchClass::new(root), kind)
    }

    fn from_c(root: i32, kind: Kind, region: Key) -> u8 {
        between((chord(0, Kind::Major), C), (chord(root, kind), region)).total()
    }

    /// Within C major, from I. *Tonal Pitch Space* (2001), chapter 2; from memory, and the definition gives
    /// each of them when counted by hand.
    #[test]
    fn chords_of_a_key() {
        let published = [
            (0, Kind::Major, 0),
            (7, Kind::Major, 5),
            (5, Kind::Major, 5),
            (9, Kind::Minor, 7),
            (4, Kind::Minor, 7),
            (2, Kind::Minor, 8),
            (11, Kind::Diminished, 8),
        ];
        for (root, kind, distance) in published {
            assert_eq!(from_c(root, kind, C), distance, "{root} {kind:?}");
        }
    }

    /// From C major's tonic to those of its neighbours. The same book's figures for regions; from memory, and
    /// they agree with the definition counted by hand.
    #[test]
    fn tonics_of_neighbouring_keys() {
        let key = Key::from_fifths;
        let published = [
            (7, Kind::Major, key(1, Mode::Major), 7),
            (5, Kind::Major, key(-1, Mode::Major), 7),
            (9, Kind::Minor, key(0, Mode::Minor), 7),
            (0, Kind::Minor, key(-3, Mode::Minor), 7),
            (4, Kind::Minor, key(1, Mode::Minor), 9),
            (2, Kind::Minor, key(-1, Mode::Minor), 10),
        ];
        for (root, kind, region, distance) in published {
            assert_eq!(from_c(root, kind, region), distance, "{root} {kind:?}");
        }
    }

    /// The three counts, by hand from the definition: V in C major is one fifth away, with G, D (fifth), B and
    /// D (triad) new.
    #[test]
    fn counts_of_the_dominant() {
        let found = between((chord(0, Kind::Major), C), (chord(7, Kind::Major), C));
        assert_eq!(found, Distance { regions: 0, roots: 1, classes: 4 });
        // In G, with F sharp new in the scale.
        let found =
            between((chord(0, Kind::Major), C), (chord(7, Kind::Major), Key::from_fifths(1, Mode::Major)));
        assert_eq!(found, Distance { regions: 1, roots: 1, classes: 5 });
    }

    /// In minor the dominant brings its leading tone: one more than in major, there and back.
    #[test]
    fn the_dominant_of_a_minor_key() {
        let a = Key::from_fifths(0, Mode::Minor);
        let (tonic, dominant) = ((chord(9, Kind::Minor), a), (chord(4, Kind::Major), a));
        assert_eq!(between(tonic, dominant).total(), 6);
        assert_eq!(between(dominant, tonic).total(), 6);
    }

    /// A chord of the key is heard in the key; a dominant of another degree in that degree's key.
    #[test]
    fn chords_find_their_region() {
        let at = |root, kind| from_tonic(chord(root, kind), C);
        assert_eq!(at(0, Kind::Major).total(), 0);
        assert_eq!(at(0, Kind::MajorSeventh).total(), 0);
        assert_eq!(at(7, Kind::Dominant).total(), 5);
        assert_eq!(at(2, Kind::MinorSeventh).total(), 8);
        assert_eq!((at(2, Kind::Dominant).regions, at(9, Kind::Dominant).regions), (1, 1));
        assert_eq!(at(4, Kind::Dominant).regions, 0);
        // The further, the further: chords of the key, dominants of its degrees, the flat second.
        assert!(at(2, Kind::Minor).total() < at(2, Kind::Dominant).total());
        assert!(at(2, Kind::Dominant).total() < at(1, Kind::Major).total());
    }

    /// Every chord on every root keeps its distance when the key moves with it.
    #[test]
    fn distance_does_not_depend_on_the_key() {
        for kind in Kind::ALL {
            for root in 0..12 {
                for mode in [Mode::Major, Mode::Minor] {
                    let at = |by: i32| {
                        from_tonic(chord(root + by, kind), Key { tonic: PitchClass::new(by), mode }).total()
                    };
                    for by in 1..12 {
                        assert_eq!(at(by), at(0), "{kind:?} on {root}, {by} higher, {mode:?}");
                    }
                }
            }
        }
    }
}
