//! Pages to be painted: four bars that might have been played.

use figwort::editor::score::{Bar, ChordMark, Note, Page, State, Stretch};
use figwort::editor::{PortList, View};
use figwort_engine::{Family, Hand, MelodyState, Snapshot, Texture};
use figwort_theory::{
    Chord, ChordSymbol, Key, Kind, Metre, Mode, Moment, Pitch, PitchClass, Span, TICKS_PER_QUARTER,
};

const Q: i64 = TICKS_PER_QUARTER;

/// Quarters, loosely played: some ticks early or late.
fn at(quarters: f64, hand: usize) -> Moment {
    let loose = ((quarters * 37.0 + hand as f64 * 11.0).sin() * 260.0) as i64;
    Moment((quarters * Q as f64) as i64 + loose)
}

fn line(notes: &mut Vec<Note>, hand: Hand, from: f64, line: &[(u8, f64)]) {
    let mut place = from;
    for &(key, length) in line {
        if key > 0 {
            notes.push(Note {
                hand,
                pitch: Pitch::new(key),
                at: at(place, hand.index()),
                end: Some(at(place + length * 0.93, hand.index())),
                state: State::Played,
            });
        }
        place += length;
    }
}

fn page() -> Page {
    let metre = Metre::FOUR_FOUR;
    let bars = (0..6).map(|n| Bar { start: Moment(n * 4 * Q), length: metre.bar(), metre }).collect();
    let mut notes = Vec::new();
    line(&mut notes, Hand::Melody, 0.0, &[(76, 1.0), (74, 0.5), (72, 0.5), (69, 2.0)]);
    line(&mut notes, Hand::Melody, 4.0, &[(0, 1.0), (71, 0.5), (72, 0.5), (74, 0.75), (78, 0.25), (76, 1.0)]);
    line(&mut notes, Hand::Melody, 8.0, &[(74, 3.0), (71, 1.0)]);
    line(&mut notes, Hand::Melody, 12.0, &[(68, 1.0), (71, 1.0), (76, 1.5)]);
    for (bar, bass, chord) in
        [(0.0, 45, [60, 64, 67]), (4.0, 50, [60, 66, 69]), (8.0, 43, [59, 62, 66]), (12.0, 40, [59, 62, 68])]
    {
        line(&mut notes, Hand::Left, bar, &[(bass, 1.0), (bass + 7, 1.0), (bass + 12, 2.0)]);
        for key in chord {
            line(&mut notes, Hand::Right, bar, &[(key, 2.0)]);
        }
        let [low, middle, high] = chord;
        line(&mut notes, Hand::Right, bar + 2.0, &[(low, 0.5), (middle, 0.5), (high, 0.5), (middle, 0.5)]);
    }
    let chord = |quarters: i64, root: i32, kind: Kind| ChordMark {
        at: Moment(quarters * Q),
        symbol: ChordSymbol::of(Chord::new(PitchClass::new(root), kind), Key::from_fifths(1, Mode::Major)),
        state: State::Played,
    };
    let chords = vec![
        chord(0, 9, Kind::MinorSeventh),
        chord(4, 2, Kind::Dominant),
        chord(8, 7, Kind::MajorSeventh),
        chord(12, 4, Kind::Dominant),
    ];
    Page {
        bars,
        present: 3,
        first_number: Some(5),
        notes,
        chords,
        stretches: Vec::new(),
        now: Moment(Q * 31 / 2),
        key: Key::from_fifths(1, Mode::Major),
        signed: false,
        wait: Span(Q),
    }
}

/// In the fourth bar of playing freely.
pub(crate) fn live() -> View {
    let mut page = page();
    page.notes.retain(|note| note.at < page.now);
    for note in &mut page.notes {
        if note.end.is_some_and(|end| end > page.now) {
            note.end = None;
        }
    }
    let melody: Vec<Note> = page.notes.iter().filter(|n| n.hand == Hand::Melody).copied().collect();
    for (index, note) in melody.iter().enumerate() {
        page.stretches.push(Stretch {
            from: note.at,
            until: melody.get(index + 1).map(|next| next.at),
            chance: Some([0.2, 0.1, 0.15, 0.72, 0.1, 0.2, 0.3, 0.1, 0.5, 0.9][index % 10]),
        });
    }
    let snapshot = Snapshot {
        chord: Some(Chord::new(PitchClass::new(4), Kind::Dominant)),
        melody: Some(Pitch::new(76)),
        melody_state: MelodyState::Still,
        stillness: Span(Q * 3 / 2),
        long_note_chance: 0.72,
        texture: Texture::Figure(Family::BrokenChord),
        figure: Some(1),
        parts: 4,
        sounding: [1 << 76, 1 << 68, 1 << 52],
        pedal: true,
        tempo: 96.0,
        playing: true,
        key: page.key,
        ..Snapshot::default()
    };
    let mut view = View::of(&snapshot, 1.0, |_| Some("rocking".into()));
    view.page = page;
    view.alone = true;
    view.running = true;
    view.metre = Some(Metre::FOUR_FOUR);
    view.ports = Some(PortList::default());
    view
}

/// With a sheet: what comes is known.
pub(crate) fn planned() -> View {
    let mut view = live();
    let mut page = page();
    page.present = 1;
    page.now = Moment(Q * 6);
    page.signed = true;
    for note in &mut page.notes {
        if note.at > page.now {
            note.state = State::Planned;
        } else if note.end.is_some_and(|end| end > page.now) {
            note.end = None;
        }
    }
    for chord in &mut page.chords {
        if chord.at > page.now {
            chord.state = State::Planned;
        }
    }
    view.page = page;
    view
}
