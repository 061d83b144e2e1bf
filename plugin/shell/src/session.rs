//! What the audio thread, the editor and the project share of an instance, besides its parameters.
//!
//! One [`Session`] is made with the instance and shared by `Arc`. Its public methods are for any thread but
//! the audio thread: they may read files and take locks, none of which the audio thread ever takes. The two
//! sides meet only in atomics, rings of fixed size and `handover::Handover`s.
//!
//! Deliberately absent: parameters (the host's), and anything that draws.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU32, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, OnceLock, PoisonError};

use crossbeam::queue::ArrayQueue;
use figwort_engine::InputMessage;
use figwort_render::soundfont::Instrument;
use figwort_theory::{Pitch, Velocity};

use crate::demo::DemoTake;
use crate::sheet::{LoadedSheet, Score};
use crate::take;

mod compare;
mod font;
mod handover;
pub mod history;
mod ports;
mod project;
pub mod shelf;
mod time;

#[cfg(feature = "standalone")]
pub(crate) use font::Asked;
use handover::Handover;
use history::{Event, History, Ring};
pub use ports::Ports;
pub(crate) use project::SessionTwin;
use shelf::{Book, Shelf};
use time::NOWHERE;

/// Messages that are kept until the window asks for them.
const MESSAGES: usize = 100;
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

/// Input that does not come from the host.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Incoming {
    /// A key of one of our rows.
    Key(PlayedKey),
    /// A message from a MIDI port of our own, with its channel.
    #[cfg_attr(not(feature = "standalone"), allow(dead_code, reason = "a plugin has its host's ports"))]
    Port(u8, InputMessage),
}

/// What an instance has besides its parameters.
pub struct Session {
    pub(crate) ring: Ring,
    pub(crate) score: Handover<Score>,
    pub(crate) book: Handover<Book>,
    pub(crate) demo: Handover<DemoTake>,
    /// The player's soundfont, made for `rate`.
    pub(crate) instrument: Handover<Instrument>,
    /// Frames per second; 0 until the host says.
    rate: AtomicU32,
    /// Whether the demonstration take plays.
    pub(crate) demonstrating: AtomicBool,
    pub(crate) incoming: ArrayQueue<Incoming>,
    /// Messages for a port of our own, where one is open.
    pub(crate) outgoing: ArrayQueue<[u8; 3]>,
    pub(crate) port_open: AtomicBool,
    /// Whether time is ours to keep, as there is no host.
    pub(crate) own_clock: AtomicBool,
    pub(crate) running: AtomicBool,
    pub(crate) metronome: AtomicBool,
    /// The metre of our own clock, packed; 0 for 4/4.
    pub(crate) own_metre: AtomicU32,
    pub(crate) panic: AtomicBool,
    pub(crate) finish: AtomicBool,
    /// The host's metre, packed; 0 where it gives none.
    pub(crate) host_metre: AtomicU32,
    /// Where in the sheet the music is, in ticks; [`NOWHERE`] while none is followed.
    pub(crate) place: AtomicI64,
    history: Mutex<History>,
    sheet: Mutex<Option<Arc<LoadedSheet>>>,
    messages: Mutex<Vec<String>>,
    shelf: Mutex<Shelf>,
    fonts: Mutex<font::Fonts>,
    /// Told when a soundfont has been read.
    font_read: Condvar,
    manner: Mutex<Option<project::OwnManner>>,
    /// What the project keeps and this version cannot use.
    unread: Mutex<project::Unread>,
    compared: Mutex<compare::Compared>,
    ports: OnceLock<Box<dyn Ports>>,
}

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
            book: Handover::new(),
            demo: Handover::new(),
            instrument: Handover::new(),
            rate: AtomicU32::new(0),
            demonstrating: AtomicBool::new(false),
            incoming: ArrayQueue::new(KEYS),
            outgoing: ArrayQueue::new(KEYS),
            port_open: AtomicBool::new(false),
            own_clock: AtomicBool::new(false),
            running: AtomicBool::new(false),
            metronome: AtomicBool::new(false),
            own_metre: AtomicU32::new(0),
            panic: AtomicBool::new(false),
            finish: AtomicBool::new(false),
            host_metre: AtomicU32::new(0),
            place: AtomicI64::new(NOWHERE),
            history: Mutex::default(),
            sheet: Mutex::default(),
            messages: Mutex::default(),
            shelf: Mutex::new(Shelf::new()),
            fonts: Mutex::default(),
            font_read: Condvar::new(),
            manner: Mutex::default(),
            unread: Mutex::default(),
            compared: Mutex::default(),
            ports: OnceLock::new(),
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

    /// Loads a sheet without a file; `tune` chooses one of several by its number.
    #[cfg(test)]
    pub(crate) fn load_sheet_bytes(
        &self,
        name: &str,
        bytes: &[u8],
        tune: Option<usize>,
    ) -> Result<Arc<LoadedSheet>, String> {
        Ok(self.put(LoadedSheet::read(name, bytes, tune)?))
    }

    /// Another tune of the file that is loaded, by its number.
    ///
    /// # Errors
    /// In words, when there is no sheet or no such tune; the present one stays.
    pub fn choose_tune(&self, number: usize) -> Result<Arc<LoadedSheet>, String> {
        let present = self.sheet().ok_or("there is no sheet; open one")?;
        Ok(self.put(present.other_tune(number)?))
    }

    fn put(&self, loaded: LoadedSheet) -> Arc<LoadedSheet> {
        let loaded = Arc::new(loaded);
        let mut sheet = lock(&self.sheet);
        // Under the lock, so that two loads arrive in one order on both sides.
        self.score.offer(Some(Box::new(loaded.score())));
        *sheet = Some(Arc::clone(&loaded));
        drop(sheet);
        self.forget_unread(project::SHEET);
        loaded
    }

    /// Puts the sheet away, also one that the project keeps and this version cannot read.
    pub fn clear_sheet(&self) {
        self.put_sheet_away();
        self.forget_unread(project::SHEET);
    }

    fn put_sheet_away(&self) {
        let mut sheet = lock(&self.sheet);
        self.score.offer(None);
        *sheet = None;
    }

    /// The sheet that is loaded.
    pub fn sheet(&self) -> Option<Arc<LoadedSheet>> {
        lock(&self.sheet).clone()
    }

    /// Ends every note at once, here and in instruments behind, and begins anew.
    pub fn panic(&self) {
        self.panic.store(true, Ordering::Release);
    }

    /// The next chord that is struck is the last, and after it all goes on as before; or (`false`) it is not any
    /// more.
    pub fn finish(&self, wanted: bool) {
        self.finish.store(wanted, Ordering::Release);
    }

    /// Whether [`Session::finish`] was asked for and the chord has not come yet.
    pub fn finishing(&self) -> bool {
        self.finish.load(Ordering::Acquire)
    }

    /// A key of the computer or the mouse goes down (`velocity` 1 to 127) or comes up (`None`); it is played in
    /// the next block. `false` when too many wait.
    pub fn key(&self, row: Row, pitch: Pitch, velocity: Option<Velocity>) -> bool {
        self.incoming.push(Incoming::Key(PlayedKey { row, pitch, velocity })).is_ok()
    }

    /// Plays the demonstration take: with the next bar of a running host, else at once.
    ///
    /// # Errors
    /// In words, when it cannot be read.
    pub fn play_demo(&self) -> Result<(), String> {
        self.demo.offer(Some(Box::new(DemoTake::embedded()?)));
        Ok(())
    }

    /// Ends the demonstration take.
    pub fn stop_demo(&self) {
        self.demo.offer(None);
    }

    /// Whether the demonstration take plays.
    pub fn demonstrating(&self) -> bool {
        self.demonstrating.load(Ordering::Relaxed)
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
        let folder = take::folder().ok_or(
            "there is no folder for music or documents on this machine; make one called Music and try again",
        )?;
        self.keep_take_in(&folder)
    }

    pub(crate) fn keep_take_in(&self, folder: &Path) -> Result<PathBuf, String> {
        let (events, _) = self.history(0);
        let title = self.sheet().map_or_else(String::new, |loaded| loaded.title().to_owned());
        take::keep(&events, &title, folder)
    }

    /// Messages to the player since the last call, oldest first.
    pub fn messages(&self) -> Vec<String> {
        std::mem::take(&mut *lock(&self.messages))
    }

    /// Leaves a message to the player. Where nobody reads them, the oldest of many give way.
    pub fn say(&self, message: impl Into<String>) {
        self.say_all([message.into()]);
    }

    fn say_all(&self, new: impl IntoIterator<Item = String>) {
        let mut messages = lock(&self.messages);
        messages.extend(new);
        let extra = messages.len().saturating_sub(MESSAGES);
        messages.drain(..extra);
    }
}
