//! Faults from outside while the program works: no room, no permission, files that go away, an end in the middle,
//! another program at the same file. Each gives a clear message; nothing that was there is lost or half written.

#[path = "../../../../tests/src/absent.rs"]
mod absent;

use std::fs;
use std::os::unix::fs::symlink;
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::Duration;

use crate::room::{Room, Run, TUNE};

/// Runs a shell script in a room; `$FIGWORT` is the program.
fn shell(room: &Room, program: &[&str], script: &str) -> Run {
    let (first, rest) = program.split_first().unwrap();
    let output = Command::new(first)
        .args(rest)
        .args(["sh", "-c", script])
        .env("FIGWORT", env!("CARGO_BIN_EXE_figwort"))
        .current_dir(room.path(""))
        .output()
        .unwrap();
    Run {
        code: output.status.code().unwrap_or(-1),
        out: String::from_utf8_lossy(&output.stdout).into_owned(),
        err: String::from_utf8_lossy(&output.stderr).into_owned(),
    }
}

/// A shell in which file systems may be mounted that nobody else sees; `None` where the system forbids it.
const APART: [&str; 3] = ["unshare", "-r", "-m"];

fn may_mount(room: &Room) -> bool {
    fs::create_dir_all(room.path("disk")).unwrap();
    let works = Command::new(APART[0])
        .args(&APART[1..])
        .args(["mount", "-t", "tmpfs", "tmpfs"])
        .arg(room.path("disk"))
        .output()
        .is_ok_and(|output| output.status.success());
    if !works {
        absent::skipped("file systems may not be mounted here (unshare -r -m)");
    }
    works
}

/// Files in a listing of a folder.
fn leftovers(room: &Room, folder: &str) -> Vec<String> {
    let entries = fs::read_dir(room.path(folder)).unwrap();
    let names = entries.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned());
    names.filter(|name| name.starts_with(".figwort-")).collect()
}

#[test]
fn a_full_disk_keeps_what_was_there() {
    let room = Room::new();
    room.put("tune.abc", TUNE);
    if !may_mount(&room) {
        return;
    }
    let run = shell(
        &room,
        &APART,
        "mount -t tmpfs -o size=32k tmpfs disk && echo earlier > disk/part.wav && \
         $FIGWORT arrange tune.abc -o disk/part.mid --wav disk/part.wav; echo code $?; \
         ls -A disk; cat disk/part.wav",
    );
    assert!(run.err.contains("disk/part.wav: cannot be written (no storage space)"), "{run:?}");
    assert!(run.err.contains("make room there or choose another place"), "{run:?}");
    assert_eq!(run.out, "code 1\npart.wav\nearlier\n", "neither a part nor half a file: {run:?}");
}

/// A disk that fills up while a folder is arranged: whole parts stay, and no folder in which nothing lies.
#[test]
fn a_full_disk_keeps_no_empty_folders() {
    let room = Room::new();
    room.put("songs/deep/down/tune.abc", TUNE);
    if !may_mount(&room) {
        return;
    }
    let run = shell(
        &room,
        &APART,
        "mount -t tmpfs -o size=4k tmpfs disk && $FIGWORT arrange songs -o disk/parts --also wav; echo code $?; \
         ls -A disk",
    );
    assert!(run.out.contains("tune.wav: cannot be written (no storage space)"), "{run:?}");
    assert!(run.out.ends_with("code 1\n"), "nothing is left: {run:?}");
}

/// New files may be read as the user wishes it of new files.
#[test]
fn outputs_keep_to_the_mask() {
    let room = Room::new();
    room.put("tune.abc", TUNE);
    for (mask, mode) in [("022", 0o644), ("077", 0o600), ("002", 0o664)] {
        let run = shell(&room, &["env"], &format!("umask {mask}; $FIGWORT arrange tune.abc -o {mask}.mid"));
        assert_eq!(run.code, 0, "{run:?}");
        let metadata = fs::metadata(room.path(&format!("{mask}.mid"))).unwrap();
        assert_eq!(std::os::unix::fs::PermissionsExt::mode(&metadata.permissions()) & 0o777, mode);
    }
}

#[test]
fn a_read_only_folder_is_named() {
    let room = Room::new();
    room.put("tune.abc", TUNE).put("songs/tune.abc", TUNE);
    if !may_mount(&room) {
        return;
    }
    let run = shell(
        &room,
        &APART,
        "mount -t tmpfs -o ro tmpfs disk && $FIGWORT arrange tune.abc -o disk/part.mid; echo code $?; \
         $FIGWORT arrange songs -o disk/parts; echo code $?; $FIGWORT arrange songs -o disk; echo code $?",
    );
    assert!(run.err.contains("disk/part.mid: cannot be written (read-only filesystem"), "{run:?}");
    assert!(run.err.contains("choose a place where you may write"), "{run:?}");
    // Once, and not again for every tune.
    assert_eq!(run.out, "code 1\ncode 1\ncode 1\n", "{run:?}");
    for words in
        ["error: disk/parts: cannot be made (read-only", "error: disk: cannot be written into (read-only"]
    {
        assert_eq!(run.err.matches(words).count(), 1, "{run:?}");
    }
}

/// The system ends the program while it writes, and then only refuses it: the earlier file is whole both times.
#[test]
fn an_end_in_the_middle_of_writing_leaves_the_earlier_file() {
    let room = Room::new();
    room.put("tune.abc", TUNE).put("part.wav", "an earlier sound");
    // No file may grow beyond eight blocks of 512 or 1024 bytes.
    let killed = shell(&room, &["env"], "ulimit -f 8; $FIGWORT arrange tune.abc --wav part.wav");
    assert_ne!(killed.code, 0, "{killed:?}");
    assert_eq!(room.text("part.wav"), "an earlier sound");
    for name in leftovers(&room, ".") {
        fs::remove_file(room.path(&name)).unwrap();
    }
    let refused =
        shell(&room, &["env"], "trap '' XFSZ; ulimit -f 8; $FIGWORT arrange tune.abc --wav part.wav");
    assert_eq!(refused.code, 1, "{refused:?}");
    assert!(refused.err.contains("part.wav: cannot be written (file too large"), "{refused:?}");
    assert!(refused.err.contains("make room there"), "{refused:?}");
    assert_eq!(room.text("part.wav"), "an earlier sound");
    assert_eq!(leftovers(&room, "."), [""; 0]);
}

/// Stopped while it writes, it leaves what was there and nothing else. The room is watched until a file is on its way;
/// where the program was done before the signal came, it is tried again.
#[test]
fn a_stop_in_the_middle_of_writing_leaves_nothing() {
    use rustix::process::{Pid, Signal, kill_process};
    let room = Room::new();
    // A folder for the second one's part is made in any case.
    room.put("songs/deep/tune.abc", TUNE).put("songs/other/empty.abc", "");
    let mut caught = 0;
    // A folder and a single sheet; by Ctrl-C and by the politer way to kill.
    for (arguments, signal) in [
        (["songs", "-o", "parts", "--also", "wav"], Signal::INT),
        (["songs/deep/tune.abc", "-o", "part.mid", "--also", "wav"], Signal::TERM),
    ] {
        let folder = if signal == Signal::INT { "parts/deep" } else { "." };
        for _ in 0..50 {
            for name in ["part.wav", "part.mid", "parts/deep/tune.wav", "parts/deep/tune.mid"] {
                room.put(name, "an earlier file");
            }
            let before = room.everything();
            let mut run = Command::new("env")
                .args(["--default-signal=INT,TERM,HUP", env!("CARGO_BIN_EXE_figwort"), "arrange"])
                .args(arguments)
                .args(["--rate", "192000"])
                .current_dir(room.path(""))
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .spawn()
                .unwrap();
            while run.try_wait().unwrap().is_none() {
                let begun = fs::read_dir(room.path(folder)).into_iter().flatten().flatten();
                let begun =
                    begun.filter(|entry| entry.file_name().to_string_lossy().starts_with(".figwort-"));
                // The sound is on its way.
                if begun.flat_map(|entry| entry.metadata()).any(|metadata| metadata.len() > 100_000) {
                    kill_process(Pid::from_child(&run), signal).unwrap();
                    break;
                }
            }
            let code = run.wait().unwrap().code();
            assert!(!room.path("parts/other").exists(), "an empty folder is left: {code:?}");
            if before == room.everything() {
                assert_eq!(code, Some(130));
                caught += 1;
                break;
            }
            // All was in its place before it heard.
            assert!(matches!(code, Some(0 | 1 | 130)), "{code:?}");
            assert_eq!(leftovers(&room, folder), [""; 0]);
        }
    }
    assert_eq!(caught, 2, "never stopped in the middle");
}

/// How many parts lie in a folder; one that is being written does not count.
fn parts(room: &Room, folder: &str) -> usize {
    let entries = fs::read_dir(room.path(folder)).into_iter().flatten();
    entries.filter(|entry| !entry.as_ref().unwrap().file_name().to_string_lossy().starts_with('.')).count()
}

/// Killed in the middle, a folder's run leaves only whole parts.
#[test]
fn a_killed_batch_leaves_whole_parts() {
    let room = Room::new();
    let book: String = (1..=120).map(|number| TUNE.replace("X:1", &format!("X:{number}")) + "\n").collect();
    room.put("songs/book.abc", book);
    let whole = room.figwort("arrange songs -o whole").clean();
    assert!(whole.out.contains("120 arranged"), "{whole:?}");
    for first in [1, 10, 30] {
        let folder = format!("parts {first}");
        let mut run = Command::new(env!("CARGO_BIN_EXE_figwort"))
            .args(["arrange", "songs", "-o", &folder])
            .current_dir(room.path(""))
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        while parts(&room, &folder) < first {
            assert!(run.try_wait().unwrap().is_none(), "it ended before it was killed");
            sleep(Duration::from_millis(1));
        }
        run.kill().unwrap();
        run.wait().unwrap();
        let left = parts(&room, &folder);
        assert!((first..120).contains(&left), "{left} of 120 parts: that was not the middle");
        for entry in fs::read_dir(room.path(&folder)).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            if !name.starts_with(".figwort-") {
                assert_eq!(fs::read(&path).unwrap(), room.bytes(&format!("whole/{name}")), "{name}");
            }
        }
    }
    // And a run after that takes nothing of it for its own.
    let after = room.figwort_with(&["arrange", "songs", "-o", "parts 1"]).clean();
    assert!(after.out.contains("120 arranged, 0 with warnings, 0 failed"), "{after:?}");
}

/// Two programs write the same part again and again: it is always one's or the other's, and whole.
#[test]
fn two_programs_at_one_file() {
    let room = Room::new();
    room.put("tune.abc", TUNE);
    room.figwort("arrange tune.abc -o one.mid --elaboration 0").clean();
    room.figwort("arrange tune.abc -o other.mid --elaboration 4").clean();
    let (one, other) = (room.bytes("one.mid"), room.bytes("other.mid"));
    assert_ne!(one, other);
    let start = |elaboration: &str| {
        Command::new(env!("CARGO_BIN_EXE_figwort"))
            .args(["arrange", "tune.abc", "-o", "part.mid", "--elaboration", elaboration])
            .current_dir(room.path(""))
            .stderr(Stdio::null())
            .spawn()
            .unwrap()
    };
    for _ in 0..10 {
        let mut both = [start("0"), start("4")];
        for run in &mut both {
            assert!(run.wait().unwrap().success());
            let found = room.bytes("part.mid");
            assert!(found == one || found == other, "half of one and half of the other");
        }
    }
    assert_eq!(leftovers(&room, "."), [""; 0]);
}

#[test]
fn results_that_cannot_be_printed_are_a_failure() {
    let room = Room::new();
    room.put("tune.abc", TUNE).put("songs/tune.abc", TUNE);
    for command in
        ["name 48 52 55", "manners", "check tune.abc", "arrange tune.abc --text", "arrange songs -o parts"]
    {
        let run = shell(&room, &["env"], &format!("$FIGWORT {command} > /dev/full"));
        assert_eq!(run.code, 1, "{command}: {run:?}");
        assert!(run.err.contains("error: cannot print (No space left on device"), "{command}: {run:?}");
    }
}

/// Files that are gone by the time they are read, and folders that may not be looked into, fail alone.
#[test]
fn what_vanishes_fails_alone() {
    let room = Room::new();
    room.put("songs/here.abc", TUNE).put("songs/shut/in.abc", TUNE).put("parts/gone.mid", "an earlier part");
    symlink(room.path("nowhere.abc"), room.path("songs/gone.abc")).unwrap();
    let run = room.figwort("arrange songs -o parts --report batch.json");
    assert_eq!(run.code, 1, "{run:?}");
    assert!(run.out.contains("fail  songs/gone.abc: there is no such file; check its path"), "{run:?}");
    assert!(run.out.contains("2 arranged, 0 with warnings, 1 failed"), "{run:?}");
    assert_eq!(room.text("parts/gone.mid"), "an earlier part");
    assert!(
        room.text("batch.json").contains("\"error\": \"songs/gone.abc: there is no such file"),
        "{run:?}"
    );
    let check = room.figwort("check songs");
    assert_eq!((check.code, check.out.lines().count()), (1, 2), "{check:?}");

    let mode = |mode| std::os::unix::fs::PermissionsExt::from_mode(mode);
    fs::set_permissions(room.path("songs/shut"), mode(0o000)).unwrap();
    if fs::read_dir(room.path("songs/shut")).is_ok() {
        return absent::skipped("this user may look into any folder");
    }
    let run = room.figwort("arrange songs -o parts");
    fs::set_permissions(room.path("songs/shut"), mode(0o755)).unwrap();
    assert_eq!(run.code, 1, "{run:?}");
    assert!(run.out.contains("fail  songs/shut: you are not permitted to read it"), "{run:?}");
    assert!(run.out.contains("1 arranged, 0 with warnings, 2 failed"), "{run:?}");
}

/// A preset folder with all kinds of things in it: what is no `.toml` is left alone, and a `.toml` that is no preset
/// is named, before anything is written.
#[test]
fn a_preset_folder_with_garbage() {
    let room = Room::new();
    let figure =
        room.figwort("figures --show pulse").clean().out.replace("name = \"pulse\"", "name = \"mine\"");
    room.put("tune.abc", TUNE)
        .put("mine/mine.toml", figure)
        .put("mine/.DS_Store", b"\0\0\0\x01Bud1")
        .put("mine/notes.txt", "buy strings")
        .put("mine/old.toml.bak", "{{{")
        .put("mine/folder.toml/inside.txt", "");
    room.figwort("arrange tune.abc -o part.mid --presets mine").clean();
    assert!(room.figwort("figures --presets mine").clean().out.contains("mine"));
    let part = room.bytes("part.mid");
    for (name, bytes) in [
        ("binary.toml", &b"\x89PNG\r\n\x1a\n\0\0"[..]),
        ("empty.toml", b""),
        ("other.toml", b"[package]\nname = \"a-crate\"\n"),
        ("deep.toml", "a=".repeat(20_000).as_bytes()),
        ("nested.toml", "[".repeat(100_000).as_bytes()),
    ] {
        room.put(&format!("mine/{name}"), bytes);
        let run = room.figwort("arrange tune.abc -o part.mid --presets mine --elaboration 0");
        assert_eq!(run.code, 1, "{name}: {run:?}");
        assert!(run.err.contains(name) && run.err.lines().count() < 8, "{name}: {run:?}");
        assert_eq!(room.bytes("part.mid"), part);
        fs::remove_file(room.path(&format!("mine/{name}"))).unwrap();
    }
    symlink(room.path("nowhere"), room.path("mine/lost.toml")).unwrap();
    let run = room.figwort("arrange tune.abc -o part.mid --presets mine");
    assert!(run.code == 1 && run.err.contains("mine/lost.toml: there is no such file"), "{run:?}");
}
