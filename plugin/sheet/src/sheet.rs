//! A lead sheet that has been read: values in playing order, nothing left to unroll.

use core::fmt;

use crate::Page;
use figwort_theory::{ChordSymbol, Key, Metre, Moment, Pitch, Span, Velocity};

/// A lead sheet in playing order: repeats, endings and jumps are played out, all lists are sorted by time, and
/// time starts at [`Moment::ZERO`] with the first bar, be it a pick-up (a shorter first bar) or a full one.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// Title; empty when the sheet has none.
    pub title: String,
    /// Composer, where named.
    pub composer: Option<String>,
    /// Key at the beginning. Modes keep their tonic and take the nearer of major and minor.
    pub key: Key,
    /// Tempo changes: at least one, the first at zero.
    pub tempos: Vec<TempoChange>,
    /// Bars without gap or overlap: each begins where the one before ends.
    pub bars: Vec<Bar>,
    /// Changes of harmony. No two neighbours are alike.
    pub chords: Vec<ChordChange>,
    /// The melody: one note at a time, none overlapping the next; tied notes are one note.
    pub melody: Vec<Note>,
    /// End of the last bar.
    pub end: Moment,
    /// How the bars stand on the page that was read, with their repeat signs.
    pub page: Page,
    /// What was read with a doubt.
    pub warnings: Vec<Warning>,
}

/// A tempo from a moment on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TempoChange {
    /// From when.
    pub at: Moment,
    /// Microseconds for a quarter note, 1 to 16 777 215.
    pub micros_per_quarter: u32,
}

/// A bar as it is played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bar {
    /// Its beginning.
    pub start: Moment,
    /// Its actual length, positive; differs from the metre's in pick-up bars and where notes do not add up.
    pub length: Span,
    /// The metre in force. In free metre, the one that the bar's length makes, or 4/4 where none does.
    pub metre: Metre,
    /// The key in force at its beginning.
    pub key: Key,
    /// Number as written: a pick-up is 0, the first full bar 1; repeated bars keep theirs, and a bar divided
    /// by a repeat sign or double bar has one number for both its parts.
    pub number: u32,
    /// Whether a section begins here: the first bar, and bars after a double bar, a repeat sign, the start of
    /// an ending or a part mark.
    pub section: bool,
}

/// A change of harmony.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ChordChange {
    /// From when.
    pub at: Moment,
    /// The symbol; its chord is `None` for N.C.
    pub symbol: ChordSymbol,
}

/// A melody note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Note {
    /// Its onset.
    pub at: Moment,
    /// Its length, positive.
    pub length: Span,
    /// Its pitch.
    pub pitch: Pitch,
    /// Its velocity.
    pub velocity: Velocity,
}

/// Something that was read with a doubt.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Warning {
    /// Bar number as written, where there is one.
    pub bar: Option<u32>,
    /// Line in the file, from 1, where there is one.
    pub line: Option<u32>,
    /// What it is, and what was done.
    pub text: String,
}

impl fmt::Display for Warning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.bar, self.line) {
            (Some(bar), Some(line)) => write!(f, "bar {bar} (line {line}): {}", self.text),
            (Some(bar), None) => write!(f, "bar {bar}: {}", self.text),
            (None, Some(line)) => write!(f, "line {line}: {}", self.text),
            (None, None) => f.write_str(&self.text),
        }
    }
}

impl Note {
    /// Where it ends.
    pub fn end(&self) -> Moment {
        self.at + self.length
    }
}

impl Bar {
    /// Where it ends.
    pub fn end(&self) -> Moment {
        self.start + self.length
    }
}

impl Sheet {
    /// Index of the bar that holds a moment; `None` before the first and after the last.
    pub fn bar_at(&self, at: Moment) -> Option<usize> {
        let index = self.bars.partition_point(|bar| bar.start <= at).checked_sub(1)?;
        (at < self.bars.get(index)?.end()).then_some(index)
    }

    /// Whether a bar is the last part of its metre's bar rather than the first: a short bar that begins the
    /// sheet or a section, or that completes the short bar before it. One that the next bar completes is a
    /// first part, but at the sheet's beginning.
    pub fn is_pickup(&self, index: usize) -> bool {
        let Some(bar) = self.bars.get(index) else { return false };
        if bar.length >= bar.metre.bar() {
            return false;
        }
        match index.checked_sub(1).and_then(|before| self.bars.get(before)) {
            None => true,
            Some(before) => {
                let completes = |first: &Bar, second: &Bar| {
                    first.length < first.metre.bar() && first.length + second.length == second.metre.bar()
                };
                let next = self.bars.get(index + 1);
                completes(before, bar) || bar.section && !next.is_some_and(|next| completes(bar, next))
            }
        }
    }

    /// Where a moment lies in the metre of a bar, as [`Metre::level`] wants it: from the bar's beginning, and
    /// in a pick-up so that its end is the next bar's beginning.
    pub fn place(&self, index: usize, at: Moment) -> Span {
        let Some(bar) = self.bars.get(index) else { return Span::ZERO };
        let from_start = at - bar.start;
        if self.is_pickup(index) { from_start + (bar.metre.bar() - bar.length) } else { from_start }
    }
}
