//! The bar being read, and closing it.

use figwort_theory::{Key, Metre, Pitch, Span};

use super::super::length::Exact;
use super::super::written::{Left, Quoted, Right, WrittenBar, WrittenNote};
use super::{Body, Spelled};
use crate::{SheetError, limits};

/// A note or rest.
pub(super) struct Event {
    pub(super) at: Exact,
    pub(super) length: Exact,
    pub(super) pitch: Option<Pitch>,
    pub(super) tied: bool,
}

/// A bar whose right bar line is still to come.
#[derive(Default)]
pub(super) struct OpenBar {
    pub(super) line: u32,
    pub(super) key: Key,
    pub(super) metre: Option<Metre>,
    pub(super) tempo: u32,
    pub(super) tempos: Vec<(Exact, u32)>,
    pub(super) at: Exact,
    pub(super) events: Vec<Event>,
    /// Texts, by index of the event under them, with their line.
    pub(super) quoted: Vec<(usize, Vec<String>, u32)>,
    /// Accidentals in force.
    pub(super) accidentals: Vec<Spelled>,
}

impl OpenBar {
    pub(super) fn is_empty(&self) -> bool {
        self.events.is_empty()
    }
}

impl Body {
    /// Closes the bar being read, if anything is in it.
    ///
    /// # Errors
    /// [`SheetError::TooLarge`] beyond [`limits::MAX_BARS`].
    pub(super) fn close_bar(&mut self) -> Result<(), SheetError> {
        let open = core::mem::take(&mut self.open);
        let length = open.at.round();
        if length <= Span::ZERO {
            // Empty, or nothing but notes shorter than half a tick.
            return Ok(());
        }
        if self.bars.len() >= limits::MAX_BARS {
            return Err(SheetError::TooLarge { what: "bars", limit: limits::MAX_BARS });
        }
        let mut notes = Vec::new();
        for event in &open.events {
            let (at, end) = (event.at.round(), event.at.plus(event.length).round());
            if let Some(pitch) = event.pitch
                && end > at
            {
                notes.push(WrittenNote { at, length: end - at, pitch, tied: event.tied });
            }
        }
        let mut quoted = Vec::new();
        for (index, texts, line) in open.quoted {
            if let Some(event) = open.events.get(index) {
                quoted.push(Quoted { at: event.at.round(), note: event.length.round(), texts, line });
            }
        }
        let left = core::mem::take(&mut self.left);
        let metre = open.metre.unwrap_or_else(|| metre_of(length));
        let number = self.number(&left, length, metre);
        self.bars.push(WrittenBar {
            line: open.line,
            number,
            metre,
            free: open.metre.is_none(),
            key: open.key,
            tempo: open.tempo,
            tempos: open.tempos.into_iter().map(|(at, tempo)| (at.round(), tempo)).collect(),
            length,
            notes,
            quoted,
            symbols: Vec::new(),
            left,
            right: Right::default(),
        });
        Ok(())
    }

    /// The number of a bar about to be added: a short first bar is 0, and a short bar that completes the
    /// short one before it shares its number, as engravers count bars divided by a repeat sign (common
    /// practice, no source).
    fn number(&self, left: &Left, length: Span, metre: Metre) -> u32 {
        let Some(before) = self.bars.last() else { return u32::from(length >= metre.bar()) };
        let both = before.length + length;
        let divided = before.number > 0
            && before.length < before.metre.bar()
            && (both == metre.bar() || (left.section && both < metre.bar()));
        before.number + u32::from(!divided)
    }
}

/// The metre that a bar of this length makes; 4/4 where none does.
fn metre_of(length: Span) -> Metre {
    for denominator in [4u8, 8, 16, 32, 64] {
        let unit = Span::WHOLE.0 / i64::from(denominator);
        if length.0 % unit == 0
            && let Ok(numerator) = u8::try_from(length.0 / unit)
            && let Some(metre) = Metre::new(numerator, denominator)
        {
            return metre;
        }
    }
    Metre::FOUR_FOUR
}
