//! `evaluate movement`: every sheet of a folder in every manner on the rungs Flowing and Ornate, with the whole
//! sheet known and followed live with its chords struck as blocks, measured beside what composers wrote.
//!
//! Prints tables; the same as CSV, tune by tune as CSV, and everything that shouldn't be there as text go to
//! files, and so do curves of the ballad among the demo songs. Large folders can be sampled: FIGWORT_SAMPLE=N
//! takes about N tunes, always the same ones (by a hash of their names). Not here: what is counted
//! ([`tests::movement`], [`tests::nonchord`]).

use std::fs;
use std::path::Path;
use std::time::Instant;

use ::tests::movement::{Measures, measure, struck};
use anyhow::{Context, Result, bail};
use figwort_engine::{Rung, Settings, Source};
use figwort_preset::{Library, ResolvedManner};
use figwort_render::{Options, Performance, arrange, follow};
use figwort_sheet::Sheet;
use rayon::prelude::*;

use crate::corpus::{self, Tune};

mod curves;
mod findings;
mod table;
mod tally;

use tally::Tally;

/// The rungs on which the accompaniment moves.
const RUNGS: [Rung; 2] = [Rung::Flowing, Rung::Ornate];

/// How a sheet is played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Knowing {
    /// Everything is known beforehand.
    Sheet,
    /// Chords and melody come in as they are played.
    Live,
}

impl Knowing {
    const ALL: [Self; 2] = [Self::Sheet, Self::Live];

    pub(super) const fn name(self) -> &'static str {
        match self {
            Self::Sheet => "sheet",
            Self::Live => "live",
        }
    }
}

/// One way of playing all tunes.
#[derive(Clone, Debug)]
pub(super) struct Way {
    pub(super) rung: Rung,
    pub(super) knowing: Knowing,
    pub(super) manner: String,
}

/// Measures a folder.
///
/// # Errors
/// Nothing there to read, or a file can't be written.
pub(crate) fn run(folder: &Path) -> Result<()> {
    let begun = Instant::now();
    let sheets = sampled(corpus::sheets(folder)?)?;
    if sheets.is_empty() {
        bail!("{} holds no sheet that can be read", folder.display());
    }
    let library = Library::factory();
    let manners: Vec<ResolvedManner> =
        library.manners().map(|entry| library.manner(entry.name)).collect::<Result<_, _>>()?;
    let output = crate::output();
    fs::create_dir_all(&output).with_context(|| format!("{} can't be made", output.display()))?;
    let mut tallies = vec![];
    let mut by_tune = String::from(table::TUNES_HEADING);
    for rung in RUNGS {
        for knowing in Knowing::ALL {
            for manner in &manners {
                let way = Way { rung, knowing, manner: manner.name.clone() };
                let found: Vec<Measures> = sheets
                    .par_iter()
                    .map(|tune| {
                        let (performance, options) = play(&tune.sheet, rung, knowing, manner);
                        measure(&tune.sheet, &performance, &options.settings, &options.figures)
                    })
                    .collect();
                let mut tally = Tally::default();
                for (tune, measures) in sheets.iter().zip(&found) {
                    tally.add(&tune.name, measures);
                    by_tune += &table::tune(&way, &tune.name, measures);
                }
                tallies.push((way, tally));
            }
        }
    }
    let bars: usize = sheets.iter().map(|tune| tune.sheet.bars.len()).sum();
    println!("{} tunes, {bars} bars, {} manners\n", sheets.len(), manners.len());
    println!("{}", table::all(&tallies));
    println!("{}", findings::first(&tallies, &library));
    let write = |name: &str, bytes: &[u8]| {
        let path = output.join(name);
        fs::write(&path, bytes).with_context(|| format!("{} can't be written", path.display()))
    };
    write("movement.csv", table::csv(&tallies).as_bytes())?;
    write("movement-tunes.csv", by_tune.as_bytes())?;
    write("movement-undefined.txt", findings::undefined(&tallies, &library).as_bytes())?;
    write("movement-unfilled.txt", findings::unfilled(&tallies, &library).as_bytes())?;
    for (rung, knowing) in RUNGS.into_iter().zip([Knowing::Sheet; 2]).chain([(Rung::Flowing, Knowing::Live)])
    {
        let ballad = curves::ballad()?;
        let played: Vec<(String, Performance)> = manners
            .iter()
            .map(|manner| (manner.name.clone(), play(&ballad, rung, knowing, manner).0))
            .collect();
        let name = format!("movement-{}-{}.png", rung.name().to_lowercase(), knowing.name());
        write(&name, &curves::png(&ballad, &played)?)?;
    }
    println!("tables, findings and curves: {}  ({:.0} s)", output.display(), begun.elapsed().as_secs_f64());
    Ok(())
}

/// Plays a sheet, and tells with what.
pub(super) fn play(
    sheet: &Sheet,
    rung: Rung,
    knowing: Knowing,
    manner: &ResolvedManner,
) -> (Performance, Options) {
    let source = match knowing {
        Knowing::Sheet => Source::Chart,
        Knowing::Live => struck::SOURCE,
    };
    let elaboration = f32::from(rung as u8);
    let settings = Settings { elaboration, source, manner: manner.manner, ..Settings::default() };
    let options = Options { settings, figures: manner.figures.clone(), ..Options::default() };
    let performance = match knowing {
        Knowing::Sheet => arrange(sheet, &options),
        Knowing::Live => follow(&struck::take(sheet), &options),
    };
    (performance, options)
}

/// About as many tunes as FIGWORT_SAMPLE says; all where it says nothing.
fn sampled(sheets: Vec<Tune>) -> Result<Vec<Tune>> {
    let Some(wanted) = std::env::var_os("FIGWORT_SAMPLE") else { return Ok(sheets) };
    let text = wanted.to_string_lossy();
    let wanted: u64 = text
        .parse()
        .with_context(|| format!("FIGWORT_SAMPLE={text}: give a number of tunes, such as 100"))?;
    let all = sheets.len() as u64;
    Ok(sheets.into_iter().filter(|tune| hash(&tune.name) % all.max(1) < wanted).collect())
}

/// FNV-1a, so that a sample is the same everywhere and for ever; its upper bits, which are well mixed.
fn hash(name: &str) -> u64 {
    let hash = name
        .bytes()
        .fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x100_0000_01b3));
    hash >> 24
}
