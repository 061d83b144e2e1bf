//! What was played, bar by bar, as values, as a table, as JSON.

use serde::Serialize;

use crate::perform::Performance;

/// A whole report.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Report {
    /// The sheet's title.
    pub title: String,
}

/// Measures a performance.
pub fn report(performance: &Performance) -> Report {
    Report { title: performance.title.clone() }
}

/// The bar-by-bar table as aligned plain text.
pub fn table(_performance: &Performance) -> String {
    String::new()
}

/// The report as indented JSON, ending in a line break.
pub fn to_json(_report: &Report) -> String {
    String::new()
}
