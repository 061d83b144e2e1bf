//! `harmony`: root, kind, degrees and bass to a chord symbol.
//!
//! A root given as a function (`IV`) or numeral is counted in the key, of minor keys in natural minor. Where the
//! kind is "other" or unknown, the text shown for it is read instead. Of several chords in one element the first is
//! taken.

use figwort_theory::{Alterations, ChordSymbol, Key, Kind, Mode, NoteName};

use super::attributes::{self, Transposition};
use super::degree;
use super::element::Element;

/// A chord symbol and what was doubtful about it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Harmony {
    /// The symbol; `None` where nothing was understood.
    pub(super) symbol: Option<ChordSymbol>,
    pub(super) doubt: Option<String>,
}

impl Harmony {
    pub(super) const NO_CHORD: Self = Self { symbol: Some(ChordSymbol::NO_CHORD), doubt: None };
}

/// Reads a `harmony` element; `key` as it sounds.
pub(super) fn read(element: &Element, transposition: Transposition, key: Key) -> Harmony {
    let kind = element.child("kind");
    let name = kind.map_or("", |kind| kind.text.as_str());
    let text = kind.and_then(|kind| kind.attribute("text")).unwrap_or_default();
    if name == "none" || (element.child("root").is_none() && crate::symbol::is_no_chord(text)) {
        return Harmony::NO_CHORD;
    }
    let unread = |doubt: &str| Harmony { symbol: None, doubt: Some(doubt.to_owned()) };
    let stated = element.child("root");
    let root = match stated {
        Some(root) => note_name(root, "root-step", "root-alter"),
        None => degree_root(element, key),
    };
    let Some(root) = root else {
        return unread("a chord symbol's root is not understood; the chord before it continues");
    };
    // A degree of the key sounds already.
    let transposition = if stated.is_some() { transposition } else { Transposition::default() };
    let mut doubt = None;
    if element.all("root").nth(1).is_some() {
        doubt = Some("several chords stand in one chord symbol; the first is read".to_owned());
    }
    // Some programs put into the kind what should be its text.
    let name = usual(name);
    let text = if text.is_empty() && Kind::from_musicxml(name).is_none() { name } else { text };
    let shown = || ChordSymbol::parse(&format!("{root}{text}")).ok().and_then(|symbol| symbol.chord);
    let known = Kind::from_musicxml(name).filter(|kind| *kind != Kind::Other);
    let degrees: Vec<&Element> = element.all("degree").collect();
    let (kind, alterations) = match (known, shown()) {
        (Some(kind), _) => degree::apply(kind, &degrees, &mut doubt),
        // The text says it all, degrees too.
        (None, Some(chord)) if !text.is_empty() => (chord.kind, chord.alterations),
        // A root alone.
        (None, _) if name.is_empty() && text.is_empty() => degree::apply(Kind::Major, &degrees, &mut doubt),
        (None, _) if name == "other" && !degrees.is_empty() => {
            degree::apply(Kind::Other, &degrees, &mut doubt)
        }
        (None, _) => {
            let shown = crate::text::in_line(if text.is_empty() { name } else { text });
            doubt = Some(format!("the chord kind \"{shown}\" is not known; {root} is read"));
            degree::apply(Kind::Major, &degrees, &mut doubt)
        }
    };
    let bass = match element.child("bass") {
        Some(bass) => {
            let name = note_name(bass, "bass-step", "bass-alter");
            if name.is_none() {
                doubt = Some(format!("the bass of a chord symbol is not understood; {root} is read"));
            }
            name
        }
        None => inverted(root, kind, alterations, element.number("inversion").unwrap_or(0)),
    };
    let bass = bass.filter(|bass| *bass != root).map(|bass| transposition.name(bass));
    Harmony {
        symbol: Some(ChordSymbol::from_parts(transposition.name(root), kind, alterations, bass)),
        doubt,
    }
}

/// A kind's name as MusicXML has it, where a program has another that is as plain.
fn usual(name: &str) -> &str {
    match name {
        "dominant-seventh" | "dominant-7th" | "seventh" => "dominant",
        "major-7th" => "major-seventh",
        "minor-7th" => "minor-seventh",
        "diminished-7th" => "diminished-seventh",
        "half-diminished-seventh" | "diminished-minor-seventh" => "half-diminished",
        "augmented-dominant-seventh" | "augmented-7th" => "augmented-seventh",
        "augmented-major-seventh" => "maj7#5",
        "suspended" => "suspended-fourth",
        _ => name,
    }
}

fn note_name(element: &Element, step: &str, alter: &str) -> Option<NoteName> {
    let alter = match element.child(alter) {
        Some(alter) if !alter.text.is_empty() => alter.text.parse::<f64>().ok()?,
        _ => 0.0,
    };
    NoteName::new(attributes::step(element.text(step)?)?, alter.clamp(-3.0, 3.0) as i8)
}

/// The root that a `function` or a `numeral` names.
fn degree_root(element: &Element, key: Key) -> Option<NoteName> {
    const STEPS: [&str; 7] = ["i", "ii", "iii", "iv", "v", "vi", "vii"];
    let (degree, alter, key) = if let Some(numeral) = element.child("numeral") {
        let degree = numeral.number::<usize>("numeral-root").filter(|root| (1..=7).contains(root))?;
        let alter = numeral.number::<f64>("numeral-alter").unwrap_or(0.0).clamp(-2.0, 2.0) as i32;
        let own = numeral.child("numeral-key").and_then(|own| {
            let is_minor = own.text("numeral-mode").is_some_and(|mode| mode.contains("minor"));
            let mode = if is_minor { Mode::Minor } else { Mode::Major };
            Some(Key::from_fifths(own.number::<i32>("numeral-fifths")?.clamp(-12, 12), mode))
        });
        (degree - 1, alter, own.unwrap_or(key))
    } else {
        let text = element.text("function")?;
        let alter = text.chars().take_while(|c| "#b♯♭".contains(*c)).take(3);
        let alter = alter.map(|c| if "#♯".contains(c) { 1 } else { -1 }).sum();
        let letters = text.trim_start_matches(['#', 'b', '♯', '♭']).to_lowercase();
        let letters = letters.trim_end_matches(|c: char| !matches!(c, 'i' | 'v'));
        (STEPS.iter().position(|step| *step == letters)?, alter, key)
    };
    let scale: [i32; 7] = match key.mode {
        Mode::Major => [0, 2, 4, 5, 7, 9, 11],
        Mode::Minor => [0, 2, 3, 5, 7, 8, 10],
    };
    let tonic = key.name(key.tonic);
    let class = key.tonic.transpose(scale.get(degree)? + alter);
    NoteName::on_letter((tonic.letter() + degree as u8) % 7, class)
}

/// The bass of an inversion: 1 for the third, 2 for the fifth, 3 for the seventh.
fn inverted(root: NoteName, kind: Kind, alterations: Alterations, inversion: u8) -> Option<NoteName> {
    let steps = match inversion {
        1 => 2,
        2 => 4,
        3 => 6,
        _ => return None,
    };
    let chord = ChordSymbol::from_parts(root, kind, alterations, None).chord?;
    let candidates: &[u8] = match inversion {
        1 => &[4, 3],
        2 => &[7, 6, 8],
        _ => &[10, 11, 9],
    };
    let tones = chord.intervals();
    let interval = candidates.iter().find(|interval| tones.bits() >> **interval & 1 == 1)?;
    NoteName::on_letter((root.letter() + steps) % 7, root.class().transpose(i32::from(*interval)))
}
