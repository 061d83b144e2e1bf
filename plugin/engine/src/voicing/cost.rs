//! The cost of a voicing: what is wished for, in numbers.
//!
//! cost = Σ weight × how far a wish is missed, in tenths of a step of a part. Rules that must hold are in
//! [`super::search`]; these are the wishes. All weights stand here.

use arrayvec::ArrayVec;
use figwort_theory::{Degree, Pitch, PitchClass};

use super::spacing::murk_over_assumed_root;
use super::{MAX_PARTS, Request, Voicing};
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
pub const LEFT_HAND_FULL: i32 = 16;
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
/// A chord seventh or leading tone of the chord before that could go to its step and doesn't (Open Music
/// Theory: the seventh resolves down, the leading tone up, by step).
pub const UNRESOLVED: i32 = 18;
/// Parallel fifths or octaves between bass and top part (spacing_rules V2).
pub const PARALLEL: i32 = 90;

/// The cost of the voicings of one request after one voicing. Made once for a search; everything that
/// depends on a single note is looked up.
pub struct Weighing<'a> {
    request: &'a Request,
    before: Option<(Pitch, Pitch)>,
    /// What each class is in the chord.
    degrees: [Option<Degree>; 12],
    /// The way from the voicing before to each key, in semitones.
    way: [u8; 128],
    /// Where the tones of the chord before want to go, one entry for each that can.
    wishes: ArrayVec<ArrayVec<Pitch, 3>, MAX_PARTS>,
}

impl<'a> Weighing<'a> {
    /// Prepares to weigh.
    pub fn new(request: &'a Request, previous: Option<&Voicing>) -> Self {
        let mut way = [0; 128];
        let upper = previous.map(|v| v.notes().get(1..).unwrap_or_default()).unwrap_or_default();
        if !upper.is_empty() {
            for (key, way) in way.iter_mut().enumerate() {
                let here = Pitch::new(key as u8);
                let nearest = upper.iter().map(|old| here.above(*old).unsigned_abs()).min();
                *way = nearest.unwrap_or(0).min(12) as u8;
            }
        }
        Self {
            request,
            before: previous.and_then(|v| Some((v.bass()?, *v.notes().last()?))),
            degrees: core::array::from_fn(|n| request.chord.degree(PitchClass::new(n as i32))),
            way,
            wishes: previous.map(|v| wishes(request, v)).unwrap_or_default(),
        }
    }

    /// The cost of a whole voicing, `notes` rising from the bass, the first `left` of them in the left hand.
    /// Lower is better. It is the sum of [`Weighing::of_bass`], [`Weighing::of_part`] for each further note
    /// and [`Weighing::of_whole`], none of which is negative: what has been added so far never exceeds the
    /// whole.
    pub fn cost(&self, notes: &[Pitch], left: usize) -> i32 {
        let Some(bass) = notes.first() else { return i32::MAX };
        let parts: i32 =
            (1..notes.len()).filter_map(|n| Some(self.of_part(notes.get(..n)?, *notes.get(n)?))).sum();
        self.of_bass(*bass) + parts + self.of_whole(notes, left)
    }

    /// What a class is in the chord.
    pub(crate) fn degree(&self, class: PitchClass) -> Option<Degree> {
        self.degrees.get(usize::from(class.number())).copied().flatten()
    }

    /// What the bass costs by itself.
    pub(crate) fn of_bass(&self, bass: Pitch) -> i32 {
        let request = self.request;
        let (low, high) = request.bass_range;
        let centre = (i32::from(low.key()) * 2 + i32::from(high.key())) / 3;
        let leap = self.before.map_or(0, |(old, _)| (bass.above(old).abs() - 7).max(0) * BASS_LEAP);
        (i32::from(bass.key()) - centre).abs() * BASS_OFF_CENTRE
            + murk_over_assumed_root(request.chord, bass, request.clarity) * MURK
            + leap
    }

    /// What a part adds, given those below it.
    pub(crate) fn of_part(&self, below: &[Pitch], pitch: Pitch) -> i32 {
        let Some(lower) = below.last() else { return 0 };
        let gap = pitch.above(*lower);
        let mut total = (roomy(lower.key()) - gap).max(0) * NARROW;
        if gap <= 2 {
            total += SECOND;
        }
        total += (gap - 12).max(0) * if below.len() == 1 { WIDE_BASS } else { WIDE };
        if let [.., second, _] = below {
            total += (gap - lower.above(*second)).max(0) * UNEVEN;
            if self.request.rung == Rung::Spaced {
                // All but the bass close together: the upper parts' whole span counts.
                total += gap * TOGETHER;
            }
        }
        total + i32::from(self.way.get(pitch.index()).copied().unwrap_or(0)) * MOTION
    }

    /// What can only be told of the whole: its tones, its top, its hands, what it does with the wishes of
    /// the chord before.
    pub(crate) fn of_whole(&self, notes: &[Pitch], left: usize) -> i32 {
        let (Some(bass), Some(top)) = (notes.first(), notes.last()) else { return 0 };
        let full = left.saturating_sub(2) as i32 * LEFT_HAND_FULL;
        let ceiling = self.request.ceiling;
        let far = ceiling.map_or(0, |ceiling| (ceiling.above(*top) - 9).max(0) * FAR_FROM_MELODY);
        let deaf = self.wishes.iter().filter(|goals| !goals.iter().any(|goal| notes.contains(goal))).count();
        full + far + self.tones(notes) + self.parallels(*bass, *top) + deaf as i32 * UNRESOLVED
    }

    fn tones(&self, notes: &[Pitch]) -> i32 {
        let chord = self.request.chord;
        let mut counts = [0i32; 12];
        for note in notes {
            if let Some(count) = counts.get_mut(usize::from(note.class().number())) {
                *count += 1;
            }
        }
        let mut total = 0;
        for (n, count) in counts.into_iter().enumerate() {
            let class = PitchClass::new(n as i32);
            let sung = self.request.sung == Some(class);
            let again = (count - 1).max(0);
            let colour = match self.degree(class) {
                Some(Degree::Root) => {
                    total += again * DOUBLED_ROOT;
                    false
                }
                Some(Degree::Fifth) => {
                    total += again * DOUBLED_FIFTH;
                    total += if count == 0 && !sung { NO_FIFTH } else { 0 };
                    false
                }
                Some(Degree::Third | Degree::Second | Degree::Fourth) => {
                    total += (again + i32::from(sung && count > 0)) * DOUBLED_THIRD;
                    false
                }
                Some(Degree::Ninth | Degree::Eleventh | Degree::Thirteenth | Degree::Sixth) => true,
                Some(Degree::Seventh) => false,
                Some(Degree::ForeignBass) | None => continue,
            };
            // The natural eleventh over a major third is not missed.
            let unwanted = class == chord.root.transpose(5) && chord.intervals().contains(PitchClass::new(4));
            if colour && count == 0 && !sung && !unwanted {
                total += NO_COLOUR;
            }
            if sung && count > 0 {
                total += if colour { DOUBLED_COLOUR } else { DOUBLED_MELODY };
            }
        }
        total
    }

    /// Fifths or octaves that bass and top part move in, the same way.
    fn parallels(&self, bass: Pitch, top: Pitch) -> i32 {
        let Some((old_bass, old_top)) = self.before else { return 0 };
        let moved = bass.above(old_bass);
        let same_way = moved != 0 && moved == top.above(old_top);
        if same_way && matches!(top.above(bass).rem_euclid(12), 0 | 7) { PARALLEL } else { 0 }
    }
}

/// For each chord seventh and leading tone of the voicing before: the notes of the new chord that it may go
/// to, staying included. Those that can go nowhere have no entry, and neither have those that the melody
/// takes over.
fn wishes(request: &Request, previous: &Voicing) -> ArrayVec<ArrayVec<Pitch, 3>, MAX_PARTS> {
    let classes = request.chord.classes();
    let pulled = previous.pulls().map(|(from, pull)| {
        let steps: &[i32] = match pull {
            Pull::Down => &[0, -1, -2],
            Pull::Up => &[0, 1],
        };
        let goals = steps.iter().filter_map(|step| from.transpose(*step));
        goals.filter(|goal| classes.contains(goal.class())).collect::<ArrayVec<Pitch, 3>>()
    });
    pulled
        .filter(|goals| !goals.is_empty() && !goals.iter().any(|goal| request.melody == Some(*goal)))
        .take(MAX_PARTS)
        .collect()
}

/// Where a tone wants to go.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Pull {
    /// A step down: a chord's seventh.
    Down,
    /// A semitone up: a dominant's third that is the key's leading tone.
    Up,
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
