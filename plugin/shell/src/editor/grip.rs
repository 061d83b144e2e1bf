//! Controls as a player takes hold of them: a note head on a line, filled and hollow heads for on and off.
//!
//! Every one has an accessible name, a tooltip in plain words, and works by mouse, wheel, keyboard and typed
//! words. A movement is told to the host from press to release. Shift makes it fine, a double click brings
//! the usual value back.

use egui::accesskit::{Action, ActionData};
use egui::{
    Align, Align2, Color32, ComboBox, DragValue, EventFilter, FontId, Id, Key, Layout, Pos2, Rect, Response,
    Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2,
};

use super::controls::{Controls, range};
use super::score::pen::ellipse;
use super::theme::{Inks, blend};
use super::words;
use crate::params::{Control, Kind, Knob};

/// Passes a change on as one movement from press to release. A change without a press (typed, by keyboard)
/// is a movement of its own.
pub(crate) fn pass_on(
    ui: &Ui,
    pressed: bool,
    changed: Option<f64>,
    control: Control,
    controls: &mut impl Controls,
) {
    let id = Id::unique(("movement", control.id()));
    let mut moving = ui.data(|data| data.get_temp::<bool>(id)).unwrap_or(false);
    if let Some(value) = changed {
        if !moving {
            controls.begin(control);
            moving = true;
        }
        controls.set(control, value);
    }
    if moving && !pressed {
        controls.end(control);
        moving = false;
    }
    ui.data_mut(|data| data.insert_temp(id, moving));
}

/// Which way a line lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Lie {
    /// Least at the left.
    Across,
    /// Least at the bottom.
    Up,
}

/// What a hand does to a value: drag, wheel, keys, double click, assistive technology. Answers the
/// response, the new value if it changed, and whether the mouse holds it.
pub(crate) fn hold(
    ui: &mut Ui,
    area: Rect,
    travel: (Pos2, Pos2),
    lie: Lie,
    control: Control,
    controls: &impl Controls,
) -> (Response, Option<f64>, bool) {
    let knob = controls.knob(control);
    let Some((min, max, whole)) = range(knob) else {
        return (ui.allocate_rect(area, Sense::hover()), None, false);
    };
    let id = ui.scope_id().with("grip");
    let response = ui.interact(area, id, Sense::click_and_drag());
    let value = knob.value();
    let span = max - min;
    let fine = if whole { 1.0 } else { span / 400.0 };
    let step = if whole { 1.0 } else { span / 40.0 };
    let mut wanted = value;
    let place = |at: Pos2| {
        let way = travel.1 - travel.0;
        f64::from(((at - travel.0).dot(way) / way.length_sq()).clamp(0.0, 1.0))
    };

    // The exact value under the hand, of which a parameter with few steps shows only the nearest.
    let exact_id = id.with("exact");
    let held = response.is_pointer_button_down_on() || response.dragged();
    if let Some(at) = response.interact_pointer_pos().filter(|_| held) {
        let shift = ui.input(|i| i.modifiers.shift);
        let exact = ui.data(|data| data.get_temp::<f64>(exact_id));
        let moved = match exact {
            None if shift => value,
            None => min + span * place(at),
            Some(exact) => {
                let way = travel.1 - travel.0;
                let share = f64::from(ui.input(|i| i.pointer.delta()).dot(way) / way.length_sq());
                (exact + span * share * if shift { 0.1 } else { 1.0 }).clamp(min, max)
            }
        };
        ui.data_mut(|data| data.insert_temp(exact_id, moved));
        wanted = moved;
        response.request_focus();
    } else {
        ui.data_mut(|data| data.remove::<f64>(exact_id));
    }

    if response.has_focus() {
        ui.memory_mut(|memory| {
            let filter = EventFilter { horizontal_arrows: true, vertical_arrows: true, ..Default::default() };
            memory.set_focus_lock_filter(id, filter);
        });
        let keys = |ui: &Ui, key| ui.input(|i| i.num_presses(key)) as f64;
        let one = if ui.input(|i| i.modifiers.shift) { fine } else { step };
        let up = keys(ui, Key::ArrowUp) + keys(ui, Key::ArrowRight);
        let down = keys(ui, Key::ArrowDown) + keys(ui, Key::ArrowLeft);
        let far = keys(ui, Key::PageUp) - keys(ui, Key::PageDown);
        wanted = nudge(knob, wanted, (up - down) * one) + far * (span / 5.0).max(one);
        if keys(ui, Key::Home) > 0.0 {
            wanted = min;
        }
        if keys(ui, Key::End) > 0.0 {
            wanted = max;
        }
        if keys(ui, Key::Delete) + keys(ui, Key::Backspace) > 0.0 {
            wanted = knob.usual();
        }
    }
    if response.hovered() && !held {
        let one = if ui.input(|i| i.modifiers.shift) { fine } else { step };
        wanted = nudge(knob, wanted, turns(ui, id) * one);
    }
    if response.double_clicked() {
        wanted = knob.usual();
        ui.data_mut(|data| data.insert_temp(exact_id, wanted));
    }
    let asked = ui.input(|i| {
        i.num_accesskit_action_requests(id, Action::Increment) as f64
            - i.num_accesskit_action_requests(id, Action::Decrement) as f64
    });
    wanted = nudge(knob, wanted, asked * step);
    if let Some(asked) = ui.input(|i| {
        i.accesskit_action_requests(id, Action::SetValue).find_map(|request| match request.data {
            Some(ActionData::NumericValue(value)) => Some(value),
            _ => None,
        })
    }) {
        wanted = asked;
    }
    let wanted = wanted.clamp(min, max);
    let label = knob.label().to_owned();
    response.widget_info(|| WidgetInfo::slider(true, value, &label));
    ui.ctx().accesskit_node_builder(id, |node| {
        node.set_min_numeric_value(min);
        node.set_max_numeric_value(max);
        node.set_numeric_value_step(step);
        node.set_value(knob.words(value));
        node.add_action(Action::SetValue);
        node.add_action(Action::Increment);
        node.add_action(Action::Decrement);
        if lie == Lie::Up {
            node.set_orientation(egui::accesskit::Orientation::Vertical);
        }
    });
    let settled = if whole { wanted.round() } else { wanted };
    let changed = ((settled - value).abs() > 1e-9).then_some(settled);
    (response, changed, held)
}

/// A value moved by so much, or by as many times as it takes until the parameter's grid shows it.
fn nudge(knob: &dyn Knob, value: f64, by: f64) -> f64 {
    if by == 0.0 {
        return value;
    }
    let before = knob.words(value);
    let moved = |times: i32| value + by * f64::from(times);
    (1..=16).map(moved).find(|value| knob.words(*value) != before).unwrap_or_else(|| moved(1))
}

/// Whole steps of the wheel over a control; what is left waits. The page doesn't scroll meanwhile.
fn turns(ui: &Ui, id: Id) -> f64 {
    const POINTS: f32 = 40.0;
    let turned: f32 = ui.input(|i| {
        i.events
            .iter()
            .map(|event| match event {
                egui::Event::MouseWheel { unit, delta, modifiers, .. } if !modifiers.command => match unit {
                    egui::MouseWheelUnit::Point => (delta.y + delta.x) / POINTS,
                    _ => (delta.y + delta.x).signum(),
                },
                _ => 0.0,
            })
            .sum()
    });
    ui.input_mut(|i| i.smooth_scroll_delta = egui::Vec2::ZERO);
    if turned == 0.0 {
        return 0.0;
    }
    let id = id.with("wheel");
    let all = turned + ui.data(|data| data.get_temp::<f32>(id)).unwrap_or(0.0);
    let whole = all.trunc();
    ui.data_mut(|data| data.insert_temp(id, all - whole));
    f64::from(whole)
}

/// A value in words that can be typed over.
pub(crate) fn typed(ui: &mut Ui, control: Control, controls: &impl Controls) -> (Response, Option<f64>) {
    let knob = controls.knob(control);
    let Some((min, max, _)) = range(knob) else {
        return (ui.label(""), None);
    };
    let before = knob.value();
    let mut value = before;
    let response = ui
        .scope(|ui| {
            let style = ui.visuals_mut();
            for widget in [&mut style.widgets.inactive, &mut style.widgets.hovered, &mut style.widgets.active]
            {
                widget.weak_bg_fill = Color32::TRANSPARENT;
            }
            style.widgets.inactive.bg_stroke = Stroke::NONE;
            ui.spacing_mut().button_padding = vec2(3.0, 1.0);
            ui.spacing_mut().interact_size.x = 24.0;
            let field = DragValue::new(&mut value)
                .range(min..=max)
                .speed((max - min) / 300.0)
                .update_while_editing(false)
                .custom_formatter(|value, _| knob.words(value))
                .custom_parser(|words| knob.meant(words));
            ui.add(field)
        })
        .inner;
    let label = format!("{}, typed", knob.label());
    response
        .widget_info(|| WidgetInfo { label: Some(label.clone()), ..WidgetInfo::drag_value(true, before) });
    let changed = (response.changed() && value != before).then_some(value);
    (response, changed)
}

/// A thumb: the head of a note, with a ring around it while it has the keyboard.
pub(crate) fn thumb(ui: &Ui, at: Pos2, size: f32, response: &Response, inks: &Inks) {
    let radii = vec2(1.25, 0.88) * size;
    let grown = if response.hovered() || response.dragged() { 1.12 } else { 1.0 };
    let fill = if response.dragged() { inks.second } else { inks.ink };
    let painter = ui.painter();
    if response.has_focus() {
        let ring = ellipse(at, radii * 1.0 + vec2(4.0, 4.0), -0.38);
        painter.add(Shape::closed_line(ring, Stroke::new(1.5, inks.second)));
    }
    painter.add(Shape::convex_polygon(ellipse(at, radii * grown, -0.38), fill, Stroke::new(1.5, inks.paper)));
}

/// A value on a line: name and value above, a note head on the line, a notch at the usual value.
pub(crate) fn slider(ui: &mut Ui, control: Control, controls: &mut impl Controls, inks: &Inks) {
    ui.push_id(control.id(), |ui| {
        ui.spacing_mut().item_spacing.y = 0.0;
        let knob = controls.knob(control);
        let label = knob.label().to_owned();
        let Some((min, max, _)) = range(knob) else { return };
        let (words, written) = ui
            .horizontal(|ui| {
                let name = ui.label(&label);
                name.on_hover_text(words::about(control));
                ui.with_layout(Layout::right_to_left(Align::Center), |ui| typed(ui, control, controls)).inner
            })
            .inner;
        let (area, _) = ui.allocate_exact_size(vec2(ui.available_width(), 18.0), Sense::hover());
        let line = area.shrink2(vec2(9.0, 0.0));
        let travel = (line.left_center(), line.right_center());
        let (response, slid, held) = hold(ui, area, travel, Lie::Across, control, controls);
        let response = response.on_hover_text(words::about(control));
        let knob = controls.knob(control);
        let x = |value: f64| line.left() + line.width() * ((value - min) / (max - min)) as f32;
        let painter = ui.painter();
        painter.hline(line.x_range(), line.center().y, Stroke::new(1.0, inks.stave));
        // From nought where there is a more and a less, else from the least.
        let zero = x(if min < 0.0 && max > 0.0 { 0.0 } else { min });
        let present = x(slid.unwrap_or_else(|| knob.value()));
        painter.line_segment(
            [pos2(zero, line.center().y), pos2(present, line.center().y)],
            Stroke::new(2.5, inks.ink),
        );
        let usual = x(knob.usual());
        painter.vline(usual, line.center().y - 5.0..=line.center().y + 5.0, Stroke::new(1.0, inks.stave));
        thumb(ui, pos2(present, line.center().y), 5.2, &response, inks);
        let held = held || words.dragged() || words.is_pointer_button_down_on();
        pass_on(ui, held, slid.or(written), control, controls);
        ui.add_space(6.0);
    });
}

/// The head of a note as a mark: filled or hollow.
fn head(ui: &Ui, at: Pos2, filled: bool, response: &Response, inks: &Inks) {
    let outline = ellipse(at, vec2(6.6, 4.6), -0.38);
    let fill = if filled { inks.ink } else { inks.paper };
    let width = if response.hovered() { 2.0 } else { 1.5 };
    ui.painter().add(Shape::convex_polygon(outline, fill, Stroke::new(width, inks.ink)));
}

/// A line of text with a head before it, which can be clicked.
fn marked(ui: &mut Ui, words: &str, filled: bool, inks: &Inks) -> Response {
    let galley = ui.painter().layout(
        words.to_owned(),
        FontId::proportional(14.0),
        inks.ink,
        (ui.available_width() - 24.0).max(40.0),
    );
    let size = vec2(galley.size().x + 26.0, galley.size().y.max(18.0) + 4.0);
    let (area, response) = ui.allocate_exact_size(size, Sense::click());
    if response.has_focus() {
        let frame = Stroke::new(1.5, inks.second);
        ui.painter().rect_stroke(area.expand2(vec2(2.0, 0.0)), 2.0, frame, egui::StrokeKind::Inside);
    }
    head(ui, pos2(area.left() + 9.0, area.center().y), filled, &response, inks);
    ui.painter().galley(pos2(area.left() + 22.0, area.center().y - galley.size().y / 2.0), galley, inks.ink);
    response
}

/// On or off: a filled or a hollow head.
pub(crate) fn switch(ui: &mut Ui, control: Control, controls: &mut impl Controls, inks: &Inks) {
    let on = controls.knob(control).value() > 0.5;
    let label = controls.knob(control).label().to_owned();
    let response = marked(ui, &label, on, inks).on_hover_text(words::about(control));
    response.widget_info(|| WidgetInfo::selected(Role::CheckBox, true, on, &label));
    if response.clicked() {
        controls.put(control, f64::from(u8::from(!on)));
    }
}

/// A choice of few, all in sight.
pub(crate) fn radio(ui: &mut Ui, control: Control, controls: &mut impl Controls, inks: &Inks) {
    let Kind::Choice(names) = controls.knob(control).kind() else { return };
    let present = controls.knob(control).value() as usize;
    let label = controls.knob(control).label().to_owned();
    ui.label(&label).on_hover_text(words::about(control));
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing = vec2(8.0, 0.0);
        for (index, name) in names.iter().enumerate() {
            let response = marked(ui, name, index == present, inks).on_hover_text(words::about(control));
            response.widget_info(|| WidgetInfo::selected(Role::RadioButton, true, index == present, *name));
            if response.clicked() && index != present {
                controls.put(control, index as f64);
            }
        }
    });
    ui.add_space(4.0);
}

/// A choice from a list, folded; named by the parameter and what is chosen. Answers whether it changed.
pub(crate) fn choice(
    ui: &mut Ui,
    control: Control,
    controls: &mut impl Controls,
    sentence: impl Fn(usize) -> String,
) {
    let Kind::Choice(names) = controls.knob(control).kind() else { return };
    let label = controls.knob(control).label().to_owned();
    let present = controls.knob(control).value() as usize;
    let mut chosen = present;
    let shown = names.get(present).copied().unwrap_or_default();
    let width = ui.available_width();
    let answer = ComboBox::from_id_salt(control.id()).width(width).selected_text(shown).show_ui(ui, |ui| {
        for (index, name) in names.iter().enumerate() {
            let line = ui.selectable_value(&mut chosen, index, *name);
            let about = sentence(index);
            if !about.is_empty() {
                line.on_hover_text(about);
            }
        }
    });
    answer.response.widget_info(|| WidgetInfo::labeled(Role::ComboBox, true, format!("{label}: {shown}")));
    answer.response.on_hover_text(words::about(control));
    if chosen != present {
        controls.put(control, chosen as f64);
    }
}

/// A button that stays pressed: on the second ink only paper can be read.
pub(crate) fn pressed_button(ui: &mut Ui, words: &str, pressed: bool, inks: &Inks) -> Response {
    let ink = if pressed { inks.paper } else { inks.ink };
    ui.add(egui::Button::new(egui::RichText::new(words).color(ink)).selected(pressed))
}

/// A button of the page: words in a thin frame.
pub(crate) fn button(ui: &mut Ui, words: &str, about: &str, enabled: bool) -> bool {
    ui.add_enabled(enabled, egui::Button::new(words)).on_hover_text(about).clicked()
}

/// A faint rule with a heading above it.
pub(crate) fn heading(ui: &mut Ui, words: &str, inks: &Inks) {
    let (area, response) = ui.allocate_exact_size(vec2(ui.available_width(), 26.0), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Heading, true, words));
    let at = pos2(area.left(), area.top() + 10.0);
    ui.painter().text(at, Align2::LEFT_CENTER, words, FontId::proportional(16.0), inks.ink);
    let rule = blend(inks.paper, inks.ink, 0.75);
    ui.painter().hline(area.x_range(), area.bottom() - 5.0, Stroke::new(1.0, rule));
}
