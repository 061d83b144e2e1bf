//! Telling formats apart by their first bytes.

/// What a file's bytes look like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Format {
    /// Nothing, or white space only.
    Empty,
    /// ABC text.
    Abc,
    /// A Standard MIDI File, bare or in a RIFF wrapper.
    Midi,
    /// MusicXML text.
    MusicXml,
    /// A ZIP container, as compressed MusicXML (.mxl) is.
    CompressedMusicXml,
    /// Something else, described for a message.
    Other(&'static str),
}

/// Ends of the names of files that may be sheets or takes, in small letters and without the dot. What a file is, its
/// bytes tell ([`sniff`]); this is for looking through folders.
pub const ENDINGS: [&str; 9] = ["abc", "musicxml", "mxl", "xml", "mid", "midi", "kar", "rmi", "smf"];

/// How far into XML to look for the name of what it is; comments may go before it.
const HEAD: usize = 8000;

/// What the bytes look like. Looks at the beginning, and for ABC at lines until one has a field.
pub fn sniff(bytes: &[u8]) -> Format {
    let signatures: [(&[u8], Format); 12] = [
        (b"MThd", Format::Midi),
        (b"PK\x03\x04", Format::CompressedMusicXml),
        (b"%PDF", Format::Other("a PDF")),
        (b"%!PS", Format::Other("PostScript")),
        (b"\x89PNG", Format::Other("a PNG picture")),
        (b"\xff\xd8\xff", Format::Other("a JPEG picture")),
        (b"GIF8", Format::Other("a GIF picture")),
        (b"OggS", Format::Other("an Ogg sound file")),
        (b"fLaC", Format::Other("a FLAC sound file")),
        (b"ID3", Format::Other("an MP3 sound file")),
        (b"\x1f\x8b", Format::Other("a gzip archive")),
        (b"\x7fELF", Format::Other("a program")),
    ];
    if let Some((_, format)) = signatures.iter().find(|(signature, _)| bytes.starts_with(signature)) {
        return *format;
    }
    let wide: [&[u8]; 4] = [b"\xff\xfe", b"\xfe\xff", b"<\0", b"\0<"];
    if wide.iter().any(|start| bytes.starts_with(start)) {
        // The decoded text begins with no mark, or with one that is none.
        let text = crate::text::decode(bytes);
        return sniff(text.trim_start_matches('\u{feff}').as_bytes());
    }
    if bytes.starts_with(b"RIFF") {
        return match bytes.get(8..12) {
            Some(b"RMID") => Format::Midi,
            Some(b"WAVE") => Format::Other("a WAV sound file"),
            _ => Format::Other("a RIFF file"),
        };
    }
    let text = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes).trim_ascii_start();
    if text.is_empty() {
        return Format::Empty;
    }
    if text.starts_with(b"<") {
        let head = text.get(..HEAD.min(text.len())).unwrap_or(text);
        let has = |needle: &[u8]| head.windows(needle.len()).any(|window| window == needle);
        if has(b"score-partwise") || has(b"score-timewise") {
            return Format::MusicXml;
        }
        if !has_abc_field(text) {
            return Format::Other(if has(b"<?xml") {
                "an XML file of another kind"
            } else {
                "a web page or other markup"
            });
        }
    }
    if has_abc_field(text) {
        Format::Abc
    } else if text.contains(&0) {
        Format::Other("a binary file of an unknown kind")
    } else {
        Format::Other("text without a tune (no line begins with X: or K:)")
    }
}

/// Whether a line begins with `X:` or `K:`, without which there is no tune.
fn has_abc_field(text: &[u8]) -> bool {
    text.split(|byte| *byte == b'\n' || *byte == b'\r')
        .any(|line| line.starts_with(b"X:") || line.starts_with(b"K:"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formats_by_their_first_bytes() {
        assert_eq!(sniff(b""), Format::Empty);
        assert_eq!(sniff(b" \r\n\t"), Format::Empty);
        assert_eq!(sniff(b"\xef\xbb\xbf%abc-2.1\n\nX:1\nK:C\n"), Format::Abc);
        assert_eq!(sniff(b"T:no number\rK:C\rCDEF|"), Format::Abc);
        assert_eq!(sniff(b"MThd\0\0\0\x06"), Format::Midi);
        assert_eq!(sniff(b"RIFF\0\0\0\0RMIDdata"), Format::Midi);
        assert_eq!(sniff(b"<?xml version='1.0'?>\n<score-partwise>"), Format::MusicXml);
        assert_eq!(sniff(b"PK\x03\x04..."), Format::CompressedMusicXml);
        assert_eq!(sniff(b"<html><pre>\nX:1\nK:C\nCDEF|\n</pre>"), Format::Abc);
        assert_eq!(sniff(b"\xff\xfe<\0s\0c\0o\0r\0e\0-\0t\0i\0m\0e\0w\0i\0s\0e\0"), Format::MusicXml);
        assert_eq!(sniff(b"\xff\xfe"), Format::Empty);
        assert!(matches!(sniff(b"RIFF\0\0\0\0WAVEfmt "), Format::Other(_)));
        assert!(matches!(sniff(b"dear diary"), Format::Other(_)));
    }
}
