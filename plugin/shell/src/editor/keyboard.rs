//! The keyboard with everything that sounds: an oval mark for the melody, a diamond for the right hand, a
//! square for the left, as on the page. Told to screen readers in words, and played with the mouse.

use egui::{Align2, FontId, Pos2, Rect, Role, Sense, Shape, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2};
use figwort_engine::Hand;
use figwort_theory::{Pitch, Velocity};

use super::score::pen::ellipse;
use super::theme::Inks;
use super::view::{View, Wish, hand_words, keys};

/// A0 to C8, as on a piano.
const LOWEST: u8 = 21;
const HIGHEST: u8 = 108;

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

/// The key at a place, and how hard it is struck: harder towards its near end.
fn key_at(area: Rect, at: Pos2) -> Option<(Pitch, Velocity)> {
    if !area.contains(at) {
        return None;
    }
    let hit = |black: bool| {
        (LOWEST..=HIGHEST).filter(|key| is_black(*key) == black).find(|key| key_rect(area, *key).contains(at))
    };
    let key = hit(true).or_else(|| hit(false))?;
    let depth = ((at.y - area.top()) / key_rect(area, key).height()).clamp(0.0, 1.0);
    Some((Pitch::new(key), Velocity::new((50.0 + 55.0 * depth) as i32)))
}

/// A hand's mark.
fn mark(hand: Hand, at: Pos2, size: f32, inks: &Inks) -> Shape {
    let halo = Stroke::new(1.5, inks.paper);
    match hand {
        Hand::Melody => Shape::convex_polygon(ellipse(at, vec2(1.3, 0.95) * size, -0.38), inks.ink, halo),
        Hand::Right => {
            let r = size * 1.35;
            let corners = [(-r, 0.0), (0.0, -r), (r, 0.0), (0.0, r)];
            Shape::convex_polygon(corners.map(|(x, y)| at + vec2(x, y)).to_vec(), inks.second, halo)
        }
        Hand::Left => {
            let rect = Rect::from_center_size(at, vec2(size * 2.1, size * 2.1));
            Shape::Vec(vec![
                Shape::rect_filled(rect.expand(1.2), 0.0, inks.paper),
                Shape::rect_filled(rect, 0.0, inks.second),
            ])
        }
    }
}

/// Draws the keyboard and its legend; the keys that the mouse presses come as wishes. `split` is the key
/// that parts chords from melody, where one does.
pub(crate) fn draw(
    ui: &mut Ui,
    view: &View,
    height: f32,
    split: Option<Pitch>,
    inks: &Inks,
    wishes: &mut Vec<Wish>,
) {
    let (area, response) =
        ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::click_and_drag());
    let words = view.sounding_words();
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, &words));
    mouse(ui, area, &response, wishes);
    let painter = ui.painter_at(area.expand(2.0));
    painter.rect_filled(area, 0.0, inks.white_key);
    let held = |key: u8| Hand::ALL.into_iter().find(|hand| sounds(view, *hand, key));
    for key in (LOWEST..=HIGHEST).filter(|key| !is_black(*key)) {
        let rect = key_rect(area, key);
        if held(key).is_some() {
            painter.rect_filled(rect, 0.0, inks.shade);
        }
        painter.rect_stroke(rect, 0.0, Stroke::new(1.0, inks.line), StrokeKind::Inside);
        // A name needs some room.
        if key % 12 == 0 && rect.width() >= 15.0 && held(key).is_none() {
            let name = Pitch::new(key).to_string();
            let at = rect.center_bottom() - vec2(0.0, 2.0);
            painter.text(at, Align2::CENTER_BOTTOM, name, FontId::proportional(12.0), inks.pencil_on_key);
        }
    }
    for key in (LOWEST..=HIGHEST).filter(|key| is_black(*key)) {
        let rect = key_rect(area, key);
        painter.rect_filled(rect, 1.0, inks.black_key);
        painter.rect_stroke(rect, 1.0, Stroke::new(1.0, inks.line), StrokeKind::Outside);
    }
    let width = key_rect(area, LOWEST).width();
    for hand in Hand::ALL.into_iter().rev() {
        for pitch in keys(view.sounding.get(hand.index()).copied().unwrap_or(0)) {
            if (LOWEST..=HIGHEST).contains(&pitch.key()) {
                let rect = key_rect(area, pitch.key());
                let size = (width * 0.34).clamp(3.2, 7.0);
                let at = rect.center_bottom() - vec2(0.0, size * 1.7 + 2.0);
                painter.add(mark(hand, at, size, inks));
            }
        }
    }
    painter.rect_stroke(area, 0.0, Stroke::new(1.0, inks.ink), StrokeKind::Inside);
    legend(ui, view, area, split, inks);
}

fn sounds(view: &View, hand: Hand, key: u8) -> bool {
    view.sounding.get(hand.index()).is_some_and(|set| set >> key & 1 == 1)
}

/// Presses, glides and releases.
fn mouse(ui: &Ui, area: Rect, response: &egui::Response, wishes: &mut Vec<Wish>) {
    let id = response.id.with("pressed");
    let before = ui.data(|data| data.get_temp::<Pitch>(id));
    let down = response.is_pointer_button_down_on() || response.dragged();
    let found = response.interact_pointer_pos().filter(|_| down).and_then(|at| key_at(area, at));
    let now = found.map(|(pitch, _)| pitch);
    if now == before {
        return;
    }
    if let Some(pitch) = before {
        wishes.push(Wish::Key { pitch, velocity: None });
    }
    if let Some((pitch, velocity)) = found {
        wishes.push(Wish::Key { pitch, velocity: Some(velocity) });
    }
    ui.data_mut(|data| match now {
        Some(pitch) => {
            data.insert_temp(id, pitch);
        }
        None => data.remove::<Pitch>(id),
    });
}

/// Below the keys: where chords and melody are played, and whose mark is whose.
fn legend(ui: &mut Ui, view: &View, area: Rect, split: Option<Pitch>, inks: &Inks) {
    let (row, _) = ui.allocate_exact_size(vec2(ui.available_width(), 20.0), Sense::hover());
    let painter = ui.painter_at(row);
    let font = FontId::proportional(13.0);
    let y = row.center().y;
    // The marks from the right, whose names no usual split key is above.
    let mut x = row.right();
    if view.pedal {
        x = painter.text(pos2(x, y), Align2::RIGHT_CENTER, "Pedal down", font.clone(), inks.ink).left()
            - 14.0;
    }
    for hand in Hand::ALL.into_iter().rev() {
        let at = pos2(x, y);
        let name = painter.text(at, Align2::RIGHT_CENTER, hand_words(hand), font.clone(), inks.ink);
        painter.add(mark(hand, pos2(name.left() - 11.0, y), 4.5, inks));
        x = name.left() - 32.0;
    }
    let Some(split) = split.filter(|split| (LOWEST + 1..=HIGHEST).contains(&split.key())) else { return };
    let middle = key_rect(area, split.key()).left();
    let left = painter.layout_no_wrap("play chords here".into(), font.clone(), inks.pencil);
    let right = painter.layout_no_wrap("play the melody here".into(), font, inks.pencil);
    if middle - left.size().x - 26.0 < row.left() || middle + right.size().x + 26.0 > x {
        return;
    }
    painter.vline(middle, row.top()..=row.bottom() - 2.0, Stroke::new(1.5, inks.ink));
    for side in [-1.0, 1.0] {
        let tip = pos2(middle + side * 16.0, y);
        painter.line_segment([pos2(middle + side * 3.0, y), tip], Stroke::new(1.2, inks.pencil));
        painter.line_segment([tip, tip + vec2(-side * 4.0, -3.0)], Stroke::new(1.2, inks.pencil));
        painter.line_segment([tip, tip + vec2(-side * 4.0, 3.0)], Stroke::new(1.2, inks.pencil));
    }
    let top = y - left.size().y / 2.0;
    painter.galley(pos2(middle - 22.0 - left.size().x, top), left, inks.pencil);
    painter.galley(pos2(middle + 22.0, top), right, inks.pencil);
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

    #[test]
    fn the_mouse_finds_every_key() {
        let area = Rect::from_min_size(pos2(0.0, 0.0), vec2(1040.0, 80.0));
        for key in LOWEST..=HIGHEST {
            let at = key_rect(area, key).center_bottom() - vec2(0.0, 4.0);
            assert_eq!(key_at(area, at).map(|found| found.0.key()), Some(key));
        }
        assert!(key_at(area, pos2(-1.0, 10.0)).is_none());
        let soft = key_at(area, pos2(4.0, 2.0)).expect("a key").1;
        assert!(soft < key_at(area, pos2(4.0, 78.0)).expect("a key").1);
    }
}
