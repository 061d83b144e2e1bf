//! Bars from time signatures.

use figwort_theory::{Key, Moment, Span};

use super::file::{File, TextKind};
use crate::{Bar, SheetError, limits, symbol};

/// Bars from zero to the one that holds `end`; at least one.
///
/// # Errors
/// [`SheetError::TooLarge`] beyond [`limits::MAX_BARS`].
pub(super) fn read(file: &File, end: Moment) -> Result<Vec<Bar>, SheetError> {
    // Markers that are no chord symbols (Verse, Bridge) begin sections.
    let mut sections = file
        .texts
        .iter()
        .filter(|text| text.kind == TextKind::Marker && symbol::known(&text.text).is_none())
        .map(|text| text.at)
        .peekable();
    let mut keys = file.keys.iter().peekable();
    let mut key = keys.peek().map_or_else(Key::default, |(_, key)| *key);
    let mut bars: Vec<Bar> = Vec::new();
    let mut start = Moment::ZERO;
    for (index, change) in file.metres.iter().enumerate() {
        let next = file.metres.get(index + 1).map(|next| next.at);
        while next.is_none_or(|next| start < next) && (start < end || bars.is_empty()) {
            if bars.len() >= limits::MAX_BARS {
                return Err(SheetError::TooLarge { what: "bars", limit: limits::MAX_BARS });
            }
            // A bar that a new time signature cuts short stays short.
            let full = change.metre.bar();
            let length = next.map_or(full, |next| Span(full.0.min((next - start).0)));
            let stop = start + length;
            while let Some((_, next)) = keys.next_if(|(at, _)| *at <= start) {
                key = *next;
            }
            let mut section = bars.is_empty();
            while sections.next_if(|at| *at < stop).is_some() {
                section = true;
            }
            let number = bars.last().map_or(1, |before| before.number + 1);
            bars.push(Bar { start, length, metre: change.metre, key, number, section });
            start = stop;
        }
    }
    if let [first, second, ..] = bars.as_slice()
        && first.length < second.metre.bar()
        && first.metre != second.metre
    {
        // The first bar is a pick-up: part of a bar of the second metre, numbered 0.
        let metre = second.metre;
        for bar in &mut bars {
            bar.number -= 1;
        }
        if let Some(first) = bars.first_mut() {
            first.metre = metre;
        }
    }
    Ok(bars)
}
