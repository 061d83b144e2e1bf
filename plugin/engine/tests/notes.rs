//! Guards the promise that nothing hangs and nothing is struck twice, whatever happens.

mod support;

use figwort_engine::{Hand, InputMessage, OutputMessage, Settings, Source};
use figwort_theory::Pitch;
use proptest::prelude::*;
use support::{Cut, Leg, Script, charts, check_balance, off, on, play};

const LENGTH: u64 = 48_000 * 6;

/// Any message at all, on three channels; note-offs without note-ons and note-ons twice among them.
fn message() -> impl Strategy<Value = InputMessage> {
    prop_oneof![
        5 => (30..100u8, 1..127u8).prop_map(|(key, velocity)| on(key, velocity)),
        5 => (30..100u8).prop_map(off),
        1 => any::<bool>().prop_map(InputMessage::Sustain),
        1 => any::<[u8; 3]>().prop_map(InputMessage::Other),
    ]
}

fn source() -> impl Strategy<Value = Source> {
    prop_oneof![
        (40..80u8).prop_map(|key| Source::Split(Pitch::new(key))),
        Just(Source::Channels { melody: 0, harmony: 1 }),
        Just(Source::Hands),
        Just(Source::ChartHarmony),
        Just(Source::ChartMelody),
        Just(Source::Chart),
    ]
}

fn settings() -> impl Strategy<Value = Settings> {
    let flags = (any::<bool>(), any::<bool>(), any::<bool>(), any::<bool>(), prop::bool::weighted(0.1));
    (source(), 0.0..4.2f32, 0.0..3.0f32, flags, any::<u32>(), 3..7u8, -5..6i8).prop_map(
        |(source, elaboration, wait, (latch, pedal, dry, finish, bypass), seed, parts, clarity)| {
            let mut settings = Settings {
                source,
                elaboration,
                wait,
                latch,
                pedal,
                dry,
                finish,
                bypass,
                seed,
                clarity,
                ..Settings::default()
            };
            settings.manner.parts_max = parts;
            settings.manner.spread_ms = parts * 5;
            settings.manner.timing_ms = parts * 2;
            settings.swing = f32::from(parts % 3) / 2.0;
            settings
        },
    )
}

fn script() -> impl Strategy<Value = Script> {
    let keys = prop::collection::vec((0..LENGTH, 0..3u8, message()), 0..120);
    let leg = (1..LENGTH, any::<bool>(), -10.0..80.0f64, 30.0..300.0f64, 0..4usize);
    let legs = prop::collection::vec(leg, 0..8).prop_map(|changes| {
        let mut legs = vec![Leg::playing(0, 0.0, 120.0)];
        legs.extend(changes.into_iter().map(|(frame, playing, beat, tempo, metre)| Leg {
            frame,
            playing,
            beat,
            tempo,
            metre: [(4, 4), (3, 4), (6, 8), (7, 8)][metre],
            bar: beat.floor(),
        }));
        legs.sort_by_key(|leg| leg.frame);
        legs
    });
    let changes = prop::collection::vec((1..LENGTH, settings()), 0..5);
    let resets = prop::collection::vec(1..LENGTH, 0..2);
    (keys, legs, settings(), changes, resets).prop_map(|(keys, legs, first, changes, resets)| {
        let mut settings = vec![(0, first)];
        settings.extend(changes);
        settings.sort_by_key(|(frame, _)| *frame);
        Script { keys, legs, settings, resets, ..Script::new(LENGTH, first) }
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(support::cases(600)))]

    #[test]
    fn nothing_hangs(script in script(), chart in charts(8), frames in 1..3_000u32) {
        check_balance(&play(&script, &Cut::every(frames), Some(&chart)));
    }

    /// The sink takes only a few events a block, at times fewer than are due.
    #[test]
    fn a_full_queue_loses_no_note_off(script in script(), chart in charts(8), room in 0..4usize) {
        let cut = Cut { room, ..Cut::every(640) };
        check_balance(&play(&script, &cut, Some(&chart)));
    }

    /// Keys held when the transport stops are the player's; everything else ends with it.
    #[test]
    fn a_stop_ends_the_accompaniment(chart in charts(6), stop in 1..LENGTH) {
        let settings = Settings { source: Source::Chart, ..Settings::default() };
        let legs = vec![Leg::playing(0, 0.0, 120.0), Leg::stopped(stop)];
        let played = play(&Script { legs, ..Script::new(LENGTH, settings) }, &Cut::every(512), Some(&chart));
        check_balance(&played);
        prop_assert!(played.iter().all(|(frame, _)| *frame <= stop), "something after the stop");
    }
}

/// The melody goes through in its own frame, and takes a pitch over from the accompaniment.
#[test]
fn a_melody_note_passes_in_its_frame() {
    let script = Script::new(LENGTH, Settings::default())
        .chord(0, LENGTH, &[48, 52, 55])
        .on(40_001, 64)
        .off(60_003, 64)
        .on(70_007, 67);
    let played = play(&script, &Cut::every(333), None);
    check_balance(&played);
    for (frame, key) in [(40_001, 64), (70_007, 67)] {
        let passed = played.iter().any(|(at, message)| {
            *at == frame
                && matches!(message, OutputMessage::NoteOn { hand: figwort_engine::Hand::Melody, pitch, .. }
                    if pitch.key() == key)
        });
        assert!(passed, "key {key} did not pass at {frame}");
    }
    let ended = |(at, message): &(u64, OutputMessage)| {
        *at == 60_003 && matches!(message, OutputMessage::NoteOff { pitch, .. } if pitch.key() == 64)
    };
    assert!(played.iter().any(ended));
}

/// With bypass, what goes in comes out, frame by frame, and nothing else.
#[test]
fn bypass_is_transparent() {
    let settings = Settings { bypass: true, ..Settings::default() };
    let script = Script::new(LENGTH, settings).chord(100, 50_000, &[40, 47, 52]).on(7, 72).off(90_000, 72);
    let played = play(&script, &Cut::every(64), None);
    let mut expected: Vec<_> = script.keys.iter().map(|(frame, _, message)| (*frame, *message)).collect();
    expected.sort_by_key(|(frame, _)| *frame);
    let got: Vec<_> = played
        .iter()
        .map(|(frame, message)| match *message {
            OutputMessage::NoteOn { pitch, velocity, .. } => {
                (*frame, InputMessage::NoteOn { pitch, velocity })
            }
            OutputMessage::NoteOff { pitch, .. } => (*frame, InputMessage::NoteOff { pitch }),
            ref other => panic!("{other:?} out of nowhere"),
        })
        .collect();
    assert_eq!(got, expected);
}

/// A chord that only the latch holds ends with the latch.
#[test]
fn a_latched_chord_ends_with_the_latch() {
    let latched = Settings { latch: true, elaboration: 2.0, ..Settings::default() };
    let mut script = Script::new(LENGTH, latched).chord(0, 30_000, &[48, 52, 55]);
    script.legs = vec![Leg::stopped(0)];
    script.settings.push((100_000, Settings { latch: false, ..latched }));
    let played = play(&script, &Cut::every(64), None);
    check_balance(&played);
    let ends = |from: u64, to: u64| {
        let off = |m: &OutputMessage| matches!(m, OutputMessage::NoteOff { .. });
        played.iter().filter(|(at, m)| (from..to).contains(at) && off(m)).count()
    };
    assert!(ends(100_000 - 64, 100_064) >= 3, "{played:?}");
    assert_eq!(ends(100_064, LENGTH), 0);
}

/// The final chord, asked for while a chord sounds, is the next that is struck: a melody that comes to stand
/// brings none.
#[test]
fn the_final_chord_waits_for_a_chord() {
    const BEAT: u64 = 24_000;
    let usual = Settings { space: 0.0, dry: true, ..Settings::default() };
    let mut script = Script::new(4 * BEAT - 10, usual).chord(10, 4 * BEAT, &[48, 52, 55]);
    script.legs = vec![Leg::playing(0, 0.0, 120.0)];
    script = script.on(2, 76).off(BEAT - 100, 76).on(BEAT, 79);
    script.settings.push((BEAT, Settings { finish: true, ..usual }));
    let played = play(&script, &Cut::every(64), None);
    let own = |m: &OutputMessage| matches!(m, OutputMessage::NoteOn { hand, .. } if *hand != Hand::Melody);
    let struck =
        |from: u64, to: u64| played.iter().filter(|(at, m)| (from..to).contains(at) && own(m)).count();
    assert!(struck(0, BEAT) >= 3, "{played:?}");
    assert_eq!(struck(BEAT, 4 * BEAT - 10), 0, "{played:?}");
}

/// A pedal that went down as the player's does not stay down when Figwort takes the pedal over.
#[test]
fn a_pedal_taken_over_comes_up() {
    let players = Settings { pedal: false, ..Settings::default() };
    let mut script = Script::new(LENGTH, players);
    script.keys.push((1_000, 0, InputMessage::Sustain(true)));
    script.keys.push((150_000, 0, InputMessage::Sustain(false)));
    script.settings.push((100_000, Settings { pedal: true, ..players }));
    let played = play(&script, &Cut::every(64), None);
    let pedal: Vec<bool> = played
        .iter()
        .filter_map(|(_, m)| if let OutputMessage::Pedal(down) = m { Some(*down) } else { None })
        .collect();
    assert_eq!(pedal, [true, false]);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(support::cases(400)))]

    /// Without the latch, a chord is over with its keys, also one that was still being found out.
    #[test]
    fn silence_follows_the_last_key(
        chords in prop::collection::vec((0..40_000u64, 100..9_000u64, prop::collection::vec(36..72u8, 1..6)), 1..12),
    ) {
        let settings = Settings { latch: false, source: Source::ChartMelody, ..Settings::default() };
        let mut script = Script::new(LENGTH, settings);
        script.legs = vec![Leg::stopped(0)];
        let mut at = 0;
        for (gap, held, keys) in &chords {
            let mut keys = keys.clone();
            keys.sort_unstable();
            keys.dedup();
            script = script.chord(at, at + held, &keys);
            at += held + gap / 8;
        }
        let played = play(&script, &Cut::every(64), None);
        let last = script.keys.iter().map(|(frame, ..)| *frame).max().unwrap_or(0);
        // Half a second: longer than any window of the chord reader.
        let late = played.iter().filter(|(frame, message)| {
            *frame > last + 24_000 && matches!(message, OutputMessage::NoteOn { .. } | OutputMessage::NoteOff { .. })
        });
        prop_assert_eq!(late.count(), 0, "something after the last key: {:?}", played);
    }
}

/// A broken chord that has to give way after its bass still becomes a chord of three notes, with the melody
/// note that it gives way to.
#[test]
fn a_chord_is_completed_where_its_figure_gives_way() {
    let mut settings = Settings { space: 0.0, one_player: false, ..Settings::default() };
    settings.manner.broken_chord = 100;
    settings.manner.repeated_chord = 0;
    settings.manner.bass_line = 0;
    settings.manner.inner_line = 0;
    const BEAT: u64 = 24_000;
    let bar = 4 * BEAT;
    let mut script = Script::new(5 * bar, settings);
    for (n, chord) in
        [[48u8, 52, 55], [45, 48, 52], [41, 45, 48], [43, 47, 50], [48, 52, 55]].iter().enumerate()
    {
        let start = n as u64 * bar;
        script = script.chord(start, start + bar, chord);
    }
    // The melody stands until half a beat of the last bar is over, then runs.
    script = script.on(0, 79).off(2 * bar, 79).on(2 * bar, 76).off(4 * bar + BEAT / 2, 76);
    for (n, key) in [77u8, 79, 81, 79, 77, 76, 74].into_iter().enumerate() {
        let at = 4 * bar + BEAT / 2 * (n as u64 + 1);
        script = script.on(at, key).off(at + BEAT / 2, key);
    }
    let played = play(&script, &Cut::every(64), None);
    let sounding = |until: u64| {
        let mut keys = std::collections::BTreeSet::new();
        for (frame, message) in &played {
            match message {
                _ if *frame > until => break,
                OutputMessage::NoteOn { hand, pitch, .. } if *hand != Hand::Melody => {
                    keys.insert(pitch.key());
                }
                OutputMessage::NoteOff { hand, pitch, .. } if *hand != Hand::Melody => {
                    keys.remove(&pitch.key());
                }
                _ => {}
            }
        }
        keys
    };
    let early = sounding(4 * bar + BEAT / 2 - 1);
    assert!(early.len() < 3, "the figure had time: {early:?}");
    let later = sounding(4 * bar + BEAT / 2);
    assert!(later.len() >= 3 && later.is_superset(&early), "{early:?}, then {later:?}");
}
