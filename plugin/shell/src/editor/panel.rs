//! The controls, grouped by what a player thinks about.

use egui::{ScrollArea, Ui};

use super::controls::Controls;
use super::grip::{choice, heading, radio, slider, switch};
use super::theme::Inks;
use super::view::View;
use crate::params::Control;

/// Narrowest column.
const COLUMN: f32 = 190.0;

/// A group of controls.
type Group<C> = fn(&mut Ui, &View, &mut C, &Inks);

/// Draws all groups, side by side as far as they fit, the rest in further rows.
pub(crate) fn draw<C: Controls>(ui: &mut Ui, view: &View, controls: &mut C, inks: &Inks) {
    let groups: [Group<C>; 4] = [when, spaced, touch, who];
    let fit = ((ui.available_width() / COLUMN) as usize).clamp(1, groups.len());
    // Three and one would leave a hole.
    let fit = if fit == 3 { 2 } else { fit };
    for row in groups.chunks(fit) {
        ui.spacing_mut().item_spacing.x = 22.0;
        ui.columns(fit, |columns| {
            for (column, group) in columns.iter_mut().zip(row) {
                column.spacing_mut().item_spacing = egui::vec2(8.0, 3.0);
                group(column, view, controls, inks);
            }
        });
        ui.add_space(8.0);
    }
}

/// A page of controls that scrolls where there is no room.
pub(crate) fn scrolled<C: Controls>(ui: &mut Ui, view: &View, controls: &mut C, inks: &Inks) {
    ScrollArea::vertical().auto_shrink(false).show(ui, |ui| draw(ui, view, controls, inks));
}

fn when<C: Controls>(ui: &mut Ui, _view: &View, controls: &mut C, inks: &Inks) {
    heading(ui, "When it moves", inks);
    radio(ui, Control::Start, controls, inks);
    slider(ui, Control::Wait, controls, inks);
    slider(ui, Control::Space, controls, inks);
    slider(ui, Control::Tempo, controls, inks);
}

fn spaced<C: Controls>(ui: &mut Ui, _view: &View, controls: &mut C, inks: &Inks) {
    heading(ui, "How it is spaced", inks);
    slider(ui, Control::Clarity, controls, inks);
    slider(ui, Control::Reach, controls, inks);
    switch(ui, Control::OnePlayer, controls, inks);
    ui.label("Colour tones");
    choice(ui, Control::Colour, controls, |_| String::new());
    slider(ui, Control::Seed, controls, inks);
}

fn touch<C: Controls>(ui: &mut Ui, _view: &View, controls: &mut C, inks: &Inks) {
    heading(ui, "How it touches", inks);
    slider(ui, Control::Level, controls, inks);
    switch(ui, Control::Pedal, controls, inks);
    slider(ui, Control::Swing, controls, inks);
    switch(ui, Control::Dry, controls, inks);
    slider(ui, Control::Audition, controls, inks);
    switch(ui, Control::Bypass, controls, inks);
}

fn who<C: Controls>(ui: &mut Ui, view: &View, controls: &mut C, inks: &Inks) {
    heading(ui, "Who is who", inks);
    if view.sheet.is_some() {
        ui.label("The sheet gives");
        choice(ui, Control::Sheet, controls, |_| String::new());
        slider(ui, Control::SheetBar, controls, inks);
    }
    radio(ui, Control::Source, controls, inks);
    match controls.knob(Control::Source).value() {
        split if split < 0.5 => slider(ui, Control::Split, controls, inks),
        channels if channels < 1.5 => {
            slider(ui, Control::MelodyChannel, controls, inks);
            slider(ui, Control::ChordChannel, controls, inks);
        }
        _ => {}
    }
    switch(ui, Control::Latch, controls, inks);
    radio(ui, Control::Outputs, controls, inks);
}
