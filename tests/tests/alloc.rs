//! The audio thread takes no memory: a plugin built to end its process at the first allocation in `process`
//! plays a whole tune in a process of its own.

use std::process::Command;

use tests::host::bundle;

#[test]
fn process_takes_no_memory() {
    let plugin = bundle("FIGWORT_CLAP_GUARDED");
    let output = Command::new(env!("CARGO_BIN_EXE_guarded"))
        .env("FIGWORT_CLAP_GUARDED", plugin)
        .output()
        .expect("the player starts");
    let said = String::from_utf8_lossy(&output.stdout);
    let complained = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "ended with {}\n{said}{complained}", output.status);
    let events: usize = said.split(' ').next().and_then(|n| n.parse().ok()).unwrap_or(0);
    assert!(events > 100, "played only this: {said}");
}
