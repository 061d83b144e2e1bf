//! The schedule: what sounds, until when, and what is still to be struck.
//!
//! It owns every note-off. Nothing else in the engine sends a note, so the two promises are kept here: a
//! note-on has exactly one note-off, and no pitch begins while it sounds. Where the sink is full, a note-off
//! is owed and sent as soon as there is room; a note-on is dropped.

use arrayvec::ArrayVec;
use figwort_theory::{Moment, Pitch, Velocity};

use crate::event::{EventSink, Hand, OutputEvent, OutputMessage};

/// Onsets that can wait at once. More are dropped; a spread chord needs a dozen.
const MAX_PENDING: usize = 48;

/// When a sounding note ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Until {
    /// At a moment.
    At(Moment),
    /// When the chord's time is over.
    Change,
    /// When its key comes up.
    Key,
}

/// A note that sounds.
#[derive(Clone, Copy, Debug)]
pub struct Sounding {
    /// Which pitch.
    pub pitch: Pitch,
    /// Who plays it.
    pub hand: Hand,
    /// Channel of its note-on.
    pub channel: u8,
    /// When it ends.
    pub until: Until,
    /// When it was struck, in frames.
    pub struck: u64,
    /// Its note-off is due, and was refused.
    owed: bool,
}

/// A note to be struck.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Onset {
    /// Which pitch.
    pub pitch: Pitch,
    /// Who plays it.
    pub hand: Hand,
    /// Channel to play it on.
    pub channel: u8,
    /// How strong.
    pub velocity: Velocity,
    /// When it ends.
    pub until: Until,
}

/// The sink, with the place in the block where we are.
pub struct Desk<'a, S> {
    sink: &'a mut S,
    start: u64,
    last: u32,
    offset: u32,
}

impl<'a, S: EventSink> Desk<'a, S> {
    /// A desk at a block's first frame.
    pub fn new(sink: &'a mut S, start: u64, frames: u32) -> Self {
        Self { sink, start, last: frames.saturating_sub(1), offset: 0 }
    }

    /// Moves on to a frame; never back, never out of the block.
    pub fn go_to(&mut self, frame: u64) {
        let offset = u32::try_from(frame.saturating_sub(self.start)).unwrap_or(self.last).min(self.last);
        self.offset = self.offset.max(offset);
    }

    /// The sink, for observations, with the offset.
    pub fn observer(&mut self) -> (&mut S, u32) {
        (self.sink, self.offset)
    }

    /// Sends a message now. Returns whether it was taken.
    pub fn send(&mut self, message: OutputMessage) -> bool {
        self.sink.push(OutputEvent { offset: self.offset, message }).is_ok()
    }
}

/// What sounds and what waits.
#[derive(Clone, Debug, Default)]
pub struct Schedule {
    sounding: ArrayVec<Sounding, 128>,
    pending: ArrayVec<(Moment, Onset), MAX_PENDING>,
    pedal: bool,
    pedal_wanted: bool,
}

impl Schedule {
    /// Everything that sounds.
    pub fn sounding(&self) -> &[Sounding] {
        &self.sounding
    }

    /// The note on a pitch, if it sounds.
    pub fn note(&self, pitch: Pitch) -> Option<&Sounding> {
        self.sounding.iter().find(|s| s.pitch == pitch)
    }

    /// Whether the pedal is down.
    pub fn pedal(&self) -> bool {
        self.pedal
    }

    /// When the next note ends or begins by itself.
    pub fn next(&self) -> Option<Moment> {
        let ends = self.sounding.iter().filter(|s| !s.owed).filter_map(|s| match s.until {
            Until::At(at) => Some(at),
            Until::Change | Until::Key => None,
        });
        ends.chain(self.pending.iter().map(|(at, _)| *at)).min()
    }

    /// Strikes a note now. A pitch that the melody holds is left to it; any other note on the pitch ends
    /// first. Returns whether the note sounds.
    pub fn strike<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, frame: u64, onset: Onset) -> bool {
        if let Some(index) = self.sounding.iter().position(|s| s.pitch == onset.pitch) {
            let yields = self.sounding.get(index).is_none_or(|s| s.hand != Hand::Melody || s.owed);
            if (!yields && onset.hand != Hand::Melody) || !self.end(desk, index) {
                return false;
            }
        }
        let Onset { pitch, hand, channel, velocity, until } = onset;
        let on = OutputMessage::NoteOn { hand, channel, pitch, velocity };
        if self.sounding.is_full() || !desk.send(on) {
            return false;
        }
        self.sounding.push(Sounding { pitch, hand, channel, until, struck: frame, owed: false });
        true
    }

    /// Has a note struck later, instead of what waits on its pitch at that moment. Dropped if too much waits
    /// already.
    pub fn strike_at(&mut self, at: Moment, onset: Onset) {
        self.pending.retain(|(when, waiting)| *when != at || waiting.pitch != onset.pitch);
        // A full schedule loses the note, never a note-off: those aren't kept here.
        let _ = self.pending.try_push((at, onset));
    }

    /// Pitches that wait to be struck before a moment.
    pub fn awaited(&self, before: Moment) -> impl Iterator<Item = Pitch> {
        self.pending.iter().filter(move |(at, _)| *at < before).map(|(_, onset)| onset.pitch)
    }

    /// Whether a pitch waits to be struck before a moment; if so it will sound until `until`.
    pub fn expects(&mut self, pitch: Pitch, before: Moment, until: Until) -> bool {
        let waiting = self.pending.iter_mut().find(|(at, onset)| onset.pitch == pitch && *at < before);
        if let Some((_, onset)) = waiting {
            onset.until = until;
            return true;
        }
        false
    }

    /// Forgets of what was to be struck whatever is chosen.
    pub fn forget(&mut self, chosen: impl Fn(&Onset) -> bool) {
        self.pending.retain(|(_, onset)| !chosen(onset));
    }

    /// Lets a note of the accompaniment sound until something else.
    pub fn hold(&mut self, pitch: Pitch, until: Until) {
        if let Some(note) = self.sounding.iter_mut().find(|s| s.pitch == pitch && s.hand != Hand::Melody) {
            note.until = until;
        }
    }

    /// Lets a note sound on over a change, as if it had been struck with it at `frame`.
    pub fn tie(&mut self, pitch: Pitch, frame: u64) {
        if let Some(note) = self.sounding.iter_mut().find(|s| s.pitch == pitch && s.hand != Hand::Melody) {
            note.until = Until::Change;
            note.struck = frame;
        }
    }

    /// Lets every accompaniment note sound until the chord's time is over, also those about to be struck.
    pub fn hold_all(&mut self) {
        for (_, onset) in self.pending.iter_mut().filter(|(_, onset)| onset.hand != Hand::Melody) {
            onset.until = Until::Change;
        }
        for note in self.sounding.iter_mut().filter(|s| s.hand != Hand::Melody && !s.owed) {
            note.until = Until::Change;
        }
    }

    /// Ends the notes that are chosen.
    pub fn release<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, chosen: impl Fn(&Sounding) -> bool) {
        let mut index = 0;
        while index < self.sounding.len() {
            let take = self.sounding.get(index).is_some_and(&chosen);
            if !take || !self.end(desk, index) {
                index += 1;
            }
        }
    }

    /// Ends every note of the accompaniment, and what was to come of it.
    pub fn release_accompaniment<S: EventSink>(&mut self, desk: &mut Desk<'_, S>) {
        self.forget_pending();
        self.release(desk, |note| note.hand != Hand::Melody);
    }

    /// Forgets what was to be struck.
    pub fn forget_pending(&mut self) {
        self.pending.clear();
    }

    /// Does what is due at `now`: ends first, then onsets.
    pub fn perform<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, frame: u64, now: Moment) {
        self.release(desk, |note| matches!(note.until, Until::At(at) if at <= now) && !note.owed);
        while let Some(index) = self.pending.iter().position(|(at, _)| *at <= now) {
            // Taken in the order in which they were put in, which is from below.
            let (_, onset) = self.pending.remove(index);
            self.strike(desk, frame, onset);
        }
    }

    /// Sends the note-offs and the pedal that were refused.
    pub fn pay_debts<S: EventSink>(&mut self, desk: &mut Desk<'_, S>) {
        self.release(desk, |note| note.owed);
        self.settle_pedal(desk);
    }

    /// Puts the pedal down or up.
    pub fn set_pedal<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, down: bool) {
        self.pedal_wanted = down;
        self.settle_pedal(desk);
    }

    fn settle_pedal<S: EventSink>(&mut self, desk: &mut Desk<'_, S>) {
        if self.pedal != self.pedal_wanted && desk.send(OutputMessage::Pedal(self.pedal_wanted)) {
            self.pedal = self.pedal_wanted;
        }
    }

    /// Ends one note; owes it if the sink is full. Returns whether it is gone.
    fn end<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, index: usize) -> bool {
        let Some(note) = self.sounding.get_mut(index) else { return true };
        let off = OutputMessage::NoteOff { hand: note.hand, channel: note.channel, pitch: note.pitch };
        if desk.send(off) {
            self.sounding.remove(index);
            true
        } else {
            note.owed = true;
            false
        }
    }
}
