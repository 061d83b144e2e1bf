//! `cargo xtask test`: every check, in the order of cheapness, with a count at the end.

use std::io::{BufRead, BufReader};
use std::process::Stdio;
use std::time::Instant;

use anyhow::{Context, Result, bail};

use crate::run::{self, clock, headline};
use crate::{bundle, tidy};

/// Tests counted over all test programs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Count {
    passed: u64,
    failed: u64,
}

/// Runs everything. Goes on after a failure, so that one run tells all.
pub(crate) fn all() -> Result<()> {
    let start = Instant::now();
    let mut failed: Vec<&str> = Vec::new();
    let mut step = |name: &'static str, work: &mut dyn FnMut() -> Result<()>| {
        headline(name);
        let begun = Instant::now();
        let done = work();
        if let Err(error) = &done {
            println!("error: {error:#}");
            failed.push(name);
        }
        println!("-- {name}: {} in {}", if done.is_ok() { "fine" } else { "FAILED" }, clock(begun.elapsed()));
        done.is_ok()
    };

    step("Tidiness", &mut || match tidy::check_repository()? {
        0 => Ok(()),
        n => bail!("{n} breaches of the repository's rules"),
    });
    step("Formatting", &mut || run::run(&mut run::cargo(&["fmt", "--all", "--check"])?));
    step("Clippy", &mut || {
        let arguments = ["clippy", "--workspace", "--all-targets", "--", "-D", "warnings"];
        run::run(&mut run::cargo(&arguments)?)
    });
    step("Documentation", &mut || {
        let mut command = run::cargo(&["doc", "--workspace", "--no-deps", "--quiet"])?;
        run::run(command.env("RUSTDOCFLAGS", "-D warnings"))
    });
    let (mut guarded, mut plain) = (None, None);
    step("Plugin that may not allocate", &mut || {
        guarded = Some(bundle::guarded()?);
        Ok(())
    });
    step("Plugin", &mut || {
        plain = Some(bundle::dev()?);
        Ok(())
    });
    let mut count = Count::default();
    let mut lines = Vec::new();
    step("Tests", &mut || {
        let mut command = run::cargo(&["test", "--workspace", "--no-fail-fast"])?;
        if let Some(bundles) = &plain {
            command.env("FIGWORT_CLAP", &bundles.clap).env("FIGWORT_VST3", &bundles.vst3);
        }
        if let Some(bundles) = &guarded {
            command.env("FIGWORT_CLAP_GUARDED", &bundles.clap);
        }
        let mut child = command.stdout(Stdio::piped()).spawn().context("cargo could not be started")?;
        let output = child.stdout.take().context("cargo has no output")?;
        for line in BufReader::new(output).lines() {
            let line = line?;
            println!("{line}");
            if let Some(result) = counted(&line) {
                count.passed += result.passed;
                count.failed += result.failed;
                lines.push(line);
            }
        }
        let status = child.wait()?;
        if !status.success() {
            bail!("cargo test ended with {status}");
        }
        if count.passed == 0 {
            bail!("no test was run");
        }
        Ok(())
    });

    headline(&format!("Results, after {}", clock(start.elapsed())));
    for line in &lines {
        println!("{line}");
    }
    // A step that failed without a failing test (formatting, a build) counts as one.
    let steps = failed.len() as u64;
    if steps > 0 {
        println!("Failed: {}", failed.join(", "));
    }
    let others = failed.iter().filter(|name| **name != "Tests" || count.failed == 0).count() as u64;
    println!("{} passed, {} failed", count.passed, count.failed + others);
    if steps > 0 {
        // Said already, and the counts are the last line.
        std::process::exit(1);
    }
    Ok(())
}

/// The numbers in a line like `test result: ok. 14 passed; 0 failed; 1 ignored; …`.
fn counted(line: &str) -> Option<Count> {
    let rest = line.trim_start().strip_prefix("test result: ")?;
    let (_, numbers) = rest.split_once(". ")?;
    let mut count = Count::default();
    for part in numbers.split(';') {
        match part.trim().split_once(' ') {
            Some((n, "passed")) => count.passed = n.parse().ok()?,
            Some((n, "failed")) => count.failed = n.parse().ok()?,
            _ => {}
        }
    }
    Some(count)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_results() {
        let line = "test result: FAILED. 13 passed; 2 failed; 1 ignored; 0 measured; 0 filtered out; \
                    finished in 0.08s";
        assert_eq!(counted(line), Some(Count { passed: 13, failed: 2 }));
        assert_eq!(counted("test a::b ... ok"), None);
        assert_eq!(counted("a test result: ok. 1 passed; 0 failed"), None);
    }
}
