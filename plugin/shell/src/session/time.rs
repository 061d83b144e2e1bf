//! Time: kept here where there is no host, and what of the host's the player has to be told.

use std::sync::atomic::Ordering;

use figwort_theory::{Metre, Moment};

use super::Session;

/// No place in a sheet.
pub(super) const NOWHERE: i64 = i64::MIN;

/// A metre in one atomic number, 256 times the upper number plus the lower; 0 is none.
fn packed(metre: Metre) -> u32 {
    u32::from(metre.numerator()) << 8 | u32::from(metre.denominator())
}

/// The other way.
fn unpacked(packed: u32) -> Option<Metre> {
    Metre::new((packed >> 8) as u8, packed as u8)
}

impl Session {
    /// Whether there is no host, so that time is kept here: then [`Session::run`], the metronome and the
    /// parameter `tempo` mean something.
    pub fn has_own_clock(&self) -> bool {
        self.own_clock.load(Ordering::Relaxed)
    }

    /// Keeps time without a host.
    pub fn keep_own_clock(&self) {
        self.own_clock.store(true, Ordering::Relaxed);
    }

    /// Starts our own clock from the beginning, or stops it. While it stands, playing is free. A sheet is
    /// followed while it runs, in the sheet's metre and at its tempo until the player chooses one.
    pub fn run(&self, running: bool) {
        self.running.store(running, Ordering::Release);
    }

    /// Whether our own clock runs.
    pub fn running(&self) -> bool {
        self.running.load(Ordering::Acquire)
    }

    /// Whether our own clock clicks while it runs.
    pub fn set_metronome(&self, on: bool) {
        self.metronome.store(on, Ordering::Relaxed);
    }

    /// Whether the metronome is on.
    pub fn metronome(&self) -> bool {
        self.metronome.load(Ordering::Relaxed)
    }

    /// The metre of our own clock where neither a sheet nor the demonstration gives one.
    pub fn metre(&self) -> Metre {
        unpacked(self.own_metre.load(Ordering::Relaxed)).unwrap_or(Metre::FOUR_FOUR)
    }

    /// Another metre for it.
    pub fn set_metre(&self, metre: Metre) {
        self.own_metre.store(packed(metre), Ordering::Relaxed);
    }

    /// # Real time
    /// The audio thread's.
    pub(crate) fn tell_metre(&self, metre: Option<Metre>) {
        self.host_metre.store(metre.map_or(0, packed), Ordering::Relaxed);
    }

    /// # Real time
    /// The audio thread's.
    pub(crate) fn tell_place(&self, place: Option<Moment>) {
        self.place.store(place.map_or(NOWHERE, |place| place.0), Ordering::Relaxed);
    }

    /// What the player has to be told of sheet, host and soundfont: a metre that disagrees, a sheet that is over, a
    /// file that is being read.
    pub fn notices(&self) -> Vec<String> {
        let mut notices = Vec::new();
        if let Some(path) = self.reading_soundfont() {
            let name = path.file_name().unwrap_or_default().to_string_lossy();
            notices.push(format!("{name} is being read; the piano sounds until it is there"));
        }
        let Some(loaded) = self.sheet() else { return notices };
        let place = self.place.load(Ordering::Relaxed);
        let at = Moment(place);
        if place != NOWHERE && at >= loaded.sheet.end {
            notices.push(format!("The sheet is over: it has {} bars", loaded.bars()));
        }
        let here = loaded.sheet.bar_at(at).and_then(|index| loaded.sheet.bars.get(index));
        let written = here.map_or_else(|| loaded.metre(), |bar| bar.metre);
        let host = unpacked(self.host_metre.load(Ordering::Relaxed));
        // Our own clock counts as the sheet does.
        let host = host.filter(|_| !self.has_own_clock());
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
}
