//! Small scores through the whole reader.

mod bounds;
mod playing;
mod symbols;

use figwort_theory::{Key, Mode, Moment, Span};

use super::read;
use crate::Sheet;

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

/// MusicXML 4.0, `tie`: what is tied sounds on, and is no new note of the melody when the note over it is over.
#[test]
fn a_lower_note_of_a_chord_is_held() {
    let chord = "C4 8 <tie type='start'/>,G4 8 <chord/>";
    let held = "C4 8 <tie type='stop'/>";
    assert_eq!(melody(&sheet(&[&notes(&format!("{chord},{held}"))])), [(0.0, 2.0, 67)]);
    let over_the_bar = sheet(&[&notes(&format!("D4 8,{chord}")), &notes(&format!("{held},E4 8"))]);
    assert_eq!(melody(&over_the_bar), [(0.0, 2.0, 62), (2.0, 2.0, 67), (6.0, 2.0, 64)]);
    // Not tied, it is new.
    assert_eq!(melody(&sheet(&[&notes(&format!("{chord},C4 8"))])).len(), 2);
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
    // A voice that rests for a bar is none while another of the staff sings; the lower staff's is the accompaniment's.
    let resting = format!(
        "{}<backup><duration>16</duration></backup>{}<backup><duration>16</duration></backup>{}",
        notes("R 16 <voice>1</voice>"),
        notes("R 4 <voice>2</voice>,A4 12 <voice>2</voice>"),
        notes("C3 16 <voice>5</voice><staff>2</staff>")
    );
    assert_eq!(melody(&sheet(&[&two, &resting])), [(0.0, 2.0, 72), (2.0, 2.0, 74), (5.0, 3.0, 69)]);
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
    // A solo without words over a piano that has the chord symbols; a bass is no solo.
    let piano =
        part("C", &format!("{}{}", harmony("F", "major", ""), notes("C5 16,F2 16 <chord/><staff>2</staff>")));
    let solo = score(&[part("A", &notes("A5 16")), piano.clone()]);
    assert_eq!((melody(&solo)[0].2, chords(&solo)), (81, vec![(0.0, "F".into())]));
    assert_eq!(melody(&score(&[part("A", &notes("F2 16")), piano]))[0].2, 72);
}

#[test]
fn a_part_by_choice() {
    let bar =
        |body: String| format!("<measure><attributes><divisions>4</divisions></attributes>{body}</measure>");
    let lead = bar(format!("{}{}", harmony("F", "major", ""), notes("A4 16")));
    let text = format!(
        "<score-partwise><part-list><part-group number='1'/><score-part id='a'><part-name>Lead</part-name>\
         </score-part><score-part id='b'><part-name>Alto Flute</part-name></score-part></part-list>\
         <part id='a'>{lead}</part><part id='b'>{}</part></score-partwise>",
        bar(notes("C6 16"))
    );
    let chosen = |melody| {
        let sheet = crate::read_chosen(text.as_bytes(), crate::Choice { tune: None, melody });
        sheet.map(|sheet| (melody_keys(&sheet), chords(&sheet))).map_err(|error| error.to_string())
    };
    // The chord symbols stay those of the lead.
    let lead = vec![(0.0, "F".to_owned())];
    for flute in ["flute", "2", "b"] {
        assert_eq!(chosen(Some(flute)), Ok((vec![84], lead.clone())), "{flute}");
    }
    assert_eq!(chosen(None), Ok((vec![69], lead)));
    assert!(chosen(Some("oboe")).is_err_and(|text| text.contains("1 (Lead) or 2 (Alto Flute)")));
}

fn melody_keys(sheet: &Sheet) -> Vec<u8> {
    sheet.melody.iter().map(|note| note.pitch.key()).collect()
}

/// Signs that stand for a bar or two, as MusicXML's `measure-repeat` has them; bars of rest by number.
#[test]
fn bars_repeated_by_a_sign() {
    let style = |kind: &str, bars: u8| {
        format!(
            "<attributes><measure-style><measure-repeat type='{kind}'>{bars}</measure-repeat></measure-style></attributes>"
        )
    };
    let one = format!("{}{}", harmony("C", "major", ""), notes("C4 8,D4 8"));
    let two = format!("{}{}", harmony("G", "major", ""), notes("E4 16"));
    let sheet = sheet(&[
        &one,
        &two,
        &format!("{}{}", style("start", 2), notes("R 16")),
        "",
        &format!("{}{}", style("stop", 2), notes("F4 16")),
        &format!(
            "<attributes><measure-style><multiple-rest>2</multiple-rest></measure-style></attributes>{}",
            notes("R 16")
        ),
        &notes("R 16"),
    ]);
    assert!(warnings(&sheet).is_empty(), "{:?}", sheet.warnings);
    let keys: Vec<_> = melody(&sheet).into_iter().map(|(at, _, key)| (at, key)).collect();
    assert_eq!(keys, [(0.0, 60), (2.0, 62), (4.0, 64), (8.0, 60), (10.0, 62), (12.0, 64), (16.0, 65)]);
    assert_eq!(chords(&sheet), [(0.0, "C".into()), (4.0, "G".into()), (8.0, "C".into()), (12.0, "G".into())]);
    assert_eq!(sheet.bars.len(), 7);
    let lone = super::tests::sheet(&[&format!("{}{}", style("start", 1), notes("R 16"))]);
    assert!(warnings(&lone)[0].contains("repeats a bar that is not there"));
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
    assert!(warnings(&unstated)[0].contains("no time signature that is understood; 3/4"));
    // One that says nothing gets one warning, not another against it.
    let empty = document(&[&notes("C4 12"), &notes("C4 12")]).replace("<beats>4</beats>", "<beats>0</beats>");
    let empty = read(empty.as_bytes()).expect("a score");
    assert_eq!(warnings(&empty).len(), 1);
    assert!(warnings(&empty)[0].contains("no time signature that is understood; 3/4"));
}
