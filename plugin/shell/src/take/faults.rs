//! Keeping a take while the disk is full or may not be written, while another instance keeps one, and while the
//! program is ended: a clear message, and never half a file.
#![allow(clippy::print_stdout, reason = "one of them is a program for the others")]

#[path = "../../../../tests/src/absent.rs"]
mod absent;

use std::collections::BTreeSet;
use std::fs;
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::Duration;

use super::tests::story;
use super::*;

/// Where the program that is started by the tests below keeps takes.
const FOLDER: &str = "FIGWORT_TEST_FOLDER";
/// Takes that it keeps.
const TAKES: usize = 2_000;

/// Keeps takes and prints what comes of it.
#[test]
#[ignore = "the other tests start it"]
fn keeper() {
    let folder = PathBuf::from(std::env::var_os(FOLDER).expect("a folder"));
    for _ in 0..TAKES {
        match keep(&story(), "", &folder) {
            Ok(_) => println!("kept"),
            Err(error) => return println!("[{error}]"),
        }
    }
}

/// A shell command that runs `keeper` in a folder.
fn keeper_in(folder: &Path, script: &str) -> Command {
    let mut command = Command::new("unshare");
    command
        .args(["-r", "-m", "sh", "-c", script])
        .env("KEEPER", std::env::current_exe().expect("this program"))
        .env(FOLDER, folder);
    command
}

const RUN: &str = "$KEEPER --exact take::faults::keeper --ignored --nocapture";

/// What `keeper` says in a file system of its own that is mounted with these options; `None` where none may be.
fn on_a_disk(options: &str) -> Option<String> {
    let folder = tempfile::tempdir().expect("a folder");
    let mount = format!("mount -t tmpfs -o {options} tmpfs \"${FOLDER}\"");
    if !keeper_in(folder.path(), &mount).status().is_ok_and(|status| status.success()) {
        absent::skipped("file systems may not be mounted here (unshare -r -m)");
        return None;
    }
    let output = keeper_in(folder.path(), &format!("{mount} && {RUN}; ls -A \"${FOLDER}\"")).output();
    Some(String::from_utf8_lossy(&output.expect("a shell").stdout).into_owned())
}

#[test]
fn a_full_disk_is_said_and_nothing_is_half_written() {
    let Some(said) = on_a_disk("size=32k") else { return };
    assert!(said.contains("cannot be written (no storage space)"), "{said}");
    assert!(said.contains("make room there; the take is still remembered"), "{said}");
    let kept = said.matches("kept").count();
    assert!(kept > 1 && said.matches("Take 0").count() == kept && !said.contains(".figwort-"), "{said}");
}

#[test]
fn a_folder_that_may_not_be_written_is_named() {
    let Some(said) = on_a_disk("ro") else { return };
    assert!(said.contains("cannot be written (read-only filesystem"), "{said}");
    assert!(said.contains("make it a folder where you may write; the take is still remembered"), "{said}");
}

#[test]
fn instances_that_keep_at_once_lose_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let keep_some =
        || -> Vec<PathBuf> { (0..25).map(|_| keep(&story(), "", folder.path()).expect("a take")).collect() };
    let kept: BTreeSet<PathBuf> = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..4).map(|_| scope.spawn(keep_some)).collect();
        threads.into_iter().flat_map(|thread| thread.join().expect("an instance")).collect()
    });
    assert_eq!(kept.len(), 100, "two instances were told the same place");
    assert_eq!(whole_takes(folder.path()), 100);
}

/// Ended in the middle, it leaves whole takes, and the next one finds its place.
#[test]
fn an_end_in_the_middle_leaves_whole_takes() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut before = 0;
    for more in [1, 5, 20] {
        let mut run = Command::new(std::env::current_exe().expect("this program"))
            .args(["--exact", "take::faults::keeper", "--ignored"])
            .env(FOLDER, folder.path())
            .stdout(Stdio::null())
            .spawn()
            .expect("started");
        while takes(folder.path()).count() < before + more {
            assert!(run.try_wait().expect("a program").is_none(), "it ended before it was killed");
            sleep(Duration::from_millis(1));
        }
        run.kill().expect("ended");
        run.wait().expect("ended");
        let kept = whole_takes(folder.path()) - before;
        assert!(kept < TAKES, "all {kept} takes: that was not the middle");
        before += kept;
    }
    keep(&story(), "", folder.path()).expect("a take");
    assert_eq!(whole_takes(folder.path()), before + 1);
}

fn takes(folder: &Path) -> impl Iterator<Item = PathBuf> {
    let paths = fs::read_dir(folder).expect("a folder").map(|entry| entry.expect("a file").path());
    paths.filter(|path| path.extension().is_some_and(|extension| extension == "mid"))
}

/// How many takes there are; panics at one that is not whole.
fn whole_takes(folder: &Path) -> usize {
    let expected = {
        let alone = tempfile::tempdir().expect("a folder");
        fs::read(keep(&story(), "", alone.path()).expect("a take")).expect("the file")
    };
    takes(folder)
        .map(|path| assert_eq!(fs::read(&path).expect("the file"), expected, "{}", path.display()))
        .count()
}
