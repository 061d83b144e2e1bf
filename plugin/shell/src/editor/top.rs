//! The head of the page: the manner with its sentence, the sheet, and what is done at a press.

use egui::{Align, Layout, RichText, Role, Ui, WidgetInfo, vec2};

use super::chooser::Chooser;
use super::controls::Controls;
use super::grip::{button, choice, pressed_button};
use super::theme::Inks;
use super::view::{View, Wish};
use crate::manners;
use crate::params::Control;

/// Sizes of everything that can be chosen, in percent.
const SIZES: [u32; 6] = [75, 90, 100, 125, 150, 200];

/// What of the window is not the music's: paper, size, the list of files.
#[derive(Clone, Debug, Default)]
pub struct Room {
    /// Light marks on dark paper.
    pub dark: bool,
    /// Size of everything, 1 as usual.
    pub scale: f32,
    /// The list of files, while a sheet is being chosen.
    pub chooser: Option<Chooser>,
}

/// Draws the head.
pub(crate) fn draw(
    ui: &mut Ui,
    view: &View,
    room: &mut Room,
    controls: &mut impl Controls,
    inks: &Inks,
    wishes: &mut Vec<Wish>,
) {
    let wide = ui.available_width() > 860.0;
    ui.horizontal(|ui| {
        ui.label(RichText::new("Manner").size(16.0));
        ui.scope(|ui| {
            ui.set_width(170.0);
            choice(ui, Control::Manner, controls, |index| {
                manners::all().get(index).map_or_else(String::new, |entry| entry.about.clone())
            });
        });
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            window(ui, room, wishes);
            if wide {
                redo(ui, controls, wishes);
                undo(ui, controls, wishes);
            }
            let sentence = sentence(controls);
            ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
                ui.add(egui::Label::new(RichText::new(&sentence).color(inks.pencil)).truncate())
                    .on_hover_text(sentence);
            });
        });
    });
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing = vec2(8.0, 4.0);
        sheet(ui, view, room, inks, wishes);
        ui.separator();
        if button(ui, "Keep take", "Writes the last minutes of what was played as a MIDI file.", true) {
            wishes.push(Wish::KeepTake);
        }
        let finishing = view.finishing || controls.knob(Control::Finish).value() > 0.5;
        let label = if finishing { "Final chord: waiting" } else { "Final chord" };
        let about = "The next chord is the last: spread, and climbing past the melody.";
        if pressed_button(ui, label, finishing, inks).on_hover_text(about).clicked() {
            if controls.knob(Control::Finish).value() > 0.5 {
                controls.put(Control::Finish, 0.0);
            } else {
                wishes.push(Wish::Finish);
            }
        }
        if button(ui, "Silence", "Ends every note at once, also in the instruments behind.", true) {
            wishes.push(Wish::Silence);
        }
        if view.alone {
            let label = if view.demo { "Stop the demo" } else { "Play the demo" };
            let about = "Plays a short recorded take through Figwort, to hear and see what it does.";
            if button(ui, label, about, true) {
                wishes.push(Wish::Demo);
            }
        }
        ui.separator();
        settings(ui, controls, inks, wishes);
        if !wide {
            undo(ui, controls, wishes);
            redo(ui, controls, wishes);
        }
    });
    if let Some(message) = view.messages.last() {
        slip(ui, message, inks, wishes);
    }
}

/// What the manner is for.
fn sentence(controls: &impl Controls) -> String {
    let index = controls.knob(Control::Manner).value() as usize;
    manners::all().get(index).map_or_else(String::new, |entry| entry.about.clone())
}

fn window(ui: &mut Ui, room: &mut Room, wishes: &mut Vec<Wish>) {
    let words = if room.dark { "Light paper" } else { "Dark paper" };
    if button(ui, words, "Turns the page to the other paper.", true) {
        wishes.push(Wish::TurnPaper);
    }
    let percent = (room.scale * 100.0).round() as u32;
    let shown = format!("{percent} %");
    let answer = egui::ComboBox::from_id_salt("size").width(62.0).selected_text(&shown).show_ui(ui, |ui| {
        for size in SIZES {
            if ui.selectable_label(size == percent, format!("{size} %")).clicked() && size != percent {
                wishes.push(Wish::Scale(size as f32 / 100.0));
            }
        }
    });
    answer.response.widget_info(|| WidgetInfo::labeled(Role::ComboBox, true, format!("Size: {shown}")));
    answer.response.on_hover_text("How large everything is drawn.");
}

/// The two settings.
fn settings(ui: &mut Ui, controls: &impl Controls, inks: &Inks, wishes: &mut Vec<Wish>) {
    let about = "Two settings to compare. The second begins as a copy of the first; each keeps what you \
                 change while it is chosen.";
    ui.label("Setting").on_hover_text(about);
    for (second, name, label) in [(false, "1", "Setting 1"), (true, "2", "Setting 2")] {
        let chosen = controls.past().on_second() == second;
        let response = pressed_button(ui, name, chosen, inks).on_hover_text(about);
        response.widget_info(|| WidgetInfo::selected(Role::RadioButton, true, chosen, label));
        if response.clicked() && !chosen {
            wishes.push(Wish::Setting(second));
        }
    }
}

fn undo(ui: &mut Ui, controls: &impl Controls, wishes: &mut Vec<Wish>) {
    if button(ui, "Undo", "Takes the last change back (Ctrl+Z).", controls.past().can_undo()) {
        wishes.push(Wish::Undo);
    }
}

fn redo(ui: &mut Ui, controls: &impl Controls, wishes: &mut Vec<Wish>) {
    if button(ui, "Redo", "Does again what was taken back (Ctrl+Shift+Z).", controls.past().can_redo()) {
        wishes.push(Wish::Redo);
    }
}

fn sheet(ui: &mut Ui, view: &View, room: &mut Room, inks: &Inks, wishes: &mut Vec<Wish>) {
    let about = "Reads a lead sheet: MusicXML, ABC or MIDI.";
    if button(ui, "Open sheet\u{2026}", about, true) {
        room.chooser = match room.chooser {
            Some(_) => None,
            None => Some(Chooser::new()),
        };
    }
    let Some(card) = &view.sheet else { return };
    ui.label(RichText::new(&card.title).size(16.0));
    ui.label(RichText::new(&card.about).color(inks.pencil));
    if !card.warnings.is_empty() {
        let count = card.warnings.len();
        let words = if count == 1 { "1 remark".into() } else { format!("{count} remarks") };
        ui.menu_button(words, |ui| {
            egui::ScrollArea::vertical().max_height(260.0).show(ui, |ui| {
                for warning in &card.warnings {
                    ui.label(warning);
                }
            });
        })
        .response
        .on_hover_text("What was odd in the sheet and how it was read.");
    }
    if button(ui, "Put away", "Plays without the sheet.", true) {
        wishes.push(Wish::PutSheetAway);
    }
}

/// A message until it is put away.
fn slip(ui: &mut Ui, message: &str, inks: &Inks, wishes: &mut Vec<Wish>) {
    let frame = egui::Frame::new().fill(inks.shade).inner_margin(egui::Margin::symmetric(8, 3));
    frame.show(ui, |ui| {
        ui.horizontal(|ui| {
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                if button(ui, "Close", "Puts the message away.", true) {
                    wishes.push(Wish::Read);
                }
                ui.with_layout(Layout::left_to_right(Align::Center).with_main_wrap(true), |ui| {
                    ui.label(message);
                });
            });
        });
    });
}
