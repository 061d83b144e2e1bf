//! Chord symbols as MusicXML's `harmony`: root, kind, degrees, bass.

use figwort_theory::{Alterations as A, ChordSymbol, Kind, NoteName};

use super::xml::Xml;

const STEPS: [&str; 7] = ["C", "D", "E", "F", "G", "A", "B"];

/// The letter of a name.
pub(super) fn step(name: NoteName) -> &'static str {
    STEPS.get(usize::from(name.letter())).copied().unwrap_or("C")
}

/// A degree that differs from the kind: number, alteration, what is done.
type Change = (u8, i8, &'static str);

/// The flags as changes of the kind's degrees.
fn changes(kind: Kind, flags: A) -> Vec<Change> {
    let bits = kind.intervals().bits();
    let has = |interval: u8| bits >> interval & 1 == 1;
    let replaces = |there: bool| if there { "alter" } else { "add" };
    let all: [(A, &[Change]); 13] = [
        (A::OMIT_THIRD, &[(3, 0, "subtract")]),
        (A::SUSPEND_SECOND, &[(3, 0, "subtract"), (2, 0, "add")]),
        (A::SUSPEND_FOURTH, &[(3, 0, "subtract"), (4, 0, "add")]),
        (A::OMIT_FIFTH, &[(5, 0, "subtract")]),
        (A::FLAT_FIFTH, &[(5, -1, replaces(has(7)))]),
        (A::SHARP_FIFTH, &[(5, 1, replaces(has(7)))]),
        (A::FLAT_NINTH, &[(9, -1, replaces(has(2)))]),
        (A::SHARP_NINTH, &[(9, 1, replaces(has(2)))]),
        (A::SHARP_ELEVENTH, &[(11, 1, replaces(has(5)))]),
        (A::FLAT_THIRTEENTH, &[(13, -1, replaces(has(9)))]),
        (A::ADD_NINTH, &[(9, 0, "add")]),
        (A::ADD_ELEVENTH, &[(11, 0, "add")]),
        (A::ADD_THIRTEENTH, &[(13, 0, "add")]),
    ];
    let mut found: Vec<Change> = Vec::new();
    for (flag, changes) in all {
        if flags.contains(flag) {
            for change in changes {
                // What is raised and lowered at once is altered once and added once.
                let altered = found.iter().any(|(value, _, what)| *value == change.0 && *what == "alter");
                let change =
                    if altered && change.2 == "alter" { (change.0, change.1, "add") } else { *change };
                if !found.contains(&change) {
                    found.push(change);
                }
            }
        }
    }
    found
}

/// Writes a symbol; `offset` in divisions after the place of writing.
pub(super) fn write(xml: &mut Xml, symbol: &ChordSymbol, offset: i64) {
    xml.open("harmony", &[("placement", "above")]);
    let Some(chord) = symbol.chord else {
        root(xml, symbol.root);
        xml.leaf("kind", &[("text", "N.C.")], "none");
        end(xml, offset);
        return;
    };
    root(xml, symbol.root);
    let changes = changes(chord.kind, chord.alterations);
    let whole = ChordSymbol { bass: None, ..*symbol }.to_string();
    let whole = whole.strip_prefix(&symbol.root.to_string()).unwrap_or_default();
    let (text, shown) = bracketed(whole);
    let text = text.replace('b', "♭").replace('#', "♯");
    xml.leaf("kind", &[("text", &text)], chord.kind.musicxml());
    if let Some(bass) = symbol.bass {
        xml.open("bass", &[]);
        xml.leaf("bass-step", &[], step(bass));
        if bass.alter() != 0 {
            xml.number("bass-alter", i64::from(bass.alter()));
        }
        xml.close("bass");
    }
    for (value, alter, what) in changes {
        let name = match (what, alter) {
            ("subtract", _) => format!("no{value}"),
            ("add", 0) => format!("add{value}"),
            (_, -1) => format!("b{value}"),
            _ => format!("#{value}"),
        };
        // What the kind's text says already is not shown again.
        let is_shown = shown.is_some_and(|shown| shown.split(',').any(|degree| degree == name));
        xml.open("degree", if is_shown { &[] } else { &[("print-object", "no")] });
        xml.number("degree-value", i64::from(value));
        xml.number("degree-alter", i64::from(alter));
        xml.leaf("degree-type", &[], what);
        xml.close("degree");
    }
    end(xml, offset);
}

/// A symbol's text without its last pair of brackets, and what is in them where that is degrees.
fn bracketed(text: &str) -> (&str, Option<&str>) {
    match text.strip_suffix(')').and_then(|text| text.rsplit_once('(')) {
        Some((before, degrees)) if !degrees.starts_with("maj") => (before, Some(degrees)),
        _ => (text, None),
    }
}

fn root(xml: &mut Xml, name: NoteName) {
    xml.open("root", &[]);
    xml.leaf("root-step", &[], step(name));
    if name.alter() != 0 {
        xml.number("root-alter", i64::from(name.alter()));
    }
    xml.close("root");
}

fn end(xml: &mut Xml, offset: i64) {
    if offset != 0 {
        xml.number("offset", offset);
    }
    xml.close("harmony");
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What an engraver shows: the kind's text and the degrees that are not hidden.
    fn shown(text: &str) -> String {
        let mut xml = Xml::new("");
        write(&mut xml, &ChordSymbol::parse(text).unwrap(), 0);
        let written = xml.finish();
        let kind = written.split("text=\"").nth(1).and_then(|rest| rest.split('"').next()).unwrap_or("");
        format!("{kind} {}", written.matches("<degree>").count())
    }

    #[test]
    fn nothing_is_shown_twice() {
        assert_eq!(shown("D7b9"), "7 1");
        assert_eq!(shown("C7sus4"), "7sus4 0");
        assert_eq!(shown("F6/9"), "6/9 0");
        assert_eq!(shown("Bbm(maj7)"), "m(maj7) 0");
        assert_eq!(shown("G7(b9,b13)"), "7 2");
        assert_eq!(shown("G7alt"), "7alt 0");
        assert_eq!(shown("Cadd9"), " 1");
        assert_eq!(shown("N.C."), "N.C. 0");
    }
}
