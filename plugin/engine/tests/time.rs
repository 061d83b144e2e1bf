//! Guards musical time: notes land on the frame of their beat, a loop repeats itself, playing from a bar
//! gives what that bar gave, and without a transport the engine keeps time by itself.

mod support;

use figwort_engine::{Hand, OutputMessage, Settings, Source};
use figwort_theory::{Pitch, TICKS_PER_QUARTER};
use proptest::prelude::*;
use support::{Cut, Leg, OwnedChart, Played, RATE, Script, charts, check_balance, play};

fn onsets(played: &Played, from: u64, to: u64) -> Vec<(u64, Hand, u8, u8)> {
    let ons = played.iter().filter_map(|(frame, message)| match *message {
        OutputMessage::NoteOn { hand, pitch, velocity, .. } if (from..to).contains(frame) => {
            Some((frame - from, hand, pitch.key(), velocity.value()))
        }
        _ => None,
    });
    ons.collect()
}

fn follow() -> Settings {
    // No spreading and no pedal: every onset is on a step of the grid.
    Settings { source: Source::Chart, dry: true, ..Settings::default() }
}

/// The accompaniment that sounds once everything at a frame was done.
fn sounding(played: &Played, frame: u64) -> Vec<Pitch> {
    let mut sounding = vec![];
    for (at, message) in played {
        match *message {
            OutputMessage::NoteOn { hand, pitch, .. } if *at <= frame && hand != Hand::Melody => {
                sounding.push(pitch);
            }
            OutputMessage::NoteOff { hand, pitch, .. } if *at <= frame && hand != Hand::Melody => {
                sounding.retain(|p| *p != pitch);
            }
            _ => {}
        }
    }
    sounding.sort();
    sounding
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(support::cases(150)))]

    /// Every onset is within a frame of an eighth note, by exact arithmetic: frame · tempo · 2 = n · 60 · rate.
    #[test]
    fn onsets_land_on_the_frame_of_their_beat(chart in charts(6), tempo in 40..240i64, first in 0..4i64) {
        let bar = chart.bars[0].length.in_quarters();
        let leg = Leg {
            bar: 0.0,
            metre: (chart.bars[0].metre.numerator(), chart.bars[0].metre.denominator()),
            ..Leg::playing(0, first as f64 * bar, tempo as f64)
        };
        let script = Script { legs: vec![leg], ..Script::new(48_000 * 8, follow()) };
        let cut = Cut { jitter: 99, ..Cut::every(480) };
        let played = play(&script, &cut, Some(&chart));
        let start = chart.bars[first as usize].start.0;
        for (frame, ..) in onsets(&played, 0, u64::MAX) {
            // Ticks since the start, scaled by 60 · rate to stay whole.
            let scale = 60 * RATE as i64;
            let here = frame as i64 * tempo * TICKS_PER_QUARTER + start * scale;
            let eighth = TICKS_PER_QUARTER / 2 * scale;
            let off_grid = (here + eighth / 2).rem_euclid(eighth) - eighth / 2;
            let one_frame = tempo * TICKS_PER_QUARTER;
            prop_assert!(off_grid.abs() <= one_frame, "onset at frame {frame} is {} frames off", off_grid as f64 / one_frame as f64);
        }
    }

    /// A sheet played from bar n gives, from there on, what it gave when played from the beginning.
    #[test]
    fn from_any_bar_as_from_the_first(
        chart in charts(12), bar in 1..12usize, seed in any::<u32>(), elaboration in 0.0..4.0f32,
    ) {
        let settings = Settings { seed, elaboration, ..follow() };
        let metre = (chart.bars[0].metre.numerator(), chart.bars[0].metre.denominator());
        let frames_per_bar = (chart.bars[0].length.in_quarters() * 24_000.0) as u64;
        let run = |first: usize| {
            let beat = chart.bars[first].start.since_zero().in_quarters();
            let leg = Leg { metre, ..Leg::playing(0, beat, 120.0) };
            let length = frames_per_bar * (12 - first) as u64;
            play(&Script { legs: vec![leg], ..Script::new(length, settings) }, &Cut::every(256), Some(&chart))
        };
        let (whole, part) = (run(0), run(bar));
        let from = frames_per_bar * bar as u64;
        let to = frames_per_bar * 12;
        // What is held over from the bar before is struck where playing begins.
        prop_assert_eq!(sounding(&whole, from), sounding(&part, 0));
        prop_assert_eq!(onsets(&whole, from + 1, to), onsets(&part, 1, to - from));
    }

    /// Live, with the same keys held, a loop repeats itself exactly.
    #[test]
    fn a_loop_repeats_itself(
        chord in prop::collection::vec(36..60u8, 3..5), melody in 60..84u8, bars in 1..4u64, seed in any::<u32>(),
    ) {
        let settings = Settings { seed, ..Settings::default() };
        let pass = 96_000 * bars;
        let legs = (0..4).map(|n| Leg::playing(n * pass, 8.0, 120.0)).collect();
        let mut script = Script { legs, ..Script::new(pass * 4, settings) }.on(0, melody);
        for key in chord {
            script = script.on(0, key);
        }
        let played = play(&script, &Cut { jitter: 5, ..Cut::every(480) }, None);
        check_balance(&played);
        let second = onsets(&played, pass, pass * 2);
        prop_assert!(!second.is_empty());
        prop_assert_eq!(&second, &onsets(&played, pass * 2, pass * 3));
        prop_assert_eq!(&second, &onsets(&played, pass * 3, pass * 4));
    }

    /// Without a transport the first chord starts the clock, wherever it comes, at the set tempo.
    #[test]
    fn without_a_transport_the_first_chord_starts_the_clock(at in 0..100_000u64, tempo in 60..180u32) {
        let run = |at: u64| {
            let settings = Settings { tempo: f64::from(tempo), space: 0.0, ..Settings::default() };
            let stopped = Leg { tempo: f64::from(tempo), ..Leg::stopped(0) };
            let script = Script { legs: vec![stopped], ..Script::new(at + 400_000, settings) }
                .chord(at, at + 400_000, &[48, 52, 55, 59]);
            onsets(&play(&script, &Cut::every(128), None), at, at + 400_000)
        };
        let played = run(at);
        let later = played.iter().filter(|(frame, ..)| *frame > 0);
        prop_assert!(later.clone().count() >= 8, "only {} notes after the first chord", later.count());
        prop_assert_eq!(&played, &run(0));
        let beat = 60.0 * RATE / f64::from(tempo);
        for (frame, ..) in later {
            let eighths = *frame as f64 / (beat / 2.0);
            prop_assert!((eighths - eighths.round()).abs() * beat / 2.0 <= 1.0, "onset at {frame}");
        }
    }
}

/// The law of the hands, in one scene: still melody, the accompaniment moves; moving melody, it yields.
#[test]
fn the_accompaniment_moves_when_the_melody_stands() {
    let beat = 24_000;
    let mut script = Script::new(beat * 16, Settings { space: 0.0, ..Settings::default() })
        .chord(0, beat * 16, &[48, 52, 55, 59])
        .on(0, 76);
    // Two bars stand; two bars of eighths move; then it stands again.
    for n in 0..16u64 {
        let at = beat * 8 - beat / 2 + n * beat / 2 + beat / 2;
        script = script.on(at, 74 + (n % 2) as u8 * 2).off(at + beat / 2, 74 + (n % 2) as u8 * 2);
    }
    let played = play(&script, &Cut::every(64), None);
    let accompaniment = |from: u64, to: u64| {
        onsets(&played, beat * from, beat * to).iter().filter(|(_, hand, ..)| *hand != Hand::Melody).count()
    };
    let standing = accompaniment(1, 8);
    // A beat of grace after the melody begins to move.
    let moving = accompaniment(9, 12) + accompaniment(13, 16);
    assert!(standing >= 6, "{standing} onsets while the melody stands");
    assert!(moving == 0, "{moving} onsets while it moves, bar lines excepted");
}

/// An empty chart and an unsorted one are harmless.
#[test]
fn odd_charts_are_harmless() {
    let mut chart = OwnedChart::default();
    let script = Script::new(100_000, follow());
    check_balance(&play(&script, &Cut::every(100), Some(&chart)));
    chart.melody = (0..20)
        .rev()
        .map(|n| figwort_engine::ChartNote {
            at: figwort_theory::Moment(n * 3_000),
            length: figwort_theory::Span(5_000),
            pitch: figwort_theory::Pitch::new(60 + n as u8),
            velocity: figwort_theory::Velocity::new(80),
        })
        .collect();
    check_balance(&play(&script, &Cut::every(100), Some(&chart)));
}

/// Hands that change with the bar and come late, over the chord before: once that is their habit, the old
/// chord isn't struck on the bar line just before the new one.
#[test]
fn late_hands_are_waited_for() {
    let bar = 96_000;
    let late = 960;
    let mut script = Script::new(bar * 16, Settings { space: 0.0, ..Settings::default() });
    for n in 0..15 {
        let at = bar * n + late;
        let root = [48, 45, 50, 43][n as usize % 4];
        script = script
            .chord(at, at + bar + 200, &[root, root + 4, root + 7])
            .on(at + 30, 76)
            .off(at + bar - 200, 76);
    }
    let played = play(&script, &Cut::every(64), None);
    check_balance(&played);
    let accompaniment: Vec<u64> = onsets(&played, bar * 4, bar * 15)
        .iter()
        .filter(|(_, hand, ..)| *hand != Hand::Melody)
        .map(|o| o.0)
        .collect();
    let before_the_chord = accompaniment.iter().filter(|frame| *frame % bar < late).count();
    assert_eq!(before_the_chord, 0, "strikes between the bar line and the late chord");
    assert!(accompaniment.len() > 40, "only {} onsets", accompaniment.len());
}
