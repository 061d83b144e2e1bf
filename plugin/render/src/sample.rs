//! Small hand-made performances for the tests.

use figwort_engine::{Decision, Family, Hand, MelodyState, Texture};
use figwort_sheet::TempoChange;
use figwort_theory::{Chord, Key, Kind, Metre, Mode, Moment, Pitch, PitchClass, Span, Velocity};

use crate::perform::{ChordMark, PedalChange, Performance, PlayedBar, PlayedNote};
use crate::tempo::TempoMap;

/// A note at 60 quarters a minute and 48 kHz.
pub(crate) fn note(hand: Hand, key: u8, at: Moment, length: Span, velocity: i32) -> PlayedNote {
    let map = TempoMap::new(&[tempo()], 48_000);
    PlayedNote {
        hand,
        pitch: Pitch::new(key),
        velocity: Velocity::new(velocity),
        on: map.frame_at(at),
        off: map.frame_at(at + length),
        at,
        length,
    }
}

fn tempo() -> TempoChange {
    TempoChange { at: Moment::ZERO, micros_per_quarter: 1_000_000 }
}

fn decision(quarters: i64, melody: MelodyState, texture: Texture, parts: u8) -> Decision {
    Decision {
        at: Moment::quarters(quarters),
        chord: Some(Chord::new(PitchClass::new(3), Kind::MajorSeventh)),
        melody,
        texture,
        figure: None,
        parts,
        dynamics: 60,
    }
}

/// A pick-up of a quarter and two bars of 4/4 in E flat, 60 quarters a minute. In the first bar the melody
/// stands for three beats over a broken chord; in the second it moves over a held chord.
pub(crate) fn two_bars() -> Performance {
    let key = Key::from_fifths(-3, Mode::Major);
    let bar = |start: i64, length: i64, number| PlayedBar {
        start: Moment::quarters(start),
        length: Span::QUARTER * length,
        metre: Metre::FOUR_FOUR,
        key,
        number,
        section: start == 1,
    };
    let (eighth, quarter) = (Span::EIGHTH, Span::QUARTER);
    let melody = [
        (Moment::ZERO, eighth, 70),
        (Moment::ZERO + eighth, eighth, 72),
        (Moment::quarters(1), quarter * 3, 75),
        (Moment::quarters(4), quarter, 74),
        (Moment::quarters(5), eighth, 72),
        (Moment::quarters(5) + eighth, eighth, 74),
        (Moment::quarters(6), eighth, 75),
        (Moment::quarters(6) + eighth, eighth, 77),
        (Moment::quarters(7), quarter * 2, 74),
    ];
    let mut notes: Vec<PlayedNote> =
        melody.into_iter().map(|(at, length, key)| note(Hand::Melody, key, at, length, 80)).collect();
    notes.push(note(Hand::Left, 39, Moment::quarters(1), quarter * 4, 62));
    for (step, (hand, key)) in
        [(Hand::Left, 46), (Hand::Left, 55), (Hand::Right, 62), (Hand::Right, 67)].into_iter().enumerate()
    {
        let at = Moment::quarters(1) + eighth * (step as i64 + 1);
        notes.push(note(hand, key, at, Moment::quarters(5) - at, 56));
    }
    for (hand, key) in [(Hand::Left, 41), (Hand::Left, 50), (Hand::Right, 59), (Hand::Right, 68)] {
        notes.push(note(hand, key, Moment::quarters(5), quarter * 4, 60));
    }
    notes.sort_by_key(|note| (note.on, note.hand, note.pitch));
    let map = TempoMap::new(&[tempo()], 48_000);
    let pedal = [(1, true), (5, false), (6, true), (9, false)].map(|(quarters, down)| PedalChange {
        frame: map.frame_at(Moment::quarters(quarters)),
        at: Moment::quarters(quarters),
        down,
    });
    Performance {
        title: "Two bars".into(),
        composer: None,
        sample_rate: 48_000,
        notes,
        pedal: pedal.into(),
        decisions: vec![
            decision(0, MelodyState::Moving, Texture::Silent, 0),
            decision(1, MelodyState::Still, Texture::Figure(Family::BrokenChord), 5),
            decision(4, MelodyState::Moving, Texture::Block, 5),
            decision(5, MelodyState::Moving, Texture::Block, 4),
            decision(8, MelodyState::Still, Texture::Block, 4),
        ],
        bars: vec![bar(0, 1, 0), bar(1, 4, 1), bar(5, 4, 2)],
        chords: vec![
            ChordMark {
                at: Moment::quarters(1),
                text: "Ebmaj7".into(),
                chord: Some(Chord::new(PitchClass::new(3), Kind::MajorSeventh)),
            },
            ChordMark {
                at: Moment::quarters(5),
                text: "Bb7b9/F".into(),
                chord: Some(Chord::new(PitchClass::new(10), Kind::Dominant).over(PitchClass::new(5))),
            },
        ],
        headings: Vec::new(),
        tempos: vec![tempo()],
        end: Moment::quarters(9),
        end_frame: 9 * 48_000,
        hanging: 0,
    }
}
