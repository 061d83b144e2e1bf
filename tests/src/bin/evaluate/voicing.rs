//! `evaluate voicing`: every sheet of a folder on each rung of the ladder, measured beside what composers
//! wrote, with the default manner and settings.
//!
//! Prints the tables and lists what shouldn't be there; the whole list goes to a file. Sheets are arranged
//! with everything known; live playing is not measured here.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use anyhow::{Context, Result, bail};
use figwort_engine::{Rung, Settings, Source};
use figwort_preset::Library;
use figwort_render::{Options, arrange};

use crate::corpus;

mod composed;
mod measure;
mod piece;
mod rules;
mod table;

use measure::{Finding, Kind, Tally};
use piece::Piece;

/// Findings of one kind printed per rung; the file has them all.
const SHOWN: usize = 3;
/// Breaks of low interval limits printed per rung.
const SHOWN_LOW: usize = 40;

/// Measures a folder.
///
/// # Errors
/// Nothing there to read, or the list can't be written.
pub(crate) fn run(folder: &Path) -> Result<()> {
    let sheets = corpus::sheets(folder)?;
    if sheets.is_empty() {
        bail!("{} holds no sheet that can be read", folder.display());
    }
    let library = Library::factory();
    let chosen = library.manner(Library::DEFAULT_MANNER).context("no default manner")?;
    let range = (i32::from(chosen.manner.bass_low.key()), i32::from(chosen.manner.bass_high.key()));
    let mut tallies = vec![];
    // Each rung played by one person, and Shared under a melody that is somebody else's.
    let runs = Rung::ALL.into_iter().map(|rung| (rung, true)).chain(Some((Rung::Shared, false)));
    for (rung, one_player) in runs {
        let elaboration = f32::from(rung as u8);
        let settings = Settings {
            elaboration,
            one_player,
            source: Source::Chart,
            manner: chosen.manner,
            ..Settings::default()
        };
        let options = Options { settings, figures: chosen.figures.clone(), ..Options::default() };
        let mut tally = Tally::default();
        for tune in &sheets {
            let performance = arrange(&tune.sheet, &options);
            tally.add(&Piece::of(&tune.name, &performance, settings.one_player), range);
        }
        tallies.push(tally);
    }
    match composed::folder(folder) {
        Some(songs) => {
            let mut tally = Tally::default();
            for song in composed::songs(&songs)? {
                tally.add(&song, range);
            }
            tallies.push(tally);
        }
        None => println!(
            "No composed songs beside it (openscore_lieder_cc0; set FIGWORT_CORPUS to the folder that holds \
             it): their column is left out.\n"
        ),
    }
    println!("{}", table::all(&tallies));

    let mut list = String::new();
    for (rung, tally) in Rung::ALL.into_iter().zip(&mut tallies) {
        distinct(&mut tally.findings);
        list += &format!("# {}\n", rung.name());
        for finding in &tally.findings {
            list += &format!("{:?}: {}\n", finding.kind, finding.text);
        }
        if rung != Rung::Plain {
            show(rung, &tally.findings);
        }
    }
    let path = crate::output().join("voicing-findings.txt");
    fs::create_dir_all(crate::output())?;
    fs::write(&path, list).with_context(|| format!("{} can't be written", path.display()))?;
    println!("every finding: {}", path.display());
    Ok(())
}

/// Sorted by kind; what is found again where a bar is repeated stays once.
fn distinct(findings: &mut Vec<Finding>) {
    let mut known = BTreeSet::new();
    findings.retain(|finding| known.insert((finding.kind, finding.text.clone())));
    findings.sort_by_key(|finding| finding.kind);
}

/// The first of each kind.
fn show(rung: Rung, findings: &[Finding]) {
    println!("## Findings on {}", rung.name());
    for kind in findings.chunk_by(|a, b| a.kind == b.kind) {
        let Some(first) = kind.first() else { continue };
        println!("{:?}: {}", first.kind, kind.len());
        let most = if first.kind <= Kind::ForcedLowInterval { SHOWN_LOW } else { SHOWN };
        kind.iter().take(most).for_each(|finding| println!("  {}", finding.text));
    }
    println!();
}
