//! Figwort without a DAW: options, MIDI ports, and plain words when something is missing.
//!
//! Sound and window are the plugin framework's; time, MIDI ports and the demonstration are ours. Whatever the
//! machine lacks is said, and the rest goes on.
#![allow(clippy::print_stderr, reason = "talking to the terminal is its job")]

use std::io::Write;
use std::process::ExitCode;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use crate::session::Session;
use crate::{Figwort, params};

mod choices;
mod machine;
mod ports;

use choices::Choices;

const HELP: &str = "\
Figwort without a DAW: play chords with one hand and a melody with the other, and it accompanies.

Usage: figwort-standalone [OPTIONS]        (cargo xtask play [OPTIONS])

  --demo                 play the demonstration take at once
  --sheet FILE           load a lead sheet and follow it from its beginning, at its tempo
  --soundfont FILE.sf2   have a soundfont sound in place of the built-in piano
  --midi-input NAME      play from this MIDI port; a part of its name will do; `none` for none
  --midi-output NAME     send what is played to this MIDI port, too
  --list                 list the MIDI ports and end
  --backend NAME         auto, jack, dummy, or the system's own: alsa, core-audio, wasapi
  --output-device NAME   the sound card; with an empty name, lists them
  --sample-rate HZ       48000 if nothing else is said (not with jack)
  --period-size FRAMES   512 if nothing else is said; less answers sooner and may crackle (not with jack)
  --dpi-scale FACTOR     size of the window's contents
  --help                 this text

MIDI ports are remembered for the next time, and so is the soundfont that is chosen in the window. Without a MIDI
keyboard, play in the window with the mouse or the computer's keys.

The piano starts quietly and never clips. All the same, turn your amplifier or headphones down before the
first note and up after it: loud sound harms your hearing for good.";

/// What the plugin has to do for the standalone when it is made.
struct Wishes {
    demo: bool,
    sheet: Option<std::path::PathBuf>,
    soundfont: Option<std::path::PathBuf>,
    choices: Choices,
    /// That nothing will sound, if so.
    sound: Option<String>,
}

static WISHES: OnceLock<Mutex<Option<Wishes>>> = OnceLock::new();

/// Runs until the window is closed, or without a window until it is interrupted.
pub fn run(arguments: impl Iterator<Item = String>) -> ExitCode {
    let mut arguments = arguments;
    let program = arguments.next().unwrap_or_else(|| "figwort-standalone".into());
    let mut passed = vec![program];
    let mut wishes =
        Wishes { demo: false, sheet: None, soundfont: None, choices: Choices::read(), sound: None };
    while let Some(argument) = arguments.next() {
        let (name, joined) = match argument.split_once('=') {
            Some((name, value)) => (name.to_owned(), Some(value.to_owned())),
            None => (argument.clone(), None),
        };
        let mut value = |what: &str| {
            joined.clone().or_else(|| arguments.next()).ok_or_else(|| format!("{name} wants {what} after it"))
        };
        let taken = match name.as_str() {
            "--help" | "-h" => {
                print(&format!("{HELP}\n"));
                return ExitCode::SUCCESS;
            }
            "--list" => {
                print(&ports::listing());
                return ExitCode::SUCCESS;
            }
            "--demo" => {
                wishes.demo = true;
                Ok(())
            }
            "--sheet" => value("a file").map(|file| wishes.sheet = Some(file.into())),
            "--soundfont" => value("a file").map(|file| wishes.soundfont = Some(file.into())),
            "--midi-input" => value("a port's name").map(|port| wishes.choices.input = named(port)),
            "--midi-output" => value("a port's name").map(|port| wishes.choices.output = named(port)),
            _ => {
                passed.push(argument);
                Ok(())
            }
        };
        if let Err(error) = taken {
            eprintln!("error: {error}\n\n{HELP}");
            return ExitCode::from(2);
        }
    }
    if let Some(trouble) = machine::no_display() {
        eprintln!("{trouble}");
    }
    if !passed
        .iter()
        .any(|argument| argument.starts_with("--backend") || argument.starts_with("--output-device"))
    {
        wishes.sound = machine::no_sound();
    }
    let _ = WISHES.set(Mutex::new(Some(wishes)));
    // Without a DAW there is no other instrument: the piano is up from the start.
    params::sound_from_the_start();
    if nice_plug::prelude::nice_export_standalone_with_args::<Figwort, _>(passed) {
        ExitCode::SUCCESS
    } else {
        eprintln!(
            "Figwort could not start sound or window; the lines above say why. Try --backend dummy (no sound), or \
             --backend alsa or jack by name."
        );
        ExitCode::FAILURE
    }
}

/// To the terminal; a reader who has gone away is no fault.
fn print(text: &str) {
    let _ = std::io::stdout().write_all(text.as_bytes());
}

fn named(port: String) -> Option<String> {
    Some(port).filter(|port| port != "none" && !port.is_empty())
}

/// Called for every instance that is made; in the standalone, gives the first one ports, clock and what was
/// asked for.
pub(crate) fn attach(session: &Arc<Session>) {
    let wishes = WISHES.get().and_then(|wishes| wishes.lock().unwrap_or_else(PoisonError::into_inner).take());
    let Some(wishes) = wishes else { return };
    session.keep_own_clock();
    let remembered = wishes.choices.soundfont.clone();
    let problems = ports::attach(session, wishes.choices);
    for problem in wishes.sound.into_iter().chain(problems) {
        eprintln!("{problem}");
        session.say(problem);
    }
    if let Some(path) = wishes.soundfont {
        match session.load_soundfont(&path) {
            Ok(name) => print(&format!("Soundfont: {name}\n")),
            Err(error) => {
                eprintln!("{error}. The built-in piano plays.");
                session.say(error);
            }
        }
    } else if let Some(path) = remembered {
        session.begin_reading(&path, crate::session::Asked::Before);
    }
    if let Some(path) = wishes.sheet {
        match session.load_sheet(&path) {
            Ok(loaded) => {
                print(&format!("{}: {} bars\n", loaded.title(), loaded.bars()));
                session.run(true);
            }
            Err(error) => {
                eprintln!("{error}");
                session.say(error);
            }
        }
    }
    if wishes.demo {
        match session.play_demo() {
            Ok(()) => print(&format!("Playing {}\n", crate::demo::TITLE)),
            Err(error) => eprintln!("{error}"),
        }
    }
}
