//! A sheet as a player would play it live: the melody on one channel, block chords on another.
//!
//! Every key goes down on its moment and every chord is held until the next one, the last one until its bar is
//! over, also where the tune's last bar is short for a pick-up; hands that are early, late or wrong are
//! simulated elsewhere (the engine's tests of hearing chords).

use figwort_engine::Source;
use figwort_sheet::take::{MetreChange, Take, TakeEvent, TakeMessage};
use figwort_sheet::{Bar, Sheet};
use figwort_theory::{Chord, Metre, Moment, Pitch, Span, Velocity};

/// The melody's channel.
const MELODY: u8 = 0;
/// The chords' channel.
const CHORDS: u8 = 1;
/// How the two are told apart.
pub const SOURCE: Source = Source::Channels { melody: MELODY, harmony: CHORDS };
/// Lowest key of a chord's bass and of its other tones.
const BASS_FROM: Pitch = Pitch::new(36);
const TONES_FROM: Pitch = Pitch::new(48);
/// How hard chords are struck.
const STRENGTH: Velocity = Velocity::new(70);

/// The take.
pub fn take(sheet: &Sheet) -> Take {
    let mut events = vec![];
    let mut play = |from: Moment, to: Moment, channel: u8, pitch: Pitch, velocity: Velocity| {
        events.push(TakeEvent { at: from, channel, message: TakeMessage::NoteOn { pitch, velocity } });
        events.push(TakeEvent { at: to, channel, message: TakeMessage::NoteOff { pitch } });
    };
    for note in &sheet.melody {
        play(note.at, note.end(), MELODY, note.pitch, note.velocity);
    }
    let last = sheet.bars.last().map_or(sheet.end, |bar| sheet.end.max(bar.start + bar.metre.bar()));
    for (n, change) in sheet.chords.iter().enumerate() {
        let end = sheet.chords.get(n + 1).map_or(last, |next| next.at);
        for pitch in change.symbol.chord.map(keys).unwrap_or_default() {
            play(change.at, end, CHORDS, pitch, STRENGTH);
        }
    }
    events.sort_by_key(|event| (event.at, matches!(event.message, TakeMessage::NoteOn { .. })));
    Take {
        events,
        tempos: sheet.tempos.clone(),
        metres: sheet.bars.iter().map(|bar| MetreChange { at: bar.start, metre: metre(bar) }).collect(),
        key: Some(sheet.key),
        end: last,
        warnings: vec![],
    }
}

/// The bar's metre; of a bar that is longer, one of its length, where there is one.
fn metre(bar: &Bar) -> Metre {
    let unit = Span::WHOLE.0 / i64::from(bar.metre.denominator());
    let count = u8::try_from(bar.length.0 / unit).ok().filter(|_| bar.length.0 % unit == 0);
    let longer = count.filter(|_| bar.length > bar.metre.bar());
    longer.and_then(|count| Metre::new(count, bar.metre.denominator())).unwrap_or(bar.metre)
}

/// The chord's bass, and above it its tones in close position from the root up.
fn keys(chord: Chord) -> Vec<Pitch> {
    let mut keys: Vec<Pitch> = BASS_FROM.next_of_class(chord.bass).into_iter().collect();
    let mut lowest = TONES_FROM.next_of_class(chord.root);
    let mut tones: Vec<_> = chord.tones().iter().collect();
    tones.sort_by_key(|class| class.above(chord.root));
    for class in tones {
        let Some(pitch) = lowest.and_then(|from| from.next_of_class(class)) else { break };
        keys.push(pitch);
        lowest = Some(pitch);
    }
    keys
}
