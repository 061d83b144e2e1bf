//! Tunes of several voices: which is read, and whose chord symbols.

use super::super::{header, voice};
use super::{chords, keys, notes, tune};
use crate::{Choice, Sheet};

const TWO: &str = "X:1\nT:Two\nM:4/4\nL:1/4\nK:C\nV:1 name=\"Flute\"\n\"C\"CE\"Am\"Gc|\"G\"d4|\nV:2 name=\"Bass\"\nC,4|\
                   G,4|\n";

fn chosen(text: &str, melody: &str) -> Sheet {
    let choice = Choice { tune: None, melody: Some(melody) };
    crate::read_chosen(text.as_bytes(), choice).expect(melody)
}

fn warnings(sheet: &Sheet) -> Vec<String> {
    sheet.warnings.iter().map(ToString::to_string).collect()
}

#[test]
fn a_voice_by_choice() {
    let text = "X:1\nL:1/4\nM:4/4\nV:S name=\"Soprano\"\nV:A\nK:C\nV:S\n\"C\"C4|\nV:A\n\"F\"F4|\n[V:B]G4|\n[V:S]D4|\n";
    let chosen = |melody| {
        let sheet = crate::read_chosen(text.as_bytes(), Choice { tune: None, melody: Some(melody) });
        sheet.map(|sheet| keys(&sheet)).map_err(|error| error.to_string())
    };
    assert_eq!(chosen("soprano"), Ok(vec![60, 62]));
    assert_eq!((chosen("A"), chosen("3")), (Ok(vec![65]), Ok(vec![67])));
    let error = "no voice \"T\"; choose 1 (Soprano), 2 (A) or 3 (B)";
    assert_eq!(chosen("T"), Err(error.to_owned()));
    let none = voice::all(&header::Header::default(), &[]);
    assert_eq!(voice::chosen("1", &none), Ok("1".to_owned()));
}

/// A voice without symbols is accompanied by those of the voice that has them.
#[test]
fn symbols_of_another_voice() {
    let wanted = [(0.0, "C".to_owned()), (4.0, "Am".to_owned()), (8.0, "G".to_owned())];
    let sheet = chosen(TWO, "Bass");
    assert_eq!((keys(&sheet), chords(&sheet)), (vec![48, 55], wanted.to_vec()));
    assert_eq!(
        warnings(&sheet),
        ["line 6: the tune has 2 voices; Bass is read; choose another with --melody on the command line"]
    );
    // Symbols in a voice that is not the first, where no voice is chosen.
    let under = tune("M:4/4\nL:1/4\nK:C", "V:1\nCEGc|d4|\nV:2\n\"C\"C,2\"Am\"A,2|\"G\"G,4|");
    assert_eq!(chords(&under), wanted);
    // A line of symbols under the notes.
    let line = tune("M:4/4\nL:1/4\nK:C", "V:1\nCEGc|d4|\nV:2\nC,2A,2|G,4|\ns:\"C\"\"Am\"|\"G\"");
    assert_eq!(chords(&line), wanted);
}

/// A voice's own symbols are its chords, were they fewer; fingerings and words are none.
#[test]
fn own_symbols_come_first() {
    let own = chosen(&TWO.replace("C,4|", "\"F\"F,4|"), "Bass");
    assert_eq!(chords(&own), [(0.0, "F".to_owned())]);
    let fingered = chosen(&TWO.replace("C,4|", "\"3\"C,4|"), "Bass");
    assert_eq!(chords(&fingered).len(), 3);
    let words = tune("M:4/4\nL:1/4\nK:C", "V:1\nCEGc|\nV:2\n\"softly\"C,4|\nV:3\n\"F\"F,4|");
    assert_eq!(chords(&words), [(0.0, "F".to_owned())]);
}

/// Where a voice's bars are cut otherwise, its symbols keep their time.
#[test]
fn symbols_of_a_voice_with_other_bars() {
    let sheet = tune("M:4/4\nL:1/4\nK:C", "V:1\nCE|Gc|d4|\nV:2\n\"C\"C,2\"Am\"A,2|\"G\"G,4|\"F\"F,4|");
    assert_eq!(chords(&sheet), [(0.0, "C".into()), (4.0, "Am".into()), (8.0, "G".into())]);
    // One bar that does not add up shifts nothing.
    let short = tune("M:4/4\nL:1/4\nK:C", "V:1\nCEG|d4|c4|\nV:2\n\"C\"C,4|\"G\"G,4|\"F\"F,4|");
    assert_eq!(chords(&short), [(0.0, "C".into()), (6.0, "G".into()), (14.0, "F".into())]);
}

/// Music before any `V:` is voice 1's, and can be chosen as such.
#[test]
fn the_voice_before_any_name() {
    let text = "X:1\nM:4/4\nL:1/4\nK:C\nCEGc|\nV:2\nC,4|\n";
    assert_eq!(keys(&chosen(text, "1")), [60, 64, 67, 72]);
    assert_eq!(notes(&chosen(text, "2")), [(0.0, 8.0, 48)]);
}

/// Two symbols for a note that outlasts the tune stay within it.
#[test]
fn symbols_of_a_longer_note() {
    let sheet = tune("M:4/4\nL:1/4\nK:C", "V:1\nCE|Gc|\nV:2\n\"C\"\"Am\"C,16|");
    assert_eq!(chords(&sheet), [(0.0, "C".into()), (2.0, "Am".into())]);
}
