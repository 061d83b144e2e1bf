//! `degree`: notes added to a chord kind, altered in it or taken out of it.
//!
//! As MusicXML 4.0 has it: an added degree counts from the dominant chord's own (major and perfect intervals,
//! the seventh minor), an altered or subtracted one from the kind's. An altered degree that the kind does not
//! have is added. Where the flags of [`Alterations`] cannot say what comes out, a kind that has just those
//! notes is looked for.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use figwort_theory::{Alterations, Chord, Kind, PitchClass};

use super::element::Element;

type A = Alterations;

/// Most degrees of one chord that count.
const MAX_DEGREES: usize = 12;

/// The kind and alterations that the degrees make of a kind.
pub(super) fn apply(kind: Kind, degrees: &[&Element], doubt: &mut Option<String>) -> (Kind, Alterations) {
    if degrees.is_empty() {
        return (kind, A::NONE);
    }
    let mut flags = A::NONE;
    let mut wanted = kind.intervals().bits();
    for degree in degrees.iter().take(MAX_DEGREES) {
        let value = degree.number::<u8>("degree-value").filter(|value| (1..=13).contains(value));
        let alter = degree.number::<f64>("degree-alter").unwrap_or(0.0) as i8;
        let (Some(value), true) = (value, (-2..=2).contains(&alter)) else {
            *doubt = Some("a degree of a chord symbol is not understood; it is left out".to_owned());
            continue;
        };
        let own = own(wanted, value);
        match degree.text("degree-type").unwrap_or("add") {
            "subtract" => {
                wanted &= !own.map_or(0, |own| 1 << own);
                flags = flags.union(omitted(value));
            }
            "alter" if own.is_some() => {
                let from = own.unwrap_or(0);
                wanted = wanted & !(1 << from) | 1 << raised(from, alter);
                flags = flags.union(flag(value, alter, true));
            }
            _ => {
                wanted |= 1 << raised(dominant(value), alter);
                flags = flags.union(flag(value, alter, false));
            }
        }
    }
    flags = suspended(flags, degrees);
    if intervals(kind, flags) == wanted {
        return (kind, flags);
    }
    if let Some(found) = search(kind, wanted) {
        return found;
    }
    *doubt =
        Some("the degrees of a chord symbol are more than can be said of it; some are left out".to_owned());
    (if kind == Kind::Other { Kind::Major } else { kind }, flags)
}

/// A fourth or second added where the third is taken out is a suspension.
fn suspended(flags: Alterations, degrees: &[&Element]) -> Alterations {
    let adds = |value: u8| degrees.iter().any(|degree| degree.number("degree-value") == Some(value));
    match flags {
        _ if !flags.contains(A::OMIT_THIRD) => flags,
        _ if flags.contains(A::ADD_ELEVENTH) && adds(4) => {
            flags.without(A::OMIT_THIRD.union(A::ADD_ELEVENTH)).union(A::SUSPEND_FOURTH)
        }
        _ if flags.contains(A::ADD_NINTH) && adds(2) => {
            flags.without(A::OMIT_THIRD.union(A::ADD_NINTH)).union(A::SUSPEND_SECOND)
        }
        _ => flags,
    }
}

fn intervals(kind: Kind, flags: Alterations) -> u16 {
    Chord::new(PitchClass::C, kind).altered(flags).intervals().bits()
}

fn raised(interval: u8, alter: i8) -> u8 {
    (i16::from(interval) + i16::from(alter)).rem_euclid(12) as u8
}

/// A degree's interval over a dominant's root, folded into the octave.
fn dominant(value: u8) -> u8 {
    [0, 2, 4, 5, 7, 9, 10].get(usize::from((value + 6) % 7)).copied().unwrap_or(0)
}

/// The interval that a degree has in a chord of these intervals, if it has one.
fn own(intervals: u16, value: u8) -> Option<u8> {
    let candidates: &[u8] = match value {
        1 | 8 => &[0],
        3 | 10 => &[4, 3, 5, 2],
        5 | 12 => &[7, 6, 8],
        7 => &[10, 11, 9],
        2 | 9 => &[2, 1],
        4 | 11 => &[5, 6],
        _ => &[9, 8],
    };
    // What may be another degree only counts where that is there besides.
    let has = |interval: u8| intervals >> interval & 1 == 1;
    candidates.iter().copied().find(|interval| has(*interval)).filter(|interval| match (value, interval) {
        (4 | 11, 6) | (6 | 13, 8) => has(7),
        _ => true,
    })
}

/// The flag that says a degree, in place of the kind's own or beside it.
fn flag(value: u8, alter: i8, replaces: bool) -> Alterations {
    match (value, alter) {
        (5, -1) if replaces => A::FLAT_FIFTH,
        (5, 1) if replaces => A::SHARP_FIFTH,
        (2 | 9, -1) => A::FLAT_NINTH,
        (2 | 9, 0) => A::ADD_NINTH,
        (2 | 9, 1) => A::SHARP_NINTH,
        (4 | 11, 0) => A::ADD_ELEVENTH,
        (4 | 11, 1) | (5, -1) => A::SHARP_ELEVENTH,
        (6 | 13, -1) | (5, 1) => A::FLAT_THIRTEENTH,
        (6 | 13, 0) => A::ADD_THIRTEENTH,
        _ => A::NONE,
    }
}

fn omitted(value: u8) -> Alterations {
    match value {
        3 => A::OMIT_THIRD,
        5 => A::OMIT_FIFTH,
        _ => A::NONE,
    }
}

/// A kind that has just these intervals: one without flags, else the kind itself with at most two flags, else
/// another with flags.
fn search(kind: Kind, wanted: u16) -> Option<(Kind, Alterations)> {
    /// By intervals, what is plainest: without flags before one before two.
    static ALL: LazyLock<BTreeMap<u16, (Kind, Alterations)>> = LazyLock::new(|| {
        let mut all = BTreeMap::new();
        for flags in flags() {
            for kind in Kind::ALL.into_iter().filter(|kind| *kind != Kind::Other) {
                all.entry(intervals(kind, flags)).or_insert((kind, flags));
            }
        }
        all
    });
    let plainest = ALL.get(&wanted).copied();
    match plainest {
        Some((_, flags)) if flags.is_empty() => plainest,
        _ => {
            let own = flags().find(|flags| intervals(kind, *flags) == wanted);
            own.map(|flags| (kind, flags)).or(plainest)
        }
    }
}

/// No flag, each flag, each two flags.
fn flags() -> impl Iterator<Item = Alterations> {
    let flag = |place: u32| A::from_bits(1 << place);
    let pairs = (0..13).flat_map(move |first| (0..first).map(move |second| flag(first).union(flag(second))));
    core::iter::once(A::NONE).chain((0..13).map(flag)).chain(pairs)
}
