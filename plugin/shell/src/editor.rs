//! The editor: a page of music that writes itself, the ribbon of stillness, the keyboard, and the controls.
//!
//! [`draw`] needs neither host nor screen: it draws a [`View`] and answers what the player asks for besides
//! parameters as [`Wish`]es, which [`EditorApp`] fulfils. Deliberately absent: any state of the music.

use egui::{Align, CentralPanel, Frame, Layout, Margin, RichText, ScrollArea, Ui};

use crate::params::Control;

mod app;
pub mod chooser;
mod controls;
mod grip;
mod keyboard;
mod ladder;
mod panel;
pub mod record;
mod ribbon;
pub mod score;
mod theme;
mod time;
mod top;
mod view;
mod words;

pub use app::EditorApp;
pub(crate) use app::{create, initial_state};
use chooser::{Outcome, Sought};
pub use controls::{Controls, HostControls, Past};
pub use top::Room;
pub use view::{OwnManner, PortList, SheetCard, View, Wish, looks_different};

/// Width of the stave of rungs, in points, in a window of this width.
fn ladder_width(window: f32) -> f32 {
    (window * 0.15).clamp(122.0, 170.0)
}

/// Draws the whole page. Answers what the player asks for besides parameters.
pub fn draw(ui: &mut Ui, view: &View, room: &mut Room, controls: &mut impl Controls) -> Vec<Wish> {
    theme::apply(ui.ctx(), room.dark);
    let inks = theme::inks(room.dark);
    let mut wishes = Vec::new();
    shortcuts(ui, room, &mut wishes);
    let paper = Frame::new().fill(inks.paper).inner_margin(Margin::symmetric(16, 10));
    CentralPanel::default().frame(paper).show(ui, |ui| {
        ui.spacing_mut().item_spacing = egui::vec2(8.0, 5.0);
        top::draw(ui, view, room, controls, inks, &mut wishes);
        if let Some(chooser) = &mut room.chooser {
            match chooser.draw(ui, inks) {
                Outcome::Open => {}
                Outcome::Closed => room.chooser = None,
                Outcome::Chosen(path) => {
                    room.chooser = None;
                    wishes.push(wish_for(path));
                }
            }
            return;
        }
        // Where there is little room the controls scroll by themselves, so that the music stays in sight.
        let window = ui.available_height();
        if window < 420.0 {
            ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
                music(ui, view, controls, inks, 420.0, &mut wishes);
                panel::draw(ui, view, controls, inks);
            });
        } else {
            music(ui, view, controls, inks, window, &mut wishes);
            panel::scrolled(ui, view, controls, inks);
        }
    });
    wishes
}

/// The ladder, the page with its ribbon, and the keyboard.
fn music(
    ui: &mut Ui,
    view: &View,
    controls: &mut impl Controls,
    inks: &theme::Inks,
    window: f32,
    wishes: &mut Vec<Wish>,
) {
    let height = score::height(window);
    let rungs = ladder_width(ui.available_width());
    ui.horizontal_top(|ui| {
        ui.allocate_ui(egui::vec2(rungs, height + ribbon::HEIGHT), |ui| {
            ui.vertical(|ui| {
                ui.set_width(rungs);
                ladder::draw(ui, controls, height + ribbon::HEIGHT, inks);
            });
        });
        ui.add_space(6.0);
        ui.vertical(|ui| {
            ui.spacing_mut().item_spacing.y = 2.0;
            let (area, ruler) = score::draw(ui, &view.page, height, &view.page_words(), inks);
            if view.page.notes.is_empty() {
                invite(ui, view, area, controls, inks);
            }
            ribbon::draw(ui, view, &ruler, inks);
        });
    });
    let split = (controls.knob(Control::Source).value() < 0.5)
        .then(|| figwort_theory::Pitch::new(controls.knob(Control::Split).value().clamp(0.0, 127.0) as u8));
    now(ui, view, inks, wishes);
    keyboard::draw(ui, view, (window * 0.1).clamp(48.0, 90.0), split, inks, wishes);
}

/// What to do with an empty page.
fn invite(ui: &Ui, view: &View, area: egui::Rect, controls: &impl Controls, inks: &theme::Inks) {
    let who = match controls.knob(Control::Source).value() as usize {
        0 => {
            let split = controls.knob(Control::Split);
            format!("Hold a chord below {}, play a melody above", split.words(split.value()))
        }
        1 => "Play chords on one channel, a melody on the other".into(),
        _ => "Hold a chord with the left hand, play a melody with the right".into(),
    };
    let keys = if view.alone { " On the computer: Z to M chords, Q to P melody." } else { "" };
    let at = egui::pos2(area.center().x + 40.0, area.top() + area.height() * score::BETWEEN_STAVES);
    let font = egui::FontId::proportional(15.0);
    let words = format!("{who}: the page writes itself.{keys}");
    let width = area.width() * 0.82;
    let galley = ui.painter().layout(words, font, inks.ink, width);
    let place = egui::Rect::from_center_size(at, galley.size());
    ui.painter().rect_filled(place.expand(6.0), 2.0, inks.paper);
    ui.painter().galley(place.min, galley, inks.ink);
}

/// What is played at this moment, in words; without a host also what runs the time.
fn now(ui: &mut Ui, view: &View, inks: &theme::Inks, wishes: &mut Vec<Wish>) {
    let words = |ui: &mut Ui| {
        ui.spacing_mut().item_spacing.x = 14.0;
        let chord = if view.chord.is_empty() { "No chord" } else { &view.chord };
        ui.label(RichText::new(chord).size(18.0));
        ui.label(RichText::new(&view.texture).color(inks.second));
        let place = RichText::new(format!("{}; {}", view.key, view.place)).color(inks.pencil);
        ui.add(egui::Label::new(place).truncate());
    };
    if !view.alone {
        ui.horizontal_wrapped(words);
        return;
    }
    // The buttons stay where they are, however long the words.
    if ui.available_width() > 780.0 {
        ui.horizontal(|ui| {
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                time::draw(ui, view, inks, wishes);
                ui.with_layout(Layout::left_to_right(Align::Center), words);
            });
        });
    } else {
        ui.horizontal_wrapped(words);
        ui.horizontal_wrapped(|ui| time::draw(ui, view, inks, wishes));
    }
}

/// Keys that work anywhere on the page, and files that are dropped on it or pasted.
fn shortcuts(ui: &Ui, room: &mut Room, wishes: &mut Vec<Wish>) {
    use egui::{Key, KeyboardShortcut, Modifiers};
    const UNDO: KeyboardShortcut = KeyboardShortcut::new(Modifiers::COMMAND, Key::Z);
    const REDO: KeyboardShortcut = KeyboardShortcut::new(Modifiers::COMMAND.plus(Modifiers::SHIFT), Key::Z);
    if !ui.ctx().text_edit_focused() {
        // Where files cannot be dropped, one that was copied can be pasted. Some windows pass a paste on as text.
        let pasted = ui.input(|i| {
            i.events.iter().find_map(|event| match event {
                egui::Event::Paste(text) | egui::Event::Text(text) => chooser::pasted_file(text),
                _ => None,
            })
        });
        if let Some(path) = pasted {
            room.chooser = None;
            wishes.push(wish_for(path));
        }
        if ui.input_mut(|i| i.consume_shortcut(&REDO)) {
            wishes.push(Wish::Redo);
        } else if ui.input_mut(|i| i.consume_shortcut(&UNDO)) {
            wishes.push(Wish::Undo);
        }
    }
    let dropped = ui.input(|i| i.raw.dropped_files.clone());
    if let Some(path) = dropped.first().map(|file| file.path().to_owned()) {
        room.chooser = None;
        wishes.push(wish_for(path));
    }
}

/// What is to be done with a file that was chosen or dropped.
fn wish_for(path: std::path::PathBuf) -> Wish {
    match Sought::of(&path) {
        Sought::Sheet => Wish::LoadSheet(path),
        Sought::Soundfont => Wish::LoadSoundfont(path),
    }
}
