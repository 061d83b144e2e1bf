//! The figure book: how textures lie in the bar, as data.
//!
//! A figure is written for one or more metres; in each it has a pattern of steps that tiles whole bars.
//! Patterns are plain values with fixed capacity; the preset crate reads them from files.

use arrayvec::ArrayVec;
use figwort_theory::{Metre, Span};

/// Most steps in a pattern.
pub const MAX_STEPS: usize = 32;
/// Most metres of a figure.
pub const MAX_PATTERNS: usize = 8;

/// A texture's pattern, for several metres.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Figure {
    /// Names the figure in decisions and snapshots; the front-end knows which name it stands for.
    pub id: u16,
    /// What kind of movement it is.
    pub family: Family,
    /// How readily it is chosen among its family, 1 to 100.
    pub weight: u8,
    /// One pattern for each metre.
    pub patterns: ArrayVec<Pattern, MAX_PATTERNS>,
}

impl Figure {
    /// The pattern for a metre, if the figure claims it.
    pub fn pattern(&self, metre: Metre) -> Option<&Pattern> {
        self.patterns.iter().find(|pattern| pattern.metre == metre)
    }
}

/// Families of figures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Family {
    /// One chord's notes spread over time.
    BrokenChord,
    /// The chord struck again and again in a rhythm.
    RepeatedChord,
    /// The bass moves through passing notes.
    BassLine,
}

impl Family {
    /// The trade's name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::BrokenChord => "broken chord",
            Self::RepeatedChord => "repeated chord",
            Self::BassLine => "bass line",
        }
    }
}

/// The steps of a figure in one metre.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pattern {
    /// The metre.
    pub metre: Metre,
    /// How many bars it takes, 1 to 4.
    pub bars: u8,
    /// The steps in order of time.
    pub steps: ArrayVec<Step, MAX_STEPS>,
}

/// One step: somebody plays something somewhere in the bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Step {
    /// From the pattern's start, less than its length.
    pub at: Span,
    /// Which parts play.
    pub who: Who,
    /// For how long.
    pub hold: Hold,
    /// Velocity steps against the accent of the place, -40 to 40.
    pub strength: i8,
}

/// Which parts of the voicing a step concerns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Who {
    /// The lowest part.
    Bass,
    /// The *n*th part above the bass, from below, counted from 1; where there are fewer, counting turns back
    /// at the top.
    Inner(u8),
    /// The highest part of the accompaniment.
    Top,
    /// Everything above the bass.
    Upper,
    /// The right hand's parts.
    Right,
    /// The left hand's parts.
    Left,
    /// Every part.
    All,
    /// The bass moves on its way: a passing note towards the line's goal.
    BassPassing,
    /// The bass arrives at the line's goal, a chord tone.
    BassGoal,
}

/// How long a step's notes last.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hold {
    /// A length of musical time.
    For(Span),
    /// Until the chord's time is over.
    Through,
}
