//! The editor without a screen: what a screen reader finds on the page, and that moving a control moves the
//! parameter and tells the host.
#![allow(unsafe_code, reason = "the framework's host interface hands over raw parameters")]

use std::sync::{Arc, Mutex};

use egui::accesskit::Role;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use figwort::editor::{HostControls, View, draw};
use figwort::params::{Control, FigwortParams};
use figwort_engine::{Family, MelodyState, Snapshot, Texture};
use figwort_theory::{Chord, Kind, Pitch, PitchClass, Span};
use nice_plug::context::PluginApi;
use nice_plug::context::gui::{GuiContextInner, ParamSetter};
use nice_plug::plugin::PluginState;
use nice_plug::prelude::ParamPtr;

/// A host that does what it is asked and writes it down.
#[derive(Default)]
struct Host {
    told: Mutex<Vec<&'static str>>,
}

impl Host {
    fn write(&self, word: &'static str) {
        self.told.lock().expect("not poisoned").push(word);
    }
}

impl GuiContextInner for Host {
    fn plugin_api(&self) -> PluginApi {
        PluginApi::Clap
    }
    unsafe fn raw_begin_set_parameter(&self, _param: ParamPtr) {
        self.write("begin");
    }
    unsafe fn raw_set_parameter_normalized(&self, param: ParamPtr, normalized: f32) {
        self.write("set");
        // SAFETY: the parameters outlive the page that is being drawn.
        unsafe { param._internal_set_normalized_value(normalized) };
    }
    unsafe fn raw_end_set_parameter(&self, _param: ParamPtr) {
        self.write("end");
    }
    fn get_state(&self) -> PluginState {
        unreachable!("the page asks for no state")
    }
    fn set_state(&self, _state: PluginState) {}
    fn request_restart(&self) {}
}

struct Page {
    params: Arc<FigwortParams>,
    host: Host,
    view: View,
    dark: bool,
}

impl Page {
    fn told(&self) -> Vec<&'static str> {
        self.host.told.lock().expect("not poisoned").clone()
    }
    fn value(&self, control: Control) -> f64 {
        self.params.knob(control).value()
    }
}

fn page_of(snapshot: &Snapshot, size: [f32; 2]) -> Harness<'static, Page> {
    let page = Page {
        params: Arc::default(),
        host: Host::default(),
        view: View::of(snapshot, 1.0, |_| Some("rocking")),
        dark: false,
    };
    Harness::builder().with_size(egui::Vec2::from(size)).build_ui_state(
        |ui, page: &mut Page| {
            let params = page.params.clone();
            let mut controls = HostControls { params: &params, setter: ParamSetter::new(&page.host) };
            if draw(ui, &page.view, page.dark, &mut controls) {
                page.dark = !page.dark;
            }
        },
        page,
    )
}

fn playing() -> Snapshot {
    Snapshot {
        chord: Some(Chord::new(PitchClass::new(9), Kind::MinorSeventh)),
        melody: Some(Pitch::new(76)),
        melody_state: MelodyState::Still,
        stillness: Span::QUARTER,
        texture: Texture::Figure(Family::BrokenChord),
        figure: Some(1),
        parts: 4,
        sounding: [1 << 76, 1 << 67 | 1 << 72, 1 << 45],
        pedal: true,
        tempo: 96.0,
        playing: true,
        ..Snapshot::default()
    }
}

fn page() -> Harness<'static, Page> {
    page_of(&playing(), [860.0, 760.0])
}

#[test]
fn the_page_says_what_is_played() {
    let page = page();
    page.get_by_label("Am7");
    page.get_by_label("broken chord \u{2013} rocking, 4 parts");
    page.get_by_label("Melody still for 1.0 beats");
    page.get_by_label("Stillness: 100 of 100");
    page.get_by_role_and_label(Role::Image, "Melody E5; Right hand G4 C5; Left hand A2");
    page.get_by_label("Pedal down");
    page.get_by_label_contains("with the host");
    let empty = page_of(&Snapshot::default(), [860.0, 760.0]);
    empty.get_by_label("No chord");
    empty.get_by_label("Melody resting");
    empty.get_by_role_and_label(Role::Image, "Nothing sounds");
}

/// Every parameter can be found by its name, at the smallest size as well as at the usual one. Those that
/// the choice of input makes meaningless are not shown.
#[test]
fn every_control_has_its_name() {
    for size in [[520.0, 420.0], [860.0, 760.0], [1600.0, 1000.0]] {
        let page = page_of(&playing(), size);
        for control in Control::ALL {
            let label = page.state().params.knob(*control).label().to_owned();
            let hidden = matches!(control, Control::MelodyChannel | Control::ChordChannel);
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
    assert!(page.state().dark);
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
