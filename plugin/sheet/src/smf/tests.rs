//! Lead sheets from MIDI files made here.

use figwort_theory::{Metre, Moment, Span};
use midly::num::{u4, u7, u15, u28};
use midly::{Format, Header, MetaMessage, MidiMessage, Smf, Timing, TrackEvent, TrackEventKind};

use super::read_sheet;
use crate::Sheet;

mod broken;

/// Notes (tick, length, key) on a channel, and texts, as a track. 480 ticks a quarter.
#[derive(Default)]
struct Track(Vec<(u32, TrackEventKind<'static>)>);

impl Track {
    fn named(name: &'static str) -> Self {
        Self::default().meta(0, MetaMessage::TrackName(name.as_bytes()))
    }

    fn meta(mut self, at: u32, meta: MetaMessage<'static>) -> Self {
        self.0.push((at, TrackEventKind::Meta(meta)));
        self
    }

    fn markers(mut self, markers: &[(u32, &'static str)]) -> Self {
        for (at, text) in markers {
            self = self.meta(*at, MetaMessage::Marker(text.as_bytes()));
        }
        self
    }

    fn notes(mut self, channel: u8, notes: &[(u32, u32, u8)]) -> Self {
        for (at, length, key) in notes {
            let key = u7::new(*key);
            let midi = |message| TrackEventKind::Midi { channel: u4::new(channel), message };
            self.0.push((*at, midi(MidiMessage::NoteOn { key, vel: u7::new(70) })));
            self.0.push((at + length, midi(MidiMessage::NoteOff { key, vel: u7::new(0) })));
        }
        self
    }
}

fn sheet(tracks: Vec<Track>) -> Sheet {
    read_sheet(&bytes(tracks)).expect("a sheet")
}

fn bytes(tracks: Vec<Track>) -> Vec<u8> {
    let mut smf = Smf::new(Header::new(Format::Parallel, Timing::Metrical(u15::new(480))));
    for Track(mut events) in tracks {
        events.sort_by_key(|event| event.0);
        let mut before = 0;
        let mut track: Vec<TrackEvent<'static>> = Vec::new();
        for (at, kind) in events {
            track.push(TrackEvent { delta: u28::new(at - before), kind });
            before = at;
        }
        track.push(TrackEvent { delta: u28::new(0), kind: TrackEventKind::Meta(MetaMessage::EndOfTrack) });
        smf.tracks.push(track);
    }
    let mut bytes = Vec::new();
    smf.write_std(&mut bytes).expect("written to memory");
    bytes
}

fn chords(sheet: &Sheet) -> Vec<(i64, String)> {
    sheet.chords.iter().map(|chord| (chord.at.0 / 20_160, chord.symbol.to_string())).collect()
}

fn at(list: &[(i64, &str)]) -> Vec<(i64, String)> {
    list.iter().map(|(at, text)| (*at, (*text).to_string())).collect()
}

const TUNE: [(u32, u32, u8); 4] = [(480, 480, 72), (960, 960, 74), (1920, 480, 76), (2400, 960, 72)];

#[test]
fn melody_by_name_and_chords_by_marker() {
    let meta = Track::named("Waltz for a test")
        .meta(0, MetaMessage::TimeSignature(1, 2, 24, 8))
        .meta(480, MetaMessage::TimeSignature(3, 2, 24, 8))
        .meta(0, MetaMessage::KeySignature(1, false))
        .markers(&[(480, "G"), (1440, "Am7/E"), (1440, "D7"), (1920, "D7"), (1920, "Verse"), (2400, "D7")]);
    // A higher track is not the melody when another is named so.
    let high = Track::named("bells").notes(3, &[(0, 480, 96)]);
    let sheet = sheet(vec![meta, Track::named("Melody").notes(0, &TUNE), high]);
    assert_eq!(sheet.title, "Waltz for a test");
    assert_eq!(sheet.melody.iter().map(|note| note.pitch.key()).collect::<Vec<_>>(), [72, 74, 76, 72]);
    assert_eq!(sheet.melody[0].at, Moment::quarters(1));
    assert_eq!(sheet.melody[0].velocity.value(), 70);
    assert_eq!(chords(&sheet), at(&[(1, "G"), (3, "Am7/E"), (4, "D7")]));
    let bars: Vec<_> = sheet.bars.iter().map(|bar| (bar.start.0 / 20_160, bar.number, bar.section)).collect();
    assert_eq!(bars, [(0, 0, true), (1, 1, false), (4, 2, true)]);
    assert_eq!(Some(sheet.bars[0].metre), Metre::new(3, 4));
    assert!(sheet.is_pickup(0));
    assert_eq!(sheet.key.fifths(), 1);
    assert!(sheet.warnings.is_empty(), "{:?}", sheet.warnings);
}

#[test]
fn melody_by_height_and_chords_from_blocks() {
    let melody = Track::default().notes(0, &[(0, 500, 72), (480, 480, 74), (960, 960, 76)]);
    let blocks = [(0, 470, 48), (5, 470, 52), (10, 470, 55), (960, 960, 47), (960, 960, 50), (960, 960, 55)];
    let drums = Track::default().notes(9, &[(0, 240, 100), (480, 240, 100)]);
    let sheet = sheet(vec![melody, Track::default().notes(1, &blocks), drums]);
    assert_eq!(sheet.melody.len(), 3);
    // Run together by 20 ticks: cut where the next begins.
    assert_eq!(sheet.melody[0].length, Span::QUARTER);
    assert_eq!(chords(&sheet), at(&[(0, "C"), (2, "G/B")]));
    assert_eq!(sheet.warnings.len(), 1);
    assert!(sheet.warnings[0].text.contains("track 2, channel 2"), "{:?}", sheet.warnings);
}

/// Chords alone are chords; a tune in full harmony is a tune. Songs to sing along to say their titles in texts.
#[test]
fn chords_alone_and_tunes_in_chords() {
    let block = |at: u32, length: u32, keys: [u8; 3]| keys.map(|key| (at, length, key));
    let slow =
        [block(0, 1900, [48, 52, 55]), block(1920, 1900, [45, 48, 52]), block(3840, 1900, [43, 47, 50])];
    let alone = sheet(vec![Track::default().notes(0, slow.as_flattened())]);
    assert_eq!((alone.melody.len(), chords(&alone)), (0, at(&[(0, "C"), (4, "Am"), (8, "G")])));
    assert!(alone.warnings.iter().any(|warning| warning.text.contains("no melody")));
    let fast = [block(0, 460, [60, 64, 67]), block(480, 460, [60, 65, 69]), block(960, 460, [59, 62, 67])];
    let hymn = sheet(vec![Track::default().notes(0, fast.as_flattened())]);
    assert_eq!(hymn.melody.iter().map(|note| note.pitch.key()).collect::<Vec<_>>(), [67, 69, 67]);
    let words = Track::named("Words")
        .meta(0, MetaMessage::Text(b"@LENGL"))
        .meta(0, MetaMessage::Text(b"@TOver the Ferry"));
    assert_eq!(sheet(vec![words, Track::default().notes(0, &TUNE)]).title, "Over the Ferry");
}

#[test]
fn a_track_by_choice() {
    let bells = Track::named("bells").notes(3, &[(0, 480, 96)]);
    let file = bytes(vec![Track::named("Song"), Track::named("Lead").notes(0, &TUNE), bells]);
    let chosen = |melody| {
        let sheet = crate::read_chosen(&file, crate::Choice { tune: None, melody: Some(melody) });
        sheet.map(|sheet| sheet.melody.len()).map_err(|error| error.to_string())
    };
    assert_eq!((chosen("Bells"), chosen("3"), chosen("lead")), (Ok(1), Ok(1), Ok(4)));
    assert!(
        chosen("9")
            .is_err_and(|text| text.contains("no track \"9\"; choose 1 (Song), 2 (Lead) or 3 (bells)"))
    );
}

#[test]
fn of_notes_struck_together_the_highest_is_the_melody() {
    let notes = [(0, 960, 60), (0, 960, 67), (10, 950, 76), (480, 480, 55), (960, 480, 60), (1200, 720, 72)];
    let sheet = sheet(vec![Track::named("lead").notes(0, &notes)]);
    let line: Vec<_> =
        sheet.melody.iter().map(|note| (note.at.0 / 42, note.length.0 / 42, note.pitch.key())).collect();
    assert_eq!(line, [(10, 950, 76), (960, 240, 60), (1200, 720, 72)]);
}

#[test]
fn words_are_not_chords() {
    let mut track = Track::named("voice").notes(0, &TUNE);
    for (at, word) in [(480, "A"), (960, "boat"), (1920, "goes"), (2400, "by")] {
        track = track.meta(at, MetaMessage::Lyric(word.as_bytes()));
    }
    let sheet = sheet(vec![track]);
    assert!(sheet.chords.is_empty());
    assert!(sheet.warnings.iter().any(|warning| warning.text.contains("no chord symbols")));
}

#[test]
fn a_metre_change_cuts_its_bar_and_nothing_else() {
    let meta = Track::default()
        .meta(0, MetaMessage::TimeSignature(4, 2, 24, 8))
        .meta(2400, MetaMessage::TimeSignature(6, 3, 24, 8));
    let sheet = sheet(vec![meta, Track::default().notes(0, &[(0, 3840, 60)])]);
    let lengths: Vec<_> = sheet.bars.iter().map(|bar| bar.length.0 / 10_080).collect();
    assert_eq!(lengths, [8, 2, 6]);
    assert_eq!(sheet.end, Moment::quarters(8));
}

#[test]
fn nothing_to_read_is_an_error() {
    let error = read_sheet(&bytes(vec![Track::named("empty")])).expect_err("no sheet").to_string();
    assert!(error.contains("neither a melody nor chord symbols"), "{error}");
}

/// Texts in brackets, as some programs write chord symbols among other texts.
#[test]
fn chord_symbols_in_brackets() {
    let mut texts = Track::named("Melody").notes(0, &TUNE);
    for (at, text) in [(0, "[Am]"), (960, "[D7/F#]"), (1920, "(G)")] {
        texts = texts.meta(at, MetaMessage::Text(text.as_bytes()));
    }
    assert_eq!(chords(&sheet(vec![texts])), at(&[(0, "Am"), (2, "D7/F#"), (4, "G")]));
}

/// A piano in one track and channel: its top is the melody, and all of it names the chords.
#[test]
fn both_hands_in_one_track() {
    let notes = [
        (0, 960, 48),
        (0, 960, 52),
        (0, 960, 55),
        (0, 480, 72),
        (480, 480, 74),
        (960, 960, 43),
        (960, 960, 50),
        (960, 960, 59),
        (960, 960, 79),
    ];
    let sheet = sheet(vec![Track::default().notes(0, &notes)]);
    assert_eq!(chords(&sheet), at(&[(0, "C"), (2, "G")]));
    assert_eq!(sheet.melody.iter().map(|note| note.pitch.key()).collect::<Vec<_>>(), [72, 74, 79]);
}

/// Running status, an old file's type 0, drums, and what is refused in plain words.
#[test]
fn types_and_time_divisions() {
    let header = |format: u8, division: [u8; 2]| {
        let mut bytes = b"MThd\0\0\0\x06\0".to_vec();
        bytes.extend([format, 0, 1, division[0], division[1]]);
        bytes.extend(b"MTrk\0\0\0\x1d\0\xff\x06\x01C\0\x99\x24\x40\0\x90\x3c\x50\x60\x3c\0\0\x3e\x50\x60\x3e\0\0\xff\x2f\0");
        bytes
    };
    let sheet = read_sheet(&header(0, [0, 0x60])).expect("a sheet");
    assert_eq!(sheet.melody.iter().map(|note| note.pitch.key()).collect::<Vec<_>>(), [60, 62]);
    assert_eq!(chords(&sheet), at(&[(0, "C")]));
    let error = |bytes: Vec<u8>| read_sheet(&bytes).expect_err("refused").to_string();
    assert!(
        error(header(2, [0, 0x60])).contains("type 2, which holds independent sequences; export it again")
    );
    assert!(error(header(1, [0xe8, 0x28])).contains("SMPTE frames, so it has no bars and beats; export"));
    assert!(error(header(1, [0, 0])).contains("no ticks"));
}
