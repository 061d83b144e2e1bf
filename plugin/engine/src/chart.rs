//! A lead sheet as the engine sees it: sorted slices in musical time, repeats played out.
//!
//! The slices are borrowed for one block; building them is the caller's work. Unsorted slices are no
//! danger, but the engine looks things up by bisection and may then miss some.

use figwort_theory::{Chord, Key, Metre, Moment, Pitch, Span, Velocity};

/// A whole sheet.
#[derive(Clone, Copy, Debug, Default)]
pub struct Chart<'a> {
    /// Changes of harmony, by time.
    pub harmonies: &'a [Harmony],
    /// The melody, by time; notes don't overlap.
    pub melody: &'a [ChartNote],
    /// The bars, by time, each starting where the one before ends; the first starts at zero.
    pub bars: &'a [ChartBar],
}

/// A change of harmony.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Harmony {
    /// When.
    pub at: Moment,
    /// The chord from here on; `None` where the sheet says that there is none.
    pub chord: Option<Chord>,
}

/// A note of the melody.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ChartNote {
    /// When it begins.
    pub at: Moment,
    /// How long it lasts.
    pub length: Span,
    /// Which pitch.
    pub pitch: Pitch,
    /// How strong, when the engine plays the melody itself.
    pub velocity: Velocity,
}

/// A bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ChartBar {
    /// Where it starts.
    pub start: Moment,
    /// Its true length; shorter than the metre's in a pick-up bar.
    pub length: Span,
    /// Its time signature.
    pub metre: Metre,
    /// Its key.
    pub key: Key,
    /// Whether a section begins here.
    pub section: bool,
}

impl<'a> Chart<'a> {
    /// The end of the last bar.
    pub fn end(&self) -> Moment {
        self.bars.last().map_or(Moment::ZERO, |bar| bar.start + bar.length)
    }

    /// Index of the bar that holds `at`; `None` before the first and past the last.
    pub fn bar_at(&self, at: Moment) -> Option<usize> {
        let after = self.bars.partition_point(|bar| bar.start <= at);
        let index = after.checked_sub(1)?;
        let bar = self.bars.get(index)?;
        (at < bar.start + bar.length).then_some(index)
    }

    /// The change of harmony in force at `at`, with its index.
    pub fn harmony_at(&self, at: Moment) -> Option<(usize, Harmony)> {
        let index = self.harmonies.partition_point(|h| h.at <= at).checked_sub(1)?;
        self.harmonies.get(index).map(|h| (index, *h))
    }

    /// The first change of harmony after `at`.
    pub fn next_harmony(&self, at: Moment) -> Option<Harmony> {
        self.harmonies.get(self.harmonies.partition_point(|h| h.at <= at)).copied()
    }

    /// The melody note sounding at `at`.
    pub fn note_at(&self, at: Moment) -> Option<ChartNote> {
        let index = self.melody.partition_point(|n| n.at <= at).checked_sub(1)?;
        self.melody.get(index).copied().filter(|n| at < n.at + n.length)
    }

    /// The first melody note that begins after `at`.
    pub fn next_note(&self, at: Moment) -> Option<ChartNote> {
        self.melody.get(self.melody.partition_point(|n| n.at <= at)).copied()
    }
}
