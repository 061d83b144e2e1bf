//! Guards terminals and windows: no text that a sheet or a take hands on has a control character in it, whatever its
//! file holds. (Terminals obey escape sequences, which begin with one: ECMA-48.)

use figwort_sheet::{Choice, Sheet, SheetError, abc, read, read_chosen};

/// Every text of a sheet.
fn texts(sheet: &Sheet) -> Vec<String> {
    let mut texts = vec![sheet.title.clone(), sheet.composer.clone().unwrap_or_default()];
    texts.extend(sheet.warnings.iter().map(ToString::to_string));
    texts.extend(sheet.chords.iter().map(|chord| chord.symbol.to_string()));
    texts
}

fn assert_plain(texts: &[String]) {
    for text in texts {
        assert!(!text.chars().any(char::is_control), "{text:?}");
    }
}

fn error(read: Result<Sheet, SheetError>) -> String {
    read.map_or_else(|error| error.to_string(), |sheet| panic!("{sheet:?}"))
}

const TUNE: &str = "X:1\nT:\x1b[2J\x07bell\t\\u001b[31m\u{9b}2J\nC:A\x1b[1m B\nM:4/\x1b4\nL:1/4\nQ:fast\x1b\nK:C\nV:1 \
                    name=\"Fl\x1b[5mute\"\n\"C\x1b[31mfoo\"CEGc|\"\x1b[7mC\"d4|\nV:2\nC4|\n";

#[test]
fn a_tune_hands_on_none() {
    let sheet = read(TUNE.as_bytes(), None).expect("a tune");
    assert!(sheet.warnings.len() > 3, "{:?}", sheet.warnings);
    assert_plain(&texts(&sheet));
    assert_eq!(sheet.title, "[2Jbell \\u001b[31m2J");
    assert_plain(&abc::tunes(TUNE.as_bytes()).into_iter().map(|(_, title)| title).collect::<Vec<_>>());
    let choice = Choice { tune: None, melody: Some("oboe") };
    assert_plain(&[error(read_chosen(TUNE.as_bytes(), choice))]);
}

#[test]
fn a_score_hands_on_none() {
    const SCORE: &str = "<score-partwise><work><work-title>A&#27;[2J\x1b[1mB&#x9b;C</work-title></work><identification>\
        <creator type=\"composer\">D&#7;E\x07</creator></identification><part-list><score-part id=\"P1\"><part-name>F\
        &#27;[5m</part-name></score-part></part-list><part id=\"P1\"><measure number=\"1\"><attributes><divisions>1\
        </divisions></attributes><harmony><root><root-step>C</root-step></root><kind text=\"&#27;[31m&#10;x\">odd&#27;</kind>\
        </harmony><note><pitch><step>C</step><octave>5</octave></pitch><duration>4</duration></note></measure></part>\
        </score-partwise>";
    let sheet = read(SCORE.as_bytes(), None).expect("a score");
    assert!(!sheet.warnings.is_empty());
    assert_eq!((sheet.title.as_str(), sheet.composer.as_deref()), ("A[2J[1mBC", Some("DE")));
    assert_plain(&texts(&sheet));
    let choice = Choice { tune: None, melody: Some("oboe") };
    assert_plain(&[error(read_chosen(SCORE.as_bytes(), choice))]);
}

/// A chunk of a Standard MIDI File.
fn track(events: &[u8]) -> Vec<u8> {
    let mut bytes = b"MTrk".to_vec();
    bytes.extend((events.len() as u32).to_be_bytes());
    bytes.extend(events);
    bytes
}

#[test]
fn a_midi_file_hands_on_none() {
    let mut bytes = b"MThd\0\0\0\x06\0\x01\0\x01\x01\xe0".to_vec();
    bytes.extend(track(
        b"\0\xff\x03\x09\x1b[2J\x07bell\0\xff\x06\x01C\0\x90\x48\x50\x83\x60\x80\x48\0\0\xff\x2f\0",
    ));
    let sheet = read(&bytes, None).expect("a sheet");
    assert_eq!(sheet.title, "[2Jbell");
    assert_plain(&texts(&sheet));
    let choice = Choice { tune: None, melody: Some("oboe") };
    assert_plain(&[error(read_chosen(&bytes, choice))]);
}
