//! What a host does where there is none: runs the time, clicks, has a metre.
//!
//! Stands beside the words that say where the music is. Deliberately absent: the clock itself.

use egui::{Role, Ui, WidgetInfo};
use figwort_theory::Metre;

use super::grip::pressed_button;
use super::theme::Inks;
use super::view::{View, Wish};

/// The metres that figures are written for.
const METRES: [(u8, u8); 8] = [(2, 4), (3, 4), (4, 4), (5, 4), (6, 8), (7, 8), (9, 8), (12, 8)];

/// Draws the buttons, from either side.
pub(crate) fn draw(ui: &mut Ui, view: &View, inks: &Inks, wishes: &mut Vec<Wish>) {
    type Part = fn(&mut Ui, &View, &Inks, &mut Vec<Wish>);
    let mut parts: [Part; 3] = [run, click, metre];
    if ui.layout().prefer_right_to_left() {
        parts.reverse();
    }
    for part in parts {
        part(ui, view, inks, wishes);
    }
}

fn run(ui: &mut Ui, view: &View, inks: &Inks, wishes: &mut Vec<Wish>) {
    let label = if view.running { "Stop time" } else { "Run time" };
    let about = "Runs bars at the own tempo, as a host would. While it stands, playing is free.";
    if pressed_button(ui, label, view.running, inks).on_hover_text(about).clicked() {
        wishes.push(Wish::Run(!view.running));
    }
}

fn click(ui: &mut Ui, view: &View, inks: &Inks, wishes: &mut Vec<Wish>) {
    let about = "Clicks on the beats while time runs.";
    let click = pressed_button(ui, "Metronome", view.metronome, inks).on_hover_text(about);
    click.widget_info(|| WidgetInfo::selected(Role::CheckBox, true, view.metronome, "Metronome"));
    if click.clicked() {
        wishes.push(Wish::Metronome(!view.metronome));
    }
}

fn metre(ui: &mut Ui, view: &View, _inks: &Inks, wishes: &mut Vec<Wish>) {
    // A sheet or the demonstration brings its own.
    let Some(present) = view.metre else { return };
    let words = |metre: Metre| format!("{}/{}", metre.numerator(), metre.denominator());
    let answer =
        egui::ComboBox::from_id_salt("metre").width(56.0).selected_text(words(present)).show_ui(ui, |ui| {
            for metre in METRES.iter().filter_map(|(upper, lower)| Metre::new(*upper, *lower)) {
                if ui.selectable_label(metre == present, words(metre)).clicked() && metre != present {
                    wishes.push(Wish::Metre(metre));
                }
            }
        });
    let label = format!("Metre: {}", words(present));
    answer.response.widget_info(|| WidgetInfo::labeled(Role::ComboBox, true, &label));
    answer.response.on_hover_text("The metre of the bars, of free playing as well.");
}
