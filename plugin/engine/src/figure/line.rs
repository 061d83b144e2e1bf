//! Lines: the way of one part from a chord tone through the steps of a figure to what follows.
//!
//! [`solve`] is a pure function: exact dynamic programming over the pitches of the part's range and the
//! places in which a non-chord tone may be ([`motion`]), so every note is a chord tone or meets exactly one
//! definition. What is allowed is never weighed; what is wished for ([`cost`]) decides among that. Bounded
//! time, no allocation; `None` where no way keeps the rules.
//!
//! It does not know time in frames, nor hands' fingers, nor what was played; the caller says what is in the
//! way.

pub mod cost;
pub mod motion;

use arrayvec::ArrayVec;
use figwort_theory::{Chord, Key, Pitch, PitchClass, PitchClassSet};

use crate::book::{Aim, MAX_STEPS};
use crate::voicing::MAX_PARTS;
use crate::voicing::spacing::is_clear;
use motion::{PLACES, Place, Step, go};

/// Most notes that are solved at once; a longer line is solved in pieces that each end on a chord tone.
pub const MAX_NOTES: usize = 12;
/// Pitches on either side of the start that a line may take.
const WINDOW: i32 = 12;
/// The widest way out of a non-chord tone, in semitones.
const NEARBY: i32 = 5;
const PITCHES: usize = 2 * WINDOW as usize + 1;
/// Places, each also for a line that turned round with its last note.
const STATES: usize = 2 * PLACES;
/// More than any way costs.
const NEVER: u16 = u16::MAX;

/// One note that is asked for.
#[derive(Clone, Debug)]
pub struct Wanted {
    /// What it is to be.
    pub aim: Aim,
    /// Metrical weight of its place.
    pub level: u8,
    /// The lowest and the highest melody note that sounds with it.
    pub melody: Option<(Pitch, Pitch)>,
    /// Whether it is within a beat of what follows the line, so that it may anticipate that.
    pub soon: bool,
    /// The note that the bass has at the time, for tenths.
    pub bass: Option<Pitch>,
    /// What else sounds with it: notes of parts that move, too, and what is left of others.
    pub beside: Held,
}

/// What comes after a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Target {
    /// Nothing is known of it: the line has to end on a chord tone.
    Open,
    /// This pitch, at a place of this metrical weight.
    Known {
        /// The pitch that the part takes next.
        pitch: Pitch,
        /// Its place's weight.
        level: u8,
        /// Whether another chord begins with it.
        change: bool,
    },
}

/// A line to be found.
#[derive(Clone, Copy, Debug)]
pub struct Task<'a> {
    /// The chord tone that the part has now.
    pub start: Pitch,
    /// The chord.
    pub chord: Chord,
    /// The key.
    pub key: Key,
    /// The notes, in order.
    pub steps: &'a [Wanted],
    /// What follows.
    pub target: Target,
    /// What comes after the target, where that is known and the line goes home before: a neighbour that is
    /// this very note takes away from it.
    pub follows_home: Option<Pitch>,
    /// The lowest note allowed.
    pub low: Pitch,
    /// The highest note allowed.
    pub high: Pitch,
    /// The other parts, which are held all the time.
    pub held: &'a [Pitch],
    /// Moves the low interval limits, in semitones.
    pub clarity: i32,
    /// The widest distance to the melody; for a hand that holds both.
    pub reach: i32,
}

/// The notes of a line.
pub type Notes = ArrayVec<(Pitch, bool), MAX_NOTES>;

/// Notes that a line may pass through: the key's scale, bent to the chord.
pub fn scale(chord: Chord, key: Key) -> PitchClassSet {
    let (tones, scale) = (chord.classes(), key.scale());
    // A chord tone outside the key displaces its neighbours a semitone away.
    let altered = |class: PitchClass| tones.contains(class) && !scale.contains(class);
    let kept = |class: &PitchClass| {
        tones.contains(*class) || !altered(class.transpose(1)) && !altered(class.transpose(-1))
    };
    scale.iter().filter(kept).collect::<PitchClassSet>().union(tones)
}

/// The line of least cost, each note with whether it is a chord tone; `None` if the start is no chord tone
/// or no way keeps the rules.
pub fn solve(task: &Task<'_>) -> Option<Notes> {
    let tones = task.chord.classes();
    let steps = task.steps.get(..task.steps.len().min(MAX_NOTES))?;
    if steps.is_empty() || !tones.contains(task.start.class()) {
        return None;
    }
    let whole = steps.len() == task.steps.len();
    let target = if whole { task.target } else { Target::Open };
    let walk = Walk { task, tones, scale: scale(task.chord, task.key), target };
    let mut costs = [[NEVER; STATES]; PITCHES];
    let mut ways = [[[0u16; STATES]; PITCHES]; MAX_NOTES];
    costs[WINDOW as usize][State::START.index()] = 0;
    let mut aim = None;
    for (n, wanted) in steps.iter().enumerate() {
        let last = n + 1 == steps.len();
        let mut next = [[NEVER; STATES]; PITCHES];
        let free: [bool; PITCHES] =
            core::array::from_fn(|index| walk.pitch(index).is_some_and(|pitch| walk.is_free(pitch, wanted)));
        for (from, row) in costs.iter().enumerate() {
            for (state, cost) in row.iter().enumerate().filter(|(_, cost)| **cost < NEVER) {
                let Some(at) = State::of(state) else { continue };
                // What is owed is owed nearby.
                let most = if at.place.is_tone() { WINDOW } else { NEARBY };
                for by in -most..=most {
                    let Ok(to) = usize::try_from(from as i32 + by) else { continue };
                    if !free.get(to).copied().unwrap_or(false) {
                        continue;
                    }
                    let Some((arrived, more)) = walk.step(at, by, to, aim, wanted, last) else {
                        continue;
                    };
                    let total = cost.saturating_add(more).min(NEVER - 1);
                    if let (Some(best), Some(way)) =
                        (cell(&mut next, to, arrived), ways.get_mut(n).and_then(|w| cell(w, to, arrived)))
                        && total < *best
                    {
                        *best = total;
                        *way = (from * STATES + state) as u16;
                    }
                }
            }
        }
        costs = next;
        aim = Some(wanted.aim);
    }
    walk.trace(&costs, &ways, steps.len(), aim)
}

fn cell<T>(table: &mut [[T; STATES]; PITCHES], pitch: usize, state: usize) -> Option<&mut T> {
    table.get_mut(pitch)?.get_mut(state)
}

/// All that the rest of a line depends on, but for its pitch.
#[derive(Clone, Copy)]
struct State {
    place: Place,
    /// It went back to the note before the last with its last step.
    turned: bool,
}

impl State {
    const START: Self = Self { place: Place::Tone(0), turned: false };

    fn index(self) -> usize {
        self.place.index() + if self.turned { PLACES } else { 0 }
    }

    fn of(index: usize) -> Option<Self> {
        Some(Self { place: *Place::ALL.get(index % PLACES)?, turned: index >= PLACES })
    }
}

struct Walk<'a> {
    task: &'a Task<'a>,
    tones: PitchClassSet,
    scale: PitchClassSet,
    target: Target,
}

impl Walk<'_> {
    fn pitch(&self, index: usize) -> Option<Pitch> {
        self.task.start.transpose(index as i32 - WINDOW)
    }

    /// Whether nothing is in the way of a pitch at a step.
    fn is_free(&self, pitch: Pitch, wanted: &Wanted) -> bool {
        let task = self.task;
        let rubs = |other: Pitch| matches!(other.above(pitch).abs(), 1 | 13);
        let below_melody = wanted.melody.is_none_or(|(lowest, highest)| {
            lowest.above(pitch) >= crate::voicing::UNDER_MELODY
                && highest.above(pitch) <= task.reach
                && !rubs(lowest)
                && !rubs(highest)
        });
        let others = || task.held.iter().chain(&wanted.beside);
        let neighbours = others().filter(|other| **other > pitch).min();
        let under = others().filter(|other| **other < pitch).max();
        let clear = neighbours.is_none_or(|above| is_clear(pitch, *above, task.clarity))
            && under.is_none_or(|below| is_clear(*below, pitch, task.clarity));
        let tenth =
            wanted.aim != Aim::Tenth || wanted.bass.is_some_and(|bass| matches!(pitch.above(bass), 15 | 16));
        (task.low..=task.high).contains(&pitch)
            && below_melody
            && clear
            && tenth
            && !others().any(|other| rubs(*other) || *other == pitch)
    }

    /// Where a step leads and what it costs.
    fn step(
        &self,
        State { place: from, turned }: State,
        by: i32,
        to: usize,
        left: Option<Aim>,
        wanted: &Wanted,
        last: bool,
    ) -> Option<(usize, u16)> {
        let pitch = self.pitch(to)?;
        let tone = self.tones.contains(pitch.class());
        let early = match self.target {
            // From a weaker place than the change's.
            Target::Known { pitch: next, change: true, level } => {
                last && wanted.soon && next == pitch && level < wanted.level
            }
            _ => false,
        };
        let arrived = go(from, Step { by, tone, early, level: wanted.level })?;
        let in_scale = self.scale.contains(pitch.class());
        let towards = match self.target {
            Target::Known { pitch: next, .. } => next.above(pitch.transpose(-by)?),
            Target::Open => 0,
        };
        let here = cost::Here { by, arrived, in_scale, level: wanted.level, towards };
        let wish = cost::entering(wanted.aim, here)?;
        let leaving =
            left.map_or(0, |aim| cost::leaving(aim, by, from, false) + cost::turning(aim, by, from, turned));
        let said_early = wanted.aim == Aim::Neighbour && self.task.follows_home == Some(pitch);
        let forestalled = if said_early { cost::FORESTALLED } else { 0 };
        let far = pitch.above(self.task.start).abs() - 7;
        let state = State { place: arrived, turned: from.is_left_again(by) };
        Some((state.index(), wish + leaving + forestalled + cost::FAR * far.max(0) as u16))
    }

    /// The best way to what follows, read backwards.
    fn trace(
        &self,
        costs: &[[u16; STATES]; PITCHES],
        ways: &[[[u16; STATES]; PITCHES]; MAX_NOTES],
        count: usize,
        aim: Option<Aim>,
    ) -> Option<Notes> {
        let mut best: Option<(u16, usize, usize)> = None;
        for (index, row) in costs.iter().enumerate() {
            let Some(pitch) = self.pitch(index) else { continue };
            for (state, cost) in row.iter().enumerate().filter(|(_, cost)| **cost < NEVER) {
                let State { place: at, turned } = State::of(state)?;
                let end = match self.target {
                    Target::Open => at.is_tone().then_some(0),
                    Target::Known { pitch: next, level: there, .. } => {
                        let by = next.above(pitch);
                        let step = Step { by, tone: true, early: false, level: there };
                        let aim = aim.unwrap_or(Aim::Step);
                        // A single note beside the line's own turns nothing round.
                        let turning = if count > 1 { cost::turning(aim, by, at, turned) } else { 0 };
                        go(at, step).map(|_| cost::arriving(aim, by, at) + turning)
                    }
                };
                let Some(end) = end else { continue };
                let total = cost.saturating_add(end);
                if best.is_none_or(|(least, ..)| total < least) {
                    best = Some((total, index, state));
                }
            }
        }
        let (_, mut index, mut state) = best?;
        let mut notes = Notes::new();
        for n in (0..count).rev() {
            notes.try_push((self.pitch(index)?, State::of(state)?.place.is_tone())).ok()?;
            let way = usize::from(*ways.get(n)?.get(index)?.get(state)?);
            (index, state) = (way / STATES, way % STATES);
        }
        notes.reverse();
        Some(notes)
    }
}

/// Held parts beside the one that moves, for [`Task::held`].
pub type Held = ArrayVec<Pitch, MAX_PARTS>;
/// Notes asked for, for [`Task::steps`].
pub type Wishes = ArrayVec<Wanted, MAX_STEPS>;

#[cfg(test)]
mod tests;
