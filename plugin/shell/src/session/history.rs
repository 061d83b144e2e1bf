//! What was played: events from the audio thread, kept for the page and for takes.
//!
//! The audio thread pushes [`Event`]s into a ring of fixed size and never waits; when nobody empties the ring
//! the oldest are lost, so the last minutes are always there. Whoever asks first empties it into the history,
//! which is bounded too.
//!
//! Times are *roll time*: musical ticks (1/20160 quarter) since the instance was made, which never go back,
//! whatever the host's transport does. They run at the tempo in force.

use std::collections::VecDeque;

use crossbeam::queue::ArrayQueue;
use figwort_engine::Hand;
use figwort_theory::{Chord, Key, Metre, Moment, Pitch, Velocity};

/// Events that the ring holds: several minutes of dense playing.
const RING: usize = 1 << 14;
/// Events that the history holds.
const KEPT: usize = 1 << 16;

/// Something that happened.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Event {
    /// When, in roll time.
    pub at: Moment,
    /// When, in frames since the instance was made; starts anew nowhere.
    pub frame: u64,
    /// What.
    pub what: What,
}

/// What can happen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum What {
    /// A note begins.
    On {
        /// Who plays it.
        hand: Hand,
        /// Which pitch.
        pitch: Pitch,
        /// How strong.
        velocity: Velocity,
    },
    /// A note ends.
    Off {
        /// Who played it.
        hand: Hand,
        /// Which pitch.
        pitch: Pitch,
    },
    /// The accompaniment's pedal goes down or up.
    Pedal(bool),
    /// A key of the chord hand goes down. It does not sound by itself.
    ChordKeyDown {
        /// Which key.
        pitch: Pitch,
        /// How hard.
        velocity: Velocity,
    },
    /// A key of the chord hand comes up.
    ChordKeyUp(Pitch),
    /// The engine decided something anew under this chord, or under none.
    Decided(Option<Chord>),
    /// The key heard so far changed.
    KeyHeard(Key),
    /// A bar begins. After a jump into the middle of one, that bar with the moment of the jump.
    Bar {
        /// Its metre.
        metre: Metre,
        /// Whether it is the jump that is told, not the bar's own beginning.
        cut: bool,
    },
    /// The tempo from here on, in quarter notes a minute; comes before anything else and at every change.
    Tempo(f32),
    /// Frames per second from here on; comes before anything else and at every change.
    SampleRate(f32),
}

// The ring is most of what an instance weighs.
const _: () = assert!(size_of::<Event>() <= 24);

/// The way from the audio thread.
#[derive(Debug)]
pub(crate) struct Ring(ArrayQueue<Event>);

impl Ring {
    pub(crate) fn new() -> Self {
        Self(ArrayQueue::new(RING))
    }

    /// Keeps an event; the oldest gives way.
    ///
    /// # Real time
    /// No allocation, no lock.
    pub(crate) fn push(&self, event: Event) {
        self.0.force_push(event);
    }
}

/// The last minutes, in order.
#[derive(Debug, Default)]
pub(crate) struct History {
    events: VecDeque<Event>,
    /// Number of the first event that is kept; all are counted from the beginning.
    first: u64,
}

impl History {
    /// Empties the ring.
    pub(crate) fn gather(&mut self, ring: &Ring) {
        while let Some(event) = ring.0.pop() {
            if self.events.len() == KEPT {
                self.events.pop_front();
                self.first += 1;
            }
            self.events.push_back(event);
        }
    }

    /// Everything from the event of this number on, as far as it is kept, with the number of the next.
    pub(crate) fn since(&self, number: u64) -> (Vec<Event>, u64) {
        let skip = usize::try_from(number.saturating_sub(self.first)).unwrap_or(usize::MAX);
        let next = self.first + self.events.len() as u64;
        (self.events.iter().skip(skip).copied().collect(), next)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn event(frame: u64) -> Event {
        Event { at: Moment(frame as i64), frame, what: What::Pedal(true) }
    }

    #[test]
    fn readers_get_what_is_new_to_them() {
        let ring = Ring::new();
        let mut history = History::default();
        for frame in 0..5 {
            ring.push(event(frame));
        }
        history.gather(&ring);
        let (events, next) = history.since(0);
        assert_eq!((events.len(), next), (5, 5));
        ring.push(event(5));
        history.gather(&ring);
        assert_eq!(history.since(next), (vec![event(5)], 6));
        assert_eq!(history.since(99), (Vec::new(), 6));
    }

    #[test]
    fn the_oldest_give_way() {
        let ring = Ring::new();
        let mut history = History::default();
        let all = KEPT as u64 + 100;
        for frame in 0..all {
            ring.push(event(frame));
            if frame % 1000 == 0 {
                history.gather(&ring);
            }
        }
        history.gather(&ring);
        let (events, next) = history.since(0);
        assert_eq!((events.len(), next), (KEPT, all));
        assert_eq!(events.last(), Some(&event(all - 1)));
        // Nobody reads: the ring keeps the newest.
        let ring = Ring::new();
        for frame in 0..RING as u64 + 7 {
            ring.push(event(frame));
        }
        let mut history = History::default();
        history.gather(&ring);
        assert_eq!(history.since(0).0.first(), Some(&event(7)));
    }
}
