//! Takes from files made here.

use figwort_theory::{Metre, Moment, Pitch, Velocity};
use midly::num::{u4, u7, u15, u24, u28};
use midly::{Format, Fps, Header, MetaMessage, MidiMessage, Smf, Timing, TrackEvent, TrackEventKind};

use super::{Take, TakeMessage, read};
use crate::{SheetError, limits};

type Event = (u32, TrackEventKind<'static>);

fn bytes(timing: Timing, format: Format, tracks: &[&[Event]]) -> Vec<u8> {
    let mut smf = Smf::new(Header::new(format, timing));
    for track in tracks {
        let event = |(delta, kind): &Event| TrackEvent { delta: u28::new(*delta), kind: *kind };
        smf.tracks.push(track.iter().map(event).collect());
    }
    let mut bytes = Vec::new();
    smf.write_std(&mut bytes).expect("written to memory");
    bytes
}

fn ppq(ticks: u16) -> Timing {
    Timing::Metrical(u15::new(ticks))
}

fn midi(channel: u8, message: MidiMessage) -> TrackEventKind<'static> {
    TrackEventKind::Midi { channel: u4::new(channel), message }
}

fn on(channel: u8, key: u8, vel: u8) -> TrackEventKind<'static> {
    midi(channel, MidiMessage::NoteOn { key: u7::new(key), vel: u7::new(vel) })
}

fn off(channel: u8, key: u8) -> TrackEventKind<'static> {
    midi(channel, MidiMessage::NoteOff { key: u7::new(key), vel: u7::new(0) })
}

fn pedal(value: u8) -> TrackEventKind<'static> {
    midi(1, MidiMessage::Controller { controller: u7::new(64), value: u7::new(value) })
}

fn meta(message: MetaMessage<'static>) -> TrackEventKind<'static> {
    TrackEventKind::Meta(message)
}

const END: Event = (0, TrackEventKind::Meta(MetaMessage::EndOfTrack));

/// `+60` and `-60` for keys down and up, `v` and `^` for the pedal, with tick at 1/20160 quarter and channel.
fn events(take: &Take) -> Vec<(i64, u8, String)> {
    let text = |message| match message {
        TakeMessage::NoteOn { pitch, .. } => format!("+{}", Pitch::key(pitch)),
        TakeMessage::NoteOff { pitch } => format!("-{}", Pitch::key(pitch)),
        TakeMessage::Sustain(true) => "v".into(),
        TakeMessage::Sustain(false) => "^".into(),
    };
    take.events.iter().map(|event| (event.at.0, event.channel, text(event.message))).collect()
}

fn at(list: &[(i64, u8, &str)]) -> Vec<(i64, u8, String)> {
    list.iter().map(|(at, channel, text)| (*at, *channel, (*text).to_string())).collect()
}

#[test]
fn times_are_exact_and_tracks_merge() {
    let tempo = meta(MetaMessage::Tempo(u24::new(600_000)));
    let metre = meta(MetaMessage::TimeSignature(6, 3, 24, 8));
    let key = meta(MetaMessage::KeySignature(-3, true));
    let melody: &[Event] =
        &[(0, on(0, 72, 90)), (320, off(0, 72)), (1, on(0, 74, 1)), (479, on(0, 74, 0)), END];
    let chords: &[Event] =
        &[(0, pedal(127)), (160, on(1, 48, 60)), (10, pedal(100)), (470, pedal(0)), (0, off(1, 48)), END];
    let take =
        read(&bytes(ppq(480), Format::Parallel, &[&[(0, tempo), (0, metre), (0, key), END], melody, chords]))
            .expect("a take");
    assert_eq!(
        events(&take),
        at(&[
            (0, 1, "v"),
            (0, 0, "+72"),
            (6_720, 1, "+48"),
            (13_440, 0, "-72"),
            (13_482, 0, "+74"),
            (26_880, 1, "-48"),
            (26_880, 1, "^"),
            (33_600, 0, "-74"),
        ])
    );
    assert_eq!(
        take.events[1].message,
        TakeMessage::NoteOn { pitch: Pitch::new(72), velocity: Velocity::new(90) }
    );
    assert_eq!(take.tempos[0].micros_per_quarter, 600_000);
    assert_eq!(Some(take.metres[0].metre), Metre::new(6, 8));
    assert_eq!(take.key.map(|key| (key.tonic.number(), key.fifths())), Some((0, -3)));
    assert_eq!(take.end, Moment(33_600));
    assert!(take.warnings.is_empty(), "{:?}", take.warnings);
}

#[test]
fn defaults_stand_at_zero() {
    let tempo = meta(MetaMessage::Tempo(u24::new(400_000)));
    let take = read(&bytes(
        ppq(96),
        Format::SingleTrack,
        &[&[(96, tempo), (0, on(0, 60, 1)), (96, off(0, 60)), END]],
    ))
    .expect("a take");
    let tempos: Vec<_> = take.tempos.iter().map(|tempo| (tempo.at, tempo.micros_per_quarter)).collect();
    assert_eq!(tempos, [(Moment::ZERO, 500_000), (Moment::quarters(1), 400_000)]);
    assert_eq!(take.metres.len(), 1);
    assert_eq!(take.metres[0].metre, Metre::FOUR_FOUR);
}

/// Each on has its off, whatever the file does.
#[test]
fn notes_are_paired() {
    let track: &[Event] = &[
        (0, on(0, 60, 80)),
        (240, on(0, 60, 81)),
        (0, off(0, 60)),
        (240, off(0, 60)),
        (0, off(0, 60)),
        (0, on(0, 62, 80)),
        (0, off(0, 62)),
        (0, on(0, 64, 80)),
        (480, END.1),
    ];
    let take = read(&bytes(ppq(480), Format::SingleTrack, &[track])).expect("a take");
    assert_eq!(
        events(&take),
        at(&[
            (0, 0, "+60"),
            (10_080, 0, "-60"),
            (10_080, 0, "+60"),
            (20_160, 0, "-60"),
            (20_160, 0, "+64"),
            (40_320, 0, "-64"),
        ])
    );
    let texts: Vec<_> = take.warnings.iter().map(ToString::to_string).collect();
    assert_eq!(
        texts,
        [
            "notes of no length are left out (1)",
            "note-offs without a note are left out (1)",
            "notes without a note-off end with their track (1)",
        ]
    );
}

#[test]
fn a_file_that_is_cut_off_gives_what_it_has() {
    let track: &[Event] =
        &[(0, on(0, 60, 80)), (480, off(0, 60)), (0, on(0, 62, 80)), (480, off(0, 62)), END];
    let whole = bytes(ppq(480), Format::SingleTrack, &[track]);
    let take = read(&whole[..whole.len() - 7]).expect("a take");
    assert_eq!(take.events.len(), 2);
    assert!(
        take.warnings.iter().any(|warning| warning.text.contains("track 1 is cut off")),
        "{:?}",
        take.warnings
    );
}

#[test]
fn what_cannot_be_read_says_why() {
    let error = |bytes: &[u8]| read(bytes).expect_err("no take").to_string();
    let frames = Timing::Timecode(Fps::Fps25, 40);
    assert!(error(&bytes(frames, Format::SingleTrack, &[&[END]])).contains("SMPTE"));
    assert!(error(&bytes(ppq(480), Format::Sequential, &[&[END], &[END]])).contains("type 2"));
    assert!(error(&bytes(ppq(0), Format::SingleTrack, &[&[END]])).contains("no ticks"));
    assert!(error(b"MThd").contains("not a readable Standard MIDI File"));
    assert!(matches!(read(b""), Err(SheetError::Empty)));
    let ages: Vec<Event> = (0..40).map(|_| (u32::MAX >> 4, pedal(0))).collect();
    assert!(matches!(read(&bytes(ppq(96), Format::SingleTrack, &[&ages])), Err(SheetError::TooLarge { .. })));
}

/// Just as much as is allowed, and one more.
#[test]
fn limits_hold() {
    // Running status: a controller each two bytes and a delta.
    let events = |count: usize| {
        let mut track = b"\0\xb0\x01\x00".to_vec();
        track.extend(b"\0\x01\x00".repeat(count - 2));
        track.extend(b"\0\xff\x2f\0");
        let mut file = b"MThd\0\0\0\x06\0\0\0\x01\x01\xe0MTrk".to_vec();
        file.extend((track.len() as u32).to_be_bytes());
        file.extend(track);
        file
    };
    assert!(read(&events(limits::MAX_EVENTS)).is_ok());
    let what = |result: Result<Take, SheetError>| match result {
        Err(SheetError::TooLarge { what, .. }) => what,
        other => panic!("{other:?}"),
    };
    assert_eq!(what(read(&events(limits::MAX_EVENTS + 1))), "MIDI events");
    let quarters = |count: u32| bytes(ppq(1), Format::SingleTrack, &[&[(count, pedal(0)), END]]);
    assert!(read(&quarters(limits::MAX_QUARTERS as u32)).is_ok());
    assert_eq!(what(read(&quarters(limits::MAX_QUARTERS as u32 + 1))), "quarter notes");
}
