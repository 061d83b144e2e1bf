//! The keyboard with everything that sounds: a round mark for the melody, a triangle pointing up for the
//! right hand, a square for the left. Told to screen readers in words.

use egui::{Align2, FontId, Pos2, Rect, Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2};
use figwort_engine::Hand;
use figwort_theory::Pitch;

use super::theme::Inks;
use super::view::{View, hand_words, keys};

/// A0 to C8, as on a piano.
const LOWEST: u8 = 21;
const HIGHEST: u8 = 108;
const HEIGHT: f32 = 76.0;

/// Whether a key is a black one.
fn is_black(key: u8) -> bool {
    matches!(key % 12, 1 | 3 | 6 | 8 | 10)
}

/// White keys below a key, counted from the lowest.
fn whites_below(key: u8) -> u32 {
    (LOWEST..key).filter(|k| !is_black(*k)).count() as u32
}

/// The rectangle of a key on a keyboard that fills `area`.
fn key_rect(area: Rect, key: u8) -> Rect {
    let width = area.width() / (whites_below(HIGHEST) + 1) as f32;
    let left = area.left() + whites_below(key) as f32 * width;
    if is_black(key) {
        Rect::from_min_size(pos2(left - width * 0.3, area.top()), vec2(width * 0.6, area.height() * 0.6))
    } else {
        Rect::from_min_size(pos2(left, area.top()), vec2(width, area.height()))
    }
}

/// A hand's mark.
fn mark(hand: Hand, at: Pos2, size: f32, inks: &Inks) -> Shape {
    let halo = Stroke::new(1.5, inks.paper);
    match hand {
        Hand::Melody => Shape::Vec(vec![
            Shape::circle_filled(at, size + 1.5, inks.paper),
            Shape::circle_filled(at, size, inks.ink),
        ]),
        Hand::Right => Shape::convex_polygon(
            vec![
                at + vec2(0.0, -size * 1.3),
                at + vec2(size * 1.2, size * 0.9),
                at + vec2(-size * 1.2, size * 0.9),
            ],
            inks.second,
            halo,
        ),
        Hand::Left => {
            let rect = Rect::from_center_size(at, vec2(size * 2.1, size * 2.1));
            Shape::Vec(vec![
                Shape::rect_filled(rect.expand(1.5), 0.0, inks.paper),
                Shape::rect_filled(rect, 0.0, inks.second),
            ])
        }
    }
}

/// Draws the keyboard and its legend.
pub(crate) fn draw(ui: &mut Ui, view: &View, inks: &Inks) {
    let (area, response) = ui.allocate_exact_size(vec2(ui.available_width(), HEIGHT), Sense::hover());
    let words = view.sounding_words();
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, &words));
    let painter = ui.painter_at(area.expand(2.0));
    painter.rect_filled(area, 0.0, inks.paper);
    for key in (LOWEST..=HIGHEST).filter(|key| !is_black(*key)) {
        let rect = key_rect(area, key);
        painter.rect_stroke(rect, 0.0, Stroke::new(1.0, inks.line), egui::StrokeKind::Inside);
        if key % 12 == 0 {
            let name = Pitch::new(key).to_string();
            let at = rect.center_bottom() - vec2(0.0, 2.0);
            painter.text(at, Align2::CENTER_BOTTOM, name, FontId::proportional(12.0), inks.pencil);
        }
    }
    for key in (LOWEST..=HIGHEST).filter(|key| is_black(*key)) {
        painter.rect_filled(key_rect(area, key), 1.0, inks.pencil);
    }
    for hand in Hand::ALL {
        for pitch in keys(view.sounding.get(hand.index()).copied().unwrap_or(0)) {
            let rect = key_rect(area, pitch.key().clamp(LOWEST, HIGHEST));
            let up = if is_black(pitch.key()) { 8.0 } else { 26.0 };
            painter.add(mark(hand, rect.center_bottom() - vec2(0.0, up), 4.5, inks));
        }
    }
    ui.horizontal_wrapped(|ui| {
        for hand in Hand::ALL {
            let (spot, _) = ui.allocate_exact_size(vec2(14.0, 18.0), Sense::hover());
            ui.painter().add(mark(hand, spot.center(), 4.5, inks));
            ui.label(hand_words(hand));
        }
        if view.pedal {
            ui.label("Pedal down");
        }
        ui.label(egui::RichText::new(&words).color(inks.pencil));
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_keys_fill_the_keyboard_in_order() {
        let area = Rect::from_min_size(pos2(10.0, 0.0), vec2(520.0, 60.0));
        assert_eq!(key_rect(area, LOWEST).left(), area.left());
        assert!((key_rect(area, HIGHEST).right() - area.right()).abs() < 1e-3);
        for key in LOWEST..HIGHEST {
            assert!(key_rect(area, key).center().x < key_rect(area, key + 1).center().x, "{key}");
        }
    }
}
