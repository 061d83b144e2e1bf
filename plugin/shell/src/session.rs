//! What the audio thread, the editor and the project share of an instance, besides its parameters.
//!
//! One [`Session`] is made with the instance and shared by `Arc`. Its public methods are for any thread but
//! the audio thread: they may read files and take locks, none of which the audio thread ever takes. The two
//! sides meet only in atomics, rings of fixed size and [`handover::Handover`]s.
//!
//! Deliberately absent: parameters (the host's), and anything that draws.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU32, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use crossbeam::queue::ArrayQueue;
use figwort_theory::{Metre, Moment, Pitch, Velocity};
use serde::{Deserialize, Serialize};

use crate::sheet::{LoadedSheet, Score, SheetTwin};
use crate::take;

mod handover;
pub mod history;

use handover::Handover;
use history::{Event, History, Ring};

/// Room for keys played in the window or sent from a MIDI port between two blocks.
const KEYS: usize = 1024;

/// A part that is played on the computer's keys or with the mouse.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Row {
    /// The chord hand.
    Chords,
    /// The melody hand.
    Melody,
}

/// A key that goes down or up without the host.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct PlayedKey {
    pub(crate) row: Row,
    pub(crate) pitch: Pitch,
    /// `None` when it comes up.
    pub(crate) velocity: Option<Velocity>,
}

/// What an instance has besides its parameters.
pub struct Session {
    pub(crate) ring: Ring,
    pub(crate) score: Handover<Score>,
    pub(crate) keys: ArrayQueue<PlayedKey>,
    pub(crate) panic: AtomicBool,
    pub(crate) finish: AtomicBool,
    /// The host's metre as 256 times the upper number plus the lower; 0 where it gives none.
    pub(crate) host_metre: AtomicU32,
    /// Where in the sheet the music is, in ticks; [`NOWHERE`] while none is followed.
    pub(crate) place: AtomicI64,
    history: Mutex<History>,
    sheet: Mutex<Option<Arc<LoadedSheet>>>,
    messages: Mutex<Vec<String>>,
    /// Where takes are written; `None` for the player's own folders.
    folder: Mutex<Option<PathBuf>>,
}

/// What of a session is kept in the project. Fields are never used for anything else; new ones are optional.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub(crate) struct SessionTwin {
    /// Of this layout; 1 so far. A later version only adds fields.
    version: u32,
    #[serde(skip_serializing_if = "Option::is_none")]
    sheet: Option<SheetTwin>,
    /// What was wrong with the project, on its way to the player; never in a project that is saved.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) complaints: Vec<String>,
}

/// The present layout of [`SessionTwin`].
const VERSION: u32 = 1;

/// No place in a sheet.
pub(crate) const NOWHERE: i64 = i64::MIN;

/// A lock that was held by a thread that panicked is as good as any other here: every value is whole.
fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl std::fmt::Debug for Session {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Session").field("sheet", &self.sheet().map(|sheet| sheet.file.clone())).finish()
    }
}

impl Default for Session {
    fn default() -> Self {
        Self::new()
    }
}

impl Session {
    /// A session without a sheet.
    pub fn new() -> Self {
        Self {
            ring: Ring::new(),
            score: Handover::new(),
            keys: ArrayQueue::new(KEYS),
            panic: AtomicBool::new(false),
            finish: AtomicBool::new(false),
            host_metre: AtomicU32::new(0),
            place: AtomicI64::new(NOWHERE),
            history: Mutex::default(),
            sheet: Mutex::default(),
            messages: Mutex::default(),
            folder: Mutex::default(),
        }
    }

    /// Loads a sheet from the disk; the old one goes on until the new one is read. The parameter `sheet` says
    /// what of it is used.
    ///
    /// # Errors
    /// In words, with the file's name and what to do; the old sheet stays.
    pub fn load_sheet(&self, path: &Path) -> Result<Arc<LoadedSheet>, String> {
        Ok(self.put(LoadedSheet::open(path)?))
    }

    /// Loads a sheet that was dropped or comes from elsewhere; `tune` chooses one of several by its number.
    ///
    /// # Errors
    /// As [`Session::load_sheet`].
    pub fn load_sheet_bytes(
        &self,
        name: &str,
        bytes: &[u8],
        tune: Option<usize>,
    ) -> Result<Arc<LoadedSheet>, String> {
        Ok(self.put(LoadedSheet::read(name, bytes, tune)?))
    }

    fn put(&self, loaded: LoadedSheet) -> Arc<LoadedSheet> {
        let loaded = Arc::new(loaded);
        let mut sheet = lock(&self.sheet);
        // Under the lock, so that two loads arrive in one order on both sides.
        self.score.offer(Some(Box::new(loaded.score())));
        *sheet = Some(Arc::clone(&loaded));
        loaded
    }

    /// Puts the sheet away.
    pub fn clear_sheet(&self) {
        let mut sheet = lock(&self.sheet);
        self.score.offer(None);
        *sheet = None;
    }

    /// The sheet that is loaded.
    pub fn sheet(&self) -> Option<Arc<LoadedSheet>> {
        lock(&self.sheet).clone()
    }

    /// What the project keeps.
    pub(crate) fn twin(&self) -> SessionTwin {
        let sheet = self.sheet().map(|loaded| SheetTwin::of(&loaded));
        SessionTwin { version: VERSION, sheet, complaints: Vec::new() }
    }

    /// Becomes what a project kept. What cannot be read is left out with a message.
    pub(crate) fn restore(&self, twin: SessionTwin) {
        lock(&self.messages).extend(twin.complaints);
        match twin.sheet.map(|sheet| sheet.load()) {
            Some(Ok(loaded)) => {
                self.put(loaded);
            }
            None => self.clear_sheet(),
            Some(Err(error)) => {
                self.clear_sheet();
                self.say(error);
            }
        }
    }

    /// What the player has to be told of sheet and host: a metre that disagrees, a sheet that is over.
    pub fn notices(&self) -> Vec<String> {
        let Some(loaded) = self.sheet() else { return Vec::new() };
        let place = self.place.load(Ordering::Relaxed);
        let mut notices = Vec::new();
        let at = Moment(place);
        if place != NOWHERE && at >= loaded.sheet.end {
            notices.push(format!("The sheet is over: it has {} bars", loaded.bars()));
        }
        let here = loaded.sheet.bar_at(at).and_then(|index| loaded.sheet.bars.get(index));
        let written = here.map_or_else(|| loaded.metre(), |bar| bar.metre);
        let packed = self.host_metre.load(Ordering::Relaxed);
        let host = Metre::new((packed >> 8) as u8, packed as u8);
        if let Some(host) = host.filter(|host| *host != written && place != NOWHERE) {
            let bar = here.map_or_else(String::new, |bar| format!(" in bar {}", bar.number));
            notices.push(format!(
                "The sheet is in {}/{}{bar}, the host in {}/{}: set the host's metre, or bar lines won't agree",
                written.numerator(),
                written.denominator(),
                host.numerator(),
                host.denominator()
            ));
        }
        notices
    }

    /// Ends every note at once, here and in instruments behind, and begins anew.
    pub fn panic(&self) {
        self.panic.store(true, Ordering::Release);
    }

    /// The next chord that is struck is the last; after it all goes on as before.
    pub fn finish(&self) {
        self.finish.store(true, Ordering::Release);
    }

    /// Whether [`Session::finish`] was called and the chord has not come yet.
    pub fn finishing(&self) -> bool {
        self.finish.load(Ordering::Acquire)
    }

    /// A key of the computer or the mouse goes down (`velocity` 1 to 127) or comes up (`None`); it is played in
    /// the next block. `false` when too many wait.
    pub fn key(&self, row: Row, pitch: Pitch, velocity: Option<Velocity>) -> bool {
        self.keys.push(PlayedKey { row, pitch, velocity }).is_ok()
    }

    /// What was played, from the event of this number on, and the number to ask with next time. Events are
    /// kept for some minutes. Nearly in order of time: a bar line may come a block after its time.
    pub fn history(&self, since: u64) -> (Vec<Event>, u64) {
        let mut history = lock(&self.history);
        history.gather(&self.ring);
        history.since(since)
    }

    /// Writes the last minutes as a MIDI file of a name that isn't taken, and says where.
    ///
    /// # Errors
    /// In words: when nothing was played, or the file cannot be written.
    pub fn keep_take(&self) -> Result<PathBuf, String> {
        let (events, _) = self.history(0);
        let title = self.sheet().map_or_else(String::new, |loaded| loaded.title().to_owned());
        let folder = lock(&self.folder).clone().or_else(take::folder).ok_or(
            "there is no folder for music or documents on this machine; make one called Music and try again",
        )?;
        take::keep(&events, &title, &folder)
    }

    /// # Real time
    /// The audio thread's.
    pub(crate) fn tell_metre(&self, metre: Option<Metre>) {
        let packed = metre.map_or(0, |m| u32::from(m.numerator()) << 8 | u32::from(m.denominator()));
        self.host_metre.store(packed, Ordering::Relaxed);
    }

    /// # Real time
    /// The audio thread's.
    pub(crate) fn tell_place(&self, place: Option<Moment>) {
        self.place.store(place.map_or(NOWHERE, |place| place.0), Ordering::Relaxed);
    }

    /// Has takes written elsewhere than in the player's own folders.
    pub fn set_take_folder(&self, folder: PathBuf) {
        *lock(&self.folder) = Some(folder);
    }

    /// Messages to the player since the last call, oldest first.
    pub fn messages(&self) -> Vec<String> {
        std::mem::take(&mut *lock(&self.messages))
    }

    /// Leaves a message to the player.
    pub fn say(&self, message: impl Into<String>) {
        lock(&self.messages).push(message.into());
    }
}
