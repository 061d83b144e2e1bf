//! Naming a held chord: from sounding pitches to a [`Chord`].
//!
//! # The rules
//! Each of the twelve classes is tried as root, and each chord without its bass note as a slash chord over
//! it. Every reading has a price in points; the cheapest wins.
//!
//! 1. **Plainness.** A set that is exactly one of the listed chords (triads, suspensions, sixths, sevenths,
//!    ninths, elevenths, thirteenths, their diminished, half-diminished and augmented forms, and the commoner
//!    altered dominants) is that chord, in any inversion, before anything that needs additions, other
//!    alterations, or a missing fifth or third. A chord whose root isn't held, or whose bass is foreign to
//!    it, costs more still. Where two listed chords have the same notes and neither root is the bass, MusicXML's
//!    kinds go before the dominant with a flat ninth, that before rarer kinds, these before other altered
//!    dominants.
//! 2. **Bass.** Of readings equally plain the one whose root is the bass wins: Am7 over A, C6 over C; Csus2
//!    over C, Gsus4 over G; a diminished seventh or augmented triad is named after its bass. Inversion costs
//!    more than any key can give, less than any alteration.
//! 3. **Key**, when known. Where the bass decides nothing (C6 or Am7 over E), the root with the better seat in
//!    the key wins: tonic and dominant, then subdominant, second and sixth, then third and seventh, then
//!    roots outside. This may also overrule rule 1 where it was close: C D E G A B over C is Am11/C in no key,
//!    Cmaj9(add13) in C major. It chooses the third of a root and seventh alone.
//! 4. **Continuity.** Then the previous chord's root wins; and a set that doesn't make a chord by itself
//!    (two notes, a chord without its root) is the previous chord when it was part of it.
//! 5. What is still equal goes to the root that lies nearest above the bass.
//!
//! Two notes: fifth and fourth are bare fifths, thirds and sixths are triads without their fifth, seconds,
//! sevenths and the tritone are what the key or the previous chord makes of them. One note is a pedal, or the
//! previous chord over that note if it was part of it.
//!
//! Names that only context gives (Neapolitan, Italian, French, German, Tristan) are never answered: their
//! notes have ordinary names, a German sixth is a dominant seventh.
//!
//! The answer's notes include every held class. The only exceptions are sets that hold both sevenths above
//! every root they could have, and are not a seventh chord over a foreign bass: clusters.
//!
//! # Speed
//! No allocation and no loop longer than 25 table look-ups; the table (4 KiB) is made at compile time.

mod shape;

use crate::chord::{Alterations, Chord, Kind};
use crate::pitch::{Pitch, PitchClass, PitchClassSet};
use crate::scale::{Key, Mode};
use shape::{COSTS, LISTED, TRIVIAL};

/// What is known besides the held notes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub struct Context {
    /// The key heard so far.
    pub key: Option<Key>,
    /// The chord before.
    pub previous: Option<Chord>,
}

/// Points for a root that isn't the bass.
const INVERSION: i32 = 16;
/// Points for a bass that isn't in the chord above it, which must be a listed one no dearer than [`UPPER`].
const FOREIGN_BASS: i32 = 40;
/// The dearest chord that may stand over a foreign bass: triads, sevenths, ninths.
const UPPER: u8 = 5;
/// Points off for going on with the previous chord where the notes alone don't make one.
const PART_OF_PREVIOUS: i32 = 14;

/// Names a set of classes over its lowest note (counted in, should it be missing from the set); `None` for
/// no notes at all. For the audio thread: bounded, no allocation.
///
/// # Examples
/// ```
/// use figwort_theory::identify::{Context, identify};
/// use figwort_theory::{Chord, Kind, PitchClass, PitchClassSet};
/// let held: PitchClassSet = [9, 0, 4, 7].into_iter().map(PitchClass::new).collect();
/// let a = PitchClass::new(9);
/// let am7 = identify(held, a, &Context::default());
/// assert_eq!(am7, Some(Chord::new(a, Kind::MinorSeventh)));
/// let c6 = identify(held, PitchClass::C, &Context::default());
/// assert_eq!(c6, Some(Chord::new(PitchClass::C, Kind::MajorSixth)));
/// ```
pub fn identify(classes: PitchClassSet, bass: PitchClass, context: &Context) -> Option<Chord> {
    if classes.is_empty() {
        return None;
    }
    let held = classes.with(bass);
    if held.len() == 1 {
        return Some(one_note(bass, context));
    }
    let upper = held.without(bass);
    let mut best = (i32::MAX, bass, false);
    // From the bass upwards, so that a root nearer above it wins a tie.
    for step in 0..12 {
        let root = bass.transpose(step);
        let cost = COSTS[above(held, root)];
        let context_cost = in_context(root, held, cost, context);
        let inverted = step != 0 && held.contains(root);
        let price = 4 * (i32::from(cost) + if inverted { INVERSION } else { 0 }) + context_cost;
        if price < best.0 {
            best = (price, root, false);
        }
        let cost = COSTS[above(upper, root)];
        if cost <= UPPER && upper.len() >= 3 && upper.contains(root) {
            let price = 4 * (i32::from(cost) + FOREIGN_BASS) + context_cost;
            if price < best.0 {
                best = (price, root, true);
            }
        }
    }
    let (_, root, slash) = best;
    if let Some(previous) = context.previous
        && previous.root == root
        && is_part(held, COSTS[above(held, root)], previous)
    {
        return Some(previous.over(bass));
    }
    let reading = shape::read(above(if slash { upper } else { held }, root) as u16);
    let chord = Chord { root, kind: reading.kind, alterations: reading.alterations, bass };
    Some(with_third(chord, context))
}

/// Names the keys that are down, in any order; `None` for none. The lowest is the bass.
pub fn identify_keys(keys: impl Iterator<Item = Pitch>, context: &Context) -> Option<Chord> {
    let (classes, lowest) = keys.fold((PitchClassSet::EMPTY, None), |(classes, lowest), key| {
        (classes.with(key.class()), Some(lowest.map_or(key, |low: Pitch| low.min(key))))
    });
    identify(classes, lowest?.class(), context)
}

/// The set as a table index: bits above `root`.
const fn above(set: PitchClassSet, root: PitchClass) -> usize {
    set.transpose(-(root.number() as i32)).bits() as usize
}

fn one_note(bass: PitchClass, context: &Context) -> Chord {
    match context.previous {
        Some(previous) if previous.tones().contains(bass) => previous.over(bass),
        _ => Chord::new(bass, Kind::Pedal),
    }
}

/// Quarter points for a root by its seat in the key, less what continuity gives.
fn in_context(root: PitchClass, held: PitchClassSet, cost: u8, context: &Context) -> i32 {
    let key = context.key.map_or(0, |key| 4 * seat(root, key));
    let previous = match context.previous {
        Some(previous) if previous.root != root => 0,
        Some(previous) if is_part(held, cost, previous) => 4 * PART_OF_PREVIOUS,
        Some(_) => 3,
        None => 0,
    };
    key - previous
}

/// Whether a set that isn't a chord by itself is part of the previous one.
const fn is_part(held: PitchClassSet, cost: u8, previous: Chord) -> bool {
    (cost > LISTED || held.len() <= 2) && held.is_subset_of(previous.tones())
}

/// Points for the root's place in the key: 0 on its best seats, 10 far outside. At most 10, so that it stays
/// below [`INVERSION`]. Common practice, no source.
const fn seat(root: PitchClass, key: Key) -> i32 {
    const MAJOR: [u8; 12] = [0, 9, 3, 8, 5, 2, 9, 0, 8, 3, 7, 6];
    const MINOR: [u8; 12] = [0, 8, 2, 3, 10, 3, 9, 0, 3, 9, 4, 5];
    let table = match key.mode {
        Mode::Major => MAJOR,
        Mode::Minor => MINOR,
    };
    table[root.above(key.tonic) as usize] as i32
}

/// A seventh without third takes the third that the key has above its root, the major one on the dominant.
fn with_third(chord: Chord, context: &Context) -> Chord {
    let (Some(key), TRIVIAL) = (context.key, chord.alterations) else {
        return chord;
    };
    let scale = key.scale();
    let has = |interval| scale.contains(chord.root.transpose(interval));
    let dominant = chord.root.above(key.tonic) == 7;
    let minor = has(3) && !has(4) && !dominant;
    let kind = match chord.kind {
        _ if !minor && !has(4) && !dominant => return chord,
        Kind::Dominant if minor => Kind::MinorSeventh,
        Kind::MajorSeventh if minor => Kind::MajorMinor,
        Kind::Dominant | Kind::MajorSeventh => chord.kind,
        _ => return chord,
    };
    Chord { kind, alterations: Alterations::NONE, ..chord }
}
