//! The bar-by-bar table as aligned plain text.

use crate::perform::Performance;

use super::{BarReport, Range, report};

/// Headings of the columns.
const HEADINGS: [&str; 7] = ["bar", "chord", "melody", "played", "parts", "dynamics", "onsets"];
/// Columns whose entries are pushed to the right.
const NUMBERS: [bool; 7] = [true, false, false, false, true, true, false];

/// The bar-by-bar table: bar, chords, what the melody did (beats of it), what was played, parts, softest and
/// loudest velocity of the accompaniment, and notes begun (melody + right + left). Lines end without spaces,
/// the last with a line break.
pub fn table(performance: &Performance) -> String {
    let report = report(performance);
    let rows: Vec<[String; 7]> = report.bars.iter().map(row).collect();
    let mut widths = HEADINGS.map(|heading| heading.chars().count());
    for row in &rows {
        for (width, entry) in widths.iter_mut().zip(row) {
            *width = (*width).max(entry.chars().count());
        }
    }
    let mut out = line(&HEADINGS.map(str::to_owned), &widths);
    out.push_str(&line(&widths.map(|width| "─".repeat(width)), &widths));
    for row in &rows {
        out.push_str(&line(row, &widths));
    }
    out
}

fn line(entries: &[String; 7], widths: &[usize; 7]) -> String {
    let mut out = String::new();
    for ((entry, width), number) in entries.iter().zip(widths).zip(NUMBERS) {
        let room = " ".repeat(width.saturating_sub(entry.chars().count()));
        let (before, after) = if number { (room.as_str(), "") } else { ("", room.as_str()) };
        out.push_str(before);
        out.push_str(entry);
        out.push_str(after);
        out.push_str("  ");
    }
    out.truncate(out.trim_end().len());
    out.push('\n');
    out
}

fn row(bar: &BarReport) -> [String; 7] {
    let chords: Vec<String> = bar
        .chords
        .iter()
        .map(|chord| {
            let on_first =
                chord.beat == 1.0 || bar.chords.first().is_some_and(|first| first.beat == chord.beat);
            if on_first { chord.symbol.clone() } else { format!("{}@{}", chord.symbol, number(chord.beat)) }
        })
        .collect();
    let onsets = bar.onsets;
    [
        if bar.number == 0 { "up".into() } else { bar.number.to_string() },
        if chords.is_empty() { "–".into() } else { chords.join(" ") },
        melody(bar),
        if bar.textures.is_empty() { "–".into() } else { played(bar) },
        range(bar.parts),
        range(bar.dynamics),
        format!("{} + {} + {}", onsets.melody, onsets.right, onsets.left),
    ]
}

/// Each texture once, in the order they first came.
fn played(bar: &BarReport) -> String {
    let mut names: Vec<&str> = Vec::new();
    for name in &bar.textures {
        if !names.contains(name) {
            names.push(name);
        }
    }
    names.join(", ")
}

/// `still 3, moving 1`: what the melody did, longest first.
fn melody(bar: &BarReport) -> String {
    let mut parts =
        [(bar.melody.still, "still"), (bar.melody.moving, "moving"), (bar.melody.resting, "resting")];
    parts.sort_by(|a, b| b.0.total_cmp(&a.0));
    let words: Vec<String> = parts
        .iter()
        .filter(|(beats, _)| *beats > 0.05)
        .map(|(beats, word)| format!("{word} {}", number(*beats)))
        .collect();
    words.join(", ")
}

fn range(range: Option<Range<u8>>) -> String {
    match range {
        None => "–".into(),
        Some(range) if range.from == range.to => range.from.to_string(),
        Some(range) => format!("{}–{}", range.from, range.to),
    }
}

/// A number with at most one decimal.
fn number(value: f64) -> String {
    let tenths = (value * 10.0).round();
    if tenths % 10.0 == 0.0 { format!("{:.0}", tenths / 10.0) } else { format!("{:.1}", tenths / 10.0) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;

    #[test]
    fn the_table_is_aligned_and_says_what_happened() {
        let wanted = "\
bar  chord    melody             played               parts  dynamics  onsets
───  ───────  ─────────────────  ───────────────────  ─────  ────────  ─────────
 up  –        moving 1           silent                   –         –  2 + 0 + 0
  1  Ebmaj7   still 3, moving 1  broken chord, block      5     56–62  2 + 2 + 3
  2  Bb7b9/F  moving 3, still 1  block                    4        60  5 + 2 + 2
";
        assert_eq!(table(&sample::two_bars()), wanted);
    }
}
