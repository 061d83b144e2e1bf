//! What the commands are, and what is wrong with one that was typed otherwise: said before anything is built.

use std::fmt::Write as _;
use std::path::PathBuf;

use anyhow::{Result, bail};

/// All commands. A command's lines begin with two blanks, more words about it with more.
pub(crate) const HELP: &str = "\
Usage: cargo xtask COMMAND

Commands:
  demo                builds the plugin, plays the demo take through it in a host and an arrangement
                      offline, prints what was played and writes MIDI, WAV and PNG to target/demo
  bundle [--dev]      builds Figwort.clap and Figwort.vst3 into target/bundled (release), or quickly and
                      unoptimised into target/bundled-dev
  install             builds the bundles and puts them where this system's hosts look (for you alone)
  uninstall           takes them away again
  play [ARGUMENTS]    builds and runs the standalone; its arguments are those of `cargo xtask play --help`
  test                formatting, clippy, documentation, all tests (in hosts, too), tidiness
  evaluate reading DIR
                      measures chords, key and long notes over the sheets of a folder
  evaluate voicing DIR
                      measures spacing, hands and voice leading on every rung over the sheets of a folder,
                      beside composed songs where FIGWORT_CORPUS or ../shared/corpus has them
  evaluate movement DIR
                      measures motion against the melody and non-chord tones in every manner over the sheets
                      of a folder, with the sheet known and live; FIGWORT_SAMPLE=N takes about N of them
  train DIR [DIR…]    counts the prior of the chance of long notes from folders of sheets (the first at full
                      weight) and writes plugin/engine/src/reading/chance/prior.rs
  bench [MINUTES]     what a block costs beside a plugin that only passes notes on, in ten minutes of time
                      a row unless told; memory, loading, scanning, an editor's frame, plots; instructions
                      of each stage where valgrind is there
  soak [MINUTES]      random players in every manner, an hour of time each unless told; counts what went wrong
  golden              writes the golden scores in tests/golden and the outputs in README.md anew; read the
                      difference before committing
  pictures [editor]   paints the editor (also for the README) and engraves the demo tunes' parts, page by
                      page, in target/pictures (the engraver is installed in target/engraver; needs python3
                      and Cairo)
  tidy                only the repository's own rules
  help                this text";

/// The lines of the help about a command; none where there is no such command.
fn about(command: &str) -> String {
    let mut lines = String::new();
    let mut its = false;
    for line in HELP.lines().skip_while(|line| *line != "Commands:").skip(1) {
        if !line.starts_with("   ") {
            its = line.split_whitespace().next() == Some(command);
        }
        if its {
            let _ = write!(lines, "\n{line}");
        }
    }
    lines
}

/// What is wrong with words that are no command of ours, and what would be right.
pub(crate) fn wrong(words: &[String]) -> String {
    let Some(command) = words.first() else {
        return format!("say which command\n\n{HELP}");
    };
    match (about(command), &words[1..]) {
        (lines, _) if lines.is_empty() => format!("no such command: {command}\n\n{HELP}"),
        (lines, []) => format!("`{command}` needs more words:\n{lines}"),
        (lines, others) => format!("`{command}` is not followed by `{}`:\n{lines}", others.join(" ")),
    }
}

/// Minutes of musical time to be passed on, if any are given.
///
/// # Errors
/// What is given is no number of minutes.
pub(crate) fn minutes(words: &[String]) -> Result<()> {
    for word in words {
        if !word.parse().is_ok_and(|minutes: f64| minutes > 0.0 && minutes.is_finite()) {
            bail!("`{word}` is no number of minutes; give one such as 10");
        }
    }
    Ok(())
}

/// Where the sheets are that a command measures.
///
/// # Errors
/// There is no such folder.
pub(crate) fn folder(word: &str) -> Result<PathBuf> {
    let folder = std::path::absolute(word)?;
    if !folder.is_dir() {
        bail!("there is no folder {}; give one with sheets in it", folder.display());
    }
    Ok(folder)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wrong_words(words: &[&str]) -> String {
        wrong(&words.iter().map(|word| (*word).to_owned()).collect::<Vec<_>>())
    }

    #[test]
    fn what_is_wrong_is_said_by_command() {
        assert!(wrong_words(&[]).starts_with("say which command\n\nUsage: "));
        assert!(wrong_words(&["dance", "polka"]).starts_with("no such command: dance\n\nUsage: "));
        let evaluate = wrong_words(&["evaluate"]);
        assert!(
            evaluate.starts_with("`evaluate` needs more words:\n\n  evaluate reading DIR\n"),
            "{evaluate}"
        );
        assert!(
            evaluate.contains("\n  evaluate movement DIR\n") && !evaluate.contains("train"),
            "{evaluate}"
        );
        let tidy = wrong_words(&["tidy", "up"]);
        assert_eq!(
            tidy,
            "`tidy` is not followed by `up`:\n\n  tidy                only the repository's own rules"
        );
    }

    #[test]
    fn minutes_and_folders_are_looked_at_before_anything_is_built() {
        for right in ["10", "0.5"] {
            assert!(minutes(&[right.to_owned()]).is_ok(), "{right}");
        }
        for wrong in ["abc", "0", "-1", "inf", "nan", ""] {
            let error = minutes(&[wrong.to_owned()]).expect_err(wrong);
            assert!(error.to_string().contains("give one such as 10"), "{error}");
        }
        assert!(folder(env!("CARGO_MANIFEST_DIR")).is_ok());
        let error = folder("no such place").expect_err("nothing there");
        assert!(error.to_string().ends_with("no such place; give one with sheets in it"), "{error}");
    }

    #[test]
    fn lines_of_the_help_fit_a_terminal() {
        for line in HELP.lines() {
            assert!(line.chars().count() <= 110, "{line}");
        }
    }
}
