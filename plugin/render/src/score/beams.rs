//! Beams: which notes hang together, by the metre.

use super::layout::{Frame, Symbol};

/// What a beam does at a note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Beam {
    Begin,
    Continue,
    End,
    ForwardHook,
    BackwardHook,
}

impl Beam {
    /// MusicXML's name.
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Begin => "begin",
            Self::Continue => "continue",
            Self::End => "end",
            Self::ForwardHook => "forward hook",
            Self::BackwardHook => "backward hook",
        }
    }
}

fn flags(symbol: &Symbol) -> u8 {
    match (symbol.chord, symbol.value) {
        (Some(_), Some(value)) => value.flags(),
        _ => 0,
    }
}

/// The beams of each symbol of a voice in a bar, the outermost first; none for flags and longer notes.
pub(super) fn beams(symbols: &[Symbol], frame: &Frame) -> Vec<Vec<Beam>> {
    let mut beams = vec![Vec::new(); symbols.len()];
    let group_of = |index: usize, wide: bool| {
        symbols.get(index).map(|symbol| frame.pulse.group(symbol.at + frame.shift, wide))
    };
    let mut first = 0;
    while first < symbols.len() {
        if symbols.get(first).is_none_or(|symbol| flags(symbol) == 0) {
            first += 1;
            continue;
        }
        // A wide group only for eighths alone: everything in its stretch, up to the rest that ends it.
        let run = |wide: bool| {
            let same = |index: &usize| {
                symbols.get(*index).is_some_and(|symbol| flags(symbol) > 0)
                    && group_of(*index, wide) == group_of(first, wide)
            };
            (first..symbols.len()).take_while(same).count()
        };
        let wide = run(true);
        let (start, length) = group_of(first, true).unwrap_or((0, 0));
        let is_plain = symbols.iter().all(|symbol| {
            let at = symbol.at + frame.shift;
            at < start || at >= start + length || flags(symbol) <= 1 && symbol.ratio.is_none()
        });
        let count = if is_plain && wide > 1 { wide } else { run(false) };
        if let (Some(symbols), Some(beams)) =
            (symbols.get(first..first + count), beams.get_mut(first..first + count))
        {
            join(symbols, beams, frame);
        }
        first += count.max(1);
    }
    beams
}

/// Beams over one group.
fn join(symbols: &[Symbol], beams: &mut [Vec<Beam>], frame: &Frame) {
    if symbols.len() < 2 {
        return;
    }
    let has = |index: Option<usize>, level: u8| {
        index.and_then(|index| symbols.get(index)).is_some_and(|symbol| flags(symbol) >= level)
    };
    for (index, (symbol, beams)) in symbols.iter().zip(beams).enumerate() {
        for level in 1..=flags(symbol) {
            let before = has(index.checked_sub(1), level);
            let after = has(Some(index + 1), level);
            beams.push(match (before, after) {
                (true, true) => Beam::Continue,
                (true, false) => Beam::End,
                (false, true) => Beam::Begin,
                (false, false) if index == 0 => Beam::ForwardHook,
                (false, false) if index + 1 == symbols.len() => Beam::BackwardHook,
                (false, false) => {
                    // The hook points to the note it makes up a longer value with.
                    let place = symbol.at + frame.shift;
                    let stronger = frame.pulse.rank(place) < frame.pulse.rank(place + symbol.length);
                    if stronger { Beam::ForwardHook } else { Beam::BackwardHook }
                }
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::layout::layout;
    use crate::score::pulse::Pulse;
    use crate::score::voices::{Chord, Line};
    use figwort_theory::{Metre, Pitch, TICKS_PER_QUARTER};

    /// A bar of lengths in sixteenths (negative for rests), as the first beams: `[` begins, `-` goes on, `]`
    /// ends, `.` none.
    fn first_beams(n: u8, d: u8, sixteenths: &[i64]) -> String {
        let metre = Metre::new(n, d).unwrap();
        let frame = Frame { start: 0, end: metre.bar().0, pulse: Pulse::new(metre), shift: 0 };
        let mut line: Line = Vec::new();
        let mut at = 0;
        for length in sixteenths {
            let end = at + length.abs() * TICKS_PER_QUARTER / 4;
            if *length > 0 {
                line.push(Chord { at, end, pitches: vec![Pitch::C4] });
            }
            at = end;
        }
        let beams = beams(&layout(&line, &frame), &frame);
        let sign = |beams: &Vec<Beam>| match beams.first() {
            None => '.',
            Some(Beam::Begin) => '[',
            Some(Beam::Continue) => '-',
            Some(_) => ']',
        };
        beams.iter().map(sign).collect()
    }

    /// Common practice, no source.
    #[test]
    fn beams_follow_the_metre() {
        assert_eq!(first_beams(4, 4, &[2; 8]), "[--][--]");
        assert_eq!(first_beams(4, 4, &[2, 1, 1, 2, 2, 2, 2, 2, 2]), "[-][][--]");
        assert_eq!(first_beams(3, 4, &[2; 6]), "[----]");
        assert_eq!(first_beams(3, 4, &[2, -2, 2, 2, 4]), "..[].");
        assert_eq!(first_beams(6, 8, &[2; 6]), "[-][-]");
        assert_eq!(first_beams(7, 8, &[2; 7]), "[][][-]");
        assert_eq!(first_beams(2, 4, &[1; 8]), "[--][--]");
        assert_eq!(first_beams(4, 4, &[4, 2, 2, 4, 4]), ".[]..");
    }

    #[test]
    fn short_notes_hook_to_their_beat() {
        let metre = Metre::new(2, 4).unwrap();
        let frame = Frame { start: 0, end: metre.bar().0, pulse: Pulse::new(metre), shift: 0 };
        let sixteenth = TICKS_PER_QUARTER / 4;
        let chord =
            |at: i64, end: i64| Chord { at: at * sixteenth, end: end * sixteenth, pitches: vec![Pitch::C4] };
        let line = vec![chord(0, 3), chord(3, 4), chord(4, 8)];
        assert_eq!(
            beams(&layout(&line, &frame), &frame)[..2],
            [vec![Beam::Begin], vec![Beam::End, Beam::BackwardHook]]
        );
    }
}
