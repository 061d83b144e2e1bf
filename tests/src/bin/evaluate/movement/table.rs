//! The tables, for reading and as CSV.

use std::fmt::Write;

use ::tests::movement::{Measures, Share};
use ::tests::nonchord::Type;

use super::tally::{Tally, mean, percentile};
use super::{Knowing, Way};
use crate::grid::{Flush, grid};

const NONE: &str = "–";

/// The first line of the file of single tunes.
pub(super) const TUNES_HEADING: &str = "rung,knowing,manner,tune,ratio,still,filled,attacks,on_busy_beats,moving_on_busy_beats,\
     beats_off,hanging,unpaired,non_chord_tones,undefined\n";

/// A tune's line.
pub(super) fn tune(way: &Way, name: &str, found: &Measures) -> String {
    format!(
        "{},{},{},\"{}\",{},{},{},{},{},{},{},{},{},{},{}\n",
        way.rung.name(),
        way.knowing.name(),
        way.manner,
        name.replace('"', "'"),
        found.ratio.map_or(String::new(), |ratio| format!("{ratio:.3}")),
        found.filled.of,
        found.filled.count,
        found.on_busy_beats.of,
        found.on_busy_beats.count,
        found.moving_on_busy_beats.count,
        found.beats_off,
        found.hanging,
        found.unpaired,
        found.non_chord_tones(),
        found.undefined.len(),
    )
}

fn percent(share: Share) -> String {
    share.percent().map_or_else(
        || NONE.into(),
        |percent| match share.count {
            count if count == share.of => "100".into(),
            0 => "0".into(),
            _ => format!("{percent:.1}"),
        },
    )
}

fn number(value: Option<f64>) -> String {
    value.map_or_else(|| NONE.into(), |value| format!("{value:.2}"))
}

const HEADINGS: [&str; 17] = [
    "",
    "held/first p10",
    "p50",
    "p90",
    "together",
    "held/moving",
    "filled %",
    "on busy %",
    "moving there %",
    "beats off",
    "hanging",
    "unpaired",
    "non-chord %",
    "defined %",
    "undefined",
    "strong %",
    "bass steps %",
];

fn row(name: &str, tally: &Tally) -> Vec<String> {
    let others = Share { count: tally.defined().of, of: tally.chord_tones.of };
    vec![
        name.to_owned(),
        number(percentile(&tally.ratios, 10)),
        number(percentile(&tally.ratios, 50)),
        number(percentile(&tally.ratios, 90)),
        number(tally.rates[1].against(tally.rates[0])),
        number(tally.rates[1].against(tally.rates[2])),
        percent(tally.filled),
        percent(tally.on_busy_beats),
        percent(tally.moving_on_busy_beats),
        tally.beats_off.to_string(),
        tally.hanging.to_string(),
        tally.unpaired.to_string(),
        percent(others),
        percent(tally.defined()),
        tally.undefined.len().to_string(),
        percent(tally.strong),
        percent(tally.bass_steps),
        number(mean(&tally.varieties)),
        tally.without_chord.to_string(),
        percent(tally.thin),
    ]
}

/// Everything, as text.
pub(super) fn all(tallies: &[(Way, Tally)]) -> String {
    let mut text = String::new();
    for group in tallies.chunk_by(|a, b| a.0.rung == b.0.rung && a.0.knowing == b.0.knowing) {
        let Some((way, _)) = group.first() else { continue };
        let aim = if way.knowing == Knowing::Sheet { "≥ 2.50" } else { "≥ 2.00" };
        let blank = |name: &str| {
            let mut row = vec![String::new(); HEADINGS.len() + 3];
            row[0] = name.to_owned();
            row
        };
        let mut lines = vec![
            HEADINGS.iter().chain(&["variety", "no chord", "thin %"]).map(|h| (*h).to_owned()).collect(),
        ];
        lines.extend(group.iter().map(|(way, tally)| row(&way.manner, tally)));
        let mut together = Tally::default();
        for (_, tally) in group {
            together.join(tally);
        }
        lines.push(row("all manners", &together));
        for (name, figures) in [("Mozart", [".96", "1.34", "1.83"]), ("all open", [".56", "1.00", "1.32"])] {
            let mut reference = blank(name);
            reference.iter_mut().skip(1).zip(figures).for_each(|(cell, figure)| *cell = figure.to_owned());
            lines.push(reference);
        }
        let mut aims = blank("aim");
        for (n, text) in [
            (2, aim),
            (6, "≥ 90"),
            (7, "≤ 10"),
            (9, "0"),
            (10, "0"),
            (11, "0"),
            (13, "100"),
            (14, "0"),
            (15, "100"),
            (18, "0"),
        ] {
            aims[n] = text.to_owned();
        }
        lines.push(aims);
        let _ = writeln!(text, "## {}, {}", way.rung.name(), way.knowing.name());
        text += &grid(&lines, Flush::Right);
        let _ = writeln!(
            text,
            "together: all tunes as one; held/moving: against notes of a beat or less, instead of all first beats; \
             thin: beats with fewer than three notes of the accompaniment in their middle"
        );
        let _ = writeln!(
            text,
            "busy beats (three melody onsets or more): {} % of all beats\n",
            percent(together.busy_beats)
        );
    }
    text += &types(tallies);
    text += &entries(tallies);
    text
}

/// Non-chord tones by type, all manners together.
fn types(tallies: &[(Way, Tally)]) -> String {
    let mut lines = vec![vec!["".to_owned()]];
    for kind in Type::ALL {
        lines.push(vec![kind.name().to_owned()]);
    }
    lines.push(vec!["undefined".to_owned()]);
    lines.push(vec!["(voice across the hands)".to_owned()]);
    for group in tallies.chunk_by(|a, b| a.0.rung == b.0.rung && a.0.knowing == b.0.knowing) {
        let Some((way, _)) = group.first() else { continue };
        lines[0].push(format!("{}, {}", way.rung.name(), way.knowing.name()));
        for n in 0..Type::ALL.len() {
            lines[n + 1].push(group.iter().map(|(_, tally)| tally.types[n]).sum::<usize>().to_string());
        }
        lines[13].push(group.iter().map(|(_, tally)| tally.undefined.len()).sum::<usize>().to_string());
        lines[14].push(group.iter().map(|(_, tally)| tally.across_hands).sum::<usize>().to_string());
    }
    format!("## Non-chord tones by type, all manners\n{}\n", grid(&lines, Flush::Right))
}

/// How soon figures begin live.
fn entries(tallies: &[(Way, Tally)]) -> String {
    let mut lines = vec![
        [
            "",
            "entries",
            "decided ms p50",
            "max",
            "wait for the slot, beats p50",
            "p90",
            "max",
            "beside the slot ms p50",
            "max",
        ]
        .map(str::to_owned)
        .to_vec(),
    ];
    for (way, tally) in tallies.iter().filter(|(way, _)| way.knowing == Knowing::Live) {
        let sorted = |value: fn(&::tests::movement::Entry) -> f64| {
            let mut values: Vec<f64> = tally.entries.iter().map(value).collect();
            values.sort_unstable_by(f64::total_cmp);
            values
        };
        let decided = sorted(|entry| entry.decided_ms);
        let waited = sorted(|entry| entry.waited_beats);
        let beside = sorted(|entry| entry.beside_ms.abs());
        lines.push(vec![
            format!("{}, {}", way.rung.name(), way.manner),
            tally.entries.len().to_string(),
            number(percentile(&decided, 50)),
            number(percentile(&decided, 100)),
            number(percentile(&waited, 50)),
            number(percentile(&waited, 90)),
            number(percentile(&waited, 100)),
            number(percentile(&beside, 50)),
            number(percentile(&beside, 100)),
        ]);
    }
    format!(
        "## Live: from the melody's having stood for a beat to the figure's first note\n{}\n",
        grid(&lines, Flush::Right)
    )
}

/// As CSV.
pub(super) fn csv(tallies: &[(Way, Tally)]) -> String {
    let mut text = String::from(
        "rung,knowing,manner,ratio_p10,ratio_p50,ratio_p90,together,held_to_moving,filled,on_busy_beats,moving_on_busy_beats,beats_off,\
         hanging,unpaired,non_chord,defined,undefined,strong,bass_steps,variety,without_chord,thin\n",
    );
    for (way, tally) in tallies {
        let cells = row(&way.manner, tally).into_iter().map(|cell| cell.replace(NONE, ""));
        let cells: Vec<String> = cells.collect();
        let _ = writeln!(text, "{},{},{}", way.rung.name(), way.knowing.name(), cells.join(","));
    }
    text
}

#[cfg(test)]
mod tests {
    use figwort_engine::Rung;

    use super::*;

    #[test]
    fn every_line_has_every_column() {
        let way = |knowing| Way { rung: Rung::Flowing, knowing, manner: "broad".into() };
        let tallies = [(way(Knowing::Sheet), Tally::default()), (way(Knowing::Live), Tally::default())];
        let text = all(&tallies);
        let counts = |title: &str| -> Vec<usize> {
            let group = text.split("## ").find(|group| group.starts_with(title)).unwrap();
            group.lines().filter(|l| l.starts_with('|')).map(|l| l.matches('|').count()).collect()
        };
        assert_eq!(counts("Flowing, sheet"), [21; 7]);
        assert_eq!(counts("Non-chord"), [4; 16]);
        assert_eq!(csv(&tallies).lines().map(|l| l.matches(',').count()).collect::<Vec<_>>(), [21; 3]);
        let line = tune(&way(Knowing::Live), "a \"tune\"", &Measures::default());
        assert_eq!(line.matches(',').count(), TUNES_HEADING.matches(',').count());
    }
}
