//! The figure book: how textures lie in the bar, as data.
//!
//! A figure is written for one or more metres; in each it has a pattern of steps that tiles whole bars.
//! Patterns are plain values with fixed capacity; the preset crate reads them from files.

use arrayvec::ArrayVec;
use figwort_theory::{Metre, Span};

/// Most steps in a pattern.
pub const MAX_STEPS: usize = 32;
/// Most metres of a figure.
pub const MAX_PATTERNS: usize = 17;

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
    /// A chord laid out while the melody moves: held, or laid down again in few strokes.
    Block,
    /// One chord's notes spread over time.
    BrokenChord,
    /// The chord struck again and again in a rhythm.
    RepeatedChord,
    /// The bass moves through passing notes.
    BassLine,
    /// A part between bass and melody moves while the others are held.
    InnerLine,
    /// How the last chord is played.
    Ending,
}

impl Family {
    /// All of them.
    pub const ALL: [Self; 6] =
        [Self::Block, Self::BrokenChord, Self::RepeatedChord, Self::BassLine, Self::InnerLine, Self::Ending];

    /// The trade's name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Block => "block",
            Self::BrokenChord => "broken chord",
            Self::RepeatedChord => "repeated chord",
            Self::BassLine => "bass line",
            Self::InnerLine => "inner line",
            Self::Ending => "ending",
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
    /// Whether it is that of a metre counted alike, in notes of other lengths, and not written for this one.
    pub lent: bool,
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
    /// A part's line moves on; which note it takes is worked out.
    Line(Thread, Aim),
    /// The parts above the bass as the next chord or bar will have them, where that is known; else as they
    /// are.
    Next,
    /// The octave below the bass.
    BelowBass,
    /// The *n*th chord tone above the melody, from 1: for last chords.
    Climb(u8),
}

/// Which part of the voicing a line leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Thread {
    /// The bass.
    Bass,
    /// The part above the bass that has the most room below it, the top one excepted where there are others.
    Inner,
    /// The top part of the accompaniment.
    Top,
}

impl Thread {
    /// All of them, by [`Thread::index`].
    pub const ALL: [Self; 3] = [Self::Bass, Self::Inner, Self::Top];

    /// Its place in [`Thread::ALL`].
    pub const fn index(self) -> usize {
        self as usize
    }
}

/// What a step of a line is to be. A wish, but for [`Aim::Tone`]; the definitions of non-chord tones come
/// first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Aim {
    /// By step, whatever it is.
    Step,
    /// A chord tone, and another than the line's last: always so.
    Tone,
    /// A passing note.
    Passing,
    /// A neighbour, from which the line returns.
    Neighbour,
    /// By step to what follows: the note before the next chord's.
    Approach,
    /// As [`Aim::Approach`], a semitone away.
    Chromatic,
    /// A step of the scale towards what follows.
    Run,
    /// A step down.
    Down,
    /// A step up.
    Up,
    /// A chord tone by leap.
    Leap,
    /// A tenth over the note that the bass has at the time.
    Tenth,
}

/// How long a step's notes last.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hold {
    /// A length of musical time.
    For(Span),
    /// Until the chord's time is over.
    Through,
    /// Over the bar line or the change of harmony, where the notes belong to what follows; they aren't struck
    /// again then.
    Over,
}
