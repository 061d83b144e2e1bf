//! The repository's own rules, which the compiler doesn't know: who depends on whom, which stage of the
//! engine sees which, how long a file may be, what lies at the top, which words are not left behind.
//!
//! Works on a tree in memory, so that each rule is shown to catch a breach.

use std::collections::BTreeMap;
use std::path::Path;

use anyhow::{Context, Result};

/// Who may depend on whom: crate, what it may use, what only its tests may use besides.
const EDGES: &[(&str, &[&str], &[&str])] = &[
    ("figwort-theory", &[], &[]),
    ("figwort-engine", &["figwort-theory"], &[]),
    ("figwort-sheet", &["figwort-theory"], &[]),
    ("figwort-preset", &["figwort-theory", "figwort-engine"], &[]),
    // Its tests play with factory manners.
    ("figwort-render", &["figwort-theory", "figwort-engine", "figwort-sheet"], &["figwort-preset"]),
    // The command line resolves its options into the engine's settings.
    (
        "figwort-cli",
        &["figwort-theory", "figwort-engine", "figwort-sheet", "figwort-preset", "figwort-render"],
        &[],
    ),
    (
        "figwort",
        &["figwort-theory", "figwort-engine", "figwort-sheet", "figwort-preset", "figwort-render"],
        &[],
    ),
    (
        "tests",
        &["figwort", "figwort-theory", "figwort-engine", "figwort-sheet", "figwort-preset", "figwort-render"],
        &[],
    ),
    // What a project keeps is the shell's.
    (
        "figwort-fuzz",
        &["figwort", "figwort-theory", "figwort-engine", "figwort-sheet", "figwort-preset"],
        &[],
    ),
    ("xtask", &[], &[]),
];

/// The engine's stages. A module sees itself and those of earlier lines; the first line, which is plain data,
/// sees all of itself.
const STAGES: &[&[&str]] = &[
    &["book", "chart", "event", "observation", "settings"],
    &["reading"],
    &["decision"],
    &["voicing"],
    &["figure"],
    &["touch"],
    &["schedule"],
    &["snapshot"],
    &["engine"],
];

const ENGINE: &str = "plugin/engine/src/";

/// Longest source file, in lines.
const MAX_LINES: usize = 500;

/// What lies at the top.
const TOP: &[&str] = &[
    ".cargo",
    ".ci",
    ".clippy.toml",
    ".gitignore",
    ".rustfmt.toml",
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE-APACHE",
    "LICENSE-MIT",
    "README.md",
    "plugin",
    "presets",
    "tests",
    "xtask",
];

/// Words that are not left behind, with what to do. Put together so that this file may name them.
const WORDS: &[(&str, &str)] = &[
    (concat!("to", "do!("), "write it or leave it out"),
    (concat!("unimplem", "ented!("), "write it or leave it out"),
    (concat!("FIX", "ME"), "mend it or say what falls short in plain words"),
    (concat!("/wo", "rk/"), "a path of one machine: make it relative"),
    (concat!("/ho", "me/"), "a path of one machine: make it relative"),
    (concat!("/tm", "p/"), "use the tempfile crate or the target folder"),
];

/// The repository's text files by path.
type Tree = BTreeMap<String, String>;

/// Checks the repository and prints what is wrong; answers how many things are.
pub(crate) fn check_repository() -> Result<usize> {
    let tree = read_tree(&crate::root()?)?;
    let problems = check(&tree);
    for problem in &problems {
        say!("{problem}");
    }
    say!("{} files, {} breaches", tree.len(), problems.len());
    Ok(problems.len())
}

/// Everything that git knows or would add. Files that are not text come with an empty text.
fn read_tree(root: &Path) -> Result<Tree> {
    let arguments = ["ls-files", "--cached", "--others", "--exclude-standard", "-z"];
    let output = std::process::Command::new("git")
        .current_dir(root)
        .args(arguments)
        .output()
        .context("tidy asks git for the files, and git could not be started")?;
    let names = String::from_utf8_lossy(&output.stdout).into_owned();
    let mut tree = Tree::new();
    for name in names.split('\0').filter(|name| !name.is_empty()) {
        // One that was removed and not yet committed is not there.
        if let Ok(bytes) = std::fs::read(root.join(name)) {
            tree.insert(name.to_owned(), String::from_utf8(bytes).unwrap_or_default());
        }
    }
    anyhow::ensure!(
        tree.contains_key("Cargo.toml"),
        "git lists no files in {}; tidiness is told of a clone only, not of an unpacked archive",
        root.display()
    );
    Ok(tree)
}

/// What is wrong, one line each, by rule and then by file.
fn check(tree: &Tree) -> Vec<String> {
    let mut problems = Vec::new();
    check_edges(tree, &mut problems);
    check_stages(tree, &mut problems);
    check_lengths(tree, &mut problems);
    check_top(tree, &mut problems);
    check_words(tree, &mut problems);
    problems
}

fn check_edges(tree: &Tree, problems: &mut Vec<String>) {
    for (path, text) in tree.iter().filter(|(path, _)| path.ends_with("/Cargo.toml")) {
        let manifest: toml::Table = match text.parse() {
            Ok(manifest) => manifest,
            Err(error) => {
                problems.push(format!("{path}: {error}"));
                continue;
            }
        };
        let name = manifest.get("package").and_then(|p| p.get("name")).and_then(|n| n.as_str());
        let Some(name) = name else { continue };
        let Some((_, allowed, in_tests)) = EDGES.iter().find(|edge| edge.0 == name) else {
            problems.push(format!("{path}: the crate {name} has no line in the table of xtask/src/tidy.rs"));
            continue;
        };
        for section in ["dependencies", "dev-dependencies", "build-dependencies"] {
            let listed = manifest.get(section).and_then(|s| s.as_table());
            for other in listed.into_iter().flatten().map(|(other, _)| other) {
                let ours = EDGES.iter().any(|edge| edge.0 == other);
                let may = allowed.contains(&other.as_str())
                    || section == "dev-dependencies" && in_tests.contains(&other.as_str());
                if ours && !may {
                    problems.push(format!("{path}: {name} may not depend on {other}"));
                }
            }
        }
    }
}

fn check_stages(tree: &Tree, problems: &mut Vec<String>) {
    let rank = |module: &str| STAGES.iter().position(|stage| stage.contains(&module));
    for (path, text) in tree {
        let Some(inside) = path.strip_prefix(ENGINE) else { continue };
        let stage = inside.split('/').next().unwrap_or(inside).trim_end_matches(".rs");
        if stage == "lib" {
            continue;
        }
        let Some(own) = rank(stage) else {
            problems.push(format!(
                "{path}: the module {stage} has no place among the stages of xtask/src/tidy.rs"
            ));
            continue;
        };
        // One `super` more than there are folders is the crate itself.
        let up = "super::".repeat(inside.matches('/').count() + 1);
        for (number, other) in named_modules(&text.replace(&up, "crate::")) {
            if other.starts_with(char::is_uppercase) {
                // A name that `lib.rs` exports again may come from any stage.
                problems.push(format!("{path}:{number}: name the module that {other} is from"));
            }
            if other != stage && rank(&other).is_some_and(|other| other > own) {
                problems.push(format!("{path}:{number}: {stage} looks forward to {other}"));
            }
        }
    }
}

/// What a file of the engine names by `crate::`, with the lines.
fn named_modules(text: &str) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    let mut line_of = Vec::new();
    let mut code = String::new();
    for (index, line) in text.lines().enumerate() {
        let line = line.split("//").next().unwrap_or(line);
        for c in line.chars().chain(['\n']) {
            code.push(c);
            line_of.extend(std::iter::repeat_n(index + 1, c.len_utf8()));
        }
    }
    let mut from = 0;
    while let Some(at) = code.get(from..).and_then(|rest| rest.find("crate::")) {
        let start = from + at;
        from = start + "crate::".len();
        let before = code.get(..start).and_then(|before| before.chars().next_back());
        if before.is_some_and(|c| c.is_alphanumeric() || c == '_') {
            continue;
        }
        let rest = code.get(from..).unwrap_or_default();
        let number = line_of.get(start).copied().unwrap_or(0);
        for name in leading_names(rest) {
            found.push((number, name));
        }
    }
    found
}

/// The first names of a path or of a group of paths: `a::b` gives a, `{a::b, c::{d, e}}` gives a and c.
fn leading_names(rest: &str) -> Vec<String> {
    let word = |text: &str| -> String {
        text.trim_start().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect()
    };
    let Some(group) = rest.strip_prefix('{') else { return vec![word(rest)] };
    let mut names = vec![word(group)];
    let mut depth = 0;
    for (index, c) in group.char_indices() {
        match c {
            '{' => depth += 1,
            '}' if depth == 0 => break,
            '}' => depth -= 1,
            ',' if depth == 0 => names.push(word(&group[index + 1..])),
            _ => {}
        }
    }
    names.retain(|name| !name.is_empty());
    names
}

fn check_lengths(tree: &Tree, problems: &mut Vec<String>) {
    for (path, text) in tree.iter().filter(|(path, _)| path.ends_with(".rs")) {
        let lines = text.lines().count();
        if lines > MAX_LINES {
            problems.push(format!("{path}: {lines} lines; split it, at most {MAX_LINES}"));
        }
    }
}

fn check_top(tree: &Tree, problems: &mut Vec<String>) {
    let mut tops: Vec<&str> = tree.keys().filter_map(|path| path.split('/').next()).collect();
    tops.dedup();
    for top in tops {
        if !TOP.contains(&top) {
            problems.push(format!("{top}: not agreed at the top; see the list in xtask/src/tidy.rs"));
        }
    }
}

fn check_words(tree: &Tree, problems: &mut Vec<String>) {
    for (path, text) in tree.iter().filter(|(path, _)| *path != "Cargo.lock") {
        for (index, line) in text.lines().enumerate() {
            for (word, advice) in WORDS {
                if line.contains(word) {
                    problems.push(format!("{path}:{}: \"{word}\": {advice}", index + 1));
                }
            }
        }
    }
}

#[cfg(test)]
mod tests;
