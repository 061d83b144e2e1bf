//! Input that cannot be used: one message that names the file and says what to do, exit code 1, and not a
//! byte changed on the disk.

use std::fs::{self, File};

use crate::room::{Room, TUNE, midi, take};

/// Runs in a room and expects failure, one message with all these words, and no change on the disk.
#[track_caller]
fn refused(room: &Room, arguments: &str, words: &[&str]) {
    let before = room.everything();
    let run = room.figwort(arguments);
    assert_eq!(run.code, 1, "{arguments}: {run:?}");
    assert_eq!(run.out, "", "{arguments}");
    let errors: Vec<&str> = run.err.lines().filter(|line| line.starts_with("error: ")).collect();
    assert_eq!(errors.len(), 1, "{arguments}: one message: {run:?}");
    assert!(!run.err.contains("panicked"), "{run:?}");
    for word in words {
        assert!(run.err.contains(word), "{arguments}: no {word:?} in {run:?}");
    }
    assert!(before == room.everything(), "{arguments} left something behind");
}

#[test]
fn files_that_are_not_there_or_empty() {
    let room = Room::new();
    room.put("empty.abc", "").put("blank.abc", " \n\n").put("empty.mid", "");
    refused(&room, "arrange gone.abc -o part.mid", &["gone.abc: there is no such file", "check its path"]);
    refused(&room, "follow gone.mid -o part.mid", &["gone.mid: there is no such file"]);
    refused(&room, "arrange empty.abc -o part.mid", &["empty.abc: the file is empty"]);
    refused(&room, "arrange blank.abc -o part.mid", &["blank.abc: the file is empty"]);
    refused(&room, "follow empty.mid -o part.mid", &["empty.mid: the file is empty"]);
    room.put("tune.abc", TUNE);
    refused(&room, "follow tune.abc -o part.mid", &["tune.abc: this is a lead sheet", "figwort arrange"]);
    for file in ["gone.abc", "empty.abc", "empty.mid"] {
        refused(&room, &format!("check {file}"), &[file]);
    }
}

/// Refused by its length, before it is read: a hole of 100 MB takes no place on the disk.
#[test]
fn files_far_too_large() {
    let room = Room::new();
    for name in ["huge.abc", "huge.mid", "huge.toml"] {
        File::create(room.path(name)).unwrap().set_len(100_000_000).unwrap();
        refused(&room, &format!("check {name}"), &[name, "larger than", "check that it is the right one"]);
    }
    refused(&room, "arrange huge.abc -o part.mid", &["huge.abc: larger than 16 MiB"]);
    refused(&room, "follow huge.mid -o part.mid", &["huge.mid: larger than 16 MiB"]);
}

#[test]
fn files_that_hold_something_else() {
    let room = Room::new();
    let whole = take(0, 1);
    room.put("letter.abc", "Dear passengers,\nthe boat is late.\n")
        .put("picture.abc", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR")
        .put("no-music.abc", "X:1\nT:Nothing\nK:C\n")
        .put("header.mid", &whole[..10])
        .put("noise.mid", b"MThd\0\0\0\x06\xff\xff\xff\xff\xff\xff\xff\xff\xff")
        .put("silent.mid", midi(&[]));
    for name in ["letter.abc", "picture.abc", "no-music.abc", "header.mid", "noise.mid"] {
        refused(&room, &format!("arrange {name} -o part.mid --wav part.wav"), &[&format!("{name}: ")]);
        refused(&room, &format!("check {name}"), &[&format!("{name}: ")]);
    }
    for name in ["letter.abc", "header.mid", "noise.mid", "silent.mid"] {
        refused(&room, &format!("follow {name} -o part.mid --wav part.wav"), &[&format!("{name}: ")]);
    }
    refused(&room, "check silent.mid", &["silent.mid: "]);
}

#[test]
fn tunes_channels_and_manners_that_there_are_not() {
    let room = Room::new();
    room.put("tune.abc", TUNE).put("take.mid", take(2, 3)).put("notes.txt", "hello");
    refused(&room, "arrange tune.abc --tune 7 -o part.mid", &["tune.abc: no tune with X:7", "choose"]);
    refused(
        &room,
        "follow take.mid -o part.mid",
        &["take.mid: no notes on channel 1 or 2", "channels 3 and 4", "--melody-channel"],
    );
    for command in ["arrange tune.abc", "follow take.mid --split C4"] {
        let command = format!("{command} -o part.mid");
        refused(
            &room,
            &format!("{command} --manner unhuried"),
            &["--manner: there is no manner \"unhuried\"", "Did you mean \"unhurried\"?"],
        );
        for stranger in ["zzz", "foo"] {
            refused(
                &room,
                &format!("{command} --manner {stranger}"),
                &[
                    "no manner \"",
                    "Choose from \"unhurried\", \"light-footed\"",
                    "`figwort manners` describes",
                ],
            );
        }
        refused(&room, &format!("{command} --manner mine.toml"), &["mine.toml: there is no such file"]);
        refused(&room, &format!("{command} --presets nowhere"), &["nowhere: there is no such folder"]);
    }
    refused(&room, "manners --show zzz", &["no manner \"zzz\""]);
    refused(&room, "figures --show rysing", &["no figure \"rysing\"", "Did you mean \"rising\"?"]);
}

/// Preset files name the line, alone and in use.
#[test]
fn broken_presets_name_their_line() {
    let room = Room::new();
    let shown = room.figwort("figures --show pulse").clean().out;
    let manner = room.figwort("manners --show light-footed").clean().out;
    let line = 1 + shown.lines().position(|line| line.starts_with("weight")).unwrap();
    room.put("tune.abc", TUNE)
        .put("mine/pulse.toml", shown.replace("weight = 60", "weight = 600"))
        .put("newer.toml", manner.replace("format = 1", "format = 9"))
        .put("latin.toml", b"format = 1\nname = \"\xe9\"\n");
    let words = [&*format!("pulse.toml, line {line}: weight is 600"), "from 1 to 100"];
    refused(&room, "check mine", &words);
    refused(&room, "check mine/pulse.toml", &words);
    refused(&room, "arrange tune.abc -o part.mid --presets mine", &words);
    refused(&room, "check newer.toml", &["newer.toml, line 1: made by a newer Figwort", "Update Figwort"]);
    refused(&room, "arrange tune.abc -o part.mid --manner newer.toml", &["newer.toml, line 1"]);
    room.put("bare.toml", "format = 2\nname = \"bare\"\nabout = \"Nothing more.\"\n");
    refused(
        &room,
        "check bare.toml",
        &["bare.toml: neither a figure nor a manner", "figures --show rising", "manners --show unhurried"],
    );
    refused(
        &room,
        "arrange tune.abc -o part.mid --manner bare.toml",
        &["missing field `figures`", "manners --show"],
    );
    room.put("figure.toml", shown);
    let words = "figure.toml: this is a figure; give a manner that lists it";
    refused(&room, "arrange tune.abc -o part.mid --manner figure.toml", &[words]);
    refused(&room, "check latin.toml", &["latin.toml, line 2: not text in UTF-8"]);
}

/// Every output is looked at before any work, and all are rendered before one is written.
#[test]
fn places_that_cannot_be_written() {
    let room = Room::new();
    room.put("tune.abc", TUNE).put("take.mid", take(0, 1)).put("part.mid", "an earlier part");
    fs::create_dir(room.path("folder")).unwrap();
    fs::create_dir(room.path("folder.wav")).unwrap();
    for command in ["arrange tune.abc", "follow take.mid"] {
        for (outputs, words) in [
            ("-o folder", ["folder: this is a folder", "give the name of a file in it"]),
            ("-o nowhere/part.mid", ["nowhere/part.mid: the folder nowhere does not exist", "create it"]),
            ("-o tune.abc/part.mid", ["tune.abc is a file, not a folder", "give another path"]),
            ("-o part.mid --wav folder.wav", ["folder.wav: this is a folder", "give the name"]),
            ("-o part.mid --wav nowhere/a.wav", ["the folder nowhere does not exist", "create it"]),
            (
                "-o p.mid --also json --report p.json",
                ["p.json: two outputs go to this file", "name of its own"],
            ),
            ("-o p.mid --also json --report ./p.json", ["two outputs go to this file", "name of its own"]),
            (
                "-o p.mid --also json --report P.json",
                ["some systems do not tell this file from p.json", "name"],
            ),
            ("-o p.mid --stages --picture p.svg --also svg", ["p.svg: two outputs go to this file", "name"]),
            ("-o new.mid --also svg --picture new.svg", ["new.svg: two outputs go to this file", "name"]),
            ("-o part.mid --picture x/p.svg --table", ["the folder x does not exist", "create it"]),
        ] {
            refused(&room, &format!("{command} {outputs}"), &words);
        }
    }
    refused(&room, "arrange take.mid --stages -o nowhere/x.mid", &["the folder nowhere does not exist"]);
}

/// Sheets, takes, manners, presets and soundfonts are never replaced by what is made of them.
#[test]
fn what_is_read_is_never_replaced() {
    let room = Room::new();
    let manner = room.figwort("manners --show unhurried").clean().out;
    let mine = manner.replace("name = \"unhurried\"", "name = \"mine\"");
    for name in ["take.mid", "sheet.json", "tune.wav", "songs/tune.mid"] {
        room.put(name, take(0, 1));
    }
    room.put("tune.abc", TUNE).put("tune.mid.toml", &mine).put("mine.toml", &mine).put("my/mine.toml", &mine);
    let words = ["this would replace a file that is read", "choose another name"];
    for arguments in [
        "arrange take.mid -o take.mid",
        "arrange take.mid -o ./take.mid",
        "arrange take.mid --stages -o songs/../take.mid",
        "follow take.mid -o take.mid",
        "arrange sheet.json --report sheet.json",
        "arrange tune.abc --wav tune.wav --soundfont tune.wav",
        "arrange tune.abc -o tune.mid --also wav --soundfont tune.wav",
    ] {
        refused(&room, arguments, &words);
    }
    // Presets have an end of their own, which no output has; but links have any.
    #[cfg(unix)]
    for (link, preset, option) in [
        ("link.mid", "mine.toml", "--manner mine.toml"),
        ("other.mid", "my/mine.toml", "--presets my --manner mine"),
    ] {
        std::os::unix::fs::symlink(room.path(preset), room.path(link)).unwrap();
        refused(&room, &format!("arrange tune.abc -o {link} {option}"), &words);
        fs::create_dir_all(room.path("parts")).unwrap();
        std::os::unix::fs::symlink(room.path(preset), room.path("parts/tune.mid")).unwrap();
        let before = room.everything();
        let run = room.figwort(&format!("arrange songs -o parts {option}"));
        assert!(run.code == 1 && run.out.contains(words[0]), "{run:?}");
        assert!(before == room.everything());
        fs::remove_file(room.path("parts/tune.mid")).unwrap();
    }
}

/// The system itself refuses; `/proc` takes no files from anybody.
#[cfg(target_os = "linux")]
#[test]
fn folders_that_take_no_files() {
    let room = Room::new();
    room.put("tune.abc", TUNE).put("part.wav", "an earlier sound");
    let words = ["/proc/part.mid: cannot be written (", "choose a place where you may write"];
    refused(&room, "arrange tune.abc -o /proc/part.mid", &words);
    // What could have been written isn't, when something else can't be.
    refused(&room, "arrange tune.abc --wav part.wav --report new.json -o /proc/part.mid", &words);
    refused(&room, "arrange tune.abc -o /dev/null", &["/dev/null: this is no ordinary file"]);
    refused(
        &room,
        "arrange tune.abc -o /dev/stdout",
        &["/dev/stdout: this is no ordinary file; give another name"],
    );
    std::os::unix::fs::symlink("nowhere", room.path("lost.mid")).unwrap();
    let words = "lost.mid: this is a link to a file that is not there; remove the link or give another name";
    refused(&room, "arrange tune.abc -o lost.mid", &[words]);
    let words =
        "lost.mid: this is a link to a folder that is not there; remove the link or give another name";
    room.put("songs/tune.abc", TUNE);
    refused(&room, "arrange songs -o lost.mid", &[words]);
}

/// A damaged tempo could keep the program busy for days, and a sound is made in memory.
#[test]
fn music_that_lasts_too_long() {
    let room = Room::new();
    let long = |bars: usize| format!("X:1\nM:4/4\nL:1/1\nQ:1/4=4\nK:C\n{}\n", "\"C\"C |".repeat(bars));
    room.put("long.abc", long(70)).put("endless.abc", long(241));
    refused(
        &room,
        "arrange long.abc -o part.mid --wav part.wav",
        &["part.wav: the sound would last 70 minutes or more; the most is 60", "write MIDI"],
    );
    refused(
        &room,
        "arrange endless.abc -o part.mid",
        &["endless.abc: it would last 4 hours or more; the most is 4", "check its tempo and its last event"],
    );
    refused(&room, "check endless.abc", &["endless.abc: it would last 4 hours or more", "check its tempo"]);
    // One note, and 9000 bars of two seconds later another: no sheet and no take.
    let far = midi(&[
        (0, vec![0x90, 60, 80]),
        (480, vec![0x80, 60, 0]),
        (9_000 * 1_920, vec![0x90, 60, 80]),
        (9_000 * 1_920 + 480, vec![0x80, 60, 0]),
    ]);
    room.put("far.mid", far);
    for command in ["check far.mid", "follow far.mid -o part.mid", "arrange far.mid -o part.mid"] {
        refused(&room, command, &["far.mid: it would last 5 hours or more"]);
    }
    let run = room.figwort("arrange long.abc -o part.mid");
    assert_eq!(run.code, 0, "{run:?}");
}

/// A chord symbol nobody knows is a doubt, not the end.
#[test]
fn unknown_chord_symbols_are_warned_about_with_their_bar() {
    let room = Room::new();
    room.put("tune.abc", TUNE.replace("\"C7\"", "\"Cwobble\""));
    let run = room.figwort("arrange tune.abc -o part.mid");
    run.warned(&["tune.abc: ", "bar 3", "Cwobble"]);
    assert!(room.bytes("part.mid").starts_with(b"MThd"));
    room.figwort("check tune.abc").warned(&["tune.abc: ", "bar 3", "Cwobble"]);
}

/// Of a file that breaks off, what can be read is used, and said.
#[test]
fn takes_that_break_off_are_warned_about() {
    let room = Room::new();
    let whole = take(0, 1);
    room.put("cut.mid", &whole[..whole.len() / 2]);
    room.figwort("follow cut.mid -o part.mid").warned(&["cut.mid: ", "cut off"]);
    assert!(room.bytes("part.mid").starts_with(b"MThd"));
}

/// Checking goes on after a wrong file, and counts.
#[test]
fn checking_tells_right_from_wrong() {
    let room = Room::new();
    room.put("a.abc", "").put("b.abc", TUNE).put("c.mid", take(0, 1));
    let run = room.figwort("check a.abc b.abc c.mid");
    assert_eq!(run.code, 1, "{run:?}");
    assert_eq!(run.out.lines().count(), 2, "{run:?}");
    assert!(
        run.out.contains("ok    b.abc: sheet, 4 bars")
            && run.out.contains("ok    c.mid: sheet, 4 bars, 4 chord changes, 1 warning; take, 28 notes"),
        "{run:?}"
    );
    assert!(run.err.contains("error: a.abc: the file is empty"), "{run:?}");
    assert!(run.err.contains("2 of 3 files right"), "{run:?}");
}
