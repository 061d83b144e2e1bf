//! For tests that look at something outside the repository, or need what not every system allows: says that it
//! was not at hand, so that a test that passed without it is told from one that looked.
//!
//! A test takes this file in by its path (`#[path]`), as the crates that have such tests share no other. Deliberately
//! absent: deciding whether a test may pass without; that is said beside the test.

use std::fmt::Display;
use std::io::Write;

/// Writes `skipped: TEST: WHAT` where everybody sees it: past the test harness, which keeps to itself what a passing
/// test prints. `cargo xtask test` counts these lines. `what` says what is absent, and how to have it.
///
/// The test is known by its thread's name, so this is to be called from the test's own thread.
pub(crate) fn skipped(what: impl Display) {
    let thread = std::thread::current();
    let line = format!("skipped: {}: {what}\n", thread.name().unwrap_or("a test"));
    // All at once, as other tests write, too. Where nothing can be written, nobody is listening.
    let _ = std::io::stderr().write_all(line.as_bytes());
}
