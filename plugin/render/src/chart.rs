//! A sheet in the engine's shape: sorted slices of harmony, melody and bars.

use figwort_engine::{Chart, ChartBar, ChartNote, Harmony};
use figwort_sheet::Sheet;

/// A sheet's chart, owned, so that it can be lent to the engine block by block.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct OwnedChart {
    harmonies: Vec<Harmony>,
    melody: Vec<ChartNote>,
    bars: Vec<ChartBar>,
}

impl OwnedChart {
    /// The chart of a sheet. Every list comes out sorted by time, whatever the sheet's order.
    pub fn of(sheet: &Sheet) -> Self {
        let mut harmonies: Vec<Harmony> =
            sheet.chords.iter().map(|change| Harmony { at: change.at, chord: change.symbol.chord }).collect();
        harmonies.sort_by_key(|harmony| harmony.at);
        let mut melody: Vec<ChartNote> = sheet
            .melody
            .iter()
            .map(|note| ChartNote {
                at: note.at,
                length: note.length,
                pitch: note.pitch,
                velocity: note.velocity,
            })
            .collect();
        melody.sort_by_key(|note| note.at);
        let mut bars: Vec<ChartBar> = sheet
            .bars
            .iter()
            .map(|bar| ChartBar {
                start: bar.start,
                length: bar.length,
                metre: bar.metre,
                key: bar.key,
                section: bar.section,
            })
            .collect();
        bars.sort_by_key(|bar| bar.start);
        Self { harmonies, melody, bars }
    }

    /// The chart as the engine borrows it.
    pub fn chart(&self) -> Chart<'_> {
        Chart { harmonies: &self.harmonies, melody: &self.melody, bars: &self.bars }
    }
}
