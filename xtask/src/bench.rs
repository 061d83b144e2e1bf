//! `cargo xtask bench`: the costs, in one table from one run.

use anyhow::{Context, Result};

use crate::run::{self, headline};
use crate::{bundle, target};

/// The engine's stages, by the functions that callgrind names.
const STAGES: [(&str, &str); 9] = [
    ("all of a block", "figwort_engine::engine::Engine::process"),
    ("hearing", "figwort_engine::engine::hearing::<impl figwort_engine::engine::Engine>::hear"),
    ("chord naming", "figwort_theory::identify::identify"),
    ("deciding", "figwort_engine::decision::decide"),
    ("voicing", "figwort_engine::voicing::voice"),
    ("lines", "figwort_engine::figure::line"),
    ("stepping", "figwort_engine::engine::moving::<impl figwort_engine::engine::Engine>::step"),
    ("schedule", "figwort_engine::schedule::Schedule::perform"),
    ("what is due", "figwort_engine::engine::Engine::next_due"),
];
/// Blocks of the load that is counted: one minute.
const BLOCKS: u64 = 45_000;

/// Builds what is measured and runs it.
pub(crate) fn run(minutes: &[String]) -> Result<()> {
    headline("Building the plugin, the floor and the bench");
    let bundles = bundle::release_with(&["-p", "tests", "--bin", "bench", "--example", "through"])?;
    let target = target()?;
    let library = format!("{}through{}", std::env::consts::DLL_PREFIX, std::env::consts::DLL_SUFFIX);
    let release = target.join("release");
    let bench = release.join(format!("bench{}", std::env::consts::EXE_SUFFIX));
    headline("Measuring");
    let mut command = std::process::Command::new(&bench);
    command
        .args(minutes)
        .env("FIGWORT_CLAP", &bundles.clap)
        .env("FIGWORT_THROUGH", release.join("examples").join(library))
        .env("FIGWORT_BENCH", target.join("bench"));
    run::run(&mut command)?;
    instructions()
}

/// Instructions of each stage, from callgrind: the same on every run, whatever else the machine does.
fn instructions() -> Result<()> {
    if !run::succeeds("valgrind", &["--version"]) {
        println!(
            "valgrind is not installed, so instructions are not counted; on Debian or Ubuntu: \
                  sudo apt-get install valgrind"
        );
        return Ok(());
    }
    headline("Counting instructions");
    let folder = target()?.join("counted");
    // Names are needed, and functions that still exist after optimising.
    let mut build = run::cargo(&["build", "--release", "-p", "tests", "--bin", "bench"])?;
    build
        .env("CARGO_TARGET_DIR", &folder)
        .env("CARGO_PROFILE_RELEASE_STRIP", "none")
        .env("CARGO_PROFILE_RELEASE_DEBUG", "line-tables-only")
        .env("CARGO_PROFILE_RELEASE_LTO", "off");
    run::run(&mut build)?;
    let counts = folder.join("callgrind.out");
    let mut count = std::process::Command::new("valgrind");
    count.args(["--tool=callgrind", "--quiet"]);
    count.arg(format!("--callgrind-out-file={}", counts.display()));
    count.arg(folder.join("release").join("bench")).arg("instructions");
    run::run(&mut count)?;
    let mut annotate = std::process::Command::new("callgrind_annotate");
    let output = annotate
        .args(["--inclusive=yes", "--threshold=100", "--show-percs=no"])
        .arg(&counts)
        .output()
        .context("callgrind_annotate could not be started")?;
    let text = String::from_utf8_lossy(&output.stdout);
    println!("one minute of dense playing at Ornate, with what each calls; {BLOCKS} blocks");
    println!("{:16} {:>14} {:>10}", "stage", "instructions", "per block");
    for (stage, function) in STAGES {
        match counted(&text, function) {
            Some(n) => println!("{stage:16} {n:14} {:10.1}", n as f64 / BLOCKS as f64),
            None => println!("{stage:16} {:>14} {:>10}", "inlined", ""),
        }
    }
    Ok(())
}

/// The greatest count among the lines that name a function.
fn counted(text: &str, function: &str) -> Option<u64> {
    let count = |line: &str| {
        let first = line.split_whitespace().next()?;
        first.replace(',', "").parse::<u64>().ok()
    };
    text.lines().filter(|line| line.contains(function)).filter_map(count).max()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_the_count_of_a_function() {
        let text = "  1,234,567  ???:figwort_engine::voicing::voice [/x/bench]\n\
                    12  ???:figwort_engine::voicing::voice'2 [/x/bench]\n9  ???:other [/x/bench]\n";
        assert_eq!(counted(text, "figwort_engine::voicing::voice"), Some(1_234_567));
        assert_eq!(counted(text, "figwort_engine::decide"), None);
    }
}
