//! `figwort arrange DIR`: every tune of every sheet of a folder, on all cores.
//!
//! A sheet that fails, or even makes the program stumble, never stops the others. With `--report`, one JSON file
//! tells of all of them.

use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::time::Instant;

use figwort_render::report::{self, Totals};
use figwort_sheet::Sheet;
use indicatif::{ProgressBar, ProgressStyle};
use rayon::prelude::*;
use serde::Serialize;

use crate::args::{Arrange, Extra, Repeats};
use crate::command::part::{Music, Pianist, beside, check_duration};
use crate::command::{arrange, count, tunes};
use crate::failure::{Failure, Outcome};
use crate::output::{self, Outputs};
use crate::{input, news, print};

/// A sheet file and where its parts go, without number and extension.
struct Job {
    sheet: PathBuf,
    part: PathBuf,
}

/// What is wanted of every tune.
struct Way<'a> {
    also: &'a [Extra],
    repeats: Repeats,
    pianist: &'a Pianist,
    with_measures: bool,
}

/// How one tune went.
#[derive(Debug, Default, Serialize)]
struct TuneReport {
    /// The sheet, or what could not be looked into.
    sheet: String,
    /// The tune's number where the sheet holds several.
    tune: Option<usize>,
    status: Status,
    /// Why it failed; names the file.
    error: Option<String>,
    title: String,
    part: Option<PathBuf>,
    bars: usize,
    minutes: f64,
    warnings: Vec<String>,
    /// What was played in all, where a report is wanted.
    measures: Option<Totals>,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
enum Status {
    Arranged,
    #[default]
    Failed,
}

impl TuneReport {
    fn failed(sheet: &Path, tune: Option<usize>, message: String) -> Self {
        Self { sheet: sheet.display().to_string(), tune, error: Some(message), ..Self::default() }
    }
}

/// The report of a whole folder.
#[derive(Serialize)]
struct Batch<'a> {
    manner: &'a str,
    elaboration: f32,
    seed: u32,
    arranged: usize,
    with_warnings: usize,
    failed: usize,
    /// Files that are no sheets.
    passed_over: usize,
    minutes: f64,
    tunes: &'a [TuneReport],
}

/// Arranges a folder.
pub(crate) fn run(arguments: &Arrange) -> Outcome<()> {
    let wanted = &arguments.wanted;
    let Some(out) = &wanted.out else {
        return Err(Failure::misuse(format!(
            "{} is a folder: say with -o into which folder its parts go",
            arguments.sheet.display()
        )));
    };
    let single: [(bool, &str); 9] = [
        (wanted.score.is_some(), "--score"),
        (wanted.wav.is_some(), "--wav"),
        (wanted.picture.is_some(), "--picture"),
        (wanted.text, "--text"),
        (wanted.chart, "--chart"),
        (wanted.table, "--table"),
        (wanted.stages, "--stages"),
        (arguments.tune.is_some(), "--tune"),
        (arguments.melody.is_some(), "--melody"),
    ];
    if let Some((_, option)) = single.iter().find(|(given, _)| *given) {
        return Err(Failure::misuse(format!(
            "{option} is for a single sheet, not for a folder of them{}",
            if option.starts_with("--t") || *option == "--melody" {
                ""
            } else {
                "; --also writes more than MIDI"
            }
        )));
    }
    let has_score = wanted.also.iter().any(|kind| matches!(kind, Extra::Musicxml | Extra::Mxl));
    if arguments.repeats == Repeats::Keep && !has_score {
        return Err(Failure::misuse(arrange::NO_SCORE));
    }
    if out.exists() && !out.is_dir() {
        return Err(Failure::file(out, "this is a file; with a folder of sheets, give a folder after -o"));
    }
    if fs::canonicalize(out).is_ok_and(|out| fs::canonicalize(&arguments.sheet).is_ok_and(|dir| dir == out)) {
        return Err(Failure::file(out, "the parts would lie among the sheets; give another folder after -o"));
    }
    output::check_places(wanted.report.as_deref(), &arguments.sheet)?;
    let pianist = Pianist::new(&arguments.playing, wanted)?;
    let input::Tree { files, unread } = input::tree_below(&arguments.sheet, Some(out))?;
    let found = files.len();
    let jobs = jobs(files, &arguments.sheet, out);
    if jobs.is_empty() && unread.is_empty() {
        return Err(Failure::file(
            &arguments.sheet,
            format!("there is no {} file in this folder", input::SHEETS),
        ));
    }
    let passed_over = found - jobs.len();

    let begun = Instant::now();
    let bar = ProgressBar::new(0);
    if let Ok(style) = ProgressStyle::with_template("{bar:30} {pos} of {len} tunes, {elapsed} {wide_msg}") {
        bar.set_style(style);
    }
    let way = Way {
        also: &wanted.also,
        repeats: arguments.repeats,
        pianist: &pianist,
        with_measures: wanted.report.is_some(),
    };
    let arranged: Vec<TuneReport> = jobs
        .par_iter()
        .flat_map(|job| {
            let tunes = read(job);
            bar.inc_length(tunes.len() as u64);
            bar.set_message(job.sheet.display().to_string());
            tunes.into_par_iter().map(|tune| {
                let result = one(job, tune, &way);
                bar.inc(1);
                result
            })
        })
        .collect();
    bar.finish_and_clear();
    let unread = unread.iter().map(|failure| TuneReport::failed(&arguments.sheet, None, failure.to_string()));
    let results: Vec<TuneReport> = arranged.into_iter().chain(unread).collect();
    let failed = |result: &&TuneReport| result.status == Status::Failed;
    let batch = Batch {
        manner: &arguments.playing.manner,
        elaboration: arguments.playing.elaboration,
        seed: arguments.playing.seed,
        arranged: results.iter().filter(|result| !failed(result)).count(),
        with_warnings: results.iter().filter(|result| !result.warnings.is_empty()).count(),
        failed: results.iter().filter(failed).count(),
        passed_over,
        minutes: results.iter().map(|result| result.minutes).sum(),
        tunes: &results,
    };
    summarize(&batch, begun.elapsed().as_secs_f64())?;
    if let Some(path) = &wanted.report {
        let mut bytes = serde_json::to_vec_pretty(&batch)
            .map_err(|error| Failure::file(path, format!("the report cannot be made ({error})")))?;
        bytes.push(b'\n');
        let mut outputs = Outputs::default();
        outputs.add_all(vec![(path.clone(), bytes)]);
        outputs.write()?;
        news(&format!("wrote {}", path.display()));
    }
    if batch.failed == 0 { Ok(()) } else { Err(Failure::could_not(String::new())) }
}

/// The sheets among the files, each with its place in the output folder.
fn jobs(files: Vec<PathBuf>, from: &Path, out: &Path) -> Vec<Job> {
    let sheets: Vec<PathBuf> = files.into_iter().filter(|path| input::is_sheet(path)).collect();
    let part = |sheet: &Path| out.join(sheet.strip_prefix(from).unwrap_or(sheet)).with_extension("");
    let parts: Vec<PathBuf> = sheets.iter().map(|sheet| part(sheet)).collect();
    sheets
        .into_iter()
        .zip(&parts)
        .map(|(sheet, part)| {
            // `a.abc` and `a.mid` beside each other become `a-abc` and `a-mid`.
            let alone = parts.iter().filter(|other| *other == part).count() == 1;
            let part = if alone { part.clone() } else { with_suffix(part, &input::extension(&sheet)) };
            Job { sheet, part }
        })
        .collect()
}

/// A tune that was read, or the message that says why not.
type Read = (Option<usize>, Result<Sheet, String>);

/// Every tune of a file.
fn read(job: &Job) -> Vec<Read> {
    let bytes = match input::bytes(&job.sheet, input::MAX_SHEET) {
        Ok(bytes) => bytes,
        Err(failure) => return vec![(None, Err(failure.to_string()))],
    };
    let label = |number: &Option<usize>| label(job, *number);
    match catch_unwind(|| tunes::all(&bytes)) {
        Ok(tunes) => tunes
            .into_iter()
            .map(|(number, sheet)| {
                let sheet = sheet.map_err(|error| format!("{}: {error}", label(&number)));
                (number, sheet)
            })
            .collect(),
        Err(_) => vec![(None, Err(format!("{}: {FAULT}", label(&None))))],
    }
}

/// Arranges one tune, whatever happens.
fn one(job: &Job, (number, sheet): Read, way: &Way<'_>) -> TuneReport {
    let sheet = match sheet {
        Ok(sheet) => sheet,
        Err(message) => return TuneReport::failed(&job.sheet, number, message),
    };
    let part = match number {
        Some(number) => with_suffix(&job.part, &number.to_string()),
        None => job.part.clone(),
    };
    let done = match catch_unwind(AssertUnwindSafe(|| tune(&sheet, &part, way))) {
        Ok(done) => done,
        Err(_) => Err(FAULT.to_owned()),
    };
    match done {
        Ok(done) => TuneReport { sheet: job.sheet.display().to_string(), tune: number, ..done },
        Err(message) => TuneReport::failed(&job.sheet, number, format!("{}: {message}", label(job, number))),
    }
}

/// What is said of a sheet that makes the program itself stumble.
const FAULT: &str = "a fault in Figwort, not in the sheet; please report it with the sheet";

/// How messages call a tune.
fn label(job: &Job, number: Option<usize>) -> String {
    match number {
        Some(number) => format!("{}, X:{number}", job.sheet.display()),
        None => job.sheet.display().to_string(),
    }
}

/// Arranges one tune and writes its files.
fn tune(sheet: &Sheet, part: &Path, way: &Way<'_>) -> Result<TuneReport, String> {
    let Way { also, repeats, pianist, with_measures } = *way;
    check_duration(&sheet.tempos, sheet.end)?;
    let part = with_ending(part, "mid");
    let files = beside(&part, also);
    let products = files.iter().map(|(_, product)| product);
    let (page, warning) = arrange::page(sheet, repeats);
    let music =
        Music::perform(pianist, products, |options| figwort_render::arrange(sheet, options)).on_page(page);
    let performance = &music.heard;
    let mut outputs = Outputs::default();
    for (path, product) in files {
        outputs.add_all(product.render(&music, pianist, &path).map_err(|failure| failure.to_string())?);
    }
    if let Some(folder) = part.parent() {
        fs::create_dir_all(folder).map_err(|error| {
            format!("the folder {} cannot be made ({error}); choose another after -o", folder.display())
        })?;
    }
    outputs.write().map_err(|failure| failure.to_string())?;
    let mut warnings = arrange::warnings(sheet);
    warnings.extend(warning.map(str::to_owned));
    let seconds = performance.end_frame as f64 / f64::from(performance.sample_rate.max(1));
    Ok(TuneReport {
        status: Status::Arranged,
        title: sheet.title.clone(),
        part: Some(part),
        bars: sheet.bars.len(),
        minutes: seconds / 60.0,
        warnings,
        measures: with_measures.then(|| report::report(performance).totals),
        ..TuneReport::default()
    })
}

/// `a` and `b` give `a-b`, whatever dots `a` has.
fn with_suffix(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push("-");
    name.push(suffix);
    PathBuf::from(name)
}

/// `a.b` and `mid` give `a.b.mid`.
fn with_ending(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(".");
    name.push(ending);
    PathBuf::from(name)
}

/// A line for each tune, and the counts.
fn summarize(batch: &Batch<'_>, elapsed: f64) -> Outcome<()> {
    let mut text = String::new();
    for tune in batch.tunes {
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
    let Batch { arranged, with_warnings, failed, passed_over, minutes, .. } = batch;
    text += &format!("{arranged} arranged, {with_warnings} with warnings, {failed} failed");
    if *passed_over > 0 {
        text += &format!("; {} passed over (not {})", count(*passed_over, "other file"), input::SHEETS);
    }
    text += &format!("; {minutes:.1} minutes of music in {elapsed:.1} seconds\n");
    print(&text)
}
