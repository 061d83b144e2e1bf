//! The notes that may lie above the bass, and the least that going on from each of them can cost.
//!
//! The bound: from a note, the cheapest way up through so many more notes, by gaps, ways and top alone. It
//! leaves out what depends on more than two neighbours (widening gaps, doublings, wishes, hands), all of it
//! costs and none of it negative, so that it never exceeds what really comes.

use arrayvec::ArrayVec;
use figwort_theory::{Pitch, PitchClass};

use super::MAX_PARTS;
use super::cost::Weighing;

/// Parts above the bass lie at most this far apart: an octave and a sixth, between the hands.
pub(super) const WIDEST_GAP: i32 = 21;
/// Smallest gap between parts.
pub(super) const NARROWEST_GAP: i32 = 2;
/// More than any voicing costs: no way on.
pub(super) const NO_WAY: i32 = 1 << 24;
/// Keys of a piano's range that belong to a chord: all of them would fit.
const MOST: usize = 128;

/// A note that may be a part.
#[derive(Clone, Copy)]
pub(super) struct Candidate {
    pub(super) pitch: Pitch,
    pub(super) class: PitchClass,
    /// The cost of its way from the voicing before.
    pub(super) way: i32,
    /// The least that 0, 1, 2 … further notes above it cost.
    least: [i32; MAX_PARTS],
}

/// All of them, rising.
#[derive(Default)]
pub(super) struct Compass {
    /// From above, since the ways on are worked out from there.
    falling: ArrayVec<Candidate, MOST>,
    above: usize,
}

impl Compass {
    /// Lays it out anew, of rising pitches, for voicings that have at most `above` notes above the bass.
    /// `fits` says whether two notes may be neighbours.
    pub(super) fn lay_out(
        &mut self,
        weighing: &Weighing<'_>,
        rising: impl DoubleEndedIterator<Item = Pitch>,
        above: usize,
        fits: impl Fn(Pitch, Pitch) -> bool,
    ) {
        let falling = &mut self.falling;
        falling.clear();
        self.above = above;
        for pitch in rising.rev() {
            let mut least = [NO_WAY; MAX_PARTS];
            least[0] = weighing.of_top(pitch);
            for upper in falling.iter().rev() {
                let gap = upper.pitch.above(pitch);
                if gap > WIDEST_GAP {
                    break;
                }
                if gap < NARROWEST_GAP || !fits(pitch, upper.pitch) {
                    continue;
                }
                let step = weighing.of_gap(pitch, upper.pitch, false) + upper.way;
                for (more, further) in least.iter_mut().skip(1).zip(upper.least).take(above) {
                    *more = (*more).min(step + further);
                }
            }
            let way = weighing.of_way(pitch);
            if falling.try_push(Candidate { pitch, class: pitch.class(), way, least }).is_err() {
                break;
            }
        }
    }

    /// How many notes above the bass it was made for.
    pub(super) fn above(&self) -> usize {
        self.above
    }

    /// Number of notes.
    pub(super) fn len(&self) -> usize {
        self.falling.len()
    }

    /// The `n`th note from below.
    pub(super) fn get(&self, n: usize) -> Option<&Candidate> {
        self.falling.get(self.falling.len().checked_sub(n + 1)?)
    }

    /// The first note that is at least `key`.
    pub(super) fn from(&self, key: i32) -> usize {
        self.len() - self.falling.partition_point(|note| i32::from(note.pitch.key()) >= key)
    }
}

impl Candidate {
    /// The least that `more` further notes above this one cost; [`NO_WAY`] or more if there is no room.
    pub(super) fn least(&self, more: usize) -> i32 {
        self.least.get(more).copied().unwrap_or(NO_WAY)
    }
}
