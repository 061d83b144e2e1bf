//! Chords: a root, a kind, alterations, a bass.

use crate::pitch::{PitchClass, PitchClassSet};

/// The chord kinds of MusicXML 4.0 (`kind-value`). "None" is absent: no chord is `Option::None`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Kind {
    /// Major triad.
    #[default]
    Major,
    /// Minor triad.
    Minor,
    /// Augmented triad.
    Augmented,
    /// Diminished triad.
    Diminished,
    /// Dominant seventh.
    Dominant,
    /// Major seventh.
    MajorSeventh,
    /// Minor seventh.
    MinorSeventh,
    /// Diminished seventh.
    DiminishedSeventh,
    /// Augmented triad with minor seventh.
    AugmentedSeventh,
    /// Diminished triad with minor seventh.
    HalfDiminished,
    /// Minor triad with major seventh.
    MajorMinor,
    /// Major triad with sixth.
    MajorSixth,
    /// Minor triad with (major) sixth.
    MinorSixth,
    /// Dominant ninth.
    DominantNinth,
    /// Major ninth.
    MajorNinth,
    /// Minor ninth.
    MinorNinth,
    /// Dominant eleventh.
    DominantEleventh,
    /// Major eleventh.
    MajorEleventh,
    /// Minor eleventh.
    MinorEleventh,
    /// Dominant thirteenth.
    DominantThirteenth,
    /// Major thirteenth.
    MajorThirteenth,
    /// Minor thirteenth.
    MinorThirteenth,
    /// Suspended second.
    SuspendedSecond,
    /// Suspended fourth.
    SuspendedFourth,
    /// Neapolitan sixth, as music21 spells it.
    Neapolitan,
    /// Italian sixth.
    Italian,
    /// French sixth.
    French,
    /// German sixth.
    German,
    /// Pedal point: the root alone.
    Pedal,
    /// Root and fifth.
    Power,
    /// The Tristan chord.
    Tristan,
    /// A chord that no other kind names; only its root is known.
    Other,
}

impl Kind {
    /// Every kind, in MusicXML's order.
    pub const ALL: [Self; 32] = [
        Self::Major,
        Self::Minor,
        Self::Augmented,
        Self::Diminished,
        Self::Dominant,
        Self::MajorSeventh,
        Self::MinorSeventh,
        Self::DiminishedSeventh,
        Self::AugmentedSeventh,
        Self::HalfDiminished,
        Self::MajorMinor,
        Self::MajorSixth,
        Self::MinorSixth,
        Self::DominantNinth,
        Self::MajorNinth,
        Self::MinorNinth,
        Self::DominantEleventh,
        Self::MajorEleventh,
        Self::MinorEleventh,
        Self::DominantThirteenth,
        Self::MajorThirteenth,
        Self::MinorThirteenth,
        Self::SuspendedSecond,
        Self::SuspendedFourth,
        Self::Neapolitan,
        Self::Italian,
        Self::French,
        Self::German,
        Self::Pedal,
        Self::Power,
        Self::Tristan,
        Self::Other,
    ];

    /// Intervals above the root as twelve bits, extensions folded into the octave. The values are those of
    /// music21 10.5.1 (`harmony.CHORD_TYPES`), which agree with MusicXML's wording wherever that states them.
    pub const fn intervals(self) -> PitchClassSet {
        let list: &[u8] = match self {
            Self::Major => &[0, 4, 7],
            Self::Minor => &[0, 3, 7],
            Self::Augmented => &[0, 4, 8],
            Self::Diminished => &[0, 3, 6],
            Self::Dominant => &[0, 4, 7, 10],
            Self::MajorSeventh => &[0, 4, 7, 11],
            Self::MinorSeventh => &[0, 3, 7, 10],
            Self::DiminishedSeventh => &[0, 3, 6, 9],
            Self::AugmentedSeventh => &[0, 4, 8, 10],
            Self::HalfDiminished => &[0, 3, 6, 10],
            Self::MajorMinor => &[0, 3, 7, 11],
            Self::MajorSixth => &[0, 4, 7, 9],
            Self::MinorSixth => &[0, 3, 7, 9],
            Self::DominantNinth => &[0, 2, 4, 7, 10],
            Self::MajorNinth => &[0, 2, 4, 7, 11],
            Self::MinorNinth => &[0, 2, 3, 7, 10],
            Self::DominantEleventh => &[0, 2, 4, 5, 7, 10],
            Self::MajorEleventh => &[0, 2, 4, 5, 7, 11],
            Self::MinorEleventh => &[0, 2, 3, 5, 7, 10],
            Self::DominantThirteenth => &[0, 2, 4, 5, 7, 9, 10],
            Self::MajorThirteenth => &[0, 2, 4, 5, 7, 9, 11],
            Self::MinorThirteenth => &[0, 2, 3, 5, 7, 9, 10],
            Self::SuspendedSecond => &[0, 2, 7],
            Self::SuspendedFourth => &[0, 5, 7],
            Self::Neapolitan => &[0, 1, 4, 6],
            Self::Italian => &[0, 6, 8],
            Self::French => &[0, 2, 6, 8],
            Self::German => &[0, 3, 6, 8],
            Self::Pedal | Self::Other => &[0],
            Self::Power => &[0, 7],
            Self::Tristan => &[0, 3, 6, 10],
        };
        let mut bits = 0;
        let mut i = 0;
        while i < list.len() {
            bits |= 1 << list[i];
            i += 1;
        }
        PitchClassSet::from_bits(bits)
    }

    /// MusicXML's name for the kind.
    pub const fn musicxml(self) -> &'static str {
        match self {
            Self::Major => "major",
            Self::Minor => "minor",
            Self::Augmented => "augmented",
            Self::Diminished => "diminished",
            Self::Dominant => "dominant",
            Self::MajorSeventh => "major-seventh",
            Self::MinorSeventh => "minor-seventh",
            Self::DiminishedSeventh => "diminished-seventh",
            Self::AugmentedSeventh => "augmented-seventh",
            Self::HalfDiminished => "half-diminished",
            Self::MajorMinor => "major-minor",
            Self::MajorSixth => "major-sixth",
            Self::MinorSixth => "minor-sixth",
            Self::DominantNinth => "dominant-ninth",
            Self::MajorNinth => "major-ninth",
            Self::MinorNinth => "minor-ninth",
            Self::DominantEleventh => "dominant-11th",
            Self::MajorEleventh => "major-11th",
            Self::MinorEleventh => "minor-11th",
            Self::DominantThirteenth => "dominant-13th",
            Self::MajorThirteenth => "major-13th",
            Self::MinorThirteenth => "minor-13th",
            Self::SuspendedSecond => "suspended-second",
            Self::SuspendedFourth => "suspended-fourth",
            Self::Neapolitan => "Neapolitan",
            Self::Italian => "Italian",
            Self::French => "French",
            Self::German => "German",
            Self::Pedal => "pedal",
            Self::Power => "power",
            Self::Tristan => "Tristan",
            Self::Other => "other",
        }
    }
}

/// Degrees altered, added, replaced or left out, as a set of flags on top of a [`Kind`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Alterations(u16);

impl Alterations {
    /// The kind as it stands.
    pub const NONE: Self = Self(0);
    /// Fifth lowered.
    pub const FLAT_FIFTH: Self = Self(1);
    /// Fifth raised.
    pub const SHARP_FIFTH: Self = Self(1 << 1);
    /// Lowered ninth, in place of the natural one.
    pub const FLAT_NINTH: Self = Self(1 << 2);
    /// Raised ninth, in place of the natural one.
    pub const SHARP_NINTH: Self = Self(1 << 3);
    /// Raised eleventh, in place of the natural one.
    pub const SHARP_ELEVENTH: Self = Self(1 << 4);
    /// Lowered thirteenth, in place of the natural one.
    pub const FLAT_THIRTEENTH: Self = Self(1 << 5);
    /// Ninth added (also written as an added second).
    pub const ADD_NINTH: Self = Self(1 << 6);
    /// Eleventh added (also written as an added fourth).
    pub const ADD_ELEVENTH: Self = Self(1 << 7);
    /// Thirteenth added over a seventh, or sixth over a triad.
    pub const ADD_THIRTEENTH: Self = Self(1 << 8);
    /// Second in place of the third.
    pub const SUSPEND_SECOND: Self = Self(1 << 9);
    /// Fourth in place of the third.
    pub const SUSPEND_FOURTH: Self = Self(1 << 10);
    /// Third left out.
    pub const OMIT_THIRD: Self = Self(1 << 11);
    /// Fifth left out.
    pub const OMIT_FIFTH: Self = Self(1 << 12);

    /// Whether every flag of `other` is set.
    pub const fn contains(self, other: Self) -> bool {
        self.0 & other.0 == other.0
    }

    /// Whether nothing is altered.
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// The flags of both.
    #[must_use]
    pub const fn union(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }
}

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
    pub const fn intervals(self) -> PitchClassSet {
        let a = self.alterations;
        let mut bits = self.kind.intervals().bits();
        if a.contains(Alterations::SUSPEND_SECOND) {
            bits = bits & !0b1_1000 | 1 << 2;
        }
        if a.contains(Alterations::SUSPEND_FOURTH) {
            bits = bits & !0b1_1000 | 1 << 5;
        }
        if a.contains(Alterations::OMIT_THIRD) {
            bits &= !0b1_1000;
        }
        if a.contains(Alterations::ADD_NINTH) {
            bits |= 1 << 2;
        }
        if a.contains(Alterations::ADD_ELEVENTH) {
            bits |= 1 << 5;
        }
        if a.contains(Alterations::ADD_THIRTEENTH) {
            bits |= 1 << 9;
        }
        if a.contains(Alterations::FLAT_NINTH) || a.contains(Alterations::SHARP_NINTH) {
            bits &= !(1 << 2);
        }
        if a.contains(Alterations::SHARP_ELEVENTH) {
            bits = bits & !(1 << 5) | 1 << 6;
        }
        if a.contains(Alterations::FLAT_THIRTEENTH) {
            bits = bits & !(1 << 9) | 1 << 8;
        }
        if a.contains(Alterations::FLAT_FIFTH) || a.contains(Alterations::SHARP_FIFTH) {
            bits &= !(1 << 7);
        }
        if a.contains(Alterations::OMIT_FIFTH) {
            bits &= !(1 << 7);
        }
        if a.contains(Alterations::FLAT_FIFTH) {
            bits |= 1 << 6;
        }
        if a.contains(Alterations::SHARP_FIFTH) {
            bits |= 1 << 8;
        }
        if a.contains(Alterations::FLAT_NINTH) {
            bits |= 1 << 1;
        }
        if a.contains(Alterations::SHARP_NINTH) {
            bits |= 1 << 3;
        }
        PitchClassSet::from_bits(bits)
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

    #[test]
    fn a_foreign_bass_is_named_so() {
        let slash = Chord::new(PitchClass::new(5), Kind::Major).over(PitchClass::new(7));
        assert_eq!(slash.degree(PitchClass::new(7)), Some(Degree::ForeignBass));
        assert!(!slash.tones().contains(PitchClass::new(7)));
        assert!(slash.classes().contains(PitchClass::new(7)));
    }
}
