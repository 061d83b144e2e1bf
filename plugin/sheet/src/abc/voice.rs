//! The voices of a tune, the one that is chosen, and the chord symbols of another.

use figwort_theory::{Moment, Span};

use super::body;
use super::header::Header;
use super::text::{self, Line};
use crate::symbol::{Harmony, harmony};
use crate::written::{Quoted, WrittenBar};
use crate::{SheetError, choice};

/// Most voices told apart.
const MAX_VOICES: usize = 64;
/// In how many other voices chord symbols are looked for.
const MAX_SOUGHT: usize = 8;

/// A voice of a tune.
pub(super) struct Voice {
    /// Its `V:` id.
    id: String,
    /// Its `name=`; empty without.
    name: String,
    /// Whether texts are quoted in its music.
    quotes: bool,
}

impl Voice {
    fn new((id, name): (String, String)) -> Self {
        Self { id, name, quotes: false }
    }
}

/// The voices: those that the header names, then others as they come. Music before any `V:` is voice 1's.
pub(super) fn all(header: &Header, music: &[Line<'_>]) -> Vec<Voice> {
    let mut voices: Vec<Voice> = header.voice_names.iter().cloned().map(Voice::new).collect();
    let mut blocks = text::Blocks::default();
    let mut here: Option<String> = None;
    for line in music {
        if blocks.hold(line.text) {
            continue;
        }
        let line = text::without_comment(line.text);
        match text::field_in_body(line) {
            Some(('V', value)) => here = Some(enter(&mut voices, value)),
            // Symbols under the notes of the line before.
            Some(('s', value)) => sound(&mut voices, here.as_deref(), value),
            Some(_) => {}
            None => {
                let mut pieces = line.split("[V:");
                sound(&mut voices, here.as_deref(), pieces.next().unwrap_or_default());
                for piece in pieces {
                    let (value, music) = piece.split_once(']').unwrap_or((piece, ""));
                    here = Some(enter(&mut voices, value));
                    sound(&mut voices, here.as_deref(), music);
                }
            }
        }
    }
    if voices.is_empty() {
        voices.push(Voice::new(("1".into(), String::new())));
    }
    voices
}

/// Comes to the voice of a `V:` field; its id.
fn enter(voices: &mut Vec<Voice>, value: &str) -> String {
    let (id, name) = named(value);
    if let Some(known) = voices.iter_mut().find(|voice| voice.id == id) {
        if known.name.is_empty() {
            known.name = name;
        }
    } else if voices.len() < MAX_VOICES {
        voices.push(Voice::new((id.clone(), name)));
    }
    id
}

/// Comes to music of a voice.
fn sound(voices: &mut Vec<Voice>, here: Option<&str>, music: &str) {
    let id = here.unwrap_or("1");
    let has_notes = |c| matches!(c, 'A'..='G' | 'a'..='g' | 'x' | 'z' | 'X' | 'Z');
    if here.is_none() && music.contains(has_notes) && voices.iter().all(|voice| voice.id != id) {
        voices.insert(0, Voice::new((id.into(), String::new())));
    }
    if music.contains('"')
        && let Some(voice) = voices.iter_mut().find(|voice| voice.id == id)
    {
        voice.quotes = true;
    }
}

/// The id of the voice that is wanted, by its `V:` id, its `name=` or its number in the order of the tune.
///
/// # Errors
/// [`SheetError::NoSuchLine`] where there is none.
pub(super) fn chosen(wanted: &str, voices: &[Voice]) -> Result<String, SheetError> {
    let lines: Vec<_> = voices.iter().map(|voice| (voice.id.clone(), voice.name.clone())).collect();
    let place = choice::line("voice", wanted, &lines)?;
    Ok(lines.into_iter().nth(place).map(|(id, _)| id).unwrap_or_default())
}

/// That one voice of several is read, and which.
pub(super) fn only_one(voices: &[Voice], id: &str) -> String {
    let name = voices.iter().find(|voice| voice.id == id && !voice.name.is_empty());
    let name = name.map_or(id, |voice| voice.name.as_str());
    let name =
        if name.chars().all(|c| c.is_ascii_digit()) { format!("voice {name}") } else { name.to_owned() };
    let count = voices.len().max(2);
    format!("the tune has {count} voices; {name} is read; choose another with --melody on the command line")
}

/// Gives bars without any chord symbol those of the first other voice that has some: bar by bar where it has as many
/// and most of them are as long, else by time.
pub(super) fn borrow_symbols(
    bars: &mut [WrittenBar],
    id: &str,
    voices: &[Voice],
    header: &Header,
    music: &[Line<'_>],
) {
    if has_symbols(bars) {
        return;
    }
    let others = voices.iter().filter(|voice| voice.quotes && voice.id != id).take(MAX_SOUGHT);
    let mut read = others.filter_map(|voice| body::read(header, Some(voice.id.clone()), music).ok());
    let Some(other) = read.find(|written| has_symbols(&written.bars)).map(|written| written.bars) else {
        return;
    };
    let same = bars.iter().zip(&other).filter(|(bar, from)| bar.length == from.length).count();
    let alike = other.len() == bars.len() && same * 2 > bars.len();
    let starts = starts(bars);
    let mut start = Moment::ZERO;
    for bar in bars.iter_mut() {
        bar.quoted.clear();
    }
    for (index, from) in other.into_iter().enumerate() {
        for quoted in from.quoted {
            let place = match alike {
                true => Some((index, quoted.at)),
                false => place(&starts, start + quoted.at),
            };
            let bar = place.and_then(|(index, at)| Some((bars.get_mut(index)?, at)));
            if let Some((bar, at)) = bar.filter(|(bar, at)| *at < bar.length) {
                // Its note there may outlast the bar here.
                let note = quoted.note.min(bar.length - at);
                bar.quoted.push(Quoted { at, note, ..quoted });
            }
        }
        start += from.length;
    }
}

/// Whether any quoted text is a chord symbol, as far as it is known.
fn has_symbols(bars: &[WrittenBar]) -> bool {
    let mut texts = bars.iter().flat_map(|bar| &bar.quoted).flat_map(|quoted| &quoted.texts);
    texts.any(|text| matches!(harmony(text), Harmony::Symbol(_) | Harmony::Doubtful(Some(_))))
}

/// Where each bar begins on the page.
fn starts(bars: &[WrittenBar]) -> Vec<Moment> {
    let next = |at: &mut Moment, bar: &WrittenBar| {
        let start = *at;
        *at += bar.length;
        Some(start)
    };
    bars.iter().scan(Moment::ZERO, next).collect()
}

/// The bar that a moment lies in, and where in it.
fn place(starts: &[Moment], at: Moment) -> Option<(usize, Span)> {
    let index = starts.partition_point(|start| *start <= at).checked_sub(1)?;
    Some((index, at - *starts.get(index)?))
}

/// The id and name of a `V:` field.
pub(super) fn named(value: &str) -> (String, String) {
    let id = value.split_whitespace().next().unwrap_or("").chars().take(40).collect();
    let name = ["name=", "nm="].iter().find_map(|key| {
        let rest = value.split_once(key)?.1;
        match rest.strip_prefix('"') {
            Some(quoted) => quoted.split('"').next(),
            None => rest.split_whitespace().next(),
        }
    });
    (id, name.unwrap_or_default().chars().take(40).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_and_names() {
        assert_eq!(named("T1 clef=treble name=\"Tenor solo\" snm=T"), ("T1".into(), "Tenor solo".into()));
        assert_eq!(named("2 nm=Alt"), ("2".into(), "Alt".into()));
        assert_eq!(named(""), (String::new(), String::new()));
    }
}
