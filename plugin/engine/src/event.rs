//! What goes into the engine and what comes out: frames, transport, input and output events.
//!
//! Frames appear only here and in the clock; everything behind is in musical time.

use figwort_theory::{Metre, Pitch, Velocity};

use crate::book::Figure;
use crate::chart::Chart;
use crate::observation::Decision;

use crate::settings::Settings;

/// One call's worth of input. All of it is borrowed; nothing is kept but values.
#[derive(Clone, Copy, Debug)]
pub struct Block<'a> {
    /// Length of the block in frames, 1 to 8192 in practice; any length is allowed.
    pub frames: u32,
    /// The host's transport at the block's first frame.
    pub transport: Transport,
    /// Events in order of offset. An event that is out of order or past the end is moved to the nearest
    /// frame that keeps the order; none is lost.
    pub input: &'a [InputEvent],
    /// Settings for the whole block.
    pub settings: &'a Settings,
    /// The figures that may be played, usually those of the manner in use.
    pub figures: &'a [Figure],
    /// A sheet to follow, if one is loaded.
    pub chart: Option<&'a Chart<'a>>,
}

/// The host's transport, with whatever the host doesn't know left out.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Transport {
    /// Whether the host plays.
    pub playing: bool,
    /// Quarter notes per minute.
    pub tempo: Option<f64>,
    /// Position in quarter notes from the song's beginning; may be rounded by the host.
    pub position: Option<f64>,
    /// Start of the present bar, in quarter notes.
    pub bar_start: Option<f64>,
    /// Time signature.
    pub metre: Option<Metre>,
}

/// Something that the player or the host's track sends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct InputEvent {
    /// Frames from the block's beginning.
    pub offset: u32,
    /// MIDI channel, 0 to 15.
    pub channel: u8,
    /// What happened.
    pub message: InputMessage,
}

/// The messages that the engine understands; all others go through untouched.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum InputMessage {
    /// A key goes down.
    NoteOn {
        /// Which key.
        pitch: Pitch,
        /// How hard.
        velocity: Velocity,
    },
    /// A key comes up.
    NoteOff {
        /// Which key.
        pitch: Pitch,
    },
    /// The sustain pedal (controller 64): down at 64 and above.
    Sustain(bool),
    /// Any other channel message (controllers, bend, pressure), passed on in the same frame.
    Other([u8; 3]),
}

/// Who plays a note that comes out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Hand {
    /// The melody: the player's own notes, or the sheet's.
    Melody,
    /// The accompaniment's right hand.
    Right,
    /// The accompaniment's left hand.
    Left,
}

impl Hand {
    /// All three, in the order of the part file's tracks.
    pub const ALL: [Self; 3] = [Self::Melody, Self::Right, Self::Left];

    /// Position in [`Hand::ALL`].
    pub const fn index(self) -> usize {
        self as usize
    }
}

/// Something that Figwort plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OutputEvent {
    /// Frames from the block's beginning; never decreasing within a block, always inside it.
    pub offset: u32,
    /// What happens.
    pub message: OutputMessage,
}

/// The messages that leave.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OutputMessage {
    /// A note begins. No pitch begins while it sounds, whoever plays it.
    NoteOn {
        /// Who plays it.
        hand: Hand,
        /// Channel it came in on (melody), otherwise 0.
        channel: u8,
        /// Which pitch.
        pitch: Pitch,
        /// How strong.
        velocity: Velocity,
    },
    /// A note ends; exactly one for every note-on, with the same hand and channel.
    NoteOff {
        /// Who played it.
        hand: Hand,
        /// As in the note-on.
        channel: u8,
        /// Which pitch.
        pitch: Pitch,
    },
    /// The accompaniment's sustain pedal.
    Pedal(bool),
    /// A message passed on.
    Other {
        /// Channel it came in on.
        channel: u8,
        /// The message as it came.
        bytes: [u8; 3],
    },
}

/// The sink is full; the event was not taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Full;

/// Where output goes.
pub trait EventSink {
    /// Takes an event. The engine tries a refused note-off again in the next block; a refused note-on is
    /// dropped together with its note-off.
    ///
    /// # Errors
    /// [`Full`] when there is no room.
    fn push(&mut self, event: OutputEvent) -> Result<(), Full>;

    /// Told of every musical decision as it is made, for reports; ignored by default.
    fn observe(&mut self, _offset: u32, _decision: &Decision) {}
}
