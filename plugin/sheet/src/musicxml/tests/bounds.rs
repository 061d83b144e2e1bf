//! Archives, damaged files and limits.

use std::io::Write;

use super::*;
use crate::{SheetError, limits};

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
