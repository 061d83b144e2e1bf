//! The ear: checks every event that leaves, and every snapshot.

use figwort_engine::{EventSink, Full, Hand, OutputEvent, OutputMessage, Snapshot};

/// Something that must never happen, with the block in which it did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// An event before the one that left last, in the same block.
    OutOfOrder(u64),
    /// An event past the block's end, or a channel that MIDI doesn't have.
    OutOfRange(u64),
    /// A note began while it sounded.
    StruckTwice(u64, u8),
    /// A note ended that didn't sound, or that another hand had begun.
    EndedTwice(u64, u8),
    /// A note still sounded long after every key was up and the transport stopped.
    Hangs(u64, u8),
    /// The pedal was still down then.
    PedalHangs(u64),
    /// A snapshot with the same pitch in both hands of the accompaniment, or a number that is none.
    Snapshot,
    /// The thread that reads snapshots panicked.
    ReaderPanicked,
}

/// Faults that are kept.
const KEPT: usize = 100;

/// Hears everything.
pub struct Ear {
    frames: u32,
    block: u64,
    last: u32,
    room: usize,
    sounding: [Option<(Hand, u8)>; 128],
    pedal: bool,
    ons: u64,
    offs: u64,
    others: u64,
    refused: u64,
    faults: [Option<Fault>; KEPT],
    found: usize,
}

impl Ear {
    /// An ear that has heard nothing, for blocks of so many frames.
    pub fn new(frames: u32) -> Self {
        Self {
            frames,
            block: 0,
            last: 0,
            room: usize::MAX,
            sounding: [None; 128],
            pedal: false,
            ons: 0,
            offs: 0,
            others: 0,
            refused: 0,
            faults: [None; KEPT],
            found: 0,
        }
    }

    /// A block begins in which there is room for so many events.
    pub fn begin(&mut self, room: usize) {
        self.last = 0;
        self.room = room;
    }

    /// The block is over.
    pub fn end(&mut self) {
        self.block += 1;
    }

    /// Nothing may sound now.
    pub fn expect_silence(&mut self) {
        for pitch in 0..128u8 {
            if self.sounding[usize::from(pitch)].is_some() {
                self.fault(Fault::Hangs(self.block, pitch));
            }
        }
        if self.pedal {
            self.fault(Fault::PedalHangs(self.block));
        }
    }

    /// Note-ons, note-offs, other events, refused events.
    pub fn counts(&self) -> (u64, u64, u64, u64) {
        (self.ons, self.offs, self.others, self.refused)
    }

    /// What was wrong.
    pub fn faults(&self) -> Vec<Fault> {
        self.faults.iter().flatten().copied().collect()
    }

    fn fault(&mut self, fault: Fault) {
        if let Some(place) = self.faults.get_mut(self.found) {
            *place = Some(fault);
            self.found += 1;
        }
    }
}

impl EventSink for Ear {
    fn push(&mut self, event: OutputEvent) -> Result<(), Full> {
        if self.room == 0 {
            self.refused += 1;
            return Err(Full);
        }
        self.room -= 1;
        if event.offset < self.last {
            self.fault(Fault::OutOfOrder(self.block));
        }
        self.last = event.offset;
        let mut in_range = event.offset < self.frames;
        match event.message {
            // A velocity out of range can't be: its type has none.
            OutputMessage::NoteOn { hand, channel, pitch, .. } => {
                self.ons += 1;
                in_range &= channel < 16;
                let place = &mut self.sounding[pitch.index()];
                let sounded = place.replace((hand, channel)).is_some();
                if sounded {
                    self.fault(Fault::StruckTwice(self.block, pitch.key()));
                }
            }
            OutputMessage::NoteOff { hand, channel, pitch } => {
                self.offs += 1;
                in_range &= channel < 16;
                if self.sounding[pitch.index()].take() != Some((hand, channel)) {
                    self.fault(Fault::EndedTwice(self.block, pitch.key()));
                }
            }
            OutputMessage::Pedal(down) => {
                self.others += 1;
                self.pedal = down;
            }
            OutputMessage::Other { channel, .. } => {
                self.others += 1;
                in_range &= channel < 16;
            }
        }
        if !in_range {
            self.fault(Fault::OutOfRange(self.block));
        }
        Ok(())
    }
}

/// What is wrong with a snapshot, if anything is.
pub(super) fn look(snapshot: &Snapshot) -> Option<Fault> {
    let [_, right, left] = snapshot.sounding;
    let chance = snapshot.long_note_chance;
    let numbers = snapshot.tempo.is_finite()
        && snapshot.melody_density.is_finite()
        && (0.0..=1.0).contains(&chance)
        && snapshot.parts <= 16;
    (right & left != 0 || !numbers).then_some(Fault::Snapshot)
}

#[cfg(test)]
mod tests {
    use figwort_theory::{Pitch, Velocity};

    use super::*;

    fn on(key: u8) -> OutputMessage {
        let (pitch, velocity) = (Pitch::new(key), Velocity::new(64));
        OutputMessage::NoteOn { hand: Hand::Left, channel: 0, pitch, velocity }
    }

    fn off(key: u8) -> OutputMessage {
        OutputMessage::NoteOff { hand: Hand::Left, channel: 0, pitch: Pitch::new(key) }
    }

    fn faults(events: &[(u32, OutputMessage)]) -> Vec<Fault> {
        let mut ear = Ear::new(64);
        ear.begin(usize::MAX);
        for (offset, message) in events {
            ear.push(OutputEvent { offset: *offset, message: *message }).unwrap();
        }
        ear.expect_silence();
        ear.faults()
    }

    #[test]
    fn hears_every_kind_of_fault() {
        assert_eq!(faults(&[(0, on(60)), (63, off(60))]), []);
        assert_eq!(faults(&[(5, on(60)), (4, off(60))]), [Fault::OutOfOrder(0)]);
        assert_eq!(faults(&[(5, on(60)), (64, off(60))]), [Fault::OutOfRange(0)]);
        assert_eq!(faults(&[(0, on(60)), (1, on(60)), (2, off(60))]), [Fault::StruckTwice(0, 60)]);
        assert_eq!(faults(&[(0, off(60))]), [Fault::EndedTwice(0, 60)]);
        assert_eq!(faults(&[(0, on(60))]), [Fault::Hangs(0, 60)]);
        assert_eq!(faults(&[(0, OutputMessage::Pedal(true))]), [Fault::PedalHangs(0)]);
    }

    #[test]
    fn refuses_what_there_is_no_room_for() {
        let mut ear = Ear::new(64);
        ear.begin(1);
        assert_eq!(ear.push(OutputEvent { offset: 0, message: on(60) }), Ok(()));
        assert_eq!(ear.push(OutputEvent { offset: 0, message: on(62) }), Err(Full));
        assert_eq!(ear.counts(), (1, 0, 0, 1));
    }
}
