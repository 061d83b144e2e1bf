//! A chord chart for a terminal: bars with their chords, and under each what was played there.
//!
//! Four bars to a row, and so about 78 characters; a row begins with the number of its first bar. A chord stands
//! where it begins in its bar; `-` is a bar in which the chord goes on. `||` ends a section, `|]` the music.

use std::fmt::Write as _;

use figwort_theory::{Key, Mode};

use crate::perform::{ChordMark, Performance, PlayedBar};
use crate::picture::tempo_name;
use crate::report::{BarReport, report};
use crate::timeline::Timeline;

/// Bars in a row.
const BARS: usize = 4;
/// Characters between bar lines at least.
const ROOM: usize = 16;
/// Characters before the first bar line.
const MARGIN: usize = 4;

/// The chart, ending in a line break.
pub fn chart(performance: &Performance) -> String {
    let mut out = heading(performance);
    let report = report(performance);
    let marks = Timeline::of(performance.chords.iter().map(|mark| (mark.at, mark)));
    let headings = Timeline::of(performance.headings.iter().map(|(at, text)| (*at, text)));
    let mut rows: Vec<Vec<usize>> = Vec::new();
    for (index, bar) in performance.bars.iter().enumerate() {
        // A pick-up stands before its row, and every section begins one.
        let full = rows.last().is_none_or(|row| {
            let pick_up =
                row.first().and_then(|first| performance.bars.get(*first)).is_some_and(|bar| bar.number == 0);
            row.len() >= BARS + usize::from(pick_up)
        });
        let only_pick_up = rows.last().is_some_and(|row| {
            row.iter().all(|at| performance.bars.get(*at).is_some_and(|bar| bar.number == 0))
        });
        match rows.last_mut() {
            Some(row) if !full && (!bar.section || only_pick_up) => row.push(index),
            _ => rows.push(vec![index]),
        }
    }
    for row in rows {
        let heading = row.iter().find_map(|index| {
            let bar = performance.bars.get(*index)?;
            headings.within(bar.start, bar.end()).first()
        });
        if let Some((_, text)) = heading {
            let _ = writeln!(out, "{text}");
        }
        let mut chords = String::new();
        let mut played = " ".repeat(MARGIN);
        let number = row
            .iter()
            .filter_map(|index| performance.bars.get(*index))
            .map(|bar| bar.number)
            .find(|n| *n > 0);
        let _ = write!(
            chords,
            "{:>width$} ",
            number.map_or(String::new(), |n| n.to_string()),
            width = MARGIN - 1
        );
        for index in row {
            let (Some(bar), Some(told)) = (performance.bars.get(index), report.bars.get(index)) else {
                continue;
            };
            let next = performance.bars.get(index + 1);
            let line = match next {
                None => "|]",
                Some(next) if next.section => "||",
                Some(_) => "|",
            };
            let above = cell(&marks, bar);
            let below = textures(told);
            let is_short = bar.number == 0;
            let width = above.chars().count().max(below.chars().count()).max(if is_short { 0 } else { ROOM });
            let _ = write!(chords, "| {}", padded(&above, width + 1));
            let _ = write!(played, "  {}", padded(&below, width + 1));
            if line != "|" {
                chords.push_str(line);
                played.push_str("  ");
            }
        }
        if !chords.ends_with(']') && !chords.ends_with("||") {
            chords.push('|');
        }
        let _ = writeln!(out, "{}", chords.trim_end());
        let _ = writeln!(out, "{}", played.trim_end());
    }
    out
}

fn padded(text: &str, width: usize) -> String {
    let missing = width.saturating_sub(text.chars().count());
    format!("{text}{}", " ".repeat(missing))
}

/// Title, composer, key, metre and tempo.
fn heading(performance: &Performance) -> String {
    let mut out = String::new();
    let names: Vec<&str> =
        [Some(performance.title.as_str()), performance.composer.as_deref()].into_iter().flatten().collect();
    let names: Vec<&str> = names.into_iter().filter(|name| !name.is_empty()).collect();
    if !names.is_empty() {
        let _ = writeln!(out, "{}", names.join(" · "));
    }
    if let Some(bar) = performance.bars.first() {
        let mode = match bar.key.mode {
            Mode::Major => "major",
            Mode::Minor => "minor",
        };
        let key: Key = bar.key;
        let (over, under) = (bar.metre.numerator(), bar.metre.denominator());
        let _ =
            writeln!(out, "{} {mode}, {over}/{under}, {}\n", key.name(key.tonic), tempo_name(performance));
    }
    out
}

/// The chords of a bar, each as far to the right as it comes late.
fn cell(marks: &Timeline<&ChordMark>, bar: &PlayedBar) -> String {
    let mut out = String::new();
    for (at, mark) in marks.within(bar.start, bar.end()) {
        let place = ((*at - bar.start).0 * ROOM as i64 / bar.length.0.max(1)).max(0) as usize;
        let filled = out.chars().count();
        if filled > 0 {
            out.push_str(&" ".repeat(place.saturating_sub(filled).max(1)));
        } else if place > 0 {
            out.push('-');
            out.push_str(&" ".repeat(place.saturating_sub(1)));
        }
        out.push_str(&mark.text);
    }
    if out.is_empty() {
        // Before the first chord there is nothing to go on.
        out.push_str(if marks.before(bar.start).is_some() { "-" } else { "" });
    }
    out
}

/// What was played, each texture once; that a figure settled into a held chord goes without saying. A dash where
/// there is a chord and nothing was played.
fn textures(bar: &BarReport) -> String {
    if bar.textures.is_empty() && !bar.chords.is_empty() {
        return "–".into();
    }
    let mut names: Vec<&str> = Vec::new();
    for name in &bar.textures {
        if !names.contains(name) {
            names.push(name);
        }
    }
    if names.len() > 1 {
        names.retain(|name| *name != "block");
    }
    names.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;

    #[test]
    fn the_two_bars_as_a_chart() {
        let wanted = "Two bars\nEb major, 4/4, 60 quarters a minute\n\n";
        let chart = chart(&sample::two_bars());
        assert!(chart.starts_with(wanted), "{chart}");
        assert!(chart.contains("Ebmaj7") && chart.contains("Bb7b9/F") && chart.contains("|]"), "{chart}");
        assert!(chart.contains("  broken chord\n") || chart.contains("  broken chord  "), "{chart}");
        assert!(chart.lines().all(|line| line == line.trim_end()), "{chart}");
    }

    /// Where no hand sounds, nothing is said to be played, whatever was decided.
    #[test]
    fn silence_is_no_texture() {
        let mut performance = sample::two_bars();
        let second = performance.bars[2].start;
        performance.notes.retain(|note| note.hand == figwort_engine::Hand::Melody || note.at < second);
        let chart = chart(&performance);
        let last = chart.lines().last().unwrap_or_default();
        assert!(last.contains("broken chord") && last.ends_with('–') && !last.contains("block"), "{chart}");
    }

    #[test]
    fn chords_stand_where_they_begin() {
        let mut performance = sample::two_bars();
        performance.chords[1].at = figwort_theory::Moment::quarters(3);
        performance.chords[1].text = "Bb7".into();
        let chart = chart(&performance);
        assert!(chart.contains("Ebmaj7  Bb7"), "{chart}");
        assert!(chart.contains("| -"), "the last bar goes on: {chart}");
    }
}
