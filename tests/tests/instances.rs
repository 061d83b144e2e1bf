//! Instances that come and go leave nothing behind: memory after many of them is what it was after a few.

#[path = "../src/absent.rs"]
mod absent;

use std::sync::{Mutex, PoisonError};

use tests::checks::{play, tune};
use tests::clap_host::ClapRig;

const UNTOLD: &str = "the system does not tell how much memory is resident (/proc/self/status)";

/// The tests of this file measure the same process, so one goes after the other.
static ALONE: Mutex<()> = Mutex::new(());

/// Resident memory of this process in kilobytes; `None` where the system does not tell.
fn resident() -> Option<i64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmRSS:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

/// One instance, its whole life: made, played, asked for its state, gone.
fn life() {
    let mut rig = ClapRig::new();
    let heard = play(&mut rig, &tune(), &[512]);
    assert!(heard.len() > 20);
    assert!(!tests::host::Host::save(&mut rig).is_empty());
}

#[test]
fn a_hundred_instances_leave_nothing_behind() {
    let _alone = ALONE.lock().unwrap_or_else(PoisonError::into_inner);
    // The first ones fill caches and the allocator's pools.
    for _ in 0..10 {
        life();
    }
    let Some(before) = resident() else { return absent::skipped(UNTOLD) };
    for _ in 0..100 {
        life();
    }
    let after = resident().expect("told before");
    println!("{before} kB after ten instances, {after} kB after a hundred and ten");
    // An instance takes more than a megabyte; ten that stayed would show.
    assert!(after - before < 8 * 1024, "{} kB more after a hundred instances", after - before);
}

/// Many at once cost what they cost, each no more than planned: 2 MiB at most is the aim; about one is what they take
/// besides what all of a process share.
#[test]
fn an_instance_is_small() {
    let _alone = ALONE.lock().unwrap_or_else(PoisonError::into_inner);
    // What all share comes with the first.
    life();
    let Some(before) = resident() else { return absent::skipped(UNTOLD) };
    let mut rigs: Vec<ClapRig> = (0..20).map(|_| ClapRig::new()).collect();
    for rig in &mut rigs {
        play(rig, &tune(), &[512]);
    }
    let each = (resident().expect("told before") - before) / 20;
    println!("{each} kB an instance, without the editor");
    assert!(each < 1_280, "{each} kB an instance");
}
