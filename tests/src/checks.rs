//! What is asked of the plugin in every format; `tests/clap.rs` and `tests/vst3.rs` ask it.
//!
//! Each check starts with a plugin fresh from the disk and panics with what is wrong.

use crate::host::{Heard, Host, Script, Send, check_notes};

mod given;

pub use given::{NAMES, tune, tune_at};

/// Plays a script through a plugin, from start to stop.
pub fn play(host: &mut impl Host, script: &Script, sizes: &[usize]) -> Vec<Heard> {
    host.start(script.sample_rate);
    let heard = script.run(host, sizes);
    host.stop();
    heard
}

pub(crate) fn notes_on(heard: &[Heard]) -> usize {
    heard.iter().filter(|event| matches!(event, Heard::On(..))).count()
}

/// The melody's keys and frames in a script: everything from middle C up.
pub(crate) fn melody_of(script: &Script) -> Vec<Heard> {
    let mut melody: Vec<Heard> = script
        .events
        .iter()
        .filter_map(|(frame, send)| match *send {
            Send::On(channel, key, velocity) if key >= 60 => Some(Heard::On(*frame, channel, key, velocity)),
            Send::Off(channel, key) if key >= 60 => Some(Heard::Off(*frame, channel, key)),
            _ => None,
        })
        .collect();
    melody.sort();
    melody
}

/// The melody leaves as it came, in the same frame, and an accompaniment is added; every note ends.
pub fn melody_passes_and_is_accompanied(host: &mut impl Host) {
    let script = tune();
    let heard = play(host, &script, &[64]);
    check_notes(&heard);
    let melody = melody_of(&script);
    for note in &melody {
        assert!(heard.contains(note), "{note:?} of the melody is missing");
    }
    let sent =
        script.events.iter().filter(|event| matches!(event.1, Send::On(_, key, _) if key < 60)).count();
    let accompaniment = notes_on(&heard) - melody.len() / 2;
    assert!(accompaniment > sent, "only {accompaniment} notes of accompaniment to {sent} keys of chords");
}

/// The accompaniment moves more while the melody stands than while it moves.
pub fn moves_while_the_melody_stands(host: &mut impl Host) {
    let script = tune();
    let heard = play(host, &script, &[64]);
    let melody = melody_of(&script);
    let onsets = |from: f64, to: f64| {
        let span = script.frame(from)..script.frame(to);
        let new = |event: &&Heard| matches!(event, Heard::On(..)) && !melody.contains(event);
        let mut frames: Vec<u64> = heard.iter().filter(new).map(Heard::frame).collect();
        frames.retain(|frame| span.contains(frame));
        frames.dedup();
        frames.len()
    };
    let (moving, still) = (onsets(0.5, 4.0 - 0.1), onsets(4.5, 8.0 - 0.1));
    assert!(still > moving, "{still} onsets while it stands, {moving} while it moves");
}

/// Names, ranges, and text both ways.
pub fn parameters_have_names_ranges_and_words(host: &mut impl Host) {
    let parameters = host.parameters();
    let names: Vec<&str> = parameters.iter().map(|p| p.name.as_str()).collect();
    assert_eq!(names, NAMES);
    for parameter in &parameters {
        assert!(parameter.min < parameter.max, "{parameter:?}");
        assert!((parameter.min..=parameter.max).contains(&parameter.usual), "{parameter:?}");
        assert_eq!(parameter.value, parameter.usual, "{parameter:?}");
        for step in 0..=12 {
            let value = parameter.min + (parameter.max - parameter.min) * f64::from(step) / 12.0;
            let words = host.words(parameter, value);
            assert!(!words.is_empty(), "{parameter:?} has no words for {value}");
            let meant = host.meant(parameter, &words);
            let meant = meant.unwrap_or_else(|| panic!("{}: {words:?} is not understood", parameter.name));
            assert_eq!(host.words(parameter, meant), words, "{}", parameter.name);
        }
    }
    let elaboration = host.parameter("Elaboration");
    let meant = host.meant(&elaboration, "Flowing +0.3").expect("a rung with a part");
    assert_eq!(host.words(&elaboration, meant), "Flowing +0.3");
    for (name, typed) in [
        ("Elaboration", "Shared"),
        ("Wait", "2 beats"),
        ("Own tempo", "92 bpm"),
        ("Sheet gives", "Chords"),
        ("Sheet starts in bar", "17"),
        ("Input", "Two channels"),
        ("Final chord", "On"),
    ] {
        let parameter = host.parameter(name);
        let meant = host.meant(&parameter, typed).unwrap_or_else(|| panic!("{name}: {typed:?}"));
        let words = host.words(&parameter, meant);
        // VST3 hosts write the unit themselves.
        let same = typed.to_lowercase().starts_with(&words.to_lowercase()) && !words.is_empty();
        assert!(same, "{name}: {typed:?} became {words:?}");
    }
    let split = host.parameter("Split key");
    let meant = host.meant(&split, "Eb3").expect("a key's name");
    assert_eq!(host.words(&split, meant), "D#3");
}

/// Automation reaches the music: another rung, another level, bypass.
pub fn automation_changes_the_music<H: Host>(fresh: impl Fn() -> H) {
    let with = |name: &'static str, value: f64| {
        let mut script = tune();
        script.events.insert(0, (0, Send::Set(name, value)));
        let heard = play(&mut fresh(), &script, &[64]);
        check_notes(&heard);
        heard
    };
    let usual = play(&mut fresh(), &tune(), &[64]);
    let plain = with("Elaboration", 0.0);
    let ornate = with("Elaboration", 1.0);
    assert_ne!(plain, usual);
    assert!(notes_on(&plain) < notes_on(&ornate), "{} and {}", notes_on(&plain), notes_on(&ornate));
    let softest = |heard: &[Heard]| {
        heard.iter().filter_map(|e| if let Heard::On(_, _, _, v) = e { Some(*v) } else { None }).min()
    };
    assert!(softest(&with("Level", 0.0)) < softest(&usual));
    let bypassed = with("Bypass", 1.0);
    assert_eq!(notes_on(&bypassed), tune().events.len() / 2, "bypass adds or takes notes");
    // A change in the middle changes what comes after it and nothing before.
    let mut script = tune();
    let middle = script.frame(8.0);
    script.events.push((middle, Send::Set("Elaboration", 0.0)));
    let changed = play(&mut fresh(), &script, &[64]);
    check_notes(&changed);
    let before =
        |heard: &[Heard]| heard.iter().filter(|e| e.frame() + 64 < middle).copied().collect::<Vec<_>>();
    assert_eq!(before(&changed), before(&usual));
    assert_ne!(changed, usual);
}

/// Any cutting into blocks gives the same events, with a host that rounds its position.
pub fn blocks_do_not_matter<H: Host>(fresh: impl Fn() -> H) {
    let mut script = tune();
    script.jitter = 1e-6;
    let reference = play(&mut fresh(), &script, &[64]);
    assert!(notes_on(&reference) > 20);
    let cuts: [&[usize]; 6] = [&[1, 7, 64, 333, 4096], &[31], &[8192], &[480], &[1000, 1], &[63, 65, 64]];
    for sizes in cuts {
        let heard = play(&mut fresh(), &script, sizes);
        if heard != reference {
            let at = heard.iter().zip(&reference).position(|(a, b)| a != b);
            let at = at.unwrap_or(heard.len().min(reference.len()));
            panic!(
                "blocks of {sizes:?} differ from event {at} on: {:?} instead of {:?}",
                heard.get(at..(at + 4).min(heard.len())),
                reference.get(at..(at + 4).min(reference.len()))
            );
        }
    }
}

/// Stopping the transport ends everything at once, held keys or not.
pub fn stopping_ends_everything(host: &mut impl Host) {
    let mut script = Script::new(6.0, 100.0);
    for key in [48, 52, 55] {
        script.events.push((0, Send::On(0, key, 80)));
    }
    let stop = script.frame(7.3);
    script.stops_at = Some(stop);
    // The keys stay down past the stop; only the release belongs to the player.
    let heard = play(host, &script, &[64]);
    check_notes(&heard);
    let last = heard.iter().filter(|e| matches!(e, Heard::Off(..))).map(Heard::frame).max();
    assert!(last.expect("notes") <= stop + 64, "the last note ends at {last:?}, the transport at {stop}");
}

/// Without any transport it plays on its own clock.
pub fn plays_without_a_transport(host: &mut impl Host) {
    let mut script = tune();
    script.has_transport = false;
    script.events.push((script.frames - 4800, Send::Set("Bypass", 1.0)));
    let heard = play(host, &script, &[64]);
    check_notes(&heard);
    let added = notes_on(&heard) - melody_of(&script).len() / 2;
    assert!(added > 12, "only {added} notes of accompaniment");
}

/// A host that stands still is no reason to: the accompaniment moves on its own clock.
pub fn plays_beside_a_standing_transport(host: &mut impl Host) {
    let mut script = Script::new(12.0, 100.0);
    script.stops_at = Some(0);
    for key in [48, 52, 55, 76] {
        script.note(0, key, 80, 0.0, 16.0);
    }
    script.at(18.0, Send::Set("Bypass", 1.0));
    let heard = play(host, &script, &[64]);
    check_notes(&heard);
    let mut onsets: Vec<u64> =
        heard.iter().filter(|e| matches!(e, Heard::On(..))).map(Heard::frame).collect();
    onsets.dedup();
    assert!(onsets.len() > 4, "a note of sixteen beats is accompanied at {onsets:?} only");
}

/// Each hand on a channel of its own.
pub fn hands_go_out_on_three_channels(host: &mut impl Host) {
    let mut script = tune();
    script.events.insert(0, (0, Send::Set("Output channels", 1.0)));
    let heard = play(host, &script, &[64]);
    check_notes(&heard);
    let on = |wanted: u8| heard.iter().filter(|e| matches!(e, Heard::On(_, c, ..) if *c == wanted)).count();
    assert_eq!(on(0), melody_of(&script).len() / 2, "the melody is alone on channel 1");
    assert!(on(1) > 0 && on(2) > 0, "{} notes right, {} notes left", on(1), on(2));
    assert_eq!(on(0) + on(1) + on(2), notes_on(&heard));
}

/// Two input channels instead of a split key.
pub fn two_channels_tell_who_is_who(host: &mut impl Host) {
    let mut script = Script::new(4.0, 100.0);
    // The second of three choices.
    script.events.push((0, Send::Set("Input", 0.5)));
    // The melody below the chords: a split key would take it for harmony.
    script.note(0, 50, 90, 0.0, 3.0);
    for key in [60, 64, 67] {
        script.note(1, key, 70, 0.0, 4.0);
    }
    script.stops_at = Some(script.frame(5.0));
    let heard = play(host, &script, &[64]);
    check_notes(&heard);
    assert!(heard.contains(&Heard::On(0, 0, 50, 90)), "the melody is missing");
    assert!(notes_on(&heard) > 1, "nothing is played to it");
}

/// Controllers pass in the same frame; the accompaniment's pedal goes down and ends up.
pub fn controllers_pass_and_the_pedal_is_used(host: &mut impl Host) {
    let mut script = tune();
    script.events.push((1234, Send::Controller(0, 11, 101)));
    let heard = play(host, &script, &[64]);
    assert!(heard.contains(&Heard::Controller(1234, 0, 11, 101)), "the controller is missing");
    let pedal: Vec<u8> = heard
        .iter()
        .filter_map(|e| if let Heard::Controller(_, _, 64, v) = e { Some(*v) } else { None })
        .collect();
    assert!(pedal.contains(&127), "the pedal is never used: {pedal:?}");
    assert_eq!(pedal.last(), Some(&0), "the pedal stays down");
}

/// State comes back, in another instance too; what is no state is refused and does no harm.
pub fn state_is_kept<H: Host>(fresh: impl Fn() -> H) {
    let mut host = fresh();
    let first = host.save();
    let mut script = tune();
    for (name, value) in [("Elaboration", 0.5), ("Split key", 0.4), ("Manner", 1.0), ("Latch", 0.0)] {
        script.events.insert(0, (0, Send::Set(name, value)));
    }
    play(&mut host, &script, &[64]);
    let changed = host.save();
    assert_ne!(first, changed);
    let words: Vec<String> = NAMES.iter().map(|name| words_now(&mut host, name)).collect();
    let mut other = fresh();
    assert!(other.load(&changed));
    assert_eq!(other.save(), changed);
    for (name, words) in NAMES.iter().zip(&words) {
        assert_eq!(words_now(&mut other, name), *words, "{name}");
    }
    assert!(host.load(&first));
    assert_eq!(host.save(), first);
    // The music follows the state.
    let usual = play(&mut fresh(), &tune(), &[64]);
    let again = play(&mut host, &tune(), &[64]);
    assert_eq!(usual, again);
    assert_ne!(play(&mut other, &tune(), &[64]), usual);
}

pub(crate) fn words_now(host: &mut impl Host, name: &str) -> String {
    let parameter = host.parameter(name);
    host.words(&parameter, parameter.value)
}

/// Damaged, foreign and impossible states do no harm.
pub fn damaged_states_do_no_harm<H: Host>(fresh: impl Fn() -> H) {
    let mut host = fresh();
    let good = host.save();
    let usual = play(&mut host, &tune(), &[64]);
    let cut = good[..good.len() / 2].to_vec();
    let torn: Vec<u8> = good.iter().map(|b| b ^ 0x55).collect();
    for bad in [&[][..], &[0; 7], &[0xff; 64], b"{}", &cut, &torn] {
        host.load(bad);
        assert_eq!(host.save(), good, "{} bytes changed something", bad.len());
    }
    // A state of another version: unknown parameters, values out of range, of a wrong kind, missing.
    let strange = reworded(&good, |state| {
        let params = state["params"].as_object_mut().unwrap();
        params.insert("from_a_later_version".into(), serde_json::json!({ "f32": 0.5 }));
        params.insert("elaboration".into(), serde_json::json!({ "f32": 1e30 }));
        params.insert("seed".into(), serde_json::json!({ "i32": -7 }));
        params.insert("manner".into(), serde_json::json!({ "i32": 77 }));
        params.insert("source".into(), serde_json::json!({ "string": "by ear" }));
        params.remove("wait");
        state["fields"]["desk"] = serde_json::json!("not a desk");
        state["fields"]["later"] = serde_json::json!("{}");
    });
    host.load(&strange);
    assert_eq!(words_now(&mut host, "Elaboration"), "Ornate");
    assert_eq!(words_now(&mut host, "Seed"), "1");
    assert_eq!(words_now(&mut host, "Input"), "Split key");
    check_notes(&play(&mut host, &tune(), &[64]));
    host.save();
    assert!(host.load(&good));
    assert_eq!(play(&mut host, &tune(), &[64]), usual);
}

/// A state with its JSON changed; the length before it, where the format has one, is set anew.
pub fn reworded(state: &[u8], change: impl FnOnce(&mut serde_json::Value)) -> Vec<u8> {
    let start = state.iter().position(|b| *b == b'{').expect("JSON in the state");
    let mut json: serde_json::Value = serde_json::from_slice(&state[start..]).expect("JSON in the state");
    change(&mut json);
    let json = serde_json::to_vec(&json).unwrap();
    let mut new = state[..start].to_vec();
    if start == 8 {
        new = (json.len() as u64).to_le_bytes().to_vec();
    }
    new.extend(json);
    new
}

/// The audio output is silent until the audition piano is turned up, and then not.
pub fn silent_until_asked(host: &mut impl Host) {
    let loudest = |host: &mut dyn FnMut(u64) -> f32| (0..200).map(host).fold(0.0, f32::max);
    for (level, audible) in [(0.0, false), (0.9, true)] {
        host.start(48_000.0);
        let script = Script::new(1.0, 100.0);
        let peak = loudest(&mut |block| {
            let input = match block {
                0 => vec![
                    (0, Send::Set("Audition piano", level)),
                    (3, Send::On(0, 48, 90)),
                    (3, Send::On(0, 64, 90)),
                ],
                _ => Vec::new(),
            };
            host.block(block * 64, 64, script.transport(block * 64), &input);
            host.peak()
        });
        host.stop();
        assert_eq!(peak > 1e-4, audible, "peak {peak} at level {level}");
        assert!(peak < 1.0, "peak {peak} clips");
    }
}

/// What sounds when the plugin is deactivated is ended when it runs again.
pub fn nothing_hangs_over_a_restart(host: &mut impl Host) {
    host.start(48_000.0);
    let script = Script::new(2.0, 100.0);
    let keys: Vec<(u32, Send)> = [48, 52, 55, 67].iter().map(|key| (0, Send::On(0, *key, 80))).collect();
    let mut heard = host.block(0, 512, script.transport(0), &keys);
    for block in 1..40 {
        heard.extend(host.block(block * 512, 512, script.transport(block * 512), &[]));
    }
    assert!(notes_on(&heard) > 3);
    host.stop();
    host.start(44_100.0);
    heard.extend(host.block(40 * 512, 512, script.transport(40 * 512), &[]));
    host.stop();
    check_notes(&heard);
}
