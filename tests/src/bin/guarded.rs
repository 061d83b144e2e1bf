//! Plays a plugin that ends the process when its audio thread allocates. A test runs this and asks whether
//! it came to its end.
#![allow(clippy::print_stdout, reason = "talking to the terminal is its job")]

use tests::checks::{play, reworded, tune};
use tests::clap_host::ClapRig;
use tests::host::{Host, Script, Send, bundle};
use tests::sheet_checks::{text, with_sheet};

fn main() {
    let mut rig = ClapRig::load(&bundle("FIGWORT_CLAP_GUARDED"));
    let mut script = tune();
    script.jitter = 1e-6;
    let changes = [
        ("Audition piano", 0.8),
        ("Manner", 0.5),
        ("Elaboration", 1.0),
        ("Manner", 1.0),
        ("Output channels", 1.0),
        ("Final chord", 1.0),
        ("Input", 1.0),
        ("Bypass", 1.0),
    ];
    for (index, (name, value)) in changes.into_iter().enumerate() {
        script.at(1.9 * index as f64, Send::Set(name, value));
    }
    script.at(3.0, Send::Controller(0, 64, 127)).at(3.5, Send::Controller(0, 64, 0));
    script.at(5.0, Send::Controller(0, 123, 0)).at(6.0, Send::Controller(0, 1, 64));
    let mut events = play(&mut rig, &script, &[1, 7, 64, 333, 4096]).len();
    // Without a transport, and with more events at once than one call of the engine takes.
    let mut storm = Script::new(1.0, 120.0);
    storm.has_transport = false;
    for n in 0..900u32 {
        let (channel, key) = ((n % 16) as u8, (n * 7 % 128) as u8);
        storm.events.push((u64::from(n / 300), Send::On(channel, key, 64)));
        storm.events.push((u64::from(n / 300) + 24_000, Send::Off(channel, key)));
    }
    rig.start(48_000.0);
    events += storm.run(&mut rig, &[512]).len();
    rig.stop();
    // With a sheet that is followed, looped and put away again.
    let state = rig.save();
    assert!(rig.load(&with_sheet(&state, &text())), "the sheet is not taken");
    for beats in [40.0, 12.0] {
        let mut script = Script::new(1.0, 70.0);
        script.frames = script.frame(beats);
        script.at(3.0, Send::Set("Sheet gives", 1.0 / 3.0)).at(8.0, Send::Set("Sheet gives", 0.0));
        events += play(&mut rig, &script, &[64, 1000]).len();
    }
    assert!(rig.load(&state), "the state is not taken back");
    events += play(&mut rig, &tune(), &[64]).len();
    // With a soundfont in the piano's place, and the piano again.
    let font =
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../plugin/render/src/soundfont/sine.sf2");
    let with_font = reworded(&state, |state| {
        let session = serde_json::json!({ "version": 1, "soundfont": font.to_str() });
        state["fields"]["session"] = serde_json::json!(session.to_string());
    });
    assert!(rig.load(&with_font), "the soundfont is not taken");
    assert!(String::from_utf8_lossy(&rig.save()).contains("sine.sf2"), "the soundfont is not kept");
    let mut script = tune();
    script.at(0.0, Send::Set("Audition piano", 0.9)).at(4.0, Send::Set("Audition piano", 0.0));
    script.at(5.0, Send::Set("Audition piano", 1.0));
    events += play(&mut rig, &script, &[5, 64, 1000]).len();
    assert!(rig.load(&state), "the state is not taken back");
    events += play(&mut rig, &script, &[64]).len();
    println!("{events} events without an allocation");
}
