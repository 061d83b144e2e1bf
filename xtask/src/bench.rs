//! `cargo xtask bench`: the costs, in one table from one run.

use std::path::Path;
use std::process::Command;

use anyhow::{Context, Result, bail};

use crate::run::{self, headline};
use crate::{bundle, help, target};

/// The engine's stages, by the functions that stand for them.
const STAGES: [(&str, &str); 13] = [
    ("all of a block", "figwort_engine::engine::Engine::process"),
    ("the time", "figwort_engine::reading::clock::Clock::begin_block"),
    ("what is due", "figwort_engine::engine::Engine::next_due"),
    ("hearing", "figwort_engine::engine::hearing::<impl figwort_engine::engine::Engine>::place_note"),
    ("long notes", "figwort_engine::reading::chance::Chance::strike"),
    ("key", "figwort_engine::reading::key::KeyReader::decide"),
    ("tension", "figwort_engine::reading::tension::tension"),
    ("chord naming", "figwort_theory::identify::identify"),
    ("deciding", "figwort_engine::decision::decide"),
    ("voicing", "figwort_engine::voicing::voice"),
    ("a figure's parts", "figwort_engine::figure::parts_of"),
    ("lines", "figwort_engine::figure::line::solve"),
    ("what is shown", "figwort_engine::engine::showing::<impl figwort_engine::engine::Engine>::show"),
];
/// Blocks of a minute of the load.
const BLOCKS: u64 = 45_000;
/// Minutes of the load that samples are taken of.
const MINUTES: u64 = 60;

/// Builds what is measured and runs it.
pub(crate) fn run(minutes: &[String]) -> Result<()> {
    help::minutes(minutes)?;
    headline("Building the plugin, the floor and the bench");
    let bundles = bundle::release_with(&[
        "-p",
        "tests",
        "--bin",
        "bench",
        "--example",
        "through",
        "--example",
        "frame",
    ])?;
    let target = target()?;
    let library = format!("{}through{}", std::env::consts::DLL_PREFIX, std::env::consts::DLL_SUFFIX);
    let release = target.join("release");
    let bench = release.join(format!("bench{}", std::env::consts::EXE_SUFFIX));
    let examples = release.join("examples");
    headline("Measuring");
    let mut command = Command::new(&bench);
    command
        .args(minutes)
        .env("FIGWORT_CLAP", &bundles.clap)
        .env("FIGWORT_VST3", &bundles.vst3)
        .env("FIGWORT_THROUGH", examples.join(library))
        .env("FIGWORT_FRAME", examples.join(format!("frame{}", std::env::consts::EXE_SUFFIX)))
        .env("FIGWORT_BENCH", target.join("bench"));
    run::run(&mut command)?;
    stages()
}

/// What each stage costs: instructions, counted by callgrind and the same on every run, and nanoseconds, from samples
/// that perf takes of the processor's time. Neither minds what else the machine does.
fn stages() -> Result<()> {
    let tools = [("valgrind", "valgrind"), ("perf", "linux-perf")];
    let [counting, sampling] = tools.map(|(tool, package)| {
        let there = run::succeeds(tool, &["--version"]);
        if !there {
            say!("{tool} is not installed, so a column is empty; on Debian: sudo apt-get install {package}");
        }
        there
    });
    if !counting && !sampling {
        return Ok(());
    }
    headline("The engine's stages");
    let folder = target()?.join("counted");
    // Names are needed, functions that still exist after optimising, and who called them.
    let mut build = run::cargo(&["build", "--release", "-p", "tests", "--bin", "bench"])?;
    build
        .env("CARGO_TARGET_DIR", &folder)
        .env("RUSTFLAGS", "-C force-frame-pointers=yes")
        .env("CARGO_PROFILE_RELEASE_STRIP", "none")
        .env("CARGO_PROFILE_RELEASE_DEBUG", "line-tables-only")
        .env("CARGO_PROFILE_RELEASE_LTO", "off");
    run::run(&mut build)?;
    let bench = folder.join("release").join("bench");
    let counts = if counting { instructions(&bench, &folder)? } else { String::new() };
    let (samples, nanos) = if sampling { samples(&bench, &folder)? } else { (String::new(), 0.0) };
    say!("dense playing at Ornate; a block of 64 frames, on the average, each stage with what it calls");
    say!("{:16} {:>12} {:>8}", "stage", "instructions", "ns");
    let or_none = |number: Option<String>| number.unwrap_or_else(|| "-".to_owned());
    for (stage, function) in STAGES {
        let counted = counted(&counts, function).map(|n| format!("{:.1}", n as f64 / BLOCKS as f64));
        let sampled = sampled(&samples, function).map(|share| format!("{:.1}", share * nanos));
        say!("{stage:16} {:>12} {:>8}", or_none(counted), or_none(sampled));
    }
    say!("(-: not measured, or part of its caller after optimising)");
    Ok(())
}

/// What callgrind counts in a minute of the load, function by function.
fn instructions(bench: &Path, folder: &Path) -> Result<String> {
    let counts = folder.join("callgrind.out");
    let mut count = Command::new("valgrind");
    count.args(["--tool=callgrind", "--quiet"]);
    count.arg(format!("--callgrind-out-file={}", counts.display()));
    count.arg(bench).args(["instructions", "1"]);
    run::run(&mut count)?;
    let mut annotate = Command::new("callgrind_annotate");
    output(annotate.args(["--inclusive=yes", "--threshold=100", "--show-percs=no"]).arg(&counts))
}

/// What perf finds in an hour of the load, function by function, and nanoseconds for each block.
fn samples(bench: &Path, folder: &Path) -> Result<(String, f64)> {
    let samples = folder.join("perf.data");
    let mut record = Command::new("perf");
    record.args(["record", "--quiet", "--event=cpu-clock", "--freq=4999", "--call-graph=fp", "--output"]);
    output(record.arg(&samples).arg("--").arg(bench).args(["instructions", &MINUTES.to_string()]))?;
    let mut report = Command::new("perf");
    report.args(["report", "--stdio", "--children", "--call-graph=none", "--fields=overhead_children,sym"]);
    let text = output(report.arg("--input").arg(&samples))?;
    let nanos = nanos(&text).context("perf doesn't say how long the load took")?;
    Ok((text, nanos / (BLOCKS * MINUTES) as f64))
}

/// What a program prints.
fn output(command: &mut Command) -> Result<String> {
    let program = command.get_program().to_string_lossy().into_owned();
    let output = command.output().with_context(|| format!("{program} could not be started"))?;
    if !output.status.success() {
        bail!("{program} failed: {}", String::from_utf8_lossy(&output.stderr).trim());
    }
    Ok(String::from_utf8_lossy(&output.stdout).into_owned())
}

/// The greatest count among the lines that name a function.
fn counted(text: &str, function: &str) -> Option<u64> {
    first_words(text, function).filter_map(|word| word.replace(',', "").parse().ok()).max()
}

/// The greatest share, of 1, among the lines that name a function.
fn sampled(text: &str, function: &str) -> Option<f64> {
    first_words(text, function)
        .filter_map(|word| word.strip_suffix('%')?.parse::<f64>().ok())
        .map(|percent| percent / 100.0)
        .max_by(f64::total_cmp)
}

/// Nanoseconds of the processor's time in all samples: the event is its clock.
fn nanos(text: &str) -> Option<f64> {
    text.lines().find_map(|line| line.strip_prefix("# Event count (approx.): ")?.trim().parse().ok())
}

/// The first word of every line that names a function.
fn first_words<'a>(text: &'a str, function: &'a str) -> impl Iterator<Item = &'a str> {
    // Not one whose name only begins like it.
    let names = move |line: &&str| {
        let more = |rest: &str| rest.starts_with(|c: char| c.is_alphanumeric() || "_:'".contains(c));
        line.split(function).skip(1).any(|rest| !more(rest))
    };
    text.lines().filter(names).filter_map(|line| line.split_whitespace().next())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_the_count_of_a_function() {
        let text = "  1,234,567  ???:figwort_engine::voicing::voice [/x/bench]\n\
                    12  ???:figwort_engine::voicing::voice'2 [/x/bench]\n\
                    9,999,999  ???:figwort_engine::voicing::voice_all [/x/bench]\n9  ???:other [/x/bench]\n";
        assert_eq!(counted(text, "figwort_engine::voicing::voice"), Some(1_234_567));
        assert_eq!(counted(text, "figwort_engine::decide"), None);
    }

    #[test]
    fn finds_the_share_of_a_function() {
        let text = "# Event count (approx.): 5000\n# Children  Symbol\n    62.50%  [.] figwort_engine::voicing::voice\n     0.01%  [k] other\n";
        assert_eq!(sampled(text, "figwort_engine::voicing::voice"), Some(0.625));
        assert_eq!(nanos(text), Some(5_000.0));
        assert_eq!(sampled(text, "figwort_engine::decide"), None);
    }
}
