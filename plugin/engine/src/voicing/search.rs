//! The search for the voicing of least cost: all allowed sets of notes, bass by bass.
//!
//! Notes are added from below, the most promising first. A branch is left when a rule is broken, or when what
//! it costs already and the least that must still come (`super::compass`) are more than the best whole
//! found: the answer is still the true minimum. Of equals, the one with the lower notes wins, bass first.
//!
//! Rules, all of them hard: every part at least a third below the melody ([`Request::ceiling`]); no minor
//! second or ninth between parts or with the melody, but a dominant's flat ninth over its root; no seventh
//! and no leading tone doubled, nor a colour tone; low interval limits; each hand within its reach, five
//! fingers and their spans; the tones that are required. Not here: which attempts are made, and what a rule
//! gives way to ([`super::voice`]).

use arrayvec::ArrayVec;
use figwort_theory::{Degree, Key, Pitch, PitchClass, PitchClassSet};

use super::compass::{Candidate, Compass, NARROWEST_GAP, NO_WAY, WIDEST_GAP};
use super::cost::Weighing;
use super::spacing::{is_clear, is_nearly_clear};
use super::{MAX_PARTS, OPEN_CEILING, Request, UNDER_MELODY, Voicing, bass_candidates, wanted_classes};
use crate::settings::Rung;

/// What the search found, and what it took.
#[derive(Clone, Debug, Default)]
pub struct Found {
    /// The best voicing, if there is any.
    pub voicing: Option<Voicing>,
    /// Its cost, where there is one.
    pub cost: i32,
    /// Partial and complete sets looked at.
    pub nodes: u32,
}

/// The best voicing with exactly `parts` notes that keeps every rule and has the `required` tones, as far as
/// those are within reason: not the ones that a standing melody note supplies, nor those that would rub
/// against the melody wherever they lay.
pub fn search(request: &Request, parts: usize, required: PitchClassSet, previous: Option<&Voicing>) -> Found {
    Ground::new(&Weighing::new(request, previous), request, required).search_below(parts, NO_WAY)
}

/// What all searches of one request have in common, whatever the number of parts.
pub(crate) struct Ground<'a> {
    weighing: &'a Weighing<'a>,
    request: &'a Request,
    concord: Concord,
    /// The basses that go, the likelier first.
    basses: ArrayVec<Pitch, 12>,
    /// The highest key of a part.
    top: i32,
    required: PitchClassSet,
    /// The lowest key that the right hand reaches from what it has to hold; 0 if that is nothing.
    within_right: i32,
    /// Classes that may sound twice.
    doublable: PitchClassSet,
    /// The notes of the classes that were searched last.
    compass: Compass,
    compass_of: PitchClassSet,
}

impl<'a> Ground<'a> {
    /// With the weighing of a request that differs at most in ceiling and leniency.
    pub(crate) fn new(weighing: &'a Weighing<'_>, request: &'a Request, required: PitchClassSet) -> Self {
        let under = if request.ceiling.is_some() { UNDER_MELODY } else { 0 };
        let top = (i32::from(request.ceiling.unwrap_or(OPEN_CEILING).key()) - under).min(127);
        let concord = Concord::of(request);
        let (low, high) = request.bass_range;
        let mut basses: ArrayVec<Pitch, 12> = ArrayVec::new();
        let fits = |bass: &Pitch| i32::from(bass.key()) <= top && concord.allows(*bass);
        match request.kept_bass {
            Some(bass) => basses.extend(Some(bass).filter(fits)),
            None => basses.extend(bass_candidates(request.chord.bass, low, high).filter(fits).take(12)),
        }
        basses.sort_unstable_by_key(|bass| (weighing.of_bass(*bass), *bass));
        let within_right = request.held().map_or(0, |held| i32::from(held.key()) - request.reach);
        let required = within_reason(request, &concord, required, top);
        let doublable = (0..12)
            .map(PitchClass::new)
            .filter(|class| may_be_doubled(request.chord.degree(*class), *class, request.key))
            .collect();
        Self {
            weighing,
            request,
            concord,
            basses,
            top,
            required,
            within_right,
            doublable,
            compass: Compass::default(),
            compass_of: PitchClassSet::EMPTY,
        }
    }

    /// The best voicing with exactly `parts` notes that costs less than `limit`.
    pub(crate) fn search_below(&mut self, parts: usize, limit: i32) -> Found {
        let parts = parts.min(MAX_PARTS);
        let classes = wanted_classes(self.request.chord, parts);
        // Notes laid out for more parts do for fewer.
        if self.compass_of != classes || self.compass.above() + 1 < parts {
            self.lay_out(classes, parts.saturating_sub(1));
        }
        let mut walk = Walk {
            request: self.request,
            weighing: self.weighing,
            parts,
            compass: &self.compass,
            required: self.required,
            classes,
            doublable: self.doublable,
            least_doubling: self.weighing.least_doubling(self.doublable.intersection(classes)),
            concord: self.concord,
            within_right: self.within_right,
            best: Found { cost: limit.min(NO_WAY), ..Found::default() },
            notes: ArrayVec::new(),
        };
        for bass in &self.basses {
            walk.grow_from(*bass);
        }
        walk.best
    }

    /// Lays out the notes of some classes that one of the hands may reach.
    fn lay_out(&mut self, classes: PitchClassSet, above: usize) {
        let (request, concord) = (self.request, &self.concord);
        let lowest = i32::from(request.kept_bass.unwrap_or(request.bass_range.0).key());
        let highest_bass = self.basses.iter().map(|bass| i32::from(bass.key())).max();
        let within_left = highest_bass.unwrap_or(0) + request.reach;
        let candidates = (lowest..=self.top).filter(|key| *key <= within_left || *key >= self.within_right);
        let candidates = candidates.filter_map(Pitch::from_i32);
        let candidates = candidates.filter(|pitch| classes.contains(pitch.class()) && concord.allows(*pitch));
        self.compass_of = classes;
        self.compass.lay_out(self.weighing, candidates, above, |lower, upper| {
            concord.agree(lower, upper) && clear(request, lower, upper)
        });
    }
}

/// Whether two neighbours are as clear as is asked.
fn clear(request: &Request, lower: Pitch, upper: Pitch) -> bool {
    if request.lenient {
        is_nearly_clear(lower, upper, request.clarity)
    } else {
        is_clear(lower, upper, request.clarity)
    }
}

/// What goes with the melody, and what with what.
#[derive(Clone, Copy)]
struct Concord {
    melody: Option<Pitch>,
    /// The melody's class, if it is a tone that the accompaniment mustn't double.
    tense: Option<PitchClass>,
    bass: PitchClass,
    /// The root that bears a flat ninth.
    dominant_root: Option<PitchClass>,
}

impl Concord {
    fn of(request: &Request) -> Self {
        let chord = request.chord;
        let tense = |class: PitchClass| match chord.degree(class) {
            Some(Degree::Seventh) => true,
            degree => leading_tone(request.key) == class && degree != Some(Degree::Root),
        };
        Self {
            melody: request.melody,
            tense: request.melody.map(Pitch::class).filter(|class| tense(*class)),
            bass: chord.bass,
            dominant_root: chord.is_dominant().then_some(chord.root),
        }
    }

    /// Whether a part may sound under the melody: no minor second or ninth, and not its tense tone again.
    fn allows(&self, pitch: Pitch) -> bool {
        self.melody.is_none_or(|melody| {
            melody > pitch
                && self.agree(pitch, melody)
                && (self.tense != Some(pitch.class()) || self.bass == pitch.class())
        })
    }

    /// No minor second or minor ninth; the flat ninth over a dominant's root excepted (Levine, The Jazz Theory Book,
    /// 1995; Lowell and Pullig 2003; from memory).
    fn agree(&self, lower: Pitch, upper: Pitch) -> bool {
        match upper.above(lower) {
            1 => false,
            13 => self.dominant_root == Some(lower.class()),
            _ => true,
        }
    }
}

/// Whether a lone bass goes with the melody.
pub(crate) fn goes_with_melody(request: &Request, bass: Pitch) -> bool {
    Concord::of(request).allows(bass)
}

fn within_reason(request: &Request, concord: &Concord, required: PitchClassSet, top: i32) -> PitchClassSet {
    let lowest = request.bass_range.0;
    let possible = |class: PitchClass| {
        bass_candidates(class, lowest, Pitch::new(top.clamp(0, 127) as u8)).any(|pitch| concord.allows(pitch))
    };
    required.iter().filter(|class| request.sung != Some(*class) && possible(*class)).collect()
}

struct Walk<'a> {
    request: &'a Request,
    weighing: &'a Weighing<'a>,
    parts: usize,
    compass: &'a Compass,
    required: PitchClassSet,
    /// Classes worth sounding above the bass.
    classes: PitchClassSet,
    /// Classes that may sound twice, and what that costs at least.
    doublable: PitchClassSet,
    least_doubling: i32,
    concord: Concord,
    /// The lowest key that the right hand reaches from what it has to hold; 0 if that is nothing.
    within_right: i32,
    best: Found,
    notes: ArrayVec<Pitch, MAX_PARTS>,
}

/// A set of notes in the making.
#[derive(Clone, Copy)]
struct Partial {
    spent: i32,
    /// First candidate that may come next.
    next: usize,
    /// The gap below the last note.
    gap: Option<i32>,
    classes: PitchClassSet,
    keys: u128,
    /// Notes that only the left hand reaches, and the lowest that only the right hand does.
    left: usize,
    right_from: i32,
}

/// A note that may come next.
#[derive(Clone, Copy)]
struct Step {
    /// The least that a voicing with it costs.
    least: i32,
    n: usize,
    spent: i32,
}

impl Walk<'_> {
    fn grow_from(&mut self, bass: Pitch) {
        self.notes.clear();
        self.notes.push(bass);
        self.grow(Partial {
            spent: self.weighing.of_bass(bass) + self.weighing.of_class(bass.class(), PitchClassSet::EMPTY),
            next: self.compass.from(i32::from(bass.key()) + NARROWEST_GAP),
            gap: None,
            classes: PitchClassSet::EMPTY.with(bass.class()),
            keys: 1 << bass.key(),
            left: 1,
            right_from: i32::MAX,
        });
    }

    /// Adds every allowed note above those there are, the most promising first.
    fn grow(&mut self, partial: Partial) {
        self.best.nodes += 1;
        if self.notes.len() >= self.parts {
            self.weigh(partial);
            return;
        }
        let mut steps = self.steps(partial);
        while let Some((place, step)) = steps.iter().copied().enumerate().min_by_key(|(_, s)| (s.least, s.n))
        {
            let hopeless =
                step.least > self.best.cost || step.least == self.best.cost && self.best.voicing.is_none();
            if hopeless {
                return;
            }
            steps.swap_remove(place);
            let Some(&note) = self.compass.get(step.n) else { return };
            if step.least == self.best.cost && self.lies_higher_than_best(note.pitch) {
                continue;
            }
            let next = self.with(partial, &note, step);
            self.notes.push(note.pitch);
            self.grow(next);
            self.notes.pop();
        }
    }

    /// The notes that may come next, with the least that they lead to.
    fn steps(&self, partial: Partial) -> ArrayVec<Step, 128> {
        let mut steps = ArrayVec::new();
        let (Some(&bass), Some(&last)) = (self.notes.first(), self.notes.last()) else { return steps };
        let room = self.parts - self.notes.len();
        let missing = self.required.difference(partial.classes);
        let urgent = missing.len() as usize >= room;
        // The bass may lie far below; the rest stays together.
        let lowest = self.notes.len() == 1;
        let widest = if lowest { 127 } else { WIDEST_GAP };
        for n in partial.next..self.compass.len() {
            let Some(note) = self.compass.get(n) else { break };
            let gap = note.pitch.above(last);
            if gap > widest {
                break;
            }
            let doubled = partial.classes.contains(note.class);
            if gap < NARROWEST_GAP
                || urgent && !missing.contains(note.class)
                || doubled && !self.doublable.contains(note.class)
                || !self.in_reach(partial, bass, note.pitch)
                || self.rubs(partial.keys, note.pitch)
                || !clear(self.request, last, note.pitch)
            {
                continue;
            }
            let spent = partial.spent
                + self.weighing.of_gap(last, note.pitch, lowest)
                + self.weighing.of_widening(partial.gap, gap)
                + note.way
                + self.weighing.of_letting_go(bass, note.pitch)
                + self.weighing.of_class(note.class, partial.classes);
            let keys = partial.keys | 1 << note.pitch.key();
            let classes = partial.classes.with(note.class);
            let mut least = spent
                + note.least(room - 1)
                + self.least_of_classes(classes, room - 1)
                + self.weighing.of_wishes(keys, note.pitch.key())
                + self.weighing.of_left_hand(partial.left);
            if room == 1 {
                least += self.weighing.of_outer(bass, note.pitch);
            }
            if least <= self.best.cost && steps.try_push(Step { least, n, spent }).is_err() {
                break;
            }
        }
        steps
    }

    /// The least that doublings and omissions cost when so many more notes come.
    fn least_of_classes(&self, sounding: PitchClassSet, more: usize) -> i32 {
        let fresh = self.classes.difference(sounding).len() as usize;
        more.saturating_sub(fresh) as i32 * self.least_doubling
            + self.weighing.least_of_omissions(sounding, more)
    }

    fn with(&self, partial: Partial, note: &Candidate, step: Step) -> Partial {
        let key = i32::from(note.pitch.key());
        let bass = self.notes.first().map_or(0, |bass| i32::from(bass.key()));
        Partial {
            spent: step.spent,
            next: step.n + 1,
            gap: self.notes.last().map(|last| note.pitch.above(*last)),
            classes: partial.classes.with(note.class),
            keys: partial.keys | 1 << note.pitch.key(),
            left: partial.left + usize::from(key < self.within_right),
            right_from: if key - bass > self.request.reach || self.request.rung == Rung::Spaced {
                partial.right_from.min(key)
            } else {
                partial.right_from
            },
        }
    }

    /// Whether the notes so far, with one more, are no better among equals than the best so far.
    fn lies_higher_than_best(&self, next: Pitch) -> bool {
        let Some(best) = &self.best.voicing else { return false };
        let here = self.notes.iter().copied().chain(Some(next));
        best.notes().iter().copied().take(self.notes.len() + 1).lt(here)
    }

    /// Whether a note is a minor second or a minor ninth above one of the keys.
    fn rubs(&self, keys: u128, pitch: Pitch) -> bool {
        let key = u32::from(pitch.key());
        let holds = |below: u32| key >= below && keys >> (key - below) & 1 == 1;
        holds(1) || holds(13) && self.concord.dominant_root != Some(pitch.class().transpose(-1))
    }

    /// Whether one of the hands can take the note at all: the left from the bass, or the right, within its
    /// reach of what only it can take and of the melody it holds. On the rung Spaced the left has the bass
    /// alone.
    fn in_reach(&self, partial: Partial, bass: Pitch, pitch: Pitch) -> bool {
        let (key, reach) = (i32::from(pitch.key()), self.request.reach);
        let left = pitch.above(bass) <= reach && self.request.rung != Rung::Spaced;
        (left || key >= self.within_right)
            && (partial.right_from == i32::MAX || key - partial.right_from <= reach)
    }

    fn weigh(&mut self, partial: Partial) {
        let request = self.request;
        let (Some(&bass), Some(&top)) = (self.notes.first(), self.notes.last()) else { return };
        if !self.required.is_subset_of(partial.classes) {
            return;
        }
        let Some(left) = request.hands(&self.notes) else { return };
        if request.rung == Rung::Spaced && left > 1 {
            return;
        }
        let cost = partial.spent
            + self.weighing.of_top(top)
            + self.weighing.of_outer(bass, top)
            + self.weighing.of_omissions(partial.classes)
            + self.weighing.of_wishes(partial.keys, 127)
            + self.weighing.of_left_hand(left);
        let lower = |best: &Voicing| self.notes.iter().lt(best.notes().iter());
        if cost < self.best.cost || cost == self.best.cost && self.best.voicing.as_ref().is_some_and(lower) {
            self.best.cost = cost;
            self.best.voicing = Some(Voicing::new(self.notes.iter().copied(), left));
        }
    }
}

/// The leading tone of a key, major or (raised) minor.
fn leading_tone(key: Key) -> PitchClass {
    key.tonic.transpose(-1)
}

/// Neither the seventh nor the leading tone is doubled (Collaros, part-writing, course sheet), nor is a colour tone. The
/// seventh degree as a chord's root leads nowhere.
pub(crate) fn may_be_doubled(degree: Option<Degree>, class: PitchClass, key: Key) -> bool {
    match degree {
        Some(Degree::Root) => true,
        Some(Degree::Third | Degree::Fifth) => class != leading_tone(key),
        _ => false,
    }
}

#[cfg(test)]
mod tests;
