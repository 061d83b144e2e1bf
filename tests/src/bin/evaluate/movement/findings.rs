//! What shouldn't be there, with its place: undefined tones, and spells of stillness left still.

use std::collections::BTreeMap;
use std::fmt::Write;

use figwort_preset::Library;

use super::Way;
use super::tally::Tally;

/// Undefined tones printed for each way of playing.
const SHOWN: usize = 4;

/// The first of each way, and what the accompaniment meant to do where it left stillness still.
pub(super) fn first(tallies: &[(Way, Tally)], library: &Library) -> String {
    let mut text = String::new();
    for (way, tally) in tallies.iter().filter(|(_, tally)| !tally.undefined.is_empty()) {
        let _ = writeln!(text, "## Undefined: {} ({})", title(way), tally.undefined.len());
        for (tune, what) in tally.undefined.iter().take(SHOWN) {
            let _ = writeln!(text, "  {tune}, {}", named(what, library));
        }
    }
    let _ = writeln!(text, "\n## Stillness left still: what the accompaniment meant to do then");
    for group in tallies.chunk_by(|a, b| a.0.rung == b.0.rung && a.0.knowing == b.0.knowing) {
        let Some((way, _)) = group.first() else { continue };
        let mut meant: BTreeMap<String, usize> = BTreeMap::new();
        for (_, _, what) in group.iter().flat_map(|(_, tally)| &tally.unfilled) {
            *meant.entry(named(what, library)).or_default() += 1;
        }
        let mut meant: Vec<_> = meant.into_iter().collect();
        meant.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
        let list: Vec<String> =
            meant.iter().take(12).map(|(what, count)| format!("{what}: {count}")).collect();
        let _ = writeln!(text, "  {}, {}: {}", way.rung.name(), way.knowing.name(), list.join("; "));
    }
    text
}

/// All undefined tones.
pub(super) fn undefined(tallies: &[(Way, Tally)], library: &Library) -> String {
    let lines = tallies.iter().flat_map(|(way, tally)| {
        tally
            .undefined
            .iter()
            .map(move |(tune, what)| format!("{} | {tune}, {}\n", title(way), named(what, library)))
    });
    lines.collect()
}

/// All spells left still.
pub(super) fn unfilled(tallies: &[(Way, Tally)], library: &Library) -> String {
    let lines = tallies.iter().flat_map(|(way, tally)| {
        tally.unfilled.iter().map(move |(tune, place, what)| {
            format!("{} | {tune}, {place}: {}\n", title(way), named(what, library))
        })
    });
    lines.collect()
}

fn title(way: &Way) -> String {
    format!("{}, {}, {}", way.rung.name(), way.knowing.name(), way.manner)
}

/// Numbers of figures, as in `#12`, replaced by their names.
fn named(what: &str, library: &Library) -> String {
    let Some((before, rest)) = what.split_once('#') else { return what.to_owned() };
    let end = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
    let (number, after) = rest.split_at(end);
    // The sharp of a pitch is no figure's number.
    let is_figure = before.ends_with(' ');
    let name = number.parse().ok().filter(|_| is_figure).and_then(|id| library.figure_name(id));
    match name {
        Some(name) => format!("{before}\"{name}\"{}", named(after, library)),
        None => format!("{before}#{number}{}", named(after, library)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_have_names_and_sharps_stay() {
        let library = Library::factory();
        let figure = library.manner(Library::DEFAULT_MANNER).unwrap().figures[0].id;
        let name = library.figure_name(figure).unwrap();
        assert_eq!(named(&format!("A#2 in #{figure}, B"), &library), format!("A#2 in \"{name}\", B"));
    }
}
