//! `figwort arrange`: a lead sheet, or a folder of them.

use std::path::Path;

use figwort_sheet::page::PageBar;
use figwort_sheet::{Choice, Page, Sheet};

use crate::args::{Arrange, Repeats};
use crate::command::folder;
use crate::command::part::{Order, Pianist, check_duration};
use crate::failure::{Failure, Outcome};
use crate::{input, news};

/// What is said where repeats are to be kept in nothing.
pub(crate) const NO_SCORE: &str =
    "--repeats keep: no sheet music is written; add --score FILE.musicxml, or --also musicxml";

/// Arranges what the options name.
pub(crate) fn run(arguments: &Arrange) -> Outcome<()> {
    if arguments.sheet.is_dir() {
        return folder::run(arguments);
    }
    let path = arguments.sheet.as_path();
    let order = Order::new(&arguments.wanted, path)?;
    if arguments.repeats == Repeats::Keep && !order.has_score() {
        return Err(Failure::misuse(NO_SCORE));
    }
    let pianist = Pianist::new(&arguments.playing, &arguments.wanted)?;
    let bytes = input::bytes(path, input::MAX_SHEET)?;
    let tune = arguments.tune.or_else(|| first_of_several(path, &bytes));
    let choice = Choice { tune, melody: arguments.melody.as_deref() };
    let sheet = figwort_sheet::read_chosen(&bytes, choice).map_err(|error| Failure::file(path, error))?;
    check_duration(&sheet.tempos, sheet.end).map_err(|error| Failure::file(path, error))?;
    for warning in warnings(&sheet) {
        news(&format!("warning: {}: {warning}", path.display()));
    }
    let (page, warning) = page(&sheet, arguments.repeats);
    if let Some(warning) = warning {
        news(&format!("warning: {}: {warning}", path.display()));
    }
    order.fill(&pianist, page, |options| figwort_render::arrange(&sheet, options))
}

/// The number of the first of several tunes, saying so; `None` where there is no choice.
fn first_of_several(path: &Path, bytes: &[u8]) -> Option<usize> {
    if figwort_sheet::sniff(bytes) != figwort_sheet::Format::Abc {
        return None;
    }
    let tunes = figwort_sheet::abc::tunes(bytes);
    let [(number, title), _, ..] = &tunes[..] else { return None };
    news(&format!(
        "warning: {}: {} tunes in this file; the first is played (X:{number}, {title}); choose one with \
         --tune N, or give the file's folder to arrange all",
        path.display(),
        tunes.len(),
    ));
    Some(*number)
}

/// The page whose repeat signs sheet music keeps, empty where it is written as it is played; and what is to be
/// said of it.
pub(crate) fn page(sheet: &Sheet, repeats: Repeats) -> (&[PageBar], Option<&'static str>) {
    match (&sheet.page, repeats) {
        (Page::Signs(page), Repeats::Keep) => (page, None),
        (Page::BeyondSigns, Repeats::Keep) => (
            &[],
            Some("repeat signs cannot tell the order of its bars; sheet music has them as they are played"),
        ),
        _ => (&[], None),
    }
}

/// What was read with a doubt, in the reader's words and ours.
pub(crate) fn warnings(sheet: &Sheet) -> Vec<String> {
    let mut warnings: Vec<String> = sheet.warnings.iter().map(ToString::to_string).collect();
    if sheet.chords.iter().all(|change| change.symbol.chord.is_none()) {
        warnings.push(
            "there is no chord in this sheet, so nothing accompanies the melody; add chord symbols".into(),
        );
    }
    warnings
}
