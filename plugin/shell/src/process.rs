//! Host events to engine events and back, on the audio thread.
//!
//! Velocities are exact both ways: a host's 0 to 1 is a MIDI velocity over 127. Frames are offsets in the
//! block. Deliberately absent: music, and memory: everything here has its room from the start.
//!
//! # Real time
//! No allocation, no lock.

use figwort_engine::{
    Decision, EventSink, Full, Hand, InputEvent, InputMessage, OutputEvent, OutputMessage, Transport,
};
use figwort_theory::{Metre, Pitch, Velocity};
use nice_plug::context::process::SendEventError;
use nice_plug::midi::{Channel, Key, MidiResult, VoiceID};
use nice_plug::prelude::{NoteEvent, Plugin, ProcessContext, Transport as HostTransport};

use crate::audition::Audition;
use crate::session::Session;
use crate::tape::Tape;

/// Most events that one call of the engine gets; more make another call.
pub(crate) const CAPACITY: usize = 4096;
/// Most events that one host event can become: every key of every channel let go.
const EXPANSION: usize = 16 * 128;

/// What hosts round their places by, in quarter notes: they give milliseconds at best, or frames.
const ROUNDING: f64 = 1.0 / 64.0;

const SUSTAIN: u8 = 64;
const ALL_SOUND_OFF: u8 = 120;
const ALL_NOTES_OFF: u8 = 123;

/// The host's input, as the engine reads it.
pub(crate) struct Inlet {
    events: Vec<InputEvent>,
    /// Keys that are down on each channel, one bit a key.
    held: [u128; 16],
}

impl Inlet {
    pub(crate) fn new() -> Self {
        Self { events: Vec::with_capacity(CAPACITY), held: [0; 16] }
    }

    /// Forgets what is held.
    pub(crate) fn reset(&mut self) {
        self.held = [0; 16];
        self.events.clear();
    }

    pub(crate) fn events(&self) -> &[InputEvent] {
        &self.events
    }

    pub(crate) fn clear(&mut self) {
        self.events.clear();
    }

    /// Whether any one host event still fits.
    pub(crate) fn has_room(&self) -> bool {
        self.events.len() + EXPANSION < CAPACITY
    }

    /// Takes a host event; `start` is the frame of the host's block at which the engine's begins. Events
    /// without a MIDI form (tuning or volume of single notes) have no meaning for a piano and are left out.
    pub(crate) fn take<S>(&mut self, event: &NoteEvent<S>, start: u32)
    where
        S: nice_plug::prelude::SysExMessage,
    {
        if untouched(event) {
            return;
        }
        let offset = event.timing().saturating_sub(start);
        match *event {
            NoteEvent::NoteOn { channel, key: Key::Number(key), velocity, .. } => {
                let channel = channel.number().unwrap_or(0) & 15;
                self.held[usize::from(channel)] |= 1 << (key & 127);
                let velocity = Velocity::new((velocity * 127.0).round() as i32);
                self.push(offset, channel, InputMessage::NoteOn { pitch: Pitch::new(key), velocity });
            }
            NoteEvent::NoteOff { channel, key, .. } | NoteEvent::Choke { channel, key, .. } => {
                match (channel, key) {
                    (Channel::Number(channel), Key::Number(key)) => {
                        self.held[usize::from(channel & 15)] &= !(1 << (key & 127));
                        self.push(offset, channel & 15, InputMessage::NoteOff { pitch: Pitch::new(key) });
                    }
                    (channel, key) => self.let_go(offset, channel.number(), key.number()),
                }
            }
            NoteEvent::MidiCC { channel, cc: SUSTAIN, value, .. } => {
                self.push(offset, channel & 15, InputMessage::Sustain((value * 127.0).round() >= 64.0));
            }
            NoteEvent::NoteOn { .. } => {}
            _ => {
                if let NoteEvent::MidiCC { channel, cc: ALL_SOUND_OFF | ALL_NOTES_OFF, .. } = *event {
                    self.let_go(offset, Some(channel), None);
                }
                if let Some(MidiResult::Basic(bytes)) = event.as_midi() {
                    self.push(offset, bytes[0] & 15, InputMessage::Other(bytes));
                }
            }
        }
    }

    /// Takes a key that was played without the host.
    pub(crate) fn key(&mut self, offset: u32, channel: u8, pitch: Pitch, velocity: Option<Velocity>) {
        let message = match velocity {
            Some(velocity) => InputMessage::NoteOn { pitch, velocity },
            None => InputMessage::NoteOff { pitch },
        };
        self.insert(offset, channel, message);
    }

    /// Takes a message from a port of our own.
    pub(crate) fn port(&mut self, channel: u8, message: InputMessage) {
        if let InputMessage::Other([status, ALL_SOUND_OFF | ALL_NOTES_OFF, _]) = message
            && status & 0xf0 == 0xb0
        {
            self.let_go(0, Some(channel), None);
        }
        self.insert(0, channel, message);
    }

    /// Takes a message among those that are there already, after all of the same frame.
    pub(crate) fn insert(&mut self, offset: u32, channel: u8, message: InputMessage) {
        let keys = &mut self.held[usize::from(channel & 15)];
        match message {
            InputMessage::NoteOn { pitch, .. } => *keys |= 1 << pitch.key(),
            InputMessage::NoteOff { pitch } => *keys &= !(1 << pitch.key()),
            _ => {}
        }
        if self.events.len() < CAPACITY {
            let place = self.events.partition_point(|event| event.offset <= offset);
            self.events.insert(place, InputEvent { offset, channel: channel & 15, message });
        }
    }

    /// Hosts are to send in order, and not all do: what comes too late goes where it belongs.
    fn push(&mut self, offset: u32, channel: u8, message: InputMessage) {
        // Never more than the room: `has_room` was asked before.
        if self.events.len() < CAPACITY {
            let event = InputEvent { offset, channel, message };
            match self.events.last() {
                Some(last) if last.offset > offset => {
                    let place = self.events.partition_point(|event| event.offset <= offset);
                    self.events.insert(place, event);
                }
                _ => self.events.push(event),
            }
        }
    }

    /// Lets go of every held key that fits; `None` fits all.
    fn let_go(&mut self, offset: u32, channel: Option<u8>, key: Option<u8>) {
        for c in 0..16u8 {
            if channel.is_some_and(|only| only & 15 != c) {
                continue;
            }
            let fits = key.map_or(u128::MAX, |key| 1 << (key & 127));
            let mut keys = self.held[usize::from(c)] & fits;
            self.held[usize::from(c)] &= !keys;
            while keys != 0 {
                let key = keys.trailing_zeros() as u8;
                keys &= keys - 1;
                self.push(offset, c, InputMessage::NoteOff { pitch: Pitch::new(key) });
            }
        }
    }
}

/// In VST3 controllers are parameters, and there are hosts (Ardour 7) that send all of them, as they stand, when a project
/// is opened: a held pedal, mono mode and no volume on sixteen channels. One that nobody has moved stands exactly in the
/// middle, which no controller that was played can: MIDI has an even number of steps. Pitch bend is not meant; in the
/// middle it rests.
fn untouched<S>(event: &NoteEvent<S>) -> bool {
    match *event {
        NoteEvent::MidiCC { value, .. } => value == 0.5,
        NoteEvent::MidiChannelPressure { pressure, .. } => pressure == 0.5,
        _ => false,
    }
}

/// The host's transport at its block's first frame. A bar that would begin only later cannot be the present one: there
/// are hosts that tell four quarter notes times the bar's number from 1, whatever the metre. Then bars count from the
/// song's beginning, as without a word from the host.
pub(crate) fn transport(host: &HostTransport) -> Transport {
    let usable = |value: Option<f64>| value.filter(|v| v.is_finite());
    let part = |value: Option<i32>| value.and_then(|v| u8::try_from(v).ok());
    let position = usable(host.pos_beats());
    let begun = |start: &f64| position.is_none_or(|position| *start <= position + ROUNDING);
    Transport {
        playing: host.playing,
        tempo: usable(host.tempo).filter(|tempo| *tempo > 0.0),
        position,
        bar_start: usable(host.bar_start_pos_beats()).filter(begun),
        metre: part(host.time_sig_numerator)
            .zip(part(host.time_sig_denominator))
            .and_then(|(numerator, denominator)| Metre::new(numerator, denominator)),
    }
}

/// The same some frames later.
pub(crate) fn later(transport: Transport, frames: u32, sample_rate: f32) -> Transport {
    let moved = match (transport.playing, transport.tempo) {
        (true, Some(tempo)) => f64::from(frames) / f64::from(sample_rate) * tempo / 60.0,
        _ => 0.0,
    };
    Transport { position: transport.position.map(|position| position + moved), ..transport }
}

/// Which channel each sounding note went out on, so that its end follows it whatever has been switched
/// meanwhile, and what sounds at all.
#[derive(Debug)]
pub(crate) struct Lanes {
    /// By lane (the melody's sixteen channels, right hand, left hand) and key.
    sent_on: [[u8; 128]; 18],
    /// Keys that sound on each output channel, one bit a key.
    sounding: [u128; 16],
    /// Channels on which the pedal is down, one bit a channel.
    pedals: u16,
}

impl Lanes {
    pub(crate) fn new() -> Self {
        Self { sent_on: [[0; 128]; 18], sounding: [0; 16], pedals: 0 }
    }

    /// Ends what an engine that is gone left sounding. What the host refuses stays for the next block; says
    /// whether all is done.
    pub(crate) fn finish<P: Plugin>(&mut self, context: &mut impl ProcessContext<P>) -> bool {
        for channel in 0..16u8 {
            let keys = &mut self.sounding[usize::from(channel)];
            while *keys != 0 {
                let key = keys.trailing_zeros() as u8;
                if send(context, note_off(0, channel, key)).is_err() {
                    return false;
                }
                *keys &= *keys - 1;
            }
            if self.pedals >> channel & 1 == 1 {
                if send(context, pedal(0, channel, false)).is_err() {
                    return false;
                }
                self.pedals &= !(1 << channel);
            }
        }
        true
    }
}

fn lane(hand: Hand, channel: u8) -> usize {
    match hand {
        Hand::Melody => usize::from(channel & 15),
        Hand::Right => 16,
        Hand::Left => 17,
    }
}

fn note_off<S>(timing: u32, channel: u8, key: u8) -> NoteEvent<S> {
    NoteEvent::NoteOff {
        timing,
        voice_id: VoiceID::Wildcard,
        channel: Channel::Number(channel),
        key: Key::Number(key),
        velocity: 0.0,
    }
}

fn pedal<S>(timing: u32, channel: u8, down: bool) -> NoteEvent<S> {
    NoteEvent::MidiCC { timing, channel, cc: SUSTAIN, value: f32::from(u8::from(down)) }
}

/// Tells instruments behind to let go of everything, whoever struck it.
pub(crate) fn silence_all<P: Plugin>(context: &mut impl ProcessContext<P>, session: &Session) {
    for channel in 0..16 {
        for cc in [SUSTAIN, ALL_NOTES_OFF] {
            // What a full host refuses is no loss: the notes' own ends come too.
            let _ = send(context, NoteEvent::MidiCC { timing: 0, channel, cc, value: 0.0 });
            to_port(session, [0xb0 | channel, cc, 0]);
        }
    }
}

/// Only a full buffer is worth another try: a host that takes no events, or not this kind, never will.
fn send<P: Plugin>(
    context: &mut impl ProcessContext<P>,
    event: NoteEvent<P::SysExMessage>,
) -> Result<(), Full> {
    match context.try_send_event(event) {
        Err((_, SendEventError::HostBufferFull)) => Err(Full),
        _ => Ok(()),
    }
}

/// A message for a port of our own, if one is open.
fn to_port(session: &Session, bytes: [u8; 3]) {
    if session.port_open.load(std::sync::atomic::Ordering::Relaxed) {
        // A port that hangs loses messages rather than holding up the audio thread.
        let _ = session.outgoing.push(bytes);
    }
}

/// The engine's output, as the host wants it.
pub(crate) struct Outlet<'a, 'b, P: Plugin, C: ProcessContext<P>> {
    pub(crate) context: &'a mut C,
    pub(crate) lanes: &'a mut Lanes,
    /// Each hand on a channel of its own.
    pub(crate) apart: bool,
    /// Frame of the host's block at which the engine's begins.
    pub(crate) start: u32,
    pub(crate) audition: Option<&'a mut Audition<'b>>,
    /// Where it is kept what is played.
    pub(crate) session: &'a Session,
    pub(crate) tape: &'a mut Tape,
    pub(crate) plugin: std::marker::PhantomData<P>,
}

impl<P: Plugin, C: ProcessContext<P>> EventSink for Outlet<'_, '_, P, C> {
    fn push(&mut self, event: OutputEvent) -> Result<(), Full> {
        let timing = self.start + event.offset;
        match event.message {
            OutputMessage::NoteOn { hand, channel, pitch, velocity } => {
                let out = match hand {
                    Hand::Melody if self.apart => 0,
                    Hand::Melody => channel & 15,
                    Hand::Right => u8::from(self.apart),
                    Hand::Left => 2 * u8::from(self.apart),
                };
                send(
                    self.context,
                    NoteEvent::NoteOn {
                        timing,
                        voice_id: VoiceID::Wildcard,
                        channel: Channel::Number(out),
                        key: Key::Number(pitch.key()),
                        velocity: f32::from(velocity.value()) / 127.0,
                    },
                )?;
                to_port(self.session, [0x90 | out, pitch.key(), velocity.value()]);
                self.lanes.sent_on[lane(hand, channel)][pitch.index()] = out;
                self.lanes.sounding[usize::from(out)] |= 1 << pitch.key();
            }
            OutputMessage::NoteOff { hand, channel, pitch } => {
                let out = self.lanes.sent_on[lane(hand, channel)][pitch.index()];
                send(self.context, note_off(timing, out, pitch.key()))?;
                to_port(self.session, [0x80 | out & 15, pitch.key(), 64]);
                self.lanes.sounding[usize::from(out & 15)] &= !(1 << pitch.key());
            }
            OutputMessage::Pedal(down) => {
                // Lifted wherever it is down, as the channels may have been switched meanwhile.
                let asked: u16 = if self.apart { 0b110 } else { 0b1 };
                let channels = if down { asked } else { self.lanes.pedals | asked };
                for channel in (0..16u8).filter(|channel| channels >> channel & 1 == 1) {
                    send(self.context, pedal(timing, channel, down))?;
                    to_port(self.session, [0xb0 | channel, SUSTAIN, 127 * u8::from(down)]);
                    let bit = 1 << channel;
                    self.lanes.pedals = if down { self.lanes.pedals | bit } else { self.lanes.pedals & !bit };
                }
            }
            OutputMessage::Other { channel: _, bytes } => {
                if let Ok(event) = NoteEvent::from_midi(timing, &bytes) {
                    send(self.context, event)?;
                    to_port(self.session, bytes);
                }
            }
        }
        if let Some(audition) = &mut self.audition {
            audition.hear(&event, timing as usize);
        }
        self.tape.played(self.session, &event);
        Ok(())
    }

    fn observe(&mut self, offset: u32, decision: &Decision) {
        self.tape.decided(self.session, offset, decision);
    }
}

#[cfg(test)]
pub(crate) mod tests;
