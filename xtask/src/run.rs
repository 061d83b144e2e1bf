//! Running other programs, with headlines.

use std::ffi::{OsStr, OsString};
use std::process::{Command, Stdio};
use std::time::Duration;

use anyhow::{Context, Result, bail};

/// A line that stands out between other programs' output.
pub(crate) fn headline(text: &str) {
    say!("\n== {text}");
}

/// Cargo in the workspace, as it was called.
pub(crate) fn cargo(arguments: &[&str]) -> Result<Command> {
    let mut command = Command::new(cargo_itself());
    command.current_dir(crate::root()?).args(arguments);
    Ok(command)
}

/// The cargo that runs this.
pub(crate) fn cargo_itself() -> OsString {
    std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into())
}

/// Runs a program with its output in sight.
pub(crate) fn run(command: &mut Command) -> Result<()> {
    let name = command.get_program().to_string_lossy().into_owned();
    let status = command.status().with_context(|| format!("{name} could not be started"))?;
    if !status.success() {
        bail!("{name} {} ended with {status}", first_words(command));
    }
    Ok(())
}

/// Whether a program runs and is content; says nothing.
pub(crate) fn succeeds(program: impl AsRef<OsStr>, arguments: &[&str]) -> bool {
    let mut command = Command::new(program);
    command.args(arguments).stdout(Stdio::null()).stderr(Stdio::null());
    command.status().is_ok_and(|status| status.success())
}

fn first_words(command: &Command) -> String {
    command.get_args().take(3).map(|a| a.to_string_lossy()).collect::<Vec<_>>().join(" ")
}

/// A length of time for people: `8 s`, `2 min 5 s`.
pub(crate) fn clock(time: Duration) -> String {
    let seconds = time.as_secs_f64();
    if seconds < 60.0 {
        format!("{seconds:.1} s")
    } else {
        let seconds = seconds.round() as u64;
        format!("{} min {} s", seconds / 60, seconds % 60)
    }
}
