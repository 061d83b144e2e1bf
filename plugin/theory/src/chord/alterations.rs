//! What is changed in a chord kind.

/// Degrees altered, added, replaced or left out, as a set of flags on top of a [`Kind`](super::Kind).
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

    /// Both suspensions.
    pub(super) const SUSPENDED: Self = Self::SUSPEND_SECOND.union(Self::SUSPEND_FOURTH);

    /// From flag bits, bit 0 for [`Self::FLAT_FIFTH`] to bit 12 for [`Self::OMIT_FIFTH`]; others are dropped.
    pub const fn from_bits(bits: u16) -> Self {
        Self(bits & 0x1fff)
    }

    /// The flags as bits 0 to 12.
    pub const fn bits(self) -> u16 {
        self.0
    }

    /// Whether any flag of `other` is set.
    pub const fn intersects(self, other: Self) -> bool {
        self.0 & other.0 != 0
    }

    /// The flags without those of `other`.
    #[must_use]
    pub const fn without(self, other: Self) -> Self {
        Self(self.0 & !other.0)
    }

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
