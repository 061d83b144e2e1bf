//! MIDI ports of our own, chosen by name while it runs.
//!
//! Input arrives on the system's MIDI thread and waits in the session's queue for the next block; output is
//! sent by a thread of ours that looks into the session's queue a thousand times a second while a port is open. Neither
//! touches the audio thread but by those queues.

use std::path::Path;
use std::sync::atomic::Ordering;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};
use std::time::Duration;

use figwort_engine::InputMessage;
use figwort_theory::{Pitch, Velocity};
use midir::{MidiIO, MidiInput, MidiInputConnection, MidiOutput, MidiOutputConnection};

use super::choices::Choices;
use crate::session::{Incoming, Ports, Session};

const NAME: &str = "Figwort";
/// How often output is looked for while a port is open, and while none is.
const REST: Duration = Duration::from_millis(1);
const LONG_REST: Duration = Duration::from_millis(50);

#[derive(Default)]
struct Open {
    input: Option<(String, MidiInputConnection<()>)>,
    output: Option<(String, MidiOutputConnection)>,
}

struct SystemPorts {
    session: Weak<Session>,
    open: Arc<Mutex<Open>>,
}

fn lock(open: &Mutex<Open>) -> MutexGuard<'_, Open> {
    open.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The names of all ports of one kind but our own.
fn names<T: MidiIO>(io: Result<T, midir::InitError>) -> Vec<String> {
    let Ok(io) = io else { return Vec::new() };
    let mut names: Vec<String> = io.ports().iter().filter_map(|port| io.port_name(port).ok()).collect();
    names.retain(|name| !name.starts_with(NAME));
    names
}

/// The port that is meant: of this very name, or the first whose name contains it.
fn find<T: MidiIO>(io: &T, wanted: &str) -> Option<(T::Port, String)> {
    let named: Vec<(T::Port, String)> =
        io.ports().into_iter().filter_map(|port| Some((port.clone(), io.port_name(&port).ok()?))).collect();
    let lower = wanted.to_lowercase();
    let exact = named.iter().position(|(_, name)| name == wanted);
    let place = exact.or_else(|| named.iter().position(|(_, name)| name.to_lowercase().contains(&lower)))?;
    named.into_iter().nth(place)
}

/// What `--list` prints.
pub(super) fn listing() -> String {
    let listed = |title: &str, names: Vec<String>| {
        let lines: String = names.iter().map(|name| format!("  {name}\n")).collect();
        format!("{title}:\n{}", if lines.is_empty() { "  none\n".into() } else { lines })
    };
    listed("MIDI inputs", names(MidiInput::new(NAME))) + &listed("MIDI outputs", names(MidiOutput::new(NAME)))
}

/// Gives a session ports and opens those that are remembered or asked for; what did not work, in words.
pub(super) fn attach(session: &Arc<Session>, choices: Choices) -> Vec<String> {
    let open = Arc::new(Mutex::new(Open::default()));
    let ports = SystemPorts { session: Arc::downgrade(session), open: Arc::clone(&open) };
    let mut problems = Vec::new();
    if let Err(error) = MidiInput::new(NAME) {
        problems.push(format!(
            "There is no MIDI on this machine ({error}); play with the mouse or computer keys"
        ));
    } else {
        problems.extend(choices.input.and_then(|name| ports.choose_input(Some(&name)).err()));
        problems.extend(choices.output.and_then(|name| ports.choose_output(Some(&name)).err()));
    }
    session.set_ports(Box::new(ports));
    let watched = Arc::downgrade(session);
    let sending = std::thread::Builder::new().name("midi output".into()).spawn(move || {
        while let Some(session) = watched.upgrade() {
            if !session.outgoing.is_empty() {
                let mut open = lock(&open);
                while let Some(bytes) = session.outgoing.pop() {
                    if let Some((_, port)) = &mut open.output {
                        // A port that went away is found out when another is chosen.
                        let _ = port.send(message(&bytes));
                    }
                }
            }
            let rest = if session.port_open.load(Ordering::Relaxed) { REST } else { LONG_REST };
            drop(session);
            std::thread::sleep(rest);
        }
    });
    if let Err(error) = sending {
        problems
            .push(format!("Nothing can be sent to MIDI ports ({error}); end other programs and start again"));
    }
    problems
}

/// The bytes that a message really has.
fn message(bytes: &[u8; 3]) -> &[u8] {
    match bytes[0] & 0xf0 {
        0xc0 | 0xd0 => &bytes[..2],
        _ => bytes,
    }
}

/// A channel message as the engine takes it; system messages have no meaning for it.
fn incoming(bytes: &[u8]) -> Option<Incoming> {
    let (status, first) = (*bytes.first()?, bytes.get(1).copied().unwrap_or(0) & 127);
    let second = bytes.get(2).copied().unwrap_or(0) & 127;
    if !(0x80..0xf0).contains(&status) {
        return None;
    }
    let pitch = Pitch::new(first);
    let message = match (status & 0xf0, second) {
        (0x90, 1..) => InputMessage::NoteOn { pitch, velocity: Velocity::new(i32::from(second)) },
        (0x80 | 0x90, _) => InputMessage::NoteOff { pitch },
        (0xb0, value) if first == 64 => InputMessage::Sustain(value >= 64),
        _ => InputMessage::Other([status, first, second]),
    };
    Some(Incoming::Port(status & 15, message))
}

impl Ports for SystemPorts {
    fn inputs(&self) -> Vec<String> {
        names(MidiInput::new(NAME))
    }

    fn outputs(&self) -> Vec<String> {
        names(MidiOutput::new(NAME))
    }

    fn input(&self) -> Option<String> {
        lock(&self.open).input.as_ref().map(|(name, _)| name.clone())
    }

    fn output(&self) -> Option<String> {
        lock(&self.open).output.as_ref().map(|(name, _)| name.clone())
    }

    fn choose_input(&self, name: Option<&str>) -> Result<(), String> {
        let mut open = lock(&self.open);
        if open.input.take().is_some()
            && let Some(session) = self.session.upgrade()
        {
            // Its keys may be down, and nobody will say that they came up.
            session.panic();
        }
        let Some(wanted) = name else {
            return Choices::change(|choices| choices.input = None);
        };
        let io = MidiInput::new(NAME).map_err(|error| format!("MIDI input: {error}"))?;
        let (port, name) =
            find(&io, wanted).ok_or_else(|| missing("input", wanted, names(MidiInput::new(NAME))))?;
        let session = self.session.clone();
        let hear = move |_: u64, bytes: &[u8], (): &mut ()| {
            if let (Some(session), Some(event)) = (session.upgrade(), incoming(bytes)) {
                // Too many at once are lost; the queue holds more than fingers can play between two blocks.
                let _ = session.incoming.push(event);
            }
        };
        let connection = io.connect(&port, "input", hear, ()).map_err(|error| format!("{name}: {error}"))?;
        open.input = Some((name.clone(), connection));
        Choices::change(|choices| choices.input = Some(name))
    }

    fn choose_output(&self, name: Option<&str>) -> Result<(), String> {
        let mut open = lock(&self.open);
        let session = self.session.upgrade();
        if let Some(session) = &session {
            session.port_open.store(false, Ordering::Relaxed);
        }
        if let Some((_, mut old)) = open.output.take() {
            for channel in 0..16 {
                let _ = old.send(&[0xb0 | channel, 64, 0]).and_then(|()| old.send(&[0xb0 | channel, 123, 0]));
            }
        }
        let Some(wanted) = name else {
            return Choices::change(|choices| choices.output = None);
        };
        let io = MidiOutput::new(NAME).map_err(|error| format!("MIDI output: {error}"))?;
        let (port, name) =
            find(&io, wanted).ok_or_else(|| missing("output", wanted, names(MidiOutput::new(NAME))))?;
        let connection = io.connect(&port, "output").map_err(|error| format!("{name}: {error}"))?;
        open.output = Some((name.clone(), connection));
        if let Some(session) = &session {
            session.port_open.store(true, Ordering::Relaxed);
        }
        Choices::change(|choices| choices.output = Some(name))
    }

    fn remember_soundfont(&self, path: Option<&Path>) -> Result<(), String> {
        Choices::change(|choices| choices.soundfont = path.map(Path::to_owned))
    }
}

fn missing(kind: &str, wanted: &str, there: Vec<String>) -> String {
    let there = if there.is_empty() {
        "there is none at all".into()
    } else {
        format!("there is {}", there.join(", "))
    };
    format!("There is no MIDI {kind} \"{wanted}\" now; {there}. Plug it in and choose it again")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_are_what_a_keyboard_means() {
        let port = |channel, message| Some(Incoming::Port(channel, message));
        let c4 = Pitch::C4;
        let on = InputMessage::NoteOn { pitch: c4, velocity: Velocity::new(90) };
        assert_eq!(incoming(&[0x93, 60, 90]), port(3, on));
        assert_eq!(incoming(&[0x90, 60, 0]), port(0, InputMessage::NoteOff { pitch: c4 }));
        assert_eq!(incoming(&[0x80, 60, 64]), port(0, InputMessage::NoteOff { pitch: c4 }));
        assert_eq!(incoming(&[0xb0, 64, 127]), port(0, InputMessage::Sustain(true)));
        assert_eq!(incoming(&[0xc2, 5]), port(2, InputMessage::Other([0xc2, 5, 0])));
        for none in [&[][..], &[0xf8], &[0xf0, 1, 2], &[60, 90]] {
            assert_eq!(incoming(none), None);
        }
        assert_eq!(message(&[0xc2, 5, 0]), [0xc2, 5]);
        assert_eq!(message(&[0x90, 5, 0]), [0x90, 5, 0]);
    }
}
