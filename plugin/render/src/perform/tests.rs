//! What the offline host promises, whatever the engine plays: transport, cuts, pairing, bars.

use super::*;
use crate::midi;
use figwort_sheet::take::{MetreChange, TakeEvent};
use figwort_sheet::{Bar, ChordChange, Note};
use figwort_theory::{ChordSymbol, Kind, PitchClass};

fn tempo(quarters: i64, micros: u32) -> TempoChange {
    TempoChange { at: Moment::quarters(quarters), micros_per_quarter: micros }
}

fn symbol(root: i32, kind: Kind) -> ChordSymbol {
    ChordSymbol::of(Chord::new(PitchClass::new(root), kind), Key::default())
}

/// Four bars of 4/4 in C with a chord in each, a melody of long and short notes, a tempo change in bar 3.
fn sheet() -> Sheet {
    let bars = (0..4)
        .map(|index| Bar {
            start: Moment::quarters(4 * index),
            length: Span::WHOLE,
            metre: Metre::FOUR_FOUR,
            key: Key::default(),
            number: index as u32 + 1,
            section: index == 0,
        })
        .collect();
    let chords =
        [(0, 0, Kind::Major), (4, 9, Kind::MinorSeventh), (8, 7, Kind::Dominant), (12, 0, Kind::Major)]
            .map(|(at, root, kind)| ChordChange { at: Moment::quarters(at), symbol: symbol(root, kind) });
    let melody =
        [(0, 4, 76), (4, 1, 72), (5, 1, 74), (6, 2, 76), (8, 4, 77), (12, 4, 76)].map(|(at, length, key)| {
            Note {
                at: Moment::quarters(at),
                length: Span::QUARTER * length,
                pitch: Pitch::new(key),
                velocity: Velocity::new(80),
            }
        });
    Sheet {
        title: "Four bars".into(),
        composer: None,
        key: Key::default(),
        tempos: vec![tempo(0, 600_000), tempo(9, 450_000)],
        bars,
        chords: chords.into(),
        melody: melody.into(),
        end: Moment::quarters(16),
        page: figwort_sheet::Page::AsPlayed,
        warnings: Vec::new(),
    }
}

/// The same music as a player gives it: melody on channel 0, chords on channel 1, some of it early or late.
fn take() -> Take {
    let sheet = sheet();
    let mut events = Vec::new();
    let mut key = |channel, at: Moment, length: Span, pitch, velocity| {
        let velocity = Velocity::new(velocity);
        events.push(TakeEvent { at, channel, message: TakeMessage::NoteOn { pitch, velocity } });
        events.push(TakeEvent { at: at + length, channel, message: TakeMessage::NoteOff { pitch } });
    };
    for note in &sheet.melody {
        key(0, note.at + Span(311), note.length - Span(900), note.pitch, 84);
    }
    for change in &sheet.chords {
        let classes = change.symbol.chord.unwrap().tones();
        for (order, class) in classes.iter().enumerate() {
            let pitch = Pitch::new(48).next_of_class(class).unwrap();
            key(1, change.at + Span(137 * order as i64), Span::QUARTER * 3, pitch, 60);
        }
    }
    events.sort_by_key(|event| (event.at, !matches!(event.message, TakeMessage::NoteOff { .. })));
    Take {
        events,
        tempos: sheet.tempos,
        metres: vec![MetreChange { at: Moment::ZERO, metre: Metre::FOUR_FOUR }],
        key: None,
        end: Moment::quarters(16),
        warnings: Vec::new(),
    }
}

fn options(block: u32) -> Options {
    let settings = Settings { source: Source::Channels { melody: 0, harmony: 1 }, ..Settings::default() };
    Options { block, settings, ..Options::default() }
}

#[test]
fn following_does_not_depend_on_the_block_size() {
    let take = take();
    let reference = follow(&take, &options(64));
    let bytes = midi::write(&reference);
    for block in [1, 333, 8192] {
        let other = follow(&take, &options(block));
        assert_eq!(midi::write(&other), bytes, "block {block}");
        assert_eq!(other.notes, reference.notes, "block {block}");
    }
}

#[test]
fn arranging_does_not_depend_on_the_block_size() {
    let sheet = sheet();
    let reference = arrange(&sheet, &options(64));
    for block in [1, 77, 8192] {
        let other = arrange(&sheet, &options(block));
        assert_eq!(other.notes, reference.notes, "block {block}");
        assert_eq!(midi::write(&other), midi::write(&reference), "block {block}");
    }
}

/// What the sheet knows is in the performance as it is written.
#[test]
fn an_arrangement_keeps_the_sheet() {
    let performance = arrange(&sheet(), &options(64));
    assert_eq!(performance.title, "Four bars");
    assert_eq!(performance.bars.len(), 4);
    let texts: Vec<_> = performance.chords.iter().map(|mark| mark.text.as_str()).collect();
    assert_eq!(texts, ["C", "Am7", "G7", "C"]);
    assert!(performance.end >= Moment::quarters(16));
    assert_eq!(performance.hanging, 0);
    // 9 quarters of 0.6 s, 7 of 0.45 s: 8.55 s.
    assert!(performance.end_frame >= 410_400);
}

/// The last change of harmony is the final chord if it is near the end, else the last bar begins it.
#[test]
fn the_final_chord_is_at_the_end() {
    let mut sheet = sheet();
    assert_eq!(finish_at(&sheet), Some(Moment::quarters(12)));
    sheet.chords.truncate(3);
    assert_eq!(finish_at(&sheet), Some(Moment::quarters(8)));
    sheet.chords.truncate(1);
    assert_eq!(finish_at(&sheet), Some(Moment::quarters(12)));
    sheet.chords.clear();
    assert_eq!(finish_at(&sheet), None);
}

/// Metres of a take become bars; one that changes inside a bar cuts it.
#[test]
fn a_take_s_metres_make_its_bars() {
    let mut take = take();
    take.metres = vec![
        MetreChange { at: Moment::ZERO, metre: Metre::FOUR_FOUR },
        MetreChange { at: Moment::quarters(6), metre: Metre::new(3, 4).unwrap() },
    ];
    let bars = bars_of(&take, Moment::quarters(13));
    let starts: Vec<i64> = bars.iter().map(|bar| bar.start.0 / Span::QUARTER.0).collect();
    assert_eq!(starts, [0, 4, 6, 9, 12]);
    let lengths: Vec<i64> = bars.iter().map(|bar| bar.length.0 / Span::QUARTER.0).collect();
    assert_eq!(lengths, [4, 2, 3, 3, 3]);
    assert!(bars.windows(2).all(|pair| pair[0].end() == pair[1].start));
}

#[test]
fn symbols_are_written_on_the_beat() {
    let bars = bars_of(&take(), Moment::quarters(16));
    let mark = |ticks: i64, text: &str| ChordMark { at: Moment(ticks), text: text.into(), chord: None };
    let quarter = Span::QUARTER.0;
    let mut chords = vec![
        mark(900, "early in"),
        mark(2 * quarter - 1_500, "a little before 3"),
        mark(2 * quarter + 700, "corrected at 3"),
        mark(3 * quarter + quarter / 2, "between"),
        mark(4 * quarter - 2_000, "before the next bar"),
    ];
    write_on_the_beat(&mut chords, &bars);
    let found: Vec<_> = chords.iter().map(|mark| (mark.at.0, mark.text.as_str())).collect();
    let wanted = [
        (0, "early in"),
        (2 * quarter, "corrected at 3"),
        (3 * quarter + quarter / 2, "between"),
        (4 * quarter, "before the next bar"),
    ];
    assert_eq!(found, wanted);
}

#[test]
fn nothing_at_all_is_fine() {
    let empty = Sheet {
        title: String::new(),
        composer: None,
        key: Key::default(),
        tempos: Vec::new(),
        bars: Vec::new(),
        chords: Vec::new(),
        melody: Vec::new(),
        end: Moment::ZERO,
        page: figwort_sheet::Page::AsPlayed,
        warnings: Vec::new(),
    };
    let performance = arrange(&empty, &options(0));
    assert!(performance.notes.is_empty() && performance.end == Moment::ZERO);
    let take = Take {
        events: Vec::new(),
        tempos: Vec::new(),
        metres: Vec::new(),
        key: None,
        end: Moment::ZERO,
        warnings: Vec::new(),
    };
    assert_eq!(follow(&take, &options(1)).notes.len(), 0);
}
