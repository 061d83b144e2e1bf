//! Guards the first promise to hosts: how time is cut into blocks makes no difference, and the same input
//! gives the same output.

mod support;

use figwort_engine::{Settings, Source};
use proptest::prelude::*;
use support::{Cut, Leg, Script, charts, check_balance, off, on, play};

/// A player: chords below, a melody above, the pedal now and then.
fn keys(length: u64) -> impl Strategy<Value = Vec<(u64, u8, figwort_engine::InputMessage)>> {
    let chord = (0..length, prop::collection::vec(40..60u8, 1..5), 500..60_000u64, 0..1_700u64);
    let note = (0..length, 60..90u8, 500..96_000u64, 1..127u8);
    let pedal = (0..length, any::<bool>());
    (
        prop::collection::vec(chord, 1..8),
        prop::collection::vec(note, 0..20),
        prop::collection::vec(pedal, 0..4),
    )
        .prop_map(|(chords, notes, pedals)| {
            let mut keys = vec![];
            for (at, chord, long, spread) in chords {
                for (n, key) in chord.iter().enumerate() {
                    keys.push((at + spread * n as u64 / 4, 0, on(*key, 70)));
                    keys.push((at + long, 0, off(*key)));
                }
            }
            for (at, key, long, velocity) in notes {
                keys.push((at, 0, on(key, velocity)));
                keys.push((at + long, 0, off(key)));
            }
            for (at, down) in pedals {
                keys.push((at, 0, figwort_engine::InputMessage::Sustain(down)));
            }
            keys
        })
}

/// A transport that stops, jumps, changes tempo and metre; positions are musical, as a host's are.
fn legs(length: u64) -> impl Strategy<Value = Vec<Leg>> {
    let leg = (1..length, 0..5u8, 0..256u32, 40.0..220.0f64, 0..3usize);
    prop::collection::vec(leg, 0..5).prop_map(|mut changes| {
        changes.sort_by_key(|(frame, ..)| *frame);
        changes.dedup_by_key(|(frame, ..)| *frame);
        let mut legs = vec![Leg::playing(0, 0.0, 120.0)];
        for (frame, what, quarter, tempo, metre) in changes {
            let last = *legs.last().expect("the first leg");
            let here = last.beat + (frame - last.frame) as f64 * last.tempo / (60.0 * support::RATE);
            legs.push(match what {
                0 => Leg { frame, playing: false, ..last },
                1 => Leg { frame, playing: true, beat: f64::from(quarter) / 4.0, bar: 0.0, ..last },
                2 if last.playing => Leg { frame, beat: here, tempo, ..last },
                3 => {
                    let metre = [(4, 4), (3, 4), (6, 8)][metre];
                    Leg {
                        frame,
                        playing: true,
                        beat: f64::from(quarter),
                        metre,
                        bar: f64::from(quarter),
                        ..last
                    }
                }
                _ => Leg {
                    frame,
                    playing: true,
                    beat: f64::from(quarter),
                    bar: f64::from(quarter),
                    tempo,
                    ..last
                },
            });
        }
        legs
    })
}

fn settings() -> impl Strategy<Value = Settings> {
    let source = prop_oneof![2 => Just(Settings::default().source), 1 => Just(Source::Hands)];
    (0.0..4.0f32, 0.0..2.0f32, any::<bool>(), any::<bool>(), any::<u32>(), source).prop_map(
        |(elaboration, wait, latch, one_player, seed, source)| {
            let mut settings =
                Settings { source, elaboration, wait, latch, one_player, seed, ..Settings::default() };
            // Half of them play late, spread and swung.
            if seed % 2 == 1 {
                settings.swing = 0.7;
                settings.manner.timing_ms = 12;
                settings.manner.spread_ms = 25;
            }
            settings
        },
    )
}

fn cuts() -> impl Strategy<Value = Cut> {
    let lengths = prop::collection::vec(prop_oneof![1..80u32, 64..2_000u32, Just(8_192u32)], 1..6);
    (lengths, 1..u64::MAX).prop_map(|(lengths, jitter)| Cut { lengths, jitter, room: usize::MAX })
}

const LENGTH: u64 = 48_000 * 8;

proptest! {
    #![proptest_config(ProptestConfig::with_cases(support::cases(300)))]

    /// Live: any cut, with a jittering host, gives the notes of 64-frame blocks without jitter.
    #[test]
    fn any_cut_plays_the_same(
        keys in keys(LENGTH), legs in legs(LENGTH), settings in settings(), cut in cuts(),
    ) {
        let script = Script { keys, legs, ..Script::new(LENGTH, settings) };
        let reference = play(&script, &Cut::every(64), None);
        prop_assert_eq!(&reference, &play(&script, &cut, None));
        prop_assert_eq!(&reference, &play(&script, &Cut::every(64), None), "the same input twice");
        check_balance(&reference);
    }

    /// With a sheet.
    #[test]
    fn any_cut_follows_a_sheet_the_same(chart in charts(5), settings in settings(), cut in cuts()) {
        let settings = Settings { source: Source::Chart, ..settings };
        let script = Script { legs: vec![Leg::playing(0, 0.0, 131.0)], ..Script::new(48_000 * 10, settings) };
        let reference = play(&script, &Cut::every(64), Some(&chart));
        prop_assert_eq!(&reference, &play(&script, &cut, Some(&chart)));
        check_balance(&reference);
    }
}

/// The two extremes, on something that surely plays.
#[test]
fn one_frame_blocks_equal_one_big_block() {
    let script = Script::new(48_000 * 4, Settings { space: 0.0, ..Settings::default() })
        .chord(1_000, 90_000, &[48, 52, 55])
        .on(1_000, 72)
        .chord(96_500, 190_000, &[45, 48, 52, 55])
        .on(150_000, 74);
    let big = play(&script, &Cut::every(8_192), None);
    assert!(check_balance(&big) > 10);
    assert_eq!(big, play(&script, &Cut::every(1), None));
}
