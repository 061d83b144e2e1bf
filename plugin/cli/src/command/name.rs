//! `figwort name`: names a held chord.

use figwort_theory::ChordSymbol;
use figwort_theory::identify::{Context, identify_keys};

use crate::args::Name;
use crate::failure::{Failure, Outcome};
use crate::print;

/// Prints the symbol of the keys, spelled to suit the key.
pub(crate) fn run(arguments: &Name) -> Outcome<()> {
    let context = Context { key: arguments.key, previous: None };
    let Some(chord) = identify_keys(arguments.keys.iter().copied(), &context) else {
        return Err(Failure::misuse("no keys: give at least one"));
    };
    print(&format!("{}\n", ChordSymbol::of(chord, arguments.key.unwrap_or_default())))
}
