//! What the plugin is told, in VST3's own words: keys and the transport.

use vst3::Steinberg::Vst::*;

use crate::host::{Send, Transport};

/// A key that goes down or comes up, `offset` frames into the block; anything else is none.
pub(super) fn note(offset: u32, send: &Send) -> Option<Event> {
    // SAFETY: an event is plain numbers, for which zero is a value.
    let mut event: Event = unsafe { std::mem::zeroed() };
    event.sampleOffset = offset as i32;
    match *send {
        Send::On(channel, key, velocity) => {
            event.r#type = Event_::EventTypes_::kNoteOnEvent as u16;
            event.__field0.noteOn = NoteOnEvent {
                channel: i16::from(channel),
                pitch: i16::from(key),
                tuning: 0.0,
                velocity: f32::from(velocity) / 127.0,
                length: 0,
                noteId: -1,
            };
        }
        Send::Off(channel, key) => {
            event.r#type = Event_::EventTypes_::kNoteOffEvent as u16;
            event.__field0.noteOff = NoteOffEvent {
                channel: i16::from(channel),
                pitch: i16::from(key),
                velocity: 0.0,
                noteId: -1,
                tuning: 0.0,
            };
        }
        _ => return None,
    }
    Some(event)
}

/// The transport at the block's first frame, which is the frame `at` since the start.
pub(super) fn context(at: u64, sample_rate: f64, transport: Option<Transport>) -> ProcessContext {
    use ProcessContext_::StatesAndFlags_ as Flag;
    // SAFETY: a context is plain numbers, for which zero is a value.
    let mut context: ProcessContext = unsafe { std::mem::zeroed() };
    context.sampleRate = sample_rate;
    context.projectTimeSamples = at as i64;
    if let Some(transport) = transport {
        context.state = (Flag::kTempoValid
            | Flag::kTimeSigValid
            | Flag::kProjectTimeMusicValid
            | Flag::kBarPositionValid
            | if transport.playing { Flag::kPlaying } else { 0 }) as u32;
        context.tempo = transport.tempo;
        context.timeSigNumerator = i32::from(transport.metre.0);
        context.timeSigDenominator = i32::from(transport.metre.1);
        context.projectTimeMusic = transport.beats;
        context.barPositionMusic = transport.bar_start;
    }
    context
}
