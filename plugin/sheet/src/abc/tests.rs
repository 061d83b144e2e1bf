//! Small tunes through the whole reader.

use figwort_theory::{ChordSymbol, Key, Mode, Moment, Span};

use super::{read, read_all, tunes};
use crate::{Sheet, SheetError, limits};

mod voices;

fn tune(header: &str, body: &str) -> Sheet {
    read(format!("X:1\nT:Test\n{header}\n{body}\n").as_bytes(), None).expect(body)
}

/// Onset, length (both in eighths) and MIDI key of each note.
fn notes(sheet: &Sheet) -> Vec<(f64, f64, u8)> {
    let eighths = |span: Span| span.in_quarters() * 2.0;
    let note = |note: &crate::Note| (eighths(note.at.since_zero()), eighths(note.length), note.pitch.key());
    sheet.melody.iter().map(note).collect()
}

/// Lengths in eighths.
fn lengths(sheet: &Sheet) -> Vec<f64> {
    notes(sheet).into_iter().map(|note| note.1).collect()
}

fn keys(sheet: &Sheet) -> Vec<u8> {
    notes(sheet).into_iter().map(|note| note.2).collect()
}

/// Place (in eighths) and text of each chord.
fn chords(sheet: &Sheet) -> Vec<(f64, String)> {
    let chord =
        |chord: &crate::ChordChange| (chord.at.since_zero().in_quarters() * 2.0, chord.symbol.to_string());
    sheet.chords.iter().map(chord).collect()
}

/// Warnings other than of missing chords.
fn warnings(sheet: &Sheet) -> Vec<String> {
    sheet
        .warnings
        .iter()
        .map(ToString::to_string)
        .filter(|text| !text.contains("has no chord symbols"))
        .collect()
}

#[test]
fn a_tune_with_a_pick_up() {
    let sheet = tune("C:Nobody\nM:3/4\nL:1/8\nQ:1/4=90\nK:G", "D2|\"G\"G4A2|\"D7\"F4D2|\"G\"G4||");
    assert_eq!(sheet.title, "Test");
    assert_eq!(sheet.composer.as_deref(), Some("Nobody"));
    assert_eq!(sheet.key, Key::from_fifths(1, Mode::Major));
    assert_eq!(sheet.tempos[0].micros_per_quarter, 666_667);
    assert_eq!(sheet.bars.iter().map(|bar| bar.number).collect::<Vec<_>>(), [0, 1, 2, 3]);
    assert_eq!(sheet.bars[0].length, Span::QUARTER);
    assert_eq!(sheet.end, Moment::quarters(9));
    assert_eq!(keys(&sheet), [62, 67, 69, 66, 62, 67]);
    assert_eq!(chords(&sheet), [(2.0, "G".into()), (8.0, "D7".into()), (14.0, "G".into())]);
    assert!(sheet.warnings.is_empty(), "{:?}", sheet.warnings);
    assert!(sheet.is_pickup(0) && !sheet.is_pickup(1) && !sheet.is_pickup(3));
    assert_eq!(sheet.place(0, Moment::ZERO), Span::QUARTER * 2);
    assert_eq!(sheet.bar_at(Moment::quarters(1)), Some(1));
    assert_eq!(sheet.bar_at(sheet.end), None);
}

/// ABC 2.1, 4.3 to 4.5 and 4.13.
#[test]
fn lengths_in_all_spellings() {
    assert_eq!(
        lengths(&tune("M:4/4\nL:1/8\nK:C", "A2A/A/A3/2A//A/4A4|")),
        [2.0, 0.5, 0.5, 1.5, 0.25, 0.25, 4.0]
    );
    assert_eq!(
        lengths(&tune("M:4/4\nL:1/8\nK:C", "A>BA<BA>>BA<<B|")),
        [1.5, 0.5, 0.5, 1.5, 1.75, 0.25, 0.25, 1.75]
    );
    assert_eq!(lengths(&tune("M:4/4\nL:1/8\nK:C", "A {b} > B A2 z4|")), [1.5, 0.5, 2.0]);
    let triplet = 2.0 / 3.0;
    assert_eq!(lengths(&tune("M:2/4\nL:1/8\nK:C", "(3ABc A2|")), [triplet, triplet, triplet, 2.0]);
    assert_eq!(lengths(&tune("M:2/4\nL:1/8\nK:C", "(3:2:2A2B A2|")), [2.0 * triplet, triplet, 2.0]);
    assert_eq!(lengths(&tune("M:6/8\nL:1/8\nK:C", "(2AB A3|")), [1.5, 1.5, 3.0]);
    assert_eq!(lengths(&tune("M:6/8\nL:1/8\nK:C", "(4ABAB A3|")), [0.75, 0.75, 0.75, 0.75, 3.0]);
    assert_eq!(lengths(&tune("M:2/4\nL:1/8\nK:C", "(5ABABA A2|"))[0], 0.4);
    assert_eq!(lengths(&tune("M:6/8\nL:1/8\nK:C", "(5ABABA A3|"))[0], 0.6);
    assert_eq!(lengths(&tune("M:4/4\nK:C", "A|")), [1.0]);
    assert_eq!(lengths(&tune("M:2/4\nK:C", "A|")), [0.5]);
    for body in ["(3ABc A2|", "(7ABcdefg A2|", "(9ABcdefgab A2|"] {
        let sheet = tune("M:2/4\nL:1/8\nK:C", &format!("AAAA|{body}AAAA|"));
        assert_eq!(warnings(&sheet), [] as [String; 0], "{body}");
    }
}

#[test]
fn rests_take_time_and_whole_bars() {
    let sheet = tune("M:3/4\nL:1/4\nK:C", "Az2|Z2|x2B|");
    assert_eq!(notes(&sheet), [(0.0, 2.0, 69), (22.0, 2.0, 71)]);
    assert_eq!(sheet.bars.len(), 4);
    assert_eq!(warnings(&sheet), [] as [String; 0]);
}

/// ABC 2.1, 4.1, 4.2 and 11.3.
#[test]
fn octaves_and_accidentals() {
    assert_eq!(keys(&tune("K:C", "C,CcC'c'|")), [48, 60, 72, 72, 84]);
    assert_eq!(keys(&tune("K:D", "FF=FF|F_F^^F__F|")), [66, 66, 65, 65, 66, 64, 67, 63]);
    assert_eq!(keys(&tune("K:C", "^Ff|f|")), [66, 78, 77]);
    assert_eq!(keys(&tune("I:propagate-accidentals octave\nK:C", "^FfF|")), [66, 77, 66]);
    assert_eq!(keys(&tune("%%propagate-accidentals not\nK:C", "^FF|")), [66, 65]);
    assert_eq!(keys(&tune("K:C transpose=-2", "C|")), [58]);
    assert_eq!(keys(&tune("K:C", "F[K:G]F|\nK:F\nB|[K:clef=bass]B|")), [65, 66, 70, 70]);
}

#[test]
fn ties_join_and_carry_the_accidental() {
    let sheet = tune("M:2/4\nL:1/4\nK:C", "A^F-|FA|F2-|G2|A2 -|A2|");
    assert_eq!(
        notes(&sheet),
        [(0.0, 2.0, 69), (2.0, 4.0, 66), (6.0, 2.0, 69), (8.0, 4.0, 65), (12.0, 4.0, 67), (16.0, 8.0, 69)]
    );
}

#[test]
fn a_tie_into_both_endings() {
    let sheet = tune("M:2/4\nL:1/4\nK:C", "|:A2|B2-|1B2:|2B2|]");
    assert_eq!(lengths(&sheet), [4.0, 8.0, 4.0, 8.0]);
}

#[test]
fn note_chords_give_their_top_note() {
    let sheet = tune("M:4/4\nL:1/4\nK:C", "[CEG]2[E3c3]-|[Ec][+GB][G/2B/2][GB]3/2|");
    assert_eq!(
        notes(&sheet),
        [(0.0, 4.0, 67), (4.0, 8.0, 72), (12.0, 2.0, 71), (14.0, 1.0, 71), (15.0, 3.0, 71)]
    );
}

/// ABC 2.1, 4.17: a tie inside a note chord is its note's own, one behind it all its notes'.
#[test]
fn a_lower_note_of_a_note_chord_is_held() {
    assert_eq!(keys(&tune("M:4/4\nL:1/4\nK:C", "[C-G]2 C E|[CG]2- C2|")), [67, 64, 67]);
    assert_eq!(keys(&tune("M:4/4\nL:1/4\nK:C", "[C-G]2|C2 [C-G] G|")), [67, 67, 67]);
    assert_eq!(keys(&tune("M:4/4\nL:1/4\nK:C", "[CG-]2 [CG]2|[C-E-] [CE] [CE] C|")), [67, 64, 64, 60]);
}

#[test]
fn ornaments_slurs_and_signs_take_no_time() {
    let body = "{gag}A!trill!B~c.d|(e`f) (3gab|vA\"^slowly\"B +fermata+c d|y3A2 H B2 \\\n|A4|";
    let sheet = tune("M:4/8\nL:1/8\nK:C", body);
    assert_eq!(warnings(&sheet), [] as [String; 0]);
    assert_eq!(sheet.melody.len(), 4 + 5 + 4 + 2 + 1);
}

#[test]
fn metre_key_unit_and_tempo_change_on_the_way() {
    let body = "C4|[M:3/4][Q:1/4=60]C3|\nM:6/8\nL:1/8\nK:Am\nA6|A3[Q:3/8=100]A3|";
    let sheet = tune("M:4/4\nL:1/4\nQ:1/4=120\nK:C", body);
    let metres: Vec<_> =
        sheet.bars.iter().map(|bar| (bar.metre.numerator(), bar.metre.denominator())).collect();
    assert_eq!(metres, [(4, 4), (3, 4), (6, 8), (6, 8)]);
    assert_eq!(sheet.bars[2].key, Key::from_fifths(0, Mode::Minor));
    let tempos: Vec<_> =
        sheet.tempos.iter().map(|tempo| (tempo.at.0 / 10_080, tempo.micros_per_quarter)).collect();
    assert_eq!(tempos, [(0, 500_000), (8, 1_000_000), (23, 400_000)]);
    assert_eq!(warnings(&sheet), [] as [String; 0]);
}

#[test]
fn bars_that_do_not_add_up_are_named() {
    let sheet = tune("M:4/4\nL:1/4\nK:C", "CDEF|CDE|CDEF|CDEFG|CDEF|]");
    assert_eq!(
        warnings(&sheet),
        [
            "bar 2 (line 6): its notes make 3/4, its metre is 4/4; the bar is taken as long as its notes",
            "bar 4 (line 6): its notes make 5/4, its metre is 4/4; the bar is taken as long as its notes",
        ]
    );
    // A bar divided by a repeat sign has one number, and its halves are no fault.
    let divided = tune("M:4/4\nL:1/4\nK:C", "C|CDEF|CDE:|F|CDEF|CDE|]");
    assert_eq!(warnings(&divided), [] as [String; 0]);
    assert_eq!(divided.bars.iter().map(|bar| bar.number).collect::<Vec<_>>(), [0, 1, 2, 0, 1, 2, 2, 3, 4]);
    let free = tune("M:none\nL:1/4\nK:C", "CDE|CDEFG|");
    assert_eq!(warnings(&free), [] as [String; 0]);
    assert_eq!(free.bars[1].metre.numerator(), 5);
}

#[test]
fn chord_symbols_as_sheets_write_them() {
    let text = |body: &str| chords(&tune("M:4/4\nL:1/8\nK:C", body));
    let at =
        |list: &[(f64, &str)]| list.iter().map(|(at, text)| (*at, (*text).to_string())).collect::<Vec<_>>();
    assert_eq!(text("\"C\"C4\"G7\"G4|\"C\"C8|"), at(&[(0.0, "C"), (4.0, "G7"), (8.0, "C")]));
    assert_eq!(text("\"C\"C4C4|\"C\"C4\"^up\"C4|"), at(&[(0.0, "C")]));
    assert_eq!(text("\"D/f+\"C4\"N.C.\"C4|\"G(Em)\"C4\"(E7)\"C4|")[0], (0.0, "D/F#".into()));
    // Changes under a held note share it.
    assert_eq!(text("\"E7\"\"A\"e8|"), at(&[(0.0, "E7"), (4.0, "A")]));
    // Faster than the beat, and alternatives wherever a note could have carried the second.
    assert_eq!(text("\"E7\"\"A\"e2 e6|"), at(&[(0.0, "E7")]));
    assert_eq!(text("\"E7\"\"A\"e8|\"Em\"\"C\"e4e4|\" \"\"G\"e8|"), at(&[(0.0, "E7"), (8.0, "Em")]));
    // On a rest, and over the bar line to the next note.
    assert_eq!(text("\"C\"z8|\"G\"|z8|"), at(&[(0.0, "C"), (8.0, "G")]));
}

#[test]
fn german_chord_symbols() {
    let sheet = tune("M:4/4\nL:1\nK:C", "\"Hm\"C|\"B\"D|\"Bb\"E|\"Fis7\"F|\"H7/D#\"C|");
    let names: Vec<String> = chords(&sheet).into_iter().map(|(_, text)| text).collect();
    assert_eq!(names, ["Bm", "Bb", "F#7", "B7/D#"]);
    assert!(warnings(&sheet)[0].contains("B is taken for B flat"));
    // A hold and fingerings.
    let held = tune("M:4/4\nL:1\nK:C", "\"H\"C|\"4\"D|\"tr\"E|");
    assert_eq!(chords(&held), []);
    assert_eq!(warnings(&held), ["bar 2 (line 6): quoted texts that are no chord symbols are passed over"]);
}

#[test]
fn no_chord_is_a_change() {
    let sheet = tune("M:4/4\nL:1/1\nK:C", "\"C\"C|\"N.C.\"C|");
    assert_eq!(sheet.chords.len(), 2);
    assert_eq!(sheet.chords[1].symbol.chord, None);
}

#[test]
fn an_unknown_chord_symbol_is_named_with_bar_and_line() {
    let sheet = tune("M:4/4\nL:1/1\nK:C", "\"C\"C|\"Hx9\"C|\"Am?\"C|\"Chorus\"C|");
    assert_eq!(sheet.chords.len(), 2);
    assert_eq!(sheet.chords[1].symbol, ChordSymbol::parse("Am").expect("a chord"));
    assert_eq!(
        warnings(&sheet),
        [
            "bar 2 (line 6): the chord symbol \"Hx9\" is not known; the chord before it continues",
            "bar 3 (line 6): the chord symbol \"Am?\" is not known; read as far as Am",
            "bar 4 (line 6): the chord symbol \"Chorus\" is not known; the chord before it continues",
        ]
    );
}

#[test]
fn what_is_left_out_is_said() {
    let warned = |body: &str| warnings(&tune("M:4/4\nL:1/4\nK:C", body)).join("; ");
    assert!(
        warned("V:1\nCDEF|\nV:2\nC,4|\nV:1\nGABc|")
            .contains("the tune has 2 voices; voice 1 is read; choose another")
    );
    assert_eq!(tune("M:4/4\nL:1/4\nK:C", "V:1\nCDEF|\nV:2\nC,4|\nV:1\nGABc|").melody.len(), 8);
    assert_eq!(tune("M:4/4\nL:1/4\nK:C", "[V:a]CDEF|[V:b]C,4|[V:a]c4|").melody.len(), 5);
    assert!(warned("CDEF & C,4|GABc|").contains("a second voice after &"));
    assert_eq!(tune("M:4/4\nL:1/4\nK:C", "CDEF & C,4|GABc|").melody.len(), 8);
    assert!(warned("U:AB=!turn!\nTC4|").contains("U:AB=!turn! is no definition"));
    assert!(warned("m:~n2=no\nC4|").contains("m: macros"));
    assert!(warned("C4|§C4|").contains("the sign '§'"));
    assert!(warned("\"C C4|").contains("not closed"));
}

#[test]
fn tunes_of_a_file() {
    let file =
        b"M:3/4\nL:1/4\n\nX:7\nT:One\nK:C\nCDE|\n\nfree text\n\nX:9\nT:Two % second\nM:4/4\nK:C\nC4|\n";
    assert_eq!(tunes(file), [(7, "One".to_string()), (9, "Two".to_string())]);
    let first = read(file, None).expect("the first tune");
    assert_eq!((first.title.as_str(), first.bars[0].metre.numerator()), ("One", 3));
    assert!(first.warnings[0].text.contains("holds 2 tunes"));
    let second = read(file, Some(9)).expect("the second tune");
    assert_eq!((second.title.as_str(), second.end), ("Two", Moment::quarters(4)));
    assert_eq!(read_all(file).expect("a file").len(), 2);
    let missing = read(file, Some(8)).expect_err("no such tune");
    assert_eq!(
        missing.to_string(),
        "no tune with X:8 among 2 in the file (it has 7, 9); choose one of those numbers"
    );
}

#[test]
fn music_after_an_empty_line_is_reported() {
    let sheet = read(b"X:1\nT:Test\nM:2/4\nL:1/4\nK:C\n\"C\"CD|\n\nEF|GA|\n", None).expect("a tune");
    assert_eq!(sheet.bars.len(), 1);
    assert!(warnings(&sheet)[0].starts_with("line 8: music after an empty line"));
}

#[test]
fn errors_name_the_line() {
    let error = |text: &str| read(text.as_bytes(), None).expect_err(text).to_string();
    assert_eq!(
        error("X:1\nT:No key\nCDEF|\n"),
        "line 1: the tune has no K: line; end its header with a key, like K:G"
    );
    assert_eq!(
        error("X:1\nT:Silent\nK:C\n"),
        "line 3: the tune has no music after its K: line; write its notes and bar lines below K:"
    );
    assert!(error("nothing").contains("the file has no tune"));
    assert!(matches!(read(b"", None), Err(SheetError::Empty)));
}

/// Each limit with just enough to exceed it.
#[test]
fn limits_hold() {
    let error = |body: &str| read(format!("X:1\nM:1/4\nL:1/4\nK:C\n{body}\n").as_bytes(), None).err();
    let too_large = |body: &str| matches!(error(body), Some(SheetError::TooLarge { .. }));
    assert!(too_large(&"C|".repeat(limits::MAX_BARS + 1)));
    assert!(!too_large(&"C|".repeat(limits::MAX_BARS)));
    assert!(too_large(&"C".repeat(limits::MAX_NOTES + 1)));
    assert!(too_large(&format!("Z{}|", limits::MAX_BARS + 1)));
    assert!(too_large("Z999999999999|"));
    // Repeats: few bytes, many bars.
    assert!(too_large(&format!(
        "|{}{} {}|",
        ":".repeat(99),
        "C|".repeat(limits::MAX_BARS / 10),
        ":".repeat(99)
    )));
    let colons = error(&format!("|{} C {}|", ":".repeat(9999), ":".repeat(9999)));
    assert_eq!(colons, None);
    assert!(too_large(&format!("|: {} :|", "C".repeat(limits::MAX_NOTES / 2 + 1))));
    assert!(
        too_large(&"\"C\"".repeat(limits::MAX_CHORDS + 1))
            || too_large(&"\"C\"C".repeat(limits::MAX_CHORDS + 1))
    );
    let tunes = "X:1\nK:C\nC|\n\n".repeat(limits::MAX_TUNES + 1);
    assert!(matches!(read(tunes.as_bytes(), None), Err(SheetError::TooLarge { .. })));
    assert!(matches!(read(&vec![b' '; limits::MAX_BYTES + 1], None), Err(SheetError::TooLarge { .. })));
    let long = tune("M:4/4\nL:1/1\nK:C", "C999999|(99:1:1C|(3:0:3C|");
    assert_eq!(long.melody[0].length, Span::WHOLE * limits::MAX_NOTE_WHOLES);
    assert_eq!(warnings(&long).iter().filter(|text| text.contains("tuplet")).count(), 2);
    let tuplet = |count: u32| warnings(&tune("L:1/8\nK:C", &format!("({count}:2:2CD|"))).len();
    assert_eq!((tuplet(limits::MAX_TUPLET), tuplet(limits::MAX_TUPLET + 1)), (0, 1));
    let order = |count: usize| super::field::part_order(&format!("A{count}")).map(|order| order.len());
    assert_eq!((order(limits::MAX_PARTS), order(limits::MAX_PARTS + 1)), (Some(limits::MAX_PARTS), None));
    let noisy = tune("M:4/4\nL:1/4\nK:C", &"\"C?\"C4|".repeat(limits::MAX_WARNINGS + 10));
    assert_eq!(noisy.warnings.len(), limits::MAX_WARNINGS + 1);
}

/// Found by fuzzing: a note shorter than a tick, and a tempo between the notes of a broken rhythm.
#[test]
fn of_two_things_in_one_tick_the_later_holds() {
    let short = tune("L:1/8\nK:C", "\"Am\"A2\"D\"B1/999999999\"Am\"c2|");
    assert_eq!(chords(&short), [(0.0, "Am".into())]);
    assert!(warnings(&short).is_empty(), "{:?}", short.warnings);
    let tempos = tune("L:1/8\nK:C", "A[Q:1/4=60]<B[Q:1/4=90]c|A[Q:1/4=70]<|");
    let at: Vec<f64> = tempos.tempos.iter().map(|tempo| tempo.at.since_zero().in_quarters()).collect();
    assert_eq!(at, [0.0, 0.25, 1.0, 1.75], "{:?}", tempos.tempos);
}

/// What voices say of their pitch, be it in the header, in the body or both.
#[test]
fn voices_that_sound_elsewhere() {
    assert_eq!(keys(&tune("L:1/4\nV:1 clef=treble-8\nK:C", "C D E F|")), [48, 50, 52, 53]);
    assert_eq!(keys(&tune("L:1/4\nV:B transpose=-2\nV:C\nK:C", "V:B\nD4|\nV:C\nC,4|")), [60]);
    assert_eq!(keys(&tune("L:1/4\nK:C", "[V:1 octave=1]C4|[V:2]C4|[V:1]D4|")), [72, 74]);
    assert_eq!(keys(&tune("L:1/4\nK:C transpose=12", "V:1\nC4|")), [72]);
}

/// Text blocks are no music and no fields, wherever they stand.
#[test]
fn text_blocks_are_passed_over() {
    let block = "%%begintext\nT:Not the title\nK:F#\nABC|\n%%endtext\n";
    let sheet = tune(&format!("{block}L:1/4\nK:G"), &format!("F4|\n{block}G4|\n%%text F|F|\nA4|"));
    assert_eq!((sheet.title.as_str(), keys(&sheet)), ("Test", vec![66, 67, 69]));
}

/// Ties over bar lines and into first endings, tuplets of all three numbers, endings of several numbers,
/// directions in words and as decorations.
#[test]
fn what_real_files_hold() {
    let tied = tune("M:2/4\nL:1/8\nK:C", "A4-|A4-|A2 (3:2:2B2c|(3B-B-B A2|");
    assert_eq!(lengths(&tied)[0], 10.0);
    assert_eq!(notes(&tied)[3..], [(12.0, 2.0, 71), (14.0, 2.0, 69)]);
    let endings = tune("M:2/4\nL:1/4\nK:C", "|:CC|1,3 DD:|2 EE:|4 FF|]");
    assert_eq!(keys(&endings), [60, 60, 62, 62, 60, 60, 64, 64, 60, 60, 62, 62, 60, 60, 65, 65]);
    let words = tune("M:2/4\nL:1/4\nK:C", "CC|DD!fine!|EE|\"^D.C. al Fine\"FF|]");
    assert_eq!(keys(&words), [60, 60, 62, 62, 64, 64, 65, 65, 60, 60, 62, 62]);
    let overlay = tune("M:4/4\nL:1/4\nK:C", "C D & E,4 | E F G y A |");
    assert_eq!(keys(&overlay), [60, 62, 64, 65, 67, 69]);
    let exotic = tune(
        "M:none\nL:1/4\nU:T=!trill!\nm:~n2=n/o/n\nK:^f^c\nw:words",
        "\"@-3,5.5 slower\"C !p! F [r:remark] .G {cd}A ~B (c d) |\nw:la la\ns:* !f!\n+:and so on\nT:Second\n",
    );
    assert_eq!(keys(&exotic), [61, 66, 67, 69, 71, 73, 74]);
    let said = warnings(&exotic).join("\n");
    assert!(said.contains("m: macros are not expanded; write the notes out"), "{said}");
    assert!(!said.contains("U:") && !said.contains("s:"), "{said}");
}

/// Dialects of older files: `+…+` around chords and around decorations, `!` and `*` at the ends of lines, signs
/// kept for later use (ABC 2.1, 4.20, 8.1 and 11).
#[test]
fn older_dialects() {
    let plain = |body: &str| {
        let sheet = tune("M:4/4\nL:1/4\nK:C", body);
        assert_eq!(warnings(&sheet), [] as [String; 0], "{body}");
        keys(&sheet)
    };
    assert_eq!(plain("+CEG+ +trill+A +C2E2+|"), [67, 69, 64]);
    assert_eq!(plain("CDEF|!GABc!|"), [60, 62, 64, 65, 67, 69, 71, 72]);
    assert_eq!(plain("CD!ff!EF!|GABc!"), [60, 62, 64, 65, 67, 69, 71, 72]);
    assert_eq!(plain("CDEF|*\nGA#B;c@|**"), [60, 62, 64, 65, 67, 69, 71, 72]);
    let breaks = tune("I:linebreak !\nI:decoration +\nM:4/4\nL:1/4\nK:C", "CD+fine+EF|!GABc|!cBAG|");
    assert_eq!(keys(&breaks).len(), 12);
    assert_eq!(keys(&tune("M:4/4\nL:1/4\nK:C", "I:linebreak <none>\nCDEF|$GABc|\\\ncBAG|")).len(), 12);
}

/// ABC 2.1, 4.14 and 4.16.
#[test]
fn letters_stand_for_signs() {
    let sheet = tune("M:4/4\nL:1\nU:R=!D.C.!\nU:n=!fine!\nU:T=\"F\"\nK:C", "\"C\"C|nD|]TE|RF|]");
    assert_eq!(keys(&sheet), [60, 62, 64, 65, 60, 62]);
    assert_eq!(chords(&sheet), [(0.0, "C".into()), (16.0, "F".into()), (32.0, "C".into())]);
    assert_eq!(warnings(&sheet), [] as [String; 0]);
    // S and O are signs until they are something else.
    let unsigned = tune("M:4/4\nL:1\nU:S=!turn!\nK:C", "C|SD|E!D.S.!|]");
    assert_eq!(keys(&unsigned), [60, 62, 64, 60, 62, 64]);
}

/// ABC 2.1, 4.15: symbols for notes, none for rests, on by `*` and `|`.
#[test]
fn symbols_under_a_line() {
    let sheet = tune(
        "M:4/4\nL:1/4\nK:C",
        "CzDE|FGAB|c4|\ns:\"C\" * \"Am\"|* \"G7\" |\"C\"\nw:one two three\nFD2\ns:\"Dm\" \"G\"\nE|]",
    );
    let wanted = [(0.0, "C"), (6.0, "Am"), (10.0, "G7"), (16.0, "C"), (24.0, "Dm"), (26.0, "G")];
    assert_eq!(chords(&sheet), wanted.map(|(at, text)| (at, text.to_owned())));
    assert_eq!(warnings(&sheet), [] as [String; 0]);
    let jump = tune("M:4/4\nL:1\nK:C", "C|D|E|F|\ns:* !fine! * !D.C.!");
    assert_eq!(keys(&jump), [60, 62, 64, 65, 60, 62]);
    assert!(warnings(&tune("L:1\nM:4/4\nK:C", "C|\ns:\"C\" \"D\"")).join("").contains("more of them"));
    // A symbol under a note that has one over it: two symbols, which share the note.
    let both = tune("L:1\nM:4/4\nK:C", "\"Em\"C|\"F\"D|\ns:\"Am\"|\"F\"");
    assert_eq!(chords(&both), [(0.0, "Em".into()), (4.0, "Am".into()), (8.0, "F".into())]);
}

#[test]
fn titles_with_letters_spelled_out() {
    let sheet = tune("C:Ren\\'e\nK:C", "CDEF|");
    assert_eq!(sheet.composer.as_deref(), Some("René"));
    assert_eq!(tunes(b"X:1\nT:Caf\\'e\nK:C\nC|\n"), [(1, "Café".to_owned())]);
}

/// Lyrics, whatever letters they have, are no music, nor are words after the tune.
#[test]
fn lyrics_are_no_notes() {
    let sheet = tune(
        "M:4/4\nL:1/4\nK:C",
        "CDEF|\nw:A-bed e-gg * cab|bage\n+:fa-ded\nw:D.C. al fine\nGABc|\nW:A|B|c \"Am\" d\n",
    );
    assert_eq!(keys(&sheet), [60, 62, 64, 65, 67, 69, 71, 72]);
    assert_eq!(chords(&sheet), []);
}
