//! What both hosts have in common: what is sent, what is heard, and a run through many blocks.

use std::path::PathBuf;
use std::thread::ScopedJoinHandle;
use std::time::Duration;

/// A host's transport at the first frame of a block.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Transport {
    /// Whether it runs.
    pub playing: bool,
    /// Position in quarter notes.
    pub beats: f64,
    /// Start of the present bar in quarter notes.
    pub bar_start: f64,
    /// Quarter notes a minute.
    pub tempo: f64,
    /// Time signature.
    pub metre: (u16, u16),
}

/// Something sent to the plugin.
#[derive(Clone, Debug, PartialEq)]
pub enum Send {
    /// A key goes down; velocity 1 to 127.
    On(u8, u8, u8),
    /// A key comes up: channel and key.
    Off(u8, u8),
    /// A controller: channel, number, value.
    Controller(u8, u8, u8),
    /// A parameter by name, to a normalised value from 0 to 1.
    Set(&'static str, f64),
}

/// Something that the plugin sent, with its frame since the start.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Heard {
    /// Frame, channel, key, velocity.
    On(u64, u8, u8, u8),
    /// Frame, channel, key.
    Off(u64, u8, u8),
    /// Frame, channel, controller, value.
    Controller(u64, u8, u8, u8),
    /// Frame and bytes of another MIDI message.
    Midi(u64, [u8; 3]),
}

impl Heard {
    /// Its frame.
    pub fn frame(&self) -> u64 {
        match *self {
            Self::On(frame, ..)
            | Self::Off(frame, ..)
            | Self::Controller(frame, ..)
            | Self::Midi(frame, _) => frame,
        }
    }
}

/// A velocity as hosts send it, and back. Panics where a value is none of the 127.
pub(crate) fn velocity_back(value: f64) -> u8 {
    let velocity = (value * 127.0).round();
    assert!((velocity / 127.0 - value).abs() < 1e-6, "velocity {value} is not one of 127");
    assert!((1.0..=127.0).contains(&velocity), "velocity {value} is out of range");
    velocity as u8
}

/// A block's two channels of audio. Not silent beforehand: the plugin has to write its silence.
pub(crate) struct Audio(pub(crate) [Vec<f32>; 2]);

impl Audio {
    pub(crate) fn of(frames: usize) -> Self {
        Self([vec![1.0; frames], vec![1.0; frames]])
    }

    /// The loudest sample.
    pub(crate) fn peak(&self) -> f32 {
        self.0.iter().flatten().fold(0.0, |peak, sample| peak.max(sample.abs()))
    }
}

/// Where a block's events lie, which have to rise and stay within it.
pub(crate) struct Offsets {
    at: u64,
    frames: usize,
    last: u32,
}

impl Offsets {
    /// Of a block that begins `at` frames since the start.
    pub(crate) fn of(at: u64, frames: usize) -> Self {
        Self { at, frames, last: 0 }
    }

    /// The frame since the start of the next event. Panics where it lies before the last one or outside the block.
    pub(crate) fn frame(&mut self, offset: u32) -> u64 {
        let (last, frames) = (self.last, self.frames);
        assert!(offset >= last && (offset as usize) < frames, "event at {offset} after {last} of {frames}");
        self.last = offset;
        self.at + u64::from(offset)
    }
}

/// Asks for the state over and over while the audio thread plays. Returns what that heard and the states.
pub(crate) fn meanwhile<'scope>(
    player: ScopedJoinHandle<'scope, Vec<Heard>>,
    mut state: impl FnMut() -> Vec<u8>,
) -> (Vec<Heard>, Vec<Vec<u8>>) {
    let mut states = vec![state()];
    while !player.is_finished() {
        states.push(state());
        std::thread::sleep(Duration::from_millis(1));
    }
    (player.join().expect("the audio thread comes to its end"), states)
}

/// What a host shows of a parameter.
#[derive(Clone, Debug, PartialEq)]
pub struct Parameter {
    /// The host's number for it.
    pub id: u32,
    /// Its name.
    pub name: String,
    /// Least value in the host's own scale.
    pub min: f64,
    /// Greatest value in the host's own scale.
    pub max: f64,
    /// Value when nobody has set it, in the host's own scale.
    pub usual: f64,
    /// Present value in the host's own scale.
    pub value: f64,
}

/// What a block brings for the audio that the plugin puts out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Buffers {
    /// Two channels, as the plugin asks for.
    #[default]
    Stereo,
    /// No output at all.
    NoPorts,
    /// An output without channels, its pointer null.
    NoChannels,
}

/// A plugin in a host.
pub trait Host {
    /// Activates at a sample rate, on the main thread.
    fn activate(&mut self, sample_rate: f64);
    /// Starts processing in an active plugin.
    fn begin(&mut self);
    /// Stops processing, if it runs; the plugin stays active.
    fn end(&mut self);
    /// Deactivates, if it is active and does not process.
    fn deactivate(&mut self);
    /// Activates at a sample rate and starts processing.
    fn start(&mut self, sample_rate: f64) {
        self.activate(sample_rate);
        self.begin();
    }
    /// Stops processing and deactivates.
    fn stop(&mut self) {
        self.end();
        self.deactivate();
    }
    /// What the blocks from now on bring for audio.
    fn set_buffers(&mut self, buffers: Buffers);
    /// Hands over a parameter without a block, as hosts do that are not playing; normalised, 0 to 1. The
    /// plugin is active or not, and not processing.
    fn flush(&mut self, name: &str, value: f64);
    /// Plays a script from start to stop on another thread, and asks for the state on this one meanwhile, over
    /// and over. Returns what was heard and the states.
    fn play_apart(&mut self, script: &Script, sizes: &[usize]) -> (Vec<Heard>, Vec<Vec<u8>>);
    /// Runs one block. `at` is the frame since the start; offsets in `input` count from the block's start.
    /// Panics when the output is out of order or outside the block.
    fn block(
        &mut self,
        at: u64,
        frames: usize,
        transport: Option<Transport>,
        input: &[(u32, Send)],
    ) -> Vec<Heard>;
    /// Loudest sample of the last block.
    fn peak(&self) -> f32;
    /// The player's parameters, without those that stand for MIDI controllers.
    fn parameters(&mut self) -> Vec<Parameter>;
    /// A value in the host's scale as the host shows it.
    fn words(&mut self, parameter: &Parameter, value: f64) -> String;
    /// Words as a value in the host's scale; `None` when they mean nothing.
    fn meant(&mut self, parameter: &Parameter, words: &str) -> Option<f64>;
    /// The state as the host stores it.
    fn save(&mut self) -> Vec<u8>;
    /// Loads a state; whether the plugin took it.
    fn load(&mut self, state: &[u8]) -> bool;

    /// A parameter by name.
    fn parameter(&mut self, name: &str) -> Parameter {
        let all = self.parameters();
        all.into_iter().find(|p| p.name == name).unwrap_or_else(|| panic!("no parameter {name:?}"))
    }
}

/// A performance for a plugin: what to send, and a transport.
#[derive(Clone, Debug)]
pub struct Script {
    /// What to send, by frame.
    pub events: Vec<(u64, Send)>,
    /// Length in frames.
    pub frames: u64,
    /// Quarter notes a minute.
    pub tempo: f64,
    /// Time signature.
    pub metre: (u16, u16),
    /// Frames per second.
    pub sample_rate: f64,
    /// The frame at which the transport stops, if it runs.
    pub stops_at: Option<u64>,
    /// Whether there is a transport at all.
    pub has_transport: bool,
    /// The host's rounding error, in quarter notes.
    pub jitter: f64,
}

impl Script {
    /// A silent script of some seconds at 48 kHz with a running transport in 4/4.
    pub fn new(seconds: f64, tempo: f64) -> Self {
        Self {
            events: Vec::new(),
            frames: (seconds * 48_000.0) as u64,
            tempo,
            metre: (4, 4),
            sample_rate: 48_000.0,
            stops_at: None,
            has_transport: true,
            jitter: 0.0,
        }
    }

    /// The frame of a place in quarter notes.
    pub fn frame(&self, beats: f64) -> u64 {
        (beats * 60.0 / self.tempo * self.sample_rate).round() as u64
    }

    /// Adds a note from a place for a length, both in quarter notes.
    pub fn note(&mut self, channel: u8, key: u8, velocity: u8, at: f64, length: f64) -> &mut Self {
        let (on, off) = (self.frame(at), self.frame(at + length));
        self.events.push((on, Send::On(channel, key, velocity)));
        self.events.push((off, Send::Off(channel, key)));
        self
    }

    /// Adds something at a place in quarter notes.
    pub fn at(&mut self, beats: f64, send: Send) -> &mut Self {
        let frame = self.frame(beats);
        self.events.push((frame, send));
        self
    }

    /// The transport at a frame, as a host that rounds would tell it.
    pub fn transport(&self, frame: u64) -> Option<Transport> {
        // A transport that stands stays where it stopped.
        let reached = self.stops_at.map_or(frame, |stop| stop.min(frame));
        let beats = reached as f64 / self.sample_rate * self.tempo / 60.0;
        let bar = 4.0 * f64::from(self.metre.0) / f64::from(self.metre.1);
        // A number without pattern from the frame, -1 to 1.
        let noise = (frame.wrapping_mul(0x9e37_79b9_7f4a_7c15) >> 11) as f64 / (1u64 << 52) as f64 - 1.0;
        self.has_transport.then(|| Transport {
            playing: self.stops_at.is_none_or(|stop| frame < stop),
            beats: beats + noise * self.jitter,
            bar_start: (beats / bar).floor() * bar,
            tempo: self.tempo,
            metre: self.metre,
        })
    }

    /// Runs it through a started plugin in blocks of these sizes, over and over.
    pub fn run(&self, host: &mut impl Host, sizes: &[usize]) -> Vec<Heard> {
        self.run_with(sizes, |at, frames, transport, input| host.block(at, frames, transport, input))
    }

    /// The same through whatever plays a block.
    pub fn run_with(
        &self,
        sizes: &[usize],
        mut block: impl FnMut(u64, usize, Option<Transport>, &[(u32, Send)]) -> Vec<Heard>,
    ) -> Vec<Heard> {
        let mut events = self.events.clone();
        events.sort_by_key(|event| event.0);
        let mut next = 0;
        let mut heard = Vec::new();
        let mut at = 0;
        let mut sizes = sizes.iter().cycle();
        while at < self.frames {
            let mut size = (*sizes.next().unwrap() as u64).min(self.frames - at);
            if let Some(stop) = self.stops_at.filter(|stop| *stop > at && *stop < at + size) {
                // A host changes its transport between blocks.
                size = stop - at;
            }
            let end = at + size;
            let mut input = Vec::new();
            while let Some((frame, send)) = events.get(next).filter(|event| event.0 < end) {
                input.push(((frame - at) as u32, send.clone()));
                next += 1;
            }
            heard.extend(block(at, size as usize, self.transport(at), &input));
            at = end;
        }
        heard
    }
}

/// The path of a built bundle from the environment.
///
/// # Panics
/// With what to do when it is not set or not there.
pub fn bundle(variable: &str) -> PathBuf {
    let advice = "run `cargo xtask test`, which builds the bundles and sets it, or \
                  `cargo xtask bundle --dev` and set it to what that prints";
    let path = std::env::var_os(variable).unwrap_or_else(|| panic!("{variable} is not set: {advice}"));
    let path = PathBuf::from(path);
    assert!(path.exists(), "{variable} names {}, which is not there: {advice}", path.display());
    path
}

/// Checks that every note-on has exactly one note-off on its channel and none is struck while it sounds.
///
/// # Panics
/// At the first note that breaks the rule, or when something still sounds at the end.
pub fn check_notes(heard: &[Heard]) {
    let mut sounding = [0u128; 16];
    for event in heard {
        match *event {
            Heard::On(_, channel, key, _) => {
                assert_eq!(
                    sounding[usize::from(channel)] >> key & 1,
                    0,
                    "{event:?} is struck while it sounds"
                );
                sounding[usize::from(channel)] |= 1 << key;
            }
            Heard::Off(_, channel, key) => {
                assert_eq!(
                    sounding[usize::from(channel)] >> key & 1,
                    1,
                    "{event:?} ends what does not sound"
                );
                sounding[usize::from(channel)] &= !(1 << key);
            }
            _ => {}
        }
    }
    assert_eq!(sounding, [0; 16], "something still sounds at the end");
}
