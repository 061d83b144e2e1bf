//! The search for the voicing of least cost: all allowed sets of notes, bass by bass.
//!
//! Notes are added from below. A branch is left when a rule is broken, or when what it costs already is no
//! less than the best whole found: costs only grow, so the answer is still the true minimum. Ties go to the
//! set found first, which is the lower one.

use arrayvec::ArrayVec;
use figwort_theory::{Degree, Key, Pitch, PitchClass, PitchClassSet};

use super::cost::{of_bass, of_part, of_whole};
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

/// The best voicing with exactly `parts` notes that keeps every rule; with `complete`, one that has the
/// guide tones too.
pub fn search(request: &Request, parts: usize, complete: bool, previous: Option<&Voicing>) -> Found {
    let mut walk = Walk {
        request,
        previous,
        parts: parts.min(MAX_PARTS),
        classes: wanted_classes(request.chord, parts),
        required: if complete { request.chord.guide_tones() } else { PitchClassSet::EMPTY },
        top: (i32::from(request.ceiling.unwrap_or(OPEN_CEILING).key())
            - if request.ceiling.is_some() { UNDER_MELODY } else { 0 })
        .min(127),
        best: Found { cost: i32::MAX, ..Found::default() },
        notes: ArrayVec::new(),
    };
    walk.required = walk.within_reason();
    let (low, high) = request.bass_range;
    match request.kept_bass {
        Some(bass) => walk.grow_from(bass),
        None => bass_candidates(request.chord.bass, low, high).for_each(|bass| walk.grow_from(bass)),
    }
    walk.best
}

struct Walk<'a> {
    request: &'a Request,
    previous: Option<&'a Voicing>,
    parts: usize,
    classes: PitchClassSet,
    required: PitchClassSet,
    top: i32,
    best: Found,
    notes: ArrayVec<Pitch, MAX_PARTS>,
}

impl Walk<'_> {
    /// The guide tones that have to sound (spacing_rules O2): not the ones that a standing melody note
    /// supplies, nor those that would rub against the melody wherever they lay.
    fn within_reason(&self) -> PitchClassSet {
        let lowest = i32::from(self.request.bass_range.0.key());
        let possible = |class: PitchClass| {
            (lowest..=self.top)
                .filter_map(Pitch::from_i32)
                .any(|pitch| pitch.class() == class && self.agrees_with_melody(pitch))
        };
        self.required.iter().filter(|class| self.request.sung != Some(*class) && possible(*class)).collect()
    }

    fn grow_from(&mut self, bass: Pitch) {
        if i32::from(bass.key()) > self.top || !self.agrees_with_melody(bass) {
            return;
        }
        self.notes.clear();
        self.notes.push(bass);
        self.grow(of_bass(self.request, bass, self.previous));
    }

    /// Adds every allowed note above those there are, which have cost `spent`.
    fn grow(&mut self, spent: i32) {
        self.best.nodes += 1;
        if self.notes.len() == self.parts {
            self.weigh(spent);
            return;
        }
        let (Some(&bass), Some(&last)) = (self.notes.first(), self.notes.last()) else { return };
        let sounding: PitchClassSet = self.notes.iter().map(|p| p.class()).collect();
        let missing = self.required.difference(sounding);
        let room = (self.parts - self.notes.len()) as u32;
        // The bass may lie far below; the rest stays together.
        let widest = if self.notes.len() == 1 { 127 } else { WIDEST_GAP };
        let from = i32::from(last.key()) + 2;
        for key in from..=self.top.min(i32::from(last.key()) + widest) {
            let Some(pitch) = Pitch::from_i32(key) else { break };
            let wasted = missing.len() >= room && !missing.contains(pitch.class());
            if wasted || !self.classes.contains(pitch.class()) || !self.in_reach(bass, pitch) {
                continue;
            }
            let spent = spent + of_part(self.request, &self.notes, pitch, self.previous);
            if spent < self.best.cost && self.allows(last, pitch) {
                self.notes.push(pitch);
                self.grow(spent);
                self.notes.pop();
            }
        }
    }

    /// Whether one of the hands can take the note at all, the left from the bass or the right under the
    /// melody it holds.
    fn in_reach(&self, bass: Pitch, pitch: Pitch) -> bool {
        let held = if self.request.one_player { self.request.melody } else { None };
        let reach = self.request.reach;
        pitch.above(bass) <= reach || held.is_none_or(|melody| melody.above(pitch) <= reach)
    }

    fn allows(&self, last: Pitch, pitch: Pitch) -> bool {
        let chord = self.request.chord;
        let doubled = self.notes.iter().any(|p| p.class() == pitch.class());
        if doubled && !may_be_doubled(chord.degree(pitch.class()), pitch.class(), self.request.key) {
            return false;
        }
        is_clear(last, pitch, self.request.clarity)
            && self.agrees_with_melody(pitch)
            && self.notes.iter().all(|lower| !clashes(*lower, pitch, self.request))
    }

    fn agrees_with_melody(&self, pitch: Pitch) -> bool {
        self.request.melody.is_none_or(|melody| {
            let chord = self.request.chord;
            let tense = matches!(chord.degree(melody.class()), Some(Degree::Seventh))
                || leading_tone(self.request.key) == melody.class();
            melody > pitch
                && !clashes(pitch, melody, self.request)
                && !(tense && pitch.class() == melody.class() && chord.bass != pitch.class())
        })
    }

    fn weigh(&mut self, spent: i32) {
        let request = self.request;
        let sounding: PitchClassSet = self.notes.iter().map(|p| p.class()).collect();
        if !self.required.is_subset_of(sounding) {
            return;
        }
        let held = if request.one_player { request.melody } else { None };
        let Some(left) = hands(&self.notes, held, request.reach) else { return };
        if request.rung == Rung::Spaced && left > 1 {
            return;
        }
        let cost = spent + of_whole(request, &self.notes, left, self.previous);
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

/// Neither the seventh nor the leading tone is doubled (spacing_rules D1, D2), nor is a colour tone.
fn may_be_doubled(degree: Option<Degree>, class: PitchClass, key: Key) -> bool {
    class != leading_tone(key) && matches!(degree, Some(Degree::Root | Degree::Third | Degree::Fifth))
}

#[cfg(test)]
mod tests;
