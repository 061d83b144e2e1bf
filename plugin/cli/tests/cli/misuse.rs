//! Options that make no sense: exit code 2, the option named, nothing written.

use std::fs;

use crate::room::{Room, TUNE, take};

#[test]
fn contradictions_and_nonsense_are_misuse() {
    let room = Room::new();
    room.put("tune.abc", TUNE).put("take.mid", take(0, 1));
    fs::create_dir(room.path("folder")).unwrap();
    let before = room.everything();
    for (arguments, words) in [
        ("", "Usage:"),
        ("play tune.abc", "unrecognized subcommand"),
        ("arrange", "<SHEET>"),
        ("arrange tune.abc", "nothing to do"),
        ("arrange tune.abc -o part.mid --elaboration 5", "from 0 to 4"),
        ("arrange tune.abc -o part.mid --elaboration nan", "from 0 to 4"),
        ("arrange tune.abc -o part.mid --elaboration -1", "from 0 to 4, or plain, spaced"),
        ("arrange tune.abc -o part.mid --seed=-1", "write a whole number from 0 to 4294967295"),
        ("arrange tune.abc -o part.mid --seed -1", "write a whole number from 0 to 4294967295"),
        ("arrange tune.abc -o part.mid --swing -1", "-1 is not in 0..=100"),
        ("arrange tune.abc -o part.mid --tune foo", "write the tune's X: number"),
        ("arrange tune.abc -o part.mid --tune -1", "write the tune's X: number"),
        ("arrange take.mid -o part.mid --tune 7", "--tune is for ABC files"),
        (
            "arrange tune.abc other.abc more.abc -o part.mid",
            "3 sheets: give one, or the folder that they are in",
        ),
        ("follow take.mid other.mid -o part.mid", "2 takes: give one at a time"),
        (
            "arrange tune.abc -o g.wav",
            "-o g.wav: the part is a MIDI file; name one that ends in .mid, and write sound",
        ),
        ("arrange tune.abc -o g.wav", "with --wav g.wav"),
        ("arrange tune.abc -o g.png", "name one that ends in .mid, and draw it with --picture g.png"),
        ("arrange tune.abc -o g.mxl", "name one that ends in .mid, and write sheet music with --score g.mxl"),
        ("arrange tune.abc -o tune.abc", "name one that ends in .mid\n"),
        ("follow take.mid -o take.kar", "name one that ends in .mid\n"),
        ("arrange tune.abc -o -", "-o -: the part goes to a file; name one"),
        ("arrange tune.abc --wav x.mp3", "--wav x.mp3: the sound is a WAV file; name one that ends in .wav"),
        ("arrange tune.abc --wav -", "name one that ends in .wav"),
        (
            "arrange tune.abc --report x.txt",
            "--report x.txt: the report is JSON; name a file that ends in .json",
        ),
        ("arrange folder -o parts --report x.txt", "--report x.txt: the report is JSON"),
        ("arrange folder -o -", "-o -: the parts go to a folder; name one"),
        ("manners --colour added", "unexpected argument '--colour'"),
        ("arrange tune.abc -o part.mid --rate 10", "--rate"),
        ("arrange tune.abc --picture part.gif", ".svg or .png"),
        ("arrange tune.abc --also svg --text", "--out"),
        ("arrange tune.abc -o part.mid --also mp3", "mp3"),
        ("arrange tune.abc -o part.mid --unknown", "--unknown"),
        ("arrange folder", "into which folder"),
        ("arrange folder -o parts --wav a.wav", "--wav is for a single sheet"),
        ("arrange folder -o parts --tune 3", "--tune is for a single sheet"),
        ("arrange folder -o parts --melody 2", "--melody is for a single sheet"),
        ("arrange folder -o parts --repeats keep", "no sheet music is written"),
        ("arrange tune.abc -o part.mid --repeats keep", "no sheet music is written"),
        ("arrange tune.abc --score a.xml --repeats twice", "possible values: play, keep"),
        ("follow take.mid", "nothing to do"),
        ("follow take.mid -o part.mid --block 0", "--block"),
        ("follow take.mid -o part.mid --block 8193", "--block"),
        ("follow take.mid -o part.mid --melody-channel 17", "--melody-channel"),
        ("follow take.mid -o part.mid --melody-channel 2", "same channel"),
        ("follow take.mid -o part.mid --split C4 --chord-channel 3", "cannot be used with"),
        ("follow take.mid -o part.mid --split C4 --hands", "cannot be used with"),
        ("follow take.mid -o part.mid --split H4", "C3, F#4 or Bb2"),
        ("name", "<KEY>"),
        ("name 128", "from 0 to 127"),
        ("name 60 --key H", "F#m"),
        ("name 60 --key C7", "F#m"),
        ("check", "<FILE>"),
    ] {
        let run = room.figwort(arguments);
        assert_eq!(run.code, 2, "{arguments}: {run:?}");
        assert_eq!(run.out, "", "{arguments}");
        assert!(run.err.contains(words), "{arguments}: no {words:?} in {run:?}");
    }
    assert!(before == room.everything());
}

#[test]
fn help_is_no_misuse() {
    let room = Room::new();
    for (arguments, words) in [
        ("--help", "Exit codes: 0 done, 1 could not, 2 misuse, 130 stopped."),
        ("help arrange", "--elaboration <0..4>"),
        ("arrange --help", "figwort arrange songs/ -o parts/"),
        ("follow -h", "--split <KEY>"),
        ("name --help", "Cpedal"),
        ("name --help", "figwort name 48 52 55 58"),
        ("check --help", "<FILE>"),
        ("--version", "figwort "),
    ] {
        let run = room.figwort(arguments).clean();
        assert!(run.out.contains(words), "{arguments}: {run:?}");
    }
    // What only the other command has is not spoken of.
    let follow = room.figwort("follow --help").clean().out;
    assert!(!follow.contains("folder is") && !follow.contains("--repeats"), "{follow}");
    assert!(!room.figwort("arrange --help").clean().out.contains("[OTHERS]"));
}

#[test]
fn a_soundfont_has_to_be_one_and_has_to_sound() {
    let room = Room::new();
    room.put("tune.abc", TUNE).put("font.sf2", "no font");
    let run = room.figwort("arrange tune.abc -o part.mid --soundfont font.sf2");
    assert_eq!(run.code, 2, "{run:?}");
    assert!(run.err.contains("nothing that sounds is written"), "{run:?}");
    let run = room.figwort("arrange tune.abc --wav part.wav --soundfont font.sf2");
    assert_eq!(run.code, 1, "{run:?}");
    assert!(run.err.contains("font.sf2: this is no soundfont"), "{run:?}");
    let run = room.figwort("arrange tune.abc --score part.pdf");
    assert_eq!(run.code, 2, "{run:?}");
    assert!(run.err.contains(".musicxml"), "{run:?}");
    assert!(!room.path("part.wav").exists() && !room.path("part.mid").exists());
}
