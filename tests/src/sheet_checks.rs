//! What is asked of the plugin with a sheet, in every format: the notes of the offline arrangement.

use figwort_engine::{Hand, Settings};
use figwort_render::{Options, arrange};

use crate::host::{Heard, Host, Script, Send, check_notes};

const FILE: &str = "lamps-along-the-landing.abc";

/// A state with a sheet in it, as a project keeps one.
pub fn with_sheet(state: &[u8], text: &str) -> Vec<u8> {
    crate::checks::reworded(state, |state| {
        let session = serde_json::json!({ "version": 1, "sheet": { "file": FILE, "text": text } });
        state["fields"]["session"] = serde_json::json!(session.to_string());
    })
}

/// The text of the demonstration tune.
pub fn text() -> String {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../presets/songs").join(FILE);
    std::fs::read_to_string(path).expect("the demonstration tune")
}

/// Channel, key, velocity, first and last frame of every note.
type Notes = Vec<(u8, u8, u8, u64, u64)>;

fn notes(heard: &[Heard]) -> Notes {
    let mut notes: Notes = Vec::new();
    for event in heard {
        match *event {
            Heard::On(frame, channel, key, velocity) => notes.push((channel, key, velocity, frame, u64::MAX)),
            Heard::Off(frame, channel, key) => {
                let open = notes.iter_mut().rev().find(|n| (n.0, n.1, n.4) == (channel, key, u64::MAX));
                open.expect("a note that ends").4 = frame;
            }
            _ => {}
        }
    }
    notes.sort_unstable();
    notes
}

/// What `figwort arrange` plays of the sheet with the plugin's settings, the sheet beginning `lead` quarter
/// notes after the host's first.
fn offline(text: &str, lead: f64) -> (Notes, u64) {
    let sheet = figwort_sheet::read(text.as_bytes(), None).expect("a sheet");
    let library = figwort_preset::Library::factory();
    let manner = library.manner(figwort_preset::Library::DEFAULT_MANNER).expect("a manner");
    let settings = Settings { manner: manner.manner, ..Settings::default() };
    let options = Options { sample_rate: 48_000, settings, figures: manner.figures, ..Options::default() };
    let performance = arrange(&sheet, &options);
    let micros = f64::from(sheet.tempos[0].micros_per_quarter);
    let moved = (lead * micros * 0.048).round() as u64;
    let channel = |hand| match hand {
        Hand::Melody => 0,
        Hand::Right => 1,
        Hand::Left => 2,
    };
    let mut notes: Notes = performance
        .notes
        .iter()
        .map(|n| (channel(n.hand), n.pitch.key(), n.velocity.value(), n.on + moved, n.off + moved))
        .collect();
    notes.sort_unstable();
    (notes, performance.end_frame + moved)
}

/// A script in which the host plays the sheet at its own tempo, from bar `bar` of the host on.
fn script(text: &str, frames: u64) -> Script {
    let sheet = figwort_sheet::read(text.as_bytes(), None).expect("a sheet");
    let mut script = Script::new(1.0, 60e6 / f64::from(sheet.tempos[0].micros_per_quarter));
    script.frames = frames + 96_000;
    script.stops_at = Some(frames + 48_000);
    script.events.push((0, Send::Set("Output channels", 1.0)));
    script
}

/// The same notes in the same order, at most a frame apart: the sheet's beginning need not lie on a frame of
/// the host, so its places are rounded otherwise.
fn check_same(live: &Notes, offline: &Notes, what: &str) {
    for (a, b) in live.iter().zip(offline) {
        let same = (a.0, a.1, a.2) == (b.0, b.1, b.2) && a.3.abs_diff(b.3) <= 1 && a.4.abs_diff(b.4) <= 1;
        assert!(same, "{what}: {a:?} live, {b:?} offline (channel, key, velocity, first and last frame)");
    }
    assert_eq!(live.len(), offline.len(), "{what}");
}

/// With a sheet loaded and the transport running, the notes are those of the offline arrangement, in their
/// frames, whatever the blocks, and a host that rounds changes nothing.
pub fn a_sheet_plays_as_it_does_offline<H: Host>(fresh: impl Fn() -> H) {
    let text = text();
    let lead = lead(&text);
    let (expected, end) = offline(&text, lead);
    assert!(expected.len() > 300, "{} notes", expected.len());
    for (sizes, jitter) in [(&[512][..], 0.0), (&[1, 7, 64, 333, 4096][..], 1e-6)] {
        let mut host = fresh();
        let state = host.save();
        assert!(host.load(&with_sheet(&state, &text)));
        let mut script = script(&text, end);
        script.jitter = jitter;
        let heard = crate::checks::play(&mut host, &script, sizes);
        check_notes(&heard);
        let live = notes(&heard);
        check_same(&live, &expected, &format!("blocks of {sizes:?}"));
        let saved = String::from_utf8_lossy(&host.save()).into_owned();
        assert!(saved.contains("Lamps Along the Landing"), "the project keeps the sheet");
    }
}

/// Quarter notes from the host's beginning to the sheet's: a pick-up ends with the host's first bar.
fn lead(text: &str) -> f64 {
    let sheet = figwort_sheet::read(text.as_bytes(), None).expect("a sheet");
    let first = sheet.bars[0];
    (first.metre.bar() - first.length).in_quarters()
}

/// The sheet may begin in another bar; before it and past its end there is silence.
pub fn a_sheet_begins_where_it_is_told(host: &mut impl Host) {
    let text = text();
    let state = host.save();
    assert!(host.load(&with_sheet(&state, &text)));
    let bar = figwort_sheet::read(text.as_bytes(), None).expect("a sheet").bars[0].metre.bar().in_quarters();
    let (expected, end) = offline(&text, lead(&text) + 2.0 * bar);
    let mut script = script(&text, end);
    script.events.push((0, Send::Set("Sheet starts in bar", 2.0 / 998.0)));
    let heard = crate::checks::play(host, &script, &[480]);
    check_notes(&heard);
    let live = notes(&heard);
    check_same(&live, &expected, "from the third bar");
    let begins = script.frame(2.0 * bar + lead(&text));
    assert!(live.iter().all(|note| note.3 + 1 >= begins), "something sounds before the sheet");
    assert!(live.iter().all(|note| note.4 <= end + 1), "something sounds past the end");
}

/// The sheet gives the chords alone: the player's melody is accompanied with nothing else held.
pub fn a_sheet_gives_the_chords_alone(host: &mut impl Host) {
    let text = text();
    let state = host.save();
    assert!(host.load(&with_sheet(&state, &text)));
    let mut script = script(&text, 48_000 * 12);
    script.events.push((0, Send::Set("Sheet gives", 1.0 / 3.0)));
    script.note(0, 79, 90, 4.0, 3.5);
    let heard = crate::checks::play(host, &script, &[256]);
    check_notes(&heard);
    let melody: Vec<u8> = notes(&heard).iter().filter(|note| note.0 == 0).map(|note| note.1).collect();
    assert_eq!(melody, [79], "the melody is the player's alone");
    assert!(notes(&heard).len() > 8, "and is accompanied");
}

/// A state without a sheet takes the loaded one away; one with a sheet that cannot be read loads all the same, and keeps
/// it.
pub fn projects_bring_their_own_sheet(host: &mut impl Host) {
    let fresh = host.save();
    let with = with_sheet(&fresh, &text());
    assert!(host.load(&with));
    let kept = host.save();
    assert!(String::from_utf8_lossy(&kept).contains("Lamps"));
    assert!(host.load(&kept));
    assert_eq!(host.save(), kept);
    let older = crate::checks::reworded(&fresh, |state| {
        state["version"] = serde_json::json!("0.0.1");
        state["fields"].as_object_mut().expect("fields").remove("session");
    });
    assert!(host.load(&older));
    assert!(!String::from_utf8_lossy(&host.save()).contains("Lamps"));
    for damaged in [with_sheet(&fresh, "Dear Anna,\nit rains."), with_sheet(&fresh, "")] {
        assert!(host.load(&kept));
        assert!(host.load(&damaged), "the rest of the project is good");
        let saved = host.save();
        let text = String::from_utf8_lossy(&saved).into_owned();
        assert!(!text.contains("Lamps"), "the other project's sheet is kept");
        // Another version may be able to read it.
        assert_eq!(text.contains("Anna"), damaged.windows(4).any(|letters| letters == b"Anna"));
        assert!(host.load(&saved));
        assert_eq!(host.save(), saved);
    }
}
