//! Letters that ABC's plain text spells out: `\'e`, `&eacute;`, `\u00e9` (ABC 2.1, 8.2 and its table).

/// Accents as written, as HTML calls them, and the letters that take them.
const ACCENTS: [(char, &str, &str, &str); 9] = [
    ('\'', "acute", "AEIOUYaeiouy", "ÁÉÍÓÚÝáéíóúý"),
    ('`', "grave", "AEIOUaeiou", "ÀÈÌÒÙàèìòù"),
    ('^', "circ", "AEIOUaeiou", "ÂÊÎÔÛâêîôû"),
    ('"', "uml", "AEIOUYaeiouy", "ÄËÏÖÜŸäëïöüÿ"),
    ('~', "tilde", "ANOano", "ÃÑÕãñõ"),
    ('c', "cedil", "Cc", "Çç"),
    (',', "cedil", "Cc", "Çç"),
    ('/', "slash", "Oo", "Øø"),
    ('v', "caron", "CSZcsz", "ČŠŽčšž"),
];

/// Letters of two letters.
const LIGATURES: [(&str, char); 7] =
    [("AA", 'Å'), ("aa", 'å'), ("AE", 'Æ'), ("ae", 'æ'), ("OE", 'Œ'), ("oe", 'œ'), ("ss", 'ß')];

/// The text with its letters as they are meant.
pub(super) fn plain(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let found = match c {
            '\\' => escaped(rest.get(1..).unwrap_or_default()).map(|(c, used)| (c, used + 1)),
            '&' => entity(rest.get(1..).unwrap_or_default()).map(|(c, used)| (c, used + 1)),
            _ => None,
        };
        let (c, used) = found.unwrap_or((c, c.len_utf8()));
        plain.push(c);
        rest = rest.get(used..).unwrap_or_default();
    }
    plain
}

fn accented(accent: impl Fn(&(char, &str, &str, &str)) -> bool, letter: char) -> Option<char> {
    let table = ACCENTS.iter().filter(|row| accent(row));
    table.into_iter().find_map(|(_, _, plain, accented)| accented.chars().nth(plain.find(letter)?))
}

/// What follows a backslash, and how many bytes that is.
fn escaped(text: &str) -> Option<(char, usize)> {
    let mut chars = text.chars();
    let (first, second) = (chars.next()?, chars.next());
    if matches!(first, '\\' | '%' | '&') {
        return Some((first, 1));
    }
    if first == 'u' {
        let code = text.get(1..5).filter(|code| code.bytes().all(|c| c.is_ascii_hexdigit()));
        let c = char::from_u32(u32::from_str_radix(code?, 16).ok()?)?;
        return (!c.is_control()).then_some((c, 5));
    }
    if let Some((name, letter)) = LIGATURES.iter().find(|(name, _)| text.starts_with(name)) {
        return Some((*letter, name.len()));
    }
    Some((accented(|row| row.0 == first, second?)?, 2))
}

/// What follows an ampersand, and how many bytes that is.
fn entity(text: &str) -> Option<(char, usize)> {
    let (name, _) = text.get(..text.len().min(12)).or(text.get(..8))?.split_once(';')?;
    let letter = match name {
        "amp" => '&',
        "lt" => '<',
        "gt" => '>',
        "quot" => '"',
        "szlig" => 'ß',
        "aring" => 'å',
        "Aring" => 'Å',
        "aelig" => 'æ',
        "AElig" => 'Æ',
        _ => accented(|row| row.1 == name.get(1..).unwrap_or_default(), name.chars().next()?)?,
    };
    Some((letter, name.len() + 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_are_as_meant() {
        assert_eq!(plain(r#"Caf\'e \"Uber \cca \oe \aa \u266d"#), "Café Über ça œ å ♭");
        assert_eq!(plain("Fl&ecirc;che &amp; S&oslash;n 100\\%"), "Flêche & Søn 100%");
        assert_eq!(plain(r"\u001b[2J \u009b"), r"\u001b[2J \u009b");
        assert_eq!(plain(r"a \ b \q & c &nbsp; ü \"), r"a \ b \q & c &nbsp; ü \");
    }
}
