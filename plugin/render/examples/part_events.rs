//! What midly finds in MIDI files, a line of JSON for each, for comparison with another reader
//! (`tests/reference/parts_mido.py`).
#![allow(clippy::print_stdout, reason = "printing is what it is for")]

use std::collections::BTreeMap;
use std::error::Error;

use midly::{MetaMessage, MidiMessage, Smf, Timing, TrackEventKind};
use serde_json::{Value, json};

fn main() -> Result<(), Box<dyn Error>> {
    for path in std::env::args().skip(1) {
        let bytes = std::fs::read(&path)?;
        println!("{}", json!({ "file": path, "events": events(&bytes)? }));
    }
    Ok(())
}

fn events(bytes: &[u8]) -> Result<Vec<Value>, Box<dyn Error>> {
    let file = Smf::parse(bytes)?;
    let ticks = match file.header.timing {
        Timing::Metrical(ticks) => ticks.as_int(),
        Timing::Timecode(..) => 0,
    };
    let mut events = vec![json!(["header", file.header.format as u8, ticks, file.tracks.len()])];
    for (number, track) in file.tracks.iter().enumerate() {
        let mut now = 0_u64;
        let mut sounding = BTreeMap::new();
        for event in track {
            now += u64::from(event.delta.as_int());
            let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
            events.push(match event.kind {
                TrackEventKind::Midi { channel, message } => match message {
                    MidiMessage::NoteOn { key, vel } if vel > 0 => {
                        if sounding.insert(key, (now, vel.as_int())).is_none() {
                            continue;
                        }
                        json!(["struck while sounding", number, now, key.as_int()])
                    }
                    MidiMessage::NoteOn { key, .. } | MidiMessage::NoteOff { key, .. } => {
                        let (at, velocity) = sounding.remove(&key).ok_or("a note that never began ends")?;
                        json!(["note", number, channel.as_int(), key.as_int(), at, now, velocity])
                    }
                    MidiMessage::Controller { controller, value } => {
                        json!(["control", number, channel.as_int(), controller.as_int(), value.as_int(), now])
                    }
                    MidiMessage::ProgramChange { program } => {
                        json!(["program", number, channel.as_int(), program.as_int(), now])
                    }
                    other => json!(["other", number, format!("{other:?}")]),
                },
                TrackEventKind::Meta(meta) => match meta {
                    MetaMessage::Tempo(micros) => json!(["tempo", number, micros.as_int(), now]),
                    MetaMessage::TimeSignature(over, under, ..) => {
                        json!(["metre", number, over, 1_u32 << under, now])
                    }
                    MetaMessage::KeySignature(fifths, minor) => json!(["key", number, fifths, minor, now]),
                    MetaMessage::Marker(bytes) => json!(["marker", number, text(bytes), now]),
                    MetaMessage::CuePoint(bytes) => json!(["cue", number, text(bytes), now]),
                    MetaMessage::TrackName(bytes) => json!(["name", number, text(bytes), now]),
                    MetaMessage::EndOfTrack => json!(["end", number, now]),
                    other => json!(["other", number, format!("{other:?}")]),
                },
                other => json!(["other", number, format!("{other:?}")]),
            });
        }
        if !sounding.is_empty() {
            let keys: Vec<u8> = sounding.keys().map(|key| key.as_int()).collect();
            events.push(json!(["never ended", number, keys]));
        }
    }
    Ok(events)
}
