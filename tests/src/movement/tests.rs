//! Small sheets whose counts can be seen by eye.

use figwort_engine::{MelodyState, Settings};
use figwort_render::perform::PlayedNote;
use figwort_theory::{Span, Velocity};

use super::*;

const Q: i64 = Span::QUARTER.0;

/// Two bars of C and G: a whole note, then four quarters and the last bar's whole note.
fn sheet() -> Sheet {
    let abc = b"X:1\nT:Test\nM:4/4\nL:1/4\nQ:1/4=120\nK:C\n\"C\"e4|\"G\"d/2B/2d/2g/2 d B|\"C\"c4|]";
    let sheet = figwort_sheet::read(abc, None).unwrap();
    assert_eq!(sheet.warnings, []);
    sheet
}

fn performance(sheet: &Sheet, tones: &[(f64, f64, u8)]) -> Performance {
    let mut notes: Vec<PlayedNote> = vec![];
    let mut play = |hand, at: i64, length: i64, key: u8| {
        let on = (at * 24_000 / Q) as u64;
        notes.push(PlayedNote {
            hand,
            pitch: Pitch::new(key),
            velocity: Velocity::new(70),
            on,
            off: on + (length * 24_000 / Q) as u64,
            at: Moment(at),
            length: Span(length),
        });
    };
    for note in &sheet.melody {
        play(Hand::Melody, note.at.0, note.length.0, note.pitch.key());
    }
    for (at, long, key) in tones {
        play(Hand::Left, (at * Q as f64) as i64, (long * Q as f64) as i64, *key);
    }
    notes.sort_by_key(|note| (note.on, note.hand, note.pitch));
    let bars = sheet.bars.iter().map(|bar| figwort_render::perform::PlayedBar {
        start: bar.start,
        length: bar.length,
        metre: bar.metre,
        key: bar.key,
        number: bar.number,
        section: bar.section,
    });
    Performance {
        sample_rate: 48_000,
        bars: bars.collect(),
        tempos: sheet.tempos.clone(),
        end: sheet.end,
        notes,
        ..Performance::default()
    }
}

fn counted(tones: &[(f64, f64, u8)]) -> Measures {
    let sheet = sheet();
    measure(&sheet, &performance(&sheet, tones), &Settings::default(), &[])
}

#[test]
fn moving_under_the_held_note_and_sparing_the_moving_ones() {
    let tones = [(0.0, 4.0, 48), (1.0, 1.0, 52), (2.0, 1.0, 55), (4.0, 4.0, 43), (8.0, 4.0, 48)];
    let found = counted(&tones);
    // First beats: 1 + 1 + 1 attacks in 6 beats; held: 2 attacks in 6 beats.
    assert_eq!(found.ratio, Some((2.0 / 6.0) / (3.0 / 6.0)));
    assert_eq!(found.filled, Share { count: 1, of: 2 }, "the last note stands, too, without an ending");
    assert_eq!(found.on_busy_beats, Share { count: 0, of: 5 });
    assert_eq!((found.beats_off, found.unpaired, found.hanging), (0, 0, 0));
    assert_eq!(found.chord_tones, Share { count: 5, of: 5 });
}

#[test]
fn early_and_late_notes_are_put_on_their_places() {
    let found = counted(&[(0.02, 4.0, 48), (0.98, 1.0, 52), (4.05, 4.0, 43)]);
    assert_eq!(found.ratio, Some((1.0 / 6.0) / (2.0 / 6.0)));
    assert_eq!(found.without_chord, 0);
}

#[test]
fn a_bass_reached_by_step_and_what_is_undefined() {
    let found = counted(&[(0.0, 1.0, 48), (3.0, 1.0, 45), (4.0, 4.0, 43), (8.0, 4.0, 48)]);
    assert_eq!(found.bass_steps, Share { count: 1, of: 2 });
    assert_eq!(found.types.iter().sum::<usize>(), 1, "an incomplete neighbour");
    let lost = counted(&[(0.0, 1.0, 48), (3.0, 1.0, 46), (4.0, 4.0, 43)]);
    assert_eq!(lost.undefined.len(), 1);
    assert!(lost.undefined[0].starts_with("bar 1, beat 4.00: A#2 Left struck"), "{}", lost.undefined[0]);
}

#[test]
fn beats_with_fewer_than_three_notes_are_thin() {
    let full = |at: f64, long: f64| [48, 52, 55].map(|key| (at, long, key));
    // Full in the first bar, two notes of three end after two beats of the second; nothing in the third.
    let tones = [&full(0.0, 4.0)[..], &full(4.0, 2.0), &[(6.0, 2.0, 43)]].concat();
    let sheet = sheet();
    let mut played = performance(&sheet, &tones);
    let thin = |played: &Performance| measure(&sheet, played, &Settings::default(), &[]).thin;
    assert_eq!(thin(&played), Share { count: 6, of: 12 });
    // A pedal that is down from the second bar's second beat to the third bar.
    let pedal = |at: i64, down| figwort_render::perform::PedalChange {
        frame: (at * 24_000) as u64,
        at: Moment(at * Q),
        down,
    };
    played.pedal = vec![pedal(5, true), pedal(8, false)];
    assert_eq!(thin(&played), Share { count: 4, of: 12 });
}

#[test]
fn a_part_that_differs_from_its_sheet_is_noticed() {
    let sheet = sheet();
    let mut late = performance(&sheet, &[(0.0, 4.0, 48)]);
    for note in late.notes.iter_mut().filter(|note| note.hand == Hand::Melody).skip(1) {
        note.at += Span(Q);
    }
    let settings = Settings::default();
    assert!(measure(&sheet, &late, &settings, &[]).beats_off > 0);
    let mut short = performance(&sheet, &[(0.0, 4.0, 48)]);
    short.bars[0].length = Span(3 * Q);
    short.bars[1].start = Moment(3 * Q);
    assert!(measure(&sheet, &short, &settings, &[]).beats_off > 0);
}

#[test]
fn different_bars_in_sixteen() {
    let bars = "\"C\"c4|".repeat(16);
    let abc = format!("X:1\nT:Test\nM:4/4\nL:1/4\nK:C\n{bars}]");
    let sheet = figwort_sheet::read(abc.as_bytes(), None).unwrap();
    let tones: Vec<(f64, f64, u8)> = (0..16)
        .map(|n| (f64::from(n) * 4.0 + if n % 4 == 3 { 1.0 } else { 0.0 }, 1.0, 48 + n as u8 % 2))
        .collect();
    let found = measure(&sheet, &performance(&sheet, &tones), &Settings::default(), &[]);
    assert_eq!(found.varieties, [2.0]);
}

#[test]
fn a_sheet_is_struck_as_block_chords() {
    let take = struck::take(&sheet());
    let ons = |channel| {
        let is_on = |e: &&figwort_sheet::take::TakeEvent| {
            e.channel == channel && matches!(e.message, figwort_sheet::take::TakeMessage::NoteOn { .. })
        };
        take.events.iter().filter(is_on).count()
    };
    assert_eq!((ons(0), ons(1)), (8, 12));
    assert!(take.events.is_sorted_by_key(|event| event.at));
    let options = figwort_render::Options {
        settings: Settings { source: struck::SOURCE, ..Settings::default() },
        figures: figwort_preset::Library::factory().manner("unhurried").unwrap().figures,
        ..figwort_render::Options::default()
    };
    let live = figwort_render::follow(&take, &options);
    assert!(live.notes.iter().any(|note| note.hand == Hand::Left));
    assert!(live.decisions.iter().any(|decision| decision.melody == MelodyState::Still));
    let found = measure(&sheet(), &live, &options.settings, &options.figures);
    assert_eq!((found.beats_off, found.unpaired, found.hanging), (0, 0, 0));
}
