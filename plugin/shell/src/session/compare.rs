//! Two settings that are compared: which of them is in use, and what the other holds. Projects keep both.
//!
//! The one in use is the parameters themselves. Not for the audio thread.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::{Session, lock};
use crate::params::{Control, FigwortParams, Kind};

/// The setting that is not in use.
#[derive(Debug, Default)]
pub(super) struct Compared {
    /// Whether the second is in use.
    second: bool,
    /// What the other holds; `None` while there is only one.
    other: Option<Vec<(Control, f64)>>,
}

/// Both in a project: values by the ids of their parameters.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct ComparedTwin {
    second: bool,
    other: BTreeMap<String, f64>,
}

impl Session {
    /// Whether the second of the two settings is in use.
    pub fn on_second(&self) -> bool {
        lock(&self.compared).second
    }

    /// Changes to the other setting; `present` is what the one in use holds. Answers what is to be set, which at
    /// the first change is nothing: the other begins as a copy.
    pub(crate) fn change_setting(&self, present: Vec<(Control, f64)>) -> Vec<(Control, f64)> {
        let mut compared = lock(&self.compared);
        compared.second = !compared.second;
        compared.other.replace(present).unwrap_or_default()
    }

    pub(super) fn compared_twin(&self) -> Option<ComparedTwin> {
        let compared = lock(&self.compared);
        let other = compared.other.as_ref()?;
        let other = other.iter().map(|(control, value)| (control.id().to_owned(), *value)).collect();
        Some(ComparedTwin { second: compared.second, other })
    }

    /// What a project kept. Values that this version doesn't know are left out, others brought into their range.
    pub(super) fn restore_compared(&self, twin: Option<ComparedTwin>) {
        let compared = twin.map_or_else(Compared::default, |twin| {
            let params = FigwortParams::default();
            let known = Control::ALL.iter().filter_map(|control| {
                let value = *twin.other.get(control.id())?;
                let (low, high) = match params.knob(*control).kind() {
                    Kind::Real { min, max } => (min, max),
                    Kind::Whole { min, max } => (f64::from(min), f64::from(max)),
                    Kind::Switch => (0.0, 1.0),
                    Kind::Choice(names) => (0.0, names.len().saturating_sub(1) as f64),
                };
                value.is_finite().then(|| (*control, value.clamp(low, high)))
            });
            Compared { second: twin.second, other: Some(known.collect()) }
        });
        *lock(&self.compared) = compared;
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::session::SessionTwin;

    #[test]
    fn projects_keep_both_settings() {
        let session = Session::new();
        assert!(!session.on_second());
        assert_eq!(serde_json::to_string(&session.twin()).expect("JSON"), "{\"version\":1}");
        let first = vec![(Control::Elaboration, 3.0), (Control::Wait, 1.5)];
        assert_eq!(session.change_setting(first.clone()), []);
        let json = serde_json::to_string(&session.twin()).expect("JSON");
        let other = Arc::new(Session::new());
        other.restore(serde_json::from_str(&json).expect("the same"));
        assert_eq!(other.twin(), session.twin());
        assert!(other.on_second());
        assert_eq!(other.change_setting(vec![(Control::Wait, 2.0)]), first);
        assert!(!other.on_second());
        // An older project has one setting only.
        other.restore(SessionTwin::default());
        assert!(!other.on_second() && other.change_setting(Vec::new()).is_empty());
    }

    #[test]
    fn values_from_elsewhere_are_brought_in() {
        let json = r#"{"compared":{"second":false,"other":{"wait":99,"manner":-7,"start":50,"later":1}}}"#;
        let session = Arc::new(Session::new());
        session.restore(serde_json::from_str(json).expect("a twin"));
        let values = session.change_setting(Vec::new());
        assert_eq!(values, [(Control::Manner, 0.0), (Control::Wait, 4.0), (Control::Start, 1.0)]);
    }
}
