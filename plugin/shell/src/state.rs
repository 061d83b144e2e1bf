//! What a project keeps besides the parameters, and the mending of states from outside.
//!
//! The framework stores everything as JSON. A text that is no state is refused as a whole and the present
//! state stays; a state with values that cannot be is mended here before it is used.

use nice_plug::params::persist::PersistentField;
use nice_plug::plugin::{ParamValue, PluginState};
use serde::{Deserialize, Serialize};

use crate::params::{Control, FigwortParams, Kind};
use crate::session::{Session, SessionTwin};

/// The key of [`SessionTwin`] in a state.
const SESSION: &str = "session";

/// Smallest editor, in logical pixels.
pub const MIN_SIZE: [f32; 2] = [520.0, 420.0];
/// Largest editor that is restored, in logical pixels.
pub const MAX_SIZE: [f32; 2] = [4096.0, 3072.0];

/// How the player left the editor.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Desk {
    /// Width in logical pixels.
    pub width: f32,
    /// Height in logical pixels.
    pub height: f32,
    /// Light marks on dark paper.
    pub dark: bool,
    /// Size of everything, 1 as usual; width and height are as if it were 1.
    pub scale: f32,
}

impl Default for Desk {
    fn default() -> Self {
        Self { width: 1040.0, height: 800.0, dark: false, scale: 1.0 }
    }
}

impl Desk {
    /// The size of everything, whatever the state said: 0.75 to 2.
    pub fn scale(&self) -> f32 {
        if self.scale.is_finite() { self.scale.clamp(0.75, 2.0) } else { 1.0 }
    }

    /// The size, whatever the state said, within what can be shown.
    pub fn size(&self) -> [f32; 2] {
        let usual = Self::default();
        let fit = |value: f32, usual: f32, low: f32, high: f32| {
            if value.is_finite() { value.clamp(low, high) } else { usual }
        };
        [
            fit(self.width, usual.width, MIN_SIZE[0], MAX_SIZE[0]),
            fit(self.height, usual.height, MIN_SIZE[1], MAX_SIZE[1]),
        ]
    }
}

impl PersistentField<'_, SessionTwin> for std::sync::Arc<Session> {
    fn set(&self, twin: SessionTwin) {
        self.restore(twin);
    }

    fn map<F, R>(&self, f: F) -> R
    where
        F: Fn(&SessionTwin) -> R,
    {
        f(&self.twin())
    }
}

/// Brings values that are out of range into it and drops those of the wrong kind, whose parameters then
/// keep their present values. Unknown parameters and fields are left for the framework to ignore.
///
/// What was mended is left as complaints in the session's part, which passes them on to the player.
pub(crate) fn mend(state: &mut PluginState) {
    let mut complaints = Vec::new();
    if newer(&state.version, env!("CARGO_PKG_VERSION")) {
        complaints.push(format!(
            "This project was saved by version {} of Figwort, and this is {}: what is new in that one is left out",
            state.version,
            env!("CARGO_PKG_VERSION")
        ));
    }
    let params = FigwortParams::default();
    state.params.retain(|id, value| {
        let Some(control) = Control::ALL.iter().find(|control| control.id() == id) else { return true };
        let knob = params.knob(*control);
        let mut brought_in = |was: f64, is: f64| {
            if was != is {
                let is = knob.words(is);
                complaints.push(format!("{}: {was} is out of range and became {is}", knob.label()));
            }
            true
        };
        let good = match (knob.kind(), value) {
            (Kind::Real { min, max }, ParamValue::F32(v)) if v.is_finite() => {
                let was = std::mem::replace(v, v.clamp(min as f32, max as f32));
                brought_in(f64::from(was), f64::from(*v))
            }
            (Kind::Whole { min, max }, ParamValue::I32(v)) => {
                let was = std::mem::replace(v, (*v).clamp(min, max));
                brought_in(f64::from(was), f64::from(*v))
            }
            (Kind::Switch, ParamValue::Bool(_)) => true,
            // A name that we don't know is refused by the framework, an index would be believed. Manners are
            // stored by the names that are shown.
            (Kind::Choice(names), ParamValue::String(name)) => {
                *control != Control::Manner || names.contains(&name.as_str())
            }
            (Kind::Choice(names), ParamValue::I32(v)) => usize::try_from(*v).is_ok_and(|v| v < names.len()),
            _ => false,
        };
        if !good {
            let kept = knob.label();
            complaints.push(format!(
                "{kept}: the project's value is none that this version knows; it stays as it is"
            ));
        }
        good
    });
    mend_session(state, complaints);
}

/// A project without a session's part (an older one, or one without a sheet) must not keep the sheet that
/// happens to be loaded; one with a damaged part loses that part alone.
fn mend_session(state: &mut PluginState, complaints: Vec<String>) {
    let kept = state.fields.get(SESSION);
    let mut twin = kept.map_or_else(SessionTwin::default, |text| SessionTwin::read(text));
    twin.complaints.extend(complaints);
    if let Ok(text) = serde_json::to_string(&twin) {
        state.fields.insert(SESSION.to_owned(), text);
    }
}

/// Whether a version is later than another. Versions that are none are not.
fn newer(version: &str, than: &str) -> bool {
    let numbers = |version: &str| -> Option<Vec<u32>> {
        version.split(['-', '+']).next()?.split('.').map(|part| part.parse().ok()).collect()
    };
    numbers(version) > numbers(than)
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;

    fn mended(params: &[(&str, ParamValue)]) -> BTreeMap<String, ParamValue> {
        mended_state("", params, None).params
    }

    fn mended_state(version: &str, params: &[(&str, ParamValue)], session: Option<&str>) -> PluginState {
        let params = params.iter().map(|(id, value)| ((*id).to_owned(), value.clone())).collect();
        let fields = session.map(|text| (SESSION.to_owned(), text.to_owned())).into_iter().collect();
        let mut state = PluginState { version: version.to_owned(), params, fields };
        mend(&mut state);
        state
    }

    fn complaints(state: &PluginState) -> Vec<String> {
        let twin: SessionTwin = serde_json::from_str(&state.fields[SESSION]).expect("mended");
        twin.complaints
    }

    #[test]
    fn what_is_mended_is_said() {
        let fine = ("elaboration", ParamValue::F32(2.0));
        let state = mended_state("0.0.9", std::slice::from_ref(&fine), None);
        assert_eq!(complaints(&state), [""; 0]);
        let params = [fine, ("wait", ParamValue::F32(9.0)), ("latch", ParamValue::F32(1.0))];
        let said = complaints(&mended_state("99.1", &params, Some("{\"sheet\":7}")));
        assert_eq!(said.len(), 4, "{said:?}");
        assert!(said[0].contains("damaged"), "{said:?}");
        assert!(said[1].contains("version 99.1"), "{said:?}");
        assert!(said.iter().any(|line| line == "Wait: 9 is out of range and became 4 beats"), "{said:?}");
        assert!(said.iter().any(|line| line.starts_with("Latch: ")), "{said:?}");
    }

    #[test]
    fn versions_are_compared_as_numbers() {
        assert!(newer("0.10.0", "0.9.9") && newer("1.0", "0.9.9") && newer("0.1.1-beta", "0.1.0"));
        assert!(!newer("0.1.0", "0.1.0") && !newer("", "0.1.0") && !newer("x", "0.1.0"));
    }

    #[test]
    fn impossible_values_are_brought_in_or_dropped() {
        let after = mended(&[
            ("elaboration", ParamValue::F32(1e9)),
            ("wait", ParamValue::F32(f32::NAN)),
            ("split", ParamValue::I32(-40)),
            ("manner", ParamValue::I32(i32::MAX)),
            ("source", ParamValue::I32(-1)),
            ("latch", ParamValue::F32(1.0)),
            ("from_a_later_version", ParamValue::Bool(true)),
        ]);
        assert!(matches!(after["elaboration"], ParamValue::F32(4.0)));
        assert!(matches!(after["split"], ParamValue::I32(0)));
        let kept: Vec<&str> = after.keys().map(String::as_str).collect();
        assert_eq!(kept, ["elaboration", "from_a_later_version", "split"]);
    }

    #[test]
    fn an_impossible_size_becomes_possible() {
        let desk = Desk { width: f32::INFINITY, height: -3.0, dark: false, scale: f32::NAN };
        assert_eq!(desk.size(), [Desk::default().width, MIN_SIZE[1]]);
    }
}
