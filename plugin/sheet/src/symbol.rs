//! Texts as chord symbols, in the spellings that sheets use.
//!
//! Besides what [`ChordSymbol::parse`] reads: alternate chords in parentheses are left out (`G(Em)` is G, ABC
//! 2.1, 4.18) and one that stands alone is the chord; basses in small letters with `+` for sharp (`D/f+`) and
//! the suffixes `d` for diminished and `a` for augmented (`Gd`, `Fa7`), as older collections write them; German
//! and Dutch names of roots (`Fis`, `Es`, `H`), minor roots in small letters (`am`), more ways to write major and
//! minor (`CMA7`, `C^7`, `Cj7`, `C:min`), brackets around a symbol; and the first of several symbols parted by
//! semicolons.

use figwort_theory::{ChordSymbol, NoteName};

/// What a quoted text says about harmony.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Harmony {
    /// A chord symbol, or N.C.
    Symbol(ChordSymbol),
    /// Blank: the harmony stays.
    Stays,
    /// A text of which only this much was understood; nothing for `None`.
    Doubtful(Option<ChordSymbol>),
}

/// Reads a quoted text that is no annotation.
pub(crate) fn harmony(text: &str) -> Harmony {
    let text = text.split([';', '\n']).next().unwrap_or("").trim();
    if text.is_empty() {
        return Harmony::Stays;
    }
    if let Some(symbol) = understood(text) {
        return Harmony::Symbol(symbol);
    }
    let spelled = respell(text);
    let readable = ChordSymbol::parse_prefix(&spelled).filter(|(_, end)| {
        // "Chorus" is a word, not a C chord; neither is "End" an E.
        let rest = spelled.get(*end..).unwrap_or_default();
        let letters = rest.chars().take_while(char::is_ascii_alphabetic).count();
        letters < if *end == 1 { 2 } else { 4 }
    });
    Harmony::Doubtful(readable.map(|(symbol, _)| symbol))
}

/// The chord symbol that a whole text is.
pub(crate) fn known(text: &str) -> Option<ChordSymbol> {
    if text.len() > 40 { None } else { understood(text.trim()) }
}

/// The symbol; a bass that is the root says nothing.
fn understood(text: &str) -> Option<ChordSymbol> {
    let symbol = spelled(text)?;
    Some(ChordSymbol { bass: symbol.bass.filter(|bass| *bass != symbol.root), ..symbol })
}

fn spelled(text: &str) -> Option<ChordSymbol> {
    if let Ok(symbol) = ChordSymbol::parse(text) {
        return Some(symbol);
    }
    if is_no_chord(text) {
        return Some(ChordSymbol { chord: None, root: NoteName::new(0, 0)?, bass: None });
    }
    if let Ok(symbol) = ChordSymbol::parse(&respell(text)) {
        return Some(symbol);
    }
    if let Some(other) = other_name(text)
        && let Ok(symbol) = ChordSymbol::parse(&other).or_else(|_| ChordSymbol::parse(&respell(&other)))
    {
        return Some(symbol);
    }
    let inner = text.strip_prefix('(').and_then(|rest| rest.strip_suffix(')'));
    if let Some(inner) = inner.filter(|inner| !inner.contains(['(', ')'])) {
        return ChordSymbol::parse(inner).or_else(|_| ChordSymbol::parse(&respell(inner))).ok();
    }
    let (first, alternate) = text.strip_suffix(')')?.split_once('(')?;
    let (first, alternate) = (first.trim(), alternate.trim());
    ChordSymbol::parse(&respell(alternate)).ok()?;
    ChordSymbol::parse(first).or_else(|_| ChordSymbol::parse(&respell(first))).ok()
}

/// Whether a text says that there is no chord.
pub(crate) fn is_no_chord(text: &str) -> bool {
    let letters: String = text.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect();
    matches!(letters.as_str(), "nc" | "nochord" | "tacet")
}

/// The usual spelling of an older one: `Gd/b` is `Gdim/B`, `Fa7` is `Faug7`, `D/f+` is `D/F#`.
fn respell(text: &str) -> String {
    let (chord, bass) = match text.rsplit_once('/') {
        Some((chord, bass)) if is_small_bass(bass) => (chord, Some(bass)),
        _ => (text, None),
    };
    let mut spelled = String::with_capacity(text.len() + 4);
    let root_length = 1 + usize::from(chord.get(1..).is_some_and(|rest| rest.starts_with(['#', 'b'])));
    let (root, suffix) = chord.split_at_checked(root_length).unwrap_or((chord, ""));
    spelled.push_str(root);
    let is_alone = |rest: &str| rest.chars().all(|c| c.is_ascii_digit());
    match (suffix.strip_prefix('d'), suffix.strip_prefix('a')) {
        (Some(rest), _) if is_alone(rest) => {
            spelled.push_str("dim");
            spelled.push_str(rest);
        }
        (_, Some(rest)) if is_alone(rest) => {
            spelled.push_str("aug");
            spelled.push_str(rest);
        }
        _ => spelled.push_str(suffix),
    }
    if let Some(bass) = bass {
        spelled.push('/');
        for (index, c) in bass.chars().enumerate() {
            spelled.push(match c {
                '+' => '#',
                '-' => 'b',
                _ if index == 0 => c.to_ascii_uppercase(),
                _ => c,
            });
        }
    }
    spelled
}

/// A symbol in words and signs that are rarer, in the usual ones; `None` where none of them is in it.
fn other_name(text: &str) -> Option<String> {
    let bracketed = |open, close| text.strip_prefix(open)?.strip_suffix(close);
    let bare =
        bracketed('[', ']').or_else(|| bracketed('{', '}')).unwrap_or(text).trim_end_matches('*').trim();
    let (chord, bass) = match bare.rsplit_once(['/', '\\']) {
        Some((chord, bass)) if root(bass).is_some_and(|(_, rest)| rest.is_empty()) => (chord, Some(bass)),
        _ => (bare, None),
    };
    let (name, rest) = root(chord)?;
    const WORDS: [(&str, &str); 13] = [
        ("/maj7", "(maj7)"),
        ("m+7", "m(maj7)"),
        ("mMA7", "m(maj7)"),
        ("^7", "maj7"),
        ("^", "maj7"),
        ("MIN", "m"),
        ("Min", "m"),
        ("MI", "m"),
        ("MAJ", "maj"),
        ("MA", "maj"),
        (":", ""),
        (".", ""),
        ("-m", "m"),
    ];
    let mut suffix = match rest.strip_prefix('j') {
        Some(rest) => format!("maj{rest}"),
        None => rest.to_owned(),
    };
    for (word, usual) in WORDS {
        suffix = suffix.replacen(word, usual, 1);
    }
    let bass = bass.and_then(root).map(|(bass, _)| format!("/{bass}")).unwrap_or_default();
    let other = format!("{name}{suffix}{bass}");
    (other != text).then_some(other)
}

/// The root at the beginning of a text in its usual name, and what follows. `Es` is E flat, but `Esus` is not; a small
/// letter is a root where `m` follows or nothing does.
fn root(text: &str) -> Option<(String, &str)> {
    let first = text.chars().next()?;
    let rest = text.get(1..)?;
    let letter = match first {
        'A'..='G' => first,
        'H' => 'B',
        'a'..='g' => {
            let after = rest.trim_start_matches(['#', 'b']);
            if !after.is_empty() && !after.starts_with('m') {
                return None;
            }
            first.to_ascii_uppercase()
        }
        _ => return None,
    };
    let flat = |rest: &str| !rest.starts_with("us");
    let (sign, rest) = match rest.strip_prefix("is") {
        Some(rest) => ("#", rest),
        None => {
            match rest.strip_prefix("es").or_else(|| rest.strip_prefix('s').filter(|_| "AE".contains(letter)))
            {
                Some(rest) if flat(rest) => ("b", rest),
                _ => ("", rest),
            }
        }
    };
    Some((format!("{letter}{sign}"), rest))
}

/// Whether a symbol's root is called H, as B natural is where B means B flat.
pub(crate) fn is_german(text: &str) -> bool {
    text.strip_prefix('H').is_some_and(|rest| understood(text).is_some() && !rest.starts_with(['b', '#']))
}

/// The same symbol where B means B flat.
pub(crate) fn with_german_b(text: &str) -> String {
    match text.strip_prefix('B') {
        Some(rest) if !rest.starts_with(['b', '#', '♭', '♯', 'e']) => format!("Bb{rest}"),
        _ => text.to_owned(),
    }
}

/// A bass such as `f+`, `bb` or `e`.
fn is_small_bass(text: &str) -> bool {
    let mut chars = text.chars();
    matches!(chars.next(), Some('a'..='g')) && chars.all(|c| matches!(c, '+' | '-' | '#' | 'b'))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn older_spellings() {
        assert_eq!(respell("D/f+"), "D/F#");
        assert_eq!(respell("Gm/bb"), "Gm/Bb");
        assert_eq!(respell("A7/c+"), "A7/C#");
        assert_eq!(respell("Gd"), "Gdim");
        assert_eq!(respell("C#d"), "C#dim");
        assert_eq!(respell("Fa7"), "Faug7");
        assert_eq!(respell("Cadd9"), "Cadd9");
        assert_eq!(respell("Bb7"), "Bb7");
        assert_eq!(respell("♭"), "♭");
    }

    #[test]
    fn rarer_names() {
        for (written, usual) in [
            ("CMA7", "Cmaj7"),
            ("CMIN7", "Cm7"),
            ("C^7", "Cmaj7"),
            ("Cj7", "Cmaj7"),
            ("C:maj7", "Cmaj7"),
            ("C:min", "Cm"),
            ("C.Maj7", "Cmaj7"),
            ("Cm/maj7", "Cm(maj7)"),
            ("Cm+7", "Cm(maj7)"),
            ("C\\E", "C/E"),
            ("[Am7]", "Am7"),
            ("Dm7*", "Dm7"),
            ("am", "Am"),
            ("f#m7", "F#m7"),
            ("H7", "B7"),
            ("Hm/D", "Bm/D"),
            ("Es", "Eb"),
            ("As7", "Ab7"),
            ("Besm", "Bbm"),
            ("Fis7/Cis", "F#7/C#"),
            ("Desmaj7", "Dbmaj7"),
            ("Esus4", "Esus4"),
            ("Asus2", "Asus2"),
        ] {
            assert_eq!(known(written), ChordSymbol::parse(usual).ok(), "{written}");
        }
        assert!(is_german("H7") && !is_german("Hello") && !is_german("B7"));
        assert_eq!(with_german_b("B7"), "Bb7");
        assert_eq!(with_german_b("Bb7"), "Bb7");
        for word in ["Hello", "as before", "Estelle", "gentle", "a tempo"] {
            assert_eq!(known(word), None, "{word}");
        }
    }

    #[test]
    fn blank_and_no_chord() {
        assert_eq!(harmony(" "), Harmony::Stays);
        assert!(matches!(harmony("N.C."), Harmony::Symbol(ChordSymbol { chord: None, .. })));
        for word in ["?!", "End", "DANCE", "BREAK", "Chorus"] {
            assert_eq!(harmony(word), Harmony::Doubtful(None), "{word}");
        }
    }

    #[test]
    fn alternates_in_parentheses() {
        let chord = |text: &str| ChordSymbol::parse(text).expect(text);
        assert_eq!(harmony("G(Em)"), Harmony::Symbol(chord("G")));
        assert_eq!(harmony("(E7)"), Harmony::Symbol(chord("E7")));
        assert_eq!(harmony("D7 (Am)"), Harmony::Symbol(chord("D7")));
        assert_eq!(harmony("A/c+"), Harmony::Symbol(chord("A/C#")));
    }
}
