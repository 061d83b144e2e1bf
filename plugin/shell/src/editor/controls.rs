//! Controls that say what they are: each has an accessible name, takes keyboard, mouse and typed words, and
//! tells the host where a movement begins and ends.

use egui::{ComboBox, DragValue, Id, Response, Role, Slider, Ui, WidgetInfo};

use crate::params::{Control, FigwortParams, Kind, Knob};
use nice_plug::prelude::ParamSetter;

/// Where a control's value lives and who is told of its changes.
pub trait Controls {
    /// The parameter behind a control.
    fn knob(&self, control: Control) -> &dyn Knob;
    /// A movement begins.
    fn begin(&mut self, control: Control);
    /// The value changes, between [`Controls::begin`] and [`Controls::end`].
    fn set(&mut self, control: Control, value: f64);
    /// The movement is over.
    fn end(&mut self, control: Control);

    /// A movement of one step.
    fn put(&mut self, control: Control, value: f64) {
        self.begin(control);
        self.set(control, value);
        self.end(control);
    }
}

/// The plugin's own parameters, with the host listening.
pub struct HostControls<'a> {
    /// The parameters.
    pub params: &'a FigwortParams,
    /// The way to the host.
    pub setter: ParamSetter<'a>,
}

impl Controls for HostControls<'_> {
    fn knob(&self, control: Control) -> &dyn Knob {
        self.params.knob(control)
    }
    fn begin(&mut self, control: Control) {
        self.params.knob(control).begin(&self.setter);
    }
    fn set(&mut self, control: Control, value: f64) {
        self.params.knob(control).set(&self.setter, value);
    }
    fn end(&mut self, control: Control) {
        self.params.knob(control).end(&self.setter);
    }
}

/// Passes a change on as one movement from press to release. A change without a press (typed, by keyboard)
/// is a movement of its own.
fn pass_on(
    ui: &Ui,
    response: &Response,
    changed: Option<f64>,
    control: Control,
    controls: &mut impl Controls,
) {
    let id = Id::unique(("movement", control.id()));
    let pressed = response.is_pointer_button_down_on() || response.dragged();
    let mut moving = ui.data(|data| data.get_temp::<bool>(id)).unwrap_or(false);
    if let Some(value) = changed {
        if !moving {
            controls.begin(control);
            moving = true;
        }
        controls.set(control, value);
    }
    if moving && !pressed {
        controls.end(control);
        moving = false;
    }
    ui.data_mut(|data| data.insert_temp(id, moving));
}

/// A slider with its name and its value in words above it; the words can be typed over. A double click on
/// the slider brings back the usual value.
pub(crate) fn slider(ui: &mut Ui, control: Control, controls: &mut impl Controls) {
    let (min, max, step) = match controls.knob(control).kind() {
        Kind::Real { min, max } => (min, max, (max - min) / 400.0),
        Kind::Whole { min, max } => (f64::from(min), f64::from(max), 1.0),
        Kind::Switch | Kind::Choice(_) => return,
    };
    ui.push_id(control.id(), |ui| {
        ui.spacing_mut().item_spacing.y = 2.0;
        let before = controls.knob(control).value();
        let label = controls.knob(control).label().to_owned();
        let mut typed = before;
        let words = ui
            .horizontal(|ui| {
                ui.label(&label);
                ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                    let knob = controls.knob(control);
                    let value = DragValue::new(&mut typed)
                        .range(min..=max)
                        .speed((max - min) / 200.0)
                        .update_while_editing(false)
                        .custom_formatter(|value, _| knob.words(value))
                        .custom_parser(|words| knob.meant(words));
                    ui.add(value)
                })
                .inner
            })
            .inner;
        words.widget_info(|| WidgetInfo {
            label: Some(format!("{label}, typed")),
            ..WidgetInfo::drag_value(true, typed)
        });
        let mut slid = before;
        let width = ui.available_width();
        ui.spacing_mut().slider_width = width.max(60.0);
        let bar = ui.add(
            Slider::new(&mut slid, min..=max)
                .show_value(false)
                .step_by(if step == 1.0 { 1.0 } else { 0.0 })
                .smallest_positive(step),
        );
        bar.widget_info(|| WidgetInfo::slider(true, slid, &label));
        let changed =
            |response: &Response, value: f64| (response.changed() && value != before).then_some(value);
        let value = changed(&bar, slid).or_else(|| changed(&words, typed));
        pass_on(ui, &bar.union(words), value, control, controls);
    });
}

/// A box to tick.
pub(crate) fn switch(ui: &mut Ui, control: Control, controls: &mut impl Controls) {
    let mut on = controls.knob(control).value() > 0.5;
    let label = controls.knob(control).label().to_owned();
    if ui.checkbox(&mut on, label).changed() {
        controls.put(control, f64::from(u8::from(on)));
    }
}

/// A choice from a list, folded; named by the parameter and what is chosen.
pub(crate) fn choice(ui: &mut Ui, control: Control, controls: &mut impl Controls) {
    let Kind::Choice(names) = controls.knob(control).kind() else { return };
    let label = controls.knob(control).label().to_owned();
    let present = controls.knob(control).value() as usize;
    let mut chosen = present;
    ui.label(&label);
    let shown = names.get(present).copied().unwrap_or_default();
    let width = ui.available_width();
    let answer = ComboBox::from_id_salt(control.id()).width(width).selected_text(shown).show_ui(ui, |ui| {
        for (index, name) in names.iter().enumerate() {
            ui.selectable_value(&mut chosen, index, *name);
        }
    });
    answer.response.widget_info(|| WidgetInfo::labeled(Role::ComboBox, true, format!("{label}: {shown}")));
    if chosen != present {
        controls.put(control, chosen as f64);
    }
}

/// A choice of few, all in sight.
pub(crate) fn radio(ui: &mut Ui, control: Control, controls: &mut impl Controls) {
    let Kind::Choice(names) = controls.knob(control).kind() else { return };
    let present = controls.knob(control).value() as usize;
    ui.label(controls.knob(control).label().to_owned());
    for (index, name) in names.iter().enumerate() {
        if ui.radio(index == present, *name).clicked() && index != present {
            controls.put(control, index as f64);
        }
    }
}
