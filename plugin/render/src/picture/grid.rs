//! Where things are: rows of bars, time across, pitch up.

use figwort_engine::MelodyState;
use figwort_theory::{Moment, Pitch, Span};

use crate::perform::{ChordMark, Performance, PlayedBar};

use super::lettering::{Piece, chord, width};

/// Width of a page.
pub(super) const PAGE: f64 = 1_240.0;
/// Left edge of the music; octave names stand before it.
pub(super) const LEFT: f64 = 86.0;
/// Right edge of the music.
pub(super) const RIGHT: f64 = PAGE - 44.0;
/// Size of chord symbols.
pub(super) const CHORD_SIZE: f64 = 17.0;
/// From one line of chord symbols to the next.
pub(super) const CHORD_LINE: f64 = 21.0;
/// How far a row is stretched to the page's edge, against the row with most time in it.
const WIDEST: f64 = 1.3;
/// Between symbols on one line.
const CHORD_GAP: f64 = 7.0;

/// A row of bars.
#[derive(Clone, Debug)]
pub(super) struct Row {
    pub(super) from: Moment,
    pub(super) to: Moment,
    pub(super) bars: Vec<PlayedBar>,
    pub(super) symbols: Vec<PlacedSymbol>,
    /// Lines of chord symbols, at least one.
    pub(super) symbol_lines: usize,
}

/// A chord symbol in its place.
#[derive(Clone, Debug)]
pub(super) struct PlacedSymbol {
    pub(super) x: f64,
    /// 0 is the line next to the music.
    pub(super) line: usize,
    pub(super) pieces: Vec<Piece>,
    pub(super) name: String,
    /// The chord began in an earlier row.
    pub(super) continued: bool,
}

/// The scales of a page.
#[derive(Clone, Copy, Debug)]
pub(super) struct Grid {
    /// Most units in a tick: a short row is not stretched beyond this.
    widest: f64,
    /// Units in a semitone.
    pub(super) semitone: f64,
    lowest: Pitch,
    highest: Pitch,
}

impl Grid {
    /// Scales that fit the longest row and the whole range of the music.
    pub(super) fn of(performance: &Performance, rows: &[Row]) -> Self {
        let longest = rows.iter().map(|row| (row.to - row.from).0).max().unwrap_or(1).max(1);
        let keys = performance.notes.iter().map(|note| note.pitch.key());
        let lowest = keys.clone().min().unwrap_or(48).saturating_sub(2);
        let highest = keys.max().unwrap_or(72).saturating_add(2);
        let range = f64::from(highest - lowest + 1);
        Self {
            widest: WIDEST * (RIGHT - LEFT) / longest as f64,
            semitone: (300.0 / range).clamp(4.6, 6.4),
            lowest: Pitch::new(lowest),
            highest: Pitch::new(highest),
        }
    }

    /// Height of the music.
    pub(super) fn height(&self) -> f64 {
        f64::from(self.highest.above(self.lowest) + 1) * self.semitone
    }

    /// Across, for a moment within a row.
    pub(super) fn x(&self, row: &Row, at: Moment) -> f64 {
        let fitting = (RIGHT - LEFT) / (row.to - row.from).0.max(1) as f64;
        LEFT + (at.clamp(row.from, row.to) - row.from).0 as f64 * fitting.min(self.widest)
    }

    /// Down from the top of the music to the middle of a pitch.
    pub(super) fn y(&self, pitch: Pitch) -> f64 {
        (f64::from(self.highest.above(pitch)) + 0.5) * self.semitone
    }

    /// Every C in range.
    pub(super) fn octaves(&self) -> impl Iterator<Item = Pitch> {
        let (low, high) = (self.lowest.key(), self.highest.key());
        (0..11).map(|octave| octave * 12).filter(move |key| (low..=high).contains(key)).map(Pitch::new)
    }
}

/// The bars in rows of `per_row`, a pick-up before the first of its row, with their chord symbols.
pub(super) fn rows(performance: &Performance, per_row: usize) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    let mut counted = 0;
    for (index, bar) in performance.bars.iter().enumerate() {
        let pick_up = index == 0 && bar.length < bar.metre.bar();
        match rows.last_mut().filter(|_| counted < per_row) {
            Some(row) => {
                row.bars.push(*bar);
                row.to = bar.end();
            }
            None => {
                counted = 0;
                rows.push(Row {
                    from: bar.start,
                    to: bar.end(),
                    bars: vec![*bar],
                    symbols: Vec::new(),
                    symbol_lines: 1,
                });
            }
        }
        if !pick_up {
            counted += 1;
        }
    }
    rows
}

/// Puts the chord symbols over their rows, on as many lines as keep them apart.
pub(super) fn place_symbols(rows: &mut [Row], grid: &Grid, chords: &[ChordMark]) {
    for row in rows {
        let here = chords.iter().filter(|mark| (row.from..row.to).contains(&mark.at));
        let before = chords
            .iter()
            .rev()
            .find(|mark| mark.at < row.from && mark.chord.is_some())
            .filter(|_| chords.iter().all(|mark| mark.at != row.from));
        let mut ends: Vec<f64> = Vec::new();
        for (mark, continued) in before.map(|mark| (mark, true)).into_iter().chain(here.map(|m| (m, false))) {
            let mut pieces = chord(&mark.text);
            if continued {
                pieces.insert(0, Piece::Letters("(".into()));
                pieces.push(Piece::Letters(")".into()));
            }
            let length = width(&pieces, CHORD_SIZE);
            let x = grid.x(row, mark.at).min(PAGE - 12.0 - length);
            let line = ends.iter().position(|end| end + CHORD_GAP <= x).unwrap_or(ends.len());
            match ends.get_mut(line) {
                Some(end) => *end = x + length,
                None => ends.push(x + length),
            }
            row.symbols.push(PlacedSymbol { x, line, pieces, name: mark.text.clone(), continued });
        }
        row.symbol_lines = ends.len().max(1);
    }
}

/// The stretches in which the melody stands still, joined where they touch.
pub(super) fn still_stretches(performance: &Performance) -> Vec<(Moment, Moment)> {
    let mut stretches: Vec<(Moment, Moment)> = Vec::new();
    let mut since = None;
    for decision in &performance.decisions {
        match (decision.melody, since) {
            (MelodyState::Still, None) => since = Some(decision.at),
            (MelodyState::Moving | MelodyState::Resting, Some(from)) => {
                since = None;
                match stretches.last_mut().filter(|(_, to)| *to >= from) {
                    Some(last) => last.1 = decision.at,
                    None => stretches.push((from, decision.at)),
                }
            }
            _ => {}
        }
    }
    stretches.extend(since.map(|from| (from, performance.end)));
    stretches.retain(|(from, to)| to > from);
    stretches
}

/// Beats of a bar after its first, counted so that a pick-up ends on the next bar's beat.
pub(super) fn inner_beats(bar: &PlayedBar) -> impl Iterator<Item = Moment> {
    let beat = bar.metre.beat().0.max(1);
    let missing = (bar.metre.bar() - bar.length).0.max(0);
    let (start, length) = (bar.start, bar.length);
    let first = (missing / beat + 1) * beat - missing;
    (0..)
        .map(move |n| Span(first + n * beat))
        .take_while(move |place| *place < length)
        .map(move |p| start + p)
}
