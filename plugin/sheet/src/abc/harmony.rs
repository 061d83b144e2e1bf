//! From quoted texts to chord changes inside bars.
//!
//! Two or more symbols over one note mean one of two things, which a tune as a whole tells apart:
//! - *alternatives*, when somewhere in the tune a later note of the bar could have carried the second symbol
//!   and does not (`"Em""C"edc "D"def`). In the collections that write so, the first symbols of all such notes
//!   make one sound progression and the second symbols another (basses G B-C C♯-D against D E-F♯); a player
//!   reads one of them, so the first is taken everywhere in the tune.
//! - *changes under a held note*, otherwise (`"E7""A"e4`): they share the note's length equally, if that gives
//!   each at least a felt beat; a faster change is not what a lead-sheet player reads, and the first is taken.
//!
//! Where a root is called H, which is B natural, B is B flat, as in German sheets.
//!
//! A blank symbol leaves the harmony as it is.

use figwort_theory::{ChordSymbol, Span};

use crate::symbol::{Harmony, harmony, is_german, known, with_german_b};
use crate::warnings::Warnings;
use crate::written::{Quoted, WrittenBar};

/// Fills in the symbols of all bars from their quoted texts.
pub(super) fn resolve(bars: &mut [WrittenBar], warnings: &mut Warnings) {
    let alternatives = bars.iter().any(|bar| {
        bar.quoted
            .iter()
            .enumerate()
            .any(|(index, quoted)| quoted.texts.len() > 1 && has_room(bar, index, quoted))
    });
    let all = || bars.iter().flat_map(|bar| &bar.quoted);
    let has = |is: fn(&str) -> bool| all().find(|quoted| quoted.texts.iter().any(|text| is(text)));
    if let Some(line) = has(is_german).map(|quoted| quoted.line) {
        let has_chords = has(|text| !is_german(text) && known(text).is_some()).is_some();
        if has_chords {
            let text = "a chord is called H, so B is taken for B flat and H for B natural";
            warnings.push(None, Some(line), text);
        }
        for text in bars.iter_mut().flat_map(|bar| &mut bar.quoted).flat_map(|quoted| &mut quoted.texts) {
            if has_chords {
                *text = with_german_b(text);
            } else if is_german(text) {
                // An H among no chords is a hold.
                text.clear();
            }
        }
    }
    for bar in bars {
        let mut symbols: Vec<(Span, ChordSymbol)> = Vec::new();
        for quoted in &bar.quoted {
            let texts = &quoted.texts;
            let count = texts.len() as i64;
            let spread = count > 1 && !alternatives && quoted.note.0 >= bar.metre.beat().0 * count;
            if count > 1 && !spread {
                let text = "two chord symbols stand over one note; the first is played, the others are taken as \
                            alternatives";
                warnings.push_once(Some(bar.number), Some(quoted.line), text);
            }
            let shown = if spread { texts.len() } else { 1 };
            for (index, text) in texts.iter().take(shown).enumerate() {
                let at = quoted.at + quoted.note.fraction(index as i64, count);
                if let Some(symbol) = symbol(text, bar.number, quoted.line, warnings) {
                    symbols.push((at, symbol));
                }
            }
        }
        // Notes of no length may stand before the second half of another.
        symbols.sort_by_key(|(at, _)| *at);
        bar.symbols = symbols;
    }
}

/// Whether a note of the bar after the one under these texts could have carried a symbol of its own.
fn has_room(bar: &WrittenBar, index: usize, quoted: &Quoted) -> bool {
    let next = bar.quoted.get(index + 1).map_or(bar.length, |next| next.at);
    quoted.at + quoted.note < next
}

fn symbol(text: &str, bar: u32, line: u32, warnings: &mut Warnings) -> Option<ChordSymbol> {
    match harmony(text) {
        Harmony::Symbol(symbol) => Some(symbol),
        Harmony::Stays => None,
        // Fingerings, dynamics and words are texts all the same.
        Harmony::Doubtful(None) if !text.trim().starts_with(|c| matches!(c, 'A'..='H')) => {
            let text = "quoted texts that are no chord symbols are passed over";
            warnings.push_once(Some(bar), Some(line), text);
            None
        }
        Harmony::Doubtful(readable) => {
            let done = match readable {
                Some(symbol) => format!("read as far as {symbol}"),
                None => "the chord before it continues".into(),
            };
            let text = text.trim();
            warnings.push(Some(bar), Some(line), format!("the chord symbol \"{text}\" is not known; {done}"));
            readable
        }
    }
}
