//! The values of `M:`, `L:`, `Q:`, `K:` and `P:` fields.

use figwort_theory::{Key, Metre, Mode, NoteName, Span};

use super::body::Reach;
use crate::length::Exact;
use crate::limits;

/// Longest quarter note that a MIDI file can state, in microseconds.
const SLOWEST: f64 = 16_777_215.0;

/// Why a `Q:` tells no tempo, to follow its text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum NoTempo {
    Nonsense,
    TooSlow,
    TooFast,
}

impl core::fmt::Display for NoTempo {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Nonsense => write!(f, "is no tempo"),
            Self::TooSlow => write!(f, "is slower than 3.6 quarters a minute, which MIDI cannot state"),
            Self::TooFast => {
                write!(f, "is faster than {} quarters a minute, more than any page asks", limits::MAX_TEMPO)
            }
        }
    }
}

/// `M:`. `Some(None)` is free metre, `None` a text that is no metre.
pub(super) fn metre(text: &str) -> Option<Option<Metre>> {
    let text: String = text.chars().filter(|c| !c.is_whitespace() && !matches!(c, '(' | ')')).collect();
    match text.as_str() {
        "" | "none" | "None" => return Some(None),
        "C" | "c" => return Some(Some(Metre::FOUR_FOUR)),
        "C|" | "c|" => return Some(Metre::new(2, 2)),
        _ => {}
    }
    // Over one lower number (2+3/8), or each over its own (2/4+3/8): in the shortest of them.
    let mut sum = (0u32, 1u32);
    let mut uppers = 0u32;
    for part in text.split('+') {
        let (upper, lower) = part.split_once('/').unwrap_or((part, ""));
        uppers = uppers.checked_add(upper.parse().ok()?)?;
        if lower.is_empty() {
            continue;
        }
        let lower = lower.parse::<u32>().ok().filter(|lower| lower.is_power_of_two() && *lower <= 64)?;
        let common = sum.1.max(lower);
        let scaled = sum.0 * (common / sum.1);
        sum = (scaled.checked_add(uppers.checked_mul(common / lower)?)?.min(1 << 16), common);
        uppers = 0;
    }
    if uppers > 0 {
        return None;
    }
    Metre::new(u8::try_from(sum.0).ok()?, u8::try_from(sum.1).ok()?).map(Some)
}

/// The unit note length that a metre implies: a sixteenth below 3/4, else an eighth (ABC 2.1, 3.1.7).
pub(super) fn default_unit(metre: Option<Metre>) -> Exact {
    let short = metre.is_some_and(|metre| metre.bar() < Span::QUARTER * 3);
    Exact::of(if short { Span::EIGHTH.fraction(1, 2) } else { Span::EIGHTH })
}

/// `L:`: a fraction of a whole note, at most four whole notes.
pub(super) fn unit(text: &str) -> Option<Exact> {
    let (numerator, denominator) = fraction(text.trim())?;
    (numerator <= denominator.saturating_mul(4)).then(|| Exact::of(Span::WHOLE).times(numerator, denominator))
}

/// `1/8` or `1`; both parts 1 to 1024.
fn fraction(text: &str) -> Option<(u32, u32)> {
    let (numerator, denominator) = text.split_once('/').unwrap_or((text, "1"));
    let parse = |part: &str| part.trim().parse::<u32>().ok().filter(|n| (1..=1024).contains(n));
    Some((parse(numerator)?, parse(denominator)?))
}

/// `Q:` in microseconds a quarter note. `Ok(None)` where it has words only.
/// `1/4=120`, `1/4 3/8=40` (the sum is the beat), and the outdated `120` (unit notes) and `C3=40` (three units).
pub(super) fn tempo(text: &str, unit: Exact) -> Result<Option<u32>, NoTempo> {
    // Words stand in quotation marks before or after the numbers.
    let numbers: String = text.split('"').step_by(2).collect::<Vec<_>>().join(" ");
    let numbers = numbers.trim();
    if numbers.is_empty() {
        return Ok(None);
    }
    let (beats, rate) = numbers.rsplit_once('=').unwrap_or(("", numbers));
    let rate = rate.trim_start_matches(|c: char| !c.is_ascii_digit() && c != '-');
    // Of a range such as 80-90 the first.
    let end = rate.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(rate.len());
    let rate: f64 = rate.get(..end).and_then(|rate| rate.parse().ok()).ok_or(NoTempo::Nonsense)?;
    let mut beat = Exact::ZERO;
    for part in beats.split_whitespace().take(8) {
        let length = match part.strip_prefix(['C', 'c']) {
            Some("") => unit,
            Some(count) => unit.times(
                count.parse::<u32>().ok().filter(|n| (1..=64).contains(n)).ok_or(NoTempo::Nonsense)?,
                1,
            ),
            None => {
                let (numerator, denominator) = fraction(part).ok_or(NoTempo::Nonsense)?;
                Exact::of(Span::WHOLE).times(numerator, denominator)
            }
        };
        beat = beat.plus(length);
    }
    if beat == Exact::ZERO {
        beat = unit;
    }
    let quarters = beat.round().in_quarters();
    if !rate.is_finite() || rate <= 0.0 || quarters <= 0.0 {
        return Err(NoTempo::Nonsense);
    }
    let micros = 60e6 / (rate * quarters);
    if micros > SLOWEST {
        Err(NoTempo::TooSlow)
    } else if micros < 60e6 / f64::from(limits::MAX_TEMPO) {
        Err(NoTempo::TooFast)
    } else {
        Ok(Some(micros.round() as u32))
    }
}

/// A key signature and what else a `K:` field says about pitch.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Signature {
    /// The key that harmony is thought in: the tonic, and the nearer of major and minor.
    pub(super) key: Key,
    /// Alteration of each letter, C to B, in semitones.
    pub(super) alter: [i8; 7],
}

/// What a `K:` field changes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct KeyField {
    /// The signature; `None` where only a clef is given.
    pub(super) signature: Option<Signature>,
    /// Semitones from written to sounding pitch, where stated.
    pub(super) transpose: Option<i32>,
}

/// `K:`; `None` where the text is no key.
pub(super) fn key(text: &str) -> Option<KeyField> {
    let mut field = KeyField::default();
    let text = text.trim();
    let mut words = text.split_whitespace().peekable();
    let first = words.peek().copied().unwrap_or("");
    let mut explicit = [None; 7];
    if first.is_empty() || first.eq_ignore_ascii_case("none") {
        field.signature = Some(Signature::default());
        words.next();
    } else if first == "HP" || first == "Hp" {
        // Highland pipes: sounding F sharp and C sharp, written out or not.
        field.signature = Some(Signature { key: Key::from_fifths(2, Mode::Major), alter: alterations(2) });
        words.next();
    } else if first.starts_with(['^', '_', '=']) {
        // No tonic, only signs.
        field.signature = Some(Signature::default());
    } else if let Some((letter, sharps, rest)) = tonic(first) {
        words.next();
        let mut mode = rest;
        if mode.is_empty()
            && let Some(next) = words.peek()
            && mode_offset(next).is_some()
        {
            mode = next;
            words.next();
        }
        // Accidentals may follow the mode without a space.
        let (mode, accidentals) = mode.split_at(mode.find(['^', '_', '=']).unwrap_or(mode.len()));
        let (offset, key_mode) = mode_offset(mode)?;
        let fifths =
            [0, 2, 4, -1, 1, 3, 5].get(usize::from(letter)).copied()? + 7 * i32::from(sharps) + offset;
        let tonic = NoteName::new(letter, sharps)?.class();
        let is_explicit = mode.len() >= 3 && mode.to_ascii_lowercase().starts_with("exp");
        let alter = if is_explicit { [0; 7] } else { alterations(fifths) };
        field.signature = Some(Signature { key: Key { tonic, mode: key_mode }, alter });
        read_accidentals(accidentals, &mut explicit);
    }
    let mut understood = field.signature.is_some();
    for word in words {
        if word.starts_with(['^', '_', '=']) {
            read_accidentals(word, &mut explicit);
            continue;
        }
        let (name, value) = word.split_once('=').unwrap_or(("clef", word));
        let is_clef =
            ["treble", "bass", "alto", "tenor", "perc", "none"].iter().any(|clef| value.starts_with(clef));
        understood |= is_clef || (name != "clef" && word.contains('='));
        if let Some(by) = transposition(word) {
            field.transpose = Some(field.transpose.unwrap_or(0) + by);
        }
    }
    if let Some(signature) = &mut field.signature {
        for (alter, explicit) in signature.alter.iter_mut().zip(explicit) {
            *alter = explicit.unwrap_or(*alter);
        }
    }
    understood.then_some(field)
}

/// What one word of a `K:` or `V:` field says of sounding pitch, in semitones.
fn transposition(word: &str) -> Option<i32> {
    let (name, value) = word.split_once('=').unwrap_or(("clef", word));
    let number = value.parse::<i32>().ok();
    match name {
        "transpose" | "t" => number.filter(|n| n.abs() <= 48),
        "octave" => number.filter(|n| n.abs() <= 4).map(|n| n * 12),
        "clef" if value.ends_with("-8") => Some(-12),
        "clef" if value.ends_with("+8") => Some(12),
        _ => None,
    }
}

/// The name that a `V:` field gives a voice, and its semitones from written to sounding pitch, where stated.
pub(super) fn voice(value: &str) -> (String, Option<i32>) {
    let mut words = value.split_whitespace();
    let name = words.next().unwrap_or("").chars().take(40).collect();
    let by = words.filter_map(transposition).take(8).reduce(|a, b| a + b);
    (name, by)
}

/// A tonic at the beginning of a word: letter step, alteration, the rest of the word.
fn tonic(word: &str) -> Option<(u8, i8, &str)> {
    let first = word.chars().next()?;
    let letter = "CDEFGAB".find(first)?;
    let rest = word.get(first.len_utf8()..)?;
    let (sharps, rest) = if let Some(rest) = rest.strip_prefix(['#', '♯']) {
        (1, rest)
    } else if let Some(rest) = rest.strip_prefix(['b', '♭']) {
        (-1, rest)
    } else {
        (0, rest)
    };
    Some((letter as u8, sharps, rest))
}

/// Fifths from the major signature of the same tonic, and the nearer of major and minor.
fn mode_offset(word: &str) -> Option<(i32, Mode)> {
    let word = word.to_ascii_lowercase();
    if word.is_empty() {
        return Some((0, Mode::Major));
    }
    if word == "m" {
        return Some((-3, Mode::Minor));
    }
    match word.get(..3)? {
        "maj" | "ion" | "exp" => Some((0, Mode::Major)),
        "min" | "aeo" => Some((-3, Mode::Minor)),
        "mix" => Some((-1, Mode::Major)),
        "dor" => Some((-2, Mode::Minor)),
        "phr" => Some((-4, Mode::Minor)),
        "lyd" => Some((1, Mode::Major)),
        "loc" => Some((-5, Mode::Minor)),
        _ => None,
    }
}

/// Alterations of C to B in a signature of so many sharps (flats when negative).
fn alterations(fifths: i32) -> [i8; 7] {
    // Place of each letter in the order of sharps F C G D A E B.
    const ORDER: [i32; 7] = [1, 3, 5, 0, 2, 4, 6];
    ORDER.map(|place| ((fifths - 1 - place).div_euclid(7) + 1).clamp(-2, 2) as i8)
}

/// Accidentals such as `^f_b=c` of a `K:` field, for all octaves.
fn read_accidentals(text: &str, explicit: &mut [Option<i8>; 7]) {
    let mut alter = 0;
    for c in text.chars() {
        match c {
            '^' => alter = (alter + 1).min(2),
            '_' => alter = (alter - 1).max(-2),
            '=' => alter = 0,
            _ => {
                if let Some(letter) = "CDEFGAB".find(c.to_ascii_uppercase())
                    && let Some(slot) = explicit.get_mut(letter)
                {
                    *slot = Some(alter);
                }
                alter = 0;
            }
        }
    }
}

/// The order of parts that a header's `P:` states, written out: `(AB)2.C` is A B A B C.
/// `None` where it is no order, is nested too deeply or grows beyond [`limits::MAX_PARTS`].
pub(super) fn part_order(text: &str) -> Option<Vec<char>> {
    let mut stack: Vec<Vec<char>> = vec![Vec::new()];
    // The last letter or parenthesis, which a number repeats.
    let mut last: Vec<char> = Vec::new();
    let mut chars = text.chars().peekable();
    while let Some(c) = chars.next() {
        match c {
            '.' | ' ' | '\t' | ',' | '-' => {}
            '(' => {
                if stack.len() > limits::MAX_NESTING {
                    return None;
                }
                stack.push(Vec::new());
            }
            ')' => {
                last = stack.pop()?;
                stack.last_mut()?.extend(&last);
            }
            '0'..='9' => {
                let mut times = c.to_digit(10)? as usize;
                while let Some(digit) = chars.peek().and_then(|next| next.to_digit(10)) {
                    times = (times * 10 + digit as usize).min(limits::MAX_PARTS + 1);
                    chars.next();
                }
                if times == 0 || last.is_empty() || last.len() * times > limits::MAX_PARTS {
                    return None;
                }
                for _ in 1..times {
                    stack.last_mut()?.extend(&last);
                }
                last.clear();
            }
            _ if c.is_ascii_alphabetic() => {
                last = vec![c];
                stack.last_mut()?.push(c);
            }
            _ => return None,
        }
        if stack.iter().map(Vec::len).sum::<usize>() > limits::MAX_PARTS {
            return None;
        }
    }
    (stack.len() == 1).then(|| stack.pop())?.filter(|order| !order.is_empty())
}

/// The reach of accidentals, where a directive sets it.
pub(super) fn reach(directive: &str) -> Option<Reach> {
    match directive.trim().strip_prefix("propagate-accidentals")?.trim() {
        "not" => Some(Reach::Note),
        "octave" => Some(Reach::Octave),
        "pitch" => Some(Reach::Letter),
        _ => None,
    }
}

/// Whether `!` ends a line of the page, where a directive says so (ABC 2.1, 6.1.1 and 11.2).
pub(super) fn bang_breaks(directive: &str) -> Option<bool> {
    let (name, value) = directive.trim().split_once(char::is_whitespace)?;
    match name {
        "linebreak" => Some(value.contains('!')),
        "decoration" => Some(value.trim() == "+"),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn eighth() -> Exact {
        Exact::of(Span::EIGHTH)
    }

    #[test]
    fn metres_and_units() {
        assert_eq!(metre("6/8"), Some(Metre::new(6, 8)));
        assert_eq!(metre(" C| "), Some(Metre::new(2, 2)));
        assert_eq!(metre("(2+3+2)/8"), Some(Metre::new(7, 8)));
        assert_eq!(metre("none"), Some(None));
        assert_eq!(metre("2/4 + 3/8"), Some(Metre::new(7, 8)));
        assert_eq!(metre("3"), None);
        assert_eq!(metre("4/3"), None);
        assert_eq!(metre("200+100/4"), None);
        // ABC 2.1, 3.1.7: 2/4 is below 0.75, 3/4 and 6/8 are not.
        assert_eq!(default_unit(Metre::new(2, 4)).round(), Span::EIGHTH.fraction(1, 2));
        assert_eq!(default_unit(Metre::new(6, 8)).round(), Span::EIGHTH);
        assert_eq!(default_unit(None).round(), Span::EIGHTH);
        assert_eq!(unit("1/16").map(Exact::round), Some(Span::EIGHTH.fraction(1, 2)));
        assert_eq!(unit("1"), Some(Exact::of(Span::WHOLE)));
        assert_eq!(unit("0/8"), None);
    }

    #[test]
    fn tempos() {
        assert_eq!(tempo("1/4=120", eighth()), Ok(Some(500_000)));
        assert_eq!(tempo("\"Lively\" 3/8=80", eighth()), Ok(Some(500_000)));
        assert_eq!(tempo("1/4 3/8 1/4 3/8=40", eighth()), Ok(Some(300_000)));
        assert_eq!(tempo("120", eighth()), Ok(Some(1_000_000)));
        assert_eq!(tempo("C3=40", eighth()), Ok(Some(1_000_000)));
        assert_eq!(tempo("\"Andante\"", eighth()), Ok(None));
        assert_eq!(tempo("1/4 = c. 120-126", eighth()), Ok(Some(500_000)));
        for text in ["1/4=-120", "1/4=0", "soon"] {
            assert_eq!(tempo(text, eighth()), Err(NoTempo::Nonsense), "{text}");
        }
        assert_eq!(tempo("1/4=4", eighth()), Ok(Some(15_000_000)));
        assert_eq!(tempo("1/4=3", eighth()), Err(NoTempo::TooSlow));
        assert_eq!(tempo("1/1=208", eighth()), Ok(Some(72_115)));
        assert_eq!(tempo("1/4=1000", eighth()), Ok(Some(60_000)));
        assert_eq!(tempo("99999", eighth()), Err(NoTempo::TooFast));
    }

    /// The table of ABC 2.1, 3.1.14: signatures by mode.
    #[test]
    fn one_signature_per_row_of_the_table() {
        let rows = [
            ("C# A#m G#Mix D#Dor E#Phr F#Lyd B#Loc", 7),
            ("A F#m EMix BDor C#Phr DLyd G#Loc", 3),
            ("G Em DMix ADor BPhr CLyd F#Loc", 1),
            ("C Am GMix DDor EPhr FLyd BLoc", 0),
            ("Bb Gm FMix CDor DPhr EbLyd ALoc", -2),
            ("Cb Abm GbMix DbDor EbPhr FbLyd BbLoc", -7),
        ];
        for (names, fifths) in rows {
            for name in names.split(' ') {
                let signature = key(name).and_then(|field| field.signature).expect(name);
                assert_eq!(signature.alter, alterations(fifths), "{name}");
            }
        }
        assert_eq!(alterations(2), [1, 0, 0, 1, 0, 0, 0]);
        assert_eq!(alterations(-3), [0, 0, -1, 0, 0, -1, -1]);
    }

    #[test]
    fn keys_with_accidentals_clefs_and_words() {
        let signature = |text: &str| key(text).and_then(|field| field.signature).expect(text);
        assert_eq!(signature("D Phr ^f").alter, signature("D exp _b _e ^f").alter);
        assert_eq!(signature("D =c").alter, signature("D mixolydian").alter);
        assert_eq!(signature("^f ^c").alter, alterations(2));
        assert_eq!(voice("2 name=\"Alto\" clef=treble-8 transpose=-2"), ("2".into(), Some(-14)));
        assert_eq!(voice("T1"), ("T1".into(), None));
        assert_eq!(signature("A minor"), signature("Am"));
        assert_eq!(signature("F#MIX").alter, alterations(5));
        assert_eq!(key("clef=bass octave=-1"), Some(KeyField { signature: None, transpose: Some(-12) }));
        assert_eq!(key("Am transpose=-2").and_then(|field| field.transpose), Some(-2));
        assert_eq!(key("G treble-8").and_then(|field| field.transpose), Some(-12));
        assert_eq!(key("none").and_then(|field| field.signature), Some(Signature::default()));
        // Found by fuzzing: more signs than any note has.
        assert_eq!(signature(&format!("C {}e", "^".repeat(300))).alter, [0, 0, 2, 0, 0, 0, 0]);
        assert_eq!(key("whatever"), None);
        assert_eq!(key("Gxyz"), None);
    }

    #[test]
    fn orders_of_parts() {
        let order = |text| part_order(text).map(|order| order.into_iter().collect::<String>());
        assert_eq!(order("AABA").as_deref(), Some("AABA"));
        assert_eq!(order("((AB)3.(CD)3)2").as_deref(), Some("ABABABCDCDCDABABABCDCDCD"));
        assert_eq!(order("A3B").as_deref(), Some("AAAB"));
        assert_eq!(order("(A"), None);
        assert_eq!(order("A)"), None);
        assert_eq!(order("A999999999999"), None);
        assert_eq!(part_order(&"(".repeat(limits::MAX_NESTING + 2)), None);
        assert_eq!(order("((((A9)9)9)9)9"), None);
    }
}
