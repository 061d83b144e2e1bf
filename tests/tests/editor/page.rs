//! A page with a host that writes down what it is told.

use std::sync::{Arc, Mutex};

use egui_kittest::Harness;
use figwort::editor::{HostControls, Past, Room, View, Wish, draw};
use figwort::params::{Control, FigwortParams};
use figwort_engine::{Family, MelodyState, Snapshot, Texture};
use figwort_theory::{Chord, Kind, Pitch, PitchClass, Span};
use nice_plug::context::PluginApi;
use nice_plug::context::gui::{GuiContextInner, ParamSetter};
use nice_plug::plugin::PluginState;
use nice_plug::prelude::ParamPtr;

/// A host that does what it is asked and writes it down.
#[derive(Default)]
pub(crate) struct Host {
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

pub(crate) struct Page {
    pub(crate) params: Arc<FigwortParams>,
    pub(crate) host: Host,
    pub(crate) view: View,
    pub(crate) room: Room,
    pub(crate) past: Past,
    pub(crate) wishes: Vec<Wish>,
}

impl Page {
    pub(crate) fn told(&self) -> Vec<&'static str> {
        self.host.told.lock().expect("not poisoned").clone()
    }
    /// As the framework tells it.
    pub(crate) fn close(&mut self) {
        let setter = ParamSetter::new(&self.host);
        HostControls { params: &self.params, setter, past: &mut self.past }.let_go();
    }
    pub(crate) fn value(&self, control: Control) -> f64 {
        self.params.knob(control).value()
    }
}

pub(crate) fn page_with(view: View, size: [f32; 2]) -> Harness<'static, Page> {
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

pub(crate) fn page_of(snapshot: &Snapshot, size: [f32; 2]) -> Harness<'static, Page> {
    page_with(View::of(snapshot, 1.0, |_| Some("rocking".into())), size)
}

pub(crate) fn playing() -> Snapshot {
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

pub(crate) fn page() -> Harness<'static, Page> {
    page_of(&playing(), [1040.0, 800.0])
}
