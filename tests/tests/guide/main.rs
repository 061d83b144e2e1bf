//! The guides keep their promises: every command in README.md is run or looked up, every output shown there is
//! what the program prints today, and every path, command and test that DEVELOPERS.md names exists.
//!
//! In the guides, a block fenced as `sh` holds commands, one a line, and a `text` block straight after it what
//! the last of them prints. `figwort` is run for real in a folder with the demo tunes; `cargo xtask` is held
//! against its own help; anything else must be among [`OTHERS`]. A command that is none of these fails.
//! `cargo xtask golden` writes the outputs anew.
//!
//! Deliberately absent: building and playing, which the commands behind `cargo xtask` have tests of their own for.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::LazyLock;
use std::time::SystemTime;

use figwort_preset::Library;

mod lookup;

use lookup::{options, wrong_cargo, wrong_xtask, xtask_help};

/// What is neither ours to run nor ours to look up, to the letter.
const OTHERS: &[&str] = &[
    "cargo install cargo-fuzz",
    "cargo install cargo-deny",
    "cargo deny --config xtask/deny.toml check licenses bans sources",
    "RUSTDOCFLAGS=\"-D warnings\" cargo doc --workspace --no-deps",
    "RUSTC_BOOTSTRAP=1 cargo fuzz run -s none abc fuzz/corpus/abc fuzz/seeds/abc -- -max_total_time=1200 \
     -max_len=4096 -dict=fuzz/dictionaries/abc.dict",
    "RUSTC_BOOTSTRAP=1 cargo fuzz run -s none --features shell state fuzz/corpus/state fuzz/seeds/state -- \
     -max_total_time=1200 -dict=fuzz/dictionaries/state.dict",
    "MIRIFLAGS=-Zmiri-disable-isolation cargo +nightly miri test -p figwort --lib session::handover",
    "tests/sanitized.sh thread",
    "tests/sanitized.sh address",
];

/// The commands of `figwort`.
const COMMANDS: &[&str] = &["arrange", "follow", "name", "check", "manners", "figures"];

/// Options of `figwort` that name a file or folder to be written.
const WRITING: &[&str] = &["-o", "--out", "--wav", "--score", "--picture", "--report"];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn read(path: &str) -> String {
    fs::read_to_string(root().join(path)).unwrap_or_else(|error| panic!("{path}: {error}"))
}

fn writes() -> bool {
    std::env::var("FIGWORT_GOLDEN").is_ok_and(|value| value == "write")
}

/// A fenced block: the word behind the fence, the line of its first line (from 0), its lines.
struct Fenced<'a> {
    kind: &'a str,
    first: usize,
    lines: Vec<&'a str>,
}

fn fenced(text: &str) -> Vec<Fenced<'_>> {
    let mut blocks: Vec<Fenced<'_>> = Vec::new();
    let mut inside = false;
    for (number, line) in text.lines().enumerate() {
        match (line.trim_start().strip_prefix("```"), inside) {
            (Some(_), true) => inside = false,
            (Some(kind), false) => {
                inside = true;
                blocks.push(Fenced { kind: kind.trim(), first: number + 1, lines: Vec::new() });
            }
            (None, true) => blocks.last_mut().expect("it was opened").lines.push(line),
            (None, false) => {}
        }
    }
    assert!(!inside, "a block is not closed");
    blocks
}

/// The commands of a block without what is said behind them; two spaces and `#` begin a remark.
fn commands<'a>(block: &Fenced<'a>) -> Vec<&'a str> {
    let bare = |line: &&'a str| line.split("  #").next().unwrap_or(line).trim();
    block.lines.iter().map(bare).filter(|line| !line.is_empty()).collect()
}

/// Code in running text, also where it goes on in the next line.
fn spans(text: &str) -> Vec<String> {
    let mut prose = String::new();
    let mut inside = false;
    for line in text.lines() {
        if line.trim_start().starts_with("```") {
            inside = !inside;
        } else if !inside {
            prose += line;
            prose.push('\n');
        }
    }
    let pieces = prose.split('`').skip(1).step_by(2);
    pieces.map(|piece| piece.split_whitespace().collect::<Vec<_>>().join(" ")).collect()
}

/// A program of the workspace: where the tests are built, made first if it isn't there or older than its sources.
fn program(package: &str, name: &str, sources: &[&str]) -> PathBuf {
    let own = std::env::current_exe().expect("this program has a place");
    let folder = own.ancestors().nth(2).expect("deps, in the profile's folder").to_owned();
    let path = folder.join(format!("{name}{}", std::env::consts::EXE_SUFFIX));
    let made = fs::metadata(&path).and_then(|about| about.modified()).ok();
    let newest = sources.iter().filter_map(|source| newest(&root().join(source))).max();
    if made.is_none() || made < newest {
        let target = folder.parent().expect("the target folder");
        let done = Command::new(env!("CARGO"))
            .current_dir(root())
            .args(["build", "--quiet", "-p", package, "--bin", name, "--target-dir"])
            .arg(target)
            .status();
        assert!(done.is_ok_and(|status| status.success()), "{package} could not be built");
    }
    path
}

/// When a file of a folder was changed last; unit tests are in no program.
fn newest(path: &Path) -> Option<SystemTime> {
    if path.is_dir() {
        let entries = fs::read_dir(path).ok()?.filter_map(Result::ok);
        return entries.filter_map(|entry| newest(&entry.path())).max();
    }
    let test = path.file_stem().is_some_and(|stem| stem == "tests");
    fs::metadata(path).ok().filter(|_| !test)?.modified().ok()
}

/// Which the tests of this file share: one builds, the others wait.
static FIGWORT: LazyLock<PathBuf> = LazyLock::new(|| {
    let crates = ["theory", "engine", "sheet", "preset", "render", "cli"];
    let sources: Vec<String> = crates.iter().map(|name| format!("plugin/{name}/src")).collect();
    let sources: Vec<&str> = sources.iter().map(String::as_str).chain(["presets"]).collect();
    program("figwort-cli", "figwort", &sources)
});

static XTASK: LazyLock<PathBuf> = LazyLock::new(|| program("xtask", "xtask", &["xtask/src"]));

/// A folder like the repository's top, as far as the commands need it.
fn scene() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    for kind in ["songs", "manners", "figures"] {
        let to = folder.path().join("presets").join(kind);
        fs::create_dir_all(&to).expect("made");
        for entry in fs::read_dir(root().join("presets").join(kind)).expect("the presets") {
            let entry = entry.expect("an entry");
            fs::copy(entry.path(), to.join(entry.file_name())).expect("copied");
        }
    }
    folder
}

/// Runs `figwort` with these words; what it printed, or what is wrong.
fn run(words: &[&str], folder: &Path) -> Result<String, String> {
    let output = Command::new(FIGWORT.as_path())
        .current_dir(folder)
        .args(words)
        .output()
        .map_err(|error| error.to_string())?;
    if !output.status.success() {
        return Err(format!("it failed:\n{}", String::from_utf8_lossy(&output.stderr)));
    }
    for (option, path) in words.iter().zip(words.iter().skip(1)).filter(|(word, _)| WRITING.contains(word)) {
        // A long picture has several pages.
        let first_page = path.replacen('.', "-1.", 1);
        let there = |path: &str| fs::metadata(folder.join(path)).is_ok_and(|it| it.is_dir() || it.len() > 0);
        if !there(path) && !there(&first_page) {
            return Err(format!("{option} {path}: nothing was written"));
        }
    }
    String::from_utf8(output.stdout).map_err(|error| error.to_string())
}

/// Holds a guide against the programs. Writes its outputs anew if asked to.
fn check_guide(name: &str) {
    let text = read(name);
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let (help, folder) = (xtask_help(), scene());
    let mut problems = Vec::new();
    // New outputs by the place of the old: from the end of the guide, so that no place moves.
    let mut outputs: Vec<(usize, usize, String)> = Vec::new();
    let mut printed: Option<(usize, String)> = None;
    let mut ran = 0;
    for block in fenced(&text) {
        if block.kind == "text" {
            // An output, if it stands straight after the commands.
            if let Some((end, output)) = printed.take().filter(|(end, _)| block.first == end + 3) {
                let shown = block.lines.join("\n");
                if shown.trim_end() != output.trim_end() {
                    let place = block.first;
                    if !writes() {
                        problems.push(format!(
                            "{name}:{}: the program now prints\n{output}\n(`cargo xtask golden` writes it)",
                            end + 3
                        ));
                    }
                    outputs.push((place, place + block.lines.len(), output));
                }
            }
            continue;
        }
        if block.kind != "sh" {
            assert!(block.kind == "toml", "{name}:{}: sh, text or toml?", block.first);
            continue;
        }
        for command in commands(&block) {
            let words: Vec<&str> = command.split_whitespace().collect();
            let wrong = match words.as_slice() {
                ["figwort", rest @ ..] => {
                    ran += 1;
                    match run(rest, folder.path()) {
                        Ok(output) => {
                            printed = Some((block.first + block.lines.len(), output));
                            None
                        }
                        Err(error) => Some(error),
                    }
                }
                ["cargo", "xtask", rest @ ..] => wrong_xtask(rest, &help, false),
                _ if OTHERS.contains(&command) => None,
                ["cargo", "test" | "bench" | "install" | "run", rest @ ..] if !rest.is_empty() => {
                    wrong_cargo(rest)
                }
                _ => Some("no test knows this command".to_owned()),
            };
            problems.extend(wrong.map(|wrong| format!("{name}:{}: {command}: {wrong}", block.first)));
        }
    }
    let options = options();
    for span in spans(&text) {
        let words: Vec<&str> = span.split_whitespace().collect();
        let wrong = match words.as_slice() {
            ["cargo", "xtask", rest @ ..] => wrong_xtask(rest, &help, true),
            ["figwort", command, ..] if !COMMANDS.contains(command) => {
                Some(format!("figwort has no {command}"))
            }
            [option, ..] if option.starts_with("--") && !options.iter().any(|known| known == option) => {
                Some(format!("no help tells of {option}"))
            }
            _ => None,
        };
        problems.extend(wrong.map(|wrong| format!("{name}: {wrong}")));
    }
    assert!(problems.is_empty(), "{}", problems.join("\n\n"));
    assert!(ran > 0 || name != "README.md", "no command was run");
    if writes() && !outputs.is_empty() {
        for (first, end, output) in outputs.into_iter().rev() {
            lines.splice(first..end, output.trim_end().lines().map(str::to_owned));
        }
        fs::write(root().join(name), lines.join("\n") + "\n").expect("written");
    }
}

#[test]
fn the_readmes_commands_do_what_it_says() {
    check_guide("README.md");
}

#[test]
fn the_developers_commands_exist() {
    check_guide("DEVELOPERS.md");
}

#[test]
fn the_songs_commands_exist() {
    check_guide("presets/songs/README.md");
}

/// Every file and folder of the repository but what is built, from the top.
fn everything() -> Vec<String> {
    fn walk(folder: &Path, prefix: &str, found: &mut Vec<String>) {
        for entry in fs::read_dir(folder).expect("a folder") {
            let entry = entry.expect("an entry");
            let name = entry.file_name().to_string_lossy().into_owned();
            if ["target", ".git"].contains(&name.as_str()) {
                continue;
            }
            let path = format!("{prefix}{name}");
            if entry.path().is_dir() {
                walk(&entry.path(), &format!("{path}/"), found);
            }
            found.push(path);
        }
    }
    let mut found = Vec::new();
    walk(&root(), "", &mut found);
    found
}

/// Whether a path from a guide, which may leave out its beginning and hold a `*`, is there.
fn is_there(path: &str, everything: &[String]) -> bool {
    let path = path.trim_end_matches('/');
    everything.iter().any(|known| match path.split_once('*') {
        Some((before, after)) => {
            format!("/{known}").contains(&format!("/{before}")) && known.ends_with(after)
        }
        None => format!("/{known}").ends_with(&format!("/{path}")),
    })
}

#[test]
fn paths_that_the_guides_name_exist() {
    let everything = everything();
    let mut problems = Vec::new();
    let mut looked_at = 0;
    for guide in ["README.md", "DEVELOPERS.md", "presets/songs/README.md", "plugin/CHANGELOG.md"] {
        for span in spans(&read(guide)) {
            let plain = span.chars().all(|c| c.is_ascii_alphanumeric() || "_./*-".contains(c));
            let ending =
                [".rs", ".toml", ".py", ".sh", ".abc", ".dict"].iter().any(|end| span.ends_with(end));
            // What is built, made in somebody's home, or lies outside is not in the repository.
            let elsewhere = ["target/", "../", "/", "~", "."].iter().any(|start| span.starts_with(start));
            let like_a_path = span.chars().any(char::is_lowercase) && (span.contains('/') || ending);
            let metre = span.chars().next().is_some_and(|c| c.is_ascii_digit());
            if plain && like_a_path && !elsewhere && !metre && !span.starts_with("Figwort/") {
                looked_at += 1;
                if !is_there(&span, &everything) {
                    problems.push(format!("{guide}: `{span}` is not there"));
                }
            }
        }
        let text = read(guide);
        for link in text.split("](").skip(1).filter_map(|rest| rest.split(')').next()) {
            if !link.contains("://") && !link.starts_with('#') {
                looked_at += 1;
                let from = Path::new(guide).parent().unwrap_or(Path::new(""));
                if !root().join(from).join(link).exists() {
                    problems.push(format!("{guide}: the link to {link} leads nowhere"));
                }
            }
        }
    }
    assert!(looked_at > 20, "only {looked_at} paths were found");
    assert!(problems.is_empty(), "{}", problems.join("\n"));
}

#[test]
fn tests_that_the_developers_guide_names_exist() {
    let mut sources = String::new();
    for path in everything().iter().filter(|path| path.ends_with(".rs")) {
        sources += &read(path);
    }
    let text = read("DEVELOPERS.md");
    let rows = text.lines().skip_while(|line| !line.starts_with("| seeded fault")).skip(2);
    let rows: Vec<&str> = rows.take_while(|line| line.starts_with('|')).collect();
    assert!(rows.len() > 10, "the table of seeded faults is not found");
    for name in rows.iter().flat_map(|row| spans(row)) {
        let start = name.trim_end_matches('…');
        let end = if start == name { "(" } else { "" };
        assert!(sources.contains(&format!("fn {start}{end}")), "no test is called {name}");
    }
}

/// What README.md says of the sustain pedal is true of the factory's manners.
#[test]
fn the_manners_without_a_pedal_are_the_readmes() {
    let text = read("README.md").replace('\n', " ");
    let said =
        text.split("do without a pedal (").nth(1).and_then(|rest| rest.split(')').next()).expect("a list");
    let said: BTreeSet<String> = said.split(", ").map(str::to_owned).collect();
    let library = Library::factory();
    let names = library.manners().map(|entry| entry.name.to_owned());
    let without = names.filter(|name| !library.manner(name).expect("a manner").manner.pedal);
    assert_eq!(said, without.collect());
}

/// Nobody finds a script, an example or a part of the engine that the developers' guide is silent about.
#[test]
fn the_developers_guide_names_what_is_there() {
    let text = read("DEVELOPERS.md");
    let folders =
        ["/examples/", "tests/reference/", "tests/window/", "tests/hosts/", "plugin/engine/src/engine/"];
    let mut named = 0;
    for path in everything() {
        let name = path.rsplit('/').next().unwrap_or_default();
        let name = match name.rsplit_once('.') {
            Some((stem, "rs")) if path.contains("/examples/") => stem,
            Some((_, "rs" | "py" | "sh")) => name,
            _ => continue,
        };
        if folders.iter().any(|folder| path.contains(folder)) && name != "tests.rs" {
            named += 1;
            let spans = [format!("`{name}`"), format!("/{name}")];
            assert!(spans.iter().any(|span| text.contains(span)), "DEVELOPERS.md does not name {path}");
        }
    }
    assert!(named > 25, "only {named} were found");
}

#[test]
fn what_is_wrong_is_found() {
    let help: Vec<Vec<String>> =
        ["evaluate reading DIR", "bundle [--dev]", "train DIR [DIR…]", "play [ARGUMENTS]"]
            .iter()
            .map(|line| line.split(' ').map(str::to_owned).collect())
            .collect();
    let wrong = |command: &str| {
        let words: Vec<&str> = command.split(' ').collect();
        wrong_xtask(&words, &help, false).is_some()
    };
    for right in ["evaluate reading songs", "bundle", "bundle --dev", "train a b c", "play --demo", "play"] {
        assert!(!wrong(right), "{right}");
    }
    for bad in ["evaluate songs", "evaluate reading", "bundle --fast", "train", "dance", "play --dance"] {
        assert!(wrong(bad), "{bad}");
    }
    assert!(wrong_cargo(&["-p", "figwort-engine"]).is_none());
    assert!(wrong_cargo(&["-p", "figwort-organ"]).is_some());
    let everything = ["plugin/engine/src/engine.rs".to_owned(), "presets/manners/broad.toml".to_owned()];
    for there in ["engine/src/engine.rs", "engine.rs", "presets/manners/*.toml"] {
        assert!(is_there(there, &everything), "{there}");
    }
    for not in ["gine.rs", "engine/engine.rs", "presets/manners/*.abc"] {
        assert!(!is_there(not, &everything), "{not}");
    }
    assert_eq!(spans("a `b\nc` d\n```sh\n`e`\n```\n`f`"), ["b c", "f"]);
    assert!(run(&["arrange", "nothing.abc"], Path::new(".")).is_err());
}
