//! The cost of a voicing: how far each wish is missed, times its weight.
//!
//! For notes n₁ < … < nₖ, n₁ the bass, gaps gᵢ = nᵢ₊₁ − nᵢ in semitones, and the voicing before them, all
//! terms whole and none negative:
//!
//! ```text
//! cost =  bass_low  · semitones of n₁ below its zone     + bass_high · semitones above it
//!       + bass_leap · semitones of its way beyond a fifth + murk · semitones too low over the assumed root
//!       + parallel_melody · [n₁ and the melody keep a fifth or an octave and move the same way]
//!       + Σ over gaps:     rough  · roughness of the two notes / 32
//!                        + narrow · semitones short of what the register wants
//!                        + wide   · semitones over an octave   (the lowest gap: wide_bass)
//!                        + uneven · semitones wider than the gap below it   (from the second)
//!                        + together · semitones   (rung Spaced, from the second)
//!       + Σ over n₂ … nₖ:  motion · way from the nearest upper note before, at most an octave
//!                        + let_go · [neither hand reaches it under the melody's summit]
//!       + off_register · semitones of nₖ outside its band under the melody
//!       + parallel · [n₁ and nₖ keep a fifth or an octave and move the same way]
//!       + unresolved · sevenths and leading tones before that could step and don't
//!       + left_hand_full · notes of the left hand beyond two
//!       + doubled_… · repetitions of a class, or of the melody's   + no_… · classes left out
//! ```
//!
//! Between numbers of parts, each part fewer than asked for costs `thin`.
//!
//! The weights, the reason and the source of each, stand in [`crate::settings::weights`]. Rules that must
//! hold are no terms of the sum: they are in [`super::search`].

use arrayvec::ArrayVec;
use figwort_theory::{Degree, Pitch, PitchClass, PitchClassSet};

use super::spacing::{murk_over_assumed_root, roughness};
use super::{MAX_PARTS, Request, Voicing};
use crate::settings::{Rung, Weights};

/// The cost of the voicings of one request after one voicing. Made once for all searches of a request;
/// what depends on a class alone is looked up.
pub struct Weighing<'a> {
    request: &'a Request,
    before: Option<(Pitch, Pitch)>,
    /// The melody now and before, if it has moved.
    sung: Option<(Pitch, Pitch)>,
    /// The upper notes of the voicing before.
    upper: ArrayVec<Pitch, MAX_PARTS>,
    /// What the right hand has to reach later.
    summit: Option<Pitch>,
    /// Where the bass lies well: lowest and highest key.
    zone: (i32, i32),
    guides: PitchClassSet,
    /// What a class costs when it sounds first, and when it sounds again.
    first: [i32; 12],
    again: [i32; 12],
    /// Classes that cost something when they don't sound, the dearest first.
    missed: ArrayVec<(PitchClass, i32), 12>,
    /// Where the tones of the chord before want to go, one set of keys for each that can.
    wishes: ArrayVec<u128, MAX_PARTS>,
}

impl<'a> Weighing<'a> {
    /// Prepares to weigh.
    pub fn new(request: &'a Request, previous: Option<&Voicing>) -> Self {
        let mut weighing = Self {
            request,
            before: previous.and_then(|v| Some((v.bass()?, *v.notes().last()?))),
            sung: previous.and_then(|v| v.under).zip(request.melody).filter(|(old, new)| old != new),
            upper: previous.map(|v| v.notes().iter().skip(1).copied().collect()).unwrap_or_default(),
            summit: request.reached(),
            zone: zone(request),
            guides: request.chord.guide_tones(),
            first: [0; 12],
            again: [0; 12],
            missed: ArrayVec::new(),
            wishes: previous.map(|v| wishes(request, v)).unwrap_or_default(),
        };
        weighing.weigh_classes();
        weighing
    }

    /// The cost of a whole voicing, `notes` rising from the bass, the first `left` of them in the left hand.
    /// Lower is better. `i32::MAX` for no notes.
    pub fn cost(&self, notes: &[Pitch], left: usize) -> i32 {
        let (Some(bass), Some(top)) = (notes.first(), notes.last()) else { return i32::MAX };
        let mut total = self.of_bass(*bass) + self.of_top(*top) + self.of_outer(*bass, *top);
        let mut classes = PitchClassSet::EMPTY;
        let mut keys = 0u128;
        let mut below: Option<(Pitch, Option<i32>)> = None;
        for note in notes {
            total += self.of_class(note.class(), classes);
            classes = classes.with(note.class());
            keys |= 1 << note.key();
            let gap = below.map(|(lower, _)| note.above(lower));
            if let Some((lower, gap_below)) = below {
                total += self.of_letting_go(*bass, *note);
                total += self.of_gap(lower, *note, gap_below.is_none()) + self.of_way(*note);
                total += self.of_widening(gap_below, note.above(lower));
            }
            below = Some((*note, gap));
        }
        total + self.of_omissions(classes) + self.of_wishes(keys, 127) + self.of_left_hand(left)
    }

    fn weight(&self, of: impl Fn(&Weights) -> u8) -> i32 {
        i32::from(of(&self.request.weights))
    }

    /// What the bass costs by its place and its way.
    pub(crate) fn of_bass(&self, bass: Pitch) -> i32 {
        let request = self.request;
        let (low, high) = self.zone;
        let key = i32::from(bass.key());
        let mut total = (low - key).max(0) * self.weight(|w| w.bass_low)
            + (key - high).max(0) * self.weight(|w| w.bass_high)
            + murk_over_assumed_root(request.chord, bass, request.clarity) * self.weight(|w| w.murk);
        if let Some((old, _)) = self.before {
            total += (bass.above(old).abs() - 7).max(0) * self.weight(|w| w.bass_leap);
            if self.sung.is_some_and(|(sung, sings)| is_parallel((old, bass), (sung, sings))) {
                total += self.weight(|w| w.parallel_melody);
            }
        }
        total
    }

    /// What two neighbours cost by their distance; `lowest` if the lower one is the bass.
    pub(crate) fn of_gap(&self, lower: Pitch, upper: Pitch, lowest: bool) -> i32 {
        let gap = upper.above(lower);
        let short = (roomy(lower.key(), self.request.tension) - gap).max(0);
        let over = (gap - 12).max(0);
        let mut total = roughness(lower, gap) * self.weight(|w| w.rough) / 32;
        total += short * self.weight(|w| w.narrow);
        total += over * if lowest { self.weight(|w| w.wide_bass) } else { self.weight(|w| w.wide) };
        if !lowest && self.request.rung == Rung::Spaced {
            // All but the bass close together: the upper parts' whole span counts.
            total += gap * self.weight(|w| w.together);
        }
        total
    }

    /// What a gap costs over a narrower one.
    pub(crate) fn of_widening(&self, gap_below: Option<i32>, gap: i32) -> i32 {
        gap_below.map_or(0, |below| (gap - below).max(0) * self.weight(|w| w.uneven))
    }

    /// What an upper part costs by its way from the voicing before.
    pub(crate) fn of_way(&self, pitch: Pitch) -> i32 {
        let way = self.upper.iter().map(|old| pitch.above(*old).abs()).min();
        way.map_or(0, |way| way.min(12) * self.weight(|w| w.motion))
    }

    /// What an upper part costs that neither the left hand reaches from the bass nor the right one from the
    /// melody's summit: it will have to be let go; a guide tone costs as much as one that is left out.
    pub(crate) fn of_letting_go(&self, bass: Pitch, pitch: Pitch) -> i32 {
        let reach = self.request.reach;
        let leaves = self.summit.is_some_and(|summit| summit.above(pitch) > reach);
        match leaves && pitch.above(bass) > reach {
            true if self.guides.contains(pitch.class()) => self.weight(|w| w.no_guide),
            true => self.weight(|w| w.let_go),
            false => 0,
        }
    }

    /// What one more note of a class costs beside the classes that sound already.
    pub(crate) fn of_class(&self, class: PitchClass, sounding: PitchClassSet) -> i32 {
        let costs = if sounding.contains(class) { &self.again } else { &self.first };
        costs.get(usize::from(class.number())).copied().unwrap_or(0)
    }

    /// What the classes cost that don't sound.
    pub(crate) fn of_omissions(&self, sounding: PitchClassSet) -> i32 {
        self.least_of_omissions(sounding, 0)
    }

    /// The least that omissions cost when so many more notes come: the dearest classes are among them.
    pub(crate) fn least_of_omissions(&self, sounding: PitchClassSet, more: usize) -> i32 {
        let missing = self.missed.iter().filter(|(class, _)| !sounding.contains(*class));
        missing.skip(more).map(|(_, cost)| cost).sum()
    }

    /// The least that doubling a class costs, of those that may be doubled.
    pub(crate) fn least_doubling(&self, doublable: PitchClassSet) -> i32 {
        let costs = doublable.iter().filter_map(|class| self.again.get(usize::from(class.number())));
        costs.copied().min().unwrap_or(0)
    }

    /// What the top part costs by its place: the nearer it lies to a band from a third to a minor seventh
    /// under the melody's level, the less.
    pub(crate) fn of_top(&self, top: Pitch) -> i32 {
        let Some(register) = self.request.register else { return 0 };
        let below = register.above(top);
        ((below - 10).max(0) + (3 - below).max(0)) * self.weight(|w| w.off_register)
    }

    /// Fifths or octaves that bass and top part move in, the same way, whatever octaves lie between.
    pub(crate) fn of_outer(&self, bass: Pitch, top: Pitch) -> i32 {
        let Some((old_bass, old_top)) = self.before else { return 0 };
        if is_parallel((old_bass, bass), (old_top, top)) { self.weight(|w| w.parallel) } else { 0 }
    }

    /// What the wishes of the chord before cost that nobody fulfils; those that a note above `last` may
    /// still fulfil don't count.
    pub(crate) fn of_wishes(&self, keys: u128, last: u8) -> i32 {
        let deaf = |goals: &&u128| keys & **goals == 0 && **goals >> last.min(127) <= 1;
        self.wishes.iter().filter(deaf).count() as i32 * self.weight(|w| w.unresolved)
    }

    /// What the left hand's fullness costs.
    pub(crate) fn of_left_hand(&self, left: usize) -> i32 {
        left.saturating_sub(2) as i32 * self.weight(|w| w.left_hand_full)
    }

    fn weigh_classes(&mut self) {
        let chord = self.request.chord;
        let guides = self.guides;
        for n in 0..12 {
            let class = PitchClass::new(n as i32);
            let Some(degree) = chord.degree(class).filter(|degree| *degree != Degree::ForeignBass) else {
                continue;
            };
            let sung = self.request.sung == Some(class);
            let colour =
                matches!(degree, Degree::Ninth | Degree::Eleventh | Degree::Thirteenth | Degree::Sixth);
            let again = match degree {
                Degree::Root => self.weight(|w| w.doubled_root),
                Degree::Fifth => self.weight(|w| w.doubled_fifth),
                Degree::Third | Degree::Second | Degree::Fourth => self.weight(|w| w.doubled_third),
                _ => 0,
            };
            // The natural eleventh over a major third is not missed.
            let unwanted = class == chord.root.transpose(5) && chord.intervals().contains(PitchClass::new(4));
            let omitted = match degree {
                _ if sung || unwanted => 0,
                Degree::Fifth => self.weight(|w| w.no_fifth),
                _ if guides.contains(class) => self.weight(|w| w.no_guide),
                _ if colour => self.weight(|w| w.no_colour),
                Degree::Root if chord.bass != class => self.weight(|w| w.no_root),
                _ => 0,
            };
            let with_melody = match degree {
                _ if !sung => 0,
                Degree::Third | Degree::Second | Degree::Fourth => again + self.weight(|w| w.doubled_melody),
                _ if colour => self.weight(|w| w.doubled_colour),
                _ => self.weight(|w| w.doubled_melody),
            };
            for (slot, cost) in [(self.first.get_mut(n), with_melody), (self.again.get_mut(n), again)] {
                if let Some(slot) = slot {
                    *slot = cost;
                }
            }
            if omitted > 0 && !self.missed.is_full() {
                self.missed.push((class, omitted));
            }
        }
        self.missed.sort_unstable_by_key(|(class, cost)| (-cost, *class));
    }
}

/// Whether two lines, each before and after, move the same way and keep a fifth or an octave, whatever
/// octaves lie between.
fn is_parallel(lower: (Pitch, Pitch), upper: (Pitch, Pitch)) -> bool {
    let (low, high) = (lower.1.above(lower.0).signum(), upper.1.above(upper.0).signum());
    let (was, is) = (upper.0.above(lower.0).rem_euclid(12), upper.1.above(lower.1).rem_euclid(12));
    low != 0 && low == high && was == is && matches!(is, 0 | 7)
}

/// Where the bass lies well in its range: from a quarter to five sixths of it (F2 to E3 of C2 to G3), up to
/// five semitones lower as the tension grows. Common practice, no source; composed basses below C2 and above
/// F3 have their own spacing, but are rarer.
fn zone(request: &Request) -> (i32, i32) {
    let (low, high) = (i32::from(request.bass_range.0.key()), i32::from(request.bass_range.1.key()));
    let range = high - low;
    let deeper = i32::from(request.tension.min(100)) / 20;
    (low + (range / 4 + 1 - deeper).max(0), low + range * 5 / 6 + 1 - deeper)
}

/// For each chord seventh and leading tone of the voicing before: the keys of the new chord that it may go
/// to, staying included. Those that can go nowhere have no entry, and neither have those that the melody
/// takes over.
fn wishes(request: &Request, previous: &Voicing) -> ArrayVec<u128, MAX_PARTS> {
    let classes = request.chord.classes();
    let pulled = previous.pulls().map(|(from, pull)| {
        let steps: &[i32] = match pull {
            Pull::Down => &[0, -1, -2],
            Pull::Up => &[0, 1],
        };
        let goals = steps.iter().filter_map(|step| from.transpose(*step));
        goals.filter(|goal| classes.contains(goal.class())).fold(0u128, |keys, goal| keys | 1 << goal.key())
    });
    let sung = request.melody.map_or(0, |melody| 1u128 << melody.key());
    pulled.filter(|goals| *goals != 0 && goals & sung == 0).take(MAX_PARTS).collect()
}

/// Where a tone wants to go.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Pull {
    /// A step down: a chord's seventh.
    Down,
    /// A semitone up: a dominant's third that is the key's leading tone.
    Up,
}

/// The gap that a note of this key wants above it, wider where it is tense. After the harmonic series
/// (Rimsky-Korsakov, Principles of Orchestration, 1922, vol. I ch. III) and the lower quartiles and medians of
/// composed piano writing: 8 and 12 over F2 to B2, 7 and 11 over C3 to E3, 4 and 7 over F3 to B3.
fn roomy(key: u8, tension: u8) -> i32 {
    let tense = i32::from(tension.min(100)) / 34;
    match key {
        0..48 => 12 + tense,
        48..53 => 8 + tense,
        53..60 => 5 + tense,
        _ => 3,
    }
}
