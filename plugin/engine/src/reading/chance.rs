//! The chance that the melody note just struck will last: 1.5 felt beats or more, and 2 or more.
//!
//! At each onset everything known so far is put into numbers, the cues: the place in the bar, the notes
//! before, the phrase, the harmony, what this tune did at the same place some bars ago, how the same rhythm
//! went on before, and counts of what came of like circumstances in this tune. Trees whose weights come from
//! open collections (the prior) turn the cues into odds, and a last step leans them as this tune shows that
//! it differs. A length is the time from onset to onset; silence in between counts as part of it.
//!
//! Nothing is known of what comes later, nothing is allocated, and the work for an onset is bounded: it
//! doesn't depend on how long the tune is. Deliberately absent: what to do about it.

mod counts;
mod cues;
mod past;
mod prior;
mod trees;

use figwort_theory::{Moment, Span};

pub use cues::CUES;
pub use prior::PRIOR;
pub use trees::{DEPTH, LEAVES, Prior, Tree};

use super::clock::Bar;
use counts::Counts;
use cues::Course;
use past::{LONGEST, Note, Past};

/// From this chance of 1.5 beats on, a note is taken for long. Measured over 75 songs: such notes are long
/// in nine cases of ten, and seven of ten long notes are among them.
pub const LIKELY: f32 = 0.7;

/// Stands for the distance from a root that isn't there.
pub const NO_CHORD: u8 = 12;

/// One and a half beats, and two, in twelfths of a beat.
const HALF: u8 = 18;
const TWO: u8 = 24;
/// How fast a tune's own leaning is learned.
const LEAN: f32 = 0.05;
/// How fast it is learned how far the prior's odds can be trusted in this tune.
const TRUST: f32 = 0.02;

/// What is known besides time and place when a melody note is struck.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Around {
    /// The note's MIDI key.
    pub key: u8,
    /// Semitones above the key's tonic, 0 to 11.
    pub degree: u8,
    /// Semitones above the chord's root, 0 to 11, or [`NO_CHORD`].
    pub chord_degree: u8,
    /// When the harmony changed last.
    pub changed: Option<Moment>,
}

/// How likely a note is to last, each 0 to 1.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Odds {
    /// For 1.5 felt beats or more.
    pub half: f32,
    /// For 2 felt beats or more; never more than `half`.
    pub two: f32,
}

/// An onset in the measures of the cues.
#[derive(Clone, Copy, Debug)]
struct Struck {
    beats: u8,
    compound: bool,
    level: u8,
    degree: u8,
    chord_degree: u8,
    chord_age: u8,
    fresh: bool,
}

/// How this tune's notes differ from what the prior expects.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Own {
    lean: f32,
    trust: f32,
}

impl Own {
    const NONE: Self = Self { lean: 0.0, trust: 1.0 };

    fn chance(self, logit: f32) -> f32 {
        squash(self.trust * logit + self.lean)
    }

    fn learn(&mut self, logit: f32, long: bool) {
        let error = f32::from(u8::from(long)) - self.chance(logit);
        self.lean = (self.lean + LEAN * error).clamp(-2.0, 2.0);
        self.trust = (self.trust + TRUST * error * logit.clamp(-6.0, 6.0)).clamp(0.4, 2.0);
    }
}

/// What the last onset changed, so that it can be taken back.
#[derive(Clone, Copy, Debug)]
struct Before {
    past: past::Before,
    counts: Option<counts::Before>,
    course: Course,
    last: Option<Moment>,
    own: [Own; 2],
    logits: [f32; 2],
    odds: Odds,
}

/// Listens to a melody and tells its long notes when they are struck. About 44 KiB.
#[derive(Clone, Debug)]
pub struct Chance {
    prior: Prior,
    past: Past,
    counts: Counts,
    course: Course,
    /// The last onset, drawn to its place.
    last: Option<Moment>,
    /// The tune's first full bar.
    first_bar: i64,
    cues: [u8; CUES],
    own: [Own; 2],
    /// Log-odds of the last onset as the prior has them.
    logits: [f32; 2],
    odds: Odds,
    before: Option<Before>,
}

impl Default for Chance {
    fn default() -> Self {
        Self::new(PRIOR)
    }
}

impl Chance {
    /// A listener that has heard nothing yet.
    pub const fn new(prior: Prior) -> Self {
        Self {
            prior,
            past: Past::NONE,
            counts: Counts::NONE,
            course: Course::NONE,
            last: None,
            first_bar: 0,
            cues: [0; CUES],
            own: [Own::NONE; 2],
            logits: [0.0; 2],
            odds: Odds { half: 0.0, two: 0.0 },
            before: None,
        }
    }

    /// Forgets the tune.
    pub fn clear(&mut self) {
        *self = Self::new(self.prior);
    }

    /// A note is struck: returns the chance that it will last. `bar` is the bar that holds `now`. Takes
    /// bounded time.
    pub fn strike(&mut self, now: Moment, bar: Bar, around: Around) -> Odds {
        let beat = bar.metre.beat().0.max(1);
        let place = Place::of(now, bar, beat);
        // However unevenly it is played, a later note is later.
        let at = match self.last {
            Some(last) if place.at <= last => last + Span((beat / 12).max(1)),
            _ => place.at,
        };
        if self.past.count() == 0 {
            // After a pick-up, the first full bar is the first.
            self.first_bar = place.bar.saturating_add(i64::from(place.twelfths * 2 >= place.full));
        }
        let length = self.last.map_or(0, |last| twelfths(at - last, beat).clamp(1, i64::from(LONGEST)) as u8);
        let (course, own, last) = (self.course, self.own, self.last);
        let counts = self.counts.learn(length);
        if self.past.count() > 0 {
            for ((own, logit), least) in self.own.iter_mut().zip(self.logits).zip([HALF, TWO]) {
                own.learn(logit, length >= least);
            }
        }
        let note = Note {
            bar: place.bar.saturating_sub(self.first_bar).clamp(-100, 30_000) as i16,
            place: place.twelfths.clamp(0, 255) as u8,
            length: 0,
            key: around.key,
        };
        let past = self.past.strike(note, length);
        let (logits, odds) = (self.logits, self.odds);
        self.before = Some(Before { past, counts, course, last, own, logits, odds });
        self.last = Some(at);
        self.course.strike(&self.past, length);
        let age = around.changed.map_or(255, |changed| twelfths(now - changed, beat).clamp(0, 250) as u8);
        let struck = Struck {
            beats: (bar.metre.bar().0 / beat).clamp(1, 21) as u8,
            compound: bar.metre.is_compound(),
            level: bar.metre.level(Span(place.twelfths * beat / 12)),
            degree: around.degree,
            chord_degree: around.chord_degree,
            chord_age: age,
            fresh: age < 2,
        };
        let counts = self.counts.look(&self.course.circumstances(&self.past, &struck));
        self.cues = self.course.cues(&self.past, &struck, &counts);
        self.logits = self.prior.weigh(&self.cues);
        let half = self.own[0].chance(self.logits[0]);
        self.odds = Odds { half, two: self.own[1].chance(self.logits[1]).min(half) };
        self.odds
    }

    /// The note struck last was an ornament: it counts as not struck. Only the last one can be taken back.
    pub fn take_back(&mut self) {
        if let Some(before) = self.before.take() {
            self.past.take_back(before.past);
            self.counts.take_back(before.counts);
            self.course = before.course;
            self.last = before.last;
            self.own = before.own;
            self.logits = before.logits;
            self.odds = before.odds;
        }
    }

    /// The chance of the note struck last.
    pub fn odds(&self) -> Odds {
        self.odds
    }

    /// The cues of the note struck last, for the training of the prior.
    pub fn cues(&self) -> &[u8; CUES] {
        &self.cues
    }
}

/// Where an onset belongs.
struct Place {
    bar: i64,
    twelfths: i64,
    /// Length of the bar.
    full: i64,
    at: Moment,
}

impl Place {
    fn of(now: Moment, bar: Bar, beat: i64) -> Self {
        // A pick-up is the end of a bar.
        let lacks = if bar.index == 0 { Span((bar.metre.bar() - bar.length).0.max(0)) } else { Span::ZERO };
        let start = bar.start - lacks;
        let full = twelfths(bar.metre.bar(), beat);
        let place = grid(now - start, beat);
        if place >= full.max(1) {
            // Struck a little early.
            return Self { bar: bar.index.saturating_add(1), twelfths: 0, full, at: bar.end() };
        }
        Self { bar: bar.index, twelfths: place, full, at: start + Span(place * beat / 12) }
    }
}

fn twelfths(span: Span, beat: i64) -> i64 {
    span.0.saturating_mul(12) / beat
}

/// A length in twelfths of a beat, drawn to the halves, thirds and quarters of the beat.
fn grid(span: Span, beat: i64) -> i64 {
    const NEAREST: [i64; 24] = [0, 0, 2, 2, 2, 3, 3, 4, 4, 4, 6, 6, 6, 6, 8, 8, 8, 9, 9, 10, 10, 10, 12, 12];
    let fine = (span.0.clamp(0, i64::MAX / 64) * 24 + beat / 2) / beat;
    fine / 24 * 12 + NEAREST[(fine % 24) as usize]
}

/// 1 / (1 + e^-x), to within 1e-5.
fn squash(x: f32) -> f32 {
    // e^-|x| = 2^-y; the whole part of y goes into the exponent, the rest is a polynomial.
    let y = x.abs().min(30.0) * core::f32::consts::LOG2_E;
    let whole = y as u32;
    let rest = -(y - whole as f32) * core::f32::consts::LN_2;
    let power = 1.0 + rest * (1.0 + rest * (0.5 + rest * (1.0 / 6.0 + rest * (1.0 / 24.0 + rest / 120.0))));
    let small = power * f32::from_bits((127 - whole.min(126)) << 23);
    let low = small / (1.0 + small);
    if x < 0.0 { low } else { 1.0 - low }
}

#[cfg(test)]
mod tests;
