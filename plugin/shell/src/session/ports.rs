//! The MIDI ports of whoever has no host. Not for the audio thread.

use std::path::Path;

use super::Session;

/// MIDI ports that are chosen by name, and what is remembered from start to start; the standalone has them, a plugin
/// has its host and its projects.
pub trait Ports: Send + Sync {
    /// Names of what can be played from.
    fn inputs(&self) -> Vec<String>;
    /// Names of what can be played to.
    fn outputs(&self) -> Vec<String>;
    /// The input in use.
    fn input(&self) -> Option<String>;
    /// The output in use.
    fn output(&self) -> Option<String>;
    /// Uses another input, or none; remembered for the next time.
    ///
    /// # Errors
    /// In words, when there is no such port or it cannot be opened; then none is in use.
    fn choose_input(&self, name: Option<&str>) -> Result<(), String>;
    /// Uses another output, or none; remembered for the next time.
    ///
    /// # Errors
    /// As [`Ports::choose_input`].
    fn choose_output(&self, name: Option<&str>) -> Result<(), String>;
    /// Remembers the player's soundfont, or none, for the next start.
    ///
    /// # Errors
    /// In words, when it cannot be written.
    fn remember_soundfont(&self, path: Option<&Path>) -> Result<(), String>;
}

impl Session {
    /// The MIDI ports, where they are ours to choose.
    pub fn ports(&self) -> Option<&dyn Ports> {
        self.ports.get().map(|ports| &**ports)
    }

    /// Gives the session ports to choose from, once.
    pub fn set_ports(&self, ports: Box<dyn Ports>) {
        // A second set is dropped: the first is in use.
        let _ = self.ports.set(ports);
    }
}
