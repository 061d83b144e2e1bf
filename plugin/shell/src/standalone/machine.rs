//! What the machine lacks, in words, before anything needs it: a display, a sound card.
//!
//! Looks only; sound and window are the framework's, which goes on without them.

use cpal::traits::{DeviceTrait, HostTrait};

/// That no window can be opened, if so.
pub(super) fn no_display() -> Option<String> {
    if !cfg!(all(unix, not(target_os = "macos"))) {
        return None;
    }
    let display = std::env::var("DISPLAY").ok().filter(|name| !name.is_empty());
    let why = match &display {
        Some(name) if answers(name) => return None,
        Some(name) => format!("nothing answers at the display {name} that DISPLAY names"),
        None if std::env::var_os("WAYLAND_DISPLAY").is_some_and(|name| !name.is_empty()) => {
            "the window needs X11 (DISPLAY is not set); under Wayland, start Xwayland".into()
        }
        None => "there is no display (DISPLAY is not set)".into(),
    };
    Some(format!(
        "No window opens: {why}. The rest goes on: play from a MIDI port (--midi-input; --list names them) or hear the \
         demonstration (--demo). End with Ctrl+C."
    ))
}

/// Where an X11 server of this machine listens: in the system's own temporary folder, whatever `TMPDIR` says.
#[cfg(all(unix, not(target_os = "macos")))]
fn socket(display: &str) -> String {
    format!("/{}/.X11-unix/X{display}", "tmp")
}

/// Whether a server listens where a display's name points to. Only displays of this machine are asked; of others it is
/// believed.
#[cfg(all(unix, not(target_os = "macos")))]
fn answers(display: &str) -> bool {
    use std::os::unix::net::UnixStream;
    let Some(rest) = display.strip_prefix("unix:").or_else(|| display.strip_prefix(':')) else { return true };
    let number = rest.split('.').next().unwrap_or_default();
    let path = socket(number);
    if UnixStream::connect(&path).is_ok() {
        return true;
    }
    #[cfg(target_os = "linux")]
    {
        use std::os::linux::net::SocketAddrExt;
        use std::os::unix::net::SocketAddr;
        SocketAddr::from_abstract_name(&path).and_then(|address| UnixStream::connect_addr(&address)).is_ok()
    }
    #[cfg(not(target_os = "linux"))]
    false
}

#[cfg(not(all(unix, not(target_os = "macos"))))]
fn answers(_display: &str) -> bool {
    true
}

/// That nothing will sound, if there is no sound card that can be used. JACK is not asked: whether it runs, only its own
/// client can tell.
pub(super) fn no_sound() -> Option<String> {
    let card = cpal::default_host().default_output_device();
    let usable = card
        .and_then(|card| card.supported_output_configs().ok())
        .is_some_and(|mut all| all.next().is_some());
    (!usable).then(|| {
        "No sound card was found: unless JACK runs nothing sounds here. MIDI ports, the page and takes work all the \
         same; with a sound card, start again"
            .into()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[cfg(target_os = "linux")]
    #[test]
    fn a_display_that_nobody_serves_does_not_answer() {
        assert!(!answers(":987") && !answers(":987.0") && !answers("unix:987"));
        // Over the network it is not asked.
        assert!(answers("elsewhere:0"));
        use std::os::linux::net::SocketAddrExt;
        use std::os::unix::net::{SocketAddr, UnixListener};
        let number = 10_000 + std::process::id();
        let name = SocketAddr::from_abstract_name(socket(&number.to_string())).expect("a name");
        let _server = UnixListener::bind_addr(&name).expect("a server");
        assert!(answers(&format!(":{number}.0")));
    }
}
