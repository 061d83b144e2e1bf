//! A readable text piano score, for reading music in a terminal and in a comparison of two versions.
//!
//! Per bar a heading with its chord symbols, then a line for the melody and one for each hand. An entry is
//! `place:note(length)`: the place in felt beats from 1, the length in felt beats, both as fractions
//! (`2+1/2`). Notes are named as the engraved part has them, by key, chord and neighbours. Notes begun together
//! stand in brackets and share a length where they can: `1:[F3 C4 E4](2)`.
//! Places and lengths are rounded: to a twenty-fourth of a quarter where the melody keeps to that, to a
//! twelfth where it was played by hand. So septuplets are shown near their places, and two notes that differ
//! by less look alike. Velocities are left out.
//!
//! The same performance always gives the same text.

mod chord_chart;

use core::fmt::Write as _;
use core::ops::Range;

use figwort_engine::Hand;
use figwort_theory::{Moment, Span};

use crate::perform::{ChordMark, Performance, PlayedBar, PlayedNote};
use crate::score::Names;
use crate::timeline::Timeline;

pub use chord_chart::chart;

/// What written times are rounded to.
const FINE: i64 = Span::QUARTER.0 / 24;
/// What played times are rounded to.
const COARSE: i64 = Span::QUARTER.0 / 12;
/// How far from the fine grid a written time may lie: frames and ticks don't meet exactly.
const SLACK: i64 = 8;

/// The bars with these indices (not numbers) as text; indices past the end are left out.
pub fn score(performance: &Performance, bars: Range<usize>) -> String {
    let mut out = String::new();
    let grid = grid(performance);
    let names = Names::of(performance);
    let chords = Timeline::of(performance.chords.iter().map(|mark| (round(mark.at, grid), mark)));
    let hands =
        [(Hand::Melody, "Melody"), (Hand::Right, "Right"), (Hand::Left, "Left")].map(|(hand, name)| {
            let notes = performance.notes.iter().filter(|note| note.hand == hand);
            (name, Timeline::of(notes.map(|note| (round(note.at, grid), note))))
        });
    for (index, bar) in performance.bars.iter().enumerate() {
        if !bars.contains(&index) {
            continue;
        }
        heading(&mut out, performance, bar, index, &chords);
        for (name, notes) in &hands {
            let _ = writeln!(out, "  {name:<6} {}", hand_line(notes, bar, grid, &names).trim_end());
        }
    }
    out
}

fn heading(
    out: &mut String,
    performance: &Performance,
    bar: &PlayedBar,
    index: usize,
    chords: &Timeline<&ChordMark>,
) {
    let metre_is_new = index.checked_sub(1).and_then(|before| performance.bars.get(before));
    let metre_is_new = metre_is_new.is_none_or(|before| before.metre != bar.metre);
    if bar.number == 0 {
        out.push_str("Pick-up");
    } else {
        let _ = write!(out, "Bar {}", bar.number);
    }
    if metre_is_new {
        let _ = write!(out, " ({}/{})", bar.metre.numerator(), bar.metre.denominator());
    }
    let begun = chords.within(bar.start, bar.end());
    let starts_with = begun.first().is_some_and(|(at, _)| *at == bar.start);
    if let Some(mark) = chords.before(bar.start).filter(|_| !starts_with) {
        let _ = write!(out, "  ({})", mark.text);
    }
    for (at, mark) in begun {
        let _ = write!(out, "  {}:{}", place(bar, *at), mark.text);
    }
    out.push('\n');
}

/// A moment on the grid; the earlier of two that are equally near.
fn round(at: Moment, grid: i64) -> Moment {
    Moment((at.0 + (grid - 1) / 2).div_euclid(grid) * grid)
}

/// The fine grid where at least nine in ten melody notes begin on it, and so were written; else the coarse.
fn grid(performance: &Performance) -> i64 {
    let melody = || performance.notes.iter().filter(|note| note.hand == Hand::Melody);
    let written = melody().filter(|note| (round(note.at, FINE) - note.at).0.abs() <= SLACK).count();
    if written * 10 >= melody().count() * 9 { FINE } else { COARSE }
}

/// The entries of a hand in a bar, those that begin in it.
fn hand_line(hand: &Timeline<&PlayedNote>, bar: &PlayedBar, grid: i64, names: &Names) -> String {
    let begun = hand.within(bar.start, bar.end()).iter();
    let mut notes: Vec<(Moment, Span, &PlayedNote)> =
        begun.map(|(at, note)| (*at, length(note, grid), *note)).collect();
    notes.sort_by_key(|(at, length, note)| (*at, note.pitch, *length));
    let mut out = String::new();
    let mut rest = &notes[..];
    while let Some((at, _, _)) = rest.first() {
        let together = rest.iter().take_while(|note| note.0 == *at).count();
        let (group, after) = rest.split_at(together);
        let _ = write!(out, "{}:{} ", place(bar, *at), group_text(bar, group, names));
        rest = after;
    }
    if out.is_empty() {
        out.push('–');
    }
    out
}

/// A note's length on the grid, one step at least.
fn length(note: &PlayedNote, grid: i64) -> Span {
    (round(note.end(), grid) - round(note.at, grid)).max(Span(grid))
}

fn group_text(bar: &PlayedBar, group: &[(Moment, Span, &PlayedNote)], names: &Names) -> String {
    match group {
        [(_, length, note)] => format!("{}({})", names.name(note), beats(bar, *length)),
        [(_, first, _), ..] if group.iter().all(|(_, length, _)| length == first) => {
            let names: Vec<String> = group.iter().map(|(_, _, note)| names.name(note).to_string()).collect();
            format!("[{}]({})", names.join(" "), beats(bar, *first))
        }
        _ => {
            let names: Vec<String> = group
                .iter()
                .map(|(_, length, note)| format!("{}({})", names.name(note), beats(bar, *length)))
                .collect();
            format!("[{}]", names.join(" "))
        }
    }
}

/// The place of a moment: whole beats from 1 and a fraction. A pick-up ends with its metre's last beat.
fn place(bar: &PlayedBar, at: Moment) -> String {
    let missing = if bar.start == Moment::ZERO { bar.metre.bar() - bar.length } else { Span::ZERO };
    let from_start = at - bar.start + missing.max(Span::ZERO);
    let beat = bar.metre.beat().0.max(1);
    let whole = from_start.0.div_euclid(beat) + 1;
    match from_start.0.rem_euclid(beat) {
        0 => whole.to_string(),
        part => format!("{whole}+{}", fraction(part, beat)),
    }
}

/// A length in beats: `3`, `1/2`, `3/2`.
fn beats(bar: &PlayedBar, length: Span) -> String {
    fraction(length.0, bar.metre.beat().0.max(1))
}

/// A fraction in lowest terms; whole numbers without a denominator.
fn fraction(numerator: i64, denominator: i64) -> String {
    let (mut a, mut b) = (numerator.abs(), denominator);
    while b != 0 {
        (a, b) = (b, a % b);
    }
    let common = a.max(1);
    match denominator / common {
        1 => (numerator / common).to_string(),
        under => format!("{}/{under}", numerator / common),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;
    use figwort_theory::{ChordSymbol, Key, Metre, Mode};

    #[test]
    fn the_two_bars_read_as_written() {
        let wanted = "\
Pick-up (4/4)
  Melody 4:Bb4(1/2) 4+1/2:C5(1/2)
  Right  –
  Left   –
Bar 1  1:Ebmaj7
  Melody 1:Eb5(3) 4:D5(1)
  Right  2+1/2:D4(5/2) 3:G4(2)
  Left   1:Eb2(4) 1+1/2:Bb2(7/2) 2:G3(3)
Bar 2  1:Bb7b9/F
  Melody 1:C5(1/2) 1+1/2:D5(1/2) 2:Eb5(1/2) 2+1/2:F5(1/2) 3:D5(2)
  Right  1:[Cb4 Ab4](4)
  Left   1:[F2 D3](4)
";
        assert_eq!(score(&sample::two_bars(), 0..3), wanted);
        assert_eq!(score(&sample::two_bars(), 2..99), &wanted[wanted.find("Bar 2").unwrap()..]);
    }

    /// A frame early or late, and chord notes of different lengths.
    #[test]
    fn frames_don_t_show_and_lengths_stand_by_their_notes() {
        let mut performance = sample::two_bars();
        performance.notes = vec![
            sample::note(Hand::Right, 64, Moment(Moment::quarters(5).0 - 1), Span(Span::QUARTER.0 + 1), 60),
            sample::note(Hand::Right, 67, Moment(Moment::quarters(5).0 + 1), Span::EIGHTH, 60),
        ];
        let text = score(&performance, 2..3);
        assert!(text.contains("  Right  1:[E4(1) G4(1/2)]\n"), "{text}");
    }

    /// A melody some milliseconds off its places is shown on them.
    #[test]
    fn human_timing_is_read_as_meant() {
        let mut performance = sample::two_bars();
        for (index, note) in performance.notes.iter_mut().enumerate() {
            note.at += Span([500, -700, 600, -450, 800][index % 5]);
        }
        let text = score(&performance, 2..3);
        assert!(
            text.contains("  Melody 1:C5(1/2) 1+1/2:D5(1/2) 2:Eb5(1/2) 2+1/2:F5(1/2) 3:D5(2)\n"),
            "{text}"
        );
    }

    #[test]
    fn compound_beats_are_dotted() {
        let mut performance = sample::two_bars();
        performance.bars.truncate(1);
        performance.bars[0].metre = Metre::new(6, 8).unwrap();
        performance.bars[0].length = Metre::new(6, 8).unwrap().bar();
        performance.bars[0].number = 1;
        performance.notes = vec![
            sample::note(Hand::Left, 41, Moment::ZERO, Span::EIGHTH * 6, 60),
            sample::note(Hand::Left, 48, Moment(Span::EIGHTH.0 * 2), Span::EIGHTH, 60),
        ];
        let text = score(&performance, 0..1);
        assert!(text.contains("  Left   1:F2(2) 1+2/3:C3(1/3)\n"), "{text}");
    }

    /// The third of D7 is F sharp, in flat keys too.
    #[test]
    fn names_suit_key_and_chord() {
        let named = |fifths: i32, chord: &str, pitch: u8| {
            let mut performance = sample::two_bars();
            for bar in &mut performance.bars {
                bar.key = Key::from_fifths(fifths, Mode::Major);
            }
            for mark in &mut performance.chords {
                let symbol = ChordSymbol::parse(chord).unwrap();
                (mark.chord, mark.text) = (symbol.chord, chord.to_owned());
            }
            let at = performance.bars[1].start;
            performance.notes = vec![sample::note(Hand::Right, pitch, at, Span::QUARTER, 60)];
            let text = score(&performance, 1..2);
            let name = text.split("1:").last().and_then(|rest| rest.split('(').next());
            name.unwrap_or_default().to_owned()
        };
        assert_eq!(named(-3, "Eb", 63), "Eb4");
        assert_eq!(named(4, "E", 63), "D#4");
        assert_eq!(named(-3, "D7b9", 66), "F#4");
        assert_eq!(named(-3, "Abm6", 71), "Cb5");
        // What sounds as F4 is the leading tone in F sharp major.
        assert_eq!(named(6, "F#", 65), "E#4");
    }
}
