//! The cost of a voicing: how far each wish is missed, times its weight.
//!
//! The weights, and what each is for, stand in [`crate::settings::weights`]; rules that must hold are in
//! [`super::search`].

use arrayvec::ArrayVec;
use figwort_theory::{Degree, Pitch, PitchClass};

use super::spacing::murk_over_assumed_root;
use super::{MAX_PARTS, Request, Voicing};
use crate::settings::{Rung, Weights};

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

    fn weight(&self, of: impl Fn(&Weights) -> u8) -> i32 {
        i32::from(of(&self.request.weights))
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
        let leap = self
            .before
            .map_or(0, |(old, _)| (bass.above(old).abs() - 7).max(0) * self.weight(|w| w.bass_leap));
        (i32::from(bass.key()) - centre).abs() * self.weight(|w| w.bass_off_centre)
            + murk_over_assumed_root(request.chord, bass, request.clarity) * self.weight(|w| w.murk)
            + leap
    }

    /// What a part adds, given those below it.
    pub(crate) fn of_part(&self, below: &[Pitch], pitch: Pitch) -> i32 {
        let Some(lower) = below.last() else { return 0 };
        let gap = pitch.above(*lower);
        let mut total = (roomy(lower.key()) - gap).max(0) * self.weight(|w| w.narrow);
        if gap <= 2 {
            total += self.weight(|w| w.second);
        }
        total += (gap - 12).max(0)
            * if below.len() == 1 { self.weight(|w| w.wide_bass) } else { self.weight(|w| w.wide) };
        if let [.., second, _] = below {
            total += (gap - lower.above(*second)).max(0) * self.weight(|w| w.uneven);
            if self.request.rung == Rung::Spaced {
                // All but the bass close together: the upper parts' whole span counts.
                total += gap * self.weight(|w| w.together);
            }
        }
        total + i32::from(self.way.get(pitch.index()).copied().unwrap_or(0)) * self.weight(|w| w.motion)
    }

    /// What can only be told of the whole: its tones, its top, its hands, what it does with the wishes of
    /// the chord before.
    pub(crate) fn of_whole(&self, notes: &[Pitch], left: usize) -> i32 {
        let (Some(bass), Some(top)) = (notes.first(), notes.last()) else { return 0 };
        let full = left.saturating_sub(2) as i32 * self.weight(|w| w.left_hand_full);
        let ceiling = self.request.ceiling;
        let far = ceiling
            .map_or(0, |ceiling| (ceiling.above(*top) - 9).max(0) * self.weight(|w| w.far_from_melody));
        let deaf = self.wishes.iter().filter(|goals| !goals.iter().any(|goal| notes.contains(goal))).count();
        full + far
            + self.tones(notes)
            + self.parallels(*bass, *top)
            + deaf as i32 * self.weight(|w| w.unresolved)
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
                    total += again * self.weight(|w| w.doubled_root);
                    false
                }
                Some(Degree::Fifth) => {
                    total += again * self.weight(|w| w.doubled_fifth);
                    total += if count == 0 && !sung { self.weight(|w| w.no_fifth) } else { 0 };
                    false
                }
                Some(Degree::Third | Degree::Second | Degree::Fourth) => {
                    total += (again + i32::from(sung && count > 0)) * self.weight(|w| w.doubled_third);
                    false
                }
                Some(Degree::Ninth | Degree::Eleventh | Degree::Thirteenth | Degree::Sixth) => true,
                Some(Degree::Seventh) => false,
                Some(Degree::ForeignBass) | None => continue,
            };
            // The natural eleventh over a major third is not missed.
            let unwanted = class == chord.root.transpose(5) && chord.intervals().contains(PitchClass::new(4));
            if colour && count == 0 && !sung && !unwanted {
                total += self.weight(|w| w.no_colour);
            }
            if sung && count > 0 {
                total += if colour {
                    self.weight(|w| w.doubled_colour)
                } else {
                    self.weight(|w| w.doubled_melody)
                };
            }
        }
        total
    }

    /// Fifths or octaves that bass and top part move in, the same way, whatever octaves lie between.
    fn parallels(&self, bass: Pitch, top: Pitch) -> i32 {
        let Some((old_bass, old_top)) = self.before else { return 0 };
        let (low, high) = (bass.above(old_bass).signum(), top.above(old_top).signum());
        let (was, is) = (old_top.above(old_bass).rem_euclid(12), top.above(bass).rem_euclid(12));
        let parallel = low != 0 && low == high && was == is && matches!(is, 0 | 7);
        if parallel { self.weight(|w| w.parallel) } else { 0 }
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

/// The gap that a note of this key wants above it: a fifth up to E3, a fourth up to B3, a third above. After
/// the harmonic series (spacing_rules S5a), in round numbers; composed piano writing has a median of a fifth
/// over C3 to E3 and a minor sixth over F3 to B3.
fn roomy(key: u8) -> i32 {
    match key {
        0..53 => 7,
        53..60 => 5,
        _ => 3,
    }
}
