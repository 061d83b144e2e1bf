//! The editor: one page of paper with the chord, the melody's stillness, what sounds, and the controls.
//!
//! [`draw`] needs neither host nor screen. Repaints only when the snapshot looks different or the player
//! does something. Deliberately absent: any state of the music.

use std::sync::Arc;

use egui::{CentralPanel, Frame, Margin, RichText, ScrollArea, Ui};
use nice_plug::context::gui::GuiContext;
use nice_plug::editor::SizeConstraints;
use nice_plug::editor::dpi::LogicalSize;
use nice_plug::prelude::ResizeHint;
use nice_plug_egui::baseview::{HandlerError, WindowSize};
use nice_plug_egui::{
    EguiEditor, EguiEditorState, EguiNiceSettings, NiceEguiApp, RepaintNotifier, create_egui_editor,
};

use crate::params::FigwortParams;
use crate::state::{Desk, MAX_SIZE, MIN_SIZE};
use crate::{Shown, manners};

mod controls;
mod keyboard;
mod panel;
mod ribbon;
mod theme;
mod view;

pub use controls::{Controls, HostControls};
pub use view::{View, looks_different};

/// Draws the whole page. Answers whether the player asked for the other paper.
pub fn draw(ui: &mut Ui, view: &View, dark: bool, controls: &mut impl Controls) -> bool {
    theme::apply(ui.ctx(), dark);
    let inks = theme::inks(dark);
    let mut turn = false;
    let page = Frame::new().fill(inks.paper).inner_margin(Margin::symmetric(18, 14));
    CentralPanel::default().frame(page).show(ui, |ui| {
        ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
            ui.horizontal(|ui| {
                let chord = if view.chord.is_empty() { "No chord" } else { &view.chord };
                ui.label(RichText::new(chord).size(44.0));
                ui.add_space(12.0);
                ui.vertical(|ui| {
                    ui.add_space(8.0);
                    ui.label(RichText::new(&view.texture).size(17.0).color(inks.second));
                    ui.label(RichText::new(format!("{}; {}", view.key, view.place)).color(inks.pencil));
                });
                ui.with_layout(egui::Layout::right_to_left(egui::Align::Min), |ui| {
                    turn = ui.button(if dark { "Light paper" } else { "Dark paper" }).clicked();
                });
            });
            ribbon::draw(ui, view, inks);
            ui.add_space(2.0);
            keyboard::draw(ui, view, inks);
            panel::draw(ui, controls, inks);
        });
    });
    turn
}

/// The window's content.
pub struct EditorApp {
    params: Arc<FigwortParams>,
    snapshots: triple_buffer::Output<Shown>,
    host: Option<GuiContext>,
    /// The size that the project remembers, until the window has been asked for it.
    wanted: Option<[f32; 2]>,
}

impl EditorApp {
    pub(crate) fn new(params: Arc<FigwortParams>, snapshots: triple_buffer::Output<Shown>) -> Self {
        Self { params, snapshots, host: None, wanted: None }
    }
}

impl NiceEguiApp for EditorApp {
    fn build(
        &mut self,
        _ctx: egui::Context,
        host: GuiContext,
        _frame: &mut nice_plug_egui::Frame,
    ) -> Result<(), HandlerError> {
        self.host = Some(host);
        self.wanted = Some(self.params.desk.load().size());
        Ok(())
    }

    fn ui(&mut self, ui: &mut Ui, _frame: &mut nice_plug_egui::Frame) {
        let Some(host) = &self.host else { return };
        if let Some([width, height]) = self.wanted.take() {
            // The window was made before the project's state was known.
            let present = ui.ctx().content_rect().size();
            let wanted = egui::vec2(width, height);
            if (present - wanted).abs().max_elem() > 1.0 {
                ui.ctx().send_viewport_cmd(egui::ViewportCommand::InnerSize(wanted));
            }
        }
        let view = View::of(&self.snapshots.read().snapshot, self.params.wait.value(), manners::figure_name);
        let dark = self.params.desk.load().dark;
        let mut controls = HostControls { params: &self.params, setter: host.param_setter() };
        if draw(ui, &view, dark, &mut controls) {
            self.params.desk.store(Desk { dark: !dark, ..self.params.desk.load() });
        }
    }

    fn resized(&mut self, size: WindowSize) {
        if self.wanted.is_none() {
            let (width, height) = (size.logical.width as f32, size.logical.height as f32);
            self.params.desk.store(Desk { width, height, ..self.params.desk.load() });
        }
    }

    fn editor_closed(&mut self) {
        self.host = None;
    }
}

/// The window's state before any project is loaded.
pub(crate) fn initial_state() -> Arc<EguiEditorState> {
    let [width, height] = Desk::default().size();
    EguiEditorState::from_size(LogicalSize::new(width, height), 1.0)
}

/// The editor as the framework wants it.
pub(crate) fn create(
    state: Arc<EguiEditorState>,
    repaint: RepaintNotifier,
    app: EditorApp,
) -> Option<EguiEditor<EditorApp>> {
    let size = |[width, height]: [f32; 2]| Some(LogicalSize::new(width, height));
    let hint = ResizeHint {
        can_resize: true,
        can_resize_horizontally: true,
        can_resize_vertically: true,
        size_constraints: SizeConstraints::Logical { min_size: size(MIN_SIZE), max_size: size(MAX_SIZE) },
        ..ResizeHint::NON_RESIZABLE
    };
    let settings = EguiNiceSettings::new().with_tile("Figwort").with_resize_hint(hint);
    create_egui_editor(state, repaint, settings, app)
}
