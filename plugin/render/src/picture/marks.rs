//! The marks of one row: notes, stretches, pedal.

use figwort_engine::Hand;
use figwort_theory::{Moment, Span};

use crate::perform::{Performance, PlayedNote};

use super::canvas::{Canvas, Ink};
use super::grid::{Grid, Row, inner_beats};
use super::lettering::{plain, width};

/// Height of the lane with the brackets over still stretches.
pub(super) const STILL_LANE: f64 = 20.0;
/// What the bracket says.
pub(super) const STILL_TEXT: &str = "the melody stands";
/// Size of small lettering.
pub(super) const SMALL: f64 = 11.5;

/// The ground: shading, octave lines with names, beats and bar lines. `top` is the music's upper edge; the
/// `first` row's first bar needs no sign that a section begins.
pub(super) fn ground(
    canvas: &mut Canvas,
    grid: &Grid,
    row: &Row,
    top: f64,
    still: &[(Moment, Moment)],
    first: bool,
) {
    let bottom = top + grid.height();
    let right = grid.x(row, row.to);
    for (from, to) in within(row, still) {
        let (x, end) = (grid.x(row, from), grid.x(row, to));
        canvas.rect("still", (x, top - STILL_LANE + 5.0), (end - x, bottom - top + STILL_LANE - 5.0), 0.0);
    }
    for pitch in grid.octaves() {
        let y = top + grid.y(pitch);
        canvas.line("hair", (grid.x(row, row.from), y), (right, y));
        let name = plain(&format!("C{}", i32::from(pitch.key() / 12) - 1));
        canvas.letters_before(&name, (grid.x(row, row.from) - 10.0, y + 4.0), SMALL, Ink::Soft);
    }
    for bar in &row.bars {
        for beat in inner_beats(bar) {
            let x = grid.x(row, beat);
            canvas.line("beat", (x, top), (x, bottom));
        }
        let x = grid.x(row, bar.start);
        let section = bar.section && !(first && bar.start == row.from);
        canvas.line(if section { "section" } else { "bar" }, (x, top), (x, bottom));
    }
    canvas.line("bar", (right, top), (right, bottom));
}

/// Brackets over the still stretches, the first one with room for it named.
pub(super) fn still_brackets(
    canvas: &mut Canvas,
    grid: &Grid,
    row: &Row,
    top: f64,
    still: &[(Moment, Moment)],
) {
    let name = plain(STILL_TEXT);
    let room = width(&name, SMALL) + 16.0;
    let mut named = false;
    for (from, to) in within(row, still) {
        let (x, end) = (grid.x(row, from) + 1.0, grid.x(row, to) - 1.0);
        let y = top - STILL_LANE + 5.0;
        let open = if from > row.from || still.iter().any(|s| s.0 == from) { 5.0 } else { 0.0 };
        let close = if to < row.to || still.iter().any(|s| s.1 == to) { 5.0 } else { 0.0 };
        let data =
            format!("M{x:.2} {:.2} L{x:.2} {y:.2} L{end:.2} {y:.2} L{end:.2} {:.2}", y + open, y + close);
        canvas.path("bracket", &data);
        if !named && end - x >= room {
            named = true;
            canvas.letters(&name, None, (x + 7.0, y + 12.0), SMALL, Ink::Soft);
        }
    }
}

/// What reaches over a row's edge by no more than this is not shown on the other side: hands come a little
/// early and let go a little late.
const OVERHANG: Span = Span(Span::QUARTER.0 / 8);

/// The part of a stretch that a row shows.
fn part_within(row: &Row, (from, to): (Moment, Moment)) -> Option<(Moment, Moment)> {
    let (first, last) = (from.max(row.from), to.min(row.to));
    let whole = from >= row.from && to <= row.to;
    (last > first && (whole || last - first > OVERHANG)).then_some((first, last))
}

/// The parts of stretches that lie in a row.
fn within(row: &Row, stretches: &[(Moment, Moment)]) -> impl Iterator<Item = (Moment, Moment)> {
    stretches.iter().filter_map(|stretch| part_within(row, *stretch))
}

/// All notes of a row: accompaniment first, so that the melody lies on top.
pub(super) fn notes(canvas: &mut Canvas, grid: &Grid, row: &Row, top: f64, performance: &Performance) {
    let here = |note: &&PlayedNote| part_within(row, (note.at, note.end())).is_some();
    for hand in [Hand::Left, Hand::Right] {
        for note in performance.notes.iter().filter(here).filter(|note| note.hand == hand) {
            bar_mark(canvas, hand, span(grid, row, note), top + grid.y(note.pitch), grid.semitone);
        }
    }
    let melody: Vec<&PlayedNote> =
        performance.notes.iter().filter(|note| note.hand == Hand::Melody).collect();
    for (index, note) in melody.iter().enumerate().filter(|(_, note)| here(note)) {
        let (x, end) = span(grid, row, note);
        let y = top + grid.y(note.pitch);
        melody_mark(canvas, (x, end), y, grid.semitone, note.at + OVERHANG >= row.from);
        // A thin line leads to the next note where that follows within a beat.
        let next = melody.get(index + 1).copied().filter(|next| {
            let beat = row.bars.first().map_or(Span::QUARTER, |bar| bar.metre.beat());
            here(next) && next.at >= note.at && next.at - note.end() <= beat
        });
        if let Some(next) = next {
            canvas.line("join", (end, y), (grid.x(row, next.at), top + grid.y(next.pitch)));
        }
    }
}

fn span(grid: &Grid, row: &Row, note: &PlayedNote) -> (f64, f64) {
    (grid.x(row, note.at), grid.x(row, note.end()))
}

/// One melody note: a line with a round head where it begins.
pub(super) fn melody_mark(canvas: &mut Canvas, (x, end): (f64, f64), y: f64, semitone: f64, begins: bool) {
    canvas.line("melody", (x, y), (end, y));
    if begins {
        let radius = (semitone * 0.72).clamp(3.4, 4.4);
        canvas.circle("head", (x + radius * 0.6, y), radius);
    }
}

/// One note of a hand: a bar, filled for the right hand, outlined and hatched for the left.
pub(super) fn bar_mark(canvas: &mut Canvas, hand: Hand, (x, end): (f64, f64), y: f64, semitone: f64) {
    let height = semitone * 0.86;
    let width = (end - x - 1.4).max(1.6);
    match hand {
        Hand::Left => {
            canvas.rect("left", (x + 0.9, y - height / 2.0 + 0.5), (width - 0.6, height - 1.0), 0.6)
        }
        _ => canvas.rect("right", (x + 0.4, y - height / 2.0), (width, height), 0.8),
    }
}

/// The pedal's line under the music: down from the first hook to the second.
pub(super) fn pedal(canvas: &mut Canvas, grid: &Grid, row: &Row, y: f64, performance: &Performance) {
    let mut down = None;
    let mut stretches = Vec::new();
    for change in &performance.pedal {
        match (change.down, down) {
            (true, None) => down = Some(change.at),
            (false, Some(from)) => {
                down = None;
                stretches.push((from, change.at));
            }
            _ => {}
        }
    }
    stretches.extend(down.map(|from| (from, performance.end)));
    for (from, to) in within(row, &stretches) {
        let begins = stretches.iter().any(|s| s.0 == from);
        let ends = stretches.iter().any(|s| s.1 == to);
        pedal_mark(canvas, (grid.x(row, from) + 1.0, grid.x(row, to) - 1.5), y, begins, ends);
    }
    if !performance.pedal.is_empty() {
        canvas.letters_before(&plain("pedal"), (grid.x(row, row.from) - 10.0, y + 3.0), SMALL, Ink::Soft);
    }
}

/// A stretch of pedal.
pub(super) fn pedal_mark(canvas: &mut Canvas, (x, end): (f64, f64), y: f64, begins: bool, ends: bool) {
    let end = end.max(x + 1.0);
    let hook = |there: bool| if there { y - 5.0 } else { y };
    let (up, off) = (hook(begins), hook(ends));
    canvas.path("pedal", &format!("M{x:.2} {up:.2} L{x:.2} {y:.2} L{end:.2} {y:.2} L{end:.2} {off:.2}"));
}

/// Bar numbers and beats under the music; `y` is the lane's upper edge.
pub(super) fn axis(canvas: &mut Canvas, grid: &Grid, row: &Row, y: f64) {
    for bar in &row.bars {
        let x = grid.x(row, bar.start);
        canvas.line("line", (x, y), (x, y + 6.0));
        for beat in inner_beats(bar) {
            let x = grid.x(row, beat);
            canvas.line("line", (x, y), (x, y + 3.0));
        }
        if bar.number > 0 {
            let number = plain(&bar.number.to_string());
            canvas.letters(&number, None, (x + 4.0, y + 14.0), SMALL + 1.0, Ink::Soft);
        }
    }
}
