//! The values inside `attributes`, `pitch` and `ending`: keys, time signatures, transpositions, numbers.

use figwort_theory::{Key, Metre, Mode, NoteName, PitchClass};

use super::element::Element;
use super::measure::Time;
use crate::limits;

/// A positive decimal number as a fraction, at most four places exact.
pub(super) fn decimal(text: &str) -> Option<(u32, u32)> {
    let (whole, places) = text.split_once('.').unwrap_or((text, ""));
    let places = places.trim_end_matches('0');
    let places = places.get(..4).unwrap_or(places);
    let denominator = 10u32.checked_pow(places.len() as u32)?;
    let whole: u32 = if whole.is_empty() { 0 } else { whole.parse().ok()? };
    let part: u32 = if places.is_empty() { 0 } else { places.parse().ok()? };
    Some((whole.checked_mul(denominator)?.checked_add(part)?, denominator))
}

/// A letter as a step, 0 = C … 6 = B.
pub(super) fn step(text: &str) -> Option<u8> {
    let mut chars = text.chars();
    let letter = chars.next()?.to_ascii_uppercase();
    if chars.next().is_some() { None } else { "CDEFGAB".find(letter).map(|step| step as u8) }
}

/// From written to sounding pitch.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Transposition {
    /// Letters up, octaves aside.
    diatonic: i32,
    /// Semitones up, octaves aside.
    chromatic: i32,
    octaves: i32,
}

/// A `transpose` element; octave doublings are disregarded.
pub(super) fn transposition(element: &Element) -> Transposition {
    let number = |name: &str| element.number::<f64>(name).unwrap_or(0.0).clamp(-60.0, 60.0) as i32;
    let chromatic = number("chromatic");
    // Where it is left out, the letter that the semitones suggest.
    let diatonic = match element.child("diatonic") {
        Some(_) => number("diatonic"),
        None => (chromatic * 7 + chromatic.signum() * 6) / 12,
    };
    Transposition { diatonic, chromatic, octaves: number("octave-change").clamp(-4, 4) }
}

impl Transposition {
    pub(super) const fn semitones(self) -> i32 {
        self.chromatic + 12 * self.octaves
    }

    /// The sounding key.
    pub(super) fn key(self, key: Key) -> Key {
        Key { tonic: key.tonic.transpose(self.chromatic), ..key }
    }

    /// The sounding name of a written note.
    pub(super) fn name(self, name: NoteName) -> NoteName {
        if self.chromatic == 0 && self.diatonic == 0 {
            return name;
        }
        let class: PitchClass = name.class().transpose(self.chromatic);
        let letter = (i32::from(name.letter()) + self.diatonic).rem_euclid(7) as u8;
        NoteName::on_letter(letter, class)
            .filter(|name| name.alter().abs() < 2)
            .unwrap_or(NoteName::flat(class))
    }
}

/// A `key` element by fifths and mode; `None` where it has no fifths.
pub(super) fn key(element: &Element) -> Option<Key> {
    let fifths: i32 = element.number("fifths")?;
    let fifths = fifths.clamp(-12, 12);
    // Tonics of the modes over the major one, in semitones.
    let (above, mode) = match element.text("mode").unwrap_or_default() {
        "minor" | "aeolian" => (9, Mode::Minor),
        "dorian" => (2, Mode::Minor),
        "phrygian" => (4, Mode::Minor),
        "lydian" => (5, Mode::Major),
        "mixolydian" => (7, Mode::Major),
        "locrian" => (11, Mode::Minor),
        _ => (0, Mode::Major),
    };
    let major = Key::from_fifths(fifths, Mode::Major);
    Some(Key { tonic: major.tonic.transpose(above), mode })
}

/// A `time` element; `None` where it is not understood. Several fractions are added up.
pub(super) fn time(element: &Element) -> Option<Time> {
    if element.child("senza-misura").is_some() {
        return Some(Time::Free);
    }
    let (mut upper, mut lower) = (0u32, 1u32);
    let mut fractions = 0;
    for (beats, unit) in element.all("beats").zip(element.all("beat-type")) {
        let unit: u32 = unit.text.parse().ok().filter(|unit: &u32| unit.is_power_of_two() && *unit <= 64)?;
        let mut sum = 0u32;
        for part in beats.text.split('+') {
            sum = sum.checked_add(part.trim().parse().ok()?)?;
        }
        let common = lower.max(unit);
        upper = upper.checked_mul(common / lower)?.checked_add(sum.checked_mul(common / unit)?)?;
        lower = common;
        fractions += 1;
    }
    if fractions == 0 {
        return None;
    }
    Metre::new(u8::try_from(upper).ok()?, u8::try_from(lower).ok()?).map(Time::Metre)
}

/// The numbers of an `ending`: `1`, `1, 2`, `1-3`; a blank one as its text says.
pub(super) fn ending_numbers(element: &Element) -> Vec<u32> {
    let stated = element.attribute("number").unwrap_or_default();
    let text = if stated.is_empty() { element.text.as_str() } else { stated };
    let mut numbers = Vec::new();
    for part in text.split([',', ' ', ';']).map(|part| part.trim_end_matches('.')) {
        let (from, to) = part.split_once('-').unwrap_or((part, part));
        let parse = |text: &str| text.trim_matches('.').parse::<u32>().ok().filter(|n| *n > 0);
        if let (Some(from), Some(to)) = (parse(from), parse(to)) {
            numbers.extend(from..=to.min(limits::MAX_ENDING));
        }
    }
    numbers.truncate(limits::MAX_ENDING as usize);
    numbers
}
