//! The order of play, as letters: each bar of the tunes holds one whole note, whose name is its letter.

use crate::Page;
use crate::abc::read;

/// The order in which a body of one-note bars in 4/4 is played.
fn order(header: &str, body: &str) -> String {
    let text = format!("X:1\n{header}M:4/4\nL:1\nK:C\n{body}\n");
    let sheet = read(text.as_bytes(), None).expect(body);
    assert!(
        sheet.warnings.iter().all(|warning| warning.text.contains("no chord symbols")),
        "{:?}",
        sheet.warnings
    );
    sheet
        .melody
        .iter()
        .map(|note| "C?D?EF?G?A?B".as_bytes()[usize::from(note.pitch.key() % 12)] as char)
        .collect()
}

fn play(body: &str) -> String {
    order("", body)
}

/// Repeat signs with and without their partner (ABC 2.1, 4.8).
#[test]
fn repeats() {
    assert_eq!(play("|: C | D :| E |"), "CDCDE");
    assert_eq!(play("C | D :| E |"), "CDCDE");
    assert_eq!(play("C | D || E | F :| G |]"), "CDEFEFG");
    assert_eq!(play("C | D :: E | F :|"), "CDCDEFEF");
    assert_eq!(play("C | D :||: E | F :|"), "CDCDEFEF");
    assert_eq!(play("C | D :|: E | F :|"), "CDCDEFEF");
    assert_eq!(play("C | D :| |: E | F :|"), "CDCDEFEF");
    assert_eq!(play("|:: C | D ::| E |"), "CDCDCDE");
    assert_eq!(play("|:: C | D :| E |"), "CDCDCDE");
    assert_eq!(play("|: C || D :| E |"), "CDCDE");
    assert_eq!(play("C | D :|\nP:B\nE | F :|"), "CDCDEFEF");
    assert_eq!(play("C |\nP:B\nE | F :|"), "CEFEF");
}

/// Endings (ABC 2.1, 4.9 and 4.10).
#[test]
fn endings() {
    assert_eq!(play("|: C |1 D :|2 E |] F |"), "CDCEF");
    assert_eq!(play("C | [1 D :| [2 E || F |"), "CDCEF");
    assert_eq!(play("C |[1 D | E :|[2 F | G |: A :|"), "CDECFGAA");
    assert_eq!(play("|: C |1,3 D :|2 E :|4 F |] G |"), "CDCECDCFG");
    assert_eq!(play("|: C |[1-3 D :|[4 E |]"), "CDCDCDCE");
    assert_eq!(play("|: C |1 D :|2 E :|"), "CDCE");
    assert_eq!(play("|: C |1 D :| E | F |"), "CDCEF");
    assert_eq!(play("|: C :|[2 D | E |"), "CCDE");
    assert_eq!(play("|: C ||[1 D :|[2 E ||"), "CDCE");
    assert_eq!(play("|: C |1 D :|2 E || F |1 G :|2 A |]"), "CDCEFGFA");
}

#[test]
fn a_first_ending_without_repeat_sign_is_repeated_with_a_warning() {
    let sheet = read(b"X:1\nM:4/4\nL:1\nK:C\n\"C\"C |1 D |2 E |]\n", None).expect("a sheet");
    assert_eq!(sheet.bars.len(), 4);
    assert_eq!(sheet.warnings.len(), 1, "{:?}", sheet.warnings);
    assert_eq!(sheet.warnings[0].bar, Some(2));
}

#[test]
fn parts() {
    assert_eq!(order("P:ABA\n", "P:A\nC | D |\nP:B\nE |"), "CDECD");
    assert_eq!(order("P:A2.(BA)2\n", "P:A\nC |\nP:B\nE |"), "CCECEC");
    // The order spells the repeat out.
    assert_eq!(order("P:AAB\n", "P:A\nC | D :|\nP:B\nE |"), "CDCDE");
    // It does not: the signs hold.
    assert_eq!(order("P:AB\n", "P:A\nC | D :|\nP:B\nE :|"), "CDCDEE");
    // ABC 2.1, 4.10: a different ending each time.
    assert_eq!(order("P:A4\n", "P:A\nC |[1 D :|[2 E :|[3 F :|[4 G |]"), "CDCECFCG");
    assert_eq!(order("P:AB\n", "C |\nP:A\nD |\nP:B\nE |"), "CDE");
}

#[test]
fn jumps() {
    assert_eq!(play("C | D !fine!|] E | F !D.C.!|]"), "CDEFCD");
    assert_eq!(play("|: C |1 D :|2 E !fine!|] F | G !D.C.alfine!|]"), "CDCEFGCE");
    assert_eq!(play("C | !segno! D | E !fine! | F !D.S.!|]"), "CDEFDE");
    assert_eq!(play("C | D !dacoda!| E | F !D.C.!|] !coda! G | A |]"), "CDEFCDGA");
    assert_eq!(play("C | D !coda!| E | F !D.C.!|] !coda! G | A |]"), "CDEFCDGA");
    assert_eq!(play("C | D \"^Fine\"|] E | \"^D.C. al Fine\" F |]"), "CDEFCD");
    assert_eq!(play("C | D | E !D.C.!|"), "CDECDE");
    assert_eq!(play("SC | D O| E |] F \"D.S. al Coda\"|] OG |"), "CDEFCDG");
}

/// Each jump is followed once, and goes where its words say (common practice, no source).
#[test]
fn several_jumps() {
    // D.S. al Coda, then D.C. al Fine from the coda.
    assert_eq!(
        play("C !fine!| !segno! D !dacoda!| E \"^D.S. al Coda\"|] !coda! F | G \"^D.C. al Fine\"|]"),
        "CDEDFGC"
    );
    // The Fine is passed over on the way to the coda.
    assert_eq!(play("C !fine!| D !dacoda!| E \"^D.C. al Coda\"|] !coda! F |]"), "CDECDF");
    // Two segnos, each with its own D.S.
    assert_eq!(play("!segno! C | D !D.S.!|] !segno! E | F !D.S.!| G |]"), "CDCDEFEFG");
    // Two codas, each with its own way there.
    assert_eq!(
        play("C !dacoda!| D \"^D.C. al Coda\"|] !coda! E | F !dacoda!| G \"^D.C. al Coda\"|] !coda! A |]"),
        "CDCEFGCDEFA"
    );
    // The same way back twice: plainly through, then al Fine.
    assert_eq!(play("C | D !fine!| E !D.C.!| F \"^D.C. al Fine\"|]"), "CDECDEFCD");
}

#[test]
fn arrivals_begin_sections() {
    let sheet = read(b"X:1\nM:4/4\nL:1\nK:C\n\"C\"C | D | E :| F | G |]\n", None).expect("a sheet");
    let sections: Vec<bool> = sheet.bars.iter().map(|bar| bar.section).collect();
    assert_eq!(sections, [true, false, false, true, false, false, true, false]);
    let numbers: Vec<u32> = sheet.bars.iter().map(|bar| bar.number).collect();
    assert_eq!(numbers, [1, 2, 3, 1, 2, 3, 4, 5]);
}

/// The page with its signs: a letter for each bar.
fn page(header: &str, body: &str) -> String {
    let text = format!("X:1\n{header}M:4/4\nL:1\nK:C\n{body}\n");
    let sheet = read(text.as_bytes(), None).expect(body);
    let bars = match &sheet.page {
        Page::AsPlayed => return "as played".into(),
        Page::BeyondSigns => return "beyond signs".into(),
        Page::Signs(bars) => bars,
    };
    let mut text = String::new();
    for bar in bars {
        let signs = &bar.signs;
        let mut put = |wanted: bool, what: &str| text.push_str(if wanted { what } else { "" });
        put(signs.starts, "|:");
        put(signs.segno, "S");
        put(signs.coda, "O");
        if !signs.ending.is_empty() {
            text.push_str(&format!("[{}", signs.ending.iter().map(u32::to_string).collect::<String>()));
        }
        text.push("C?D?EF?G?A?B".as_bytes()[usize::from(bar.notes[0].pitch.key() % 12)] as char);
        let mut put = |wanted: bool, what: &str| text.push_str(if wanted { what } else { "" });
        put(signs.ending_over, "]");
        put(signs.to_coda, "(to O)");
        put(signs.fine, "(fine)");
        if let Some(jump) = signs.jump {
            text.push_str(&format!("({})", jump.words()));
        }
        match signs.ends {
            0 => {}
            2 => text.push_str(":|"),
            times => text.push_str(&format!(":|x{times}")),
        }
    }
    text
}

/// A `|:` is written where it was implied, and a `:|` where it was forgotten.
#[test]
fn signs_tell_the_order() {
    assert_eq!(page("", "C | D | E |]"), "as played");
    assert_eq!(page("", "|: C | D :| E |"), "CD:|E");
    assert_eq!(page("", "C | D || E | F :| G |]"), "CD|:EF:|G");
    assert_eq!(page("", "C | D :: E | F :|"), "CD:||:EF:|");
    assert_eq!(page("", "E |:: C | D ::| E |"), "E|:CD:|x3E");
    assert_eq!(page("", "|: C |1 D :|2 E |] F |"), "C[1D]:|[2E]F");
    assert_eq!(page("", "A |: C |1 D |2 E |] F |"), "A|:C[1D]:|[2E]F");
    assert_eq!(page("", "|: C |1,3 D :|2 E :|4 F |] G |"), "C[13D]:|[2E]:|[4F]G");
    assert_eq!(page("", "|: C | E |1 D :| E | F |"), "CE[1D]:|EF");
    assert_eq!(page("", "C | D !fine!|] E | F !D.C.!|]"), "CD(fine)EF(D.C. al Fine)");
    assert_eq!(page("", "C | !segno! D | E !fine! | F !D.S.!|]"), "CSDE(fine)F(D.S. al Fine)");
    assert_eq!(page("", "C | D !dacoda!| E | F !D.C.!|] !coda! G | A |]"), "CD(to O)EF(D.C. al Coda)OGA");
    assert_eq!(page("", "|: C |1 D :|2 E !fine!|] F | G !D.C.!|]"), "C[1D]:|[2E](fine)FG(D.C. al Fine)");
    assert_eq!(page("", "C | D | E !D.C.!|"), "CDE(D.C.)");
}

/// Orders of parts are told by signs where they can be.
#[test]
fn signs_tell_orders_of_parts() {
    assert_eq!(page("P:AABB\n", "P:A\nC | D |\nP:B\nE |"), "CD:||:E:|");
    assert_eq!(page("P:AABA\n", "P:A\nC | D |\nP:B\nE |"), "CD(fine):|E(D.C. al Fine)");
    assert_eq!(page("P:ABCB\n", "P:A\nC |\nP:B\nE |\nP:C\nF |"), "CSE(fine)F(D.S. al Fine)");
    assert_eq!(page("P:AC\n", "P:A\nC |\nP:B\nE |\nP:C\nF |"), "as played");
    assert_eq!(page("P:BA\n", "P:A\nC |\nP:B\nE |"), "beyond signs");
}
