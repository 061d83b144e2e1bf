//! A voice in a bar as symbols: notes and rests with written values, ties and tuplets, that fill the bar.

use figwort_theory::TICKS_PER_QUARTER;

use super::lengths::{Units, Value, pieces};
use super::pulse::Pulse;
use super::tuplets::{Tuplet, tuplets};
use super::voices::{Chord, Line};
use crate::perform::PlayedBar;

/// A note, chord or rest on the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Symbol {
    /// Ticks from the beginning of the bar.
    pub(super) at: i64,
    /// Sounding length in ticks.
    pub(super) length: i64,
    /// Written value; `None` for a rest of a whole bar, and for a length that no value has.
    pub(super) value: Option<Value>,
    /// The tuplet it is in: how many take the time of how many.
    pub(super) ratio: Option<(i64, i64)>,
    /// Whether a tuplet begins or ends with it.
    pub(super) tuplet_starts: bool,
    pub(super) tuplet_stops: bool,
    /// Which chord of the voice; `None` for a rest.
    pub(super) chord: Option<usize>,
    /// Whether it is tied to the symbol before or after it.
    pub(super) tied_from: bool,
    pub(super) tied_to: bool,
    /// Whether it takes its time without being shown.
    pub(super) hidden: bool,
    /// Whether it is the rest of a whole bar.
    pub(super) whole_bar: bool,
}

/// A bar with its metre and where in the metre it begins: a pick-up at the end of a full bar.
#[derive(Clone, Debug)]
pub(super) struct Frame {
    pub(super) start: i64,
    pub(super) end: i64,
    pub(super) pulse: Pulse,
    /// Place of the bar's beginning in the metre's bar.
    pub(super) shift: i64,
}

impl Frame {
    pub(super) fn new(bar: &PlayedBar, pick_up: bool) -> Self {
        let missing = if pick_up { (bar.metre.bar() - bar.length).0.max(0) } else { 0 };
        Self { start: bar.start.0, end: bar.end().0, pulse: Pulse::new(bar.metre), shift: missing }
    }

    /// Ticks in the metre's bar of a moment in ticks.
    fn place(&self, at: i64) -> i64 {
        at - self.start + self.shift
    }
}

/// A stretch of one chord or of silence, in places.
struct Stretch {
    from: i64,
    to: i64,
    chord: Option<usize>,
    tied_from: bool,
    tied_to: bool,
}

/// The voice's chords that sound in a bar, by their indices.
fn sounding(line: &Line, frame: &Frame) -> core::ops::Range<usize> {
    let first = line.partition_point(|chord| chord.end <= frame.start);
    let last = line.partition_point(|chord| chord.at < frame.end);
    first..last.max(first)
}

/// Whether the voice sounds in a bar.
pub(super) fn sounds(line: &Line, frame: &Frame) -> bool {
    !sounding(line, frame).is_empty()
}

fn stretches(line: &Line, frame: &Frame) -> Vec<Stretch> {
    let silence = |from, to| Stretch { from, to, chord: None, tied_from: false, tied_to: false };
    let mut stretches = Vec::new();
    let (mut now, end) = (frame.place(frame.start), frame.place(frame.end));
    for index in sounding(line, frame) {
        let Some(chord) = line.get(index) else { continue };
        let from = frame.place(chord.at.max(frame.start)).max(now);
        let to = frame.place(chord.end.min(frame.end));
        if from >= to {
            continue;
        }
        if from > now {
            stretches.push(silence(now, from));
        }
        let (tied_from, tied_to) = (chord.at < frame.start, chord.end > frame.end);
        stretches.push(Stretch { from, to, chord: Some(index), tied_from, tied_to });
        now = to;
    }
    if now < end {
        stretches.push(silence(now, end));
    }
    stretches
}

/// Moves what no tuplet can write to the nearest thirty-second, bar by bar, so that [`layout`] finds values for
/// all of it. Chords that have no time left are taken out; the number of chords changed is returned.
pub(super) fn tidy(line: &mut Line, frames: &[Frame]) -> usize {
    const STEP: i64 = TICKS_PER_QUARTER / 8;
    let mut changed = 0;
    for frame in frames {
        let boundaries = boundaries(&stretches(line, frame));
        let (from, to) = (frame.place(frame.start), frame.place(frame.end));
        if tuplets(&boundaries, &frame.pulse, from, to).is_some() {
            continue;
        }
        let snapped = |at: i64| {
            let inside = frame.start < at && at < frame.end;
            let place = (at - frame.start + STEP / 2).div_euclid(STEP) * STEP + frame.start;
            if inside { place.min(frame.end) } else { at }
        };
        for index in sounding(line, frame) {
            if let Some(chord) = line.get_mut(index) {
                let before = (chord.at, chord.end);
                (chord.at, chord.end) = (snapped(chord.at), snapped(chord.end));
                changed += usize::from(before != (chord.at, chord.end));
            }
        }
        line.retain(|chord: &Chord| chord.at < chord.end);
    }
    changed
}

fn boundaries(stretches: &[Stretch]) -> Vec<i64> {
    let mut boundaries: Vec<i64> = stretches.iter().map(|stretch| stretch.from).collect();
    boundaries.extend(stretches.last().map(|stretch| stretch.to));
    boundaries
}

/// The voice in a bar. Together the symbols last as long as the bar.
pub(super) fn layout(line: &Line, frame: &Frame) -> Vec<Symbol> {
    let (from, to) = (frame.place(frame.start), frame.place(frame.end));
    // A bar of another length than the metre's is no whole bar; its rest is counted out.
    if !sounds(line, frame) && to - from == frame.pulse.bar() {
        let whole = Symbol { whole_bar: true, ..symbol(0, to - from, None, None) };
        return vec![whole];
    }
    let stretches = stretches(line, frame);
    let tuplets = tuplets(&boundaries(&stretches), &frame.pulse, from, to).unwrap_or_default();
    let mut symbols = Vec::new();
    for stretch in &stretches {
        let first = symbols.len();
        for (from, to) in cuts(stretch, &tuplets) {
            let tuplet = tuplets.iter().find(|tuplet| tuplet.from <= from && to <= tuplet.to);
            add(&mut symbols, from, to, stretch.chord, tuplet, frame);
        }
        let last = symbols.len().saturating_sub(1);
        if stretch.chord.is_some() {
            for (index, symbol) in symbols.iter_mut().enumerate().skip(first) {
                symbol.tied_from = index > first || stretch.tied_from;
                symbol.tied_to = index < last || stretch.tied_to;
            }
        }
    }
    symbols
}

/// A stretch cut at the edges of tuplets.
fn cuts(stretch: &Stretch, tuplets: &[Tuplet]) -> Vec<(i64, i64)> {
    let edges = tuplets.iter().flat_map(|tuplet| [tuplet.from, tuplet.to]);
    let mut edges: Vec<i64> = edges.filter(|at| stretch.from < *at && *at < stretch.to).collect();
    edges.sort_unstable();
    edges.dedup();
    edges.push(stretch.to);
    let mut from = stretch.from;
    let mut cuts = Vec::new();
    for edge in edges {
        // Two tuplets that a note lasts through need not be two.
        cuts.push((from, edge));
        from = edge;
    }
    cuts
}

fn symbol(at: i64, length: i64, value: Option<Value>, chord: Option<usize>) -> Symbol {
    Symbol {
        at,
        length,
        value,
        ratio: None,
        tuplet_starts: false,
        tuplet_stops: false,
        chord,
        tied_from: false,
        tied_to: false,
        hidden: false,
        whole_bar: false,
    }
}

fn add(
    symbols: &mut Vec<Symbol>,
    from: i64,
    to: i64,
    chord: Option<usize>,
    tuplet: Option<&Tuplet>,
    frame: &Frame,
) {
    let before = symbols.len();
    match tuplet {
        None => {
            for (from, to, value) in pieces(&frame.pulse, from, to, chord.is_none()) {
                symbols.push(symbol(from - frame.shift, to - from, Some(value), chord));
            }
        }
        Some(tuplet) => {
            let written = |at: i64| tuplet.written(at - tuplet.from);
            let places = Units(tuplet.unit());
            for (start, end, value) in pieces(&places, written(from), written(to), chord.is_none()) {
                let at = tuplet.from + tuplet.sounding(start);
                let length = tuplet.sounding(end - start);
                symbols.push(Symbol {
                    ratio: Some((tuplet.actual, tuplet.normal)),
                    tuplet_starts: at == tuplet.from,
                    tuplet_stops: at + length == tuplet.to,
                    ..symbol(at - frame.shift, length, Some(value), chord)
                });
            }
        }
    }
    if symbols.len() == before && from < to {
        // A length that no value has: it takes its time all the same.
        symbols.push(symbol(from - frame.shift, to - from, None, chord));
    }
}

/// Hides the rests of the second voice of a stave before its first and after its last note, as the first voice fills
/// them: all but those that complete a beat.
pub(super) fn hide_outer_rests(symbols: &mut [Symbol], frame: &Frame) {
    const BEAT: u8 = 2;
    let is_note = |symbol: &Symbol| symbol.chord.is_some();
    let first = symbols.iter().position(is_note).unwrap_or(symbols.len());
    let last = symbols.iter().rposition(is_note).unwrap_or(0);
    for (index, symbol) in symbols.iter_mut().enumerate() {
        let edge = if index < first { symbol.at + symbol.length } else { symbol.at };
        let is_on_beat = frame.pulse.rank(edge + frame.shift) <= BEAT;
        if (index < first || index > last) && symbol.ratio.is_none() && is_on_beat {
            symbol.hidden = true;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use figwort_theory::{Metre, Pitch};
    use proptest::prelude::*;

    const Q: i64 = TICKS_PER_QUARTER;

    fn frame(n: u8, d: u8) -> Frame {
        let metre = Metre::new(n, d).unwrap();
        Frame { start: 0, end: metre.bar().0, pulse: Pulse::new(metre), shift: 0 }
    }

    fn line(chords: &[(i64, i64)]) -> Line {
        let chord = |(at, end): &(i64, i64)| Chord { at: *at, end: *end, pitches: vec![Pitch::C4] };
        chords.iter().map(chord).collect()
    }

    fn told(symbols: &[Symbol]) -> String {
        let text = |symbol: &Symbol| {
            let value = symbol.value.map_or("?".into(), |value| {
                let plain = if value.halvings == 0 {
                    "breve".into()
                } else {
                    (1 << (value.halvings - 1)).to_string()
                };
                format!("{plain}{}", if value.dotted { "." } else { "" })
            });
            let kind = if symbol.chord.is_some() { "" } else { "r" };
            let tie = if symbol.tied_to { "_" } else { "" };
            let three = symbol.ratio.map_or(String::new(), |(actual, _)| format!("t{actual}"));
            format!("{kind}{value}{three}{tie}")
        };
        symbols.iter().map(text).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn bars_are_filled() {
        let common = frame(4, 4);
        assert_eq!(told(&layout(&line(&[(Q, 4 * Q)]), &common)), "r4 4_ 2");
        assert_eq!(told(&layout(&line(&[(0, Q / 3), (Q / 3, Q)]), &common)), "8t3 4t3 r4 r2");
        assert_eq!(told(&layout(&line(&[(-Q, 5 * Q)]), &common)), "1_");
        assert_eq!(told(&layout(&line(&[(0, 4 * Q / 3)]), &common)), "4_ 8t3 r8t3 r8t3 r2");
        assert!(layout(&line(&[]), &common)[0].whole_bar);
    }

    #[test]
    fn a_second_voice_completes_its_beats() {
        let common = frame(4, 4);
        let mut symbols = layout(&line(&[(3 * Q / 2, 2 * Q), (2 * Q, 5 * Q / 2)]), &common);
        assert_eq!(told(&symbols), "r4 r8 8 8 r8 r4");
        hide_outer_rests(&mut symbols, &common);
        let hidden: Vec<bool> = symbols.iter().map(|symbol| symbol.hidden).collect();
        assert_eq!(hidden, [true, false, false, false, false, true]);
    }

    proptest! {
        /// Whatever sounds, on any written place and in any metre, the symbols fill the bar exactly.
        #[test]
        fn symbols_fill_the_bar(
            cuts in proptest::collection::vec(0..96i64, 0..12),
            metre in prop::sample::select(vec![(4, 4), (3, 4), (6, 8), (2, 2), (5, 4), (7, 8), (12, 8), (2, 4), (5, 8)]),
            grid in prop::sample::select(vec![4i64, 6, 8, 12]),
        ) {
            let frame = frame(metre.0, metre.1);
            let mut places: Vec<i64> = cuts.iter().map(|cut| cut * Q / grid).collect();
            places.sort_unstable();
            places.dedup();
            let chords: Vec<(i64, i64)> = places.windows(2).step_by(2).map(|pair| (pair[0], pair[1])).collect();
            let mut line = line(&chords);
            tidy(&mut line, std::slice::from_ref(&frame));
            let symbols = layout(&line, &frame);
            let mut now = 0;
            for symbol in &symbols {
                prop_assert_eq!(symbol.at, now);
                prop_assert!(symbol.length > 0);
                prop_assert!(symbol.value.is_some() || symbol.whole_bar, "{:?}", symbols);
                now += symbol.length;
            }
            prop_assert_eq!(now, frame.end);
            let starts = symbols.iter().filter(|symbol| symbol.tuplet_starts).count();
            let stops = symbols.iter().filter(|symbol| symbol.tuplet_stops).count();
            prop_assert_eq!(starts, stops);
        }
    }
}
