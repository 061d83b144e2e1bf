//! The promises of a sheet and of a take.
#![allow(unreachable_pub, missing_docs, reason = "used by tests and fuzz targets")]

use figwort_sheet::{Sheet, limits, take};
use figwort_theory::Moment;

/// What [`Sheet`] promises.
pub fn assert_sound(sheet: &Sheet) {
    let mut at = Moment::ZERO;
    for bar in &sheet.bars {
        assert_eq!(bar.start, at, "bars follow one another");
        assert!(bar.length.0 > 0);
        at = bar.end();
    }
    assert!(!sheet.bars.is_empty() && sheet.bars.len() <= limits::MAX_BARS);
    assert_eq!(sheet.end, at);
    assert!(sheet.bars[0].section);
    assert!(sheet.melody.windows(2).all(|pair| pair[0].end() <= pair[1].at), "one note at a time");
    assert!(sheet.melody.iter().all(|note| note.at >= Moment::ZERO && note.length.0 > 0 && note.end() <= at));
    assert!(sheet.chords.windows(2).all(|pair| pair[0].at < pair[1].at && pair[0].symbol != pair[1].symbol));
    assert!(sheet.chords.iter().all(|chord| chord.at >= Moment::ZERO && chord.at <= at));
    assert_eq!(sheet.tempos[0].at, Moment::ZERO);
    assert!(sheet.tempos.windows(2).all(|pair| pair[0].at < pair[1].at));
    assert!(sheet.tempos.iter().all(|tempo| (1..=16_777_215).contains(&tempo.micros_per_quarter)));
    assert!(sheet.warnings.len() <= limits::MAX_WARNINGS + 1);
    for index in 0..sheet.bars.len() {
        let bar = sheet.bars[index];
        assert_eq!(sheet.bar_at(bar.start), Some(index));
        assert!(sheet.place(index, bar.start).0 >= 0);
    }
}

/// What [`take::Take`] promises: sorted, and for each note-on one note-off.
pub fn assert_sound_take(take: &take::Take) {
    assert!(take.events.windows(2).all(|pair| pair[0].at <= pair[1].at));
    let mut sounding = [[0i32; 128]; 16];
    for event in &take.events {
        assert!(event.at <= take.end);
        match event.message {
            take::TakeMessage::NoteOn { pitch, .. } => {
                sounding[usize::from(event.channel)][pitch.index()] += 1
            }
            take::TakeMessage::NoteOff { pitch } => {
                let count = &mut sounding[usize::from(event.channel)][pitch.index()];
                *count -= 1;
                assert!(*count >= 0, "an off before its on");
            }
            _ => {}
        }
    }
    assert!(sounding.iter().flatten().all(|count| *count == 0), "a note that never ends");
    assert_eq!((take.tempos[0].at, take.metres[0].at), (Moment::ZERO, Moment::ZERO));
}
