//! The bytes of a Standard MIDI File as notes, texts, tempos, metres and keys at exact moments.
//!
//! Every note has one beginning and one end: a note-off ends the oldest note of its key, channel and track;
//! what is still sounding at the end ends there; notes of no length and offs without a note are left out.

use std::collections::{BTreeMap, VecDeque};

use figwort_theory::{Key, Metre, Mode, Moment, Pitch, TICKS_PER_QUARTER, Velocity};
use midly::{EventIter, MetaMessage, MidiMessage, TrackEventKind};

use super::chunks::{self, Chunks};
use crate::take::MetreChange;
use crate::warnings::Warnings;
use crate::{DEFAULT_TEMPO, SheetError, TempoChange, limits};

/// Longest text kept.
const MAX_TEXT: usize = 300;
/// Controllers.
const SUSTAIN: u8 = 64;
const ALL_SOUND_OFF: u8 = 120;
const ALL_NOTES_OFF: u8 = 123;

/// A note of a track.
#[derive(Clone, Copy, Debug)]
pub(crate) struct RawNote {
    pub(crate) at: Moment,
    pub(crate) end: Moment,
    pub(crate) track: usize,
    pub(crate) channel: u8,
    pub(crate) pitch: Pitch,
    pub(crate) velocity: Velocity,
}

/// Which meta event a text came in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum TextKind {
    Marker,
    Cue,
    Text,
    Lyric,
}

/// A text at a moment.
#[derive(Clone, Debug)]
pub(crate) struct RawText {
    pub(crate) at: Moment,
    pub(crate) track: usize,
    pub(crate) kind: TextKind,
    pub(crate) text: String,
}

/// A pedal movement: moment, channel, down.
pub(crate) type Pedal = (Moment, u8, bool);

/// What a file holds.
#[derive(Default)]
pub(crate) struct File {
    /// Sorted by onset.
    pub(crate) notes: Vec<RawNote>,
    /// Sorted by moment, changes only.
    pub(crate) pedals: Vec<Pedal>,
    /// Sorted by moment.
    pub(crate) texts: Vec<RawText>,
    /// Names of tracks, by index; empty where a track has none.
    pub(crate) names: Vec<String>,
    /// At least one, the first at zero.
    pub(crate) tempos: Vec<TempoChange>,
    /// At least one, the first at zero.
    pub(crate) metres: Vec<MetreChange>,
    pub(crate) keys: Vec<(Moment, Key)>,
    pub(crate) end: Moment,
    pub(crate) warnings: Warnings,
}

/// Reads a file.
///
/// # Errors
/// [`SheetError::Midi`] where the bytes are no Standard MIDI File of type 0 or 1 that counts time in ticks of a
/// quarter; [`SheetError::TooLarge`] beyond [`limits::MAX_EVENTS`] or [`limits::MAX_QUARTERS`].
pub(crate) fn read(bytes: &[u8]) -> Result<File, SheetError> {
    limits::check_size(bytes)?;
    let Chunks { format, division, tracks } = chunks::read(bytes)?;
    let error = |what: &str, hint: &'static str| Err(SheetError::Midi { what: what.into(), hint });
    if division == 0 {
        return error(
            "the file says that a quarter note has no ticks",
            "export it again with 480 or 960 of them",
        );
    }
    if division & 0x8000 != 0 {
        return error(
            "the file counts time in SMPTE frames, so it has no bars and beats",
            "export it again with its time in ticks to the quarter (PPQ)",
        );
    }
    if format > 1 {
        return error(
            "the file is of type 2, which holds independent sequences",
            "export it again as type 0 or 1",
        );
    }
    let ticks = i64::from(division);
    let mut reader = Reader { file: File::default(), ticks, events: 0, no_length: 0, unmatched: 0, open: 0 };
    for (index, track) in tracks.into_iter().enumerate() {
        reader.track(index, EventIter::new(track))?;
    }
    Ok(reader.finish())
}

struct Reader {
    file: File,
    /// Ticks to the quarter in the file.
    ticks: i64,
    events: usize,
    /// How many notes had no length, offs no note, and notes no off.
    no_length: usize,
    unmatched: usize,
    open: usize,
}

/// Sounding notes by channel and key: indices into the notes, oldest first.
type Sounding = BTreeMap<(u8, u8), VecDeque<usize>>;

impl Reader {
    fn track(&mut self, track: usize, events: EventIter<'_>) -> Result<(), SheetError> {
        self.file.names.push(String::new());
        let mut tick = 0u64;
        let mut sounding = Sounding::new();
        let mut ended = false;
        let mut now = Moment::ZERO;
        for event in events {
            // Outside midly's strict mode a malformed event just ends its track.
            let Ok(event) = event else { break };
            self.events += 1;
            if self.events > limits::MAX_EVENTS {
                return Err(SheetError::TooLarge { what: "MIDI events", limit: limits::MAX_EVENTS });
            }
            tick += u64::from(event.delta.as_int());
            if tick > limits::MAX_QUARTERS as u64 * self.ticks.unsigned_abs() {
                return Err(SheetError::TooLarge { what: "quarter notes", limit: limits::MAX_QUARTERS });
            }
            // In range: a million quarters of 32767 ticks, times 20160, is below 2^63.
            now = Moment((tick as i64 * TICKS_PER_QUARTER + self.ticks / 2) / self.ticks);
            match event.kind {
                TrackEventKind::Midi { channel, message } => {
                    self.message(track, now, channel.as_int(), message, &mut sounding);
                }
                TrackEventKind::Meta(MetaMessage::EndOfTrack) => {
                    ended = true;
                    break;
                }
                TrackEventKind::Meta(meta) => self.meta(track, now, meta),
                TrackEventKind::SysEx(_) | TrackEventKind::Escape(_) => {}
            }
        }
        if !ended {
            let text = format!("track {} is cut off or damaged; what could be read of it is used", track + 1);
            self.file.warnings.push(None, None, text);
        }
        for index in sounding.into_values().flatten() {
            self.open += 1;
            self.close(index, now);
        }
        self.file.end = self.file.end.max(now);
        Ok(())
    }

    fn message(
        &mut self,
        track: usize,
        at: Moment,
        channel: u8,
        message: MidiMessage,
        sounding: &mut Sounding,
    ) {
        match message {
            MidiMessage::NoteOn { key, vel } if vel.as_int() > 0 => {
                let index = self.file.notes.len();
                self.file.notes.push(RawNote {
                    at,
                    end: at,
                    track,
                    channel,
                    pitch: Pitch::new(key.as_int()),
                    velocity: Velocity::new(i32::from(vel.as_int())),
                });
                sounding.entry((channel, key.as_int())).or_default().push_back(index);
            }
            MidiMessage::NoteOn { key, .. } | MidiMessage::NoteOff { key, .. } => {
                match sounding.get_mut(&(channel, key.as_int())).and_then(VecDeque::pop_front) {
                    Some(index) => self.close(index, at),
                    None => self.unmatched += 1,
                }
            }
            MidiMessage::Controller { controller, value } => match controller.as_int() {
                SUSTAIN => self.file.pedals.push((at, channel, value.as_int() >= 64)),
                ALL_SOUND_OFF | ALL_NOTES_OFF => {
                    let held: Vec<_> =
                        sounding.range((channel, 0)..=(channel, 127)).map(|(key, _)| *key).collect();
                    for key in held {
                        for index in sounding.remove(&key).into_iter().flatten() {
                            self.close(index, at);
                        }
                    }
                }
                _ => {}
            },
            _ => {}
        }
    }

    fn close(&mut self, index: usize, at: Moment) {
        if let Some(note) = self.file.notes.get_mut(index) {
            note.end = at;
        }
    }

    fn meta(&mut self, track: usize, at: Moment, meta: MetaMessage<'_>) {
        let mut text = |kind, bytes: &[u8]| {
            let text = decode(bytes);
            if !text.is_empty() && self.file.texts.len() < limits::MAX_CHORDS {
                self.file.texts.push(RawText { at, track, kind, text });
            }
        };
        match meta {
            MetaMessage::Marker(bytes) => text(TextKind::Marker, bytes),
            MetaMessage::CuePoint(bytes) => text(TextKind::Cue, bytes),
            MetaMessage::Text(bytes) => text(TextKind::Text, bytes),
            MetaMessage::Lyric(bytes) => text(TextKind::Lyric, bytes),
            MetaMessage::TrackName(bytes) => {
                if let Some(name) = self.file.names.get_mut(track).filter(|name| name.is_empty()) {
                    *name = decode(bytes);
                }
            }
            MetaMessage::Tempo(micros) if micros.as_int() > 0 => {
                self.file.tempos.push(TempoChange { at, micros_per_quarter: micros.as_int() });
            }
            MetaMessage::Tempo(_) => {
                self.file.warnings.push_once(None, None, "a tempo of no microseconds a quarter is left out");
            }
            MetaMessage::TimeSignature(numerator, power, ..) => {
                let metre = 1u8.checked_shl(u32::from(power)).and_then(|lower| Metre::new(numerator, lower));
                match metre {
                    Some(metre) => self.file.metres.push(MetreChange { at, metre }),
                    None => {
                        let text =
                            format!("{numerator} over 2^{power} is no metre; the metre before it stays");
                        self.file.warnings.push_once(None, None, text);
                    }
                }
            }
            MetaMessage::KeySignature(fifths, minor) if (-7..=7).contains(&fifths) => {
                let mode = if minor { Mode::Minor } else { Mode::Major };
                self.file.keys.push((at, Key::from_fifths(i32::from(fifths), mode)));
            }
            _ => {}
        }
    }

    fn finish(self) -> File {
        let Self { mut file, .. } = self;
        let mut no_length = self.no_length;
        file.notes.retain(|note| {
            no_length += usize::from(note.end <= note.at);
            note.end > note.at
        });
        let mut said = |count: usize, what: &str| {
            if count > 0 {
                file.warnings.push(None, None, format!("{what} ({count})"));
            }
        };
        said(no_length, "notes of no length are left out");
        said(self.unmatched, "note-offs without a note are left out");
        said(self.open, "notes without a note-off end with their track");
        file.notes.sort_by_key(|note| (note.at, note.track, note.channel, note.pitch));
        file.texts.sort_by_key(|text| text.at);
        file.keys.sort_by_key(|key| key.0);
        file.tempos =
            changes(file.tempos, |tempo| tempo.at, |a, b| a.micros_per_quarter == b.micros_per_quarter);
        if file.tempos.first().is_none_or(|first| first.at > Moment::ZERO) {
            file.tempos.insert(0, TempoChange { at: Moment::ZERO, micros_per_quarter: DEFAULT_TEMPO });
        }
        file.metres = changes(file.metres, |metre| metre.at, |a, b| a.metre == b.metre);
        if file.metres.first().is_none_or(|first| first.at > Moment::ZERO) {
            file.metres.insert(0, MetreChange { at: Moment::ZERO, metre: Metre::FOUR_FOUR });
        }
        file.pedals.sort_by_key(|pedal| pedal.0);
        let mut down = [false; 16];
        file.pedals.retain(|(_, channel, is_down)| {
            let before = down.get_mut(usize::from(*channel)).map(|down| core::mem::replace(down, *is_down));
            before.is_some_and(|before| before != *is_down)
        });
        file
    }
}

/// Sorted by moment; of several at one moment the last, and none that changes nothing.
fn changes<T: Copy>(mut list: Vec<T>, at: impl Fn(&T) -> Moment, same: impl Fn(&T, &T) -> bool) -> Vec<T> {
    list.sort_by_key(|item| at(item));
    let mut kept: Vec<T> = Vec::with_capacity(list.len());
    for item in list {
        if kept.last().is_some_and(|last| at(last) == at(&item)) {
            kept.pop();
        }
        if kept.last().is_none_or(|last| !same(last, &item)) {
            kept.push(item);
        }
    }
    kept
}

/// UTF-8, or else Latin-1, in one line without control characters; no longer than [`MAX_TEXT`] characters.
fn decode(bytes: &[u8]) -> String {
    let bytes = bytes.get(..bytes.len().min(MAX_TEXT * 4)).unwrap_or(bytes);
    let text = match core::str::from_utf8(bytes) {
        Ok(text) => text.to_string(),
        Err(_) => bytes.iter().map(|byte| char::from(*byte)).collect(),
    };
    crate::text::in_line(&text).trim_matches(' ').chars().take(MAX_TEXT).collect()
}
