//! The engine listening to a simulated player, and what came out of it.

use figwort_engine::{
    Block, Decision, Engine, EventSink, Figure, Full, Hand, InputEvent, InputMessage, OutputEvent,
    OutputMessage, Settings, Transport,
};
use figwort_theory::{Chord, Metre, Pitch};

use super::{Performance, RATE};

/// What came out: notes of the accompaniment, and decisions, with their frames.
#[derive(Clone, Debug, Default)]
pub struct Heard {
    pub notes: Vec<(u64, OutputMessage)>,
    pub decisions: Vec<(u64, Decision)>,
}

struct Recorder<'a> {
    heard: &'a mut Heard,
    start: u64,
}

impl EventSink for Recorder<'_> {
    fn push(&mut self, event: OutputEvent) -> Result<(), Full> {
        self.heard.notes.push((self.start + u64::from(event.offset), event.message));
        Ok(())
    }

    fn observe(&mut self, offset: u32, decision: &Decision) {
        self.heard.decisions.push((self.start + u64::from(offset), *decision));
    }
}

/// Has the engine listen, in blocks of 2048 frames: their length makes no difference.
pub fn listen(performance: &Performance, settings: &Settings, figures: &[Figure]) -> Heard {
    let mut engine = Engine::new(RATE);
    let mut heard = Heard::default();
    let (mut frame, mut next) = (0u64, 0);
    let bar = f64::from(performance.metre.0) * 4.0 / f64::from(performance.metre.1);
    while frame < performance.length {
        let length = 2_048u64.min(performance.length - frame);
        let mut input = vec![];
        while let Some((at, channel, message)) = performance.events.get(next).filter(|e| e.0 < frame + length)
        {
            input.push(InputEvent { offset: (at - frame) as u32, channel: *channel, message: *message });
            next += 1;
        }
        let beat = frame as f64 * performance.tempo / (60.0 * RATE);
        let transport = Transport {
            playing: true,
            tempo: Some(performance.tempo),
            position: Some(beat),
            bar_start: Some((beat / bar + 1e-9).floor() * bar),
            metre: Metre::new(performance.metre.0, performance.metre.1),
        };
        let block = Block { frames: length as u32, transport, input: &input, settings, figures, chart: None };
        engine.process(block, &mut Recorder { heard: &mut heard, start: frame });
        frame += length;
    }
    heard
}

impl Heard {
    /// Onsets of the accompaniment in a range of frames.
    pub fn onsets(&self, from: u64, to: u64) -> impl Iterator<Item = (u64, Pitch)> + '_ {
        let first = self.notes.partition_point(|(frame, _)| *frame < from);
        self.notes[first..].iter().take_while(move |(frame, _)| *frame < to).filter_map(|(frame, message)| {
            match *message {
                OutputMessage::NoteOn { hand, pitch, .. } if hand != Hand::Melody => Some((*frame, pitch)),
                _ => None,
            }
        })
    }

    /// The chord in force as decided up to a frame, that frame included.
    pub fn chord_at(&self, frame: u64) -> Option<Chord> {
        let after = self.decisions.partition_point(|(at, _)| *at <= frame);
        self.decisions[..after].last().and_then(|(_, decision)| decision.chord)
    }

    /// The chords decided in a range of frames, without repeats.
    pub fn chords(&self, from: u64, to: u64) -> Vec<Chord> {
        let first = self.decisions.partition_point(|(at, _)| *at < from);
        let inside = self.decisions[first..].iter().take_while(|(at, _)| *at < to);
        let mut chords: Vec<Chord> = inside.filter_map(|(_, decision)| decision.chord).collect();
        chords.dedup();
        chords
    }
}

/// How many keys of both hands were struck, and how many were taken for the right hand's or the left's as
/// they were: melody goes through in its frame, harmony doesn't.
pub fn assigned_rightly(performance: &Performance, heard: &Heard) -> (usize, usize) {
    let (mut keys, mut right) = (0, 0);
    for (frame, channel, message) in &performance.events {
        let InputMessage::NoteOn { pitch, .. } = message else { continue };
        let first = heard.notes.partition_point(|(at, _)| at < frame);
        let passed = heard.notes[first..].iter().take_while(|(at, _)| at == frame).any(
            |(_, m)| matches!(m, OutputMessage::NoteOn { hand: Hand::Melody, pitch: p, .. } if p == pitch),
        );
        keys += 1;
        right += usize::from(passed == (*channel == 0));
    }
    (keys, right)
}
