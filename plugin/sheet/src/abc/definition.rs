//! `U:`: letters that stand for a decoration or a text (ABC 2.1, 4.16).

/// What a letter stands for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Meaning {
    /// A decoration by its name; one that says nothing to a player of chords is passed over.
    Decoration(String),
    /// A quoted text: an annotation or a chord symbol.
    Text(String),
}

/// Letters with their meanings, each once.
pub(super) type Definitions = Vec<(char, Meaning)>;

/// Longest meaning kept.
const MAX_TEXT: usize = 40;

/// Takes up a `U:` field such as `T = !trill!`; whether it is one.
pub(super) fn define(value: &str, definitions: &mut Definitions) -> bool {
    let Some((letter, meaning)) = value.split_once('=') else { return false };
    let mut letters = letter.trim().chars();
    let (Some(letter), None) = (letters.next(), letters.next()) else { return false };
    if !is_definable(letter) {
        return false;
    }
    let meaning = meaning.trim();
    let between = |sign: char| meaning.strip_prefix(sign)?.strip_suffix(sign);
    let clipped = |text: &str| text.chars().take(MAX_TEXT).collect::<String>();
    let meaning = match between('"') {
        Some(text) => Meaning::Text(clipped(text)),
        None => Meaning::Decoration(clipped(between('!').or_else(|| between('+')).unwrap_or(meaning).trim())),
    };
    definitions.retain(|(known, _)| *known != letter);
    definitions.push((letter, meaning));
    true
}

/// Whether a letter may be given a meaning.
pub(super) fn is_definable(letter: char) -> bool {
    matches!(letter, 'H'..='W' | 'h'..='w' | '~')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_are_given_meanings() {
        let mut definitions = Definitions::new();
        assert!(define(" T = !trill! ", &mut definitions));
        assert!(define("n=\"Am\"", &mut definitions) && define("T=!nil!", &mut definitions));
        let wanted = [('n', Meaning::Text("Am".into())), ('T', Meaning::Decoration("nil".into()))];
        assert_eq!(definitions, wanted);
        for wrong in ["T", "TT=!trill!", "A=!trill!", "=x"] {
            assert!(!define(wrong, &mut definitions), "{wrong}");
        }
    }
}
