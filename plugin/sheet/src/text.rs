//! Bytes as text.

use std::borrow::Cow;

/// The text of a file: UTF-8 with or without a byte order mark, UTF-16 with one or beginning with `<`, or else Latin-1;
/// without control characters, which would reach terminals by way of names and warnings. Line ends stay, and tabs
/// become spaces.
pub(crate) fn decode(bytes: &[u8]) -> Cow<'_, str> {
    let text = characters(bytes);
    let stays = |c: char| !c.is_control() || matches!(c, '\n' | '\r');
    if text.chars().all(stays) {
        return text;
    }
    let plain = |c| if c == '\t' { ' ' } else { c };
    Cow::Owned(text.chars().map(plain).filter(|c| stays(*c)).collect())
}

/// A text in one line, without control characters; tabs and line ends as spaces.
pub(crate) fn in_line(text: &str) -> String {
    let plain = |c: char| if matches!(c, '\t' | '\n' | '\r') { ' ' } else { c };
    text.chars().map(plain).filter(|c| !c.is_control()).collect()
}

fn characters(bytes: &[u8]) -> Cow<'_, str> {
    match bytes {
        [0xff, 0xfe, rest @ ..] => Cow::Owned(utf_16(rest, u16::from_le_bytes)),
        [0xfe, 0xff, rest @ ..] => Cow::Owned(utf_16(rest, u16::from_be_bytes)),
        // XML without its mark.
        [b'<', 0, ..] => Cow::Owned(utf_16(bytes, u16::from_le_bytes)),
        [0, b'<', ..] => Cow::Owned(utf_16(bytes, u16::from_be_bytes)),
        _ => {
            let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
            match core::str::from_utf8(bytes) {
                Ok(text) => Cow::Borrowed(text),
                Err(_) => Cow::Owned(bytes.iter().map(|byte| char::from(*byte)).collect()),
            }
        }
    }
}

/// Wrong units become U+FFFD, an odd last byte is left out.
fn utf_16(bytes: &[u8], unit: fn([u8; 2]) -> u16) -> String {
    let units = bytes.as_chunks::<2>().0.iter().map(|pair| unit(*pair));
    char::decode_utf16(units).map(|c| c.unwrap_or(char::REPLACEMENT_CHARACTER)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn latin_1_where_it_is_not_utf_8() {
        assert_eq!(decode(b"T:Caf\xe9"), "T:Caf\u{e9}");
        assert_eq!(decode("\u{feff}T:Caf\u{e9}".as_bytes()), "T:Caf\u{e9}");
    }

    #[test]
    fn control_characters_are_left_out() {
        assert_eq!(decode(b"T:\x1b[2J\x07bell\0\tC\r\nK:C"), "T:[2Jbell C\r\nK:C");
        // In Latin-1 from 0x80 to 0x9f, too.
        assert_eq!(decode(b"T:\x9b2Jcaf\xe9"), "T:2Jcaf\u{e9}");
        assert_eq!(in_line("\u{1b}[31mA\nB\tC\u{9b}"), "[31mA B C");
    }

    #[test]
    fn utf_16_by_its_mark() {
        assert_eq!(decode(b"\xff\xfe<\0\xe9\0"), "<\u{e9}");
        assert_eq!(decode(b"\xfe\xff\0<\0\xe9!"), "<\u{e9}");
        assert_eq!(decode(b"\xfe\xff\xd8\0"), "\u{fffd}");
        assert_eq!(decode(b"<\0\xe9\0"), "<\u{e9}");
        assert_eq!(decode(b"\0<\0\xe9"), "<\u{e9}");
    }
}
