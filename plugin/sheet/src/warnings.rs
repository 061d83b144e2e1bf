//! Collecting warnings, bounded.

use crate::{Warning, limits};

/// Warnings in the order in which they were found, at most [`limits::MAX_WARNINGS`] of them.
#[derive(Default)]
pub(crate) struct Warnings {
    list: Vec<Warning>,
    left_out: usize,
}

impl Warnings {
    /// Adds a warning.
    pub(crate) fn push(&mut self, bar: Option<u32>, line: Option<u32>, text: impl Into<String>) {
        if self.list.len() < limits::MAX_WARNINGS {
            self.list.push(Warning { bar, line, text: text.into() });
        } else {
            self.left_out += 1;
        }
    }

    /// Adds a warning unless one with the same text is there.
    pub(crate) fn push_once(&mut self, bar: Option<u32>, line: Option<u32>, text: impl Into<String>) {
        let text = text.into();
        if !self.list.iter().any(|warning| warning.text == text) {
            self.push(bar, line, text);
        }
    }

    /// The warnings, and a last one that counts what was left out.
    pub(crate) fn into_list(mut self) -> Vec<Warning> {
        if self.left_out > 0 {
            self.list.push(Warning {
                bar: None,
                line: None,
                text: format!("and {} more warnings", self.left_out),
            });
        }
        self.list
    }
}
