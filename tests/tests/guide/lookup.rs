//! Commands that are looked up and not run: whether there is what they name.

use std::process::Command;

use super::{COMMANDS, XTASK, everything, read, root, run};

/// The commands that `cargo xtask help` lists, each as its words: `evaluate`, `reading`, `DIR`.
pub(super) fn xtask_help() -> Vec<Vec<String>> {
    let output = Command::new(XTASK.as_path()).arg("help").output().expect("xtask runs");
    assert!(output.status.success());
    let help = String::from_utf8(output.stdout).expect("text");
    let listed = help.lines().skip_while(|line| *line != "Commands:").skip(1);
    let listed = listed.filter(|line| line.starts_with("  ") && !line.starts_with("   "));
    let words = |line: &str| -> Vec<String> {
        line.trim().split("  ").next().unwrap_or_default().split_whitespace().map(str::to_owned).collect()
    };
    let found: Vec<_> = listed.map(words).collect();
    assert!(found.len() > 5, "the help has changed its form:\n{help}");
    found
}

/// Whether words are what one line of the help allows. `part` allows an end before the line's.
fn fits(line: &[String], words: &[&str], part: bool) -> bool {
    match (line.split_first(), words.split_first()) {
        (None, None) => true,
        (None, Some(_)) => false,
        (Some((next, rest)), None) => part || next.starts_with('[') && fits(rest, words, part),
        (Some((next, rest)), Some((word, others))) => {
            if let Some(optional) = next.strip_prefix('[').and_then(|next| next.strip_suffix(']')) {
                let many = optional.ends_with('…') || optional.ends_with('S');
                fits(rest, words, part)
                    || stands_for(optional, word) && fits(if many { line } else { rest }, others, part)
            } else {
                stands_for(next, word) && fits(rest, others, part)
            }
        }
    }
}

/// A word in capitals stands for any that is no option, `ARGUMENTS` for these, too.
fn stands_for(listed: &str, word: &str) -> bool {
    let any = listed.chars().all(|c| c.is_uppercase() || c == '…');
    listed == word || any && (!word.starts_with('-') || listed == "ARGUMENTS")
}

/// Every option that a program of ours tells of in its help.
pub(super) fn options() -> Vec<String> {
    let mut found = standalone_options();
    for command in COMMANDS {
        let help = run(&[command, "--help"], &root()).expect("its help");
        let words = help.split(|c: char| c.is_whitespace() || ",[]=".contains(c));
        found.extend(words.filter(|word| word.starts_with("--")).map(str::to_owned));
    }
    found
}

/// What the standalone understands, from its help.
fn standalone_options() -> Vec<String> {
    let source = read("plugin/shell/src/standalone.rs");
    let help = source.split("const HELP").nth(1).and_then(|rest| rest.split("\";").next()).expect("its help");
    let options = help.lines().filter_map(|line| line.strip_prefix("  --")?.split_whitespace().next());
    options.map(|option| format!("--{option}")).collect()
}

/// What is wrong with a command of `cargo xtask`.
pub(super) fn wrong_xtask(words: &[&str], help: &[Vec<String>], part: bool) -> Option<String> {
    if !help.iter().any(|line| fits(line, words, part)) {
        return Some(format!("`cargo xtask help` lists no `{}`", words.join(" ")));
    }
    let ["play", options @ ..] = words else { return None };
    let known = standalone_options();
    let unknown = options.iter().find(|word| word.starts_with("--") && !known.contains(&(**word).to_owned()));
    unknown.map(|option| format!("the standalone has no {option}"))
}

/// What is wrong with a command of cargo's own: packages, folders and tests must be there.
pub(super) fn wrong_cargo(words: &[&str]) -> Option<String> {
    for (name, value) in words.iter().zip(words.iter().skip(1)) {
        let missing = match *name {
            "-p" => !manifests().iter().any(|text| text.contains(&format!("name = \"{value}\"\n"))),
            "--example" => !everything().iter().any(|path| path.ends_with(&format!("/examples/{value}.rs"))),
            "--path" => !root().join(value).join("Cargo.toml").exists(),
            "--test" => !["tests", "plugin/cli/tests", "plugin/engine/tests"].iter().any(|folder| {
                let folder = root().join(folder);
                folder.join(format!("{value}.rs")).exists()
                    || folder.join("tests").join(format!("{value}.rs")).exists()
                    || folder.join("tests").join(value).join("main.rs").exists()
            }),
            _ => false,
        };
        if missing {
            return Some(format!("{name} {value}: there is none"));
        }
    }
    None
}

fn manifests() -> Vec<String> {
    let inner = ["theory", "engine", "sheet", "preset", "render", "cli", "shell"];
    let inner = inner.iter().map(|name| read(&format!("plugin/{name}/Cargo.toml")));
    inner.chain([read("tests/Cargo.toml"), read("xtask/Cargo.toml")]).collect()
}
