//! The player's soundfont, which sounds in place of the built-in piano.
//!
//! The project keeps where the file is, not the file: soundfonts are large, and not ours to copy. A file is read
//! and checked by whoever asks for it, so a large one holds up a project that is being loaded. Not for the audio
//! thread, which only takes the instrument that is made of it.

use std::path::{Path, PathBuf};
use std::sync::atomic::Ordering;

use figwort_render::soundfont::Font;

use super::{Session, lock};
use crate::files;

/// Largest soundfont, in bytes: it is held in memory.
const MAX_BYTES: u64 = 1 << 30;

/// The soundfont that is wanted.
#[derive(Debug)]
pub(super) struct ChosenFont {
    path: PathBuf,
    /// `None` while the file cannot be read: the project remembers it all the same.
    font: Option<Font>,
}

impl Session {
    /// Has a soundfont (SF2) sound in place of the built-in piano; the old one goes on until it is read. Answers
    /// the font's name as it states it.
    ///
    /// # Errors
    /// In words, with the file's name and what to do; then what sounded before goes on.
    pub fn load_soundfont(&self, path: &Path) -> Result<String, String> {
        let font = read(path)?;
        let name = font.name().to_owned();
        // A project may be opened from elsewhere than this program was started.
        let path = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
        let mut chosen = lock(&self.font);
        self.offer_instrument(Some(&font))?;
        *chosen = Some(ChosenFont { path, font: Some(font) });
        Ok(name)
    }

    /// The built-in piano sounds again.
    pub fn clear_soundfont(&self) {
        let mut chosen = lock(&self.font);
        if chosen.take().is_some() {
            self.instrument.offer(None);
        }
    }

    /// The soundfont's file; also while it cannot be read.
    pub fn soundfont(&self) -> Option<PathBuf> {
        lock(&self.font).as_ref().map(|chosen| chosen.path.clone())
    }

    /// The sample rate is known, or another: the instrument is made anew. Not while the audio thread plays.
    pub(crate) fn set_rate(&self, sample_rate: f32) {
        let chosen = lock(&self.font);
        self.rate.store(sample_rate as u32, Ordering::Relaxed);
        if let Err(error) = self.offer_instrument(chosen.as_ref().and_then(|chosen| chosen.font.as_ref())) {
            self.say(error);
        }
    }

    /// What a project kept. A file that is gone is complained of, and still wanted.
    pub(super) fn restore_soundfont(&self, path: Option<&str>) {
        let Some(path) = path.map(Path::new) else { return self.clear_soundfont() };
        if lock(&self.font).as_ref().is_some_and(|chosen| chosen.path == path && chosen.font.is_some()) {
            return;
        }
        if let Err(error) = self.load_soundfont(path) {
            let mut chosen = lock(&self.font);
            self.instrument.offer(None);
            *chosen = Some(ChosenFont { path: path.to_owned(), font: None });
            drop(chosen);
            self.say(format!("{error}; until then the built-in piano plays"));
        }
    }

    /// To the audio thread, at its sample rate; before that is known there is nothing to offer.
    fn offer_instrument(&self, font: Option<&Font>) -> Result<(), String> {
        let rate = self.rate.load(Ordering::Relaxed);
        let made = match font {
            Some(font) if rate > 0 => font.instrument(rate).map(|made| Some(Box::new(made))),
            _ => Ok(None),
        };
        self.instrument.offer(made.map_err(|error| error.to_string())?);
        Ok(())
    }
}

fn read(path: &Path) -> Result<Font, String> {
    let bytes = files::read(path, MAX_BYTES, "choose another soundfont (.sf2)");
    bytes
        .and_then(|bytes| Font::read(&bytes).map_err(|error| error.to_string()))
        .map_err(|what| format!("{}: {what}", path.display()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::SessionTwin;

    const SINE: &[u8] = include_bytes!("../../../render/src/soundfont/sine.sf2");

    #[test]
    fn a_font_comes_goes_and_is_found_again() {
        let folder = tempfile::tempdir().expect("a folder");
        let file = folder.path().join("sine.sf2");
        std::fs::write(&file, SINE).expect("written");
        let session = Session::new();
        let mut held = None;
        assert_eq!(session.load_soundfont(&file).as_deref(), Ok("Sine"));
        // The sample rate comes later in a host that loads the project first.
        assert!(session.instrument.take(&mut held) && held.is_none());
        session.set_rate(44_100.0);
        assert!(session.instrument.take(&mut held) && held.is_some());
        let json = serde_json::to_string(&session.twin()).expect("JSON");
        let other = Session::new();
        other.set_rate(48_000.0);
        other.restore(serde_json::from_str(&json).expect("the same"));
        assert_eq!(other.soundfont(), Some(file.clone()));
        assert!(other.instrument.take(&mut held) && held.is_some());
        assert_eq!(other.messages(), [""; 0]);
        // The same project once more reads nothing again.
        other.restore(serde_json::from_str(&json).expect("the same"));
        assert!(!other.instrument.take(&mut held));
        // On a machine without the file the piano plays, and the project goes on naming it.
        std::fs::remove_file(&file).expect("removed");
        let third = Session::new();
        third.restore(serde_json::from_str(&json).expect("the same"));
        let said = third.messages();
        assert!(
            said.len() == 1 && said[0].contains("sine.sf2") && said[0].contains("built-in piano"),
            "{said:?}"
        );
        assert_eq!(serde_json::to_string(&third.twin()).expect("JSON"), json);
        // A project that names none takes it away.
        other.restore(SessionTwin::default());
        assert_eq!(other.soundfont(), None);
        assert!(other.instrument.take(&mut held) && held.is_none());
    }

    #[test]
    fn what_is_no_font_changes_nothing() {
        let folder = tempfile::tempdir().expect("a folder");
        let file = folder.path().join("letter.sf2");
        std::fs::write(&file, "Dear Anna").expect("written");
        let session = Session::new();
        let error = session.load_soundfont(&file).expect_err("a letter");
        assert!(error.contains("letter.sf2: this is no soundfont"), "{error}");
        assert!(session.load_soundfont(folder.path()).expect_err("a folder").contains("is a folder"));
        assert!(session.load_soundfont(Path::new("none.sf2")).expect_err("none").starts_with("none.sf2: "));
        let mut held = None;
        assert!(session.soundfont().is_none() && !session.instrument.take(&mut held));
        // A rate at which no font can be played is said, and the piano plays.
        std::fs::write(&file, SINE).expect("written");
        session.load_soundfont(&file).expect("a font");
        session.set_rate(8_000.0);
        let said = session.messages();
        assert!(said.len() == 1 && said[0].contains("8000 Hz"), "{said:?}");
    }
}
