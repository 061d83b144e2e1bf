//! How good a chance is: area under the curve, loss, precision, calibration.

use std::fmt;

/// What a model said of a note, and what came.
pub(super) struct Answer {
    pub(super) tune: usize,
    pub(super) bar: usize,
    pub(super) first_time: bool,
    pub(super) length: f64,
    pub(super) odds: [f64; 2],
}

impl Answer {
    fn long(&self, n: usize) -> bool {
        self.length >= super::LENGTHS[n] - 1e-3
    }
}

/// All figures of one model for one length.
pub(super) struct Figures {
    auc: f64,
    loss: f64,
    median: f64,
    bars: [f64; 3],
    /// Right and found, at 0.7 and 0.8.
    sure: [(f64, f64); 2],
    /// Area over bars that are played for the first time.
    first_time: f64,
}

impl Figures {
    pub(super) fn of(answers: &[Answer], n: usize) -> Self {
        let all = |keep: &dyn Fn(&Answer) -> bool| {
            auc(answers.iter().filter(|answer| keep(answer)).map(|a| (a.odds[n], a.long(n))).collect())
        };
        let loss: f64 = answers
            .iter()
            .map(|answer| {
                let p = answer.odds[n].clamp(1e-4, 1.0 - 1e-4);
                -(if answer.long(n) { p } else { 1.0 - p }).ln()
            })
            .sum();
        let tunes = answers.iter().map(|answer| answer.tune).max().unwrap_or(0);
        let mut within: Vec<f64> =
            (0..=tunes).map(|tune| all(&|answer| answer.tune == tune)).filter(|auc| !auc.is_nan()).collect();
        within.sort_by(f64::total_cmp);
        let share = |part: usize, whole: usize| part as f64 / whole as f64;
        let sure = [0.7, 0.8].map(|least| {
            let said = answers.iter().filter(|answer| answer.odds[n] >= least);
            let right = said.clone().filter(|answer| answer.long(n)).count();
            let long = answers.iter().filter(|answer| answer.long(n)).count();
            (share(right, said.count()), share(right, long))
        });
        Self {
            auc: all(&|_| true),
            loss: loss / answers.len() as f64,
            median: within.get(within.len() / 2).copied().unwrap_or(f64::NAN),
            bars: [0..4, 4..8, 8..16].map(|bars| all(&|answer| bars.contains(&answer.bar))),
            sure,
            first_time: all(&|answer| answer.first_time),
        }
    }
}

impl fmt::Display for Figures {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [a, b, c] = self.bars;
        let [seven, eight] =
            self.sure.map(
                |(right, found)| {
                    if right.is_nan() { "-".to_owned() } else { format!("{right:.2}/{found:.2}") }
                },
            );
        write!(
            f,
            "{:>7.4}{:>7.4}{:>7.3} |{a:>7.3}{b:>7.3}{c:>7.3} | {seven:>11} {eight:>11} | {:>7.4}",
            self.auc, self.loss, self.median, self.first_time
        )
    }
}

/// Chance that a long note was given higher odds than a short one; not a number where either is missing.
fn auc(mut notes: Vec<(f64, bool)>) -> f64 {
    notes.sort_by(|a, b| a.0.total_cmp(&b.0));
    let long = notes.iter().filter(|note| note.1).count() as f64;
    let short = notes.len() as f64 - long;
    // Sum of the long notes' ranks, equal odds sharing theirs.
    let (mut ranks, mut first) = (0.0, 0);
    while let Some(start) = notes.get(first) {
        let same = notes[first..].iter().take_while(|note| note.0 == start.0).count();
        let rank = first as f64 + (same as f64 + 1.0) / 2.0;
        ranks += rank * notes[first..first + same].iter().filter(|note| note.1).count() as f64;
        first += same;
    }
    (ranks - long * (long + 1.0) / 2.0) / (long * short)
}

/// For ten ranges of the odds: the mean said, the share that came true, and how many notes.
pub(super) fn calibration(answers: &[Answer], n: usize) -> Vec<(f64, f64, usize)> {
    (0..10)
        .filter_map(|tenth| {
            let here = answers.iter().filter(|answer| ((answer.odds[n] * 10.0) as usize).min(9) == tenth);
            let count = here.clone().count();
            let said: f64 = here.clone().map(|answer| answer.odds[n]).sum();
            let came = here.filter(|answer| answer.long(n)).count();
            (count > 0).then(|| (said / count as f64, came as f64 / count as f64, count))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_area_is_that_of_hand_counted_pairs() {
        // Of four pairs of a long and a short note, three are in order and one is a tie.
        assert_eq!(auc(vec![(0.1, false), (0.5, false), (0.5, true), (0.9, true)]), 3.5 / 4.0);
    }
}
