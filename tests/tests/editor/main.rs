//! The editor without a screen: what a screen reader finds on the page, and that moving a control moves the
//! parameter and tells the host.
#![allow(unsafe_code, reason = "the framework's host interface hands over raw parameters")]

use egui::accesskit::Role;
use egui_kittest::kittest::Queryable;
use figwort::params::Control;
use figwort_engine::Snapshot;

mod hands;
mod page;
mod wishes;

use page::{page, page_of, playing};

#[test]
fn the_page_says_what_is_played() {
    let page = page();
    page.get_by_label("Am7");
    page.get_by_label("broken chord \u{2013} rocking, 4 parts");
    page.get_by_label("Stillness: Melody still for 1.0 beats, 100 of 100");
    page.get_by_role_and_label(Role::Image, "Page: Am7, 0 notes in this bar");
    page.get_by_role_and_label(Role::Image, "Melody E5; Right hand G4 C5; Left hand A2; pedal down");
    page.get_by_label_contains("time runs");
    let empty = page_of(&Snapshot::default(), [1040.0, 800.0]);
    empty.get_by_label("No chord");
    empty.get_by_label("Stillness: Melody resting, 0 of 100");
    empty.get_by_role_and_label(Role::Image, "Nothing sounds");
}

/// Every parameter can be found by its name, at the smallest size as well as at the usual one. Those that
/// the choice of input makes meaningless are not shown.
#[test]
fn every_control_has_its_name() {
    for size in [[560.0, 460.0], [1040.0, 800.0], [1680.0, 1050.0]] {
        let page = page_of(&playing(), size);
        for control in Control::ALL {
            let label = page.state().params.knob(*control).label().to_owned();
            let hidden = matches!(
                control,
                Control::MelodyChannel | Control::ChordChannel | Control::Sheet | Control::SheetBar
            );
            let found = page.query_all_by_label_contains(&label).count();
            assert_eq!(found == 0, hidden, "{label} at {size:?}");
        }
    }
}

#[test]
fn a_click_ticks_and_tells_the_host() {
    let mut page = page();
    assert_eq!(page.state().value(Control::Latch), 1.0);
    page.get_by_label("Latch").click();
    page.run();
    assert_eq!(page.state().value(Control::Latch), 0.0);
    assert_eq!(page.state().told(), ["begin", "set", "end"]);
}

#[test]
fn rungs_are_chosen_by_name() {
    let mut page = page();
    page.get_by_role_and_label(Role::RadioButton, "Shared").click();
    page.run();
    assert_eq!(page.state().value(Control::Elaboration), 2.0);
    assert_eq!(page.state().told(), ["begin", "set", "end"]);
}

/// From press to release is one movement, however many values it passes.
#[test]
fn a_drag_is_one_movement() {
    let mut page = page();
    let bar = page.get_by_role_and_label(Role::Slider, "Space").rect();
    let start = bar.left_center() + egui::vec2(bar.width() * 0.2, 0.0);
    page.drag_at(start);
    page.run();
    for step in 1..=4 {
        page.hover_at(start + egui::vec2(bar.width() * 0.1 * step as f32, 0.0));
        page.run();
    }
    let before_release = page.state().told();
    page.drop_at(start + egui::vec2(bar.width() * 0.5, 0.0));
    page.run();
    let told = page.state().told();
    assert_eq!(told.first(), Some(&"begin"));
    assert_eq!(told.last(), Some(&"end"));
    assert_eq!(told.iter().filter(|word| **word == "begin").count(), 1, "{told:?}");
    assert_eq!(told.iter().filter(|word| **word == "end").count(), 1, "{told:?}");
    assert!(told.iter().filter(|word| **word == "set").count() >= 3, "{told:?}");
    assert!(!before_release.contains(&"end"), "{before_release:?}");
    let space = page.state().value(Control::Space);
    assert!((60.0..=80.0).contains(&space), "{space}");
}

/// A window that closes under a control that is held ends its movement, once.
#[test]
fn a_window_that_closes_lets_go() {
    let mut page = page();
    let bar = page.get_by_role_and_label(Role::Slider, "Space").rect();
    page.drag_at(bar.left_center() + egui::vec2(bar.width() * 0.2, 0.0));
    page.run();
    page.hover_at(bar.center());
    page.run();
    assert!(!page.state().told().contains(&"end"));
    let before = page.state().told().len();
    for _ in 0..2 {
        page.state_mut().close();
    }
    assert_eq!(page.state().told()[before..], ["end"]);
    assert!(page.state().past.can_undo());
}

#[test]
fn words_can_be_typed() {
    let mut page = page();
    page.get_by_label("Elaboration, typed").click();
    page.run();
    page.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::A);
    page.run();
    page.get_by_label("Elaboration, typed").type_text("spaced +0.25");
    page.run();
    assert_eq!(page.state().value(Control::Elaboration), 3.0, "changed while typing");
    page.key_press(egui::Key::Enter);
    page.run();
    assert_eq!(page.state().value(Control::Elaboration), 1.25);
    assert_eq!(page.state().told(), ["begin", "set", "end"]);
}

#[test]
fn the_keyboard_is_enough() {
    let mut page = page();
    page.get_by_role_and_label(Role::Slider, "Reach").focus();
    page.run();
    page.key_press(egui::Key::ArrowRight);
    page.run();
    assert_eq!(page.state().value(Control::Reach), 15.0);
    page.get_by_label("Dry").focus();
    page.run();
    page.key_press(egui::Key::Space);
    page.run();
    assert_eq!(page.state().value(Control::Dry), 1.0);
}

#[test]
fn choosing_two_channels_shows_them() {
    let mut page = page();
    page.get_by_label("Two channels").click();
    page.run();
    assert_eq!(page.state().value(Control::Source), 1.0);
    page.get_by_role_and_label(Role::Slider, "Melody channel");
    page.get_by_role_and_label(Role::Slider, "Chord channel");
    assert!(page.query_by_role_and_label(Role::Slider, "Split key").is_none());
    // Hands that are told apart need neither.
    page.get_by_label("By hand").click();
    page.run();
    assert_eq!(page.state().value(Control::Source), 2.0);
    for name in ["Melody channel", "Chord channel", "Split key"] {
        assert!(page.query_by_role_and_label(Role::Slider, name).is_none(), "{name}");
    }
}

#[test]
fn manners_are_chosen_from_a_list() {
    let mut page = page();
    page.get_by_label("Manner: unhurried").click();
    page.run();
    page.get_by_label("light-footed").click();
    page.run();
    page.get_by_label("Manner: light-footed");
    assert_eq!(page.state().params.manner.value().entry().name, "light-footed");
    assert_eq!(page.state().told(), ["begin", "set", "end"]);
}

#[test]
fn the_paper_can_be_turned() {
    let mut page = page();
    page.get_by_label("Dark paper").click();
    page.run();
    assert!(page.state().room.dark);
    page.get_by_label("Light paper");
}

/// Nothing asks to be painted again while nothing changes.
#[test]
fn a_still_page_rests() {
    let mut page = page();
    page.run();
    let later = page.output().viewport_output.values().map(|viewport| viewport.repaint_delay).min();
    assert!(later.expect("a viewport") > std::time::Duration::from_secs(60), "{later:?}");
}
