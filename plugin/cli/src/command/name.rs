//! `figwort name`: names a held chord.

use crate::args::Name;
use crate::failure::Outcome;

/// Names the keys.
pub(crate) fn run(_arguments: &Name) -> Outcome<()> {
    Ok(())
}
