//! `harmony`: root, kind, degrees and bass to a chord symbol.
//!
//! Where the kind is "other" or unknown, the text shown for it is read instead. Of several chords in one
//! element the first is taken.

use figwort_theory::{Alterations, ChordSymbol, Kind, NoteName};

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

/// Reads a `harmony` element.
pub(super) fn read(element: &Element, transposition: Transposition) -> Harmony {
    let kind = element.child("kind");
    let name = kind.map_or("", |kind| kind.text.as_str());
    let text = kind.and_then(|kind| kind.attribute("text")).unwrap_or_default();
    if name == "none" || (element.child("root").is_none() && crate::symbol::is_no_chord(text)) {
        return Harmony::NO_CHORD;
    }
    let unread = |doubt: &str| Harmony { symbol: None, doubt: Some(doubt.to_owned()) };
    let root = match element.child("root") {
        Some(root) => note_name(root, "root-step", "root-alter"),
        None => return unread("a chord symbol without a root (a function or numeral) is not read"),
    };
    let Some(root) = root else {
        return unread("a chord symbol's root is not understood; the chord before it continues");
    };
    let mut doubt = None;
    if element.all("root").nth(1).is_some() {
        doubt = Some("several chords stand in one chord symbol; the first is read".to_owned());
    }
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
            let shown = if text.is_empty() { name } else { text };
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

fn note_name(element: &Element, step: &str, alter: &str) -> Option<NoteName> {
    let alter = match element.child(alter) {
        Some(alter) if !alter.text.is_empty() => alter.text.parse::<f64>().ok()?,
        _ => 0.0,
    };
    NoteName::new(attributes::step(element.text(step)?)?, alter.clamp(-3.0, 3.0) as i8)
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
