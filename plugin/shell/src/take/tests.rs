use figwort_sheet::take::TakeMessage;
use figwort_theory::{Chord, Kind, PitchClass, TICKS_PER_QUARTER};

use super::*;

const QUARTER: i64 = TICKS_PER_QUARTER;

fn event(at: i64, what: What) -> Event {
    // 60 quarters a minute at 48 kHz.
    Event { at: Moment(at), frame: (at * 48_000 / QUARTER) as u64, what }
}

fn on(at: i64, hand: Hand, key: u8) -> Event {
    event(at, What::On { hand, pitch: Pitch::new(key), velocity: Velocity::new(70) })
}

fn off(at: i64, hand: Hand, key: u8) -> Event {
    event(at, What::Off { hand, pitch: Pitch::new(key) })
}

fn bar(at: i64, cut: bool) -> Event {
    event(at, What::Bar { metre: Metre::FOUR_FOUR, cut })
}

/// Two bars that begin at the ninth quarter of roll time, the second left after three quarters by a jump.
pub(super) fn story() -> Vec<Event> {
    let chord = Chord::new(PitchClass::new(0), Kind::Major);
    let down = What::ChordKeyDown { pitch: Pitch::new(48), velocity: Velocity::new(60) };
    vec![
        event(0, What::SampleRate(48_000.0)),
        event(0, What::Tempo(60.0)),
        bar(4 * QUARTER, false),
        on(9 * QUARTER, Hand::Left, 36),
        event(9 * QUARTER, What::Decided(Some(chord))),
        event(9 * QUARTER, down),
        on(9 * QUARTER, Hand::Melody, 76),
        event(9 * QUARTER, What::Pedal(true)),
        // A bar line may come after its time.
        bar(8 * QUARTER, false),
        off(11 * QUARTER, Hand::Melody, 76),
        off(12 * QUARTER, Hand::Left, 36),
        event(12 * QUARTER, What::ChordKeyUp(Pitch::new(48))),
        bar(12 * QUARTER, false),
        bar(15 * QUARTER, true),
        on(16 * QUARTER, Hand::Right, 64),
    ]
}

#[test]
fn a_take_begins_with_its_bar_and_is_read_back() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = keep(&story(), "Three", folder.path()).expect("a take");
    assert_eq!(path.file_name().and_then(|name| name.to_str()), Some("Take 001.mid"));
    let bytes = std::fs::read(&path).expect("the file");
    let take = figwort_sheet::take::read(&bytes).expect("a MIDI file");
    assert_eq!(take.warnings, []);
    assert_eq!(take.tempos[0].micros_per_quarter, 1_000_000);
    let onsets: Vec<(i64, u8, u8)> = take
        .events
        .iter()
        .filter_map(|event| match event.message {
            TakeMessage::NoteOn { pitch, .. } => Some((event.at.0, event.channel, pitch.key())),
            _ => None,
        })
        .collect();
    let expected = [(QUARTER, 0, 76), (QUARTER, 2, 36), (QUARTER, 3, 48), (8 * QUARTER, 1, 64)];
    let mut sorted = onsets.clone();
    sorted.sort_unstable();
    assert_eq!(sorted, expected);
    // The bar that was left is a bar of three quarters, then the metre goes on.
    let metres: Vec<(i64, u8)> =
        take.metres.iter().map(|change| (change.at.0 / QUARTER, change.metre.numerator())).collect();
    assert_eq!(metres, [(0, 4), (4, 3), (7, 4)]);
    let text = bytes.windows(2).any(|two| two == b"\x06\x01");
    assert!(text, "the chord symbol is a marker");
}

#[test]
fn no_file_is_written_over_and_none_is_left_behind() {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("Take 002.mid"), b"mine").expect("written");
    let deeper = folder.path().join("Figwort");
    let names: Vec<PathBuf> = (0..2).map(|_| keep(&story(), "", folder.path()).expect("a take")).collect();
    assert_eq!(names, [folder.path().join("Take 001.mid"), folder.path().join("Take 003.mid")]);
    assert_eq!(std::fs::read(folder.path().join("Take 002.mid")).expect("there"), b"mine");
    assert_eq!(std::fs::read_dir(folder.path()).expect("a folder").count(), 3);
    assert!(keep(&story(), "", &deeper).expect("a new folder").starts_with(&deeper));
    let error = keep(&story(), "", &folder.path().join("Take 001.mid")).expect_err("no folder");
    assert!(error.contains("Take 001.mid"), "{error}");
}

#[test]
fn without_notes_there_is_no_take() {
    let folder = tempfile::tempdir().expect("a folder");
    let silent: Vec<Event> = story()
        .into_iter()
        .filter(|event| !matches!(event.what, What::On { .. } | What::ChordKeyDown { .. }))
        .collect();
    assert!(keep(&silent, "", folder.path()).expect_err("nothing").contains("nothing has been played"));
    assert!(keep(&[], "", folder.path()).is_err());
}
