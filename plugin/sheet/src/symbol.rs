//! Texts as chord symbols, in the spellings that sheets use.
//!
//! Besides what [`ChordSymbol::parse`] reads: alternate chords in parentheses are left out (`G(Em)` is G, ABC
//! 2.1, 4.18) and one that stands alone is the chord; basses in small letters with `+` for sharp (`D/f+`) and
//! the suffixes `d` for diminished and `a` for augmented (`Gd`, `Fa7`), as older collections write them; and
//! the first of several symbols parted by semicolons.

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
        // "Chorus" is a word, not a C chord.
        spelled.get(*end..).is_none_or(|rest| rest.chars().take_while(char::is_ascii_lowercase).count() < 4)
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
    fn blank_and_no_chord() {
        assert_eq!(harmony(" "), Harmony::Stays);
        assert!(matches!(harmony("N.C."), Harmony::Symbol(ChordSymbol { chord: None, .. })));
        assert_eq!(harmony("?!"), Harmony::Doubtful(None));
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
