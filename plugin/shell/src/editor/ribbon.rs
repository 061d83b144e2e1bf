//! The ribbon of stillness: it fills while a melody note stands, and is hatched once the accompaniment may
//! move. The words beside it say the same.

use egui::{Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2};
use figwort_engine::MelodyState;

use super::theme::Inks;
use super::view::View;

const HEIGHT: f32 = 18.0;

/// Draws the ribbon with its words.
pub(crate) fn draw(ui: &mut Ui, view: &View, inks: &Inks) {
    ui.label(view.stillness_words());
    let (area, response) = ui.allocate_exact_size(vec2(ui.available_width(), HEIGHT), Sense::hover());
    let fullness = view.fullness();
    response.widget_info(|| {
        let words = format!("Stillness: {:.0} of 100", fullness * 100.0);
        WidgetInfo::labeled(Role::ProgressIndicator, true, words)
    });
    let painter = ui.painter_at(area);
    painter.rect_filled(area, 1.0, inks.shade);
    let mut full = area;
    full.set_width(area.width() * fullness);
    painter.rect_filled(full, 1.0, inks.pencil);
    if view.melody == MelodyState::Still {
        painter.rect_filled(full, 1.0, inks.second);
        let mut x = full.left() - HEIGHT;
        let mut lines = Vec::new();
        while x < full.right() {
            let line = [pos2(x, full.bottom()), pos2(x + HEIGHT, full.top())];
            lines.push(Shape::line_segment(line, Stroke::new(1.5, inks.paper)));
            x += 9.0;
        }
        painter.extend(lines);
    }
    painter.rect_stroke(area, 1.0, Stroke::new(1.0, inks.ink), egui::StrokeKind::Inside);
}
