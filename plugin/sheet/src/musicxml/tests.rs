//! Small scores through the whole reader.

use std::io::Write;

use figwort_theory::{ChordSymbol, Key, Mode, Moment, Span};

use super::read;
use crate::{Sheet, SheetError, limits};

/// A score of one part in 4/4, four divisions to the quarter, from bars as XML.
fn document(bars: &[&str]) -> String {
    let mut text = String::from("<?xml version='1.0'?><score-partwise version='4.0'><part id='P1'>");
    for (index, bar) in bars.iter().enumerate() {
        text += &format!("<measure number='{}'>", index + 1);
        if index == 0 {
            text += "<attributes><divisions>4</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>";
        }
        text += bar;
        text += "</measure>";
    }
    text + "</part></score-partwise>"
}

fn sheet(bars: &[&str]) -> Sheet {
    read(document(bars).as_bytes()).expect("a score")
}

/// `C4 8` is a C above middle C for eight divisions; `R 4` a rest; `C4 8 <tie type='start'/>` has more in it.
fn notes(text: &str) -> String {
    let note = |text: &str| {
        let mut words = text.trim().splitn(3, ' ');
        let (name, length) = (words.next().expect("a name"), words.next().expect("a length"));
        let more = words.next().unwrap_or_default();
        let what = match name.split_at(1) {
            ("R", _) => "<rest/>".to_string(),
            (step, octave) => format!("<pitch><step>{step}</step><octave>{octave}</octave></pitch>"),
        };
        format!("<note>{what}<duration>{length}</duration>{more}</note>")
    };
    text.split(',').map(note).collect()
}

fn harmony(root: &str, kind: &str, more: &str) -> String {
    format!("<harmony><root><root-step>{root}</root-step></root><kind>{kind}</kind>{more}</harmony>")
}

/// Onset and length in quarters, and MIDI key.
fn melody(sheet: &Sheet) -> Vec<(f64, f64, u8)> {
    let note = |note: &crate::Note| {
        (note.at.since_zero().in_quarters(), note.length.in_quarters(), note.pitch.key())
    };
    sheet.melody.iter().map(note).collect()
}

fn chords(sheet: &Sheet) -> Vec<(f64, String)> {
    let chord =
        |change: &crate::ChordChange| (change.at.since_zero().in_quarters(), change.symbol.to_string());
    sheet.chords.iter().map(chord).collect()
}

/// Warnings other than of missing chords.
fn warnings(sheet: &Sheet) -> Vec<String> {
    let all = sheet.warnings.iter().map(ToString::to_string);
    all.filter(|text| !text.contains("no chord symbols")).collect()
}

/// The symbol that a `harmony` element comes to.
fn symbol(element: &str) -> (String, Vec<String>) {
    let sheet = sheet(&[&format!("{element}{}", notes("C5 16"))]);
    (sheet.chords.first().map(|chord| chord.symbol.to_string()).unwrap_or_default(), warnings(&sheet))
}

/// The order of play as letters: bars of one whole note each, whose names are their letters.
fn order(bars: &[&str]) -> String {
    let whole = |bar: &&str| match bar.split_at(1) {
        (letter, "") => notes(&format!("{letter}4 16")),
        (letter, signs) => {
            let (before, after) = signs.split_once('@').unwrap_or((signs, ""));
            format!("{before}{}{after}", notes(&format!("{letter}4 16")))
        }
    };
    let bars: Vec<String> = bars.iter().map(whole).collect();
    let sheet = sheet(&bars.iter().map(String::as_str).collect::<Vec<_>>());
    assert!(
        sheet.warnings.iter().all(|warning| warning.text.contains("chord symbols")),
        "{:?}",
        sheet.warnings
    );
    let letter = |note: &crate::Note| "C?D?EF?G?A?B".as_bytes()[usize::from(note.pitch.key() % 12)] as char;
    sheet.melody.iter().map(letter).collect()
}

#[test]
fn a_lead_sheet() {
    let text = "<?xml version='1.0' encoding='UTF-8'?>\
        <!DOCTYPE score-partwise PUBLIC '-//Recordare//DTD MusicXML 3.1 Partwise//EN' 'http://nowhere/p.dtd'>\
        <score-partwise version='3.1'><work><work-title>Two &amp; two</work-title></work>\
        <movement-title>Other</movement-title>\
        <identification><creator type='lyricist'>X</creator><creator type='composer'>Nobody</creator></identification>\
        <credit><credit-words font-size='30'>Big</credit-words></credit>\
        <part-list><score-part id='P1'><part-name>Voice</part-name></score-part></part-list>\
        <part id='P1'><measure number='0' implicit='yes'><attributes><divisions>2</divisions>\
        <key><fifths>-2</fifths><mode>minor</mode></key><time><beats>3</beats><beat-type>4</beat-type></time>\
        </attributes><direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit-dot/>\
        <per-minute>c. 40</per-minute></metronome></direction-type></direction>\
        <note><pitch><step>D</step><octave>4</octave></pitch><duration>2</duration></note></measure>\
        <measure number='1'><harmony><root><root-step>G</root-step></root><kind text='m'>minor</kind></harmony>\
        <note><pitch><step>G</step><octave>4</octave></pitch><duration>4</duration></note>\
        <harmony><root><root-step>D</root-step></root><kind>dominant</kind><bass><bass-step>F</bass-step>\
        <bass-alter>1</bass-alter></bass></harmony>\
        <note><pitch><step>F</step><alter>1</alter><octave>4</octave></pitch><duration>2</duration></note>\
        </measure></part></score-partwise>";
    let sheet = read(text.as_bytes()).expect("a score");
    assert_eq!((sheet.title.as_str(), sheet.composer.as_deref()), ("Two & two", Some("Nobody")));
    assert_eq!(sheet.key, Key::from_fifths(-2, Mode::Minor));
    assert_eq!(sheet.tempos[0].micros_per_quarter, 1_000_000);
    assert_eq!(sheet.bars.iter().map(|bar| bar.number).collect::<Vec<_>>(), [0, 1]);
    assert!(sheet.is_pickup(0));
    assert_eq!(melody(&sheet), [(0.0, 1.0, 62), (1.0, 2.0, 67), (3.0, 1.0, 66)]);
    assert_eq!(chords(&sheet), [(1.0, "Gm".into()), (3.0, "D7/F#".into())]);
    assert_eq!(sheet.warnings, []);
    // By time rather than by part, in UTF-16: the same.
    let timewise = text
        .replace("partwise", "timewise")
        .replace("<part id='P1'>", "")
        .replace("</part>", "")
        .replace("<measure number='0' implicit='yes'>", "<measure number='0' implicit='yes'><part id='P1'>")
        .replace("<measure number='1'>", "<measure number='1'><part id='P1'>")
        .replace("</measure>", "</part></measure>");
    assert_eq!(read(timewise.as_bytes()).expect("a score"), sheet);
    let wide: Vec<u8> = "\u{feff}"
        .chars()
        .chain(text.chars())
        .collect::<String>()
        .encode_utf16()
        .flat_map(u16::to_le_bytes)
        .collect();
    assert_eq!(crate::read(&wide, None).expect("a score"), sheet);
}

#[test]
fn titles_from_where_they_are() {
    let title = |head: &str| {
        let text = document(&[&notes("C4 16")]).replace("<part id", &format!("{head}<part id"));
        read(text.as_bytes()).expect("a score").title
    };
    assert_eq!(title("<movement-title>Move</movement-title>"), "Move");
    assert_eq!(
        title(
            "<credit><credit-words font-size='9'>small</credit-words></credit>\
             <credit><credit-words font-size='24'>Large\n one</credit-words></credit>"
        ),
        "Large one"
    );
    assert_eq!(
        title(
            "<credit><credit-words font-size='24'>Large</credit-words></credit>\
             <credit><credit-type>title</credit-type><credit-words>True</credit-words></credit>"
        ),
        "True"
    );
    assert_eq!(title(""), "");
}

#[test]
fn ties_tuplets_chords_grace_and_cue_notes() {
    let tied = sheet(&[&notes("C4 8,G4 8 <tie type='start'/>"), &notes("G4 4 <tie type='stop'/>,R 12")]);
    assert_eq!(melody(&tied), [(0.0, 2.0, 60), (2.0, 3.0, 67)]);
    // Three in the time of two with divisions that do not divide by three: exact in decimals, whole in ticks.
    let thirds = document(&[&notes("C4 4,D4 4,E4 4,F4 12")]).replace("<divisions>4<", "<divisions>6<");
    let thirds = read(thirds.as_bytes()).expect("a score");
    assert_eq!(thirds.melody[1].at, Moment(Span::QUARTER.0 * 2 / 3));
    assert_eq!(thirds.end, Moment::quarters(4));
    // Eleven in a whole note: no whole ticks, but the bar is.
    let eleven = document(&[&["C4 4"; 11].join(",")].map(|text| notes(text)).each_ref().map(String::as_str));
    let eleven = read(eleven.replace("<divisions>4<", "<divisions>11<").as_bytes()).expect("a score");
    assert_eq!((eleven.melody.len(), eleven.end), (11, Moment::quarters(4)));
    assert_eq!(eleven.melody.iter().map(|note| note.length.0).sum::<i64>(), Span::WHOLE.0);
    let chord = sheet(&[&notes("C4 8,E4 8 <chord/>,A3 8 <chord/>,D4 8")]);
    assert_eq!(melody(&chord), [(0.0, 2.0, 64), (2.0, 2.0, 62)]);
    let grace = sheet(&[&format!(
        "<note><grace/><pitch><step>B</step><octave>4</octave></pitch></note>{}",
        notes("C4 8,D4 8 <cue/>")
    )]);
    assert_eq!(melody(&grace), [(0.0, 2.0, 60)]);
    assert_eq!(grace.end, Moment::quarters(4));
    assert!(warnings(&grace).is_empty());
}

#[test]
fn the_melody_is_the_upper_voice() {
    let two = format!(
        "{}<backup><duration>16</duration></backup>{}",
        notes("C5 8 <voice>1</voice>,D5 8 <voice>1</voice>"),
        notes("E4 16 <voice>2</voice>")
    );
    let second_alone = notes("F4 16 <voice>2</voice>");
    assert_eq!(
        melody(&sheet(&[&two, &two, &second_alone])),
        [(0.0, 2.0, 72), (2.0, 2.0, 74), (4.0, 2.0, 72), (6.0, 2.0, 74), (8.0, 4.0, 65)]
    );
    // Voices that are not numbered are told apart by where the file turns back.
    let bare = format!("{}<backup><duration>16</duration></backup>{}", notes("C5 16"), notes("R 4,E5 12"));
    assert_eq!(melody(&sheet(&[&bare])), [(0.0, 4.0, 72)]);
    // The upper of two staves, though the lower is written first.
    let staves = format!(
        "{}<backup><duration>16</duration></backup>{}",
        notes("C3 16 <voice>5</voice><staff>2</staff>"),
        notes("E4 16 <voice>7</voice><staff>1</staff>")
    );
    assert_eq!(melody(&sheet(&[&staves])), [(0.0, 4.0, 64)]);
    // Notes of one voice that overlap: each ends where the next begins.
    let over = format!(
        "{}<backup><duration>8</duration></backup>{}",
        notes("C5 16 <voice>1</voice>"),
        notes("E5 8 <voice>1</voice>")
    );
    assert_eq!(melody(&sheet(&[&over])), [(0.0, 2.0, 72), (2.0, 2.0, 76)]);
}

#[test]
fn the_part_with_chord_symbols_or_words_is_read() {
    let part = |id: &str, bar: &str| {
        format!(
            "<part id='{id}'><measure><attributes><divisions>4</divisions></attributes>{bar}</measure></part>"
        )
    };
    let score = |parts: &[String]| {
        read(format!("<score-partwise>{}</score-partwise>", parts.concat()).as_bytes()).expect("a score")
    };
    let flute = part("A", &notes("C6 16"));
    let lead = part("B", &format!("{}{}", harmony("F", "major", ""), notes("A4 16")));
    assert_eq!(melody(&score(&[flute.clone(), lead]))[0].2, 69);
    assert_eq!(melody(&score(&[flute.clone(), part("B", &notes("G4 16"))]))[0].2, 84);
    let voice = part("B", &notes("G4 16 <lyric><text>la</text></lyric>"));
    assert_eq!(melody(&score(&[flute, voice.clone()]))[0].2, 67);
    // Chord symbols over a piano's staves, the melody in the voice.
    let piano =
        part("C", &format!("{}{}", harmony("F", "major", ""), notes("C5 16,F2 16 <chord/><staff>2</staff>")));
    let sheet = score(&[piano, voice]);
    assert_eq!((melody(&sheet)[0].2, chords(&sheet)), (67, vec![(0.0, "F".into())]));
}

#[test]
fn transposing_parts_sound() {
    let clarinet = "<attributes><transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>\
                    <key><fifths>2</fifths></key></attributes>";
    let sheet = sheet(&[&format!(
        "{clarinet}{}{}",
        harmony("F", "major", "<bass><bass-step>A</bass-step></bass>"),
        notes("D5 16")
    )]);
    assert_eq!(sheet.key, Key::from_fifths(0, Mode::Major));
    assert_eq!((melody(&sheet)[0].2, chords(&sheet)[0].1.as_str()), (72, "Eb/G"));
    let octave = "<attributes><transpose><chromatic>0</chromatic><octave-change>-1</octave-change></transpose></attributes>";
    assert_eq!(melody(&super::tests::sheet(&[&format!("{octave}{}", notes("C5 16"))]))[0].2, 60);
}

#[test]
fn chord_symbols_by_kind_degree_bass_and_text() {
    let of = |kind: &str, more: &str| {
        let (text, warnings) = symbol(&harmony("C", kind, more));
        assert!(warnings.is_empty(), "{kind}: {warnings:?}");
        text
    };
    let degree = |value: i32, alter: i32, kind: &str| {
        format!(
            "<degree><degree-value>{value}</degree-value><degree-alter>{alter}</degree-alter><degree-type>{kind}</degree-type></degree>"
        )
    };
    let same = |text: String, expected: &str| {
        assert_eq!(ChordSymbol::parse(&text), ChordSymbol::parse(expected), "{text}");
    };
    same(of("major", ""), "C");
    same(of("half-diminished", ""), "Cm7b5");
    same(of("minor-13th", ""), "Cm13");
    same(of("dominant", &degree(9, -1, "add")), "C7b9");
    same(of("dominant", &degree(9, 1, "alter")), "C7#9");
    same(of("dominant", &degree(5, 1, "alter")), "C7#5");
    same(of("dominant", &(degree(5, -1, "alter") + &degree(9, -1, "add"))), "C7b5b9");
    same(of("dominant-13th", &degree(11, 1, "alter")), "C13#11");
    same(of("major", &degree(9, 0, "add")), "Cadd9");
    same(of("major", &degree(7, 0, "add")), "C7");
    same(of("major", &degree(7, 1, "add")), "Cmaj7");
    same(of("minor", &degree(7, 1, "add")), "Cm(maj7)");
    same(of("suspended-fourth", &degree(7, 0, "add")), "C7sus4");
    same(of("dominant", &degree(3, 0, "subtract")), "C7omit3");
    same(of("dominant", &(degree(3, 0, "subtract") + &degree(4, 0, "add"))), "C7sus4");
    same(of("power", &degree(3, -1, "add")), "Cm");
    same(of("other", &(degree(3, 0, "add") + &degree(5, 0, "add") + &degree(7, 0, "add"))), "C7");
    same(of("major", "<bass><bass-step>E</bass-step></bass>"), "C/E");
    same(of("minor", "<inversion>1</inversion>"), "Cm/Eb");
    same(of("dominant", "<inversion>3</inversion>"), "C7/Bb");
    same(of("major", "<inversion>1</inversion><bass><bass-step>G</bass-step></bass>"), "C/G");

    let none = sheet(&[&format!(
        "{}{}{}{}",
        harmony("C", "major", ""),
        notes("C4 8"),
        "<harmony><root><root-step text=''>C</root-step></root><kind text='N.C.'>none</kind></harmony>",
        notes("C4 8")
    )]);
    assert_eq!((none.chords.len(), none.chords[1].symbol.chord), (2, None));
    let words = "<direction><direction-type><words>N.C.</words></direction-type></direction>";
    assert_eq!(sheet(&[&format!("{words}{}", notes("C4 16"))]).chords[0].symbol, ChordSymbol::NO_CHORD);
}

#[test]
fn doubtful_chord_symbols_are_named() {
    let text = |kind: &str| {
        symbol(&format!(
            "<harmony><root><root-step>E</root-step><root-alter>-1</root-alter></root>{kind}</harmony>"
        ))
    };
    assert_eq!(text("<kind text='m7b5'>other</kind>"), ("Ebm7b5".into(), vec![]));
    assert_eq!(
        text("<kind text='7alt-ish'>newfangled</kind>"),
        ("Eb".into(), vec!["bar 1: the chord kind \"7alt-ish\" is not known; Eb is read".into()])
    );
    assert_eq!(text("<kind text='7'>other</kind>").0, "Eb7");
    let function = symbol("<harmony><function>V</function><kind>dominant</kind></harmony>");
    assert_eq!(function.0, "");
    assert!(function.1[0].contains("without a root"));
    let bass = symbol(&harmony("C", "major", "<bass><bass-step>H</bass-step></bass>"));
    assert_eq!((bass.0.as_str(), bass.1.len()), ("C", 1));
    let two = symbol(
        "<harmony><root><root-step>C</root-step></root><kind>major</kind><root><root-step>D</root-step></root><kind>major</kind></harmony>",
    );
    assert!(two.0 == "C" && two.1[0].contains("several chords"));
}

#[test]
fn several_chord_symbols_in_a_bar() {
    let [c, f, g] = ["C", "F", "G"].map(|root| harmony(root, "major", ""));
    let at = |bar: String| chords(&sheet(&[&bar]));
    let places =
        |list: &[(f64, &str)]| list.iter().map(|(at, text)| (*at, (*text).to_string())).collect::<Vec<_>>();
    assert_eq!(at(format!("{c}{}{f}{}", notes("C4 4"), notes("C4 12"))), places(&[(0.0, "C"), (1.0, "F")]));
    let late = f.replace("</kind>", "</kind><offset>8</offset>");
    assert_eq!(at(format!("{c}{late}{}", notes("C4 16"))), places(&[(0.0, "C"), (2.0, "F")]));
    let early = f.replace("</kind>", "</kind><offset>-4</offset>");
    assert_eq!(
        at(format!("{c}{}{early}{}", notes("C4 8"), notes("C4 8"))),
        places(&[(0.0, "C"), (1.0, "F")])
    );
    // Without offset they share the note, on beats.
    assert_eq!(at(format!("{c}{f}{}", notes("C4 16"))), places(&[(0.0, "C"), (2.0, "F")]));
    assert_eq!(at(format!("{c}{f}{}", notes("C4 12,D4 4"))), places(&[(0.0, "C"), (2.0, "F")]));
    assert_eq!(at(format!("{c}{f}{g}{}", notes("C4 16"))), places(&[(0.0, "C"), (2.0, "F"), (3.0, "G")]));
    let crowded = sheet(&[&format!("{c}{f}{}", notes("C4 4,D4 12"))]);
    assert_eq!(chords(&crowded), places(&[(0.0, "C")]));
    assert!(warnings(&crowded)[0].contains("the first is played"));
    // At the end of a bar: the next one's, unless that has its own.
    let after = format!("{c}{}{f}", notes("C4 16"));
    assert_eq!(chords(&sheet(&[&after, &notes("C4 16")])), places(&[(0.0, "C"), (4.0, "F")]));
    assert_eq!(
        chords(&sheet(&[&after, &format!("{g}{}", notes("C4 16"))])),
        places(&[(0.0, "C"), (4.0, "G")])
    );
    assert!(warnings(&sheet(&[&after]))[0].contains("after the last bar"));
}

const START: &str = "<barline location='left'><repeat direction='forward'/></barline>";
const BACK: &str = "<barline location='right'><repeat direction='backward'/></barline>";

fn volta(numbers: &str) -> String {
    format!("<barline location='left'><ending number='{numbers}' type='start'/></barline>")
}

const STOP: &str = "<ending number='1' type='stop'/>";

#[test]
fn repeats_and_endings() {
    let with = |letter: &str, before: &str, after: &str| format!("{letter}{before}@{after}");
    let play = |bars: &[String]| order(&bars.iter().map(String::as_str).collect::<Vec<_>>());
    let stop = |style: &str| format!("<barline location='right'>{style}</barline>");
    let end = stop(&format!("{STOP}<repeat direction='backward'/>"));
    let over = stop(&STOP.replace("stop", "discontinue"));
    assert_eq!(play(&[with("C", "", ""), with("D", "", BACK), with("E", "", "")]), "CDCDE");
    assert_eq!(play(&[with("C", "", ""), with("D", START, BACK), with("E", "", "")]), "CDDE");
    assert_eq!(play(&[with("C", "", &BACK.replace("/></b", " times='3'/></b"))]), "CCC");
    // A double bar is no place to go back to.
    let double = stop("<bar-style>light-light</bar-style>");
    assert_eq!(play(&[with("C", "", &double), with("D", "", BACK)]), "CDCD");
    assert_eq!(
        play(&[
            with("C", START, ""),
            with("D", &volta("1"), &end),
            with("E", &volta("2"), &over),
            with("F", "", "")
        ]),
        "CDCEF"
    );
    assert_eq!(
        play(&[with("C", "", ""), with("D", &volta("1, 2"), &end), with("E", &volta("3"), &over)]),
        "CDCDCE"
    );
    // A second ending is over where it says so: the repeat after it is a new section's.
    let bars = [
        with("C", START, ""),
        with("D", &volta("1"), &end),
        with("E", &volta("2"), &over),
        with("F", START, BACK),
    ];
    assert_eq!(play(&bars), "CDCEFF");
    // A bracket drawn over the first bar only of a first ending of two.
    let bars = [
        with("C", START, ""),
        with("D", &volta("1"), &stop(STOP)),
        with("E", "", BACK),
        with("F", &volta("2"), &over),
        with("G", "", ""),
    ];
    assert_eq!(play(&bars), "CDECFG");
}

#[test]
fn endings_with_a_number_left_out() {
    let bars = [
        notes("C4 16"),
        format!(
            "{}{}<barline><ending number='1' type='stop'/><repeat direction='backward'/></barline>",
            volta("1"),
            notes("D4 16")
        ),
        format!("{}{}", volta("3"), notes("E4 16")),
    ];
    let sheet = sheet(&bars.each_ref().map(String::as_str));
    assert_eq!(
        sheet.melody.iter().map(|note| note.pitch.key()).collect::<Vec<_>>(),
        [60, 62, 60, 62, 60, 64]
    );
    assert_eq!(warnings(&sheet), ["bar 2: no ending is numbered 2; the one before serves for it too"]);
}

#[test]
fn jumps_by_sound_and_by_words() {
    let sound = |mark: &str| {
        format!(
            "<direction><direction-type><words>whatever</words></direction-type><sound {mark}/></direction>"
        )
    };
    let words =
        |text: &str| format!("<direction><direction-type><words>{text}</words></direction-type></direction>");
    let with = |letter: &str, before: &str, after: &str| format!("{letter}{before}@{after}");
    let play = |bars: &[String]| order(&bars.iter().map(String::as_str).collect::<Vec<_>>());
    for (fine, jump) in [(sound("fine='yes'"), sound("dacapo='yes'")), (words("Fine"), words("D.C. al Fine"))]
    {
        assert_eq!(play(&[with("C", "", ""), with("D", "", &fine), with("E", "", &jump)]), "CDECD");
    }
    let bars = [
        with("C", "", ""),
        with("D", &sound("segno='s'"), ""),
        with("E", "", &sound("tocoda='c'")),
        with("F", "", &sound("dalsegno='s'")),
        with("G", &sound("coda='c'"), ""),
    ];
    assert_eq!(play(&bars), "CDEFDEG");
    let sign = |name: &str| format!("<direction><direction-type><{name}/></direction-type></direction>");
    let bars = [
        with("C", "", ""),
        with("D", &sign("segno"), ""),
        with("E", "", &(sign("coda") + &words("To Coda"))),
        with("F", "", &words("D.S. al Coda")),
        with("G", &sign("coda"), ""),
    ];
    assert_eq!(play(&bars), "CDEFDEG");
}

/// Some programs write what concerns all parts into the first only.
#[test]
fn signs_of_other_parts_count() {
    let part = |id: &str, first: &str, second: &str| {
        format!(
            "<part id='{id}'><measure number='1'>{first}{}</measure><measure number='2'>{}{second}</measure></part>",
            notes("C4 4"),
            notes("D4 4")
        )
    };
    let tempo =
        "<direction><direction-type><rehearsal>A</rehearsal></direction-type><sound tempo='60'/></direction>";
    let text = format!(
        "<score-partwise>{}{}</score-partwise>",
        part("A", tempo, BACK),
        part("B", &harmony("C", "major", ""), "")
    );
    let sheet = read(text.as_bytes()).expect("a score");
    assert_eq!((sheet.bars.len(), sheet.tempos[0].micros_per_quarter), (4, 1_000_000));
}

#[test]
fn changes_of_key_metre_and_tempo() {
    let three = "<attributes><key><fifths>3</fifths></key><time><beats>3</beats><beat-type>4</beat-type></time></attributes>";
    let tempo = |rate: &str| {
        format!(
            "<direction><direction-type><words>x</words></direction-type><sound tempo='{rate}'/></direction>"
        )
    };
    let sheet = sheet(&[
        &format!("{}{}{}", notes("C4 8"), tempo("60"), notes("C4 8")),
        &format!("{three}{}", notes("C4 12")),
        &format!("<sound tempo='240'/>{}", notes("C4 12")),
    ]);
    let metres: Vec<_> = sheet.bars.iter().map(|bar| bar.metre.numerator()).collect();
    assert_eq!(metres, [4, 3, 3]);
    assert_eq!(sheet.bars[1].key, Key::from_fifths(3, Mode::Major));
    let tempos: Vec<_> = sheet.tempos.iter().map(|tempo| (tempo.at, tempo.micros_per_quarter)).collect();
    let at = Moment::quarters;
    assert_eq!(tempos, [(at(0), 500_000), (at(2), 1_000_000), (at(7), 250_000)]);
    assert!(warnings(&sheet).is_empty());
}

#[test]
fn sections_and_numbers() {
    let mark = "<direction><direction-type><rehearsal>B</rehearsal></direction-type></direction>";
    let double = "<barline location='right'><bar-style>light-light</bar-style></barline>";
    let bars = [notes("C4 16"), format!("{mark}{}{double}", notes("C4 16")), notes("C4 16"), notes("C4 16")];
    let text = document(&bars.each_ref().map(String::as_str)).replace("number='4'", "number='12'");
    let sheet = read(text.as_bytes()).expect("a score");
    assert_eq!(sheet.bars.iter().map(|bar| bar.section).collect::<Vec<_>>(), [true, true, true, false]);
    assert_eq!(sheet.bars.iter().map(|bar| bar.number).collect::<Vec<_>>(), [1, 2, 3, 12]);
}

#[test]
fn bars_that_do_not_add_up_and_empty_ones() {
    let sheet = sheet(&[&notes("C4 16"), &notes("C4 12"), &notes("C4 16"), "", &notes("R 12,C4 4")]);
    assert_eq!(
        warnings(&sheet),
        ["bar 2: its notes make 3/4, its metre is 4/4; the bar is taken as long as its notes"]
    );
    assert_eq!(sheet.bars[3].length, Span::WHOLE);
    // A pick-up written out as rests stays a full bar.
    assert_eq!(melody(&sheet).last().map(|note| note.0), Some(18.0));
    let unstated =
        document(&[&notes("C4 12"), &notes("C4 12")]).replace("<time>", "<x>").replace("</time>", "</x>");
    let unstated = read(unstated.as_bytes()).expect("a score");
    assert_eq!(unstated.bars[0].metre.numerator(), 3);
    assert!(warnings(&unstated)[0].contains("no time signature; 3/4"));
}

#[test]
fn damaged_and_other_files() {
    let whole = document(&[&notes("C4 16"), &notes("D4 16")]);
    let cut = &whole[..whole.find("D</step>").expect("the second note")];
    let sheet = read(cut.as_bytes()).expect("the part before");
    assert_eq!(melody(&sheet), [(0.0, 4.0, 60)]);
    assert!(warnings(&sheet)[0].starts_with("line 1: the file is damaged"));
    let error = |text: &str| read(text.as_bytes()).expect_err(text).to_string();
    assert!(error("<score-partwise></score-partwise>").contains("has no bars"));
    assert!(error("<score-partwise>\n<part></wrong>").starts_with("line 2: the XML is damaged"));
    assert!(error("<opus/>").contains("collection"));
    assert!(error("<html/>").contains("not a lead sheet"));
    // Nothing outside is looked at, and entities do not grow.
    let entities = whole.replace(
        "<score-partwise version='4.0'>",
        "<!DOCTYPE s [<!ENTITY a 'aaaa'><!ENTITY b SYSTEM 'file:///etc/hostname'>]><score-partwise>\
         <work><work-title>x&a;&b;&#233;&lt;</work-title></work>",
    );
    assert_eq!(read(entities.as_bytes()).expect("a score").title, "x\u{e9}<");
}

/// An archive of stored or deflated files.
fn archive(files: &[(&str, &[u8])]) -> Vec<u8> {
    let mut writer = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    for (name, bytes) in files {
        let options = zip::write::SimpleFileOptions::default();
        writer.start_file(*name, options).expect("a file");
        writer.write_all(bytes).expect("room");
    }
    writer.finish().expect("an archive").into_inner()
}

#[test]
fn compressed_files() {
    let whole = document(&[&notes("C4 16")]);
    let container = b"<container><rootfiles><rootfile full-path='x/s.musicxml' media-type='application/vnd.recordare.musicxml+xml'/></rootfiles></container>";
    let named = archive(&[
        ("META-INF/container.xml", container),
        ("a.xml", b"<wrong/>"),
        ("x/s.musicxml", whole.as_bytes()),
    ]);
    assert_eq!(crate::read(&named, None).expect("a score"), read(whole.as_bytes()).expect("a score"));
    let bare = archive(&[("readme.txt", b"hello"), ("s.xml", whole.as_bytes())]);
    assert_eq!(melody(&crate::read(&bare, None).expect("a score")).len(), 1);
    let error = |bytes: &[u8]| crate::read(bytes, None).expect_err("no score").to_string();
    assert!(error(&archive(&[("readme.txt", b"hello")])).contains("an archive without a score"));
    assert!(error(&named[..named.len() / 2]).contains("damaged"));
}

#[test]
fn archives_are_bounded() {
    let too_large = |bytes: &[u8]| match crate::read(bytes, None) {
        Err(SheetError::TooLarge { what, .. }) => what,
        other => panic!("{other:?}"),
    };
    // A small file that unpacks to more than is allowed, as it says, and with a size that is a lie.
    let spaces = vec![b' '; limits::MAX_BYTES + 1];
    let bomb = archive(&[("s.xml", &spaces)]);
    assert!(bomb.len() < 100_000);
    assert_eq!(too_large(&bomb), "bytes when it is unpacked");
    let stated = (limits::MAX_BYTES as u32 + 1).to_le_bytes();
    let mut lie = bomb.clone();
    for at in 0..lie.len() - 4 {
        if lie[at..at + 4] == stated {
            lie[at..at + 4].copy_from_slice(&100u32.to_le_bytes());
        }
    }
    assert_ne!(lie, bomb);
    assert!(matches!(
        crate::read(&lie, None),
        Err(SheetError::TooLarge { .. } | SheetError::MusicXml { .. })
    ));
    let names: Vec<String> = (0..=limits::MAX_ENTRIES).map(|number| format!("{number}.xml")).collect();
    let files: Vec<(&str, &[u8])> = names.iter().map(|name| (name.as_str(), &b""[..])).collect();
    assert_eq!(too_large(&archive(&files)), "files in one archive");
}

/// Each limit with just enough to exceed it.
#[test]
fn limits_hold() {
    let read = |text: String| super::read(text.as_bytes());
    let too_large = |text: String| match read(text) {
        Err(SheetError::TooLarge { what, .. }) => what,
        other => panic!("{:?}", other.map(|sheet| sheet.bars.len())),
    };
    let part = |inside: &str| format!("<score-partwise><part>{inside}</part></score-partwise>");
    assert!(read(part(&"<measure/>".repeat(limits::MAX_BARS))).is_ok());
    assert_eq!(too_large(part(&"<measure/>".repeat(limits::MAX_BARS + 1))), "bars");
    let parts = |count: usize, bars: usize| {
        let parts: String =
            (0..count).map(|id| format!("<part id='{id}'>{}</part>", "<measure/>".repeat(bars))).collect();
        format!("<score-partwise>{parts}</score-partwise>")
    };
    assert_eq!(too_large(parts(limits::MAX_SCORE_PARTS + 1, 1)), "parts");
    let each = limits::MAX_SCORE_BARS / 20 + 1;
    assert_eq!(too_large(parts(20, each)), "bars in all parts");
    let note = "<note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration></note>";
    assert_eq!(
        too_large(part(&format!("<measure>{}</measure>", note.repeat(limits::MAX_NOTES + 1)))),
        "notes"
    );
    assert_eq!(
        too_large(part(&format!("<measure>{}</measure>", "<note/>".repeat(limits::MAX_SCORE_NOTES + 1)))),
        "notes in all parts"
    );
    assert_eq!(
        too_large(part(&format!("<measure>{}</measure>", "<harmony/>".repeat(limits::MAX_CHORDS + 1)))),
        "chord symbols and directions"
    );
    let deep = |depth: usize| {
        part(&format!("<measure>{}{}</measure>", "<note>".repeat(depth), "</note>".repeat(depth)))
    };
    assert!(read(deep(limits::MAX_DEPTH - 3)).is_ok());
    assert_eq!(too_large(deep(limits::MAX_DEPTH - 2)), "elements nested in one another");
    let back = "<measure><barline><repeat direction='backward' times='99999'/></barline></measure>";
    assert_eq!(read(part(back)).expect("a score").bars.len(), limits::MAX_TIMES as usize);
    let many = "<measure/>".repeat(limits::MAX_BARS / 2);
    assert_eq!(too_large(part(&format!("{many}{back}"))), "bars when the repeats are played out");
    let full = format!("<measure>{}</measure>{back}", note.repeat(limits::MAX_NOTES / 2 + 1));
    assert_eq!(too_large(part(&full)), "notes or chords when the repeats are played out");
    let long = part(&format!("<measure>{}</measure>", note.replace(">1<", ">4000000000<")));
    assert_eq!(read(long).expect("a score").melody[0].length, Span::WHOLE * limits::MAX_NOTE_WHOLES);
    assert_eq!(
        super::read(&vec![b' '; limits::MAX_BYTES + 1]),
        Err(SheetError::TooLarge { what: "bytes", limit: limits::MAX_BYTES })
    );
}
