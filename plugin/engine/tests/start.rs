//! Guards starting by chance: under a rhythm that has become known the accompaniment moves at once, however
//! time is cut, and a loop plays what it played.

mod support;

use figwort_engine::{Hand, OutputMessage, Settings, Start};
use support::{Cut, Leg, Played, Script, check_balance, play};

/// Frames of a quarter note.
const BEAT: u64 = 24_000;
/// Bars of four quarters in a pass.
const BARS: u64 = 12;

/// A chord, and above it two quarters and a half note in every bar; one pass after another.
fn script(start: Start, passes: u64) -> Script {
    let settings = Settings { start, space: 0.0, dry: true, ..Settings::default() };
    let pass = BARS * 4 * BEAT;
    let mut script = Script::new(pass * passes, settings);
    script.legs = (0..passes).map(|n| Leg::playing(n * pass, 0.0, 120.0)).collect();
    script = script.chord(10, pass * passes - 10, &[48, 52, 55]);
    for bar in 0..BARS * passes {
        let at = bar * 4 * BEAT;
        for (from, to, key) in [(0, 1, 72), (1, 2, 74), (2, 4, 76)] {
            script = script.on(at + from * BEAT + 20, key).off(at + to * BEAT - 2_000, key);
        }
    }
    script
}

/// Frames at which the accompaniment strikes.
fn strikes(played: &Played) -> Vec<u64> {
    let strike = |(frame, message): &(u64, OutputMessage)| match message {
        OutputMessage::NoteOn { hand, .. } if *hand != Hand::Melody => Some(*frame),
        _ => None,
    };
    played.iter().filter_map(strike).collect()
}

/// Strikes within a beat from the onset of the half notes of the last four bars, their own moment left out.
fn early(played: &Played) -> usize {
    let strikes = strikes(played);
    (BARS - 4..BARS)
        .map(|bar| (bar * 4 + 2) * BEAT)
        .map(|at| strikes.iter().filter(|frame| (at + 100..=at + BEAT).contains(frame)).count())
        .sum()
}

#[test]
fn a_known_long_note_is_moved_under_from_its_onset() {
    let wait = play(&script(Start::AfterWait, 1), &Cut::every(64), None);
    let chance = play(&script(Start::ByChance, 1), &Cut::every(64), None);
    check_balance(&chance);
    assert_eq!(early(&wait), 0, "after the wait means after the wait");
    assert!(early(&chance) >= 4, "only {} strikes", early(&chance));
}

#[test]
fn how_time_is_cut_makes_no_difference() {
    let script = script(Start::ByChance, 1);
    let reference = play(&script, &Cut::every(64), None);
    for length in [1_000, 8_192] {
        assert_eq!(reference, play(&script, &Cut { jitter: 7, ..Cut::every(length) }, None), "{length}");
    }
}

#[test]
fn a_loop_plays_what_it_played() {
    let played = play(&script(Start::ByChance, 3), &Cut::every(256), None);
    let pass = BARS * 4 * BEAT;
    let of = |n: u64| -> Vec<u64> {
        let here = strikes(&played).into_iter().filter(|frame| (n * pass..(n + 1) * pass).contains(frame));
        here.map(|frame| frame - n * pass).collect()
    };
    assert!(of(1).len() > 20);
    assert_eq!(of(1), of(2));
}

/// A host that has run from the beginning, in 4/4 at 120.
fn running(frame: u64) -> figwort_engine::Transport {
    figwort_engine::Transport {
        playing: true,
        tempo: Some(120.0),
        position: Some(frame as f64 / BEAT as f64),
        bar_start: Some((frame / BEAT / 4 * 4) as f64),
        metre: figwort_theory::Metre::new(4, 4),
    }
}

/// What a snapshot announces is what is struck, where nothing happens in between.
#[test]
fn what_is_planned_is_played() {
    use figwort_engine::{Block, Engine, EventSink, Full, InputEvent, OutputEvent};

    #[derive(Default)]
    struct Struck(Vec<(u64, u8)>, u64);
    impl EventSink for Struck {
        fn push(&mut self, event: OutputEvent) -> Result<(), Full> {
            if let OutputMessage::NoteOn { hand, pitch, .. } = event.message
                && hand != Hand::Melody
            {
                self.0.push((self.1 + u64::from(event.offset), pitch.key()));
            }
            Ok(())
        }
    }

    let settings = Settings { space: 0.0, ..Settings::default() };
    let figures = support::book();
    let keys =
        [48, 52, 55, 76].map(|key| InputEvent { offset: 10, channel: 0, message: support::on(key, 80) });
    let mut engine = Engine::new(support::RATE);
    let mut struck = Struck::default();
    let mut announced = Vec::new();
    for frame in (0..8 * BEAT).step_by(480) {
        let transport = running(frame);
        let input = if frame == 0 { &keys[..] } else { &[] };
        struck.1 = frame;
        let block =
            Block { frames: 480, transport, input, settings: &settings, figures: &figures, chart: None };
        engine.process(block, &mut struck);
        let snapshot = engine.snapshot();
        // All of it lies ahead.
        let planned = snapshot.planned.iter().flatten();
        announced.extend(planned.map(|note| {
            assert!(note.at >= snapshot.position, "{note:?} at {:?}", snapshot.position);
            (note.at.0 as u64 * BEAT / figwort_theory::TICKS_PER_QUARTER as u64, note.pitch.key())
        }));
    }
    announced.sort_unstable();
    announced.dedup();
    assert!(announced.len() > 3, "{announced:?}");
    for (frame, key) in announced.into_iter().filter(|(frame, _)| *frame < 8 * BEAT - 480) {
        // Spread and late hands may take some milliseconds.
        let found = struck.0.iter().any(|(at, other)| *other == key && at.abs_diff(frame) < 2_400);
        assert!(found, "{key} at {frame} was announced and never struck: {:?}", struck.0);
    }
}

/// What is planned follows the settings at once, also in a block where nothing is due.
#[test]
fn a_plan_follows_the_settings() {
    use figwort_engine::{Block, Engine, EventSink, Full, InputEvent, OutputEvent};

    struct Deaf(usize);
    impl EventSink for Deaf {
        fn push(&mut self, _event: OutputEvent) -> Result<(), Full> {
            self.0 += 1;
            Ok(())
        }
    }

    let even = Settings { space: 0.0, ..Settings::default() };
    let swung = Settings { swing: 1.0, ..even };
    let figures = support::book();
    let keys =
        [48, 52, 55, 76].map(|key| InputEvent { offset: 10, channel: 0, message: support::on(key, 80) });
    let mut engine = Engine::new(support::RATE);
    let mut sink = Deaf(0);
    let mut play = |engine: &mut Engine, frame: u64, settings: &Settings| {
        let transport = running(frame);
        let input = if frame == 0 { &keys[..] } else { &[] };
        let block = Block { frames: 64, transport, input, settings, figures: &figures, chart: None };
        let before = sink.0;
        engine.process(block, &mut sink);
        (engine.snapshot().planned, sink.0 > before)
    };
    let mut compared = 0;
    for frame in (0..4 * BEAT).step_by(64) {
        let mut other = engine.clone();
        let (planned, busy) = play(&mut engine, frame, &even);
        if !busy && planned.iter().flatten().any(|note| note.at.0 % figwort_theory::TICKS_PER_QUARTER != 0) {
            let (late, busy) = play(&mut other, frame, &swung);
            assert!(busy || late != planned, "at {frame} the plan stays as it was: {planned:?}");
            compared += 1;
        }
    }
    assert!(compared > 100, "{compared}");
}
