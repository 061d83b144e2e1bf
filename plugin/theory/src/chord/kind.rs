//! The chord kinds of MusicXML 4.0 and their intervals.

use crate::pitch::PitchClassSet;

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

    /// The kind that MusicXML calls by this name; `None` for "none" and for names it doesn't have, save
    /// "minor-major", which some programs write for "major-minor".
    pub fn from_musicxml(name: &str) -> Option<Self> {
        if name == "minor-major" {
            return Some(Self::MajorMinor);
        }
        Self::ALL.into_iter().find(|kind| kind.musicxml() == name)
    }

    /// Whether the kind's own notes include a natural ninth, eleventh or thirteenth, as `number` says.
    pub(super) const fn reaches(self, number: u8) -> bool {
        let top = match self {
            Self::DominantNinth | Self::MajorNinth | Self::MinorNinth => 9,
            Self::DominantEleventh | Self::MajorEleventh | Self::MinorEleventh => 11,
            Self::DominantThirteenth | Self::MajorThirteenth | Self::MinorThirteenth => 13,
            _ => 0,
        };
        number <= top
    }

    /// The seventh chord at the bottom of the kind's stack of thirds: itself for the three sevenths that have
    /// one, `None` for kinds outside these stacks.
    pub(super) const fn seventh(self) -> Option<Self> {
        Some(match self {
            Self::Dominant | Self::DominantNinth | Self::DominantEleventh | Self::DominantThirteenth => {
                Self::Dominant
            }
            Self::MajorSeventh | Self::MajorNinth | Self::MajorEleventh | Self::MajorThirteenth => {
                Self::MajorSeventh
            }
            Self::MinorSeventh | Self::MinorNinth | Self::MinorEleventh | Self::MinorThirteenth => {
                Self::MinorSeventh
            }
            _ => return None,
        })
    }

    /// The kind one third higher in its stack of thirds (seventh to ninth to eleventh to thirteenth).
    pub(super) const fn stacked(self) -> Option<Self> {
        Some(match self {
            Self::Dominant => Self::DominantNinth,
            Self::MajorSeventh => Self::MajorNinth,
            Self::MinorSeventh => Self::MinorNinth,
            Self::DominantNinth => Self::DominantEleventh,
            Self::MajorNinth => Self::MajorEleventh,
            Self::MinorNinth => Self::MinorEleventh,
            Self::DominantEleventh => Self::DominantThirteenth,
            Self::MajorEleventh => Self::MajorThirteenth,
            Self::MinorEleventh => Self::MinorThirteenth,
            _ => return None,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn musicxml_names_lead_back() {
        for kind in Kind::ALL {
            assert_eq!(Kind::from_musicxml(kind.musicxml()), Some(kind));
        }
        assert_eq!(Kind::from_musicxml("none"), None);
    }
}
