//! The audio thread's side of the record: what is played, with its place in roll time.
//!
//! Roll time runs at the tempo in force and never goes back; while the engine's time runs evenly, roll time is
//! it plus a constant, so bar lines are exact. Deliberately absent: keeping anything, which the session does.
//!
//! # Real time
//! No allocation, no lock.

use figwort_engine::{Decision, Hand, InputEvent, InputMessage, OutputEvent, OutputMessage, Snapshot};
use figwort_theory::{Key, Moment, Span, TICKS_PER_QUARTER};

use crate::session::Session;
use crate::session::history::{Event, What};

/// A difference between engine time and the frames that passed of more than this is a jump, in quarters.
const JUMP: f64 = 0.02;

/// Where roll time is.
#[derive(Debug)]
pub(crate) struct Tape {
    sample_rate: f64,
    /// First frame of the next call.
    frame: u64,
    /// Roll time there.
    roll: Moment,
    /// The engine's time there.
    position: Moment,
    tempo: f64,
    bar: Option<Moment>,
    key: Option<Key>,
    /// Keys of the chord hand that are down, by channel, one bit a key.
    chord_keys: [u128; 16],
    /// Melody keys that sounded in this call, by channel.
    passed: [u128; 16],
    told: bool,
}

impl Tape {
    pub(crate) fn new() -> Self {
        Self {
            sample_rate: 48_000.0,
            frame: 0,
            roll: Moment::ZERO,
            position: Moment::ZERO,
            tempo: 0.0,
            bar: None,
            key: None,
            chord_keys: [0; 16],
            passed: [0; 16],
            told: false,
        }
    }

    /// Goes on at another sample rate.
    pub(crate) fn set_rate(&mut self, sample_rate: f32) {
        self.sample_rate = f64::from(sample_rate.max(1.0));
        self.told = false;
    }

    /// Roll time at the next frame.
    pub(crate) fn roll(&self) -> Moment {
        self.roll
    }

    fn ticks(&self, frames: u32) -> f64 {
        f64::from(frames) * self.tempo * TICKS_PER_QUARTER as f64 / (60.0 * self.sample_rate)
    }

    fn push(&self, session: &Session, offset: u32, what: What) {
        let at = self.roll + Span(self.ticks(offset).round() as i64);
        session.ring.push(Event { at, frame: self.frame + u64::from(offset), what });
    }

    /// A call of the engine begins; `tempo` is the host's, or the player's own.
    pub(crate) fn begin(&mut self, session: &Session, tempo: f64) {
        if !self.told {
            self.push(session, 0, What::SampleRate(self.sample_rate as f32));
        }
        if !self.told || tempo != self.tempo {
            self.tempo = tempo;
            self.push(session, 0, What::Tempo(tempo as f32));
        }
        self.told = true;
        self.passed = [0; 16];
    }

    /// Something that left the engine.
    pub(crate) fn played(&mut self, session: &Session, event: &OutputEvent) {
        let what = match event.message {
            OutputMessage::NoteOn { hand, pitch, velocity, .. } => What::On { hand, pitch, velocity },
            OutputMessage::NoteOff { hand, pitch, .. } => What::Off { hand, pitch },
            OutputMessage::Pedal(down) => What::Pedal(down),
            OutputMessage::Other { .. } => return,
        };
        if let OutputMessage::NoteOn { hand: Hand::Melody, channel, pitch, .. } = event.message {
            self.passed[usize::from(channel & 15)] |= 1 << pitch.key();
        }
        self.push(session, event.offset, what);
    }

    /// The keys that went in and did not come out: the chord hand's. After the engine's call.
    pub(crate) fn keys(&mut self, session: &Session, input: &[InputEvent]) {
        for event in input {
            let keys = usize::from(event.channel & 15);
            match event.message {
                InputMessage::NoteOn { pitch, velocity } if self.passed[keys] >> pitch.key() & 1 == 0 => {
                    self.chord_keys[keys] |= 1 << pitch.key();
                    self.push(session, event.offset, What::ChordKeyDown { pitch, velocity });
                }
                InputMessage::NoteOff { pitch } if self.chord_keys[keys] >> pitch.key() & 1 == 1 => {
                    self.chord_keys[keys] &= !(1 << pitch.key());
                    self.push(session, event.offset, What::ChordKeyUp(pitch));
                }
                _ => {}
            }
        }
    }

    /// A decision.
    pub(crate) fn decided(&mut self, session: &Session, offset: u32, decision: &Decision) {
        self.push(session, offset, What::Decided(decision.chord));
    }

    /// The call is over.
    pub(crate) fn end(&mut self, session: &Session, frames: u32, snapshot: &Snapshot) {
        let passed = self.ticks(frames);
        let moved = snapshot.position - self.position;
        let stands = moved.0 == 0 && passed > 1.5;
        let evenly = !stands && (moved.0 as f64 - passed).abs() <= JUMP * TICKS_PER_QUARTER as f64;
        let end = self.roll + if evenly { moved } else { Span(passed.round() as i64) };
        if let Some(metre) = snapshot.metre
            && (self.bar != Some(snapshot.bar_start) || !evenly)
        {
            let place = end - (snapshot.position - snapshot.bar_start);
            let cut = place < self.roll;
            // A standing clock begins no bar, block after block.
            if !stands {
                let at = place.max(self.roll);
                let what = What::Bar { metre, cut };
                session.ring.push(Event { at, frame: self.frame, what });
                self.bar = Some(snapshot.bar_start);
            }
        }
        if self.key != Some(snapshot.key) {
            self.key = Some(snapshot.key);
            self.push(session, 0, What::KeyHeard(snapshot.key));
        }
        self.roll = end.max(self.roll);
        self.position = snapshot.position;
        self.frame += u64::from(frames);
    }
}
