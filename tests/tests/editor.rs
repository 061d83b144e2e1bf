//! The editor without a screen: what a screen reader finds on the page, and that moving a control moves the
//! parameter and tells the host.
#![allow(unsafe_code, reason = "the framework's host interface hands over raw parameters")]

use std::sync::{Arc, Mutex};

use egui::accesskit::Role;
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use figwort::editor::{HostControls, Past, Room, SheetCard, View, Wish, draw};
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
    room: Room,
    past: Past,
    wishes: Vec<Wish>,
}

impl Page {
    fn told(&self) -> Vec<&'static str> {
        self.host.told.lock().expect("not poisoned").clone()
    }
    fn value(&self, control: Control) -> f64 {
        self.params.knob(control).value()
    }
}

fn page_with(view: View, size: [f32; 2]) -> Harness<'static, Page> {
    let page = Page {
        params: Arc::default(),
        host: Host::default(),
        view,
        room: Room { dark: false, scale: 1.0, chooser: None },
        past: Past::default(),
        wishes: Vec::new(),
    };
    Harness::builder().with_size(egui::Vec2::from(size)).build_ui_state(
        |ui, page: &mut Page| {
            let params = page.params.clone();
            let setter = ParamSetter::new(&page.host);
            let mut controls = HostControls { params: &params, setter, past: &mut page.past };
            for wish in draw(ui, &page.view, &mut page.room, &mut controls) {
                match wish {
                    Wish::TurnPaper => page.room.dark = !page.room.dark,
                    Wish::Undo => controls.undo(),
                    Wish::Redo => controls.redo(),
                    Wish::Setting(second) => controls.switch(second),
                    other => page.wishes.push(other),
                }
            }
        },
        page,
    )
}

fn page_of(snapshot: &Snapshot, size: [f32; 2]) -> Harness<'static, Page> {
    page_with(View::of(snapshot, 1.0, |_| Some("rocking")), size)
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
    page_of(&playing(), [1040.0, 800.0])
}

#[test]
fn the_page_says_what_is_played() {
    let page = page();
    page.get_by_label("Am7");
    page.get_by_label("broken chord \u{2013} rocking, 4 parts");
    page.get_by_label("Stillness: Melody still for 1.0 beats, 100 of 100");
    page.get_by_role_and_label(Role::Image, "Page: Am7, 0 notes in this bar");
    page.get_by_role_and_label(Role::Image, "Melody E5; Right hand G4 C5; Left hand A2; pedal down");
    page.get_by_label_contains("with the host");
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

/// Everything that is not a parameter comes out as a wish.
#[test]
fn what_is_done_at_a_press() {
    let mut page = page();
    for (name, wish) in
        [("Keep take", Wish::KeepTake), ("Final chord", Wish::Finish), ("Silence", Wish::Silence)]
    {
        page.get_by_role_and_label(Role::Button, name).click();
        page.run();
        assert_eq!(page.state().wishes.last(), Some(&wish), "{name}");
    }
    assert!(page.query_by_label("Play the demo").is_none(), "a host has its own transport");
    page.state_mut().view.alone = true;
    page.run();
    page.get_by_label("Play the demo").click();
    page.run();
    assert_eq!(page.state().wishes.last(), Some(&Wish::Demo));
}

#[test]
fn the_final_chord_says_that_it_waits() {
    let mut page = page();
    page.state_mut().view.finishing = true;
    page.run();
    page.get_by_label("Final chord: waiting");
}

#[test]
fn a_sheet_shows_its_title_and_remarks() {
    let mut view = View::of(&playing(), 1.0, |_| None);
    view.sheet = Some(SheetCard {
        title: "Lantern Walk".into(),
        about: "32 bars in 4/4".into(),
        warnings: vec!["bar 9: a chord was left out".into()],
    });
    let mut page = page_with(view, [1040.0, 800.0]);
    page.get_by_label("Lantern Walk");
    page.get_by_label("Sheet gives: Chords and melody");
    page.get_by_role_and_label(Role::Slider, "Sheet starts in bar");
    page.get_by_label("1 remark").click();
    page.run();
    page.get_by_label("bar 9: a chord was left out");
    page.get_by_label("Put away").click();
    page.run();
    assert_eq!(page.state().wishes.last(), Some(&Wish::PutSheetAway));
}

#[test]
fn a_message_stays_until_it_is_put_away() {
    let mut view = View::of(&playing(), 1.0, |_| None);
    view.messages = vec!["Kept as take 3.mid".into()];
    let mut page = page_with(view, [1040.0, 800.0]);
    page.get_by_label("Kept as take 3.mid");
    page.get_by_label("Close").click();
    page.run();
    assert_eq!(page.state().wishes.last(), Some(&Wish::Read));
}

/// A sheet's path can be typed.
#[test]
fn a_sheet_is_chosen_by_its_path() {
    let mut page = page();
    page.get_by_label("Open sheet\u{2026}").click();
    page.run();
    let songs = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../presets/songs");
    let song = std::fs::read_dir(songs).expect("songs").flatten().map(|entry| entry.path()).next();
    let song = song.expect("a song").canonicalize().expect("a path");
    page.get_by_label("Path of the sheet").click();
    page.run();
    page.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::A);
    page.run();
    page.get_by_label("Path of the sheet").type_text(&song.display().to_string());
    page.run();
    page.key_press(egui::Key::Enter);
    page.run();
    assert_eq!(page.state().wishes, [Wish::LoadSheet(song)]);
    assert!(page.state().room.chooser.is_none());
}

#[test]
fn changes_are_taken_back_and_done_again() {
    let mut page = page();
    page.get_by_label("Dry").click();
    page.run();
    page.get_by_role_and_label(Role::RadioButton, "Ornate").click();
    page.run();
    page.get_by_label("Undo").click();
    page.run();
    assert_eq!((page.state().value(Control::Elaboration), page.state().value(Control::Dry)), (3.0, 1.0));
    page.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::Z);
    page.run();
    assert_eq!(page.state().value(Control::Dry), 0.0);
    page.get_by_label("Redo").click();
    page.run();
    assert_eq!((page.state().value(Control::Elaboration), page.state().value(Control::Dry)), (3.0, 1.0));
    // Each told to the host as a movement of its own.
    assert_eq!(page.state().told().len(), 5 * 3);
}

#[test]
fn two_settings_are_compared() {
    let mut page = page();
    page.get_by_label("Setting 2").click();
    page.run();
    page.get_by_role_and_label(Role::RadioButton, "Plain").click();
    page.run();
    page.get_by_label("Setting 1").click();
    page.run();
    assert_eq!(page.state().value(Control::Elaboration), 3.0);
    page.get_by_label("Setting 2").click();
    page.run();
    assert_eq!(page.state().value(Control::Elaboration), 0.0);
}

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
    for _ in 0..2 {
        page.drag_at(at);
        page.step();
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
