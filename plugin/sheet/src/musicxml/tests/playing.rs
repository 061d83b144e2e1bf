//! Repeats, endings and jumps.

use super::*;

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

/// MusicXML 4.0, `repeat`: after a jump a repeat is played only where `after-jump` says so.
#[test]
fn repeats_after_a_jump() {
    let with = |letter: &str, before: &str, after: &str| format!("{letter}{before}@{after}");
    let play = |bars: &[String]| order(&bars.iter().map(String::as_str).collect::<Vec<_>>());
    let jump = "<sound dacapo='yes'/>";
    let held = BACK.replace("/></b", " after-jump='yes'/></b");
    assert_eq!(play(&[with("C", "", ""), with("D", START, BACK), with("E", "", jump)]), "CDDECDE");
    assert_eq!(play(&[with("C", "", ""), with("D", START, &held), with("E", "", jump)]), "CDDECDDE");
    let over = format!("<barline location='right'>{}</barline>", STOP.replace("stop", "discontinue"));
    for (sign, played) in [(BACK.to_owned(), "CDCECE"), (held, "CDCECDCE")] {
        let end = sign.replace("<repeat", &format!("{STOP}<repeat"));
        let bars =
            [with("C", "", ""), with("D", &volta("1"), &end), with("E", &volta("2"), &(over.clone() + jump))];
        assert_eq!(play(&bars), played);
    }
}

/// Words beside the sound say how far a jump leads (common practice, no source).
#[test]
fn words_beside_a_sound_choose_fine_or_coda() {
    let with = |letter: &str, before: &str, after: &str| format!("{letter}{before}@{after}");
    let jump = |way: &str| {
        format!(
            "<direction><direction-type><words>D.C. al {way}</words></direction-type><sound dacapo='yes'/></direction>"
        )
    };
    for (way, played) in [("Fine", "CDEC"), ("Coda", "CDECDF")] {
        let bars = [
            with("C", "", "<sound fine='yes'/>"),
            with("D", "", "<sound tocoda='c'/>"),
            with("E", "", &jump(way)),
            with("F", "<sound coda='c'/>", ""),
        ];
        assert_eq!(order(&bars.each_ref().map(String::as_str)), played);
    }
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
