//! The player's soundfont, which sounds in place of the built-in piano.
//!
//! The project keeps where the file is, not the file: soundfonts are large, and not ours to copy. A file is read and
//! checked by a thread of its own, so that neither a project that is being loaded nor the window has to wait for it.
//! Not for the audio thread, which only takes the instrument that is made of it.

use std::path::{Path, PathBuf};
use std::sync::atomic::Ordering;
use std::sync::{Arc, PoisonError};
use std::time::Duration;

use figwort_render::soundfont::Font;

use super::{Session, lock};
use crate::files;

/// Largest soundfont, in bytes: it is held in memory.
const MAX_BYTES: u64 = 1 << 30;

/// What is known of soundfonts.
#[derive(Debug, Default)]
pub(super) struct Fonts {
    chosen: Option<ChosenFont>,
    /// The one that is being read.
    reading: Option<PathBuf>,
    /// How many have been read or put away; an answer that comes later than another choice is not wanted any more.
    turn: u64,
}

/// The soundfont that is wanted.
#[derive(Debug)]
struct ChosenFont {
    path: PathBuf,
    /// `None` while the file cannot be read: the project remembers it all the same.
    font: Option<Font>,
}

/// Who asked for a soundfont.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Asked {
    /// The player, who is told how it went.
    Now,
    /// A project or what the standalone remembers: only trouble is told, and a file that is gone is still wanted.
    Before,
}

impl Session {
    /// Has a soundfont (SF2) sound in place of the built-in piano; the old one goes on until it is read. Reads the
    /// file before it answers, with the font's name as it states it.
    ///
    /// # Errors
    /// In words, with the file's name and what to do; then what sounded before goes on.
    pub fn load_soundfont(&self, path: &Path) -> Result<String, String> {
        let font = read(path)?;
        let path = absolute(path);
        let mut fonts = lock(&self.fonts);
        self.offer_instrument(Some(&font))?;
        fonts.turn += 1;
        fonts.reading = None;
        let name = font.name().to_owned();
        fonts.chosen = Some(ChosenFont { path, font: Some(font) });
        drop(fonts);
        self.font_read.notify_all();
        Ok(name)
    }

    /// As [`Session::load_soundfont`], but answers at once: a thread reads the file and leaves a message. One that can
    /// be played is remembered for the next start, where that is ours to do.
    pub fn begin_soundfont(self: &Arc<Self>, path: &Path) {
        self.begin_reading(path, Asked::Now);
    }

    pub(crate) fn begin_reading(self: &Arc<Self>, path: &Path, asked: Asked) {
        let path = absolute(path);
        let turn = {
            let mut fonts = lock(&self.fonts);
            fonts.turn += 1;
            let turn = fonts.turn;
            fonts.reading = Some(path.clone());
            if asked == Asked::Before {
                // What sounded belonged to another project.
                self.instrument.offer(None);
                fonts.chosen = Some(ChosenFont { path: path.clone(), font: None });
            }
            turn
        };
        let session = Arc::clone(self);
        let thread = std::thread::Builder::new().name("soundfont".into());
        let begun = thread.spawn(move || {
            let outcome = read(&path);
            session.end_reading(turn, &path, asked, outcome);
        });
        if let Err(error) = begun {
            lock(&self.fonts).reading = None;
            self.font_read.notify_all();
            self.say(format!("the soundfont could not be read: {error}; try again"));
        }
    }

    fn end_reading(&self, turn: u64, path: &Path, asked: Asked, outcome: Result<Font, String>) {
        let mut fonts = lock(&self.fonts);
        if fonts.turn != turn {
            // Another was chosen meanwhile, or none.
            return;
        }
        fonts.reading = None;
        let outcome = outcome.and_then(|font| self.offer_instrument(Some(&font)).map(|()| font));
        let mut remembered = false;
        match outcome {
            Ok(font) => {
                if asked == Asked::Now {
                    self.say(format!("{} sounds in place of the built-in piano", font.name()));
                    remembered = true;
                }
                fonts.chosen = Some(ChosenFont { path: path.to_owned(), font: Some(font) });
            }
            Err(error) if asked == Asked::Now => self.say(error),
            Err(error) => self.say(format!("{error}; until then the built-in piano plays")),
        }
        drop(fonts);
        self.font_read.notify_all();
        if remembered {
            self.remember_soundfont(Some(path));
        }
    }

    /// For the next start, where there is no project to keep it.
    fn remember_soundfont(&self, path: Option<&Path>) {
        let remembered = self.ports().map(|ports| ports.remember_soundfont(path));
        if let Some(Err(error)) = remembered {
            self.say(error);
        }
    }

    /// As [`Session::clear_soundfont`], and the next start begins with the built-in piano as well.
    pub fn forget_soundfont(&self) {
        self.clear_soundfont();
        self.remember_soundfont(None);
    }

    /// The built-in piano sounds again.
    pub fn clear_soundfont(&self) {
        let mut fonts = lock(&self.fonts);
        fonts.turn += 1;
        fonts.reading = None;
        if fonts.chosen.take().is_some() {
            self.instrument.offer(None);
        }
        drop(fonts);
        // Whoever waits for the one that was being read need not any more.
        self.font_read.notify_all();
    }

    /// The soundfont's file; also while it cannot be read, or is not read yet.
    pub fn soundfont(&self) -> Option<PathBuf> {
        lock(&self.fonts).chosen.as_ref().map(|chosen| chosen.path.clone())
    }

    /// The soundfont that is being read, if one is.
    pub fn reading_soundfont(&self) -> Option<PathBuf> {
        lock(&self.fonts).reading.clone()
    }

    /// Waits until no soundfont is being read, at most so long; whether that is so.
    pub fn wait_for_soundfont(&self, most: Duration) -> bool {
        let fonts = lock(&self.fonts);
        let waited = self.font_read.wait_timeout_while(fonts, most, |fonts| fonts.reading.is_some());
        waited.unwrap_or_else(PoisonError::into_inner).0.reading.is_none()
    }

    /// The sample rate is known, or another: the instrument is made anew. Not while the audio thread plays.
    pub(crate) fn set_rate(&self, sample_rate: f32) {
        let fonts = lock(&self.fonts);
        self.rate.store(sample_rate as u32, Ordering::Relaxed);
        let font = fonts.chosen.as_ref().and_then(|chosen| chosen.font.as_ref());
        if let Err(error) = self.offer_instrument(font) {
            self.say(error);
        }
    }

    /// What a project kept. A file that is gone is complained of, and still wanted.
    pub(super) fn restore_soundfont(self: &Arc<Self>, path: Option<&str>) {
        let Some(path) = path.map(Path::new) else { return self.clear_soundfont() };
        {
            let fonts = lock(&self.fonts);
            let here =
                fonts.chosen.as_ref().is_some_and(|chosen| chosen.path == path && chosen.font.is_some());
            let coming = fonts.reading.as_deref() == Some(path);
            if coming || (here && fonts.reading.is_none()) {
                return;
            }
        }
        self.begin_reading(path, Asked::Before);
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

/// A project may be opened from elsewhere than this program was started.
fn absolute(path: &Path) -> PathBuf {
    std::path::absolute(path).unwrap_or_else(|_| path.to_owned())
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

    const LONG: Duration = Duration::from_secs(60);
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
        let other = Arc::new(Session::new());
        other.set_rate(48_000.0);
        assert!(other.instrument.take(&mut held) && held.is_none());
        other.restore(serde_json::from_str(&json).expect("the same"));
        assert_eq!(other.soundfont(), Some(file.clone()), "wanted while it is read");
        assert!(other.wait_for_soundfont(LONG) && other.reading_soundfont().is_none());
        assert_eq!(other.soundfont(), Some(file.clone()));
        assert!(other.instrument.take(&mut held) && held.is_some());
        assert_eq!(other.messages(), [""; 0]);
        // The same project once more reads nothing again.
        other.restore(serde_json::from_str(&json).expect("the same"));
        assert!(!other.instrument.take(&mut held));
        // On a machine without the file the piano plays, and the project goes on naming it.
        std::fs::remove_file(&file).expect("removed");
        let third = Arc::new(Session::new());
        third.restore(serde_json::from_str(&json).expect("the same"));
        assert!(third.wait_for_soundfont(LONG));
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

    /// Ports that only remember.
    #[derive(Default)]
    struct Remembering(Arc<std::sync::Mutex<Vec<Option<PathBuf>>>>);

    impl crate::session::Ports for Remembering {
        fn inputs(&self) -> Vec<String> {
            Vec::new()
        }
        fn outputs(&self) -> Vec<String> {
            Vec::new()
        }
        fn input(&self) -> Option<String> {
            None
        }
        fn output(&self) -> Option<String> {
            None
        }
        fn choose_input(&self, _: Option<&str>) -> Result<(), String> {
            Ok(())
        }
        fn choose_output(&self, _: Option<&str>) -> Result<(), String> {
            Ok(())
        }
        fn remember_soundfont(&self, path: Option<&Path>) -> Result<(), String> {
            lock(&self.0).push(path.map(Path::to_owned));
            Ok(())
        }
    }

    /// The next start does not begin with a complaint, nor without the font that was good.
    #[test]
    fn only_what_sounds_is_remembered() {
        let folder = tempfile::tempdir().expect("a folder");
        let (letter, sine) = (folder.path().join("letter.sf2"), folder.path().join("sine.sf2"));
        std::fs::write(&letter, "Dear Anna").expect("written");
        std::fs::write(&sine, SINE).expect("written");
        let session = Arc::new(Session::new());
        let ports = Remembering::default();
        let remembered = Arc::clone(&ports.0);
        session.set_ports(Box::new(ports));
        for file in [&sine, &letter] {
            session.begin_soundfont(file);
            assert!(session.wait_for_soundfont(LONG));
        }
        let said = session.messages();
        assert!(said.len() == 2 && said[1].contains("letter.sf2: this is no soundfont"), "{said:?}");
        // The reading thread remembers after it has said that it is done.
        let begun = std::time::Instant::now();
        while lock(&remembered).is_empty() && begun.elapsed() < LONG {
            std::thread::yield_now();
        }
        session.forget_soundfont();
        assert_eq!(*lock(&remembered), [Some(sine), None]);
    }

    /// A host that renders is held up only as long as something is being read. If it were not so, this would not end;
    /// how long it takes is not judged.
    #[test]
    fn nobody_waits_for_what_is_not_wanted_any_more() {
        const DAY: Duration = Duration::from_secs(86_400);
        let session = Arc::new(Session::new());
        lock(&session.fonts).reading = Some("vast.sf2".into());
        std::thread::scope(|scope| {
            let waiting = scope.spawn(|| session.wait_for_soundfont(DAY));
            std::thread::sleep(Duration::from_millis(50));
            session.clear_soundfont();
            assert!(waiting.join().expect("it comes back"));
        });
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

    /// Nobody waits for a file, what comes too late is dropped, and the player is told how it went.
    #[test]
    fn a_font_is_read_beside_everything_else() {
        let folder = tempfile::tempdir().expect("a folder");
        let (file, letter) = (folder.path().join("sine.sf2"), folder.path().join("letter.sf2"));
        std::fs::write(&file, SINE).expect("written");
        std::fs::write(&letter, "Dear Anna").expect("written");
        let session = Arc::new(Session::new());
        session.set_rate(48_000.0);
        let mut held = None;
        session.instrument.take(&mut held);
        session.begin_soundfont(&file);
        assert!(session.wait_for_soundfont(LONG));
        assert_eq!(session.messages(), ["Sine sounds in place of the built-in piano"]);
        assert!(session.instrument.take(&mut held) && held.is_some());
        // What the player chooses in vain leaves everything as it was.
        session.begin_soundfont(&letter);
        assert!(session.wait_for_soundfont(LONG));
        let said = session.messages();
        assert!(said.len() == 1 && said[0].contains("letter.sf2: this is no soundfont"), "{said:?}");
        assert!(session.soundfont() == Some(file.clone()) && !session.instrument.take(&mut held));
        // A file that arrives after it was put away is not wanted any more; no matter how the threads run.
        session.begin_soundfont(&file);
        session.clear_soundfont();
        let late = read(&file);
        let turn = lock(&session.fonts).turn;
        session.end_reading(turn - 1, &file, Asked::Now, late);
        assert!(session.reading_soundfont().is_none() && session.soundfont().is_none());
        assert!(session.instrument.take(&mut held) && held.is_none());
    }
}
