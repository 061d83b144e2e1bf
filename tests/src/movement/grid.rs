//! Places in the bar: where early and late notes belong, and what beat, bar and key a moment lies in.
//!
//! Ticks in, ticks out. Not here: what a player meant by a rhythm finer than a twelfth of a beat.

use figwort_sheet::{Bar, Sheet};
use figwort_theory::{Key, Moment, Span};

/// Notes begun within this time of the one before are one attack: a thirty-second.
pub const ONE_ATTACK: i64 = Span::QUARTER.0 / 8;
/// As far from a beat's division as hands and the time to hear a chord may put a note, in milliseconds.
const CLOSE_MS: i64 = 60;

/// The places of a sheet.
#[derive(Clone, Copy)]
pub struct Grid<'a> {
    sheet: &'a Sheet,
}

impl<'a> Grid<'a> {
    /// A sheet's.
    pub fn of(sheet: &'a Sheet) -> Self {
        Self { sheet }
    }

    fn index(&self, at: i64) -> usize {
        self.sheet.bars.partition_point(|bar| bar.start.0 <= at).saturating_sub(1)
    }

    /// The bar of a moment; before the first and after the last, that one.
    pub fn bar(&self, at: i64) -> Option<&'a Bar> {
        self.sheet.bars.get(self.index(at))
    }

    /// The counted beat.
    pub fn beat(&self, at: i64) -> i64 {
        self.bar(at).map_or(Span::QUARTER.0, |bar| bar.metre.beat().0.max(1))
    }

    /// The key.
    pub fn key(&self, at: i64) -> Key {
        self.bar(at).map_or(self.sheet.key, |bar| bar.key)
    }

    /// Ticks in a number of milliseconds.
    pub fn ticks_of_millis(&self, at: i64, millis: i64) -> i64 {
        let tempo = self.sheet.tempos.iter().rev().find(|tempo| tempo.at.0 <= at);
        let micros = i64::from(tempo.map_or(figwort_sheet::DEFAULT_TEMPO, |t| t.micros_per_quarter)).max(1);
        millis * 1_000 * Span::QUARTER.0 / micros
    }

    /// The place that a note at `at` belongs to: the nearest half of a beat (third, in compound metres) if it
    /// is close, or else the nearest twelfth.
    pub fn place(&self, at: i64) -> i64 {
        let Some(bar) = self.bar(at) else { return at };
        let beat = self.beat(at);
        let division = if bar.metre.is_compound() { beat / 3 } else { beat / 2 };
        let place = self.sheet.place(self.index(at), Moment(at)).0;
        let nearest = |unit: i64| (place + unit / 2).div_euclid(unit.max(1)) * unit;
        let close = self.ticks_of_millis(at, CLOSE_MS).min(beat / 8);
        let coarse = nearest(division);
        let found = if (coarse - place).abs() <= close { coarse } else { nearest(beat / 12) };
        at + found - place
    }

    /// From where on and until when each beat of a bar goes; the first of a pick-up may be cut.
    pub fn beats(&self, bar: usize) -> Vec<(i64, i64)> {
        let Some(here) = self.sheet.bars.get(bar) else { return vec![] };
        let beat = here.metre.beat().0.max(1);
        let into = self.sheet.place(bar, here.start).0.rem_euclid(beat);
        let mut beats = vec![];
        let mut from = here.start.0;
        let mut to = from + beat - into;
        while from < here.end().0 {
            beats.push((from, to.min(here.end().0)));
            from = to;
            to += beat;
        }
        beats
    }

    /// For a reader: the bar's number and the beat in it, from 1.
    pub fn spell(&self, at: i64) -> String {
        let Some(bar) = self.bar(at) else { return String::new() };
        let place = self.sheet.place(self.index(at), Moment(at)).0;
        format!("bar {}, beat {:.2}", bar.number, 1.0 + place as f64 / self.beat(at) as f64)
    }
}
