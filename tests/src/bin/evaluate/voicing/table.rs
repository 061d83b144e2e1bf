//! The tables: one per group of measures, a column per rung, then composed music, reference and aim.
//!
//! Not here: counting.

use ::tests::movement::Share;

use super::measure::{REGISTERS, TOLERANCES, Tally};
use crate::grid::{Flush, grid};

const NONE: &str = "–";

/// Columns before reference and aim.
pub(crate) const COLUMNS: [&str; 7] =
    ["Plain", "Spaced", "Shared", "Flowing", "Ornate", "Shared, two players", "Composed"];

struct Row {
    name: String,
    cells: Vec<String>,
    reference: &'static str,
    aim: &'static str,
}

/// All tables, as text. `tallies` are those of the five rungs, of Shared
/// with the melody in another's hands and, if there is any, of composed music.
pub(crate) fn all(tallies: &[Tally]) -> String {
    let groups: [(&str, Vec<Row>); 10] = [
        ("How much there is", amount(tallies)),
        ("Low interval limits (Berklee table; attacks of the accompaniment)", low(tallies)),
        (
            "Interval between the two lowest accompaniment notes, semitones, by register of the lowest",
            lowest(tallies),
        ),
        ("Gaps from the bottom where four or more are down, semitones, p25/p50/p75", gaps(tallies)),
        ("Roughness of struck chords (Hutchinson and Knopoff)", rough(tallies)),
        ("Hands", hands(tallies)),
        ("Melody and clashes", melody(tallies)),
        ("Chord tones of struck chords", tones(tallies)),
        ("From one struck chord to the next", changes(tallies)),
        ("Notes sounding, share of the time", sounding(tallies)),
    ];
    groups.iter().map(|(title, rows)| table(title, rows, tallies.len())).collect::<Vec<_>>().join("\n")
}

fn row(
    tallies: &[Tally],
    name: impl Into<String>,
    reference: &'static str,
    aim: &'static str,
    cell: impl Fn(&Tally) -> String,
) -> Row {
    Row { name: name.into(), cells: tallies.iter().map(cell).collect(), reference, aim }
}

fn amount(tallies: &[Tally]) -> Vec<Row> {
    vec![
        row(tallies, "pieces", "", "", |t| t.pieces.to_string()),
        row(tallies, "attacks", "", "", |t| t.attacks.to_string()),
        row(tallies, "struck chords", "", "", |t| t.strikes.to_string()),
    ]
}

fn low(tallies: &[Tally]) -> Vec<Row> {
    let mut rows = vec![];
    for (n, tolerance) in TOLERANCES.into_iter().enumerate() {
        let with = |what: &str| format!("{what}, tolerance {tolerance}");
        rows.extend([
            row(tallies, with("neighbours break one"), "", "", move |t| percent(t.low[n].neighbours)),
            row(tallies, with("… not forced by the written bass (number)"), "", "0", move |t| {
                (t.low[n].neighbours.count - t.low[n].forced).to_string()
            }),
            row(tallies, with("inversions too low over their root"), "", "", move |t| percent(t.low[n].root)),
            row(tallies, with("… not forced by the bass's range (number)"), "", "0", move |t| {
                if t.low[n].root.of == 0 {
                    NONE.into()
                } else {
                    (t.low[n].root.count - t.low[n].root_forced).to_string()
                }
            }),
        ]);
    }
    rows
}

fn lowest(tallies: &[Tally]) -> Vec<Row> {
    const REFERENCE: [[&str; 3]; 5] = [
        ["7/12/12/23", "1.7 %", "1.2 %"],
        ["7/12/12/24", "3.2 %", "1.3 %"],
        ["5/8/12/20", "8.8 %", "4.2 %"],
        ["3/7/11/17", "23 %", "14 %"],
        ["3/4/7/12", "43 %", "29 %"],
    ];
    let mut rows = vec![];
    for (n, ((name, ..), reference)) in REGISTERS.into_iter().zip(REFERENCE).enumerate() {
        // The aim is set for the registers below C3.
        let aim = if n < 3 { ["≥ reference", "≤ reference", "≤ reference"] } else { [""; 3] };
        let share = move |t: &Tally, below: i32| {
            let count = t.lowest[n].iter().filter(|interval| **interval < below).count();
            percent(Share { count, of: t.lowest[n].len() })
        };
        rows.extend([
            row(tallies, format!("{name} number"), "", "", move |t| t.lowest[n].len().to_string()),
            row(tallies, format!("{name} p5/p25/p50/p75"), reference[0], aim[0], move |t| {
                spread(&t.lowest[n], &[5, 25, 50, 75])
            }),
            row(tallies, format!("{name} < 7"), reference[1], aim[1], move |t| share(t, 7)),
            row(tallies, format!("{name} ≤ 4"), reference[2], aim[2], move |t| share(t, 5)),
        ]);
    }
    rows
}

fn gaps(tallies: &[Tally]) -> Vec<Row> {
    const REFERENCE: [&str; 4] = ["5/7/12", "4/5/9", "3/5/8", "3/5/7"];
    (0..4)
        .map(|n| {
            row(tallies, format!("gap {}", n + 1), REFERENCE[n], "", move |t| {
                spread(&t.gaps[n], &[25, 50, 75])
            })
        })
        .collect()
}

fn rough(tallies: &[Tally]) -> Vec<Row> {
    let median = |t: &Tally, n: usize, p: usize| {
        let mut all = t.rough[n].clone();
        all.sort_unstable_by(f64::total_cmp);
        percentile(&all, p).map(|value| format!("{value:.3}"))
    };
    let plain = |n: usize| tallies.first().and_then(|t| median(t, n, 50));
    let mut rows = vec![];
    for (n, name) in ["all", "3 notes", "4 notes", "5 notes"].into_iter().enumerate() {
        let aim = if n == 0 { "Shared ≤ half of Plain" } else { "" };
        let against = plain(n).and_then(|p| p.parse::<f64>().ok());
        rows.push(row(tallies, format!("{name} (number)"), "", "", move |t| t.rough[n].len().to_string()));
        rows.push(row(tallies, format!("{name} p50"), "", aim, move |t| {
            median(t, n, 50).unwrap_or_else(|| NONE.into())
        }));
        rows.push(row(tallies, format!("{name} p95"), "", "", move |t| {
            median(t, n, 95).unwrap_or_else(|| NONE.into())
        }));
        rows.push(row(tallies, format!("{name} p50 against Plain"), "", "", move |t| {
            let own = median(t, n, 50).and_then(|p| p.parse::<f64>().ok());
            own.zip(against).map_or_else(|| NONE.into(), |(own, plain)| format!("{:.2}", own / plain))
        }));
    }
    rows
}

fn hands(tallies: &[Tally]) -> Vec<Row> {
    vec![
        row(tallies, "left, struck together, span p50/p95", "9/15", "", |t| spread(&t.spans[0], &[50, 95])),
        row(tallies, "right, struck together, span p50/p95", "8/12", "", |t| spread(&t.spans[1], &[50, 95])),
        row(tallies, "left holds more than 14", "5.3 % struck", "0", |t| percent(t.stretched[0])),
        row(tallies, "right holds more than 14", "1.6 % struck", "0", |t| percent(t.stretched[1])),
        row(tallies, "right with melody holds more than 14", "", "0", |t| percent(t.stretched[2])),
        row(tallies, "… at every attack, the melody's, too", "", "", |t| percent(t.stretched[3])),
        row(tallies, "more than five fingers", "", "0", |t| percent(t.fingers)),
        row(tallies, "either, in the climb of the last chord", "", "", |t| percent(t.ending_hands)),
    ]
}

fn melody(tallies: &[Tally]) -> Vec<Row> {
    vec![
        row(tallies, "melody covered, at accompaniment's attacks", "", "0", |t| percent(t.covered[0])),
        row(tallies, "melody covered, at every attack", "", "0", |t| percent(t.covered[1])),
        row(tallies, "a part less than a third below it", "", "0", |t| percent(t.close)),
        row(tallies, "minor second or ninth with it", "", "0", |t| percent(t.melody_clash)),
        row(tallies, "minor second or ninth between parts", "", "0", |t| percent(t.parts_clash[0])),
        row(tallies, "… of which one is a passing tone", "", "", |t| percent(t.parts_clash[1])),
    ]
}

fn tones(tallies: &[Tally]) -> Vec<Row> {
    vec![
        row(tallies, "guide tone missing, 4 or more parts", "", "", |t| percent(t.guides)),
        row(tallies, "… though the rules allow it (number)", "", "0", |t| t.guides_possible.to_string()),
        row(tallies, "chord seventh doubled", "", "0", |t| percent(t.sevenths_doubled)),
        row(tallies, "leading tone doubled", "", "0", |t| percent(t.leading_doubled)),
    ]
}

fn changes(tallies: &[Tally]) -> Vec<Row> {
    let mean = |(sum, count): (i32, usize)| {
        if count == 0 { NONE.into() } else { format!("{:.2}", f64::from(sum) / count as f64) }
    };
    vec![
        row(tallies, "changes", "", "", |t| t.parallels[0][0].of.to_string()),
        row(tallies, "parallel fifths, bass and top part", "", "0", |t| percent(t.parallels[0][0])),
        row(tallies, "parallel octaves, bass and top part", "", "0", |t| percent(t.parallels[0][1])),
        row(tallies, "parallel fifths, bass and melody", "", "", |t| percent(t.parallels[1][0])),
        row(tallies, "parallel octaves, bass and melody", "", "", |t| percent(t.parallels[1][1])),
        row(tallies, "mean motion of a part, semitones", "", "< 2.0", move |t| mean(t.motion[0])),
        row(tallies, "… of a part above the bass", "", "", move |t| mean(t.motion[1])),
        row(tallies, "… of the bass", "", "", move |t| mean(t.motion[2])),
        row(tallies, "sevenths that step down or stay", "", "high", |t| percent(t.resolved[0])),
        row(tallies, "leading tones that step up or stay", "", "high", |t| percent(t.resolved[1])),
    ]
}

fn sounding(tallies: &[Tally]) -> Vec<Row> {
    const REFERENCE: [&str; 7] = ["13 %", "19 %", "20 %", "24 %", "15 %", "6 %", "3 %"];
    const COUNTS: [&str; 7] = ["0–1", "2", "3", "4", "5", "6", "7+"];
    let mut rows = vec![];
    for (kind, what) in ["accompaniment's keys", "with pedal", "keys, with melody"].into_iter().enumerate() {
        for n in 0..7 {
            let reference = if kind == 0 { REFERENCE[n] } else { "" };
            rows.push(row(tallies, format!("{what}: {}", COUNTS[n]), reference, "", move |t| {
                let ticks = t.sounding[kind];
                let total: i64 = ticks.iter().sum();
                let count = ticks[n + 1] + if n == 0 { ticks[0] } else { 0 };
                if total == 0 { NONE.into() } else { format!("{:.1} %", count as f64 * 100.0 / total as f64) }
            }));
        }
    }
    rows
}

fn percent(share: Share) -> String {
    if share.of == 0 {
        return NONE.into();
    }
    let percent = share.count as f64 * 100.0 / share.of as f64;
    match share.count {
        0 => "0".into(),
        count if percent < 1.0 => format!("{percent:.2} % ({count})"),
        _ => format!("{percent:.1} %"),
    }
}

fn percentile<T: Copy>(sorted: &[T], p: usize) -> Option<T> {
    sorted.get((sorted.len() * p / 100).min(sorted.len().checked_sub(1)?)).copied()
}

fn spread(values: &[i32], percentiles: &[usize]) -> String {
    let mut sorted = values.to_vec();
    sorted.sort_unstable();
    let found: Vec<String> =
        percentiles.iter().filter_map(|p| percentile(&sorted, *p)).map(|value| value.to_string()).collect();
    if found.is_empty() { NONE.into() } else { found.join("/") }
}

fn table(title: &str, rows: &[Row], columns: usize) -> String {
    let heading = COLUMNS.iter().take(columns).copied().chain(["Reference", "Aim"]).map(str::to_owned);
    let mut lines: Vec<Vec<String>> = vec![std::iter::once(String::new()).chain(heading).collect()];
    for row in rows {
        let ends = [row.reference.to_owned(), row.aim.to_owned()];
        lines.push(std::iter::once(row.name.clone()).chain(row.cells.iter().cloned()).chain(ends).collect());
    }
    format!("## {title}\n{}", grid(&lines, Flush::Left))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn percentiles_and_shares() {
        assert_eq!(spread(&[12, 3, 7, 5], &[0, 50, 95]), "3/7/12");
        assert_eq!(spread(&[], &[50]), NONE);
        assert_eq!(percent(Share { count: 0, of: 9 }), "0");
        assert_eq!(percent(Share { count: 1, of: 8 }), "12.5 %");
        assert_eq!(percent(Share { count: 1, of: 200 }), "0.50 % (1)");
        assert_eq!(percent(Share::default()), NONE);
    }

    #[test]
    fn every_row_has_every_column() {
        let text = all(&[Tally::default(), Tally::default()]);
        for group in text.split("## ").filter(|group| !group.is_empty()) {
            let lines: Vec<usize> =
                group.lines().skip(1).filter(|l| !l.is_empty()).map(|l| l.matches('|').count()).collect();
            assert!(lines.len() >= 3 && lines.iter().all(|count| *count == 6), "{group}");
        }
    }
}
