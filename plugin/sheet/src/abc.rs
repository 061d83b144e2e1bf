//! ABC 2.1 (<https://abcnotation.com/wiki/abc:standard:v2.1>): one tune of a file as a sheet.
//!
//! Stages, one module each: lines (`text`) → header (`header`, `field`) → bars as written (`body`, `scan`) →
//! chord symbols (`harmony`); then, as for every format, whether bars add up, playing order and sheet.
//!
//! Deliberately absent: lyrics, ornaments and grace notes (they take no time), dynamics, all voices but the
//! one that is chosen, `m:` macros, and every stylesheet directive but `propagate-accidentals`, `linebreak` and
//! `decoration`.

mod body;
mod definition;
mod field;
mod harmony;
mod header;
mod mnemonic;
mod scan;

mod text;
mod voice;

use std::borrow::Cow;

use crate::build::Heading;
use crate::warnings::Warnings;
use crate::{Choice, Sheet, SheetError, build, complete, limits, order};
use header::Header;
use text::Line;

/// A tune's place in its file.
struct Tune {
    /// Its `X:` number; 0 where it has none.
    number: usize,
    /// Index of its first line and of the line after its last.
    from: usize,
    to: usize,
    /// A line of music after the empty line that ended it.
    stray: Option<u32>,
}

/// Reads one tune: the one with that `X:` number, or the first.
///
/// # Errors
/// [`SheetError`] where there is no such tune, or it has no key or no music.
pub fn read(bytes: &[u8], tune: Option<usize>) -> Result<Sheet, SheetError> {
    read_chosen(bytes, Choice { tune, melody: None })
}

/// The same with the choice of a voice.
pub(crate) fn read_chosen(bytes: &[u8], choice: Choice<'_>) -> Result<Sheet, SheetError> {
    let tune = choice.tune;
    limits::check_size(bytes)?;
    let text = crate::text::decode(bytes);
    let lines = text::lines(&text);
    let tunes = split(&lines)?;
    let chosen = match tune {
        None => tunes.first().ok_or_else(|| no_tune(&lines))?,
        Some(wanted) => {
            tunes.iter().find(|tune| tune.number == wanted).ok_or_else(|| not_among(&tunes, wanted))?
        }
    };
    let mut warnings = Warnings::default();
    if tune.is_none() && tunes.len() > 1 {
        let text = format!("the file holds {} tunes; the first, X:{}, is read", tunes.len(), chosen.number);
        warnings.push(None, None, text);
    }
    let defaults = defaults(&lines, &tunes);
    read_tune(&lines, chosen, defaults, choice.melody, warnings)
}

/// The `X:` numbers (0 where there is none) and titles of the tunes in a file, in order; of a file with more
/// than [`limits::MAX_TUNES`] tunes or [`limits::MAX_BYTES`] bytes, none.
pub fn tunes(bytes: &[u8]) -> Vec<(usize, String)> {
    if limits::check_size(bytes).is_err() {
        return Vec::new();
    }
    let text = crate::text::decode(bytes);
    let lines = text::lines(&text);
    let tunes = split(&lines).unwrap_or_default();
    let title = |tune: &Tune| {
        let lines = lines.get(tune.from..tune.to).unwrap_or(&[]);
        let title = lines.iter().find_map(|line| line.text.strip_prefix("T:"));
        let plain = |title| mnemonic::plain(text::without_comment(title).trim()).chars().take(300).collect();
        title.map(plain).unwrap_or_default()
    };
    tunes.iter().map(|tune| (tune.number, title(tune))).collect()
}

/// Reads every tune of a file, in order.
///
/// # Errors
/// [`SheetError`] where the file as a whole cannot be read. Each tune has an outcome of its own.
pub fn read_all(bytes: &[u8]) -> Result<Vec<Result<Sheet, SheetError>>, SheetError> {
    limits::check_size(bytes)?;
    let text = crate::text::decode(bytes);
    let lines = text::lines(&text);
    let tunes = split(&lines)?;
    if tunes.is_empty() {
        return Err(no_tune(&lines));
    }
    let defaults = defaults(&lines, &tunes);
    Ok(tunes
        .iter()
        .map(|tune| read_tune(&lines, tune, defaults.clone(), None, Warnings::default()))
        .collect())
}

/// What the file header sets for all tunes: the fields before the first empty line, where no tune has begun.
fn defaults(lines: &[Line<'_>], tunes: &[Tune]) -> Header {
    let mut header = Header::default();
    let end = tunes.first().map_or(0, |tune| tune.from);
    let before = lines.get(..end).unwrap_or(&[]);
    let is_header = before.iter().any(|line| text::field(line.text).is_some() || line.text.starts_with("%%"));
    if is_header {
        header.read(before, &mut Warnings::default());
        header.title.clear();
        header.composer = None;
        header.has_key = false;
    }
    header
}

fn read_tune(
    lines: &[Line<'_>],
    tune: &Tune,
    mut header: Header,
    melody: Option<&str>,
    mut warnings: Warnings,
) -> Result<Sheet, SheetError> {
    let lines = lines.get(tune.from..tune.to).unwrap_or(&[]);
    let first_line = lines.first().map_or(1, |line| line.number);
    let used = header.read(lines, &mut warnings);
    if !header.has_key {
        return Err(SheetError::Abc {
            line: first_line,
            what: "the tune has no K: line".into(),
            hint: "end its header with a key, like K:G",
        });
    }
    if tune.number == 0 {
        warnings.push(None, Some(first_line), "the tune has no X: number");
    }
    if let Some(line) = tune.stray {
        let text = "music after an empty line is not part of the tune; remove the empty line if it should be";
        warnings.push(None, Some(line), text);
    }
    let music = lines.get(used..).unwrap_or(&[]);
    let voices = voice::all(&header, music);
    let wanted = melody.map(|wanted| voice::chosen(wanted, &voices)).transpose()?;
    let body::Written { mut bars, marks, problems, voice, others } = body::read(&header, wanted, music)?;
    if bars.is_empty() {
        return Err(SheetError::Abc {
            line: header.last_line,
            what: "the tune has no music after its K: line".into(),
            hint: "write its notes and bar lines below K:",
        });
    }
    for problem in problems {
        let bar = bars.get(problem.bar.min(bars.len() - 1)).map(|bar| bar.number);
        warnings.push(bar, Some(problem.line), problem.text);
    }
    if let (Some(voice), Some(line)) = (&voice, others) {
        warnings.push(None, Some(line), voice::only_one(&voices, voice));
        voice::borrow_symbols(&mut bars, voice, &voices, &header, music);
    }
    harmony::resolve(&mut bars, &mut warnings);
    complete::check(&bars, &mut warnings);
    let order = order::order(&bars, &marks, &header.parts, &mut warnings)?;
    let heading = Heading {
        key: header.signature.key,
        title: header.title,
        composer: header.composer,
        tempo: header.tempo,
        no_chords: "the tune has no chord symbols, so nothing accompanies its melody; write them before notes, like \
                    \"Am\"A2",
    };
    build::sheet(heading, &bars, &order, warnings)
}

/// The tunes of a file: each from its `X:` line to an empty line. A file without `X:` but with `K:` is one.
fn split(lines: &[Line<'_>]) -> Result<Vec<Tune>, SheetError> {
    let mut tunes: Vec<Tune> = Vec::new();
    let mut inside = false;
    for (index, line) in lines.iter().enumerate() {
        let line_number = line.number;
        if let Some(value) = line.text.strip_prefix("X:").filter(|value| !value.starts_with(['|', ':'])) {
            if tunes.len() >= limits::MAX_TUNES {
                return Err(SheetError::TooLarge { what: "tunes in one file", limit: limits::MAX_TUNES });
            }
            let digits: String = value.trim().chars().take_while(char::is_ascii_digit).take(18).collect();
            tunes.push(Tune { number: digits.parse().unwrap_or(0), from: index, to: index + 1, stray: None });
            inside = true;
        } else if line.text.trim().is_empty() {
            inside = false;
        } else if let Some(tune) = tunes.last_mut() {
            if inside {
                tune.to = index + 1;
            } else if tune.stray.is_none() && is_music(line.text) {
                tune.stray = Some(line_number);
            }
        }
    }
    if tunes.is_empty() && lines.iter().any(|line| line.text.starts_with("K:")) {
        let is_field = |line: &Line<'_>| text::field(line.text).is_some();
        let from = lines.iter().position(is_field).unwrap_or(0);
        tunes.push(Tune { number: 0, from, to: lines.len(), stray: None });
    }
    Ok(tunes)
}

/// Whether a line outside tunes looks like music: mostly notes and bar lines.
fn is_music(line: &str) -> bool {
    let signs = line.chars().filter(|c| !c.is_whitespace()).take(200);
    let (mut music, mut all, mut bars) = (0, 0, 0);
    for c in signs {
        all += 1;
        bars += usize::from(c == '|');
        music += usize::from(
            matches!(c, 'A'..='G' | 'a'..='g' | '|' | ':' | 'z' | '0'..='9' | '/' | '"' | '\'' | ','),
        );
    }
    bars > 0 && music * 10 >= all * 7
}

fn no_tune(lines: &[Line<'_>]) -> SheetError {
    SheetError::Abc {
        line: lines.len().min(1) as u32,
        what: "the file has no tune".into(),
        hint: "begin a tune with X:1, T:title and K:key lines",
    }
}

fn not_among(tunes: &[Tune], wanted: usize) -> SheetError {
    const SHOWN: usize = 20;
    let mut available: Vec<Cow<'_, str>> =
        tunes.iter().take(SHOWN).map(|tune| Cow::Owned(tune.number.to_string())).collect();
    if tunes.len() > SHOWN {
        available.push(Cow::Borrowed("…"));
    }
    SheetError::NoTune { wanted, count: tunes.len(), available: available.join(", ") }
}

#[cfg(test)]
mod tests;
