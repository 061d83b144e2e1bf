//! Chords: a root, a kind, alterations, a bass.
//!
//! Intervals are semitones above the root, folded into one octave. Spelling is not known here (see
//! [`crate::symbol`]), nor are octaves or doublings.

mod alterations;
mod kind;

pub use alterations::Alterations;
pub use kind::Kind;

use crate::pitch::{PitchClass, PitchClassSet};

/// What a chord tone is within its chord. For ordering and doubling rules; octave is not meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Degree {
    /// The root.
    Root,
    /// A second in place of the third.
    Second,
    /// Major or minor third.
    Third,
    /// A fourth in place of the third.
    Fourth,
    /// Perfect, diminished or augmented fifth.
    Fifth,
    /// Sixth of a sixth chord.
    Sixth,
    /// Major, minor or diminished seventh.
    Seventh,
    /// Natural, lowered or raised ninth.
    Ninth,
    /// Natural or raised eleventh.
    Eleventh,
    /// Natural or lowered thirteenth.
    Thirteenth,
    /// The bass of a slash chord, foreign to the chord above it.
    ForeignBass,
}

/// A chord as sounding harmony: which classes, what each of them is, and which lies lowest.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Chord {
    /// The root.
    pub root: PitchClass,
    /// The kind.
    pub kind: Kind,
    /// What is changed in the kind.
    pub alterations: Alterations,
    /// The lowest note: the root, another chord tone (an inversion) or a foreign bass (a slash chord).
    pub bass: PitchClass,
}

impl Chord {
    /// A chord in root position, unaltered.
    pub const fn new(root: PitchClass, kind: Kind) -> Self {
        Self { root, kind, alterations: Alterations::NONE, bass: root }
    }

    /// The same chord over another bass.
    #[must_use]
    pub const fn over(self, bass: PitchClass) -> Self {
        Self { bass, ..self }
    }

    /// The same chord with more alterations.
    #[must_use]
    pub const fn altered(self, more: Alterations) -> Self {
        Self { alterations: self.alterations.union(more), ..self }
    }

    /// Intervals above the root, bit 0 for the root; a foreign bass is not among them.
    ///
    /// An altered degree takes the place of the kind's own; an added one stands beside it. Leaving out the
    /// fifth outdoes altering it.
    pub const fn intervals(self) -> PitchClassSet {
        const THIRDS: u16 = 0b1_1000;
        const FIFTHS: u16 = 0b1_1100_0000;
        let (a, kind) = (self.alterations, self.kind);
        if a.is_empty() {
            return kind.intervals();
        }
        let own = kind.intervals().bits();
        let mut fifth = own & FIFTHS;
        let mut rest = own & !FIFTHS;

        if a.intersects(Alterations::FLAT_NINTH.union(Alterations::SHARP_NINTH)) && kind.reaches(9) {
            rest &= !(1 << 2);
        }
        if a.contains(Alterations::SHARP_ELEVENTH) && kind.reaches(11) {
            rest &= !(1 << 5);
        }
        if a.contains(Alterations::FLAT_THIRTEENTH) && kind.reaches(13) {
            rest &= !(1 << 9);
        }
        if a.intersects(Alterations::SUSPENDED.union(Alterations::OMIT_THIRD)) {
            rest &= !THIRDS;
        }
        if a.intersects(Alterations::FLAT_FIFTH.union(Alterations::SHARP_FIFTH)) {
            fifth &= !(1 << 7);
        }
        if a.contains(Alterations::FLAT_FIFTH) {
            fifth |= 1 << 6;
        }
        if a.contains(Alterations::SHARP_FIFTH) {
            fifth |= 1 << 8;
        }
        if a.contains(Alterations::OMIT_FIFTH) {
            fifth = 0;
        }

        const ADDED: [(Alterations, u8); 9] = [
            (Alterations::FLAT_NINTH, 1),
            (Alterations::SUSPEND_SECOND, 2),
            (Alterations::ADD_NINTH, 2),
            (Alterations::SHARP_NINTH, 3),
            (Alterations::SUSPEND_FOURTH, 5),
            (Alterations::ADD_ELEVENTH, 5),
            (Alterations::SHARP_ELEVENTH, 6),
            (Alterations::FLAT_THIRTEENTH, 8),
            (Alterations::ADD_THIRTEENTH, 9),
        ];
        let mut i = 0;
        while i < ADDED.len() {
            if a.contains(ADDED[i].0) {
                rest |= 1 << ADDED[i].1;
            }
            i += 1;
        }
        PitchClassSet::from_bits(rest | fifth)
    }

    /// The same notes under the plainest name: m7 with a lowered fifth is half-diminished, 7 with an added
    /// ninth is a ninth chord, a major triad with a suspended fourth is a suspended fourth, and flags that
    /// change nothing are dropped. Symbols are read to this form, held chords named in it, so that the same
    /// chord written in two ways compares equal.
    #[must_use]
    pub const fn plainest(self) -> Self {
        type A = Alterations;
        let (mut kind, mut a) = (self.kind, self.alterations);

        match kind {
            Kind::Major if a.contains(A::SUSPENDED) => {
                (kind, a) = (Kind::SuspendedSecond, a.without(A::SUSPEND_SECOND));
            }
            Kind::Major if a.contains(A::SUSPEND_FOURTH) => {
                (kind, a) = (Kind::SuspendedFourth, a.without(A::SUSPEND_FOURTH));
            }
            Kind::Major if a.contains(A::SUSPEND_SECOND) => {
                (kind, a) = (Kind::SuspendedSecond, a.without(A::SUSPEND_SECOND));
            }
            Kind::SuspendedFourth if a.contains(A::SUSPEND_SECOND) => {
                (kind, a) = (Kind::SuspendedSecond, a.without(A::SUSPEND_SECOND).union(A::SUSPEND_FOURTH));
            }
            Kind::SuspendedFourth => a = a.without(A::SUSPEND_FOURTH),
            Kind::SuspendedSecond => a = a.without(A::SUSPEND_SECOND),
            _ => {}
        }

        // Fifths first as flags: the stacks of thirds have no kinds for them.
        match kind {
            Kind::HalfDiminished => (kind, a) = (Kind::MinorSeventh, a.union(A::FLAT_FIFTH)),
            Kind::AugmentedSeventh => (kind, a) = (Kind::Dominant, a.union(A::SHARP_FIFTH)),
            _ => {}
        }
        (kind, a) = restacked(kind, a);
        let lowered = a.contains(A::FLAT_FIFTH);
        let raised = a.contains(A::SHARP_FIFTH);
        match kind {
            Kind::Minor if lowered => kind = Kind::Diminished,
            Kind::MinorSeventh if lowered => kind = Kind::HalfDiminished,
            Kind::Major if raised => kind = Kind::Augmented,
            Kind::Dominant if raised => kind = Kind::AugmentedSeventh,
            _ => {}
        }
        match kind {
            Kind::Diminished | Kind::DiminishedSeventh | Kind::HalfDiminished => a = a.without(A::FLAT_FIFTH),
            Kind::Augmented | Kind::AugmentedSeventh => a = a.without(A::SHARP_FIFTH),
            _ => {}
        }
        Self { kind, alterations: a, ..self }
    }

    /// The chord's classes without a foreign bass.
    pub const fn tones(self) -> PitchClassSet {
        self.intervals().transpose(self.root.number() as i32)
    }

    /// Every class that may sound: the tones and the bass.
    pub const fn classes(self) -> PitchClassSet {
        self.tones().with(self.bass)
    }

    /// What `class` is in this chord; `None` for a class outside it.
    pub const fn degree(self, class: PitchClass) -> Option<Degree> {
        let set = self.intervals();
        let interval = class.above(self.root);
        if set.bits() >> interval & 1 == 0 {
            return if class.number() == self.bass.number() { Some(Degree::ForeignBass) } else { None };
        }
        let a = self.alterations;
        let sus2 = matches!(self.kind, Kind::SuspendedSecond) || a.contains(Alterations::SUSPEND_SECOND);
        let sus4 = matches!(self.kind, Kind::SuspendedFourth) || a.contains(Alterations::SUSPEND_FOURTH);
        let has_perfect_fifth = set.bits() >> 7 & 1 == 1;
        let has_seventh = set.bits() >> 10 & 0b11 != 0;
        let has_major_third = set.bits() >> 4 & 1 == 1;
        Some(match interval {
            0 => Degree::Root,
            1 => Degree::Ninth,
            2 if sus2 => Degree::Second,
            2 => Degree::Ninth,
            3 if has_major_third || a.contains(Alterations::SHARP_NINTH) => Degree::Ninth,
            3 | 4 => Degree::Third,
            5 if sus4 => Degree::Fourth,
            5 => Degree::Eleventh,
            6 if has_perfect_fifth || a.contains(Alterations::SHARP_ELEVENTH) => Degree::Eleventh,
            6 | 7 => Degree::Fifth,
            8 if has_perfect_fifth || a.contains(Alterations::FLAT_THIRTEENTH) => Degree::Thirteenth,
            8 => Degree::Fifth,
            9 if matches!(self.kind, Kind::DiminishedSeventh) => Degree::Seventh,
            9 if has_seventh => Degree::Thirteenth,
            9 => Degree::Sixth,
            _ => Degree::Seventh,
        })
    }

    /// Third (or what stands in its place) and seventh or sixth: the tones that tell the chord's colour.
    pub fn guide_tones(self) -> PitchClassSet {
        self.tones()
            .iter()
            .filter(|class| {
                matches!(
                    self.degree(*class),
                    Some(Degree::Second | Degree::Third | Degree::Fourth | Degree::Sixth | Degree::Seventh)
                )
            })
            .collect()
    }

    /// Whether the chord works as a dominant: a major third and a minor seventh above the root.
    pub const fn is_dominant(self) -> bool {
        let bits = self.intervals().bits();
        bits >> 4 & 1 == 1 && bits >> 10 & 1 == 1
    }
}

/// The highest kind in a seventh's stack of thirds whose ninth, eleventh and thirteenth are all there, each
/// but the top one perhaps altered; what the kind says needs no flag, what it doesn't is added.
const fn restacked(kind: Kind, flags: Alterations) -> (Kind, Alterations) {
    type A = Alterations;
    let Some(seventh) = kind.seventh() else {
        return (kind, flags);
    };
    const DEGREES: [(u8, Alterations, Alterations); 3] = [
        (9, A::ADD_NINTH, A::FLAT_NINTH.union(A::SHARP_NINTH)),
        (11, A::ADD_ELEVENTH, A::SHARP_ELEVENTH),
        (13, A::ADD_THIRTEENTH, A::FLAT_THIRTEENTH),
    ];
    // The best kind so far and the degrees that it says by itself.
    let (mut best, mut best_says) = (seventh, A::NONE);
    let (mut candidate, mut says) = (seventh, A::NONE);
    let mut natural = A::NONE;
    let mut unbroken = true;
    let mut i = 0;
    while i < 3 {
        let (number, added, altered) = DEGREES[i];
        let replaced = flags.intersects(altered);
        if flags.contains(added) || kind.reaches(number) && !replaced {
            natural = natural.union(added);
        }
        if let Some(higher) = candidate.stacked() {
            candidate = higher;
        }
        if !replaced {
            says = says.union(added);
        }
        unbroken = unbroken && (replaced || natural.contains(added));
        if unbroken && !replaced {
            (best, best_says) = (candidate, says);
        }
        i += 1;
    }
    let every = A::ADD_NINTH.union(A::ADD_ELEVENTH).union(A::ADD_THIRTEENTH);
    (best, flags.without(every).union(natural.without(best_says)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn degrees(chord: Chord) -> [Option<Degree>; 12] {
        core::array::from_fn(|i| chord.degree(PitchClass::new(i as i32)))
    }

    #[test]
    fn tones_are_told_apart_by_kind() {
        let ninth = degrees(Chord::new(PitchClass::C, Kind::Dominant).altered(Alterations::SHARP_NINTH));
        assert_eq!(ninth[3], Some(Degree::Ninth));
        assert_eq!(ninth[4], Some(Degree::Third));
        let half = degrees(Chord::new(PitchClass::C, Kind::HalfDiminished));
        assert_eq!(half[3], Some(Degree::Third));
        assert_eq!(half[6], Some(Degree::Fifth));
        let lydian =
            degrees(Chord::new(PitchClass::C, Kind::MajorSeventh).altered(Alterations::SHARP_ELEVENTH));
        assert_eq!(lydian[6], Some(Degree::Eleventh));
        assert_eq!(degrees(Chord::new(PitchClass::C, Kind::DiminishedSeventh))[9], Some(Degree::Seventh));
        assert_eq!(degrees(Chord::new(PitchClass::C, Kind::MajorSixth))[9], Some(Degree::Sixth));
        assert_eq!(degrees(Chord::new(PitchClass::C, Kind::DominantThirteenth))[9], Some(Degree::Thirteenth));
    }

    /// Every kind with every set of flags keeps its notes under its plainest name, which is settled.
    #[test]
    fn the_plainest_name_sounds_the_same() {
        for kind in Kind::ALL {
            for bits in 0..1 << 13 {
                let chord = Chord::new(PitchClass::C, kind).altered(Alterations::from_bits(bits));
                let plain = chord.plainest();
                assert_eq!(plain.intervals(), chord.intervals(), "{chord:?}");
                assert_eq!(plain.plainest(), plain, "{chord:?}");
            }
        }
        let half = Chord::new(PitchClass::C, Kind::MinorSeventh).altered(Alterations::FLAT_FIFTH);
        assert_eq!(half.plainest(), Chord::new(PitchClass::C, Kind::HalfDiminished));
        let added =
            Alterations::ADD_NINTH.union(Alterations::SHARP_ELEVENTH).union(Alterations::ADD_THIRTEENTH);
        assert_eq!(
            Chord::new(PitchClass::C, Kind::Dominant).altered(added).plainest(),
            Chord::new(PitchClass::C, Kind::DominantThirteenth).altered(Alterations::SHARP_ELEVENTH),
        );
    }

    #[test]
    fn added_degrees_stand_beside_altered_ones() {
        let bits =
            |kind, flags: Alterations| Chord::new(PitchClass::C, kind).altered(flags).intervals().bits();
        let both = Alterations::FLAT_NINTH.union(Alterations::ADD_NINTH);
        assert_eq!(bits(Kind::Dominant, both), 0b100_1001_0111);
        assert_eq!(bits(Kind::DominantThirteenth, Alterations::SHARP_ELEVENTH), 0b110_1101_0101);
        assert_eq!(bits(Kind::DiminishedSeventh, Alterations::FLAT_THIRTEENTH), 0b11_0100_1001);
        assert_eq!(bits(Kind::HalfDiminished, Alterations::OMIT_FIFTH), 0b100_0000_1001);
    }

    #[test]
    fn a_foreign_bass_is_named_so() {
        let slash = Chord::new(PitchClass::new(5), Kind::Major).over(PitchClass::new(7));
        assert_eq!(slash.degree(PitchClass::new(7)), Some(Degree::ForeignBass));
        assert!(!slash.tones().contains(PitchClass::new(7)));
        assert!(slash.classes().contains(PitchClass::new(7)));
    }
}
