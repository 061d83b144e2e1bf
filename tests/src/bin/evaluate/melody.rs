//! The chance of long notes, measured five-fold by tune.
//!
//! A note's length is the time to the next onset, in felt beats; the last one's is the time to the tune's
//! end. Repeats are played out. The key is the one heard so far, the harmony the one written.

use std::fs;
use std::path::Path;

use anyhow::{Context, Result};

use crate::corpus::{self, Tune};
use crate::output;

mod baselines;
mod boost;
mod measures;
mod onsets;
mod plot;
mod prior_file;
mod start;

use boost::{Plan, Rows};
use figwort_engine::reading::chance::{Around, Chance, NO_CHORD, PRIOR, Prior};
use measures::{Answer, Figures};
use onsets::Onset;

const FOLDS: usize = 5;
/// The lengths that are told, in felt beats.
const LENGTHS: [f64; 2] = [1.5, 2.0];
/// How the prior is grown. Chosen five-fold by tune on 75 songs.
const PLAN: Plan = Plan { trees: 160, rate: 0.08, penalty: 4.0, rows: 0.7, cues: 0.25 };
/// Onsets that a fold learns from at most; larger collections are thinned by whole tunes.
const MOST: usize = 60_000;

/// For each tune and onset, the chance of each length.
type Said = Vec<Vec<[f64; 2]>>;
/// Learns from the first tunes and answers for the second.
type Model = fn(&[&Heard], &[&Heard]) -> Said;

/// A tune as the reader hears it.
struct Heard {
    onsets: Vec<Onset>,
}

impl Heard {
    fn without_chords(&self) -> Self {
        let mut chance = Chance::new(NOTHING);
        let deaf = |onset: &Onset| {
            let around = Around { chord_degree: NO_CHORD, changed: None, ..onset.around };
            chance.strike(onset.at, onset.in_bar, around);
            Onset { around, cues: *chance.cues(), ..*onset }
        };
        Self { onsets: self.onsets.iter().map(deaf).collect() }
    }
}

/// No prior at all, for gathering cues.
const NOTHING: Prior = Prior { base: [0.0; 2], trees: &[] };

/// The tables and the picture.
pub(crate) fn evaluate(tunes: &[Tune]) -> Result<()> {
    let heard: Vec<Heard> = tunes
        .iter()
        .map(|tune| Heard { onsets: onsets::hear(&tune.sheet, &mut Chance::new(NOTHING)) })
        .filter(|heard| !heard.onsets.is_empty())
        .collect();
    if heard.len() < FOLDS {
        println!("\nlong notes: {} tunes with a melody, too few for five folds", heard.len());
        return Ok(());
    }
    let onsets: usize = heard.iter().map(|heard| heard.onsets.len()).sum();
    println!(
        "\nThe chance that the note just struck will last ({} tunes, {onsets} onsets, five-fold by tune)",
        heard.len()
    );
    let models: [(&str, Model); 7] = [
        ("constant", baselines::constant),
        ("position in the bar", baselines::place),
        ("+ previous gap", baselines::place_and_gap),
        ("position + this tune before", baselines::place_and_history),
        ("Figwort, learned from these", ours),
        ("the same, no chord known", without_chords),
        ("Figwort as it ships*", shipped),
    ];
    let mut answers = vec![];
    for (name, model) in models {
        answers.push((name, folds(&heard, model)));
    }
    for (n, length) in LENGTHS.iter().enumerate() {
        println!(
            "\nnotes of {length} beats or more; right/found: of the notes said to be long, and of the long notes"
        );
        println!("{}", HEAD.join("\n"));
        for (name, answers) in &answers {
            println!("{name:<30}{}", Figures::of(answers, n));
        }
        for line in REFERENCE[n] {
            println!("{line}");
        }
    }
    println!(
        "\nAUC, loss: over all notes. Median tune: AUC within a tune. First time: AUC over bars \
         that are played for the first time, no repeats.\nReference: 310 songs (75 of them in the shared folder).\n* Its prior was counted \
         from the folders named at the head of chance/prior.rs; on those it has seen the answers."
    );
    if let Some((_, ours)) = answers.get(4) {
        for (n, length) in LENGTHS.iter().enumerate() {
            println!("\ncalibration, {length} beats: said / came true / notes");
            for (said, came, notes) in measures::calibration(ours, n) {
                println!("  {said:.3}  {came:.3}  {notes}");
            }
        }
        start::thresholds(ours);
        let path = output().join("long-notes-calibration.png");
        fs::create_dir_all(output())?;
        let curves = [measures::calibration(ours, 0), measures::calibration(ours, 1)];
        fs::write(&path, plot::calibration(&curves)?)
            .with_context(|| format!("{} can't be written", path.display()))?;
        println!("calibration: {}", path.display());
    }
    start::demo()
}

const HEAD: [&str; 2] = [
    "                                  AUC   loss median |    1-4    5-8   9-16 |     right/found at      |   first",
    "                                        nats   tune |   bars   bars   bars |        0.7         0.8  |    time",
];

/// What is known of larger sets: the songs of the shared reference table, five-fold by tune.
const REFERENCE: [&[&str]; 2] = [
    &[
        "reference: constant              .500   .575   .50",
        "reference: position in the bar   .809   .440   .836",
        "reference: + previous gap        .819   .424   .832",
        "reference: position + before     .908   .302   .824",
        "reference: online mix            .934   .259   .903 |   .868   .932   .941 | .85/.46     .89/.35",
        "reference: boosted trees         .943   .241   .922",
    ],
    &[
        "reference: constant              .500   .510",
        "reference: position in the bar   .819   .382",
        "reference: + previous gap        .835   .363",
        "reference: position + before     .911   .268",
        "reference: online mix            .939   .226",
        "reference: boosted trees         .947   .210",
    ],
];

/// Answers for all tunes, each from a model that hasn't seen it.
fn folds(heard: &[Heard], model: Model) -> Vec<Answer> {
    let fold = |n: usize| (n.wrapping_mul(0x9E37_79B9) >> 8) % FOLDS;
    let mut answers = vec![];
    for held_out in 0..FOLDS {
        let learn: Vec<&Heard> =
            heard.iter().enumerate().filter(|(n, _)| fold(*n) != held_out).map(|(_, heard)| heard).collect();
        let (numbers, asked): (Vec<usize>, Vec<&Heard>) =
            heard.iter().enumerate().filter(|(n, _)| fold(*n) == held_out).unzip();
        let said = model(&learn, &asked);
        for ((tune, heard), said) in numbers.iter().zip(&asked).zip(said) {
            for (onset, odds) in heard.onsets.iter().zip(said) {
                answers.push(Answer {
                    tune: *tune,
                    bar: onset.bar,
                    first_time: onset.first_time,
                    length: onset.length,
                    odds,
                });
            }
        }
    }
    answers
}

fn rows(heard: &[&Heard], weight: f32) -> Rows {
    let onsets: usize = heard.iter().map(|heard| heard.onsets.len()).sum();
    let every = onsets.div_ceil(MOST).max(1);
    let mut rows = Rows::default();
    for onset in heard.iter().step_by(every).flat_map(|heard| &heard.onsets) {
        rows.cues.push(onset.cues);
        rows.long.push(LENGTHS.map(|least| onset.lasts(least)));
        rows.weight.push(weight);
    }
    rows
}

fn ours(learn: &[&Heard], asked: &[&Heard]) -> Said {
    asked_of(boost::grow(&rows(learn, 1.0), PLAN), asked)
}

/// As if every chord came after the note.
fn without_chords(learn: &[&Heard], asked: &[&Heard]) -> Said {
    let deaf =
        |heard: &[&Heard]| -> Vec<Heard> { heard.iter().map(|heard| heard.without_chords()).collect() };
    let (learn, asked) = (deaf(learn), deaf(asked));
    ours(&learn.iter().collect::<Vec<_>>(), &asked.iter().collect::<Vec<_>>())
}

fn shipped(_learn: &[&Heard], asked: &[&Heard]) -> Said {
    asked_of(PRIOR, asked)
}

/// The model as it runs in the engine, note by note.
fn asked_of(prior: Prior, asked: &[&Heard]) -> Said {
    asked
        .iter()
        .map(|heard| {
            let mut chance = Chance::new(prior);
            let strike = |onset: &Onset| {
                let odds = chance.strike(onset.at, onset.in_bar, onset.around);
                [f64::from(odds.half), f64::from(odds.two)]
            };
            heard.onsets.iter().map(strike).collect()
        })
        .collect()
}

/// Counts the prior from folders of sheets: the first at full weight, the others at three tenths. Writes it.
pub(crate) fn train(folders: &[&str], file: &Path) -> Result<()> {
    let mut all = Rows::default();
    let mut sources = vec![];
    for (n, folder) in folders.iter().enumerate() {
        let tunes = corpus::sheets(Path::new(folder))?;
        let heard: Vec<Heard> = tunes
            .iter()
            .map(|tune| Heard { onsets: onsets::hear(&tune.sheet, &mut Chance::new(NOTHING)) })
            .collect();
        let borrowed: Vec<&Heard> = heard.iter().filter(|heard| !heard.onsets.is_empty()).collect();
        let weight = if n == 0 { 1.0 } else { 0.3 };
        let rows = rows(&borrowed, weight);
        let name =
            Path::new(folder).file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        sources.push(format!(
            "{name}: {} tunes, {} onsets, weight {weight}",
            borrowed.len(),
            rows.cues.len()
        ));
        all.cues.extend(rows.cues);
        all.long.extend(rows.long);
        all.weight.extend(rows.weight);
    }
    let prior = boost::grow(&all, PLAN);
    fs::write(file, prior_file::write(&prior, &sources))
        .with_context(|| format!("{} can't be written", file.display()))?;
    println!("{}\n{}", sources.join("\n"), file.display());
    Ok(())
}
