//! The controls, grouped by what a player thinks about.

use egui::{RichText, Role, Ui, WidgetInfo};
use figwort_engine::Rung;

use super::controls::{Controls, choice, radio, slider, switch};
use super::theme::Inks;
use crate::params::Control;

/// Narrower pages show the groups in two columns.
const FOUR_COLUMNS: f32 = 760.0;

/// Draws all four groups.
pub(crate) fn draw(ui: &mut Ui, controls: &mut impl Controls, inks: &Inks) {
    if ui.available_width() >= FOUR_COLUMNS {
        ui.columns_const(|[a, b, c, d]| {
            how_much(a, controls, inks);
            when(b, controls, inks);
            who(c, controls, inks);
            touch(d, controls, inks);
        });
    } else {
        ui.columns_const(|[a, b]| {
            how_much(a, controls, inks);
            who(a, controls, inks);
            when(b, controls, inks);
            touch(b, controls, inks);
        });
    }
}

fn heading(ui: &mut Ui, words: &str, inks: &Inks) {
    ui.add_space(4.0);
    ui.heading(words);
    let rect = ui.min_rect();
    let y = ui.cursor().top() - 3.0;
    ui.painter().hline(rect.x_range(), y, egui::Stroke::new(1.0, inks.ink));
    ui.add_space(3.0);
}

fn how_much(ui: &mut Ui, controls: &mut impl Controls, inks: &Inks) {
    heading(ui, "How much it does", inks);
    slider(ui, Control::Elaboration, controls);
    ladder(ui, controls, inks);
    choice(ui, Control::Manner, controls);
    slider(ui, Control::Clarity, controls);
    choice(ui, Control::Colour, controls);
    slider(ui, Control::Seed, controls);
}

/// The rungs by name; the present one is ticked.
fn ladder(ui: &mut Ui, controls: &mut impl Controls, inks: &Inks) {
    let present = controls.knob(Control::Elaboration).value().round() as usize;
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 4.0;
        for (index, rung) in Rung::ALL.iter().enumerate() {
            // The pressed place is filled with the second ink, on which only paper can be read.
            let colour = if index == present { inks.paper } else { inks.ink };
            let words = RichText::new(rung.name()).color(colour);
            let button = ui.selectable_label(index == present, words);
            button
                .widget_info(|| WidgetInfo::selected(Role::RadioButton, true, index == present, rung.name()));
            if button.clicked() {
                controls.put(Control::Elaboration, index as f64);
            }
        }
    });
}

fn when(ui: &mut Ui, controls: &mut impl Controls, inks: &Inks) {
    heading(ui, "When it moves", inks);
    radio(ui, Control::Start, controls);
    slider(ui, Control::Wait, controls);
    slider(ui, Control::Space, controls);
    slider(ui, Control::Tempo, controls);
    switch(ui, Control::Finish, controls);
}

fn who(ui: &mut Ui, controls: &mut impl Controls, inks: &Inks) {
    heading(ui, "Who is who", inks);
    radio(ui, Control::Source, controls);
    match controls.knob(Control::Source).value() {
        split if split < 0.5 => slider(ui, Control::Split, controls),
        channels if channels < 1.5 => {
            slider(ui, Control::MelodyChannel, controls);
            slider(ui, Control::ChordChannel, controls);
        }
        _ => {}
    }
    choice(ui, Control::Sheet, controls);
    slider(ui, Control::SheetBar, controls);
    switch(ui, Control::Latch, controls);
    switch(ui, Control::OnePlayer, controls);
    slider(ui, Control::Reach, controls);
    radio(ui, Control::Outputs, controls);
}

fn touch(ui: &mut Ui, controls: &mut impl Controls, inks: &Inks) {
    heading(ui, "How it touches", inks);
    slider(ui, Control::Level, controls);
    slider(ui, Control::Swing, controls);
    switch(ui, Control::Pedal, controls);
    switch(ui, Control::Dry, controls);
    slider(ui, Control::Audition, controls);
    switch(ui, Control::Bypass, controls);
}
