//! Whatever the bytes, an answer: a value that keeps its promises or an error, no panic. What takes forever never ends the test; how long is not judged here.

#[path = "hostile/sound.rs"]
mod sound;

use figwort_sheet::{SheetError, abc, limits, musicxml, read, smf, sniff, take};
use proptest::prelude::*;
use sound::{assert_sound, assert_sound_take};

fn assert_answers(bytes: &[u8]) {
    let sheets = [
        read(bytes, None),
        abc::read(bytes, None),
        abc::read(bytes, Some(1)),
        smf::read_sheet(bytes),
        musicxml::read(bytes),
    ];
    for sheet in sheets {
        match sheet {
            Ok(sheet) => assert_sound(&sheet),
            Err(error) => assert!(error.to_string().len() > 10),
        }
    }
    sniff(bytes);
    abc::tunes(bytes);
    if let Ok(take) = take::read(bytes) {
        assert_sound_take(&take);
    }
}

/// A tune that uses most of what the reader knows.
const TUNE: &str = "X:1\nT:Everything\nC:Nobody\nP:A2B\nM:6/8\nL:1/8\nQ:3/8=80\nK:ADor\nP:A\n\
    e|:\"Am\"A>B c{d}e2!trill!f|\"D/f+\"\"G\"[Adf]3-[Adf]z2|(3abc (4:3:5abcde [1,3 \"N.C.\"^G3 _B3:|[2 =c6|]\n\
    P:B\n[M:3/4][K:Bb clef=bass][L:1/4]!segno!f2 & C2|Z2|\"Gm(Eb)\"g//f/2e- e/|::f3!fine!|\"^D.S. al Fine\"g3|]\n\
    V:2\nC,3|\nw:words\n%%propagate-accidentals octave\nI:linebreak $\nU:T=!turn!\n\"?\"T~u.A\\\n+fermata+B y z|\n";

fn midi() -> Vec<u8> {
    let mut bytes = b"MThd\0\0\0\x06\0\x01\0\x02\x01\xe0MTrk\0\0\0\x36".to_vec();
    bytes.extend(b"\0\xff\x03\x04Tune\0\xff\x51\x03\x07\xa1\x20\0\xff\x58\x04\x03\x02\x18\x08");
    bytes.extend(b"\0\xff\x59\x02\x01\0\0\xff\x06\x02Am\x83\x60\xff\x06\x02D7\0\xff\x05\x02la");
    bytes.extend(b"\0\xff\x2f\0MTrk\0\0\0\x20");
    bytes.extend(
        b"\0\x90\x48\x50\x83\x60\x48\0\0\xb0\x40\x7f\0\x91\x30\x40\0\x34\x40\0\x37\x40\x83\x60\x81\x30\0",
    );
    bytes.extend(b"\0\xff\x2f\0");
    bytes
}

/// A score that uses most of what the reader knows, line by line so that faults hit everything.
const SCORE: &str = include_str!("hostile/score.musicxml");

/// The same compressed.
fn archive() -> Vec<u8> {
    let mut writer = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let container = "<container><rootfiles><rootfile full-path='s.xml'/></rootfiles></container>";
    for (name, text) in [("META-INF/container.xml", container), ("s.xml", SCORE)] {
        writer.start_file(name, zip::write::SimpleFileOptions::default()).expect("a file");
        std::io::Write::write_all(&mut writer, text.as_bytes()).expect("room");
    }
    writer.finish().expect("an archive").into_inner()
}

/// XML with elements and numbers exchanged, taken out or doubled, so that it is mostly still XML.
fn mutated_xml() -> impl Strategy<Value = Vec<u8>> {
    const NUMBERS: [&str; 12] =
        ["0", "1", "-1", "999999999", "4294967296", "1e99", "0.0001", "-2.5", "", "x", "65536", "3"];
    let edits =
        prop::collection::vec((any::<prop::sample::Index>(), any::<prop::sample::Index>(), 0u8..5), 1..10);
    edits.prop_map(|edits| {
        let mut lines: Vec<String> = SCORE.lines().map(str::to_owned).collect();
        for (place, other, kind) in edits {
            let (at, from) = (place.index(lines.len()), other.index(lines.len()));
            match kind {
                0 => drop(lines.remove(at)),
                1 => lines.insert(at, lines[from].clone()),
                2 => lines.swap(at, from),
                3 => {
                    let number = NUMBERS[other.index(NUMBERS.len())];
                    let line = lines[at].clone();
                    let is_digit = |c: char| c.is_ascii_digit();
                    if let Some(start) = line.find(is_digit) {
                        let rest = line[start..].trim_start_matches(is_digit);
                        lines[at] = format!("{}{number}{rest}", &line[..start]);
                    }
                }
                _ => {
                    let (from, to) = (at.min(from), at.max(from).min(at.min(from) + 40));
                    let copy: Vec<String> = lines[from..to].to_vec();
                    lines.splice(from..from, copy);
                }
            }
            if lines.is_empty() {
                break;
            }
        }
        lines.join("\n").into_bytes()
    })
}

/// Bytes with some of them replaced, taken out or doubled.
fn mutated(original: Vec<u8>) -> impl Strategy<Value = Vec<u8>> {
    let edits = prop::collection::vec((any::<prop::sample::Index>(), 0u8..4, any::<u8>(), 1usize..40), 1..8);
    edits.prop_map(move |edits| {
        let mut bytes = original.clone();
        for (place, kind, byte, count) in edits {
            if bytes.is_empty() {
                break;
            }
            let at = place.index(bytes.len());
            let to = (at + count).min(bytes.len());
            match kind {
                0 => bytes[at] = byte,
                1 => drop(bytes.drain(at..to)),
                2 => bytes.splice(at..at, bytes[at..to].repeat(3)).for_each(drop),
                _ => bytes.insert(at, b"|:[]1234\"(-&>/'^=_!+%\n"[usize::from(byte) % 22]),
            }
        }
        bytes
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1000))]

    #[test]
    fn any_bytes(bytes in prop::collection::vec(any::<u8>(), 0..600)) {
        assert_answers(&bytes);
    }

    #[test]
    fn any_music_code(body in "[A-Ga-gzZx|:\\[\\]0-9/><(){}\"!'^_=&,. \\-\n]{0,300}") {
        assert_answers(format!("X:1\nM:4/4\nK:C\n{body}").as_bytes());
    }

    #[test]
    fn a_tune_with_faults(bytes in mutated(TUNE.as_bytes().to_vec())) {
        assert_answers(&bytes);
    }

    #[test]
    fn a_score_with_faults(bytes in mutated(SCORE.as_bytes().to_vec())) {
        assert_answers(&bytes);
    }

    #[test]
    fn a_score_of_other_elements(bytes in mutated_xml()) {
        assert_answers(&bytes);
    }

    #[test]
    fn an_archive_with_faults(bytes in mutated(archive())) {
        assert_answers(&bytes);
    }

    #[test]
    fn a_midi_file_with_faults(bytes in mutated(midi())) {
        assert_answers(&bytes);
    }
}

#[test]
fn the_originals_are_sound() {
    let sheet = read(TUNE.as_bytes(), None).expect("a tune");
    assert_sound(&sheet);
    assert!(sheet.bars.len() > 12 && sheet.chords.len() > 3, "{sheet:?}");
    let sheet = read(SCORE.as_bytes(), None).expect("a score");
    assert_sound(&sheet);
    assert!(sheet.bars.len() > 12 && sheet.chords.len() > 8 && sheet.melody.len() > 20, "{sheet:?}");
    assert_eq!(read(&archive(), None).expect("an archive"), sheet);
    let sheet = read(&midi(), None).expect("a MIDI sheet");
    assert_sound(&sheet);
    assert_eq!((sheet.title.as_str(), sheet.chords.len()), ("Tune", 2));
    let take = take::read(&midi()).expect("a take");
    assert_sound_take(&take);
    // That it has no note is for those to say who play it.
    assert_eq!((take.events.len(), take.warnings.as_slice()), (0, &[][..]));
}

/// Shapes that would be slow with a careless reader.
#[test]
fn long_lines_of_one_thing_end() {
    const LENGTH: usize = 300_000;
    let shapes = [
        "[K:",
        "\"",
        "!",
        "+",
        "[",
        "(",
        "{",
        "&",
        "-",
        ">",
        "|:",
        ":|",
        "[1",
        "^",
        "/",
        "P:A\n",
        "[P:A]",
        "%%begintext\n",
        "z",
        "C",
        "\"C\"",
        "[CE",
        "(3",
        "|1C:|2",
        "§",
        "X:1\n",
        "K:C\n",
        "V:1\n",
        "V:2\n",
        "\n",
        "Z",
        "^C^D",
        "!D.C.!C|",
        "OC|",
        "|:C|",
        "C||",
        "[V:2]",
        "m:x\n",
        "U:Z=y\n",
        "[1C",
        "C-",
        "U:",
    ];
    for shape in shapes {
        let body = shape.repeat(LENGTH / shape.len());
        let bytes = format!("X:1\nT:t\nM:4/4\nL:1/64\nP:A9B9\nK:C\n{body}");
        assert_answers(bytes.as_bytes());
        assert_answers(body.as_bytes());
    }
}

/// The same in XML: rows of one element, in a bar and in other places.
#[test]
fn long_rows_of_one_element_end() {
    const LENGTH: usize = 150_000;
    let shapes = [
        "<note/>",
        "<note><chord/><duration>1</duration><pitch><step>C</step><octave>4</octave></pitch></note>",
        "<note><voice>1</voice><duration>4000000</duration></note>",
        "<note><duration>0.0003</duration><pitch><step>C</step><octave>4</octave></pitch></note>",
        "<note>",
        "</note>",
        "<backup><duration>1</duration></backup>",
        "<forward><duration>99999999</duration></forward>",
        "<attributes><divisions>7919</divisions></attributes><forward><duration>1</duration></forward>",
        "<attributes><divisions>0.0001</divisions></attributes>",
        "<harmony><root><root-step>C</root-step></root><kind>other</kind><degree><degree-value>3</degree-value></degree></harmony>",
        "<harmony><root><root-step>C</root-step></root><kind>major</kind><offset>-9</offset></harmony>",
        "<direction><direction-type><words>D.C.</words></direction-type></direction>",
        "<sound tempo='1' segno='1' coda='1' dacapo='yes' fine='yes'/>",
        "<barline><ending number='1' type='start'/></barline>",
        "</measure><measure><barline><repeat direction='backward' times='99'/></barline>",
        "</measure><measure><barline><ending number='1-32' type='start'/></barline>",
        "</measure><measure><sound dacapo='yes'/>",
        "</measure></part><part id='x'><measure>",
        "&amp;",
        "&x;",
        "&#x41;",
        "<!-- -->",
        "<![CDATA[x]]>",
        "<?x?>",
        "<x a='1' b='2'",
        " a='1'",
        "<",
        ">",
        "\"",
        "<lyric/>",
    ];
    for shape in shapes {
        let row = shape.repeat(LENGTH / shape.len());
        for before in [
            "<score-partwise><part id='1'><measure>",
            "<score-partwise><part id='1'><measure><note>",
            "<score-partwise><work>",
            "<score-partwise ",
            "<score-partwise><part-list>",
        ] {
            assert_answers(format!("{before}{row}").as_bytes());
        }
    }
}

#[test]
fn a_file_of_a_hundred_megabytes_is_refused_unread() {
    let bytes = vec![b'X'; 100 << 20];
    let error = read(&bytes, None).expect_err("too large");
    assert_eq!(error, SheetError::TooLarge { what: "bytes", limit: limits::MAX_BYTES });
    assert!(take::read(&bytes).is_err() && abc::read_all(&bytes).is_err() && abc::tunes(&bytes).is_empty());
}

/// Found by fuzzing: a symbol over a note, and another for it in a line of symbols after a symbol further on.
#[test]
fn symbols_over_and_under_one_note() {
    assert_answers(include_bytes!("hostile/symbols-twice.abc"));
}
