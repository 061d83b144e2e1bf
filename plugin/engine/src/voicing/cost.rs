//! The cost of a voicing: what is wished for, in numbers.
//!
//! cost = Σ weight × how far a wish is missed, in tenths of a step of a part. Rules that must hold are in
//! [`super::search`]; these are the wishes. All weights stand here.

use figwort_theory::{Degree, Pitch};

use super::spacing::murk_over_assumed_root;
use super::{Request, Voicing};
use crate::settings::Rung;

/// A part's way to the nearest note of the voicing before, per semitone (spacing_rules V1).
pub const MOTION: i32 = 6;
/// The bass's way, per semitone beyond a fifth: basses leap, but not for nothing. Common practice, no source.
pub const BASS_LEAP: i32 = 4;
/// A gap that is wider than the one below it, per semitone (spacing_rules S5a).
pub const UNEVEN: i32 = 4;
/// A gap over an octave between parts above the bass, per semitone (spacing_rules S1, S2).
pub const WIDE: i32 = 30;
/// The lowest gap over an octave, per semitone (spacing_rules S4; soft).
pub const WIDE_BASS: i32 = 4;
/// The top part further than a sixth below the melody, per semitone. Common practice, no source.
pub const FAR_FROM_MELODY: i32 = 5;
/// The bass's distance from the lower third of its range, per semitone. Common practice, no source.
pub const BASS_OFF_CENTRE: i32 = 2;
/// A bass too low over its assumed root, per semitone (spacing_rules L1).
pub const MURK: i32 = 3;
/// A gap narrower than its register wants ([`roomy`]), per semitone (spacing_rules S5a).
pub const NARROW: i32 = 7;
/// A whole tone between neighbours: a little roughness. Common practice, no source.
pub const SECOND: i32 = 18;
/// Every note of the left hand beyond two. Common practice, no source.
pub const LEFT_HAND_FULL: i32 = 10;
/// The span of the parts above the bass on the rung Spaced, per semitone. Common practice, no source.
pub const TOGETHER: i32 = 4;
/// A perfect fifth left out (spacing_rules O1: first to go).
pub const NO_FIFTH: i32 = 12;
/// A colour tone of the symbol left out. Common practice, no source.
pub const NO_COLOUR: i32 = 40;
/// The root doubled above the bass.
pub const DOUBLED_ROOT: i32 = 10;
/// The fifth doubled.
pub const DOUBLED_FIFTH: i32 = 14;
/// The third doubled, by another part or by the melody (spacing_rules D3, softened).
pub const DOUBLED_THIRD: i32 = 26;
/// Any tone that the melody has too: its place is better spent. Common practice, no source.
pub const DOUBLED_MELODY: i32 = 8;
/// A colour tone that the melody has too. Common practice, no source.
pub const DOUBLED_COLOUR: i32 = 40;
/// Parallel fifths or octaves between bass and top part (spacing_rules V2).
pub const PARALLEL: i32 = 90;

/// The cost of a whole voicing, `notes` rising from the bass, the first `left` of them in the left hand.
/// Lower is better. It is the sum of [`of_bass`], [`of_part`] for each further note and [`of_whole`], none of
/// which is negative: what has been added so far never exceeds the whole.
pub fn cost(request: &Request, notes: &[Pitch], left: usize, previous: Option<&Voicing>) -> i32 {
    let Some(bass) = notes.first() else { return i32::MAX };
    let parts: i32 = (1..notes.len())
        .filter_map(|n| Some(of_part(request, notes.get(..n)?, *notes.get(n)?, previous)))
        .sum();
    of_bass(request, *bass, previous) + parts + of_whole(request, notes, left, previous)
}

/// What the bass costs by itself.
pub(crate) fn of_bass(request: &Request, bass: Pitch, previous: Option<&Voicing>) -> i32 {
    let (low, high) = request.bass_range;
    let centre = (i32::from(low.key()) * 2 + i32::from(high.key())) / 3;
    let leap =
        previous.and_then(Voicing::bass).map_or(0, |old| (bass.above(old).abs() - 7).max(0) * BASS_LEAP);
    (i32::from(bass.key()) - centre).abs() * BASS_OFF_CENTRE
        + murk_over_assumed_root(request.chord, bass, request.clarity) * MURK
        + leap
}

/// What a part adds, given those below it.
pub(crate) fn of_part(request: &Request, below: &[Pitch], pitch: Pitch, previous: Option<&Voicing>) -> i32 {
    let Some(lower) = below.last() else { return 0 };
    let gap = pitch.above(*lower);
    let mut total = (roomy(lower.key()) - gap).max(0) * NARROW;
    if gap <= 2 {
        total += SECOND;
    }
    total += (gap - 12).max(0) * if below.len() == 1 { WIDE_BASS } else { WIDE };
    if let [.., second, _] = below {
        total += (gap - lower.above(*second)).max(0) * UNEVEN;
        if request.rung == Rung::Spaced {
            // All but the bass close together: the upper parts' whole span counts.
            total += gap * TOGETHER;
        }
    }
    let way = previous.and_then(|v| v.notes().iter().skip(1).map(|old| pitch.above(*old).abs()).min());
    total + way.unwrap_or(0).min(12) * MOTION
}

/// What can only be told of the whole: its tones, its top, its hands.
pub(crate) fn of_whole(request: &Request, notes: &[Pitch], left: usize, previous: Option<&Voicing>) -> i32 {
    let (Some(bass), Some(top)) = (notes.first(), notes.last()) else { return 0 };
    let full = left.saturating_sub(2) as i32 * LEFT_HAND_FULL;
    let far = request.ceiling.map_or(0, |ceiling| (ceiling.above(*top) - 9).max(0) * FAR_FROM_MELODY);
    full + far + tones(request, notes) + parallels(*bass, *top, previous)
}

/// The gap that a note of this key wants above it: a fifth in the octave of C2, a fourth below F3, a third
/// below middle C. After the harmonic series (spacing_rules S5a), in round numbers.
fn roomy(key: u8) -> i32 {
    match key {
        0..48 => 7,
        48..53 => 5,
        53..60 => 3,
        _ => 2,
    }
}

fn tones(request: &Request, notes: &[Pitch]) -> i32 {
    let chord = request.chord;
    let melody = request.sung;
    let mut total = 0;
    for class in chord.tones().iter() {
        let count = notes.iter().filter(|p| p.class() == class).count() as i32;
        let sung = melody == Some(class);
        let twice = count - 1 + i32::from(sung && count > 0);
        match chord.degree(class) {
            Some(Degree::Root) => total += (count - 1).max(0) * DOUBLED_ROOT,
            Some(Degree::Fifth) if count == 0 => total += if sung { 0 } else { NO_FIFTH },
            Some(Degree::Fifth) => total += (count - 1) * DOUBLED_FIFTH,
            Some(Degree::Third | Degree::Second | Degree::Fourth) => total += twice.max(0) * DOUBLED_THIRD,
            Some(Degree::Ninth | Degree::Eleventh | Degree::Thirteenth | Degree::Sixth)
                if count == 0 && !sung =>
            {
                // The natural eleventh over a major third is not missed.
                let clash = class == chord.root.transpose(5)
                    && chord.intervals().contains(figwort_theory::PitchClass::new(4));
                total += if clash { 0 } else { NO_COLOUR };
            }
            _ => {}
        }
        if sung && count > 0 {
            let colour = matches!(
                chord.degree(class),
                Some(Degree::Ninth | Degree::Eleventh | Degree::Thirteenth | Degree::Sixth)
            );
            total += if colour { DOUBLED_COLOUR } else { DOUBLED_MELODY };
        }
    }
    total
}

/// Fifths or octaves that bass and top part move in, the same way.
fn parallels(bass: Pitch, top: Pitch, previous: Option<&Voicing>) -> i32 {
    let Some((old_bass, old_top)) = previous.and_then(|v| Some((v.bass()?, *v.notes().last()?))) else {
        return 0;
    };
    let moved = bass.above(old_bass);
    let same_way = moved != 0 && moved == top.above(old_top);
    if same_way && matches!(top.above(bass).rem_euclid(12), 0 | 7) { PARALLEL } else { 0 }
}
