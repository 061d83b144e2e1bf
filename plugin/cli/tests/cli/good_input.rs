//! Input that can be used: what comes out, and that it comes out the same.

use std::fs;

use figwort_sheet::take::{self, TakeMessage};

use crate::room::{Room, TUNE, songs, take as take_bytes};

/// How many notes a part file holds on its tracks together.
fn notes(part: &[u8]) -> usize {
    let read = take::read(part).unwrap();
    read.events.iter().filter(|event| matches!(event.message, TakeMessage::NoteOn { .. })).count()
}

#[test]
fn a_sheet_becomes_every_kind_of_file() {
    let room = Room::new();
    room.put("tune.abc", TUNE);
    let run = room
        .figwort("arrange tune.abc -o part.mid --wav part.wav --picture part.png --report part.json --also svg,txt")
        .clean();
    assert_eq!(run.out, "");
    for name in ["part.mid", "part.wav", "part.png", "part.json", "part.svg", "part.txt"] {
        assert!(run.err.contains(&format!("wrote {name}")), "{run:?}");
    }
    // The melody alone has 17 notes; there must be an accompaniment.
    let played = notes(&room.bytes("part.mid"));
    assert!(played > 17 + 4, "{played}");
    assert!(room.bytes("part.wav").starts_with(b"RIFF"));
    assert!(room.bytes("part.png").starts_with(b"\x89PNG"));
    assert!(room.text("part.svg").contains("<svg"));
    let report: serde_json::Value = serde_json::from_slice(&room.bytes("part.json")).unwrap();
    assert_eq!(report["manner"], "unhurried");
    assert_eq!(report["bars"].as_array().map(Vec::len), Some(4));
    let figures =
        report["bars"].as_array().unwrap().iter().flat_map(|bar| bar["figures"].as_array().unwrap());
    for figure in figures {
        assert!(report["figure_names"][figure.to_string()].is_string(), "figure {figure} has no name");
    }
    let printed = room.figwort("arrange tune.abc --text").clean().out;
    assert!(!printed.is_empty() && printed == room.text("part.txt"));
    let table = room.figwort("arrange tune.abc --table").clean().out;
    assert!(table.lines().count() >= 4, "a line for each bar: {table}");
}

#[test]
fn the_same_seed_gives_the_same_bytes_and_a_part_is_replaced_whole() {
    let room = Room::new();
    room.put("tune.abc", TUNE).put("b.mid", "x".repeat(100_000));
    room.figwort("arrange tune.abc -o a.mid --seed 3").clean();
    room.figwort("arrange tune.abc -o b.mid --seed 3").clean();
    assert_eq!(room.bytes("a.mid"), room.bytes("b.mid"));
    // Nothing beside them, hidden or not.
    assert_eq!(room.everything().len(), 3);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = |name| fs::metadata(room.path(name)).unwrap().permissions().mode() & 0o777;
        assert_eq!(mode("a.mid"), mode("tune.abc"), "readable as any new file is");
    }
}

/// The music is the same with any block length, to the byte.
#[test]
fn a_take_is_followed_the_same_at_any_block() {
    let room = Room::new();
    room.put("take.mid", take_bytes(0, 1));
    for block in [1, 64, 333, 8192] {
        room.figwort(&format!("follow take.mid -o {block}.mid --block {block}")).clean();
        assert_eq!(room.bytes(&format!("{block}.mid")), room.bytes("1.mid"), "block {block}");
    }
    // 12 notes of melody and 16 of chords were played; the chords are replaced by the part.
    assert!(notes(&room.bytes("1.mid")) > 12 + 4, "{}", notes(&room.bytes("1.mid")));
}

/// By chance it moves elsewhere than after the wait, also the same with any block length.
#[test]
fn a_take_can_be_moved_under_by_chance() {
    let take: &[u8] = include_bytes!("../../../../presets/songs/lamps-along-the-landing.take.mid");
    let room = Room::new();
    room.put("take.mid", take);
    room.figwort("follow take.mid -o wait.mid --start after-wait").clean();
    room.figwort("follow take.mid -o usual.mid").clean();
    room.figwort("follow take.mid -o chance.mid --start by-chance").clean();
    room.figwort("follow take.mid -o blocks.mid --start by-chance --block 1000").clean();
    assert_eq!(room.bytes("wait.mid"), room.bytes("usual.mid"));
    assert_eq!(room.bytes("chance.mid"), room.bytes("blocks.mid"));
    assert_ne!(room.bytes("chance.mid"), room.bytes("wait.mid"));
}

#[test]
fn channels_and_split_say_who_is_who() {
    let room = Room::new();
    room.put("two.mid", take_bytes(0, 1)).put("other.mid", take_bytes(4, 9)).put("one.mid", take_bytes(0, 0));
    room.figwort("follow two.mid -o two-part.mid").clean();
    room.figwort("follow other.mid -o other-part.mid --melody-channel 5 --chord-channel 10").clean();
    assert_eq!(room.bytes("two-part.mid"), room.bytes("other-part.mid"));
    // The highest chord key is C4 (60), the lowest melody key E4 (64).
    room.figwort("follow one.mid -o one-part.mid --split 61").clean();
    assert_eq!(room.bytes("two-part.mid"), room.bytes("one-part.mid"));
    room.figwort("follow one.mid -o hands-part.mid --hands").clean();
    assert_eq!(room.bytes("two-part.mid"), room.bytes("hands-part.mid"));
    room.figwort("follow one.mid -o x.mid").warned(&["one.mid: no chords on channel 2", "channel 1"]);
}

#[test]
fn stages_are_the_five_rungs() {
    let room = Room::new();
    room.put("tune.abc", TUNE);
    room.figwort("arrange tune.abc -o part.mid --stages").clean();
    for (number, rung) in ["plain", "spaced", "shared", "flowing", "ornate"].iter().enumerate() {
        room.figwort(&format!("arrange tune.abc -o {number}.mid --elaboration {number}")).clean();
        assert_eq!(room.bytes(&format!("{number}.mid")), room.bytes(&format!("part.{rung}.mid")));
        room.figwort(&format!("arrange tune.abc -o named.mid --elaboration {rung}")).clean();
        assert_eq!(room.bytes("named.mid"), room.bytes(&format!("part.{rung}.mid")));
    }
    assert_eq!(room.bytes("part.mid"), room.bytes("part.flowing.mid"));
    assert_ne!(room.bytes("part.plain.mid"), room.bytes("part.shared.mid"));
    assert_ne!(room.bytes("part.shared.mid"), room.bytes("part.flowing.mid"));
}

#[test]
fn several_tunes_in_one_file() {
    let room = Room::new();
    let second = TUNE.replace("X:1", "X:5").replace("\"F6\"F8", "\"F6\"A8");
    room.put("book.abc", format!("{TUNE}\n{second}"));
    room.figwort("arrange book.abc -o first.mid").warned(&[
        "book.abc: 2 tunes",
        "X:1, Jetty Steps",
        "--tune",
    ]);
    room.figwort("arrange book.abc -o one.mid --tune 1").clean();
    room.figwort("arrange book.abc -o five.mid --tune 5").clean();
    assert_eq!(room.bytes("first.mid"), room.bytes("one.mid"));
    assert_ne!(room.bytes("one.mid"), room.bytes("five.mid"));
    assert!(room.figwort("check book.abc").clean().out.contains("2 tunes, 8 bars"));
}

/// A sheet without chords is read, and the warning says why nothing accompanies it.
#[test]
fn a_sheet_without_chords() {
    let room = Room::new();
    let bare: String =
        TUNE.split('"').enumerate().filter(|(i, _)| i % 2 == 0).map(|(_, text)| text).collect();
    room.put("bare.abc", bare);
    let run = room.figwort("arrange bare.abc -o part.mid").warned(&["bare.abc: ", "no chord"]);
    assert_eq!(run.err.matches("warning: ").count(), 1, "once is enough: {run:?}");
}

/// One's own figures and manners, started from the factory's.
#[test]
fn own_presets_are_listed_checked_and_played() {
    let room = Room::new();
    let figure = room.figwort("figures --show rising").clean().out;
    let manner = room.figwort("manners --show unhurried").clean().out;
    let (before, rest) = manner.split_once("figures = [").expect("figures");
    let (_, after) = rest.split_once(']').expect("an end");
    let mine = format!("{before}figures = [\"swell\"]{after}");
    room.put("tune.abc", TUNE)
        .put("mine/swell.toml", figure.replace("name = \"rising\"", "name = \"swell\""))
        .put("mine/mine.toml", mine.replace("name = \"unhurried\"", "name = \"mine\""));
    let listed = room.figwort("manners").clean().out;
    assert!(listed.starts_with("unhurried ") && listed.lines().count() == 11, "{listed}");
    let listed = room.figwort("manners --presets mine").clean().out;
    assert!(listed.contains("\nmine "), "{listed}");
    let listed = room.figwort("figures --presets mine").clean().out;
    assert!(
        listed.contains("\nswell ") && listed.contains("[broken chord; 4/4 3/4 6/8 2/4 5/4 7/8 9/8 12/8]"),
        "{listed}"
    );
    let checked = room.figwort("check mine").clean().out;
    assert!(
        checked.contains("manner \"mine\", 1 figure\n") && checked.contains("figure \"swell\"\n"),
        "{checked}"
    );
    room.figwort("arrange tune.abc -o own.mid --presets mine --manner mine").clean();
    // A manner file by itself finds only factory figures.
    let alone = room.figwort("arrange tune.abc -o x.mid --manner mine/mine.toml");
    assert!(alone.code == 1 && alone.err.contains("there is no figure \"swell\""), "{alone:?}");
    room.figwort("arrange tune.abc -o file.mid --presets mine --manner mine/mine.toml").clean();
    assert_eq!(room.bytes("own.mid"), room.bytes("file.mid"));
}

/// The demonstration tunes in every manner, without a warning.
#[test]
fn the_demonstration_tunes_are_arranged_in_every_manner() {
    let room = Room::new();
    let songs = songs();
    let sheets = fs::read_dir(&songs)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|extension| extension == "abc"));
    let mut count = 0;
    for sheet in sheets {
        for manner in ["unhurried", "light-footed", "strolling bass"] {
            let sheet = sheet.to_str().unwrap();
            room.figwort_with(&["arrange", sheet, "-o", "part.mid", "--manner", manner]).clean();
            count += 1;
        }
    }
    assert!(count >= 9, "{count} parts");
}

#[test]
fn held_chords_are_named() {
    let room = Room::new();
    for (keys, name) in [
        ("48 52 55 58", "C7"),
        ("C3 E3 G3 Bb3", "C7"),
        ("58 55 52 48", "C7"),
        ("52 55 60", "C/E"),
        ("45 48 52 55", "Am7"),
        ("48 52 55 57", "C6"),
        ("--key Eb 46 50 53 56", "Bb7"),
        ("--key E 56 59 63", "G#m"),
        ("--key Cm 51 55 58", "Eb"),
    ] {
        let run = room.figwort(&format!("name {keys}")).clean();
        assert_eq!(run.out, format!("{name}\n"), "{keys}");
    }
}

#[test]
fn a_part_becomes_sheet_music_that_can_be_read_again() {
    let room = Room::new();
    room.put("tune.abc", TUNE);
    room.figwort("arrange tune.abc -o part.mid --score part.musicxml --also mxl").clean();
    let plain = figwort_sheet::read(&room.bytes("part.musicxml"), None).unwrap();
    let packed = figwort_sheet::read(&room.bytes("part.mxl"), None).unwrap();
    let tune = figwort_sheet::read(TUNE.as_bytes(), None).unwrap();
    assert_eq!(plain.melody, packed.melody);
    let notes = |sheet: &figwort_sheet::Sheet| {
        sheet.melody.iter().map(|note| (note.at, note.length, note.pitch)).collect::<Vec<_>>()
    };
    assert_eq!(notes(&plain), notes(&tune));
    assert_eq!(plain.chords, tune.chords);
    assert!(room.text("part.musicxml").contains("accompaniment by Figwort"));
    // And it can be arranged in its turn.
    room.figwort("arrange part.mxl -o again.mid").clean();
}

#[test]
fn a_long_picture_takes_several_pages() {
    let room = Room::new();
    room.put("songs/landing.abc", fs::read(songs().join("lamps-along-the-landing.abc")).unwrap());
    room.figwort("arrange songs/landing.abc --picture roll.svg").clean();
    assert!(room.text("roll-1.svg").contains("<svg") && room.text("roll-2.svg").contains("<svg"));
    assert!(!room.path("roll.svg").exists());
    // Pages of an earlier picture are not taken for this one's, nor for anything to be deleted.
    room.put("songs/tune.abc", TUNE);
    let run = room.figwort("arrange songs/tune.abc --picture roll.svg");
    for page in ["roll-1.svg", "roll-2.svg"] {
        assert!(run.err.contains(&format!("warning: {page}: not of this picture")), "{run:?}");
        assert!(room.path(page).exists());
    }
    assert!(run.code == 0 && run.err.contains("wrote roll.svg"), "{run:?}");
    let run = room.figwort("arrange songs/landing.abc --picture roll.svg");
    assert_eq!(run.err.matches("warning: ").count(), 1, "{run:?}");
    assert!(run.err.contains("warning: roll.svg: not of this picture"), "{run:?}");
}

/// A melody at the bottom of the keyboard: nothing can be played below it, and it is said in how many bars.
#[test]
fn a_melody_that_leaves_no_room() {
    let room = Room::new();
    let low = "X:1\nM:4/4\nL:1/4\nK:C\n\"C\"c4|\"F\"F,,,4|\"G7\"G,,,,4|\"C\"c4|]\n";
    room.put("low.abc", low).put("songs/low.abc", low);
    let words = "in 2 of 4 bars the melody lies so low that no accompaniment finds room below it";
    room.figwort("arrange low.abc -o low.mid").warned(&[
        "low.abc: ",
        words,
        "put it an octave or two higher",
    ]);
    let run = room.figwort("arrange songs -o parts");
    assert!(run.out.contains(&format!("warn  parts/low.mid: 4 bars; {words}")), "{run:?}");
    // Two octaves higher, as it says: no word, and a part.
    room.put("high.abc", low.replace(",,", ""));
    room.figwort("arrange high.abc -o high.mid").clean();
    assert!(notes(&room.bytes("high.mid")) > notes(&room.bytes("low.mid")));
    // Rests are no lack of room: here the melody begins alone.
    room.put("rest.abc", low.replace("\"F\"F,,,4|\"G7\"G,,,,4|", "z4|z4|"));
    room.figwort("arrange rest.abc -o rest.mid").clean();
}

#[test]
fn the_stages_come_alone_and_in_turn() {
    let room = Room::new();
    room.put("tune.abc", TUNE);
    room.figwort("arrange tune.abc -o part.mid --stages --also musicxml").clean();
    let rungs = ["plain", "spaced", "shared", "flowing", "ornate"];
    let alone: usize = rungs.iter().map(|rung| notes(&room.bytes(&format!("part.{rung}.mid")))).sum();
    assert_eq!(notes(&room.bytes("part.stages.mid")), alone);
    let score = room.text("part.stages.musicxml");
    for rung in ["Plain", "Spaced", "Shared", "Flowing", "Ornate"] {
        assert!(score.contains(&format!("<rehearsal>{rung}</rehearsal>")), "{rung}");
    }
}

#[test]
fn a_chart_is_printed() {
    let room = Room::new();
    room.put("tune.abc", TUNE);
    let chart = room.figwort("arrange tune.abc --chart").clean().out;
    assert!(chart.starts_with("Jetty Steps\nF major, 4/4, 90 quarters a minute\n"), "{chart}");
    assert!(chart.contains("| F       Dm7      | Gm7"), "{chart}");
    assert!(chart.trim_end().lines().any(|line| line.ends_with("|]")), "{chart}");
}

/// Repeats kept as signs: each bar once, and read again the sheet plays as before; what cannot be said in signs is
/// played out, with a word about it.
#[test]
fn repeats_are_kept_where_they_are_wanted() {
    let room = Room::new();
    let tune = "X:1\nT:Twice\nM:4/4\nL:1/4\nK:C\n|:\"C\"CDEF|\"G\"G4:|\"F\"A4|\"C\"c4|]\n";
    room.put("tune.abc", tune);
    room.figwort("arrange tune.abc --score out.musicxml").clean();
    room.figwort("arrange tune.abc --score kept.musicxml --repeats keep").clean();
    let bars = |name| room.text(name).matches("<measure ").count();
    // Two parts each.
    assert_eq!((bars("out.musicxml"), bars("kept.musicxml")), (12, 8));
    for name in ["out", "kept"] {
        room.figwort(&format!("arrange {name}.musicxml -o {name}.mid")).clean();
    }
    let read = |name| figwort_sheet::read(&room.bytes(name), None).unwrap();
    assert_eq!(read("out.musicxml").melody, read("kept.musicxml").melody);
    assert_eq!(read("out.musicxml").chords, read("kept.musicxml").chords);
    assert_eq!(notes(&room.bytes("out.mid")), notes(&room.bytes("kept.mid")));
    room.put("parts.abc", "X:1\nT:Turned\nP:BA\nM:4/4\nL:1/4\nK:C\nP:A\n\"C\"CDEF|\nP:B\n\"G\"G4|\n");
    let run = room.figwort("arrange parts.abc --score parts.mxl --repeats keep");
    assert_eq!(run.code, 0, "{run:?}");
    assert!(run.err.contains("repeat signs cannot tell the order of its bars"), "{run:?}");
}

/// The melody's part by its name.
#[test]
fn the_melody_is_chosen() {
    let room = Room::new();
    room.put("duet.abc", "X:1\nT:Duet\nM:4/4\nL:1/4\nK:C\nV:High\n\"C\"cdef|\nV:Low\nCDEF|\n");
    let low = room.figwort("arrange duet.abc --text --elaboration plain --melody low");
    let high = room.figwort("arrange duet.abc --text --elaboration plain");
    assert!(low.code == 0 && high.code == 0 && low.out != high.out, "{low:?}");
    assert!(low.err.contains("Low is read") && high.err.contains("High is read"), "{low:?} {high:?}");
    // The chords over the other voice are both voices'.
    assert!(low.out.contains("1:C") && !low.err.contains("no chord"), "{low:?}");
    let none = room.figwort("arrange duet.abc --text --melody Middle");
    assert!(
        none.code == 1 && none.err.contains("duet.abc: no voice \"Middle\"; choose 1 (High) or 2 (Low)"),
        "{none:?}"
    );
}
