//! `cargo xtask`: builds, bundles, demonstrates, tests and keeps tidy.
//!
//! Depends on none of Figwort's crates but by running them. Deliberately absent: anything that the product
//! needs at run time.
#![allow(clippy::print_stderr, reason = "talking to the terminal is its job")]

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, Result, bail};

/// Prints a line. Who reads the output may stop at any time (`cargo xtask help | head -3`); what is printed after that
/// is dropped, and the work goes on.
macro_rules! say {
    ($($words:tt)*) => {{
        use std::io::Write as _;
        let _ = writeln!(std::io::stdout(), $($words)*);
    }};
}

mod bench;
mod bundle;
mod editor_pictures;
mod help;
mod install;
mod pictures;
mod run;
mod test;
mod tidy;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let (command, rest) = match arguments.split_first() {
        Some((command, rest)) => (command.as_str(), rest),
        None => ("", &[][..]),
    };
    let done = match (command, rest) {
        ("demo", []) => demo(),
        ("bundle", []) => bundle::release().map(|bundles| bundles.report()),
        ("bundle", [dev]) if dev == "--dev" => bundle::dev().map(|bundles| bundles.report()),
        ("install", []) => install::install(),
        ("uninstall", []) => install::uninstall(),
        ("play", rest) => play(rest),
        ("test", []) => test::all(),
        ("golden", []) => golden(),
        ("pictures", []) => editor_pictures::paint().and_then(|()| pictures::engraved()),
        ("pictures", [editor]) if editor == "editor" => editor_pictures::paint(),
        ("evaluate", [what, folder]) if ["reading", "voicing", "movement"].contains(&what.as_str()) => {
            evaluate(what, folder)
        }
        ("bench", minutes @ ([] | [_])) => bench::run(minutes),
        ("soak", minutes @ ([] | [_])) => soak(minutes),
        ("train", folders) if !folders.is_empty() => train(folders),
        ("tidy", []) => tidy::check_repository().and_then(|problems| match problems {
            0 => Ok(()),
            n => bail!("{n} breaches of the repository's rules"),
        }),
        ("help" | "--help" | "-h", _) => {
            say!("{}", help::HELP);
            Ok(())
        }
        _ => {
            eprintln!("error: {}", help::wrong(&arguments));
            return ExitCode::from(2);
        }
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("error: {error:#}");
            ExitCode::FAILURE
        }
    }
}

/// The repository's top folder.
pub(crate) fn root() -> Result<PathBuf> {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let root = here.parent().context("xtask has no parent folder")?;
    if !root.join("Cargo.lock").exists() {
        bail!("{} is not the workspace any more; rebuild with `cargo xtask`", root.display());
    }
    Ok(root.to_owned())
}

/// Where cargo builds.
pub(crate) fn target() -> Result<PathBuf> {
    match std::env::var_os("CARGO_TARGET_DIR") {
        Some(path) => Ok(std::env::current_dir()?.join(path)),
        None => Ok(root()?.join("target")),
    }
}

fn demo() -> Result<()> {
    run::headline("Building the plugin and the demo (about 5 minutes the first time)");
    let bundles = bundle::release_with(&["-p", "tests", "--bin", "demo"])?;
    let demo = target()?.join("release").join(format!("demo{}", std::env::consts::EXE_SUFFIX));
    run::headline("Playing");
    let mut command = std::process::Command::new(&demo);
    command
        .current_dir(root()?)
        .env("FIGWORT_CLAP", &bundles.clap)
        .env("FIGWORT_DEMO", target()?.join("demo"));
    run::run(&mut command)
}

/// Measures over a folder of sheets.
fn evaluate(what: &str, folder: &str) -> Result<()> {
    let folder = help::folder(folder)?;
    let mut command = run::cargo(&["run", "--release", "-p", "tests", "--bin", "evaluate", "--", what])?;
    run::run(command.arg(folder).env("FIGWORT_EVALUATE", target()?.join("evaluate")))
}

/// Random players for hours of musical time.
fn soak(minutes: &[String]) -> Result<()> {
    help::minutes(minutes)?;
    let mut command = run::cargo(&["run", "--release", "-p", "tests", "--bin", "soak", "--"])?;
    run::run(command.args(minutes))
}

/// Counts the prior anew.
fn train(folders: &[String]) -> Result<()> {
    let folders = folders.iter().map(|folder| help::folder(folder)).collect::<Result<Vec<_>>>()?;
    let prior = root()?.join("plugin/engine/src/reading/chance/prior.rs");
    let mut command = run::cargo(&["run", "--release", "-p", "tests", "--bin", "evaluate", "--", "train"])?;
    run::run(command.arg(prior).args(folders))
}

/// The golden tests write instead of comparing, and so does the guides' test, which runs the program.
fn golden() -> Result<()> {
    run::run(&mut run::cargo(&["build", "-p", "figwort-cli"])?)?;
    let mut command = run::cargo(&["test", "-p", "tests", "--test", "golden", "--test", "guide"])?;
    run::run(command.env("FIGWORT_GOLDEN", "write"))
}

/// The standalone needs the headers of the system's sound libraries on Linux.
fn play(arguments: &[String]) -> Result<()> {
    if cfg!(target_os = "linux") {
        let missing: Vec<&str> = [("alsa", "libasound2-dev"), ("jack", "libjack-jackd2-dev")]
            .into_iter()
            .filter(|(library, _)| !run::succeeds("pkg-config", &["--exists", library]))
            .map(|(_, package)| package)
            .collect();
        if !missing.is_empty() {
            bail!(
                "the standalone needs headers that are not installed; on Debian or Ubuntu: \
                 sudo apt-get install pkg-config {}",
                missing.join(" ")
            );
        }
    }
    let features =
        ["run", "--release", "-p", "figwort", "--features", "standalone", "--bin", "figwort-standalone"];
    let mut command = run::cargo(&features)?;
    run::run(command.arg("--").args(arguments))
}
