//! Broken accompaniments, as pianists play them (common practice, no source).

use super::*;

/// A melody above, and a left hand of notes of one length.
fn with_left_hand(metre: (u8, u8), length: u32, left: &[u8]) -> Sheet {
    let notes: Vec<(u32, u32, u8)> =
        left.iter().zip(0u32..).map(|(key, index)| (index * length, length, *key)).collect();
    let end = length * left.len() as u32;
    let meta = Track::named("A test").meta(0, MetaMessage::TimeSignature(metre.0, metre.1, 24, 8));
    let tune: Vec<(u32, u32, u8)> =
        (0..end / 480).map(|beat| (beat * 480, 480, [76, 79, 77, 74][beat as usize % 4])).collect();
    sheet(vec![meta, Track::named("right").notes(0, &tune), Track::named("left").notes(1, &notes)])
}

#[test]
fn a_chord_to_the_bar() {
    let sheet = with_left_hand(
        (4, 2),
        240,
        &[
            48, 55, 52, 55, 48, 55, 52, 55, // C
            50, 57, 53, 57, 50, 57, 53, 57, // Dm
            47, 55, 50, 53, 47, 55, 50, 53, // G7/B
            48, 55, 52, 55, 48, 55, 52, 55, // C
        ],
    );
    assert_eq!(chords(&sheet), at(&[(0, "C"), (4, "Dm"), (8, "G7/B"), (12, "C")]));
    let warning =
        "its chords are named from the notes, one after another, of track 3, channel 2; look them through";
    assert!(sheet.warnings.iter().any(|found| found.text.contains(warning)), "{:?}", sheet.warnings);
}

#[test]
fn two_chords_to_the_bar() {
    let sheet = with_left_hand(
        (4, 2),
        240,
        &[
            48, 52, 55, 52, 45, 48, 52, 48, // C Am
            41, 45, 48, 45, 43, 47, 50, 53, // F G7
            48, 55, 60, 64, 60, 55, 52, 55, // C over the whole bar
            48, 55, 48, 55, 48, 55, 48, 55, // C without its third goes on
        ],
    );
    assert_eq!(chords(&sheet), at(&[(0, "C"), (2, "Am"), (4, "F"), (6, "G7"), (8, "C")]));
}

/// Half of the bar each of 6/8 and 12/8, the bar of 3/4, and uneven metres.
#[test]
fn other_metres() {
    let sheet = with_left_hand((6, 3), 240, &[48, 52, 55, 45, 48, 52, 41, 48, 53, 57, 53, 48]);
    assert_eq!(chords(&sheet), at(&[(0, "C"), (1, "Am"), (3, "F")]));
    let sheet = with_left_hand((12, 3), 240, &[48, 52, 55, 60, 55, 52, 47, 50, 55, 59, 55, 50]);
    assert_eq!(chords(&sheet), at(&[(0, "C"), (3, "G/B")]));
    let sheet = with_left_hand((3, 2), 240, &[48, 52, 55, 60, 55, 52, 41, 45, 48, 53, 48, 45]);
    assert_eq!(chords(&sheet), at(&[(0, "C"), (3, "F")]));
    let sheet = with_left_hand(
        (5, 2),
        240,
        &[48, 52, 55, 52, 55, 52, 48, 55, 52, 55, 43, 50, 53, 59, 53, 50, 43, 50, 53, 59],
    );
    assert_eq!(chords(&sheet), at(&[(0, "C"), (5, "G7")]));
    let sheet = with_left_hand((7, 3), 240, &[48, 52, 55, 60, 55, 52, 55, 41, 45, 48, 53, 48, 45, 48]);
    assert_eq!(chords(&sheet), at(&[(0, "C"), (3, "F")]));
}

/// A bass and two notes after it: no three are struck together.
#[test]
fn a_waltz_bass() {
    let beat = |at: u32, keys: [u8; 3]| {
        [
            (at, 460, keys[0]),
            (at + 480, 460, keys[1]),
            (at + 480, 460, keys[2]),
            (at + 960, 460, keys[1]),
            (at + 960, 460, keys[2]),
        ]
    };
    let bars =
        [beat(0, [48, 64, 67]), beat(1440, [43, 62, 65]), beat(2880, [47, 62, 67]), beat(4320, [48, 64, 67])];
    let meta = Track::named("A test").meta(0, MetaMessage::TimeSignature(3, 2, 24, 8));
    let tune = [(0, 1440, 84), (1440, 1440, 83), (2880, 1440, 86), (4320, 1440, 84)];
    let sheet =
        sheet(vec![meta, Track::default().notes(0, &tune), Track::default().notes(1, &bars.concat())]);
    // The G7 has no third.
    assert_eq!(chords(&sheet), at(&[(0, "C"), (3, "G7"), (6, "G/B"), (9, "C")]));
}

/// A second voice in steps is no accompaniment.
#[test]
fn a_second_melody_gives_no_chords() {
    let sheet = with_left_hand(
        (4, 2),
        240,
        &[60, 62, 64, 65, 67, 65, 64, 62, 60, 59, 57, 55, 57, 59, 60, 62, 64, 65, 67, 69, 67, 65, 64, 62],
    );
    assert!(sheet.chords.is_empty(), "{:?}", chords(&sheet));
}

/// The bass of a band is in a track of its own.
#[test]
fn a_bass_below_says_how_the_chords_stand() {
    let arpeggio = [60, 64, 67, 64, 60, 64, 67, 64, 60, 65, 69, 65, 60, 65, 69, 65];
    let right: Vec<(u32, u32, u8)> =
        arpeggio.iter().zip(0u32..).map(|(key, i)| (i * 240, 240, *key)).collect();
    let bass = [(0, 1920, 40), (1920, 1920, 41)];
    let tune = [(0, 3840, 84)];
    let tracks = vec![
        Track::default().notes(0, &tune),
        Track::default().notes(1, &bass),
        Track::default().notes(2, &right),
    ];
    assert_eq!(chords(&sheet(tracks)), at(&[(0, "C/E"), (4, "F")]));
}

/// A rolled chord begins with its first note.
#[test]
fn a_rolled_chord() {
    let rolled: Vec<(u32, u32, u8)> = [(0, [48, 52, 55, 60]), (1920, [43, 50, 55, 59])]
        .iter()
        .flat_map(|(at, keys)| {
            keys.iter().zip(0u32..).map(move |(key, i)| (at + i * 40, 1900 - i * 40, *key))
        })
        .collect();
    let sheet = sheet(vec![Track::default().notes(0, &[(0, 3840, 84)]), Track::default().notes(1, &rolled)]);
    assert_eq!(chords(&sheet), at(&[(0, "C"), (4, "G")]));
    assert_eq!(sheet.chords[1].at, Moment::quarters(4));
}
