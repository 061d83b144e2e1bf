//! Values of parameters as words, and the words back as values.
//!
//! Every pair is inverse: what `show` writes, `read` understands, and `read` also takes a plain number.
//! Allocates; for the main thread only.

use figwort_engine::Rung;
use figwort_theory::Pitch;

/// Felt beats: `1 beat`, `0.75 beats`, `none`.
pub(crate) fn show_beats(beats: f32) -> String {
    if beats.abs() < 1e-4 {
        return "none".into();
    }
    let unit = if (beats - 1.0).abs() < 1e-4 { "beat" } else { "beats" };
    format!("{} {unit}", trimmed(beats, 2))
}

/// The other way; `none`, `1 beat`, `0.75`.
pub(crate) fn read_beats(text: &str) -> Option<f32> {
    if text.trim().eq_ignore_ascii_case("none") {
        return Some(0.0);
    }
    number(text.trim().trim_end_matches(|c: char| c.is_alphabetic()))
}

/// The ladder's rung with what lies above or below it: `Flowing`, `Flowing +0.3`.
pub(crate) fn show_rung(elaboration: f32) -> String {
    let index = elaboration.round().clamp(0.0, 4.0);
    let name = Rung::ALL.get(index as usize).map_or("", |rung| rung.name());
    let rest = elaboration - index;
    if rest.abs() < 0.005 {
        name.into()
    } else {
        format!("{name} {}{}", if rest < 0.0 { '-' } else { '+' }, trimmed(rest.abs(), 2))
    }
}

/// The other way; also a rung's name in any case, or a number from 0 to 4.
pub(crate) fn read_rung(text: &str) -> Option<f32> {
    let text = text.trim();
    if let Some(value) = number(text) {
        return Some(value);
    }
    let letters = text.chars().take_while(|c| c.is_alphabetic()).map(char::len_utf8).sum::<usize>();
    let (name, rest) = text.split_at(letters);
    let index = Rung::ALL.iter().position(|rung| rung.name().eq_ignore_ascii_case(name))?;
    let rest: String = rest.chars().filter(|c| !c.is_whitespace()).collect();
    Some(index as f32 + if rest.is_empty() { 0.0 } else { number(&rest)? })
}

/// A key's name: `C4`, `F#3`.
pub(crate) fn show_key(key: i32) -> String {
    Pitch::from_i32(key.clamp(0, 127)).map_or_else(String::new, |pitch| pitch.to_string())
}

/// The other way; sharps and flats as `#`, `b`, `♯`, `♭`, or a MIDI key number.
pub(crate) fn read_key(text: &str) -> Option<i32> {
    let text = text.trim();
    if let Ok(key) = text.parse::<i32>() {
        return (0..=127).contains(&key).then_some(key);
    }
    let mut rest = text.chars();
    let class = match rest.next()?.to_ascii_uppercase() {
        'C' => 0,
        'D' => 2,
        'E' => 4,
        'F' => 5,
        'G' => 7,
        'A' => 9,
        'B' => 11,
        _ => return None,
    };
    let rest = rest.as_str();
    let (alter, octave) = match rest.chars().next()? {
        c @ ('#' | '♯') => (1, &rest[c.len_utf8()..]),
        c @ ('b' | '♭') => (-1, &rest[c.len_utf8()..]),
        _ => (0, rest),
    };
    let key =
        (octave.trim().parse::<i32>().ok()?.checked_add(1)?).checked_mul(12)?.checked_add(class + alter)?;
    (0..=127).contains(&key).then_some(key)
}

/// A hand's stretch in semitones with the interval's name: `14 (ninth)`.
pub(crate) fn show_reach(semitones: i32) -> String {
    let name = match semitones {
        12 => "octave",
        13 => "minor ninth",
        14 => "ninth",
        15 => "minor tenth",
        16 => "tenth",
        _ => return semitones.to_string(),
    };
    format!("{semitones} ({name})")
}

/// The other way; the number alone will do.
pub(crate) fn read_reach(text: &str) -> Option<i32> {
    text.split('(').next()?.trim().parse().ok()
}

/// Fuller or clearer: `0`, `2 clearer`, `1 fuller`.
pub(crate) fn show_clarity(semitones: i32) -> String {
    match semitones {
        0 => "as usual".into(),
        s if s > 0 => format!("{s} clearer"),
        s => format!("{} fuller", -s),
    }
}

/// The other way; also a signed number.
pub(crate) fn read_clarity(text: &str) -> Option<i32> {
    let text = text.trim().to_ascii_lowercase();
    if text == "as usual" {
        return Some(0);
    }
    if let Some(n) = text.strip_suffix("fuller") {
        return n.trim().parse::<i32>().ok().map(|n| -n.abs());
    }
    text.trim_end_matches("clearer").trim().trim_start_matches('+').parse().ok()
}

/// Velocity steps with their sign: `+5`, `-3`, `0`.
pub(crate) fn show_signed(steps: i32) -> String {
    if steps == 0 { "0".into() } else { format!("{steps:+}") }
}

/// The other way.
pub(crate) fn read_signed(text: &str) -> Option<i32> {
    text.trim().trim_start_matches('+').parse().ok()
}

/// The lowest setting of the audition piano means that it is off, in decibels.
pub(crate) const AUDITION_OFF: f32 = -60.0;

/// Decibels: `-12.0 dB`, or `off` at the bottom.
pub(crate) fn show_audition(decibels: f32) -> String {
    // Nought plus a negative nought is nought, which has no sign.
    if decibels <= AUDITION_OFF { "off".into() } else { format!("{:.1} dB", decibels + 0.0) }
}

/// The other way.
pub(crate) fn read_audition(text: &str) -> Option<f32> {
    let text = text.trim().to_ascii_lowercase();
    if text == "off" { Some(AUDITION_OFF) } else { number(text.trim_end_matches("db")) }
}

/// Whole numbers with a unit behind them: reads `15 %`, `15`.
pub(crate) fn read_whole(text: &str) -> Option<i32> {
    text.trim().trim_end_matches(|c: char| !c.is_ascii_digit()).parse().ok()
}

/// Reads `100 bpm`, `100`.
pub(crate) fn read_tempo(text: &str) -> Option<f32> {
    number(text.trim().trim_end_matches(|c: char| c.is_alphabetic() || c.is_whitespace()))
}

/// Reads on, off, yes, no, true, false, 1, 0.
pub(crate) fn read_switch(text: &str) -> Option<bool> {
    match text.trim().to_ascii_lowercase().as_str() {
        "on" | "yes" | "true" | "1" => Some(true),
        "off" | "no" | "false" | "0" => Some(false),
        _ => None,
    }
}

/// A finite number with a decimal point or comma.
fn number(text: &str) -> Option<f32> {
    text.trim().replace(',', ".").parse::<f32>().ok().filter(|value| value.is_finite())
}

/// A number with at most so many decimals and no zeros at the end.
fn trimmed(value: f32, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').into() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_text_is_read_back() {
        for step in 0..=80 {
            let value = step as f32 * 0.05;
            let read = read_rung(&show_rung(value)).expect("rung");
            assert!((read - value).abs() < 0.006, "{value}: {} -> {read}", show_rung(value));
            let read = read_beats(&show_beats(value)).expect("beats");
            assert!((read - value).abs() < 0.006, "{value}: {} -> {read}", show_beats(value));
        }
        for key in 0..=127 {
            assert_eq!(read_key(&show_key(key)), Some(key));
        }
        for n in 12..=16 {
            assert_eq!(read_reach(&show_reach(n)), Some(n));
        }
        for n in -40..=40 {
            assert_eq!(read_clarity(&show_clarity(n)), Some(n));
            assert_eq!(read_signed(&show_signed(n)), Some(n));
        }
        for n in [-60.0, -59.5, -12.0, 0.0] {
            assert_eq!(read_audition(&show_audition(n)), Some(n));
        }
        assert_eq!(show_audition(-0.0), "0.0 dB");
    }

    #[test]
    fn words_a_player_would_type() {
        assert_eq!(read_rung("flowing"), Some(3.0));
        assert_eq!(read_rung("Flowing+0.3"), Some(3.3));
        assert_eq!(read_rung("2,5"), Some(2.5));
        assert_eq!(read_rung("splendid"), None);
        assert_eq!(show_rung(3.3), "Flowing +0.3");
        assert_eq!(read_key("eb4"), Some(63));
        assert_eq!(read_key("E♭4"), Some(63));
        assert_eq!(read_key("c-1"), Some(0));
        assert_eq!(read_key("H4"), None);
        assert_eq!(read_key("C99999999999"), None);
        assert_eq!(read_beats("1 beat"), Some(1.0));
        assert_eq!(show_beats(1.0), "1 beat");
        assert_eq!(read_whole("15 %"), Some(15));
        assert_eq!(read_tempo("100 bpm"), Some(100.0));
        assert_eq!(read_tempo("nan"), None);
        assert_eq!(read_switch("maybe"), None);
    }
}
