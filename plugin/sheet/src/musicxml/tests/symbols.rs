//! Chord symbols.

use figwort_theory::ChordSymbol;

use super::*;

/// The symbol that a `harmony` element comes to.
fn symbol(element: &str) -> (String, Vec<String>) {
    let sheet = sheet(&[&format!("{element}{}", notes("C5 16"))]);
    (sheet.chords.first().map(|chord| chord.symbol.to_string()).unwrap_or_default(), warnings(&sheet))
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
    same(of("", ""), "C");
    same(of("half-diminished", ""), "Cm7b5");
    // Names that are not the standard's.
    same(of("dominant-seventh", ""), "C7");
    same(of("half-diminished-seventh", ""), "Cm7b5");
    same(of("augmented-major-seventh", ""), "Cmaj7#5");
    same(of("suspended", ""), "Csus4");
    same(of("min7", ""), "Cm7");
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

/// Words over the stave where there is no chord symbol at all; names of sections are none.
#[test]
fn chord_symbols_as_words() {
    let words =
        |text: &str| format!("<direction><direction-type><words>{text}</words></direction-type></direction>");
    let bar = |first: &str, second: &str| {
        format!("{}{}{}{}", words(first), notes("C5 8"), words(second), notes("C5 8"))
    };
    let bars = [bar("Am", "D7"), bar("G", "N.C."), bar("G/B", "dolce")];
    let bars = bars.each_ref().map(String::as_str);
    let worded = sheet(&bars);
    let wanted = [(0.0, "Am"), (2.0, "D7"), (4.0, "G"), (6.0, "N.C."), (8.0, "G/B")];
    assert_eq!(chords(&worded), wanted.map(|(at, text)| (at, text.to_owned())));
    assert!(warnings(&worded)[0].contains("words over the stave"));
    let sections = [bar("A", "dolce"), bar("B", "A"), bar("C", "A")];
    assert_eq!(chords(&sheet(&sections.each_ref().map(String::as_str))), []);
    let with_one = format!("{}{}", harmony("F", "major", ""), bars[0]);
    assert_eq!(chords(&sheet(&[&with_one, bars[1], bars[2]]))[0].1, "F");
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
    let function = symbol("<harmony><function>tonic</function><kind>major</kind></harmony>");
    assert_eq!(function.0, "");
    assert!(function.1[0].contains("root is not understood"));
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

/// Functions and numerals are counted in the key; MusicXML 4.0, `function` and `numeral`.
#[test]
fn roots_as_degrees_of_the_key() {
    let in_key = |fifths: i32, mode: &str, element: &str| {
        let key = format!("<attributes><key><fifths>{fifths}</fifths><mode>{mode}</mode></key></attributes>");
        let sheet = sheet(&[&format!("{key}{element}{}", notes("C5 16"))]);
        assert!(warnings(&sheet).is_empty(), "{element}: {:?}", warnings(&sheet));
        sheet.chords[0].symbol.to_string()
    };
    let function =
        |text: &str, kind: &str| format!("<harmony><function>{text}</function><kind>{kind}</kind></harmony>");
    assert_eq!(in_key(0, "major", &function("V", "dominant")), "G7");
    assert_eq!(in_key(-3, "major", &function("ii", "minor-seventh")), "Fm7");
    assert_eq!(in_key(-3, "minor", &function("VI", "major")), "Ab");
    assert_eq!(in_key(2, "major", &function("bVII", "major")), "C");
    assert_eq!(in_key(1, "minor", &function("V7", "dominant")), "B7");
    let numeral = "<harmony><numeral><numeral-root>4</numeral-root><numeral-alter>1</numeral-alter>\
                   <numeral-key><numeral-fifths>1</numeral-fifths><numeral-mode>major</numeral-mode></numeral-key>\
                   </numeral><kind>half-diminished</kind></harmony>";
    assert_eq!(ChordSymbol::parse(&in_key(0, "major", numeral)), ChordSymbol::parse("C#m7b5"));
    // In a transposing part the degree is of the key that sounds.
    let clarinet = "<attributes><transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>\
                    <key><fifths>2</fifths></key></attributes>";
    let sounding = sheet(&[&format!("{clarinet}{}{}", function("V", "dominant"), notes("D5 16"))]);
    assert_eq!(sounding.chords[0].symbol.to_string(), "G7");
}

/// Programs that put the text of a kind into its name.
#[test]
fn kinds_by_their_text() {
    let kind = |name: &str| symbol(&harmony("C", name, ""));
    for (name, text) in [("min7", "Cm7"), ("7", "C7"), ("maj7", "Cmaj7"), ("m7b5", "Cm7b5"), ("6/9", "C6/9")]
    {
        let (found, warnings) = kind(name);
        assert_eq!(ChordSymbol::parse(&found), ChordSymbol::parse(text), "{name}");
        assert!(warnings.is_empty(), "{name}: {warnings:?}");
    }
}
