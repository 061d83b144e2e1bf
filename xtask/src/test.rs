//! `cargo xtask test`: every check, in the order of cheapness, with a count at the end.

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, IsTerminal};
use std::process::{Command, Stdio};
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

/// What the tests need besides Rust and a linker: its name, cargo's command that it is if it is one, where it comes from.
const TOOLS: [(&str, Option<&str>, &str); 3] = [
    ("rustfmt", Some("fmt"), "`rustup component add rustfmt`, or your system's package"),
    ("clippy", Some("clippy"), "`rustup component add clippy`, or your system's package"),
    ("git", None, "your system's package `git`, or git-scm.com"),
];

/// Runs everything. Goes on after a failure, so that one run tells all.
pub(crate) fn all() -> Result<()> {
    let there = |name: &str, command: Option<&str>| match command {
        Some(command) => run::succeeds(run::cargo_itself(), &[command, "--version"]),
        None => run::succeeds(name, &["--version"]),
    };
    if let Some(missing) = missing(there) {
        bail!("{missing}");
    }
    let start = Instant::now();
    let mut failed: Vec<&str> = Vec::new();
    let mut step = |name: &'static str, work: &mut dyn FnMut() -> Result<()>| {
        headline(name);
        let begun = Instant::now();
        let done = work();
        if let Err(error) = &done {
            say!("error: {error:#}");
            failed.push(name);
        }
        say!("-- {name}: {} in {}", if done.is_ok() { "fine" } else { "FAILED" }, clock(begun.elapsed()));
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
    let mut said = Said::default();
    step("Tests", &mut || {
        let mut command = run::cargo(&["test", "--workspace", "--no-fail-fast"])?;
        if let Some(bundles) = &plain {
            command.env("FIGWORT_CLAP", &bundles.clap).env("FIGWORT_VST3", &bundles.vst3);
        }
        if let Some(bundles) = &guarded {
            command.env("FIGWORT_CLAP_GUARDED", &bundles.clap);
        }
        said.listen(&mut command)?;
        if said.count.passed == 0 {
            bail!("no test was run");
        }
        Ok(())
    });

    headline(&format!("Results, after {}", clock(start.elapsed())));
    for line in &said.results {
        say!("{line}");
    }
    for (test, what) in said.skipped.iter().flat_map(|(test, what)| what.iter().map(move |what| (test, what)))
    {
        say!("skipped: {test}: {what}");
    }
    let count = said.count;
    // A step that failed without a failing test (formatting, a build) counts as one.
    let steps = failed.len() as u64;
    if steps > 0 {
        say!("Failed: {}", failed.join(", "));
    }
    let others = failed.iter().filter(|name| **name != "Tests" || count.failed == 0).count() as u64;
    say!("{} passed, {} failed{}", count.passed, count.failed + others, lacking(said.skipped.len()));
    if steps > 0 {
        // Said already, and the counts are the last line.
        std::process::exit(1);
    }
    Ok(())
}

/// In one line, which of the tools are not there and where they come from.
fn missing(there: impl Fn(&str, Option<&str>) -> bool) -> Option<String> {
    let missing: Vec<String> = TOOLS
        .iter()
        .filter(|(name, command, _)| !there(name, *command))
        .map(|(name, _, from)| format!("{name} ({from})"))
        .collect();
    (!missing.is_empty()).then(|| format!("the tests need what is not installed: {}", missing.join("; ")))
}

/// What the test programs said.
#[derive(Debug, Default)]
struct Said {
    count: Count,
    /// Each program's line of counts.
    results: Vec<String>,
    /// By test, what it would have looked at and was not there.
    skipped: BTreeMap<String, Vec<String>>,
}

impl Said {
    /// Runs the tests, shows all they say, and keeps what counts.
    fn listen(&mut self, command: &mut Command) -> Result<()> {
        // Cargo sees no terminal, as its output goes through here.
        if std::io::stderr().is_terminal() {
            command.env("CARGO_TERM_COLOR", "always");
        }
        let piped = command.stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = piped.spawn().context("cargo could not be started")?;
        let output = child.stdout.take().context("cargo has no output")?;
        let errors = child.stderr.take().context("cargo has no output of errors")?;
        // Both at once, or the one that nobody reads fills up and the tests wait.
        let listener = std::thread::spawn(move || -> Result<Vec<(String, String)>> {
            let mut found = vec![];
            for line in BufReader::new(errors).split(b'\n') {
                let line = String::from_utf8_lossy(&line?).into_owned();
                eprintln!("{line}");
                found.extend(skipped(&line).map(|(test, what)| (test.to_owned(), what.to_owned())));
            }
            Ok(found)
        });
        for line in BufReader::new(output).lines() {
            let line = line?;
            say!("{line}");
            if let Some(result) = counted(&line) {
                self.count.passed += result.passed;
                self.count.failed += result.failed;
                self.results.push(line);
            }
        }
        let lacking = listener.join().map_err(|_| anyhow::anyhow!("the output of errors was not read"))??;
        for (test, what) in lacking {
            self.skipped.entry(test).or_default().push(what);
        }
        let status = child.wait()?;
        if !status.success() {
            bail!("cargo test ended with {status}");
        }
        Ok(())
    }
}

/// The test and what it lacked, in a line like `skipped: every_tune_reads: no open collections`.
fn skipped(line: &str) -> Option<(&str, &str)> {
    line.strip_prefix("skipped: ")?.split_once(": ")
}

/// The end of the last line: how many tests lacked what they look at.
fn lacking(tests: usize) -> String {
    match tests {
        0 => String::new(),
        n => format!("; {n} of those passed lacked something to look at, as said above"),
    }
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

    #[test]
    fn missing_tools_are_said_in_one_line() {
        assert_eq!(missing(|_, _| true), None);
        let without_git = missing(|name, _| name != "git");
        assert_eq!(
            without_git.as_deref(),
            Some("the tests need what is not installed: git (your system's package `git`, or git-scm.com)")
        );
        let neither = missing(|_, command| command.is_none()).expect("two are missing");
        assert!(neither.contains("rustfmt (`rustup") && neither.contains("; clippy (`rustup"), "{neither}");
        assert!(!neither.contains('\n'));
    }

    /// A test that had nothing to look at passes; it is told from the others all the same.
    #[cfg(unix)]
    #[test]
    fn tests_that_lacked_something_are_counted_once() {
        let mut said = Said::default();
        let script = "echo 'test result: ok. 3 passed; 0 failed; 0 ignored'
            echo 'skipped: a::one: no tunes in ../b: c' >&2
            echo 'skipped: a::one: no songs' >&2
            echo 'skipped: two: no disk' >&2
            echo 'warning: skipped: three: no' >&2";
        said.listen(Command::new("sh").args(["-c", script])).expect("a shell");
        assert_eq!(said.count, Count { passed: 3, failed: 0 });
        let lacked: Vec<_> =
            said.skipped.iter().map(|(test, what)| (test.as_str(), what.join("; "))).collect();
        assert_eq!(
            lacked,
            [("a::one", "no tunes in ../b: c; no songs".to_owned()), ("two", "no disk".to_owned())]
        );
        assert_eq!(lacking(2), "; 2 of those passed lacked something to look at, as said above");
        assert_eq!(lacking(0), "");
    }
}
