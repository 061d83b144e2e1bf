//! `figwort arrange`: a lead sheet, or a folder of them.

use std::path::Path;

use figwort_engine::{Decision, Hand, Texture};
use figwort_render::perform::{Performance, PlayedNote};
use figwort_sheet::page::PageBar;
use figwort_sheet::{Choice, Format, Page, Sheet, sniff};

use crate::args::{Arrange, Repeats};
use crate::command::part::{Order, Pianist, check_duration};
use crate::command::{count, folder};
use crate::failure::{Failure, Outcome};
use crate::{input, news};

/// What is said where repeats are to be kept in nothing.
pub(crate) const NO_SCORE: &str =
    "--repeats keep: no sheet music is written; add --score FILE.musicxml, or --also musicxml";

/// Arranges what the options name.
pub(crate) fn run(arguments: &Arrange) -> Outcome<()> {
    let path = arguments.sheet.as_path();
    if let [_, ..] = &arguments.others[..] {
        return Err(Failure::misuse(format!(
            "{} sheets: give one, or the folder that they are in, to arrange all of it",
            1 + arguments.others.len()
        )));
    }
    if path.is_dir() {
        return folder::run(arguments);
    }
    let order = Order::new(&arguments.wanted, &arguments.playing, path)?;
    if arguments.repeats == Repeats::Keep && !order.has_score() {
        return Err(Failure::misuse(NO_SCORE));
    }
    let pianist = Pianist::new(&arguments.playing, &arguments.wanted)?;
    let bytes = input::bytes(path, input::MAX_SHEET)?;
    if arguments.tune.is_some()
        && matches!(sniff(&bytes), Format::Midi | Format::MusicXml | Format::CompressedMusicXml)
    {
        let what = "--tune is for ABC files, which hold several tunes; leave it out";
        return Err(Failure::misuse(format!("{}: {what}", path.display())));
    }
    let tune = arguments.tune.or_else(|| first_of_several(path, &bytes));
    let choice = Choice { tune, melody: arguments.melody.as_deref() };
    let sheet = figwort_sheet::read_chosen(&bytes, choice).map_err(|error| Failure::file(path, error))?;
    check_duration(&sheet.tempos, sheet.end).map_err(|error| Failure::file(path, error))?;
    for warning in warnings(&sheet) {
        order.warn(warning);
    }
    let (page, warning) = page(&sheet, arguments.repeats);
    if let Some(warning) = warning {
        order.warn(warning);
    }
    order.fill(&pianist, page, |options| figwort_render::arrange(&sheet, options))
}

/// The number of the first of several tunes, saying so; `None` where there is no choice.
fn first_of_several(path: &Path, bytes: &[u8]) -> Option<usize> {
    if sniff(bytes) != Format::Abc {
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
    // That there are no symbols at all, the reader has said.
    if !sheet.chords.is_empty() && sheet.chords.iter().all(|change| change.symbol.chord.is_none()) {
        warnings.push(
            "there is no chord in this sheet, only N.C., so nothing accompanies the melody; add chord symbols"
                .into(),
        );
    }
    warnings
}

/// A warning where the melody lies so low that nothing finds room below it. Counted are the bars in which melody
/// sounds and a chord is in force, the engine would play and found no note to play.
pub(crate) fn no_room(performance: &Performance) -> Option<String> {
    let Performance { bars, notes, decisions, .. } = performance;
    let refused = |decision: &Decision| {
        decision.chord.is_some() && decision.texture != Texture::Silent && decision.parts == 0
    };
    let crowded = bars.iter().filter(|bar| {
        // What was decided last before the bar holds at its beginning.
        let before = decisions.partition_point(|decision| decision.at <= bar.start);
        let until = decisions.partition_point(|decision| decision.at < bar.end());
        let in_force = decisions.get(before.saturating_sub(1)..until).unwrap_or_default();
        let sounds = |melody: bool| {
            let within = |note: &&PlayedNote| note.at < bar.end() && bar.start < note.end();
            notes.iter().filter(within).any(|note| (note.hand == Hand::Melody) == melody)
        };
        in_force.iter().any(refused) && sounds(true) && !sounds(false)
    });
    let crowded = crowded.count();
    (crowded > 0).then(|| {
        format!(
            "in {crowded} of {} the melody lies so low that no accompaniment finds room below it; put it an octave \
             or two higher, or choose another manner, or another line as the melody",
            count(bars.len(), "bar"),
        )
    })
}
