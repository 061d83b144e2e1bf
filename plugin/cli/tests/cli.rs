//! The built program, run as its users run it: exit codes, messages, and the files that it leaves.
#![allow(clippy::unwrap_used, reason = "a test whose scene cannot be set is a failed test")]

#[path = "cli/bad_input.rs"]
mod bad_input;
#[cfg(target_os = "linux")]
#[path = "cli/faults.rs"]
mod faults;
#[path = "cli/folders.rs"]
mod folders;
#[path = "cli/good_input.rs"]
mod good_input;
#[path = "cli/misuse.rs"]
mod misuse;
#[path = "cli/room.rs"]
mod room;
