//! `figwort arrange DIR`: every tune of every sheet of a folder, on all cores.
//!
//! All sheets are looked at twice: at first for the names of all parts, so that no two tunes get one, and then, each by
//! itself, to be arranged. A sheet that fails, or even makes the program stumble, never stops the others. With
//! `--report`, one JSON file tells of all of them.

mod plan;
mod summary;

use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::time::Instant;

use figwort_render::report;
use figwort_sheet::Sheet;
use indicatif::{ProgressBar, ProgressStyle};
use rayon::prelude::*;

use crate::args::{Arrange, Extra, Repeats};
use crate::command::part::{Music, Pianist, Product, other_pages};
use crate::command::{arrange, tunes};
use crate::failure::{Failure, Outcome};
use crate::output::{Folders, Outputs, Places, try_folder, unwritable};
use crate::{input, news, presets};
use plan::{Found, Planned, plan};
use summary::{Batch, Status, TuneReport};

/// What is wanted of every tune.
struct Way<'a> {
    also: &'a [Extra],
    repeats: Repeats,
    pianist: &'a Pianist,
    with_measures: bool,
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
    if out.as_os_str() == "-" {
        return Err(Failure::misuse("-o -: the parts go to a folder; name one"));
    }
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
    if out.is_symlink() && !out.exists() {
        let what = "this is a link to a folder that is not there; remove the link or give another name";
        return Err(Failure::file(out, what));
    }
    check_apart(&arguments.sheet, out)?;
    if let Some(path) = wanted.report.as_ref().filter(|path| input::extension(path) != "json") {
        let what = "the report is JSON; name a file that ends in .json";
        return Err(Failure::misuse(format!("--report {}: {what}", path.display())));
    }
    let pianist = Pianist::new(&arguments.playing, wanted)?;
    let input::Tree { files, unread } = input::tree_below(&arguments.sheet, Some(out))?;
    let found = files.len();
    let sheets: Vec<PathBuf> = files.into_iter().filter(|path| input::is_sheet(path)).collect();
    if sheets.is_empty() && unread.is_empty() {
        let what = format!("there is no {} file in this folder", input::sheets());
        return Err(Failure::file(&arguments.sheet, what));
    }
    let passed_over = found - sheets.len();
    let way = Way {
        also: &wanted.also,
        repeats: arguments.repeats,
        pianist: &pianist,
        with_measures: wanted.report.is_some(),
    };
    let begun = Instant::now();
    let mut folders = Folders::default();
    folders.make(out).map_err(|error| unwritable(out, "made", &error))?;
    try_folder(out)?;
    let mut read_files = presets::files(&arguments.playing)?;
    read_files.extend(wanted.soundfont.iter().chain(&sheets).cloned());
    let mut places = Places::sparing(read_files);
    if let Some(path) = &wanted.report {
        places.free(path)?;
    }
    let found: Vec<Found> = sheets
        .into_par_iter()
        .map(|sheet| {
            let numbers = match input::bytes(&sheet, input::MAX_SHEET) {
                Ok(bytes) => catch_unwind(|| tunes::numbers(&bytes)).unwrap_or_else(|_| vec![None]),
                Err(_) => vec![None],
            };
            Found { sheet, numbers }
        })
        .collect();
    let planned = plan(&found, &arguments.sheet, out, &way, &mut places, &mut folders);
    if let Some(path) = &wanted.report {
        places.take(path)?;
    }

    let bar = ProgressBar::new(planned.iter().map(|tunes| tunes.len() as u64).sum());
    if let Ok(style) = ProgressStyle::with_template("{bar:30} {pos} of {len} tunes, {elapsed} {wide_msg}") {
        bar.set_style(style);
    }
    let arranged: Vec<TuneReport> = found
        .par_iter()
        .zip(planned)
        .flat_map(|(Found { sheet, numbers }, planned)| {
            bar.set_message(sheet.display().to_string());
            let tunes = read(sheet);
            let tunes: Vec<(Read, Planned)> = match &tunes[..] {
                // Nothing of it can be read, whatever was planned.
                [(None, Err(_))] => tunes.into_iter().zip([Ok(Vec::new())]).collect(),
                _ if tunes.iter().map(|(number, _)| number).eq(numbers) => {
                    tunes.into_iter().zip(planned).collect()
                }
                _ => vec![((None, Err(format!("{}: {CHANGED}", sheet.display()))), Ok(Vec::new()))],
            };
            tunes.into_par_iter().map(|(tune, planned)| {
                let result = one(sheet, tune, planned, &places, &way);
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
    batch.print(begun.elapsed().as_secs_f64())?;
    if let Some(path) = &wanted.report {
        let mut outputs = Outputs::new(&places);
        outputs.add(path, vec![(path.clone(), batch.json(path)?)])?;
        outputs.write()?;
        news(&format!("wrote {}", path.display()));
    }
    if batch.failed == 0 { Ok(()) } else { Err(Failure::could_not(String::new())) }
}

/// What is said of a sheet that is no longer as it was when the names were worked out.
const CHANGED: &str = "the sheet changed while the folder was arranged; arrange it again";

/// Refuses to lay the parts among the sheets, or above them, where they might replace sheets that lie beside the
/// folder.
fn check_apart(sheets: &Path, out: &Path) -> Outcome<()> {
    let (Ok(within), Ok(around)) = (fs::canonicalize(sheets), fs::canonicalize(out)) else { return Ok(()) };
    if within == around {
        return Err(Failure::file(out, "the parts would lie among the sheets; give another folder after -o"));
    }
    if within.starts_with(around) {
        let what = "the folder of sheets lies in this one, and the parts might replace what lies beside it; give \
                    them a folder of their own after -o";
        return Err(Failure::file(out, what));
    }
    Ok(())
}

/// A tune that was read, or the message that says why not.
type Read = (Option<usize>, Result<Sheet, String>);

/// Every tune of a file.
fn read(sheet: &Path) -> Vec<Read> {
    let bytes = match input::bytes(sheet, input::MAX_SHEET) {
        Ok(bytes) => bytes,
        Err(failure) => return vec![(None, Err(failure.to_string()))],
    };
    match catch_unwind(|| tunes::all(&bytes)) {
        Ok(tunes) => tunes
            .into_iter()
            .map(|(number, tune)| {
                (number, tune.map_err(|error| format!("{}: {error}", label(sheet, number))))
            })
            .collect(),
        Err(_) => vec![(None, Err(format!("{}: {FAULT}", label(sheet, None))))],
    }
}

/// Arranges one tune, whatever happens.
fn one(sheet: &Path, (number, music): Read, planned: Planned, places: &Places, way: &Way<'_>) -> TuneReport {
    let music = match music {
        Ok(music) => music,
        Err(message) => return TuneReport::failed(sheet, number, message),
    };
    let done = planned.and_then(|files| {
        catch_unwind(AssertUnwindSafe(|| tune(&music, &files, places, way)))
            .unwrap_or_else(|_| Err(FAULT.to_owned()))
    });
    match done {
        Ok(done) => TuneReport { sheet: sheet.display().to_string(), tune: number, ..done },
        Err(message) => TuneReport::failed(sheet, number, format!("{}: {message}", label(sheet, number))),
    }
}

/// What is said of a sheet that makes the program itself stumble.
const FAULT: &str = "a fault in Figwort, not in the sheet; please report it with the sheet";

/// How messages call a tune.
fn label(sheet: &Path, number: Option<usize>) -> String {
    match number {
        Some(number) => format!("{}, X:{number}", sheet.display()),
        None => sheet.display().to_string(),
    }
}

/// Arranges one tune and writes its files, of which the part is the first.
fn tune(
    sheet: &Sheet,
    files: &[(PathBuf, Product)],
    places: &Places,
    way: &Way<'_>,
) -> Result<TuneReport, String> {
    let Way { repeats, pianist, with_measures, .. } = *way;
    let products = files.iter().map(|(_, product)| product);
    let (page, warning) = arrange::page(sheet, repeats);
    let music =
        Music::perform(pianist, products, |options| figwort_render::arrange(sheet, options)).on_page(page);
    let performance = &music.heard;
    let mut outputs = Outputs::new(places);
    for (path, product) in files {
        let rendered = product.render(&music, pianist, path).and_then(|files| outputs.add(path, files));
        rendered.map_err(|failure| failure.to_string())?;
    }
    let written = outputs.write().map_err(|failure| failure.to_string())?;
    let mut warnings = arrange::warnings(sheet);
    warnings.extend(warning.map(str::to_owned));
    warnings.extend(arrange::no_room(performance));
    warnings.extend(other_pages(files, &written, places));
    let seconds = performance.end_frame as f64 / f64::from(performance.sample_rate.max(1));
    Ok(TuneReport {
        status: Status::Arranged,
        title: sheet.title.clone(),
        part: files.first().map(|(part, _)| part.clone()),
        bars: sheet.bars.len(),
        minutes: seconds / 60.0,
        warnings,
        measures: with_measures.then(|| report::report(performance).totals),
        ..TuneReport::default()
    })
}
