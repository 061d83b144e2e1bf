//! The search for the voicing of least cost: all allowed sets of notes, bass by bass.
//!
//! Notes are added from below. A branch is left when a rule is broken, or when what it costs already is no
//! less than the best whole found: costs only grow, so the answer is still the true minimum. Ties go to the
//! set found first, which is the lower one.

use arrayvec::ArrayVec;
use figwort_theory::{Degree, Key, Pitch, PitchClass, PitchClassSet};

use super::cost::Weighing;
use super::spacing::{hands, is_clear};
use super::{MAX_PARTS, OPEN_CEILING, Request, UNDER_MELODY, Voicing, bass_candidates, wanted_classes};
use crate::settings::Rung;

/// Parts above the bass lie at most this far apart. Two octaves can't be bridged by two hands anyway.
const WIDEST_GAP: i32 = 16;

/// What the search found, and what it took.
#[derive(Clone, Debug, Default)]
pub struct Found {
    /// The best voicing, if there is any.
    pub voicing: Option<Voicing>,
    /// Its cost.
    pub cost: i32,
    /// Partial and complete sets looked at.
    pub nodes: u32,
}

/// The best voicing with exactly `parts` notes that keeps every rule and has the `required` tones, as far as
/// those are within reason: not the ones that a standing melody note supplies, nor those that would rub
/// against the melody wherever they lay.
pub fn search(request: &Request, parts: usize, required: PitchClassSet, previous: Option<&Voicing>) -> Found {
    let under = if request.ceiling.is_some() { UNDER_MELODY } else { 0 };
    let mut walk = Walk {
        request,
        weighing: Weighing::new(request, previous),
        parts: parts.min(MAX_PARTS),
        top: (i32::from(request.ceiling.unwrap_or(OPEN_CEILING).key()) - under).min(127),
        required: PitchClassSet::EMPTY,
        candidates: ArrayVec::new(),
        doublable: (0..12)
            .map(PitchClass::new)
            .filter(|class| may_be_doubled(request.chord.degree(*class), *class, request.key))
            .collect(),
        dominant_root: request.chord.is_dominant().then_some(request.chord.root),
        best: Found { cost: i32::MAX, ..Found::default() },
        notes: ArrayVec::new(),
    };
    walk.required = walk.within_reason(required);
    let classes = wanted_classes(request.chord, parts);
    let lowest = i32::from(request.kept_bass.unwrap_or(request.bass_range.0).key());
    walk.candidates = (lowest..=walk.top)
        .filter_map(Pitch::from_i32)
        .filter(|pitch| classes.contains(pitch.class()) && walk.agrees_with_melody(*pitch))
        .collect();
    let (low, high) = request.bass_range;
    match request.kept_bass {
        Some(bass) => walk.grow_from(bass),
        None => bass_candidates(request.chord.bass, low, high).for_each(|bass| walk.grow_from(bass)),
    }
    walk.best
}

struct Walk<'a> {
    request: &'a Request,
    weighing: Weighing<'a>,
    parts: usize,
    top: i32,
    required: PitchClassSet,
    /// Notes that may lie above the bass, rising.
    candidates: ArrayVec<Pitch, 128>,
    /// Classes that may sound twice.
    doublable: PitchClassSet,
    /// The root that bears a flat ninth.
    dominant_root: Option<PitchClass>,
    best: Found,
    notes: ArrayVec<Pitch, MAX_PARTS>,
}

/// A set of notes in the making.
#[derive(Clone, Copy)]
struct Partial {
    spent: i32,
    /// First candidate that may come next.
    next: usize,
    classes: PitchClassSet,
    keys: u128,
}

impl Walk<'_> {
    fn within_reason(&self, required: PitchClassSet) -> PitchClassSet {
        let lowest = i32::from(self.request.bass_range.0.key());
        let possible = |class: PitchClass| {
            (lowest..=self.top)
                .filter_map(Pitch::from_i32)
                .any(|pitch| pitch.class() == class && self.agrees_with_melody(pitch))
        };
        required.iter().filter(|class| self.request.sung != Some(*class) && possible(*class)).collect()
    }

    fn grow_from(&mut self, bass: Pitch) {
        if i32::from(bass.key()) > self.top || !self.agrees_with_melody(bass) {
            return;
        }
        self.notes.clear();
        self.notes.push(bass);
        self.grow(Partial {
            spent: self.weighing.of_bass(bass),
            next: self.candidates.partition_point(|pitch| pitch.above(bass) < 2),
            classes: PitchClassSet::EMPTY.with(bass.class()),
            keys: 1 << bass.key(),
        });
    }

    /// Adds every allowed note above those there are.
    fn grow(&mut self, partial: Partial) {
        self.best.nodes += 1;
        if self.notes.len() == self.parts {
            self.weigh(partial);
            return;
        }
        let (Some(&bass), Some(&last)) = (self.notes.first(), self.notes.last()) else { return };
        let missing = self.required.difference(partial.classes);
        let room = (self.parts - self.notes.len()) as u32;
        // The bass may lie far below; the rest stays together.
        let widest = if self.notes.len() == 1 { 127 } else { WIDEST_GAP };
        for n in partial.next..self.candidates.len() {
            let Some(&pitch) = self.candidates.get(n) else { break };
            let gap = pitch.above(last);
            if gap > widest {
                break;
            }
            let class = pitch.class();
            let wasted = missing.len() >= room && !missing.contains(class);
            let doubled = partial.classes.contains(class) && !self.doublable.contains(class);
            if gap < 2
                || wasted
                || doubled
                || !self.in_reach(bass, pitch)
                || self.rubs(partial.keys, pitch)
                || !is_clear(last, pitch, self.request.clarity)
            {
                continue;
            }
            let spent = partial.spent + self.weighing.of_part(&self.notes, pitch);
            if spent < self.best.cost {
                self.notes.push(pitch);
                self.grow(Partial {
                    spent,
                    next: n + 1,
                    classes: partial.classes.with(class),
                    keys: partial.keys | 1 << pitch.key(),
                });
                self.notes.pop();
            }
        }
    }

    /// Whether a note is a minor second or a minor ninth above one of the keys.
    fn rubs(&self, keys: u128, pitch: Pitch) -> bool {
        let key = u32::from(pitch.key());
        let holds = |below: u32| key >= below && keys >> (key - below) & 1 == 1;
        holds(1) || holds(13) && self.dominant_root != Some(pitch.class().transpose(-1))
    }

    /// Whether one of the hands can take the note at all, the left from the bass or the right under the
    /// melody it holds.
    fn in_reach(&self, bass: Pitch, pitch: Pitch) -> bool {
        let held = self.request.held();
        let reach = self.request.reach;
        pitch.above(bass) <= reach || held.is_none_or(|melody| melody.above(pitch) <= reach)
    }

    fn agrees_with_melody(&self, pitch: Pitch) -> bool {
        self.request.melody.is_none_or(|melody| {
            let degree = self.weighing.degree(melody.class());
            let tense = degree == Some(Degree::Seventh)
                || leading_tone(self.request.key) == melody.class() && degree != Some(Degree::Root);
            melody > pitch
                && !clashes(pitch, melody, self.request)
                && !(tense && pitch.class() == melody.class() && self.request.chord.bass != pitch.class())
        })
    }

    fn weigh(&mut self, partial: Partial) {
        let request = self.request;
        if !self.required.is_subset_of(partial.classes) {
            return;
        }
        let held = request.held();
        let Some(left) = hands(&self.notes, held, request.reach) else { return };
        if request.rung == Rung::Spaced && left > 1 {
            return;
        }
        let cost = partial.spent + self.weighing.of_whole(&self.notes, left);
        if cost < self.best.cost {
            self.best.cost = cost;
            self.best.voicing = Some(Voicing::new(self.notes.iter().copied(), left));
        }
    }
}

/// A minor second or a minor ninth; the flat ninth over a dominant's root excepted (spacing_rules A2, A3).
pub(crate) fn clashes(lower: Pitch, upper: Pitch, request: &Request) -> bool {
    let interval = upper.above(lower);
    let flat_ninth = interval == 13 && request.chord.is_dominant() && lower.class() == request.chord.root;
    matches!(interval, 1 | 13) && !flat_ninth
}

/// The leading tone of a key, major or (raised) minor.
fn leading_tone(key: Key) -> PitchClass {
    key.tonic.transpose(-1)
}

/// Neither the seventh nor the leading tone is doubled (spacing_rules D1, D2), nor is a colour tone. The
/// seventh degree as a chord's root leads nowhere.
fn may_be_doubled(degree: Option<Degree>, class: PitchClass, key: Key) -> bool {
    match degree {
        Some(Degree::Root) => true,
        Some(Degree::Third | Degree::Fifth) => class != leading_tone(key),
        _ => false,
    }
}

#[cfg(test)]
mod tests;
