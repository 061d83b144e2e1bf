//! What hosts do to a plugin beside letting it play: rates and blocks of every size, switching on and off,
//! no buffers, other threads, states at any time, crowds, floods, disorder. Asked in every format.
//!
//! Each check starts with a plugin fresh from the disk and panics with what is wrong.

use crate::checks::{NAMES, melody_of, notes_on, play, tune, tune_at, words_now};
use crate::host::{Buffers, Heard, Host, Script, Send, check_notes};

/// The sample rates of audio interfaces, in frames per second.
pub const RATES: [f64; 8] =
    [22_050.0, 32_000.0, 44_100.0, 48_000.0, 88_200.0, 96_000.0, 176_400.0, 192_000.0];

/// A number without pattern from another one, `0..1`.
fn noise(n: u64) -> f64 {
    let mut x = n.wrapping_add(1).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    x ^= x >> 29;
    x = x.wrapping_mul(0xbf58_476d_1ce4_e5b9);
    x ^= x >> 32;
    (x >> 11) as f64 / (1u64 << 53) as f64
}

/// Block sizes from 1 to 8192, small ones as often as large ones, none like the one before.
fn sizes(seed: u64) -> Vec<usize> {
    let mut sizes: Vec<usize> = vec![1, 8192];
    for n in 0..60 {
        let size = 2f64.powf(13.0 * noise(seed * 1000 + n)).round() as usize;
        sizes.push(if sizes.last() == Some(&size) { size % 8192 + 1 } else { size });
    }
    sizes
}

/// Each event without its frame, with its place in seconds, in an order that doesn't depend on rounding.
fn in_seconds(heard: &[Heard], sample_rate: f64) -> Vec<(Heard, f64)> {
    let mut events: Vec<(Heard, f64)> = heard
        .iter()
        .map(|event| {
            let seconds = event.frame() as f64 / sample_rate;
            let bare = match *event {
                Heard::On(_, channel, key, velocity) => Heard::On(0, channel, key, velocity),
                Heard::Off(_, channel, key) => Heard::Off(0, channel, key),
                Heard::Controller(_, channel, number, value) => Heard::Controller(0, channel, number, value),
                Heard::Midi(_, bytes) => Heard::Midi(0, bytes),
            };
            (bare, seconds)
        })
        .collect();
    events.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    events
}

/// Every sample rate, in blocks that change at every call, gives the same notes in the nearest frames.
pub fn sample_rates_do_not_matter<H: Host>(fresh: impl Fn() -> H) {
    let script = tune();
    let usual = in_seconds(&play(&mut fresh(), &script, &[64]), script.sample_rate);
    assert!(usual.len() > 60, "{} events", usual.len());
    for (seed, rate) in RATES.into_iter().enumerate() {
        let script = tune_at(rate, 100.0);
        let heard = play(&mut fresh(), &script, &sizes(seed as u64));
        check_notes(&heard);
        for note in melody_of(&script) {
            assert!(heard.contains(&note), "{note:?} of the melody is missing at {rate} Hz");
        }
        let events = in_seconds(&heard, rate);
        assert_eq!(events.len(), usual.len(), "events at {rate} Hz");
        // Half a frame of either rate for rounding, and one for what is counted from a rounded frame.
        let near = 1.5 / rate + 0.5 / 48_000.0;
        for (event, wanted) in events.iter().zip(&usual) {
            assert_eq!(event.0, wanted.0, "at {rate} Hz");
            let off = event.1 - wanted.1;
            assert!(off.abs() <= near, "{:?} is {off} s from its place at {rate} Hz", event.0);
        }
    }
}

/// Switched on and off over and over, at one rate and another, with and without a block between: it plays the
/// same each time.
pub fn can_be_switched_on_and_off(host: &mut impl Host) {
    let rates = [48_000.0, 44_100.0, 96_000.0];
    let scripts = rates.map(|rate| tune_at(rate, 200.0));
    let first: Vec<Vec<Heard>> = scripts.iter().map(|script| play(host, script, &[512])).collect();
    let silence = tune_at(48_000.0, 200.0);
    for round in 0..60 {
        let which = round % 3;
        host.activate(rates[which]);
        if round % 2 == 0 {
            host.begin();
            if round % 4 == 0 {
                host.block(0, 1 + round * 100, silence.transport(silence.frames), &[]);
            }
            host.end();
        }
        host.deactivate();
        let heard = play(host, &scripts[which], &[512]);
        check_notes(&heard);
        assert!(heard == first[which], "round {round} at {} Hz is not as the first", rates[which]);
    }
}

/// Processing stops and starts again while the plugin stays active, with keys down: all is ended, nothing twice.
pub fn nothing_hangs_over_a_pause(host: &mut impl Host) {
    let script = Script::new(100.0, 100.0);
    let keys: Vec<(u32, Send)> = [48, 52, 55, 67].iter().map(|key| (0, Send::On(0, *key, 80))).collect();
    host.activate(48_000.0);
    let mut heard = Vec::new();
    let mut at = 0;
    for _ in 0..12 {
        host.begin();
        let before = notes_on(&heard);
        for block in 0..60 {
            let input = if block == 0 { &keys[..] } else { &[] };
            heard.extend(host.block(at, 512, script.transport(at), input));
            at += 512;
        }
        assert!(notes_on(&heard) >= before + 4, "after a pause less is played than keys are down");
        host.end();
    }
    host.begin();
    let mut standing = script.transport(at).expect("a transport");
    standing.playing = false;
    for _ in 0..4 {
        heard.extend(host.block(at, 512, Some(standing), &[]));
        at += 512;
    }
    host.stop();
    check_notes(&heard);
}

/// Blocks without audio buffers do no harm: what sounds is ended, and it plays on afterwards.
pub fn plays_on_after_blocks_without_buffers<H: Host>(fresh: impl Fn() -> H) {
    let usual = play(&mut fresh(), &tune(), &[512]);
    for buffers in [Buffers::NoPorts, Buffers::NoChannels] {
        let mut host = fresh();
        let mut script = tune();
        let (from, to) = (script.frame(3.0), script.frame(4.0));
        let stop = script.frame(15.0);
        script.stops_at = Some(stop);
        host.start(script.sample_rate);
        let heard = script.run_with(&[4096], |at, frames, transport, input| {
            let without = (from..to).contains(&at);
            host.set_buffers(if without { buffers } else { Buffers::Stereo });
            host.block(at, frames, transport, input)
        });
        host.stop();
        // A note that ends in such a block may be lost with it; what is left has to end with the transport.
        let mut sounding = std::collections::BTreeSet::new();
        for event in &heard {
            match *event {
                Heard::On(_, channel, key, _) => sounding.insert((channel, key)),
                Heard::Off(_, channel, key) => sounding.remove(&(channel, key)),
                _ => false,
            };
        }
        assert!(sounding.is_empty(), "{buffers:?}: {sounding:?} sounds on");
        let later = heard.iter().filter(|e| matches!(e, Heard::On(..)) && e.frame() >= to).count();
        assert!(later > 10, "{buffers:?}: only {later} notes afterwards");
        host.set_buffers(Buffers::Stereo);
        assert!(play(&mut host, &tune(), &[512]) == usual, "{buffers:?} leave something behind");
    }
}

/// A parameter handed over without a block counts like automation at the beginning.
pub fn parameters_arrive_without_a_block<H: Host>(fresh: impl Fn() -> H) {
    let mut automated = tune();
    automated.events.insert(0, (0, Send::Set("Elaboration", 0.0)));
    let wanted = play(&mut fresh(), &automated, &[64]);
    assert_ne!(wanted, play(&mut fresh(), &tune(), &[64]));
    // Active and inactive.
    let mut host = fresh();
    host.activate(48_000.0);
    host.flush("Elaboration", 0.0);
    assert_eq!(words_now(&mut host, "Elaboration"), "Plain");
    host.begin();
    let heard = tune().run(&mut host, &[64]);
    host.stop();
    assert!(heard == wanted, "what came while it was active does not reach the music");
    host.flush("Elaboration", 1.0);
    assert_eq!(words_now(&mut host, "Elaboration"), "Ornate");
    host.flush("Elaboration", 0.0);
    assert!(play(&mut host, &tune(), &[64]) == wanted, "what came while it was off does not reach the music");
}

/// The audio thread is another one each time, and the main thread asks for the state meanwhile.
pub fn threads_do_not_matter<H: Host>(fresh: impl Fn() -> H) {
    let script = tune();
    let usual = play(&mut fresh(), &script, &[64]);
    let mut host = fresh();
    let state = host.save();
    for round in 0..4 {
        let (heard, states) = host.play_apart(&script, &[64, 480, 1]);
        assert!(heard == usual, "round {round} on a thread of its own is not as on the main thread");
        assert!(states.iter().all(|told| *told == state), "the state changes while it plays");
        assert!(states.len() > 1, "the state was not asked for while it played");
    }
    assert!(play(&mut host, &script, &[64]) == usual, "it does not come back to the main thread");
}

/// States are told and taken before it is active, while it is, while it plays, and after: always the same one,
/// and the music follows from there on.
pub fn states_in_every_phase<H: Host>(fresh: impl Fn() -> H) {
    let script = tune();
    let first = fresh().save();
    let changed = {
        let mut host = fresh();
        for (name, value) in [("Elaboration", 0.0), ("Output channels", 1.0), ("Seed", 0.5)] {
            host.flush(name, value);
        }
        host.save()
    };
    assert_ne!(first, changed);
    let standing = script.transport(script.frames);
    // One life: fresh, active, processing, off; the state comes at one of these and is asked for at each.
    let life = |load_at: usize| {
        let mut host = fresh();
        let mut now = first.clone();
        let mut here = |host: &mut H, phase: usize| {
            assert!(host.save() == now, "phase {phase}: the state told is not the one taken");
            if load_at == phase {
                assert!(host.load(&changed), "phase {phase}: the state is refused");
                now = changed.clone();
                assert!(host.save() == now, "phase {phase}: the state told is not the one just taken");
            }
        };
        here(&mut host, 0);
        host.activate(script.sample_rate);
        here(&mut host, 1);
        host.begin();
        let mut early = host.block(0, 512, standing, &[]);
        here(&mut host, 2);
        early.extend(script.run(&mut host, &[256]));
        here(&mut host, 3);
        host.end();
        here(&mut host, 4);
        host.deactivate();
        here(&mut host, 5);
        let late = play(&mut host, &script, &[256]);
        check_notes(&early);
        check_notes(&late);
        (early, late)
    };
    let (early, late) = life(0);
    let (other, never) = life(usize::MAX);
    assert!(early != other && late != never, "the state changes no note");
    for phase in 1..=5 {
        let (now, then) = life(phase);
        let wanted = if phase <= 2 { &early } else { &other };
        assert!(now == *wanted, "a state taken in phase {phase}: the first tune is another");
        assert!(then == late, "a state taken in phase {phase}: the second tune is another");
    }
}

/// Two hundred at once, in twelve keys: each plays what it plays alone.
pub fn two_hundred_at_once<H: Host>(fresh: impl Fn() -> H) {
    let transposed = |by: u8| {
        let mut script = tune_at(22_050.0, 240.0);
        for (_, send) in &mut script.events {
            // Up to a sixth each way; chords stay below the split key, the melody above it.
            match send {
                Send::On(_, key, _) | Send::Off(_, key) if *key < 60 => *key = *key - 6 + by % 7,
                Send::On(_, key, _) | Send::Off(_, key) => *key += by,
                _ => {}
            }
        }
        script
    };
    let scripts: Vec<Script> = (0..12).map(transposed).collect();
    let alone: Vec<Vec<Heard>> = scripts.iter().map(|s| play(&mut fresh(), s, &[1024])).collect();
    for (n, heard) in alone.iter().enumerate() {
        check_notes(heard);
        assert!(notes_on(heard) > 20 && !alone[..n].contains(heard), "key {n} is no tune of its own");
    }
    let mut hosts: Vec<H> = (0..200).map(|_| fresh()).collect();
    for host in &mut hosts {
        host.start(22_050.0);
    }
    let mut heard = vec![Vec::new(); hosts.len()];
    // One by one at every block, as a host goes through its tracks.
    let mut turn = |at: u64, frames: usize, transport, parts: &[Vec<(u32, Send)>]| {
        for (n, (host, heard)) in hosts.iter_mut().zip(&mut heard).enumerate() {
            heard.extend(host.block(at, frames, transport, &parts[n % 12]));
        }
    };
    let mut sorted = scripts.clone();
    for script in &mut sorted {
        script.events.sort_by_key(|event| event.0);
    }
    // All have the same frames; the first one's blocks are everyone's.
    scripts[0].run_with(&[1024], |at, frames, transport, _| {
        let span = at..at + frames as u64;
        let part = |script: &Script| {
            let within = script.events.iter().filter(|e| span.contains(&e.0));
            within.map(|(frame, send)| ((frame - at) as u32, send.clone())).collect()
        };
        let parts: Vec<Vec<(u32, Send)>> = sorted.iter().map(part).collect();
        turn(at, frames, transport, &parts);
        Vec::new()
    });
    for (n, heard) in heard.iter().enumerate() {
        assert!(*heard == alone[n % 12], "instance {n} of 200 plays something else than alone");
    }
}

/// A flood: every key of every channel, several times within a block, controllers between; then it plays on.
pub fn survives_a_flood<H: Host>(fresh: impl Fn() -> H) {
    let usual = play(&mut fresh(), &tune(), &[512]);
    let mut host = fresh();
    let mut flood = Script::new(4.0, 120.0);
    for wave in 0..4u64 {
        for n in 0..2048u64 {
            let (channel, key) = ((n % 16) as u8, (n / 16) as u8);
            let at = wave * 4000 + n % 97;
            let velocity = 1 + (n % 127) as u8;
            flood.events.push((at, Send::On(channel, key, velocity)));
            flood.events.push((at + 200, Send::Controller(channel, key % 120, velocity)));
            // The last wave stays down: the stop has to end it.
            if wave < 3 {
                flood.events.push((at + 300, Send::Off(channel, key)));
            }
        }
    }
    for (n, name) in NAMES.iter().enumerate().filter(|(_, name)| **name != "Bypass") {
        for step in 0..200 {
            flood.events.push((step * 10, Send::Set(name, noise(n as u64 * 1000 + step))));
        }
    }
    for key in 0..128u64 {
        for channel in 0..16 {
            flood.events.push((100_000, Send::Off(channel, key as u8)));
        }
    }
    flood.stops_at = Some(120_000);
    let state = host.save();
    let heard = play(&mut host, &flood, &[2048]);
    check_notes(&heard);
    assert!(notes_on(&heard) > 2048, "only {} notes got through", notes_on(&heard));
    assert!(host.load(&state), "the state is not taken back");
    assert!(play(&mut host, &tune(), &[512]) == usual, "the flood leaves something behind");
}

/// Events of a block in any order are played in theirs.
pub fn disorder_does_not_matter<H: Host>(fresh: impl Fn() -> H) {
    let script = tune();
    let usual = play(&mut fresh(), &script, &[4096]);
    let mut host = fresh();
    host.start(script.sample_rate);
    let mut moved = 0;
    let heard = script.run_with(&[4096], |at, frames, transport, input| {
        let mut input = input.to_vec();
        // Latest first, but in a frame as they were.
        input.sort_by_key(|event| std::cmp::Reverse(event.0));
        moved += input.windows(2).filter(|pair| pair[0].0 > pair[1].0).count();
        host.block(at, frames, transport, &input)
    });
    host.stop();
    assert!(moved > 3, "only {moved} events were out of order");
    check_notes(&heard);
    assert!(heard == usual, "another order of the input gives other notes");
}
