//! Whole blocks, with time of our own and an editor at work: what no host can ask for. None may take memory.
#![allow(unsafe_code, reason = "the framework's buffers are filled this way")]

use assert_no_alloc::{AllocDisabler, assert_no_alloc};
use figwort_engine::Settings;
use figwort_theory::{Metre, Pitch, Velocity};

use super::*;
use crate::process::tests::Host;

/// Ends the program when a block takes memory or gives it back.
#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

const RATE: f32 = 48_000.0;

struct Starting;

impl ActivateContext<Figwort> for Starting {
    fn plugin_api(&self) -> PluginApi {
        PluginApi::Standalone
    }
    fn execute(&self, _task: ()) {}
    fn set_latency_samples(&self, _samples: u32) {}
    fn set_current_voice_capacity(&self, _capacity: u32) {}
}

/// A plugin without a host, which keeps time itself.
fn alone() -> Figwort {
    let mut figwort = Figwort::default();
    figwort.session.keep_own_clock();
    start(&mut figwort);
    figwort
}

fn start(figwort: &mut Figwort) {
    let config = BufferConfig {
        sample_rate: RATE,
        min_buffer_size: None,
        max_buffer_size: 4096,
        process_mode: ProcessMode::Realtime,
    };
    assert!(figwort.activate(&Figwort::AUDIO_IO_LAYOUTS[0], &config, &mut Starting));
}

/// A block, and what is shown after it.
fn block(figwort: &mut Figwort) -> Snapshot {
    block_in(figwort, &mut Host::new())
}

/// The same in a host that writes down what it gets.
fn block_in(figwort: &mut Figwort, host: &mut Host) -> Snapshot {
    let (mut left, mut right) = (vec![0.0; 4096], vec![0.0; 4096]);
    let mut buffer = Buffer::default();
    // SAFETY: both slices are as long as is said and outlive the buffer.
    unsafe {
        buffer.set_slices(4096, |slices| {
            slices.push(&mut left);
            slices.push(&mut right);
        });
    }
    let mut others = AuxiliaryBuffers { inputs: &mut [], outputs: &mut [] };
    host.make_room();
    assert_no_alloc(|| figwort.process(&mut buffer, &mut others, host));
    *figwort.playing.as_ref().expect("active").engine.snapshot()
}

/// However late the audio thread comes to it, what was played before *Silence* does not sound after it.
#[test]
fn silence_takes_back_what_was_not_heard_yet() {
    let mut figwort = alone();
    let session = Arc::clone(&figwort.session);
    let mut host = Host::new();
    let play = || {
        for key in [48, 52, 55, 82] {
            let row = if key < 60 { session::Row::Chords } else { session::Row::Melody };
            assert!(session.key(row, Pitch::new(key), Some(Velocity::new(80))));
        }
    };
    play();
    session.panic();
    for _ in 0..3 {
        block_in(&mut figwort, &mut host);
    }
    assert_eq!(host.notes(), (0, vec![]));
    // And what is played after it does.
    play();
    block_in(&mut figwort, &mut host);
    assert!(host.notes().0 > 0);
}

/// The demonstration brings its own tempo and metre, and takes them along when it is over.
#[test]
fn after_the_demonstration_time_is_the_players() {
    let mut figwort = alone();
    let session = Arc::clone(&figwort.session);
    let five = Metre::new(5, 4).expect("a metre");
    session.set_metre(five);
    session.play_demo().expect("a take");
    let during = block(&mut figwort);
    assert!(session.demonstrating() && session.running());
    assert_ne!((during.tempo, during.metre), (Settings::default().tempo, Some(five)));
    let mut blocks = 0;
    while session.demonstrating() {
        block(&mut figwort);
        blocks += 1;
        assert!(blocks < 10_000, "it never ends");
    }
    assert!(!session.running(), "time stands when it is over");
    session.run(true);
    block(&mut figwort);
    let after = block(&mut figwort);
    assert_eq!((after.tempo, after.metre, after.playing), (Settings::default().tempo, Some(five), true));
}

/// Without a host the bars are the sheet's, from its pick-up to its last metre, and nobody is told to set another.
#[test]
fn time_of_our_own_counts_the_sheets_bars() {
    // A beat before the first bar, two bars of 4/4, then 3/4; a second to each beat.
    let tune = b"X:1\nT:Two\nM:4/4\nL:1/4\nQ:1/4=60\nK:C\nG|\"C\"CDEF|\"G\"GABc|[M:3/4]\"C\"CDE|\"G\"GAB|\"C\"c3|]\n";
    let mut figwort = alone();
    let session = Arc::clone(&figwort.session);
    session.load_sheet_bytes("two.abc", tune, None).expect("a tune");
    session.run(true);
    let mut seen: Vec<(f64, u8)> = Vec::new();
    for _ in 0..(21.0 * RATE / 4096.0) as usize {
        block(&mut figwort);
        let told = figwort.clock.transport(0);
        let bar = (told.bar_start.expect("a bar"), told.metre.expect("a metre").numerator());
        // The clock has gone on already, and takes the new bar up with the next block.
        match seen.last_mut() {
            Some(last) if last.0 == bar.0 => *last = bar,
            _ => seen.push(bar),
        }
        assert_eq!(session.notices().iter().find(|notice| notice.contains("metre")), None, "in {bar:?}");
    }
    // The pick-up ends with the first bar.
    assert_eq!(seen, [(0.0, 4), (4.0, 4), (8.0, 4), (12.0, 3), (15.0, 3), (18.0, 3)]);
}

/// Keys that are pressed while nothing runs are not played all at once when it does.
#[test]
fn what_was_played_to_nobody_is_not_made_up_for() {
    let mut figwort = Figwort::default();
    let session = Arc::clone(&figwort.session);
    for key in 48..60 {
        assert!(session.key(session::Row::Chords, Pitch::new(key), Some(Velocity::new(80))));
    }
    start(&mut figwort);
    assert_eq!(block(&mut figwort).sounding, [0; 3]);
    assert!(session.key(session::Row::Chords, Pitch::C4, Some(Velocity::new(80))));
    assert_ne!(block(&mut figwort).sounding, [0; 3]);
}

/// All that editor and project do from their thread while the audio thread plays: every note ends, and the thread
/// sanitizer finds nothing that meets unguarded.
#[test]
fn editor_and_project_at_work_while_it_plays() {
    const TUNE: &[u8] = b"X:1\nT:One\nM:3/4\nL:1/4\nK:G\n\"G\"GBd|\"D\"d2c|\"G\"B3|]\n";
    let folder = tempfile::tempdir().expect("a folder");
    let library = figwort_preset::Library::factory();
    let entry = library.manners().nth(3).expect("a manner");
    let own = entry.text.replace(&format!("name = \"{}\"", entry.name), "name = \"my own\"");
    std::fs::write(folder.path().join("mine.toml"), own).expect("written");
    let font = concat!(env!("CARGO_MANIFEST_DIR"), "/../render/src/soundfont/sine.sf2");
    let mut figwort = alone();
    let session = Arc::clone(&figwort.session);
    let mut view = figwort.view.take().expect("made once");
    let done = std::sync::atomic::AtomicBool::new(false);
    let (figwort, mut host, shown) = std::thread::scope(|scope| {
        let playing = scope.spawn(|| {
            let mut host = Host::new();
            while !done.load(Ordering::Acquire) {
                block_in(&mut figwort, &mut host);
            }
            (figwort, host)
        });
        let (mut next, mut shown, mut last) = (0, 0, Moment::ZERO);
        for round in 0..60u8 {
            for key in [48, 52, 55, 72 + round % 12] {
                let row = if key < 60 { session::Row::Chords } else { session::Row::Melody };
                session.key(row, Pitch::new(key), (round % 4 != 3).then(|| Velocity::new(80)));
            }
            match round % 10 {
                0 => drop(session.load_sheet_bytes("one.abc", TUNE, None).expect("a sheet")),
                1 => session.choose_manner(None).expect("the list's"),
                2 => session.play_demo().expect("a take"),
                3 => drop(session.load_soundfont(font.as_ref()).expect("a soundfont")),
                4 => session.stop_demo(),
                5 => assert_eq!(
                    session.reload_manners_from(folder.path()).len(),
                    1,
                    "one manner and no more to say"
                ),
                6 => session.choose_manner(Some("my own")).expect("a manner"),
                7 => session.restore(session.twin()),
                8 => session.clear_sheet(),
                _ => session.clear_soundfont(),
            }
            session.run(round % 3 > 0);
            session.set_metronome(round % 2 > 0);
            session.finish(round % 7 == 0);
            if round % 20 == 19 {
                session.panic();
                session.keep_take_in(&folder.path().join("takes")).expect("a take");
            }
            session.notices();
            next = session.history(next).1;
            std::thread::sleep(Duration::from_millis(2));
            let roll = view.read().roll;
            shown += usize::from(roll > last);
            assert!(roll >= last, "roll time went back");
            last = roll;
        }
        session.stop_demo();
        session.run(false);
        session.panic();
        done.store(true, Ordering::Release);
        let (figwort, host) = playing.join().expect("the audio thread comes to its end");
        (figwort, host, shown)
    });
    let mut figwort = figwort;
    for _ in 0..3 {
        block_in(&mut figwort, &mut host);
    }
    let (begun, hanging) = host.notes();
    assert!(begun > 10 && shown > 3, "{begun} notes and {shown} pages only");
    assert_eq!(hanging, [], "notes that hang");
    assert_eq!(session.messages(), [""; 0]);
}
