//! The page: heading, legend, rows.

use figwort_engine::Hand;
use figwort_theory::{Key, Mode, Span};

use crate::perform::Performance;

use super::PictureOptions;
use super::canvas::{Canvas, Ink};
use super::grid::{self, CHORD_LINE, CHORD_SIZE, Grid, LEFT, PAGE, RIGHT};
use super::lettering::{plain, width};
use super::marks::{self, STILL_LANE, STILL_TEXT};
use super::theme;

/// Size of the title.
const TITLE: f64 = 30.0;
/// Size of the line under it and of the legend.
const TEXT: f64 = 14.0;
/// Height of the lane with the pedal's line.
const PEDAL_LANE: f64 = 22.0;
/// Height of the lane with the bar numbers.
const AXIS_LANE: f64 = 22.0;
/// Air between rows.
const AIR: f64 = 34.0;

/// Height of a page of paper: of the proportions of A4.
pub(super) const HEIGHT: f64 = 1_754.0;

/// The pages, none longer than `limit` unless a row alone is.
pub(super) fn draw(performance: &Performance, options: &PictureOptions, limit: f64) -> Vec<String> {
    let mut pages = Vec::new();
    let mut canvas = Canvas::default();
    let mut rows = grid::rows(performance, options.bars_per_row.clamp(1, 16));
    let scale = Grid::of(performance, &rows);
    grid::place_symbols(&mut rows, &scale, &performance.chords);
    let still = grid::still_stretches(performance);
    let title = if performance.title.is_empty() { "Piano roll" } else { &performance.title };
    let style = theme::style(options.theme);
    let mut y = heading(&mut canvas, performance);
    y = legend(&mut canvas, y, performance, !still.is_empty());
    let mut is_on_top = true;
    for (index, row) in rows.iter().enumerate() {
        let under = if performance.pedal.is_empty() { 4.0 } else { PEDAL_LANE };
        let above = row.symbol_lines as f64 * CHORD_LINE + STILL_LANE;
        let needed = above + scale.height() + under + AXIS_LANE + AIR;
        if !is_on_top && y + needed > limit {
            pages.push(core::mem::take(&mut canvas).finish(title, &style, (PAGE, y)));
            y = running_head(&mut canvas, title, pages.len() + 1);
        }
        let top = y + above;
        marks::ground(&mut canvas, &scale, row, top, &still, index == 0);
        is_on_top = false;
        marks::still_brackets(&mut canvas, &scale, row, top, &still);
        for symbol in &row.symbols {
            let base = top - STILL_LANE - 4.0 - symbol.line as f64 * CHORD_LINE;
            let ink = if symbol.continued { Ink::Soft } else { Ink::Full };
            canvas.letters(&symbol.pieces, Some(&symbol.name), (symbol.x, base), CHORD_SIZE, ink);
        }
        marks::notes(&mut canvas, &scale, row, top, performance);
        let bottom = top + scale.height();
        let axis = bottom + under;
        marks::pedal(&mut canvas, &scale, row, bottom + 15.0, performance);
        marks::axis(&mut canvas, &scale, row, axis);
        y = axis + AXIS_LANE + AIR;
    }
    pages.push(canvas.finish(title, &style, (PAGE, y)));
    pages
}

/// What stands on top of the second page and the others. Returns where the rows may begin.
fn running_head(canvas: &mut Canvas, title: &str, number: usize) -> f64 {
    let y = 40.0;
    let line = format!("{title} · {number}");
    canvas.letters(&plain(&line), Some(&line), (LEFT, y), TEXT, Ink::Soft);
    y + 24.0
}

/// Title, key, metre and tempo. Returns where the next thing may begin.
fn heading(canvas: &mut Canvas, performance: &Performance) -> f64 {
    let mut y = 30.0;
    if !performance.title.is_empty() {
        let title = plain(&performance.title);
        // A long title is set smaller rather than cut.
        let size = TITLE.min(TITLE * (RIGHT - LEFT) / width(&title, TITLE).max(1.0));
        y += 34.0;
        canvas.letters(&title, None, (LEFT, y), size, Ink::Full);
    }
    if let Some(bar) = performance.bars.first().filter(|_| !performance.tempos.is_empty()) {
        y += 24.0;
        let metre = format!("{}/{}", bar.metre.numerator(), bar.metre.denominator());
        let line = format!("{} · {metre} · {}", key_name(bar.key), tempo_name(performance));
        canvas.letters(&plain(&line), Some(&line), (LEFT, y), TEXT, Ink::Soft);
    }
    y + 14.0
}

fn key_name(key: Key) -> String {
    let name = key.name(key.tonic).to_string().replace('b', "♭").replace('#', "♯");
    let mode = match key.mode {
        Mode::Major => "major",
        Mode::Minor => "minor",
    };
    format!("{name} {mode}")
}

/// The tempo in felt beats of the first bar, as a range where it changes.
pub(crate) fn tempo_name(performance: &Performance) -> String {
    let beat = performance.bars.first().map_or(Span::QUARTER, |bar| bar.metre.beat());
    let (name, length) = match beat.0 * 8 / Span::QUARTER.0 {
        2 => ("sixteenths", beat),
        3 => ("dotted sixteenths", beat),
        4 => ("eighths", beat),
        6 => ("dotted eighths", beat),
        12 => ("dotted quarters", beat),
        16 => ("halves", beat),
        24 => ("dotted halves", beat),
        32 => ("whole notes", beat),
        _ => ("quarters", Span::QUARTER),
    };
    let micros = performance.tempos.iter().map(|tempo| f64::from(tempo.micros_per_quarter.max(1)));
    let rates = micros.map(|micros| (60_000_000.0 / micros / length.in_quarters()).round());
    let (low, high) = rates.fold((f64::MAX, 0.0_f64), |(low, high), rate| (low.min(rate), high.max(rate)));
    if low < high { format!("{low} to {high} {name} a minute") } else { format!("{high} {name} a minute") }
}

/// What the marks mean. Returns where the rows may begin.
fn legend(canvas: &mut Canvas, y: f64, performance: &Performance, still: bool) -> f64 {
    let y = y + 16.0;
    let middle = y - 5.0;
    let mut x = LEFT;
    let plays = |hand| performance.notes.iter().any(|note| note.hand == hand);
    let entry = |canvas: &mut Canvas, x: &mut f64, name: &str, mark: &dyn Fn(&mut Canvas, f64)| {
        mark(canvas, *x);
        *x = canvas.letters(&plain(name), None, (*x + 42.0, y), TEXT, Ink::Full) + 34.0;
    };
    if plays(Hand::Melody) {
        entry(canvas, &mut x, "melody", &|canvas, x| {
            marks::melody_mark(canvas, (x, x + 14.0), middle + 3.0, 6.0, true);
            canvas.line("join", (x + 14.0, middle + 3.0), (x + 20.0, middle - 4.0));
            marks::melody_mark(canvas, (x + 20.0, x + 33.0), middle - 4.0, 6.0, true);
        });
    }
    for (hand, name) in [(Hand::Right, "right hand"), (Hand::Left, "left hand")] {
        if plays(hand) {
            entry(canvas, &mut x, name, &|canvas, x| {
                marks::bar_mark(canvas, hand, (x, x + 34.0), middle, 8.0)
            });
        }
    }
    if still {
        entry(canvas, &mut x, STILL_TEXT, &|canvas, x| {
            canvas.rect("still", (x, middle - 7.0), (33.0, 14.0), 0.0);
            let (left, right, over, under) = (x, x + 33.0, middle - 7.0, middle - 2.0);
            canvas
                .path("bracket", &format!("M{left} {under} L{left} {over} L{right} {over} L{right} {under}"));
        });
    }
    if !performance.pedal.is_empty() {
        entry(canvas, &mut x, "pedal down", &|canvas, x| {
            marks::pedal_mark(canvas, (x, x + 33.0), middle + 3.0, true, true);
        });
    }
    y + 30.0
}
