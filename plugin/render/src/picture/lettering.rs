//! Lettering: how wide a text is, and flats and sharps, which the font has not, as drawn signs.

/// Widths of the letters from space to tilde in thousandths of the size, read from the font that the PNGs
/// are set in (Ubuntu Light 0.80, `hmtx` table).
const WIDTHS: [u16; 95] = [
    228, 274, 392, 653, 564, 831, 648, 240, 310, 310, 472, 564, 246, 282, 246, 359, 564, 564, 564, 564, 564,
    564, 564, 564, 564, 564, 246, 246, 564, 564, 564, 380, 940, 641, 630, 609, 702, 555, 520, 658, 692, 248,
    487, 599, 502, 865, 709, 774, 592, 774, 618, 517, 548, 680, 624, 921, 608, 569, 560, 310, 359, 310, 564,
    490, 376, 509, 583, 460, 583, 548, 376, 573, 569, 237, 237, 495, 255, 863, 569, 582, 583, 583, 374, 428,
    387, 569, 480, 775, 499, 474, 455, 319, 262, 319, 564,
];
/// A space that SVG keeps at the ends of a text.
pub(super) const NO_BREAK: char = '\u{a0}';
/// Width of any other letter: a little more than the average capital.
const OTHER_WIDTH: u16 = 700;
/// Width of a flat and of a sharp, with the air around them.
const FLAT_WIDTH: f64 = 0.39;
const SHARP_WIDTH: f64 = 0.50;

/// A stretch of lettering.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Piece {
    Letters(String),
    Flat,
    Sharp,
}

impl Piece {
    /// Width at a size.
    pub(super) fn width(&self, size: f64) -> f64 {
        match self {
            Self::Letters(text) => {
                let total: u32 = text.chars().map(|letter| u32::from(letter_width(letter))).sum();
                f64::from(total) / 1_000.0 * size
            }
            Self::Flat => FLAT_WIDTH * size,
            Self::Sharp => SHARP_WIDTH * size,
        }
    }
}

fn letter_width(letter: char) -> u16 {
    if letter == NO_BREAK {
        return WIDTHS[0];
    }
    let place = (letter as usize).wrapping_sub(usize::from(b' '));
    WIDTHS.get(place).copied().unwrap_or(OTHER_WIDTH)
}

/// Width of lettering at a size.
pub(super) fn width(pieces: &[Piece], size: f64) -> f64 {
    pieces.iter().map(|piece| piece.width(size)).sum()
}

/// Plain text; only the signs themselves become signs.
pub(super) fn plain(text: &str) -> Vec<Piece> {
    cut(text, |_, letter, _| letter == '♭', |letter| letter == '♯')
}

/// A chord symbol: `b` is a flat after a note's letter or another flat and before a number, `#` a sharp.
pub(super) fn chord(text: &str) -> Vec<Piece> {
    let flat = |before: Option<char>, letter: char, after: Option<char>| {
        let after_note = matches!(before, Some('A'..='G' | 'b' | '♭'));
        letter == '♭' || letter == 'b' && (after_note || after.is_some_and(|next| next.is_ascii_digit()))
    };
    cut(text, flat, |letter| matches!(letter, '#' | '♯'))
}

fn cut(
    text: &str,
    is_flat: impl Fn(Option<char>, char, Option<char>) -> bool,
    is_sharp: impl Fn(char) -> bool,
) -> Vec<Piece> {
    let mut pieces = Vec::new();
    let mut letters = String::new();
    let mut before = None;
    let mut rest = text.chars().peekable();
    while let Some(letter) = rest.next() {
        let sign = if is_flat(before, letter, rest.peek().copied()) {
            Some(Piece::Flat)
        } else if is_sharp(letter) {
            Some(Piece::Sharp)
        } else {
            None
        };
        if let Some(sign) = sign {
            if !letters.is_empty() {
                pieces.push(run(core::mem::take(&mut letters)));
            }
            pieces.push(sign);
        } else if !letter.is_control() {
            letters.push(letter);
        }
        before = Some(letter);
    }
    if !letters.is_empty() {
        pieces.push(run(letters));
    }
    pieces
}

/// A run of letters; spaces at its ends must stay.
fn run(letters: String) -> Piece {
    let inner = letters.trim_matches(' ');
    let before = letters.len() - letters.trim_start_matches(' ').len();
    let after = letters.len() - before - inner.len();
    let spaces = |count: usize| NO_BREAK.to_string().repeat(count);
    Piece::Letters(format!("{}{inner}{}", spaces(before), spaces(after)))
}

/// A sign's strokes as SVG path data, with its left edge on the baseline at (`x`, `y`); the first path is
/// drawn thin, the second thick.
pub(super) fn sign_paths(piece: &Piece, x: f64, y: f64, size: f64) -> Option<[String; 2]> {
    let at = |dx: f64, dy: f64| format!("{:.2} {:.2}", x + dx * size, y - dy * size);
    match piece {
        Piece::Letters(_) => None,
        Piece::Flat => Some([
            format!("M{} L{}", at(0.10, 0.80), at(0.10, 0.0)),
            format!(
                "M{} C{}, {}, {} C{}, {}, {}",
                at(0.10, 0.33),
                at(0.17, 0.46),
                at(0.34, 0.43),
                at(0.31, 0.28),
                at(0.29, 0.17),
                at(0.18, 0.07),
                at(0.10, 0.01),
            ),
        ]),
        Piece::Sharp => Some([
            format!("M{} L{} M{} L{}", at(0.16, -0.06), at(0.16, 0.72), at(0.32, -0.02), at(0.32, 0.76)),
            format!("M{} L{} M{} L{}", at(0.06, 0.19), at(0.42, 0.28), at(0.06, 0.43), at(0.42, 0.52)),
        ]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spelled(text: &str) -> String {
        chord(text)
            .into_iter()
            .map(|piece| match piece {
                Piece::Letters(text) => text,
                Piece::Flat => "<f>".into(),
                Piece::Sharp => "<s>".into(),
            })
            .collect()
    }

    #[test]
    fn flats_and_sharps_are_told_from_letters() {
        assert_eq!(spelled("Bb7b9/F"), "B<f>7<f>9/F");
        assert_eq!(spelled("F#m7b5/C#"), "F<s>m7<f>5/C<s>");
        assert_eq!(spelled("Ebb/Bb"), "E<f><f>/B<f>");
        assert_eq!(spelled("B/D"), "B/D");
        assert_eq!(spelled("C7(b9,#11)"), "C7(<f>9,<s>11)");
        assert_eq!(spelled("Gsub"), "Gsub");
        assert_eq!(spelled("A♭m6"), "A<f>m6");
    }
}
