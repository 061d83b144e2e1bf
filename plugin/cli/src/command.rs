//! The commands, one module each, and what several of them share.

pub(crate) mod arrange;
pub(crate) mod check;
mod folder;
pub(crate) mod follow;
pub(crate) mod listing;
pub(crate) mod name;
mod part;
mod tunes;

/// `1 bar`, `2 bars`.
fn count(n: usize, one: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{n} {one}s") }
}
