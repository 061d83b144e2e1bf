//! The editor's window: reads what the audio thread shows, draws, and fulfils wishes.
//!
//! Repaints while the music moves, and else only when the audio thread shows something new or the player does
//! something. Deliberately absent: drawing.

use std::sync::{Arc, Weak};

use egui::Ui;
use figwort_theory::{Metre, Moment, Pitch, Span, Velocity};
use nice_plug::context::gui::GuiContext;
use nice_plug::editor::SizeConstraints;
use nice_plug::editor::dpi::LogicalSize;
use nice_plug::prelude::ResizeHint;
use nice_plug_egui::baseview::{HandlerError, WindowSize};
use nice_plug_egui::{
    EguiEditor, EguiEditorState, EguiNiceSettings, NiceEguiApp, RepaintNotifier, create_egui_editor,
};

mod hands;

use super::controls::{HostControls, Past};
use super::draw;
use super::record::Record;
use super::top::{self, Room};
use super::view::{OwnManner, PortList, SheetCard, View, Wish};
use crate::Shown;
use crate::params::{Control, FigwortParams, SourceChoice};
use crate::session::{Row, Session};
use crate::sheet::LoadedSheet;
use crate::state::{Desk, MAX_SIZE, MIN_SIZE};
use hands::Hands;

/// When to look again whether a file has been read.
const SOON: std::time::Duration = std::time::Duration::from_millis(150);

/// The window's content.
pub struct EditorApp {
    params: Arc<FigwortParams>,
    session: Arc<Session>,
    shown: triple_buffer::Output<Shown>,
    host: Option<GuiContext>,
    past: Past,
    room: Room,
    record: Record,
    /// The next event of the session's history.
    next: u64,
    messages: Vec<String>,
    ports: Option<PortList>,
    own_manners: Vec<OwnManner>,
    /// The sheet whose tempo was taken last.
    sheet: Weak<LoadedSheet>,
    /// Where the page stood when it was drawn last.
    drawn: Moment,
    hands: Hands,
    /// The size that the project remembers, until the window has been asked for it.
    wanted: Option<[f32; 2]>,
}

impl EditorApp {
    pub(crate) fn new(params: Arc<FigwortParams>, shown: triple_buffer::Output<Shown>) -> Self {
        Self {
            session: params.session.clone(),
            params,
            shown,
            host: None,
            past: Past::default(),
            room: Room::default(),
            record: Record::default(),
            next: 0,
            messages: Vec::new(),
            ports: None,
            own_manners: Vec::new(),
            sheet: Weak::new(),
            drawn: Moment::ZERO,
            hands: Hands::default(),
            wanted: None,
        }
    }

    /// All that is to be drawn at this moment.
    fn view(&mut self, alone: bool) -> View {
        let (events, next) = self.session.history(self.next);
        self.next = next;
        self.record.take(&events);
        let shown = *self.shown.read();
        let sheet = self.session.sheet();
        let snapshot = &shown.snapshot;
        let beat = snapshot.metre.unwrap_or(Metre::FOUR_FOUR).beat();
        let beats = self.params.wait.value();
        let wait = Span((beat.0 as f64 * f64::from(beats)) as i64);
        self.messages.extend(self.session.messages());
        let mut messages = self.session.notices();
        messages.extend(self.messages.iter().cloned());
        View {
            page: self.record.page(&shown, sheet.as_deref().map(|loaded| &loaded.sheet), wait),
            sheet: sheet.as_deref().map(card),
            soundfont: self.session.soundfont().map(|path| file_name(&path)),
            messages,
            finishing: self.session.finishing(),
            alone,
            running: self.session.running(),
            metronome: self.session.metronome(),
            metre: (alone && sheet.is_none() && !self.session.demonstrating()).then(|| self.session.metre()),
            ports: self.ports.clone(),
            demo: self.session.demonstrating(),
            own_manners: self.own_manners.clone(),
            own_manner: self.session.own_manner(),
            ..View::of(snapshot, beats, |id| self.session.figure_name(id))
        }
    }

    fn report(&mut self, outcome: Result<(), String>) {
        if let Err(trouble) = outcome {
            self.messages.push(trouble);
        }
    }

    fn look_for_ports(&mut self) {
        self.ports = self.session.ports().map(|ports| PortList {
            inputs: ports.inputs(),
            outputs: ports.outputs(),
            input: ports.input(),
            output: ports.output(),
        });
    }

    fn list_manners(&mut self) {
        let own = self.session.manners().into_iter().filter(|card| card.own);
        self.own_manners = own.map(|card| OwnManner { name: card.name, about: card.about }).collect();
    }

    fn load(&mut self, path: &std::path::Path) {
        match self.session.load_sheet(path) {
            Ok(_) => self.messages.clear(),
            Err(trouble) => self.messages.push(trouble),
        }
    }

    /// Without a host the tempo is the sheet's: the control shows it when a sheet comes.
    fn follow_tempo(&mut self, host: &GuiContext) {
        let sheet = self.session.sheet();
        let same = match (&sheet, self.sheet.upgrade()) {
            (Some(present), Some(known)) => Arc::ptr_eq(present, &known),
            (None, _) => true,
            (Some(_), None) => false,
        };
        if let Some(loaded) = sheet.filter(|_| !same) {
            self.sheet = Arc::downgrade(&loaded);
            let (knob, setter) = (self.params.knob(Control::Tempo), host.param_setter());
            knob.begin(&setter);
            knob.set(&setter, loaded.tempo());
            knob.end(&setter);
        }
    }

    /// A key of the page's keyboard, as the hand it lies under plays it.
    fn play(&mut self, pitch: Pitch, velocity: Option<Velocity>) {
        let split = self.params.split.value();
        let row = match self.params.source.value() {
            SourceChoice::Split if i32::from(pitch.key()) >= split => Row::Melody,
            SourceChoice::Channels | SourceChoice::Hands if pitch.key() >= 60 => Row::Melody,
            _ => Row::Chords,
        };
        self.hands.strike(&self.session, row, pitch, velocity);
    }

    fn fulfil(&mut self, wishes: Vec<Wish>, ctx: &egui::Context) {
        for wish in wishes {
            let desk = self.params.desk.load();
            match wish {
                Wish::TurnPaper => self.params.desk.store(Desk { dark: !desk.dark, ..desk }),
                Wish::Scale(scale) => {
                    self.params.desk.store(Desk { scale, ..desk });
                    ctx.set_zoom_factor(scale);
                }
                Wish::LoadSheet(path) => self.load(&path),
                Wish::Tune(number) => {
                    let chosen = self.session.choose_tune(number);
                    self.report(chosen.map(|_| ()));
                }
                Wish::LoadSoundfont(path) => self.session.begin_soundfont(&path),
                Wish::BuiltInPiano => self.session.forget_soundfont(),
                Wish::PutSheetAway => self.session.clear_sheet(),
                Wish::KeepTake => match self.session.keep_take() {
                    Ok(path) => self.messages.push(format!("The take is kept in {}", path.display())),
                    Err(trouble) => self.messages.push(trouble),
                },
                Wish::Silence => self.session.panic(),
                Wish::Finish => self.session.finish(!self.session.finishing()),
                Wish::Read => {
                    let unseen = self.messages.len().saturating_sub(top::MESSAGES);
                    self.messages.truncate(unseen);
                }
                Wish::Key { pitch, velocity } => self.play(pitch, velocity),
                Wish::Demo if self.session.demonstrating() => self.session.stop_demo(),
                Wish::Demo => {
                    let begun = self.session.play_demo();
                    self.report(begun);
                }
                Wish::Run(running) => self.session.run(running),
                Wish::Metronome(on) => self.session.set_metronome(on),
                Wish::Metre(metre) => self.session.set_metre(metre),
                Wish::LookForPorts => self.look_for_ports(),
                Wish::Input(name) => {
                    let chosen = self.session.ports().map(|ports| ports.choose_input(name.as_deref()));
                    self.report(chosen.unwrap_or(Ok(())));
                    self.look_for_ports();
                }
                Wish::Output(name) => {
                    let chosen = self.session.ports().map(|ports| ports.choose_output(name.as_deref()));
                    self.report(chosen.unwrap_or(Ok(())));
                    self.look_for_ports();
                }
                Wish::OwnManner(name) => {
                    let chosen = self.session.choose_manner(name.as_deref());
                    self.report(chosen);
                }
                Wish::ReadManners => {
                    self.messages.extend(self.session.reload_manners());
                    self.list_manners();
                }
                Wish::Undo | Wish::Redo | Wish::Setting(_) => {}
            }
        }
    }
}

fn file_name(path: &std::path::Path) -> String {
    path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned())
}

fn card(loaded: &LoadedSheet) -> SheetCard {
    let metre = loaded.metre();
    SheetCard {
        title: loaded.title().to_owned(),
        about: format!("{} bars in {}/{}", loaded.bars(), metre.numerator(), metre.denominator()),
        warnings: loaded.warnings.clone(),
        tunes: loaded.tunes.clone(),
        tune: loaded.tune,
    }
}

impl NiceEguiApp for EditorApp {
    fn build(
        &mut self,
        ctx: egui::Context,
        host: GuiContext,
        _frame: &mut nice_plug_egui::Frame,
    ) -> Result<(), HandlerError> {
        self.host = Some(host);
        let desk = self.params.desk.load();
        ctx.set_zoom_factor(desk.scale());
        self.wanted = Some(desk.size());
        // What was found, and what is wrong with it, is told when the player asks to read them again.
        self.session.reload_manners();
        self.list_manners();
        self.look_for_ports();
        Ok(())
    }

    fn ui(&mut self, ui: &mut Ui, _frame: &mut nice_plug_egui::Frame) {
        let Some(host) = self.host.clone() else { return };
        if let Some([width, height]) = self.wanted.take() {
            // The window was made before the project's state was known.
            let present = ui.ctx().content_rect().size();
            let wanted = egui::vec2(width, height);
            if (present - wanted).abs().max_elem() > 1.0 {
                ui.ctx().send_viewport_cmd(egui::ViewportCommand::InnerSize(wanted));
            }
        }
        let alone = self.session.has_own_clock();
        if alone {
            self.hands.computer_keys(&self.session, ui);
            self.follow_tempo(&host);
        }
        let view = self.view(alone);
        let desk = self.params.desk.load();
        self.room.dark = desk.dark;
        self.room.scale = desk.scale();
        self.past.follow(&self.session);
        let mut controls =
            HostControls { params: &self.params, setter: host.param_setter(), past: &mut self.past };
        let mut wishes = draw(ui, &view, &mut self.room, &mut controls);
        wishes.retain(|wish| {
            match wish {
                Wish::Undo => controls.undo(),
                Wish::Redo => controls.redo(),
                Wish::Setting(second) => controls.switch(*second),
                _ => return true,
            }
            false
        });
        self.fulfil(wishes, &ui.ctx().clone());
        if self.session.reading_soundfont().is_some() {
            // Nobody else tells the window when it has been read.
            ui.ctx().request_repaint_after(SOON);
        }
        // The cursor moves: the next frame differs.
        if view.page.now != self.drawn {
            self.drawn = view.page.now;
            ui.ctx().request_repaint();
        }
    }

    fn resized(&mut self, size: WindowSize) {
        if self.wanted.is_none() {
            let (width, height) = (size.logical.width as f32, size.logical.height as f32);
            self.params.desk.store(Desk { width, height, ..self.params.desk.load() });
        }
    }

    fn editor_closed(&mut self) {
        self.hands.let_go(&self.session);
        if let Some(host) = self.host.take() {
            let setter = host.param_setter();
            HostControls { params: &self.params, setter, past: &mut self.past }.let_go();
        }
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

#[cfg(test)]
mod tests {
    use super::*;

    fn app() -> EditorApp {
        EditorApp::new(Arc::default(), triple_buffer::triple_buffer(&Shown::default()).1)
    }

    #[test]
    fn the_final_chord_can_be_taken_back() {
        let mut app = app();
        for finishing in [true, false, true] {
            app.fulfil(vec![Wish::Finish], &egui::Context::default());
            assert_eq!(app.session.finishing(), finishing);
        }
    }

    /// A key that is held while the split key moves past it comes up on the side where it went down.
    #[test]
    fn a_key_comes_up_in_the_hand_that_struck_it() {
        use crate::session::{Incoming, PlayedKey};
        let mut app = app();
        let velocity = Some(Velocity::new(80));
        let c4 = Pitch::C4;
        assert_eq!(i32::from(c4.key()), app.params.split.value(), "the split key as it comes");
        app.play(c4, velocity);
        // The split key has risen: the key would now be the chord hand's.
        app.params = Arc::new(FigwortParams {
            split: nice_plug::prelude::IntParam::new(
                "Split key",
                72,
                nice_plug::prelude::IntRange::Linear { min: 0, max: 127 },
            ),
            session: Arc::clone(&app.session),
            ..FigwortParams::default()
        });
        app.play(c4, None);
        app.play(c4, velocity);
        app.editor_closed();
        let played = std::iter::from_fn(|| app.session.incoming.pop());
        let key = |row, velocity| Incoming::Key(PlayedKey { row, pitch: c4, velocity });
        let expected =
            [(Row::Melody, velocity), (Row::Melody, None), (Row::Chords, velocity), (Row::Chords, None)];
        assert_eq!(played.collect::<Vec<_>>(), expected.map(|(row, velocity)| key(row, velocity)));
    }

    #[test]
    fn only_messages_that_were_seen_are_put_away() {
        let mut app = app();
        for n in 0..5 {
            app.session.say(format!("number {n}"));
        }
        assert_eq!(app.view(false).messages.len(), 5);
        app.fulfil(vec![Wish::Read], &egui::Context::default());
        assert_eq!(app.view(false).messages, ["number 0", "number 1"]);
        app.fulfil(vec![Wish::Read], &egui::Context::default());
        assert_eq!(app.view(false).messages, [""; 0]);
    }

    #[test]
    fn two_wishes_of_one_frame_are_both_fulfilled() {
        let mut app = app();
        let dark = app.params.desk.load().dark;
        app.fulfil(vec![Wish::TurnPaper, Wish::Scale(1.5)], &egui::Context::default());
        let desk = app.params.desk.load();
        assert_eq!((desk.dark, desk.scale), (!dark, 1.5));
    }
}
