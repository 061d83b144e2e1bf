//! Where a control's value lives, who is told of its changes, and what can be taken back.
//!
//! Deliberately absent: how controls look (see [`super::grip`]).

use crate::params::{Control, FigwortParams, Kind, Knob};
use crate::session::Session;
use nice_plug::prelude::ParamSetter;

/// Most movements that can be taken back.
const DEPTH: usize = 200;

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

    /// What can be taken back.
    fn past(&self) -> &Past;

    /// A movement of one step.
    fn put(&mut self, control: Control, value: f64) {
        self.begin(control);
        self.set(control, value);
        self.end(control);
    }
}

/// The plugin's own parameters, with the host listening and the past remembered.
pub struct HostControls<'a> {
    /// The parameters.
    pub params: &'a FigwortParams,
    /// The way to the host.
    pub setter: ParamSetter<'a>,
    /// What was changed before.
    pub past: &'a mut Past,
}

impl Controls for HostControls<'_> {
    fn knob(&self, control: Control) -> &dyn Knob {
        self.params.knob(control)
    }
    fn begin(&mut self, control: Control) {
        let knob = self.params.knob(control);
        self.past.open = Some((control, knob.value()));
        knob.begin(&self.setter);
    }
    fn set(&mut self, control: Control, value: f64) {
        self.params.knob(control).set(&self.setter, value);
    }
    fn end(&mut self, control: Control) {
        let knob = self.params.knob(control);
        knob.end(&self.setter);
        if let Some((moved, before)) = self.past.open.take()
            && moved == control
        {
            self.past.note(vec![Step { control, before, after: knob.value() }]);
        }
    }
    fn past(&self) -> &Past {
        self.past
    }
}

/// One value changed by a movement.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Step {
    control: Control,
    before: f64,
    after: f64,
}

/// Movements that can be taken back, and which of two settings is in use.
#[derive(Clone, Debug, Default)]
pub struct Past {
    done: Vec<Vec<Step>>,
    undone: Vec<Vec<Step>>,
    open: Option<(Control, f64)>,
    /// Whether the second setting is in use.
    second: bool,
}

impl Past {
    fn note(&mut self, steps: Vec<Step>) {
        let steps: Vec<Step> = steps.into_iter().filter(|step| step.before != step.after).collect();
        if steps.is_empty() {
            return;
        }
        if self.done.len() == DEPTH {
            self.done.remove(0);
        }
        self.done.push(steps);
        self.undone.clear();
    }

    /// Whether there is anything to take back.
    pub fn can_undo(&self) -> bool {
        !self.done.is_empty()
    }

    /// Whether there is anything to do again.
    pub fn can_redo(&self) -> bool {
        !self.undone.is_empty()
    }

    /// The setting in use, as the project has it.
    pub(crate) fn follow(&mut self, session: &Session) {
        self.second = session.on_second();
    }

    /// Whether the second of the two settings is in use.
    pub fn on_second(&self) -> bool {
        self.second
    }
}

impl HostControls<'_> {
    /// Ends a movement that is under way, as the window closes: the host would wait for its end, and write what it hears
    /// over the automation until then.
    pub fn let_go(&mut self) {
        if let Some((control, _)) = self.past.open {
            self.end(control);
        }
    }

    /// Sets several values, each told to the host, without remembering it.
    fn restore(&mut self, values: &[(Control, f64)]) {
        for &(control, value) in values {
            let knob = self.params.knob(control);
            knob.begin(&self.setter);
            knob.set(&self.setter, value);
            knob.end(&self.setter);
        }
    }

    /// Takes the last movement back.
    pub fn undo(&mut self) {
        if let Some(steps) = self.past.done.pop() {
            let values: Vec<_> = steps.iter().map(|step| (step.control, step.before)).collect();
            self.restore(&values);
            self.past.undone.push(steps);
        }
    }

    /// Does again what was taken back last.
    pub fn redo(&mut self) {
        if let Some(steps) = self.past.undone.pop() {
            let values: Vec<_> = steps.iter().map(|step| (step.control, step.after)).collect();
            self.restore(&values);
            self.past.done.push(steps);
        }
    }

    /// What a setting holds: all that shapes the playing; who is who, sound and sheet stay as they are.
    fn shaping(&self) -> Vec<(Control, f64)> {
        use Control::{
            Audition, Bypass, ChordChannel, Finish, Latch, MelodyChannel, Outputs, Source, Split, Tempo,
        };
        Control::ALL
            .iter()
            .filter(|control| {
                let kept = [
                    Audition,
                    Bypass,
                    ChordChannel,
                    Finish,
                    Latch,
                    MelodyChannel,
                    Outputs,
                    Source,
                    Split,
                    Tempo,
                ];
                !kept.contains(control) && !control.id().starts_with("sheet")
            })
            .map(|control| (*control, self.params.knob(*control).value()))
            .collect()
    }

    /// Changes between the two settings. The second begins as a copy of the first.
    pub fn switch(&mut self, second: bool) {
        let session = &self.params.session;
        if second == session.on_second() {
            return;
        }
        let present = self.shaping();
        let wanted = session.change_setting(present.clone());
        let steps: Vec<Step> = present
            .iter()
            .filter_map(|&(control, before)| {
                let after = wanted.iter().find(|value| value.0 == control)?.1;
                (before != after).then_some(Step { control, before, after })
            })
            .collect();
        let values: Vec<_> = steps.iter().map(|step| (step.control, step.after)).collect();
        self.restore(&values);
        self.past.second = second;
        // Taking a change back across a switch would mix the two.
        self.past.done.clear();
        self.past.undone.clear();
    }
}

/// Least and greatest value, and whether only whole ones.
pub(crate) fn range(knob: &dyn Knob) -> Option<(f64, f64, bool)> {
    match knob.kind() {
        Kind::Real { min, max } => Some((min, max, false)),
        Kind::Whole { min, max } => Some((f64::from(min), f64::from(max), true)),
        Kind::Switch | Kind::Choice(_) => None,
    }
}
