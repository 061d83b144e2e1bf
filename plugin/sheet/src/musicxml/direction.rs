//! Directions: tempo, jumps, sections.
//!
//! What is to be played comes from `sound`; where a direction has none, from its metronome mark, its segno or
//! coda sign, or its words (D.C., Fine, To Coda, N.C.).

use figwort_theory::ChordSymbol;

use super::attributes;
use super::element::Element;
use crate::limits;
use crate::written::{Al, MarkKind, mark_kind};

/// What a direction says.
#[derive(Debug, Default)]
pub(super) struct Direction {
    /// Microseconds a quarter note.
    pub(super) tempo: Option<u32>,
    pub(super) marks: Vec<MarkKind>,
    /// A section begins.
    pub(super) section: bool,
    /// A repeated section begins.
    pub(super) starts: bool,
    /// No chord from here on.
    pub(super) no_chord: bool,
    /// A chord symbol written as words.
    pub(super) worded: Option<ChordSymbol>,
}

/// Reads a `direction` or a `sound` that stands alone.
pub(super) fn read(element: &Element) -> Direction {
    let mut read = Direction::default();
    if element.name == "sound" {
        read.sound(element);
        return read;
    }
    if let Some(sound) = element.child("sound") {
        read.sound(sound);
    }
    let sounded = !read.marks.is_empty();
    for kind in element.all("direction-type").flat_map(|kinds| &kinds.children) {
        match kind.name.as_str() {
            "rehearsal" => read.section = true,
            "metronome" if read.tempo.is_none() => read.tempo = metronome(kind),
            "segno" if !sounded => read.marks.push(MarkKind::Segno),
            "coda" if !sounded => read.marks.push(MarkKind::Coda),
            "words" => {
                read.no_chord |= crate::symbol::is_no_chord(&kind.text);
                read.worded = read.worded.or_else(|| crate::symbol::known(&kind.text));
                match mark_kind(&kind.text) {
                    Some(kind) if !sounded => read.marks.push(kind),
                    // The words say how far the jump of the sound leads.
                    Some(MarkKind::DaCapo(al) | MarkKind::DalSegno(al)) => read.lead(al),
                    _ => {}
                }
            }
            _ => {}
        }
    }
    // "To Coda" beside a coda sign is one direction.
    if read.marks.contains(&MarkKind::ToCoda) {
        read.marks.retain(|mark| *mark != MarkKind::Coda);
    }
    read.marks.dedup();
    read
}

impl Direction {
    /// Says of the jumps how far they lead.
    fn lead(&mut self, how_far: Al) {
        for mark in &mut self.marks {
            if let MarkKind::DaCapo(al) | MarkKind::DalSegno(al) = mark {
                *al = how_far;
            }
        }
    }

    fn sound(&mut self, sound: &Element) {
        const MARKS: [(&str, MarkKind); 6] = [
            ("segno", MarkKind::Segno),
            ("coda", MarkKind::Coda),
            ("tocoda", MarkKind::ToCoda),
            ("fine", MarkKind::Fine),
            ("dacapo", MarkKind::DaCapo(Al::Unsaid)),
            ("dalsegno", MarkKind::DalSegno(Al::Unsaid)),
        ];
        for (name, mark) in MARKS {
            if sound.attribute(name).is_some_and(|value| value != "no") {
                self.marks.push(mark);
            }
        }
        self.starts = sound.is("forward-repeat", "yes");
        self.tempo = sound.attribute("tempo").and_then(|tempo| micros(tempo.parse().ok()?, 1.0));
    }
}

/// A metronome mark such as a dotted quarter = 80; `None` for one that relates two note values.
fn metronome(element: &Element) -> Option<u32> {
    let unit = match element.text("beat-unit")? {
        "breve" => 8.0,
        "whole" => 4.0,
        "half" => 2.0,
        "quarter" => 1.0,
        "eighth" => 0.5,
        "16th" => 0.25,
        "32nd" => 0.125,
        _ => return None,
    };
    let dots = element.all("beat-unit-dot").take(4).count() as i32;
    // Ranges and words about the number are dropped: "c. 80-88" is 80.
    let text = element.text("per-minute")?;
    let digits = text.trim_start_matches(|c: char| !c.is_ascii_digit());
    let end = digits.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(digits.len());
    let (numerator, denominator) = attributes::decimal(digits.get(..end)?)?;
    micros(f64::from(numerator) / f64::from(denominator), unit * (2.0 - 0.5f64.powi(dots)))
}

/// Microseconds a quarter note, of so many beats a minute of so many quarters; within what MIDI can state and
/// [`limits::MAX_TEMPO`].
fn micros(rate: f64, quarters: f64) -> Option<u32> {
    let micros = 60e6 / (rate * quarters);
    let shortest = 60e6 / f64::from(limits::MAX_TEMPO);
    (rate > 0.0 && (shortest..=16_777_215.0).contains(&micros)).then(|| micros.round() as u32)
}
