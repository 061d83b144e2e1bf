//! Performances as Standard MIDI Files: type 1, 960 ticks to the quarter.
//!
//! Moments are rounded to the file's ticks (21 of ours each), lengths to at least one. At one tick, note-offs
//! come before pedal movements and those before note-ons, so that a repeated note is never swallowed. Every
//! track has its own channel. Deliberately absent: control messages that the player sent, and quantising.

use figwort_engine::Hand;
use figwort_theory::{Metre, Moment, Span, TICKS_PER_QUARTER};
use midly::num::{u4, u7, u15, u24, u28};
use midly::{Format, Header, MetaMessage, MidiMessage, Smf, Timing, Track, TrackEvent, TrackEventKind};

use crate::perform::{Performance, PlayedBar, PlayedNote};

/// Ticks to the quarter in the file.
pub const TICKS: u16 = 960;
/// Our ticks in one of the file's.
const RATIO: i64 = TICKS_PER_QUARTER / TICKS as i64;
/// Controller number of the sustain pedal.
const SUSTAIN: u8 = 64;

/// The file's bytes: a conductor track (tempo, metre, key, chord symbols as markers, headings as
/// cue points), then the tracks
/// Melody, Right hand and Left hand. A bar shorter or longer than its metre gets a metre of its own length,
/// where there is one, so that bar lines fall where they were played. Empty if the music is longer than the
/// format can count (some days).
pub fn write(performance: &Performance) -> Vec<u8> {
    write_with_keys(performance, &[])
}

/// The same, with the keys that the player's chord hand held in a track of their own, Chords, after the
/// others; without keys there is no such track. It is what was played to Figwort, not a part to be heard.
pub fn write_with_keys(performance: &Performance, keys: &[PlayedNote]) -> Vec<u8> {
    let end = file_tick(performance.end);
    let mut tracks = vec![finish(conductor(performance), end)];
    for hand in Hand::ALL {
        tracks.push(finish(hand_track(performance, hand), end));
    }
    if !keys.is_empty() {
        let channel = u4::new(Hand::ALL.len() as u8);
        let mut events = named(CHORD_TRACK);
        place(&mut events, channel, &notes(keys.iter()));
        tracks.push(finish(events, end));
    }
    let smf = Smf { header: Header::new(Format::Parallel, Timing::Metrical(u15::new(TICKS))), tracks };
    let mut bytes = Vec::new();
    if smf.write(&mut bytes).is_err() {
        bytes.clear();
    }
    bytes
}

/// The name of the track with the chord hand's keys.
pub const CHORD_TRACK: &str = "Chords";

/// The name of a hand's track.
pub fn track_name(hand: Hand) -> &'static str {
    match hand {
        Hand::Melody => "Melody",
        Hand::Right => "Right hand",
        Hand::Left => "Left hand",
    }
}

/// The nearest tick of the file; moments before zero are zero.
fn file_tick(moment: Moment) -> u64 {
    u64::try_from((moment.0.max(0) + RATIO / 2) / RATIO).unwrap_or(0)
}

/// An event at its tick; `rank` orders what falls on one tick.
struct Placed<'a> {
    tick: u64,
    rank: u8,
    kind: TrackEventKind<'a>,
}

fn conductor(performance: &Performance) -> Vec<Placed<'_>> {
    let meta = |tick, rank, message| Placed { tick, rank, kind: TrackEventKind::Meta(message) };
    let mut events = vec![meta(0, 0, MetaMessage::TrackName(performance.title.as_bytes()))];
    for tempo in &performance.tempos {
        let micros = u24::new(tempo.micros_per_quarter.clamp(1, 0xff_ffff));
        events.push(meta(file_tick(tempo.at), 1, MetaMessage::Tempo(micros)));
    }
    let (mut metre, mut key) = (None, None);
    for bar in &performance.bars {
        let written = written_metre(bar);
        if metre.replace(written) != Some(written) {
            let clicks = written.beat().0 * 24 / TICKS_PER_QUARTER;
            let message = MetaMessage::TimeSignature(
                written.numerator(),
                written.denominator().trailing_zeros() as u8,
                u8::try_from(clicks).unwrap_or(24),
                8,
            );
            events.push(meta(file_tick(bar.start), 2, message));
        }
        if key.replace(bar.key) != Some(bar.key) {
            let minor = bar.key.mode == figwort_theory::Mode::Minor;
            let fifths = i8::try_from(bar.key.fifths()).unwrap_or(0);
            events.push(meta(file_tick(bar.start), 3, MetaMessage::KeySignature(fifths, minor)));
        }
    }
    for mark in &performance.chords {
        events.push(meta(file_tick(mark.at), 4, MetaMessage::Marker(mark.text.as_bytes())));
    }
    for (at, heading) in &performance.headings {
        events.push(meta(file_tick(*at), 1, MetaMessage::CuePoint(heading.as_bytes())));
    }
    events
}

/// The metre that makes a bar of this very length, in the bar's own note value or a shorter one; the bar's
/// metre where there is none.
fn written_metre(bar: &PlayedBar) -> Metre {
    if bar.length == bar.metre.bar() {
        return bar.metre;
    }
    let mut denominator = bar.metre.denominator();
    while denominator <= 64 {
        let unit = Span::WHOLE.0 / i64::from(denominator);
        if bar.length.0 % unit == 0
            && let Ok(count) = u8::try_from(bar.length.0 / unit)
            && let Some(metre) = Metre::new(count, denominator)
        {
            return metre;
        }
        denominator *= 2;
    }
    bar.metre
}

fn hand_track(performance: &Performance, hand: Hand) -> Vec<Placed<'static>> {
    let channel = u4::new(hand.index() as u8);
    let midi = |tick, rank, message| Placed { tick, rank, kind: TrackEventKind::Midi { channel, message } };
    let mut events = named(track_name(hand));
    events.push(midi(0, 1, MidiMessage::ProgramChange { program: u7::new(0) }));
    if hand != Hand::Melody {
        for change in &performance.pedal {
            let value = u7::new(if change.down { 127 } else { 0 });
            let message = MidiMessage::Controller { controller: u7::new(SUSTAIN), value };
            events.push(midi(file_tick(change.at), 3, message));
        }
    }
    place(&mut events, channel, &notes(performance.notes.iter().filter(|note| note.hand == hand)));
    events
}

/// A track with nothing but its name.
fn named(name: &str) -> Vec<Placed<'_>> {
    vec![Placed { tick: 0, rank: 0, kind: TrackEventKind::Meta(MetaMessage::TrackName(name.as_bytes())) }]
}

fn place(events: &mut Vec<Placed<'_>>, channel: u4, notes: &[FileNote]) {
    let midi = |tick, rank, message| Placed { tick, rank, kind: TrackEventKind::Midi { channel, message } };
    for note in notes {
        let key = u7::new(note.key);
        let on = MidiMessage::NoteOn { key, vel: u7::new(note.velocity) };
        let off = MidiMessage::NoteOff { key, vel: u7::new(64) };
        events.push(midi(note.on, 4, on));
        events.push(midi(note.off, 2, off));
    }
}

struct FileNote {
    key: u8,
    velocity: u8,
    on: u64,
    off: u64,
}

/// Notes in file ticks: none without length, none sounding into the next of its pitch.
fn notes<'a>(played: impl Iterator<Item = &'a PlayedNote>) -> Vec<FileNote> {
    let mut notes: Vec<FileNote> = Vec::new();
    let mut sorted: Vec<_> = played.collect();
    sorted.sort_by_key(|note| (note.pitch, note.at));
    for note in sorted {
        let on = file_tick(note.at);
        let off = file_tick(note.end()).max(on + 1);
        let (key, velocity) = (note.pitch.key(), note.velocity.value());
        match notes.last_mut() {
            // Two onsets of a pitch that fall on one tick are one note.
            Some(before) if before.key == key && before.on == on => {
                before.off = before.off.max(off);
                before.velocity = before.velocity.max(velocity);
            }
            before => {
                if let Some(before) = before.filter(|before| before.key == key) {
                    before.off = before.off.min(on);
                }
                notes.push(FileNote { key, velocity, on, off });
            }
        }
    }
    notes
}

/// Sorts events, turns places into distances and adds the end.
fn finish<'a>(mut events: Vec<Placed<'a>>, end: u64) -> Track<'a> {
    events.sort_by_key(|event| (event.tick, event.rank));
    let last = events.last().map_or(0, |event| event.tick);
    let end_of_track = TrackEventKind::Meta(MetaMessage::EndOfTrack);
    events.push(Placed { tick: end.max(last), rank: u8::MAX, kind: end_of_track });
    let mut now = 0;
    events
        .into_iter()
        .map(|event| {
            let delta = u28::new(u32::try_from(event.tick - now).unwrap_or(u32::MAX).min(0x0fff_ffff));
            now = event.tick;
            TrackEvent { delta, kind: event.kind }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::perform::PedalChange;
    use crate::sample;
    use figwort_engine::Hand;
    use std::collections::BTreeMap;

    /// Read back by midly's reader: absolute ticks and kinds of a track.
    fn track<'a>(smf: &'a Smf<'a>, index: usize) -> Vec<(u64, TrackEventKind<'a>)> {
        let mut now = 0;
        smf.tracks[index]
            .iter()
            .map(|event| {
                now += u64::from(event.delta.as_int());
                (now, event.kind)
            })
            .collect()
    }

    #[test]
    fn header_tracks_and_names() {
        let bytes = write(&sample::two_bars());
        let smf = Smf::parse(&bytes).unwrap();
        assert_eq!(smf.header, Header::new(Format::Parallel, Timing::Metrical(u15::new(960))));
        let names: Vec<_> = (0..smf.tracks.len())
            .map(|index| match track(&smf, index)[0].1 {
                TrackEventKind::Meta(MetaMessage::TrackName(name)) => {
                    String::from_utf8_lossy(name).into_owned()
                }
                other => panic!("{other:?}"),
            })
            .collect();
        assert_eq!(names, ["Two bars", "Melody", "Right hand", "Left hand"]);
        for index in 0..4 {
            let events = track(&smf, index);
            assert_eq!(*events.last().unwrap(), (9 * 960, TrackEventKind::Meta(MetaMessage::EndOfTrack)));
        }
    }

    /// The sample has a pick-up of one quarter, then 4/4, E flat, 60 a minute, chords on 1 and 5.
    #[test]
    fn the_conductor_tells_tempo_metre_key_and_chords() {
        let bytes = write(&sample::two_bars());
        let smf = Smf::parse(&bytes).unwrap();
        let events = track(&smf, 0);
        let metas: Vec<_> = events
            .iter()
            .map(|(tick, kind)| match kind {
                TrackEventKind::Meta(meta) => (*tick, *meta),
                other => panic!("{other:?}"),
            })
            .collect();
        assert!(metas.contains(&(0, MetaMessage::Tempo(u24::new(1_000_000)))));
        assert!(metas.contains(&(0, MetaMessage::TimeSignature(1, 2, 24, 8))));
        assert!(metas.contains(&(960, MetaMessage::TimeSignature(4, 2, 24, 8))));
        assert!(metas.contains(&(0, MetaMessage::KeySignature(-3, false))));
        let markers: Vec<_> =
            metas.iter().filter(|(_, meta)| matches!(meta, MetaMessage::Marker(_))).copied().collect();
        assert_eq!(
            markers,
            [(960, MetaMessage::Marker(b"Ebmaj7")), (5 * 960, MetaMessage::Marker(b"Bb7b9/F"))]
        );
    }

    /// Every note of the performance is in the file once, at its tick, with its velocity.
    #[test]
    fn notes_come_back() {
        let performance = sample::two_bars();
        let bytes = write(&performance);
        let smf = Smf::parse(&bytes).unwrap();
        for hand in Hand::ALL {
            let mut open = BTreeMap::new();
            let mut found = Vec::new();
            for (tick, kind) in track(&smf, hand.index() + 1) {
                let TrackEventKind::Midi { channel, message } = kind else { continue };
                assert_eq!(usize::from(channel.as_int()), hand.index());
                match message {
                    MidiMessage::NoteOn { key, vel } => {
                        assert!(vel.as_int() > 0);
                        assert!(
                            open.insert(key.as_int(), (tick, vel.as_int())).is_none(),
                            "struck while sounding"
                        );
                    }
                    MidiMessage::NoteOff { key, .. } => {
                        let (on, velocity) = open.remove(&key.as_int()).expect("off without on");
                        assert!(tick > on, "no length");
                        found.push((on, key.as_int(), tick, velocity));
                    }
                    _ => {}
                }
            }
            assert!(open.is_empty());
            let mut wanted: Vec<_> = performance
                .notes
                .iter()
                .filter(|note| note.hand == hand)
                .map(|note| {
                    let tick = |moment: Moment| (moment.0 as f64 / 21.0).round() as u64;
                    (tick(note.at), note.pitch.key(), tick(note.end()), note.velocity.value())
                })
                .collect();
            found.sort_unstable();
            wanted.sort_unstable();
            assert!(!found.is_empty());
            assert_eq!(found, wanted);
        }
    }

    #[test]
    fn offs_come_first_and_nothing_is_without_length() {
        let mut performance = sample::two_bars();
        performance.notes.clear();
        let quarter = Span::QUARTER;
        // A repeated note, each longer than the gap; one that is over at once; two at one place.
        for (at, length) in
            [(0, quarter + Span(500)), (1, quarter), (2, Span(3)), (3, quarter), (3, Span(40))]
        {
            performance.notes.push(sample::note(Hand::Right, 64, Moment::quarters(at), length, 70));
        }
        performance.pedal = vec![PedalChange { frame: 0, at: Moment::quarters(1), down: true }];
        let bytes = write(&performance);
        let smf = Smf::parse(&bytes).unwrap();
        let story: Vec<String> = track(&smf, 2)
            .iter()
            .filter_map(|(tick, kind)| match kind {
                TrackEventKind::Midi { message: MidiMessage::NoteOn { .. }, .. } => {
                    Some(format!("on {tick}"))
                }
                TrackEventKind::Midi { message: MidiMessage::NoteOff { .. }, .. } => {
                    Some(format!("off {tick}"))
                }
                TrackEventKind::Midi { message: MidiMessage::Controller { value, .. }, .. } => {
                    Some(format!("pedal {value} {tick}"))
                }
                _ => None,
            })
            .collect();
        assert_eq!(
            story,
            [
                "on 0",
                "off 960",
                "pedal 127 960",
                "on 960",
                "off 1920",
                "on 1920",
                "off 1921",
                "on 2880",
                "off 3840"
            ]
        );
    }

    #[test]
    fn odd_bars_get_a_metre_of_their_length() {
        let bar = |length: Span| PlayedBar {
            start: Moment::ZERO,
            length,
            metre: Metre::FOUR_FOUR,
            key: figwort_theory::Key::default(),
            number: 1,
            section: false,
        };
        assert_eq!(written_metre(&bar(Span::WHOLE)), Metre::FOUR_FOUR);
        assert_eq!(Some(written_metre(&bar(Span::EIGHTH * 3))), Metre::new(3, 8));
        assert_eq!(Some(written_metre(&bar(Span::QUARTER * 5))), Metre::new(5, 4));
        assert_eq!(written_metre(&bar(Span(1))), Metre::FOUR_FOUR);
    }
}
