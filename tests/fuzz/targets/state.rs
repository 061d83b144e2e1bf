//! The state loader: any text as what a project kept. What a host loads is in range, can be played and drawn, and
//! what it then saves loads again as the same.
//!
//! A text that begins with a brace is the whole state. Any other is its parts, with a NUL between them: the version,
//! the parameters, the session, the desk; so that their texts need not be quoted twice.
#![no_main]

use std::collections::BTreeMap;

use figwort::Figwort;
use figwort::params::{Control, FigwortParams, Kind};
use libfuzzer_sys::fuzz_target;
use nice_plug::params::InternalParamMut;
use nice_plug::plugin::ParamValue;
use nice_plug::prelude::{ParamPtr, Params, Plugin, PluginState};

fuzz_target!(|text: &str| {
    let Some(state) = written(text) else { return };
    let params = FigwortParams::default();
    load(&params, state);
    for control in Control::ALL {
        let knob = params.knob(*control);
        let (least, most) = match knob.kind() {
            Kind::Real { min, max } => (min, max),
            Kind::Whole { min, max } => (f64::from(min), f64::from(max)),
            Kind::Switch => (0.0, 1.0),
            Kind::Choice(names) => (0.0, names.len() as f64 - 1.0),
        };
        assert!((least..=most).contains(&knob.value()), "{control:?}: {}", knob.value());
        assert!(!knob.words(knob.value()).is_empty());
    }
    let settings = params.settings();
    assert!(settings.tempo.is_finite() && settings.tempo > 0.0);
    let session = &params.session;
    for message in session.messages() {
        assert!(message.len() > 10, "{message:?}");
    }
    if let Some(sheet) = session.sheet() {
        assert!(sheet.tempo().is_finite() && sheet.bars() > 0);
    }

    // What is saved loads again, without a complaint, and is then saved as the same.
    let fields = params.serialize_fields();
    let version = env!("CARGO_PKG_VERSION").to_owned();
    let saved = PluginState { version, params: BTreeMap::new(), fields: fields.clone() };
    let saved = serde_json::to_string(&saved).expect("JSON");
    let again = FigwortParams::default();
    load(&again, serde_json::from_str(&saved).expect("what was saved"));
    assert_eq!(again.serialize_fields(), fields);
});

fn written(text: &str) -> Option<PluginState> {
    if text.starts_with('{') {
        return serde_json::from_str(text).ok();
    }
    let mut parts = text.split('\0');
    let version = parts.next()?.to_owned();
    let params = serde_json::from_str(parts.next()?).ok()?;
    let fields =
        ["session", "desk"].into_iter().zip(parts).map(|(key, part)| (key.to_owned(), part.to_owned()));
    Some(PluginState { version, params, fields: fields.collect() })
}

/// As the framework does it, which keeps its own loader to itself.
fn load(params: &FigwortParams, mut state: PluginState) {
    Figwort::filter_state(&mut state);
    let pointers: BTreeMap<String, ParamPtr> =
        params.param_map().into_iter().map(|(id, pointer, _)| (id, pointer)).collect();
    for (id, value) in &state.params {
        let Some(pointer) = pointers.get(id) else { continue };
        // SAFETY: the pointers lead into `params`, which outlives them.
        unsafe {
            match (*pointer, value) {
                (ParamPtr::FloatParam(p), ParamValue::F32(value)) => (*p)._internal_set_plain_value(*value),
                (ParamPtr::IntParam(p), ParamValue::I32(value)) => (*p)._internal_set_plain_value(*value),
                (ParamPtr::BoolParam(p), ParamValue::Bool(value)) => (*p)._internal_set_plain_value(*value),
                (ParamPtr::EnumParam(p), ParamValue::I32(value)) => (*p)._internal_set_plain_value(*value),
                (ParamPtr::EnumParam(p), ParamValue::String(value)) => (*p).set_from_id(value),
                _ => false,
            };
        }
    }
    params.deserialize_fields(&state.fields);
}
