//! The page of music: a grand staff that is written while it is played, chord symbols above, a cursor.
//!
//! `draw` takes plain data ([`Page`]) and needs neither host nor engine. Deliberately absent: hearing (see
//! [`super::record`]).

use egui::{Align2, Color32, FontId, Painter, Pos2, Rect, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};
use figwort_theory::{ChordSymbol, Moment, Span};

pub(crate) mod engraving;
pub(crate) mod glyphs;
pub(crate) mod page;
pub(crate) mod pen;
pub(crate) mod rhythm;

pub use page::{Bar, ChordMark, Note, Page, State, Stretch};

use super::theme::{Inks, blend};
use engraving::{Engraver, Frame, Tints, signature};
use glyphs::Quill;
use pen::Pen;

/// Rows of the page in staff spaces: chord symbols, above the treble, between the staves, below the bass.
const CHORDS: f32 = 2.6;
const ABOVE: f32 = 3.6;
const BETWEEN: f32 = 5.2;
const BELOW: f32 = 2.8;
/// All of it.
const SPACES: f32 = CHORDS + ABOVE + 4.0 + BETWEEN + 4.0 + BELOW;
/// The middle of the space between the staves, as a share of the height.
pub(crate) const BETWEEN_STAVES: f32 = (CHORDS + ABOVE + 4.0 + BETWEEN / 2.0) / SPACES;
/// Narrowest bar, in staff spaces to a quarter.
const QUARTER_WIDTH: f32 = 3.7;

/// Where moments stand: the bars in sight, left to right.
#[derive(Clone, Debug)]
pub(crate) struct Ruler {
    /// Start, length, left edge, width.
    bars: Vec<(Moment, Span, f32, f32)>,
    /// Room after a bar line before the first note, and after the last.
    lead: f32,
    tail: f32,
}

impl Ruler {
    /// Bars side by side from `left`, as wide as they are long.
    pub(crate) fn new(bars: &[Bar], left: f32, width: f32, space: f32) -> Self {
        let all: i64 = bars.iter().map(|bar| bar.length.0).sum();
        let mut x = left;
        let bars = bars
            .iter()
            .map(|bar| {
                let own = width * bar.length.0 as f32 / all.max(1) as f32;
                let placed = (bar.start, bar.length, x, own);
                x += own;
                placed
            })
            .collect();
        Self { bars, lead: 2.8 * space, tail: 0.5 * space }
    }

    /// The x of a moment; before the first bar its left edge, after the last its right edge.
    pub(crate) fn x(&self, at: Moment) -> f32 {
        let index = self.bars.partition_point(|bar| bar.0 <= at).saturating_sub(1);
        let Some(&(start, length, left, width)) = self.bars.get(index) else { return 0.0 };
        let share = (at - start).0 as f32 / length.0.max(1) as f32;
        if share < 0.0 {
            return left;
        }
        let lead = self.lead.min(width / 4.0);
        left + lead + share.min(1.0) * (width - lead - self.tail)
    }

    /// First moment in sight and the one after the last.
    pub(crate) fn span(&self) -> (Moment, Moment) {
        let first = self.bars.first().map_or(Moment::ZERO, |bar| bar.0);
        (first, self.bars.last().map_or(first, |bar| bar.0 + bar.1))
    }
}

/// How high the page is for a window of this height.
pub(crate) fn height(window: f32) -> f32 {
    (window - 430.0).clamp(190.0, 480.0)
}

/// The bars of a page that fit, around the present one.
pub(crate) fn in_sight(page: &Page, width: f32, space: f32) -> std::ops::Range<usize> {
    let count = page.bars.len();
    let need = |bar: &Bar| bar.length.in_quarters() as f32 * QUARTER_WIDTH * space;
    let present = page.present.min(count.saturating_sub(1));
    let longest = page.bars.iter().map(need).fold(1.0_f32, f32::max);
    let fit = ((width / longest) as usize).clamp(1, 6).min(count.max(1));
    let planned = page.notes.iter().any(|note| note.state == State::Planned);
    // What is to come matters when it is known.
    let past = if planned { fit.saturating_sub(1).min(1) } else { fit.saturating_sub(2).max(fit.min(2) - 1) };
    let first = present.saturating_sub(past).min(count.saturating_sub(fit));
    first..(first + fit).min(count)
}

/// Draws the page into `area` and answers where its moments stand, for what lies below it.
pub(crate) fn draw(ui: &mut Ui, page: &Page, height: f32, words: &str, inks: &Inks) -> (Rect, Ruler) {
    let (area, response) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, words));
    let space = height / SPACES;
    let frame = Frame {
        space,
        treble: area.top() + (CHORDS + ABOVE + 4.0) * space,
        bass: area.top() + (CHORDS + ABOVE + 4.0 + BETWEEN + 4.0) * space,
    };
    let tints = Tints {
        ink: inks.ink,
        second: inks.second,
        faint_ink: blend(inks.paper, inks.ink, 0.42),
        faint_second: blend(inks.paper, inks.second, 0.48),
        line: inks.stave,
    };
    let fifths = if page.signed { page.key.fifths() } else { 0 };
    let metre_at = 4.6 + fifths.unsigned_abs() as f32 * 0.95;
    let head = (1.6 + metre_at + 2.0) * space;
    let music = Rect::from_min_max(pos2(area.left() + head, area.top()), area.max);
    let sight = in_sight(page, music.width(), space);
    let bars = page.bars.get(sight.clone()).unwrap_or_default();
    let ruler = Ruler::new(bars, music.left(), music.width(), space);

    let mut pen = Pen::new(ui.ctx().pixels_per_point());
    staves(&mut pen, area, frame, &tints, space);
    clefs(&mut pen, area, frame, &tints, space, fifths);
    if let Some(bar) = bars.first() {
        for staff in [frame.treble, frame.bass] {
            let x = area.left() + (1.6 + metre_at) * space;
            let mut quill = Quill { pen: &mut pen, space, colour: inks.ink };
            quill.number(pos2(x, staff - 3.0 * space), bar.metre.numerator());
            quill.number(pos2(x, staff - space), bar.metre.denominator());
        }
    }
    let written = rhythm::write(page);
    let written = written.get(sight.clone()).unwrap_or_default();
    let mut engraver = Engraver {
        pen: &mut pen,
        frame,
        tints,
        key: page.key,
        chords: &page.chords,
        signed: page.signed,
        figures: Vec::new(),
    };
    for (index, (bar, groups)) in bars.iter().zip(written).enumerate() {
        engraver.bar(bar, groups, |at| ruler.x(at), page.now);
        let (_, _, left, width) = ruler.bars[index];
        let top = frame.treble - 4.0 * space;
        engraver.pen.line(pos2(left + width, top), pos2(left + width, frame.bass), 1.2, inks.ink);
        if index > 0 && bars.get(index - 1).is_some_and(|before| before.metre != bar.metre) {
            for staff in [frame.treble, frame.bass] {
                let mut quill = Quill { pen: engraver.pen, space: space * 0.8, colour: inks.ink };
                quill.number(pos2(left + 0.8 * space, staff - 2.8 * space), bar.metre.numerator());
                quill.number(pos2(left + 0.8 * space, staff - 1.2 * space), bar.metre.denominator());
            }
        }
    }
    let figures = std::mem::take(&mut engraver.figures);
    let painter = ui.painter_at(area.expand(2.0));
    painter.add(pen.shape());
    for (at, text, colour) in figures {
        let size = (1.7 * space).max(12.0);
        painter.text(at, Align2::CENTER_CENTER, text, FontId::proportional(size), colour);
    }
    chords(&painter, page, &ruler, area, space, &tints);
    numbers(&painter, page, sight.start, &ruler, frame, inks);
    cursor(&painter, page, &ruler, area, inks);
    (area, ruler)
}

fn staves(pen: &mut Pen, area: Rect, frame: Frame, tints: &Tints, space: f32) {
    let left = area.left() + 1.4 * space;
    for bottom in [frame.treble, frame.bass] {
        for line in 0..5 {
            let y = bottom - line as f32 * space;
            pen.line(pos2(left, y), pos2(area.right(), y), (0.1 * space).max(0.8), tints.line);
        }
    }
}

fn clefs(pen: &mut Pen, area: Rect, frame: Frame, tints: &Tints, space: f32, fifths: i32) {
    let mut quill = Quill { pen, space, colour: tints.ink };
    let left = area.left() + 1.4 * space;
    let top = frame.treble - 4.0 * space;
    quill.brace(left - 0.15 * space, top, frame.bass);
    quill.pen.line(pos2(left, top), pos2(left, frame.bass), 1.2, tints.ink);
    quill.g_clef(pos2(left + 2.0 * space, frame.treble - space));
    quill.f_clef(pos2(left + 1.9 * space, frame.bass - 3.0 * space));
    // Steps above the treble's bottom line, in the order in which they are written.
    let (places, alter): (&[i32], i8) =
        if fifths > 0 { (&[8, 5, 9, 6, 3, 7, 4], 1) } else { (&[4, 7, 3, 6, 2, 5, 1], -1) };
    debug_assert!(fifths == 0 || signature(fifths, if fifths > 0 { 3 } else { 6 }) == alter);
    for (index, step) in places.iter().take(fifths.unsigned_abs() as usize).enumerate() {
        let x = left + (4.0 + 0.95 * index as f32) * space;
        quill.accidental(pos2(x, frame.treble - *step as f32 * space / 2.0), alter);
        quill.accidental(pos2(x, frame.bass - (*step - 2) as f32 * space / 2.0), alter);
    }
}

/// Chord symbols, with their sharps and flats as signs.
fn chords(painter: &Painter, page: &Page, ruler: &Ruler, area: Rect, space: f32, tints: &Tints) {
    let size = (2.1 * space).clamp(13.0, 30.0);
    let (from, until) = ruler.span();
    let mut free = f32::NEG_INFINITY;
    let inside = page.chords.iter().filter(|chord| chord.at >= from && chord.at < until);
    // The chord in force when the page begins is written at its beginning, unless another comes at once.
    let at_once = inside.clone().next().is_some_and(|chord| chord.at - from < Span::QUARTER);
    let carried = page.chords.iter().rfind(|chord| chord.at < from && !at_once);
    for chord in carried.into_iter().chain(inside) {
        let colour = if chord.state == State::Planned { tints.faint_ink } else { tints.ink };
        let x = (ruler.x(chord.at) - 0.5 * space).max(free);
        let at = pos2(x, area.top() + CHORDS * space * 0.55);
        free = symbol(painter, at, &chord.symbol, size, colour) + 0.5 * space + 4.0;
    }
}

/// Writes a chord symbol from its left middle; answers its right edge.
pub(crate) fn symbol(painter: &Painter, at: Pos2, symbol: &ChordSymbol, size: f32, colour: Color32) -> f32 {
    let text = symbol.to_string();
    let mut pen = Pen::new(painter.pixels_per_point());
    let mut x = at.x;
    let mut run = String::new();
    let mut chars = text.chars().peekable();
    let mut previous = ' ';
    let write = |run: &mut String, x: &mut f32| {
        if !run.is_empty() {
            let font = FontId::proportional(size);
            let drawn = painter.text(pos2(*x, at.y), Align2::LEFT_CENTER, &*run, font, colour);
            *x = drawn.right();
            run.clear();
        }
    };
    while let Some(c) = chars.next() {
        // A flat follows a letter or precedes a number; other b's are none.
        let flat =
            c == 'b' && (previous.is_ascii_uppercase() || chars.peek().is_some_and(char::is_ascii_digit));
        if c == '#' || flat {
            write(&mut run, &mut x);
            let space = size * 0.30;
            let mut quill = Quill { pen: &mut pen, space, colour };
            let y = if flat { at.y - 0.1 * size } else { at.y - 0.14 * size };
            quill.accidental(pos2(x + 0.58 * space, y), if flat { -1 } else { 1 });
            x += 1.15 * space;
        } else {
            run.push(c);
        }
        previous = c;
    }
    write(&mut run, &mut x);
    painter.add(pen.shape());
    x
}

fn numbers(painter: &Painter, page: &Page, first: usize, ruler: &Ruler, frame: Frame, inks: &Inks) {
    let Some(number) = page.first_number else { return };
    for (index, &(_, _, left, _)) in ruler.bars.iter().enumerate() {
        let at = pos2(left + 3.0, frame.treble - 4.0 * frame.space - 3.0);
        let text = (u64::from(number) + (first + index) as u64).to_string();
        painter.text(at, Align2::LEFT_BOTTOM, text, FontId::proportional(12.0), inks.pencil);
    }
}

/// Where the music is: a line with a pointed foot and head.
fn cursor(painter: &Painter, page: &Page, ruler: &Ruler, area: Rect, inks: &Inks) {
    let (from, until) = ruler.span();
    if page.now < from || page.now > until || page.bars.is_empty() {
        return;
    }
    let x = ruler.x(page.now);
    painter.vline(x, area.top() + 8.0..=area.bottom(), Stroke::new(1.5, inks.pencil));
    let top = area.top();
    let head = vec![pos2(x - 5.0, top + 2.0), pos2(x + 5.0, top + 2.0), pos2(x, top + 10.0)];
    painter.add(egui::Shape::convex_polygon(head, inks.pencil, Stroke::NONE));
}
