//! The head of the page: the manner with its sentence, the sheet, and what is done at a press.

use egui::{Align, Layout, RichText, Role, Ui, WidgetInfo, vec2};

use super::chooser::{Chooser, Sought};
use super::controls::Controls;
use super::grip::{button, pressed_button};
use super::theme::Inks;
use super::view::{SheetCard, View, Wish};
use crate::manners;
use crate::params::Control;

/// Sizes of everything that can be chosen, in percent.
const SIZES: [u32; 6] = [75, 90, 100, 125, 150, 200];

/// Most letters of a sheet's title in the head, where it must leave room for the rest.
const TITLE: usize = 24;

/// Most messages that are shown at once: the newest. Those before them come when these are put away.
pub(crate) const MESSAGES: usize = 3;

/// What of the window is not the music's: paper, size, the list of files.
#[derive(Clone, Debug, Default)]
pub struct Room {
    /// Light marks on dark paper.
    pub dark: bool,
    /// Size of everything, 1 as usual.
    pub scale: f32,
    /// The list of files, while one is being chosen.
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
            manner(ui, view, controls, wishes);
        });
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            window(ui, room, wishes);
            if wide {
                redo(ui, controls, wishes);
                undo(ui, controls, wishes);
                settings(ui, controls, inks, wishes);
                ui.separator();
            }
            let sentence = sentence(view, controls);
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
        let label = if view.demo { "Stop the demo" } else { "Play the demo" };
        let about = "Plays a short recorded take through Figwort, to hear and see what it does.";
        if button(ui, label, about, true) {
            wishes.push(Wish::Demo);
        }
        sound(ui, view, room, wishes);
        ports(ui, view, wishes);
        if !wide {
            ui.separator();
            settings(ui, controls, inks, wishes);
            undo(ui, controls, wishes);
            redo(ui, controls, wishes);
        }
    });
    if !view.messages.is_empty() {
        let first = view.messages.len().saturating_sub(MESSAGES);
        slip(ui, view.messages.get(first..).unwrap_or_default(), first, inks, wishes);
    }
}

/// The manners: the factory's, then the player's own.
fn manner(ui: &mut Ui, view: &View, controls: &mut impl Controls, wishes: &mut Vec<Wish>) {
    let present = controls.knob(Control::Manner).value() as usize;
    let factory = manners::all();
    let named = factory.get(present).map_or("", |entry| entry.name.as_str());
    let shown = view.own_manner.as_deref().unwrap_or(named).to_owned();
    let width = ui.available_width();
    let answer = egui::ComboBox::from_id_salt("manner")
        .width(width)
        .height(460.0)
        .selected_text(&shown)
        .show_ui(ui, |ui| {
            for (index, entry) in factory.iter().enumerate() {
                let chosen = view.own_manner.is_none() && index == present;
                if ui.selectable_label(chosen, &entry.name).on_hover_text(&entry.about).clicked() {
                    if view.own_manner.is_some() {
                        wishes.push(Wish::OwnManner(None));
                    }
                    if index != present {
                        controls.put(Control::Manner, index as f64);
                    }
                }
            }
            ui.separator();
            for own in &view.own_manners {
                let chosen = view.own_manner.as_ref() == Some(&own.name);
                let words = format!("{} (own)", own.name);
                if ui.selectable_label(chosen, words).on_hover_text(&own.about).clicked() {
                    wishes.push(Wish::OwnManner(Some(own.name.clone())));
                }
            }
            let about = "Reads the manner and figure files in your own folder again.";
            if ui.button("Read my manners again").on_hover_text(about).clicked() {
                wishes.push(Wish::ReadManners);
            }
        });
    answer.response.widget_info(|| WidgetInfo::labeled(Role::ComboBox, true, format!("Manner: {shown}")));
    answer.response.on_hover_text(super::words::about(Control::Manner));
}

/// What the manner is for.
fn sentence(view: &View, controls: &impl Controls) -> String {
    if let Some(own) = view.own_manners.iter().find(|own| view.own_manner.as_ref() == Some(&own.name)) {
        return own.about.clone();
    }
    let index = controls.knob(Control::Manner).value() as usize;
    manners::all().get(index).map_or_else(String::new, |entry| entry.about.clone())
}

/// What the audition piano sounds like.
fn sound(ui: &mut Ui, view: &View, room: &mut Room, wishes: &mut Vec<Wish>) {
    let menu = ui.menu_button("Sound", |ui| {
        if ui.radio(view.soundfont.is_none(), "Built-in piano").clicked() && view.soundfont.is_some() {
            wishes.push(Wish::BuiltInPiano);
        }
        if let Some(font) = &view.soundfont {
            ui.radio(true, font).on_hover_text("The soundfont that sounds.");
        }
        let about = "Has a soundfont of yours (.sf2) sound in place of the built-in piano.";
        if ui.button("Soundfont\u{2026}").on_hover_text(about).clicked() {
            room.chooser = Some(Chooser::new(Sought::Soundfont));
        }
    });
    let about = "What the audition piano sounds like. How loud it is stands among the controls.";
    menu.response.on_hover_text(about);
}

/// The MIDI devices, where there is no host that has them.
fn ports(ui: &mut Ui, view: &View, wishes: &mut Vec<Wish>) {
    let Some(ports) = &view.ports else { return };
    let menu = ui.menu_button("MIDI ports", |ui| {
        ui.label("Played from");
        port(ui, &ports.inputs, &ports.input, Wish::Input, wishes);
        ui.separator();
        ui.label("Played to");
        port(ui, &ports.outputs, &ports.output, Wish::Output, wishes);
    });
    if menu.response.on_hover_text("Which MIDI devices play Figwort and are played by it.").clicked() {
        wishes.push(Wish::LookForPorts);
    }
}

fn port(
    ui: &mut Ui,
    names: &[String],
    present: &Option<String>,
    wish: fn(Option<String>) -> Wish,
    wishes: &mut Vec<Wish>,
) {
    if ui.radio(present.is_none(), "none").clicked() {
        wishes.push(wish(None));
    }
    for name in names {
        if ui.radio(present.as_ref() == Some(name), name).clicked() {
            wishes.push(wish(Some(name.clone())));
        }
    }
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
    let mut parts = [None, Some((false, "1", "Setting 1")), Some((true, "2", "Setting 2"))];
    if ui.layout().prefer_right_to_left() {
        parts.reverse();
    }
    for part in parts {
        let Some((second, name, label)) = part else {
            ui.label("Setting").on_hover_text(about);
            continue;
        };
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
            None => Some(Chooser::new(Sought::Sheet)),
        };
    }
    let Some(card) = &view.sheet else { return };
    let menu = ui.menu_button(shortened(&card.title, TITLE), |ui| {
        ui.label(RichText::new(&card.title).size(16.0));
        ui.label(RichText::new(&card.about).color(inks.pencil));
        if card.tunes.len() > 1 {
            ui.separator();
            tunes(ui, card, wishes);
        }
        ui.separator();
        if button(ui, "Put away", "Plays without the sheet.", true) {
            wishes.push(Wish::PutSheetAway);
            ui.close();
        }
    });
    let label = format!("Sheet: {}, {}", card.title, card.about);
    menu.response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &label));
    let more = if card.tunes.len() > 1 { "; the other tunes of its file" } else { "" };
    menu.response.on_hover_text(format!("{}, {}. Puts it away{more}.", card.title, card.about));
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
}

/// The tunes of a file that holds several.
fn tunes(ui: &mut Ui, card: &SheetCard, wishes: &mut Vec<Wish>) {
    ui.label(format!("{} tunes in the file", card.tunes.len()));
    egui::ScrollArea::vertical().max_height(320.0).show(ui, |ui| {
        for (number, title) in &card.tunes {
            let chosen = card.tune == Some(*number);
            let words = format!("{number}. {}", shortened(title, 2 * TITLE));
            if ui.radio(chosen, words).clicked() && !chosen {
                wishes.push(Wish::Tune(*number));
                ui.close();
            }
        }
    });
}

/// A text of at most so many letters.
fn shortened(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let mut short: String = text.chars().take(most.saturating_sub(1)).collect();
    short.truncate(short.trim_end().len());
    short + "\u{2026}"
}

/// Messages until they are put away, and how many wait behind them.
fn slip(ui: &mut Ui, messages: &[String], more: usize, inks: &Inks, wishes: &mut Vec<Wish>) {
    let frame = egui::Frame::new().fill(inks.shade).inner_margin(egui::Margin::symmetric(8, 3));
    frame.show(ui, |ui| {
        let words = ui.available_width() - 70.0;
        ui.horizontal_top(|ui| {
            ui.vertical(|ui| {
                ui.set_width(words);
                ui.spacing_mut().item_spacing.y = 2.0;
                // On the button's line.
                ui.add_space(2.0);
                for message in messages {
                    ui.add(egui::Label::new(message).wrap());
                }
                if more > 0 {
                    let words = format!("{more} more when these are closed");
                    ui.label(RichText::new(words).color(inks.pencil));
                }
            });
            ui.with_layout(Layout::right_to_left(Align::Min), |ui| {
                if button(ui, "Close", "Puts these messages away.", true) {
                    wishes.push(Wish::Read);
                }
            });
        });
    });
}
