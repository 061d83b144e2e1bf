//! What a set of intervals is above a given root, and how plain a chord that makes.
//!
//! A shape is twelve bits, bit 0 the root, bit *n* the interval of *n* semitones. Prices are points, 0 for
//! the plainest; they order readings and mean nothing by themselves (from trial; no source).

use crate::chord::{Alterations, Chord, Kind};
use crate::pitch::PitchClass;

type A = Alterations;

/// A shape read as a chord.
#[derive(Clone, Copy)]
pub(super) struct Reading {
    pub(super) kind: Kind,
    pub(super) alterations: Alterations,
    /// Points.
    cost: u8,
}

/// No listed chord costs more than this, and no other less; see [`LIST`].
pub(super) const LISTED: u8 = 19;
/// What any reading costs that is not on the list: more than an inversion of anything listed.
const UNLISTED: u8 = 30;
/// What is left of a seventh chord of which only root and seventh, or those and the fifth, are held.
pub(super) const TRIVIAL: Alterations = A::OMIT_THIRD;

/// The chords that are read before all others: each kind with its alterations and its points.
const LIST: [(Kind, Alterations, u8); 52] = [
    (Kind::Major, A::NONE, 0),
    (Kind::Minor, A::NONE, 0),
    (Kind::Power, A::NONE, 0),
    (Kind::Dominant, A::NONE, 1),
    (Kind::MajorSeventh, A::NONE, 1),
    (Kind::MinorSeventh, A::NONE, 1),
    (Kind::Diminished, A::NONE, 2),
    (Kind::HalfDiminished, A::NONE, 2),
    (Kind::DiminishedSeventh, A::NONE, 2),
    (Kind::Augmented, A::NONE, 3),
    (Kind::MajorSixth, A::NONE, 1),
    (Kind::MinorSixth, A::NONE, 2),
    (Kind::DominantNinth, A::NONE, 3),
    (Kind::MajorNinth, A::NONE, 3),
    (Kind::MinorNinth, A::NONE, 3),
    (Kind::MajorMinor, A::NONE, 4),
    (Kind::AugmentedSeventh, A::NONE, 5),
    (Kind::MajorSeventh, A::SHARP_FIFTH, 6),
    (Kind::Dominant, A::FLAT_FIFTH, 6),
    (Kind::Dominant, A::SUSPEND_FOURTH, 6),
    (Kind::SuspendedFourth, A::NONE, 7),
    (Kind::SuspendedSecond, A::NONE, 8),
    (Kind::MajorMinor, A::ADD_NINTH, 8),
    (Kind::MinorNinth, A::FLAT_FIFTH, 8),
    (Kind::DominantNinth, A::SHARP_FIFTH, 8),
    (Kind::MajorNinth, A::SHARP_FIFTH, 9),
    (Kind::DominantThirteenth, A::NONE, 10),
    (Kind::MajorThirteenth, A::NONE, 10),
    (Kind::MinorThirteenth, A::NONE, 10),
    (Kind::HalfDiminished, A::FLAT_NINTH, 10),
    (Kind::DiminishedSeventh, A::FLAT_NINTH, 10),
    (Kind::DominantEleventh, A::NONE, 11),
    (Kind::MajorEleventh, A::NONE, 11),
    (Kind::MinorEleventh, A::NONE, 12),
    (Kind::MajorMinor, A::ADD_NINTH.union(A::ADD_ELEVENTH), 11),
    (Kind::MajorMinor, A::ADD_NINTH.union(A::ADD_ELEVENTH).union(A::ADD_THIRTEENTH), 11),
    (Kind::MinorEleventh, A::FLAT_FIFTH, 11),
    (Kind::MinorThirteenth, A::FLAT_FIFTH, 11),
    (Kind::DiminishedSeventh, A::ADD_NINTH.union(A::ADD_ELEVENTH), 11),
    (Kind::DominantEleventh, A::SHARP_FIFTH, 11),
    (Kind::DominantThirteenth, A::SHARP_FIFTH, 11),
    (Kind::MajorEleventh, A::SHARP_FIFTH, 11),
    (Kind::MajorThirteenth, A::SHARP_FIFTH, 11),
    // Altered dominants that share their notes with rarer chords above, and are meant when the bass is theirs;
    // the flat ninth, the commonest, wherever it isn't the rarer chord's.
    (Kind::Dominant, A::FLAT_NINTH, 4),
    (Kind::DiminishedSeventh, A::ADD_NINTH, 19),
    (Kind::Dominant, A::FLAT_THIRTEENTH, 12),
    (Kind::Dominant, A::FLAT_NINTH.union(A::FLAT_THIRTEENTH), 12),
    (Kind::Dominant, A::FLAT_NINTH.union(A::ADD_THIRTEENTH), 12),
    (Kind::AugmentedSeventh, A::FLAT_NINTH, 12),
    (Kind::AugmentedSeventh, A::FLAT_NINTH.union(A::SHARP_NINTH), 12),
    (Kind::DominantNinth, A::SHARP_ELEVENTH, 12),
    (Kind::DominantThirteenth, A::SHARP_ELEVENTH, 12),
];

/// Points of every shape.
pub(super) static COSTS: [u8; 4096] = costs();

const fn costs() -> [u8; 4096] {
    let mut table = [u8::MAX; 4096];
    let mut shape = 0;
    while shape < 4096 {
        table[shape] = read(shape as u16).cost;
        shape += 1;
    }
    let mut i = 0;
    while i < LIST.len() {
        let (kind, alterations, cost) = LIST[i];
        table[Chord::new(PitchClass::C, kind).altered(alterations).intervals().bits() as usize] = cost;
        i += 1;
    }
    table
}

/// Reads a shape. The chord found has every interval of the shape, except that of two sevenths it keeps the
/// minor one; besides it may have a root and a fifth that the shape lacks.
///
/// The cost is that of an unlisted chord: [`COSTS`] knows better about the listed ones.
pub(super) const fn read(shape: u16) -> Reading {
    let mut left = Left(shape);
    let mut cost = UNLISTED as u16;
    let mut flags = A::NONE;

    let rootless = !left.take(0);
    let major = left.take(4);
    let minor = !major && left.take(3);
    let third = major || minor;
    let flat_seven = left.take(10);
    let major_seven = !flat_seven && left.take(11);
    let seventh = flat_seven || major_seven;
    let perfect = left.take(7);
    // Six semitones are the fifth in minor; over a dominant with ninth or thirteenth they are the eleventh.
    let fifth_fits = minor || flat_seven && !left.has(9) && !left.has(2) || !third && !major_seven;
    let flat_five = !perfect && fifth_fits && left.take(6);
    // The sixth of a sixth chord, or the seventh of a diminished one.
    let sixth = !seventh && (third || perfect || flat_five) && left.take(9);

    if !third && left.take(5) {
        flags = flags.union(A::SUSPEND_FOURTH);
        cost += match (flat_five, flat_seven, seventh || sixth) {
            (true, ..) => 16,
            (_, true, _) => 0,
            (_, _, true) => 12,
            _ => 6,
        };
    } else if !third && !flat_five && left.take(2) {
        flags = flags.union(A::SUSPEND_SECOND);
        cost += match (flat_seven || sixth, major_seven) {
            (true, _) => 12,
            (_, true) => 14,
            _ => 8,
        };
    } else if !third {
        flags = flags.union(A::OMIT_THIRD);
        cost += match (flat_five, seventh) {
            (true, _) => 16,
            (_, true) => 14,
            _ => 20,
        };
    }

    if flat_five {
        flags = flags.union(A::FLAT_FIFTH);
        cost += if major { 3 } else { 2 };
        if flat_seven && major && left.take(8) {
            flags = flags.union(A::SHARP_FIFTH);
        }
    } else if !perfect {
        let raised = !minor && left.take(8);
        let lowered = major && !seventh && left.take(6);
        if raised {
            flags = flags.union(A::SHARP_FIFTH);
            cost += if seventh { 3 } else { 6 };
        }
        if lowered {
            flags = flags.union(A::FLAT_FIFTH);
            cost += if raised { 12 } else { 6 };
        }
        if !raised && !lowered {
            // Not noted as left out: a fuller voicing may have the fifth.
            cost += if third && seventh { 2 } else { 4 };
        }
    }

    let dominant = flat_seven && major;
    let thirteenth = match (minor, seventh) {
        (true, _) => 3,
        (_, true) => 1,
        _ => 8,
    };
    let tensions: [(u32, Alterations, u16); 7] = [
        (2, A::ADD_NINTH, if seventh || sixth { 0 } else { 1 }),
        (1, A::FLAT_NINTH, if dominant { 1 } else { 12 }),
        (3, A::SHARP_NINTH, if dominant { 2 } else { 14 }),
        (5, A::ADD_ELEVENTH, if minor { 2 } else { 9 }),
        (6, A::SHARP_ELEVENTH, if dominant || major && major_seven { 1 } else { 9 }),
        (8, A::FLAT_THIRTEENTH, if dominant { 2 } else { 14 }),
        (9, A::ADD_THIRTEENTH, thirteenth),
    ];
    let mut i = 0;
    while i < tensions.len() {
        let (interval, flag, price) = tensions[i];
        if left.take(interval) {
            flags = flags.union(flag);
            // On a bare diminished fifth nothing is built.
            cost += if !third && flat_five { price + 8 } else { price };
        }
        i += 1;
    }

    if rootless {
        cost += match (third, seventh, perfect) {
            // No one takes the root out of a minor chord with a major seventh.
            (true, true, _) if minor && major_seven => 30,
            (true, true, _) => 17,
            (true, false, true) => 22,
            _ => 60,
        };
    }
    cost += 70 * left.0.count_ones() as u16;

    let bare = flags.contains(A::OMIT_THIRD);
    let kind = match (major, minor || bare && flat_five) {
        (_, true) if flat_seven => Kind::MinorSeventh,
        (_, true) if major_seven => Kind::MajorMinor,
        (_, true) if sixth && flat_five => Kind::DiminishedSeventh,
        (_, true) if sixth => Kind::MinorSixth,
        (_, true) => Kind::Minor,
        _ if flat_seven => Kind::Dominant,
        _ if major_seven => Kind::MajorSeventh,
        _ if sixth => Kind::MajorSixth,
        _ if bare && perfect => {
            flags = flags.without(A::OMIT_THIRD);
            Kind::Power
        }
        _ => Kind::Major,
    };
    let chord = Chord::new(PitchClass::C, kind).altered(flags).plainest();
    let cost = if cost > u8::MAX as u16 { u8::MAX } else { cost as u8 };
    Reading { kind: chord.kind, alterations: chord.alterations, cost }
}

/// Intervals that have no name yet.
struct Left(u16);

impl Left {
    const fn has(&self, interval: u32) -> bool {
        self.0 >> interval & 1 == 1
    }

    /// Whether the interval is there; it is named then.
    const fn take(&mut self, interval: u32) -> bool {
        let found = self.has(interval);
        self.0 &= !(1 << interval);
        found
    }
}
