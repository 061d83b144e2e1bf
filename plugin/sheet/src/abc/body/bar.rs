//! The bar being read, and closing it.

use figwort_theory::{Key, Metre, Pitch, Span};

use super::{Body, Spelled};
use crate::length::Exact;
use crate::written::{Quoted, Right, WrittenBar, WrittenNote, metre_of, number_after};
use crate::{SheetError, limits};

/// A note or rest.
pub(super) struct Event {
    pub(super) at: Exact,
    pub(super) length: Exact,
    pub(super) pitch: Option<Pitch>,
    pub(super) tied: bool,
    /// Whether a tie holds it from below the top of a note chord, so that it is no new note.
    pub(super) held: bool,
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
                && !event.held
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
        let number = number_after(self.bars.last(), &left, length, metre);
        self.bars.push(WrittenBar {
            line: Some(open.line),
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
}
