//! A stave's bar with everything decided: symbols of its voices, their beams, the accidentals shown.

use super::accidentals::{Accidental, Accidentals};
use super::beams::{Beam, beams};
use super::layout::{Frame, Symbol, hide_outer_rests, layout, sounds};
use super::page::Voice;

/// A voice's bar.
pub(super) struct VoiceBar<'a> {
    pub(super) voice: &'a Voice,
    pub(super) symbols: Vec<Symbol>,
    /// For each symbol, its beams, the outermost first.
    pub(super) beams: Vec<Vec<Beam>>,
    /// For each symbol, for each of its notes, what stands before it.
    pub(super) accidentals: Vec<Vec<Option<Accidental>>>,
    /// Whether it is the lower of two voices; `None` where it is alone.
    pub(super) is_lower: Option<bool>,
}

/// The bars of a stave's voices, the second only where both sound.
pub(super) fn stave_bar<'a>(
    voices: &[&'a Voice],
    frame: &Frame,
    accidentals: &mut Accidentals,
) -> Vec<VoiceBar<'a>> {
    let mut present: Vec<(usize, &Voice)> = voices.iter().copied().enumerate().collect();
    present.retain(|(_, voice)| sounds(&voice.line, frame));
    if present.is_empty() {
        present.extend(voices.first().map(|voice| (0, *voice)));
    }
    let is_shared = present.len() > 1;
    let mut bars: Vec<VoiceBar<'a>> = present
        .into_iter()
        .map(|(index, voice)| {
            let mut symbols = layout(&voice.line, frame);
            if is_shared && index > 0 {
                hide_outer_rests(&mut symbols, frame);
            }
            let beams = beams(&symbols, frame);
            let accidentals = vec![Vec::new(); symbols.len()];
            VoiceBar { voice, symbols, beams, accidentals, is_lower: is_shared.then_some(index > 0) }
        })
        .collect();
    decide(&mut bars, accidentals);
    bars
}

/// Accidentals by time, whichever voice the note is in.
fn decide(bars: &mut [VoiceBar<'_>], accidentals: &mut Accidentals) {
    let mut order: Vec<(i64, usize, usize)> = bars
        .iter()
        .enumerate()
        .flat_map(|(voice, bar)| {
            bar.symbols.iter().enumerate().map(move |(index, symbol)| (symbol.at, voice, index))
        })
        .collect();
    order.sort_unstable();
    for (_, voice, index) in order {
        let Some(bar) = bars.get_mut(voice) else { continue };
        let Some(symbol) = bar.symbols.get(index) else { continue };
        let names = symbol.chord.and_then(|chord| bar.voice.names.get(chord));
        let shown =
            names.into_iter().flatten().map(|name| accidentals.note(*name, symbol.tied_from)).collect();
        if let Some(place) = bar.accidentals.get_mut(index) {
            *place = shown;
        }
    }
}
