//! How a folder's tunes went: in lines, and as a report.

use std::path::{Path, PathBuf};

use figwort_render::report::Totals;
use serde::Serialize;

use crate::command::count;
use crate::failure::{Failure, Outcome};
use crate::{input, print};

/// How one tune went.
#[derive(Debug, Default, Serialize)]
pub(super) struct TuneReport {
    /// The sheet, or what could not be looked into.
    pub(super) sheet: String,
    /// The tune's number where the sheet holds several.
    pub(super) tune: Option<usize>,
    pub(super) status: Status,
    /// Why it failed; names the file.
    pub(super) error: Option<String>,
    pub(super) title: String,
    pub(super) part: Option<PathBuf>,
    pub(super) bars: usize,
    pub(super) minutes: f64,
    pub(super) warnings: Vec<String>,
    /// What was played in all, where a report is wanted.
    pub(super) measures: Option<Totals>,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub(super) enum Status {
    Arranged,
    #[default]
    Failed,
}

impl TuneReport {
    pub(super) fn failed(sheet: &Path, tune: Option<usize>, message: String) -> Self {
        Self { sheet: sheet.display().to_string(), tune, error: Some(message), ..Self::default() }
    }
}

/// The report of a whole folder.
#[derive(Serialize)]
pub(super) struct Batch<'a> {
    pub(super) manner: &'a str,
    pub(super) elaboration: f32,
    pub(super) seed: u32,
    pub(super) arranged: usize,
    pub(super) with_warnings: usize,
    pub(super) failed: usize,
    /// Files that are no sheets.
    pub(super) passed_over: usize,
    pub(super) minutes: f64,
    pub(super) tunes: &'a [TuneReport],
}

impl Batch<'_> {
    /// Prints a line for each tune, and the counts. `elapsed` is in seconds.
    pub(super) fn print(&self, elapsed: f64) -> Outcome<()> {
        let mut text = String::new();
        for tune in self.tunes {
            let Some(part) = &tune.part else {
                text += &format!("fail  {}\n", tune.error.as_deref().unwrap_or_default());
                continue;
            };
            let length = count(tune.bars, "bar");
            match &tune.warnings[..] {
                [] => text += &format!("ok    {}: {length}\n", part.display()),
                [first, others @ ..] => {
                    let more = if others.is_empty() {
                        String::new()
                    } else {
                        format!(" (and {})", count(others.len(), "more warning"))
                    };
                    text += &format!("warn  {}: {length}; {first}{more}\n", part.display());
                }
            }
        }
        let Batch { arranged, with_warnings, failed, passed_over, minutes, .. } = self;
        text += &format!("{arranged} arranged, {with_warnings} with warnings, {failed} failed");
        if *passed_over > 0 {
            text += &format!("; {} passed over (not {})", count(*passed_over, "other file"), input::sheets());
        }
        text += &format!("; {minutes:.1} minutes of music in {elapsed:.1} seconds\n");
        print(&text)
    }

    /// The report as a file's bytes; `path` is for the message.
    pub(super) fn json(&self, path: &Path) -> Outcome<Vec<u8>> {
        let mut bytes = serde_json::to_vec_pretty(self)
            .map_err(|error| Failure::file(path, format!("the report cannot be made ({error})")))?;
        bytes.push(b'\n');
        Ok(bytes)
    }
}
