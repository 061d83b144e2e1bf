//! The ribbon of stillness, under the very moments it is about: how long each melody note stood, from where
//! on the accompaniment might move, where it did, and how likely the note was to be long.
//!
//! Standing is a pale band, long enough a hatched one, the accompaniment's notes are diamonds on it, and the
//! chance is a stick at the note's beginning, as high as it is likely.

use egui::{Align2, FontId, Painter, Pos2, Rect, Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2};
use figwort_engine::Hand;

use super::score::{Page, Ruler, State};
use super::theme::Inks;
use super::view::View;

const BAND: f32 = 20.0;
/// With its words.
pub(crate) const HEIGHT: f32 = BAND + 26.0;

const ABOUT: &str = "How long your melody has stood. The band is hatched from where the accompaniment may move; \
                     diamonds are where it did. The stick at each note shows how likely it was to be long.";

/// Draws the ribbon with its words. `ruler` tells where moments stand.
pub(crate) fn draw(ui: &mut Ui, view: &View, ruler: &Ruler, inks: &Inks) {
    let (area, response) = ui.allocate_exact_size(vec2(ui.available_width(), HEIGHT), Sense::hover());
    let fullness = view.fullness();
    response.widget_info(|| {
        let words = format!("Stillness: {}, {:.0} of 100", view.stillness_words(), fullness * 100.0);
        WidgetInfo::labeled(Role::ProgressIndicator, true, words)
    });
    response.on_hover_text(ABOUT);
    let painter = ui.painter_at(area.expand(1.0));
    let (from, until) = ruler.span();
    let (left, right) = (ruler.x(from), area.right());
    let band = Rect::from_min_max(pos2(left, area.top() + 2.0), pos2(right, area.top() + 2.0 + BAND));
    let small = FontId::proportional(13.0);
    let name = pos2(band.left() - 8.0, band.center().y);
    painter.text(name, Align2::RIGHT_CENTER, "Stillness", small.clone(), inks.ink);
    painter.rect_stroke(band, 1.0, Stroke::new(1.0, inks.line), egui::StrokeKind::Inside);
    let inside = painter.with_clip_rect(band);
    for stretch in &view.page.stretches {
        let end = stretch.until.unwrap_or(view.page.now);
        if end <= from || stretch.from >= until {
            continue;
        }
        let (a, b) = (ruler.x(stretch.from), ruler.x(end));
        let ready = ruler.x(stretch.from + view.page.wait).max(a);
        let standing = Rect::from_x_y_ranges(a..=b, band.y_range());
        inside.rect_filled(standing, 0.0, inks.shade);
        if b > ready {
            hatch(&inside, Rect::from_x_y_ranges(ready..=b, band.y_range()), inks);
        }
        inside.vline(a, band.y_range(), Stroke::new(1.0, inks.pencil));
        if let Some(chance) = stretch.chance {
            let foot = pos2(a + 4.0, band.bottom() - 1.0);
            let tip = foot - vec2(0.0, (BAND - 6.0) * chance.clamp(0.0, 1.0));
            inside.line_segment([foot, tip], Stroke::new(3.0, inks.ink));
            inside.circle_filled(tip, 2.6, inks.ink);
        }
    }
    took(&inside, &view.page, ruler, band, inks);
    let now = ruler.x(view.page.now);
    if view.page.now >= from && view.page.now <= until && !view.page.bars.is_empty() {
        painter.vline(now, band.y_range(), Stroke::new(1.5, inks.pencil));
    }
    words(&painter, view, band, area, inks);
}

/// The accompaniment's notes while the melody stood.
fn took(painter: &Painter, page: &Page, ruler: &Ruler, band: Rect, inks: &Inks) {
    let (from, until) = ruler.span();
    for note in &page.notes {
        let own = note.hand == Hand::Melody || note.state != State::Played;
        if own || note.at < from || note.at >= until {
            continue;
        }
        let stood = page.stretches.iter().any(|stretch| {
            stretch.from + page.wait <= note.at && note.at < stretch.until.unwrap_or(page.now + page.wait)
        });
        if stood {
            let at = pos2(ruler.x(note.at), band.center().y);
            diamond(painter, at, 4.6, inks);
        }
    }
}

fn diamond(painter: &Painter, at: Pos2, size: f32, inks: &Inks) {
    let corners = [(-size, 0.0), (0.0, -size), (size, 0.0), (0.0, size)];
    let corners = corners.map(|(x, y)| at + vec2(x, y)).to_vec();
    painter.add(Shape::convex_polygon(corners, inks.second, Stroke::new(1.0, inks.paper)));
}

fn hatch(painter: &Painter, area: Rect, inks: &Inks) {
    let painter = painter.with_clip_rect(area.intersect(painter.clip_rect()));
    let mut x = area.left() - area.height();
    // The strokes stand still while the band grows.
    x -= x.rem_euclid(6.0);
    while x < area.right() {
        let line = [pos2(x, area.bottom()), pos2(x + area.height(), area.top())];
        painter.line_segment(line, Stroke::new(1.2, inks.stave));
        x += 6.0;
    }
}

fn words(painter: &Painter, view: &View, band: Rect, area: Rect, inks: &Inks) {
    let small = FontId::proportional(13.0);
    let y = band.bottom() + 11.0;
    let mut says = view.stillness_words();
    if let Some(chance) = view.chance_words() {
        says = format!("{says}. {chance}");
    }
    let written = painter.text(pos2(band.left(), y), Align2::LEFT_CENTER, says, small.clone(), inks.ink);
    // What the marks mean, where there is room.
    let right = area.right();
    let legend =
        painter.layout_no_wrap("the accompaniment took the space".into(), small.clone(), inks.pencil);
    let mut x = right - legend.size().x;
    if x - 22.0 > written.right() + 24.0 {
        painter.galley(pos2(x, y - legend.size().y / 2.0), legend, inks.pencil);
        diamond(painter, pos2(x - 9.0, y), 4.6, inks);
        let stood = painter.layout_no_wrap("still long enough".into(), small, inks.pencil);
        x -= 34.0 + stood.size().x;
        if x - 24.0 > written.right() + 24.0 {
            painter.galley(pos2(x, y - stood.size().y / 2.0), stood, inks.pencil);
            let spot = Rect::from_center_size(pos2(x - 13.0, y), vec2(18.0, 10.0));
            painter.rect_filled(spot, 0.0, inks.shade);
            hatch(painter, spot, inks);
        }
    }
}
