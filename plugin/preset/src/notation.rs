//! How values are written in files and on the command line: note values, metres, pitches.
//!
//! Nothing is rounded: a length that is not a whole number of ticks is refused.

use figwort_theory::{Metre, NoteName, Pitch, Span};

/// A length or place as a fraction of a whole note, as it is notated: `"1/8"` is an eighth note, `"3/8"` a
/// dotted quarter, `"1"` a whole note, `"0"` the beginning.
///
/// # Errors
/// What is wrong with the text, as the rest of a sentence about it.
pub fn length(text: &str) -> Result<Span, &'static str> {
    const FORM: &str = "is no fraction of a whole note such as \"0\", \"1/8\", \"3/8\" or \"1\"";
    let (numerator, denominator) = text.split_once('/').unwrap_or((text, "1"));
    let number = |digits: &str| -> Option<i64> {
        let plain = !digits.is_empty() && digits.len() <= 6 && digits.bytes().all(|b| b.is_ascii_digit());
        if plain { digits.parse().ok() } else { None }
    };
    let (Some(n), Some(d)) = (number(numerator.trim()), number(denominator.trim())) else {
        return Err(FORM);
    };
    let ticks = n * Span::WHOLE.0;
    if d == 0 {
        Err(FORM)
    } else if ticks % d != 0 {
        Err("falls between two ticks: divide a whole note by 2s (up to 256), 3s (up to 9), 5 and 7 only")
    } else {
        Ok(Span(ticks / d))
    }
}

/// A length in the notation that [`length`] reads, in lowest terms.
pub fn written(length: Span) -> String {
    let (mut a, mut b) = (length.0.abs(), Span::WHOLE.0);
    while b != 0 {
        (a, b) = (b, a % b);
    }
    let (n, d) = (length.0 / a, Span::WHOLE.0 / a);
    if d == 1 { n.to_string() } else { format!("{n}/{d}") }
}

/// A metre: `"4/4"`, `"6/8"`. `None` for anything that is no time signature.
pub fn metre(text: &str) -> Option<Metre> {
    let (numerator, denominator) = text.split_once('/')?;
    Metre::new(numerator.trim().parse().ok()?, denominator.trim().parse().ok()?)
}

/// A pitch by name and octave, C4 being middle C: `"C2"`, `"F#3"`, `"Bb1"`; or as a MIDI key number, 0 to
/// 127: `"36"`. `None` for anything else.
pub fn pitch(text: &str) -> Option<Pitch> {
    let text = text.trim();
    if let Ok(key) = text.parse::<i32>() {
        return Pitch::from_i32(key);
    }
    let mut rest = text.chars();
    let letter = match rest.next()?.to_ascii_uppercase() {
        'C' => 0,
        'D' => 1,
        'E' => 2,
        'F' => 3,
        'G' => 4,
        'A' => 5,
        'B' => 6,
        _ => return None,
    };
    let rest = rest.as_str();
    let octave = rest.trim_start_matches(['#', 'b', '♯', '♭']);
    let accidentals = &rest[..rest.len() - octave.len()];
    let alter = match accidentals {
        "" => 0,
        "#" | "♯" => 1,
        "##" | "♯♯" => 2,
        "b" | "♭" => -1,
        "bb" | "♭♭" => -2,
        _ => return None,
    };
    let octave: i32 = octave.parse().ok().filter(|n| (-1..=9).contains(n) && !octave.starts_with('+'))?;
    // The octave belongs to the letter: Cb4 lies below C4, B#3 is C4.
    let natural = i32::from(NoteName::new(letter, 0)?.class().number());
    Pitch::from_i32((octave + 1) * 12 + natural + alter)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_exact_or_refused() {
        assert_eq!(length("0"), Ok(Span::ZERO));
        assert_eq!(length("1/8"), Ok(Span::EIGHTH));
        assert_eq!(length("2/4"), length("1/2"));
        assert_eq!(length("1/12").map(|s| s * 3), Ok(Span::QUARTER));
        assert_eq!(length("1/256").map(|s| s.0), Ok(315));
        for refused in ["1/11", "1/512", "1/27", "1/25"] {
            assert!(length(refused).unwrap_err().starts_with("falls between"), "{refused}");
        }
        for refused in ["", "/", "1/", "/8", "1/0", "-1/8", "0.5", "1/8/2", "eighth", "9999999/8", "+1"] {
            assert!(length(refused).unwrap_err().starts_with("is no fraction"), "{refused}");
        }
    }

    /// Every fraction that is a whole number of ticks comes back as it went in.
    #[test]
    fn lengths_survive_writing_and_reading() {
        for denominator in [1, 2, 3, 4, 5, 6, 7, 8, 9, 12, 16, 24, 28, 32, 48, 64, 128, 256] {
            for numerator in 0..=2 * denominator {
                let span = length(&format!("{numerator}/{denominator}")).expect("whole ticks");
                assert_eq!(span.0 * denominator, Span::WHOLE.0 * numerator);
                assert_eq!(length(&written(span)), Ok(span));
            }
        }
        assert_eq!(written(Span::EIGHTH * 3), "3/8");
        assert_eq!(written(Span::WHOLE), "1");
    }

    #[test]
    fn pitches_by_name_and_number() {
        let key = |text: &str| pitch(text).map(Pitch::key);
        assert_eq!(key("C4"), Some(60));
        assert_eq!(key("c2"), Some(36));
        assert_eq!(key("F#3"), Some(54));
        assert_eq!(key("B♭1"), Some(34));
        assert_eq!(key("Cb4"), Some(59));
        assert_eq!(key("B#3"), Some(60));
        assert_eq!(key("C-1"), Some(0));
        assert_eq!(key("G9"), Some(127));
        assert_eq!(key("127"), Some(127));
        for refused in ["", "H2", "C", "G#9", "Cb-1", "C10", "128", "-1", "C#b4", "C+4", "♯4", "C4x"] {
            assert_eq!(key(refused), None, "{refused}");
        }
        for number in 0..=127 {
            assert_eq!(key(&Pitch::new(number).to_string()), Some(number));
        }
    }

    #[test]
    fn metres() {
        assert_eq!(metre("6/8"), Metre::new(6, 8));
        for refused in ["", "4", "4/3", "0/4", "65/4", "4/4/4", "C"] {
            assert_eq!(metre(refused), None, "{refused}");
        }
    }
}
