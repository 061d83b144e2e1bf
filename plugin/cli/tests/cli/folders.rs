//! Whole folders: every tune gets its part, failures are counted and stop nothing.

use std::fs;

use crate::room::{Room, SCORE, TUNE};

fn filled() -> Room {
    let room = Room::new();
    let second = TUNE.replace("X:1", "X:5").replace("Jetty Steps", "Rope Ladder");
    room.put("songs/one.abc", TUNE)
        .put("songs/deep/two.abc", format!("{TUNE}\n{second}"))
        .put("songs/doubtful.abc", TUNE.replace("\"C7\"", "\"Cwobble\""))
        .put("songs/README", "no sheet");
    room
}

fn parts(room: &Room, folder: &str) -> Vec<String> {
    let root = room.path(folder);
    room.everything()
        .into_iter()
        .filter(|(path, _, _)| path.is_file())
        .filter_map(|(path, _, _)| Some(path.strip_prefix(&root).ok()?.to_string_lossy().into_owned()))
        .collect()
}

#[test]
fn every_tune_of_every_sheet_gets_its_part() {
    let room = filled();
    let run = room.figwort("arrange songs -o parts --also svg,json");
    assert_eq!(run.code, 0, "{run:?}");
    assert!(run.out.contains("4 arranged, 1 with warnings, 0 failed; 1 other file passed over"), "{run:?}");
    assert_eq!(run.out.lines().count(), 5, "a line for each tune, and the counts: {run:?}");
    let stems = ["deep/two-1", "deep/two-5", "doubtful", "one"];
    let expected: Vec<String> = stems
        .iter()
        .flat_map(|stem| ["json", "mid", "svg"].map(|ending| format!("{stem}.{ending}")))
        .collect();
    assert_eq!(parts(&room, "parts"), expected);
    // Alone it gives the same part.
    room.figwort("arrange songs/deep/two.abc --tune 5 -o alone.mid").clean();
    assert_eq!(room.bytes("alone.mid"), room.bytes("parts/deep/two-5.mid"));
    // A second run replaces the parts and takes none of them for a sheet, wherever they lie.
    let again = room.figwort("arrange . -o parts");
    assert!(again.out.contains("5 arranged, 1 with warnings, 0 failed"), "{again:?}");
}

#[test]
fn a_failure_stops_nothing() {
    let room = filled();
    room.put("songs/empty.abc", "").put("songs/broken.mid", b"MThd\0\0\0\x06\0");
    let run = room.figwort("arrange songs -o parts");
    assert_eq!(run.code, 1, "{run:?}");
    assert!(run.out.contains("4 arranged, 1 with warnings, 2 failed"), "{run:?}");
    assert!(run.out.contains("fail  songs/empty.abc: the file is empty"), "{run:?}");
    assert!(run.out.contains("fail  songs/broken.mid: "), "{run:?}");
    assert_eq!(parts(&room, "parts").len(), 4);
}

/// One report of all tunes: how each went, and what was played.
#[test]
fn a_report_of_the_whole_folder() {
    let room = filled();
    room.put("songs/empty.abc", "");
    let run = room.figwort("arrange songs -o parts --report batch.json --seed 7");
    assert_eq!(run.code, 1, "{run:?}");
    assert!(run.err.contains("wrote batch.json"), "{run:?}");
    let report: serde_json::Value = serde_json::from_str(&room.text("batch.json")).unwrap();
    for (name, expected) in
        [("arranged", 4), ("with_warnings", 1), ("failed", 1), ("passed_over", 1), ("seed", 7)]
    {
        assert_eq!(report[name], expected, "{name}: {report}");
    }
    let tunes = report["tunes"].as_array().unwrap();
    let of = |sheet: &str| tunes.iter().filter(|tune| tune["sheet"] == sheet).collect::<Vec<_>>();
    assert_eq!(tunes.len(), 5);
    let two = of("songs/deep/two.abc");
    assert_eq!((&two[0]["tune"], &two[1]["tune"]), (&1.into(), &5.into()));
    assert_eq!((&two[1]["title"], &two[1]["bars"]), (&"Rope Ladder".into(), &4.into()));
    assert_eq!(two[1]["part"], "parts/deep/two-5.mid");
    assert_eq!(two[1]["measures"]["hanging_notes"], 0);
    assert!(two[1]["minutes"].as_f64().is_some_and(|minutes| (0.17..0.2).contains(&minutes)), "{report}");
    let doubtful = of("songs/doubtful.abc")[0];
    assert!(doubtful["warnings"][0].as_str().is_some_and(|text| text.contains("Cwobble")), "{report}");
    let empty = of("songs/empty.abc")[0];
    assert_eq!((&empty["status"], &empty["part"]), (&"failed".into(), &serde_json::Value::Null));
    assert!(empty["error"].as_str().is_some_and(|text| text.contains("the file is empty")), "{report}");
    // Where it cannot be written, nothing is begun.
    let run = room.figwort("arrange songs -o more --report nowhere/batch.json");
    assert!(run.code == 1 && run.err.contains("the folder nowhere does not exist"), "{run:?}");
    assert!(!room.path("more").exists());
}

/// Two sheets of one name don't overwrite one another's part.
#[test]
fn sheets_of_one_name_get_parts_of_two() {
    let room = Room::new();
    room.put("songs/a.abc", TUNE);
    room.figwort("arrange songs/a.abc -o songs/a.mid").clean();
    let run = room.figwort("arrange songs -o parts");
    assert!(run.out.contains("2 arranged"), "{run:?}");
    assert_eq!(parts(&room, "parts"), ["a-abc.mid", "a-mid.mid"]);
    // Nor where a number or an extension makes two names one; names stay where nobody else has them.
    let second = TUNE.replace("X:1", "X:2");
    room.put("more/two.abc", format!("{TUNE}\n{second}")).put("more/two-1.abc", TUNE);
    room.put("more/g.abc", TUNE).put("more/g.mid", room.bytes("songs/a.mid")).put("more/g-abc.abc", TUNE);
    let run = room.figwort("arrange more -o others");
    assert!(run.out.contains("6 arranged, 0 with warnings, 0 failed"), "{run:?}");
    let expected = ["g-abc-abc.mid", "g-abc.mid", "g-mid.mid", "two-1-abc.mid", "two-2.mid", "two-abc-1.mid"];
    assert_eq!(parts(&room, "others"), expected);
}

/// What no extension tells apart fails, rather than replace another's part.
#[cfg(target_os = "linux")]
#[test]
fn sheets_of_one_name_but_for_capitals() {
    let room = Room::new();
    room.put("songs/Air.abc", TUNE).put("songs/air.abc", TUNE);
    let run = room.figwort("arrange songs -o parts");
    assert_eq!(run.code, 1, "{run:?}");
    let words =
        "fail  songs/air.abc: its part would be called parts/air-abc.mid like that of songs/Air.abc; rename";
    assert!(run.out.contains(words), "{run:?}");
    assert_eq!(parts(&room, "parts"), ["Air-abc.mid"]);
}

/// A picture's second page doesn't replace another tune's picture.
#[test]
fn pages_replace_no_other_picture() {
    let room = Room::new();
    let long = fs::read(crate::room::songs().join("lamps-along-the-landing.abc")).unwrap();
    room.put("songs/landing.abc", long).put("songs/landing-2.abc", TUNE);
    let run = room.figwort("arrange songs -o parts --also svg");
    assert_eq!(run.code, 1, "{run:?}");
    let words = "fail  songs/landing.abc: parts/landing-2.svg: two outputs go to this file";
    assert!(run.out.contains(words), "{run:?}");
    assert_eq!(parts(&room, "parts"), ["landing-2.mid", "landing-2.svg"]);
    // A short picture is told from pages that lie beside it, but not from another tune's.
    room.put("short/a.abc", TUNE)
        .put("short/b.abc", TUNE)
        .put("short/b-1.abc", TUNE)
        .put("others/a-1.svg", "");
    let run = room.figwort("arrange short -o others --also svg");
    let words = "warn  others/a.mid: 4 bars; others/a-1.svg: not of this picture; delete it if an earlier run left it";
    assert!(run.code == 0 && run.out.contains(words), "{run:?}");
    assert!(run.out.contains("3 arranged, 1 with warnings, 0 failed"), "{run:?}");
}

/// All ends of names that sheets go by.
#[test]
fn sheets_by_every_name_get_parts() {
    let room = Room::new();
    room.put("tune.abc", TUNE);
    room.figwort("arrange tune.abc -o tune.mid").clean();
    for ending in ["kar", "mid", "midi", "rmi", "smf"] {
        room.put(&format!("songs/{ending}.{ending}"), room.bytes("tune.mid"));
    }
    let run = room.figwort("arrange songs -o parts");
    assert!(run.out.contains("5 arranged, 0 with warnings, 0 failed; "), "{run:?}");
    assert!(!run.out.contains("passed over"), "{run:?}");
}

/// MusicXML among other sheets, under either of its names; XML of other kinds is named.
#[test]
fn scores_get_parts_too() {
    let room = Room::new();
    room.put("songs/a.musicxml", SCORE).put("songs/b.xml", SCORE).put("songs/c.abc", TUNE);
    let run = room.figwort("arrange songs -o parts");
    assert_eq!(run.code, 0, "{run:?}");
    assert!(run.out.contains("3 arranged, 0 with warnings, 0 failed;"), "{run:?}");
    assert_eq!(parts(&room, "parts"), ["a.mid", "b.mid", "c.mid"]);
    // The same four bars in another format: the same part.
    assert_eq!(room.bytes("parts/a.mid"), room.bytes("parts/c.mid"));
    let checked = room.figwort("check songs").clean().out;
    assert!(checked.contains("songs/a.musicxml: sheet, 4 bars, 5 chord changes"), "{checked}");
    room.put("songs/other.xml", "<?xml version='1.0'?><menu/>").put("songs/cut.mxl", "PK\x03\x04");
    let run = room.figwort("arrange songs -o parts");
    assert_eq!(run.code, 1, "{run:?}");
    assert!(
        run.out.contains("fail  songs/other.xml: not a lead sheet but an XML file of another kind"),
        "{run:?}"
    );
    assert!(run.out.contains("fail  songs/cut.mxl: the compressed file is damaged"), "{run:?}");
    assert!(run.out.contains("3 arranged, 0 with warnings, 2 failed;"), "{run:?}");
}

#[test]
fn folders_that_make_no_sense() {
    let room = filled();
    room.put("file", "").put("letters/a.txt", "");
    let before = room.everything();
    for (arguments, words) in [
        ("arrange songs -o file", "file: this is a file"),
        ("arrange songs -o songs", "songs: the parts would lie among the sheets"),
        ("arrange songs/deep -o songs", "songs: the folder of sheets lies in this one"),
        ("arrange songs -o .", "a folder of their own after -o"),
        (
            "arrange songs -o parts --also json --report parts/one.json",
            "parts/one.json: two outputs go to this file",
        ),
        (
            "arrange letters -o parts",
            "letters: there is no .abc, .musicxml, .mxl, .xml, .mid, .midi, .kar, .rmi or .smf file in this folder",
        ),
        ("arrange songs -o parts --manner zzz", "no manner \"zzz\""),
    ] {
        let run = room.figwort(arguments);
        assert_eq!((run.code, run.out.as_str()), (1, ""), "{arguments}: {run:?}");
        assert!(run.err.contains(words), "{arguments}: {run:?}");
    }
    assert!(before == room.everything());
    // A part that cannot be written is its tune's failure only.
    fs::create_dir_all(room.path("parts/one.mid")).unwrap();
    let run = room.figwort("arrange songs -o parts");
    assert_eq!(run.code, 1);
    assert!(run.out.contains("3 arranged, 1 with warnings, 1 failed"), "{run:?}");
    assert!(run.out.contains("parts/one.mid: this is a folder"), "{run:?}");
}
