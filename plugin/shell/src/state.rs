//! What a project keeps besides the parameters, and the mending of states from outside.
//!
//! The framework stores everything as JSON. A text that is no state is refused as a whole and the present
//! state stays; a state with values that cannot be is mended here before it is used.

use nice_plug::plugin::{ParamValue, PluginState};
use serde::{Deserialize, Serialize};

use crate::params::{Control, FigwortParams, Kind};

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
}

impl Default for Desk {
    fn default() -> Self {
        Self { width: 820.0, height: 660.0, dark: false }
    }
}

impl Desk {
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

/// Brings values that are out of range into it and drops those of the wrong kind, whose parameters then
/// keep their present values. Unknown parameters and fields are left for the framework to ignore.
pub(crate) fn mend(state: &mut PluginState) {
    let params = FigwortParams::default();
    state.params.retain(|id, value| {
        let Some(control) = Control::ALL.iter().find(|control| control.id() == id) else { return true };
        match (params.knob(*control).kind(), value) {
            (Kind::Real { min, max }, ParamValue::F32(v)) if v.is_finite() => {
                *v = v.clamp(min as f32, max as f32);
                true
            }
            (Kind::Whole { min, max }, ParamValue::I32(v)) => {
                *v = (*v).clamp(min, max);
                true
            }
            (Kind::Switch, ParamValue::Bool(_)) => true,
            // A name that we don't know is refused by the framework, an index would be believed.
            (Kind::Choice(_), ParamValue::String(_)) => true,
            (Kind::Choice(names), ParamValue::I32(v)) => usize::try_from(*v).is_ok_and(|v| v < names.len()),
            _ => false,
        }
    });
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;

    fn mended(params: &[(&str, ParamValue)]) -> BTreeMap<String, ParamValue> {
        let params = params.iter().map(|(id, value)| ((*id).to_owned(), value.clone())).collect();
        let mut state = PluginState { version: String::new(), params, fields: BTreeMap::new() };
        mend(&mut state);
        state.params
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
        let desk = Desk { width: f32::INFINITY, height: -3.0, dark: false };
        assert_eq!(desk.size(), [Desk::default().width, MIN_SIZE[1]]);
    }
}
