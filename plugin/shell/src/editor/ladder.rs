//! How much it does: a stave of its own, whose five lines are the rungs and whose note head is the value.

use egui::{Align2, FontId, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};
use figwort_engine::Rung;

use super::controls::Controls;
use super::grip::{Lie, heading, hold, pass_on, thumb, typed};
use super::theme::Inks;
use super::words;
use crate::params::Control;

/// What each rung adds.
const ADDS: [&str; 5] = [
    "Chords as they are held, one for each change",
    "The bass alone on the left, the rest close under the melody",
    "The chord shared between both hands, open below",
    "And it moves while the melody stands still",
    "And lines of its own, suspensions, passing notes, a last chord that climbs",
];

/// Draws the stave, as high as there is room.
pub(crate) fn draw(ui: &mut Ui, controls: &mut impl Controls, height: f32, inks: &Inks) {
    const CONTROL: Control = Control::Elaboration;
    ui.push_id("ladder", |ui| {
        ui.spacing_mut().item_spacing.y = 2.0;
        heading(ui, "How much it does", inks);
        let value = controls.knob(CONTROL).value();
        let (area, _) = ui.allocate_exact_size(vec2(ui.available_width(), height - 58.0), Sense::hover());
        let top = area.top() + 22.0;
        let bottom = area.bottom() - 8.0;
        let gap = (bottom - top) / 4.0;
        let x = area.right() - 16.0;
        let travel = (pos2(x, bottom), pos2(x, top));
        // The names first, so that the head's stave lies under the hand only at its right.
        let mut chosen = None;
        for (index, rung) in Rung::ALL.iter().enumerate() {
            let y = bottom - gap * index as f32;
            let line = egui::Rect::from_min_max(
                pos2(area.left(), y - gap.min(22.0)),
                pos2(area.right() - 36.0, y + 2.0),
            );
            let response = ui.interact(line, ui.scope_id().with(("rung", index)), Sense::click());
            let reached = value.round() as usize == index;
            response.widget_info(|| WidgetInfo::selected(Role::RadioButton, true, reached, rung.name()));
            if response.clicked() {
                chosen = Some(index as f64);
            }
            let weight = if reached { 2.0 } else { 1.0 };
            let ink = if reached || response.hovered() { inks.ink } else { inks.pencil };
            ui.painter().hline(
                area.x_range(),
                y,
                Stroke::new(weight, if reached { inks.ink } else { inks.stave }),
            );
            let size = if reached { 16.0 } else { 14.0 };
            let at = pos2(area.left() + 2.0, y - 3.0);
            ui.painter().text(at, Align2::LEFT_BOTTOM, rung.name(), FontId::proportional(size), ink);
            if response.has_focus() {
                let frame = Stroke::new(1.5, inks.second);
                ui.painter().rect_stroke(line, 2.0, frame, egui::StrokeKind::Inside);
            }
            response.on_hover_text(ADDS[index]);
        }
        let grip = egui::Rect::from_min_max(pos2(x - 20.0, top - 12.0), pos2(area.right(), bottom + 8.0));
        let (response, slid, held) = hold(ui, grip, travel, Lie::Up, CONTROL, controls);
        let response = response.on_hover_text(words::about(CONTROL));
        let shown = slid.unwrap_or(value);
        let at = pos2(x, bottom - gap * shown as f32);
        // A stem, as any note has.
        ui.painter().vline(x + 9.6, at.y - gap.clamp(18.0, 34.0)..=at.y - 2.0, Stroke::new(2.0, inks.ink));
        thumb(ui, at, 8.4, &response, inks);
        let (field, written) = typed(ui, CONTROL, controls);
        let held = held || field.dragged() || field.is_pointer_button_down_on();
        pass_on(ui, held, slid.or(written).or(chosen), CONTROL, controls);
    });
}
