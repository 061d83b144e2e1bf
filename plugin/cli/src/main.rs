//! The command line: paths in, paths out.
//!
//! Reads files, hands their bytes to the sheet and preset crates, has the render crate perform them, and
//! writes what comes out: everything is rendered before anything is written, and nothing half-written is
//! left, also when Ctrl-C or a polite request stops the program. (Who kills it outright may find hidden
//! files beside the outputs, `.figwort-…`.) Results go to standard output, warnings and news to standard
//! error.
//!
//! Exit codes: 0 done, 1 could not, 2 misuse, 130 stopped.
//!
//! Deliberately absent: musical decisions, formats, and state kept between runs.
#![forbid(unsafe_code)]

mod args;
mod command;
mod failure;
mod input;
mod output;
mod presets;

use std::io::{self, Write};
use std::process::ExitCode;

use clap::Parser;

use crate::args::{Arguments, Command};
use crate::failure::{Failure, Outcome};

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    // Where there can be no hearing, or the caller wants a signal ignored, the system's ways stay.
    let _unheard = ctrlc::try_set_handler(|| output::stop());
    let outcome = match &arguments.command {
        Command::Arrange(arrange) => command::arrange::run(arrange),
        Command::Follow(follow) => command::follow::run(follow),
        Command::Name(name) => command::name::run(name),
        Command::Check(check) => command::check::run(check),
        Command::Manners(listing) => command::listing::manners(listing),
        Command::Figures(listing) => command::listing::figures(listing),
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            // An empty message: everything has been said already.
            let message = failure.to_string();
            if !message.is_empty() {
                news(&format!("error: {message}"));
            }
            ExitCode::from(failure.exit_code())
        }
    }
}

/// Prints results. A reader that has had enough (`figwort manners | head -1`) is no failure.
fn print(text: &str) -> Outcome<()> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(Failure::could_not(format!("cannot print ({error}); print to another place")))
        }
        _ => Ok(()),
    }
}

/// Prints a warning or what has been done. Nobody to read it is no failure.
fn news(line: &str) {
    let _unread = writeln!(io::stderr().lock(), "{line}");
}
