//! Wheel, arrows, fine and upright drags, the mouse on the keyboard, the tab key.

use egui::accesskit::Role;
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use figwort::editor::Wish;
use figwort::params::Control;

use crate::page::{Page, page};

/// A double click brings the usual value back, the wheel and the arrows go by steps, shift by small ones.
#[test]
fn a_slider_takes_wheel_arrows_and_double_click() {
    let mut page = page();
    let usual = page.state().value(Control::Space);
    let bar = page.get_by_role_and_label(Role::Slider, "Space").rect();
    page.hover_at(bar.center());
    page.run_steps(8);
    let wheel = |lines: f32| egui::Event::MouseWheel {
        unit: egui::MouseWheelUnit::Line,
        delta: egui::vec2(0.0, lines),
        phase: egui::TouchPhase::Move,
        source: egui::MouseWheelSource::Wheel,
        modifiers: egui::Modifiers::NONE,
    };
    page.event(wheel(1.0));
    page.run_steps(8);
    assert_eq!(page.state().value(Control::Space), usual + 1.0);
    page.event(wheel(-1.0));
    page.run_steps(8);
    page.event(wheel(-1.0));
    page.run_steps(8);
    assert_eq!(page.state().value(Control::Space), usual - 1.0);
    page.get_by_role_and_label(Role::Slider, "Wait").focus();
    page.run_steps(8);
    page.key_press(egui::Key::ArrowUp);
    page.run_steps(8);
    let coarse = page.state().value(Control::Wait);
    assert!(coarse > 1.0, "{coarse}");
    page.key_press(egui::Key::End);
    page.run_steps(8);
    assert_eq!(page.state().value(Control::Wait), 4.0);
    page.key_press(egui::Key::Delete);
    page.run_steps(8);
    assert_eq!(page.state().value(Control::Wait), 1.0);
    let at = page.get_by_role_and_label(Role::Slider, "Space").rect().right_center() - egui::vec2(20.0, 0.0);
    page.drag_at(at);
    page.run_steps(8);
    page.drop_at(at);
    page.run_steps(8);
    assert!(page.state().value(Control::Space) > 80.0, "the head goes to the hand");
    // A frame is a quarter of a second here: time enough for both clicks.
    page.ctx.options_mut(|options| options.input_options.max_double_click_delay = 2.0);
    for _ in 0..2 {
        page.drag_at(at);
        page.drop_at(at);
        page.step();
    }
    page.run_steps(8);
    assert_eq!(page.state().value(Control::Space), usual);
}

/// Held with shift the hand moves a tenth as far.
#[test]
fn shift_drags_finely() {
    let mut page = page();
    let bar = page.get_by_role_and_label(Role::Slider, "Level").rect();
    let moved = |page: &mut Harness<'static, Page>, modifiers: egui::Modifiers| {
        page.state().params.level.value();
        let start = bar.center();
        page.event_modifiers(egui::Event::PointerMoved(start), modifiers);
        page.event_modifiers(
            egui::Event::PointerButton {
                pos: start,
                button: egui::PointerButton::Primary,
                pressed: true,
                modifiers,
            },
            modifiers,
        );
        page.step();
        let end = start + egui::vec2(bar.width() * 0.4, 0.0);
        page.event_modifiers(egui::Event::PointerMoved(end), modifiers);
        page.step();
        let reached = page.state().value(Control::Level);
        page.event_modifiers(
            egui::Event::PointerButton {
                pos: end,
                button: egui::PointerButton::Primary,
                pressed: false,
                modifiers,
            },
            modifiers,
        );
        page.run();
        reached
    };
    let fine = moved(&mut page, egui::Modifiers::SHIFT);
    assert!((2.0..=5.0).contains(&fine), "{fine}");
    let coarse = moved(&mut page, egui::Modifiers::NONE);
    assert!(coarse > 25.0, "{coarse}");
}

/// The elaboration's stave is a slider that lies upright.
#[test]
fn the_head_is_dragged_up_its_stave() {
    let mut page = page();
    let stave = page.get_by_role_and_label(Role::Slider, "Elaboration").rect();
    page.drag_at(stave.center_bottom() - egui::vec2(0.0, 8.0));
    page.run();
    assert_eq!(page.state().value(Control::Elaboration), 0.0);
    page.hover_at(stave.center());
    page.run();
    page.drop_at(stave.center());
    page.run();
    let reached = page.state().value(Control::Elaboration);
    assert!((1.5..=2.5).contains(&reached), "{reached}");
    assert_eq!(page.state().told().iter().filter(|word| **word == "begin").count(), 1);
}

#[test]
fn the_keyboard_is_played_with_the_mouse() {
    let mut page = page();
    let keys = page
        .get_by_role_and_label(Role::Image, "Melody E5; Right hand G4 C5; Left hand A2; pedal down")
        .rect();
    page.drag_at(keys.left_bottom() + egui::vec2(3.0, -4.0));
    page.run();
    page.drop_at(keys.left_bottom() + egui::vec2(3.0, -4.0));
    page.run();
    let pressed: Vec<(u8, bool)> = page
        .state()
        .wishes
        .iter()
        .filter_map(|wish| match wish {
            Wish::Key { pitch, velocity } => Some((pitch.key(), velocity.is_some())),
            _ => None,
        })
        .collect();
    assert_eq!(pressed, [(21, true), (21, false)]);
}

/// Every control can be reached with the tab key alone.
#[test]
fn the_tab_key_reaches_every_slider() {
    let mut page = page();
    let mut reached = std::collections::BTreeSet::new();
    for _ in 0..120 {
        page.key_press(egui::Key::Tab);
        page.run();
        if let Some(node) = page.root().children_recursive().find(|node| node.is_focused()) {
            reached.insert(node.accesskit_node().label().unwrap_or_default());
        }
    }
    for name in ["Elaboration", "Wait", "Space", "Reach", "Level", "Split key", "Latch", "Dry", "Keep take"] {
        assert!(reached.contains(name), "{name} in {reached:?}");
    }
}
