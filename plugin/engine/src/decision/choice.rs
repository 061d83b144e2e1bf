//! Which figure a bar gets.
//!
//! Bars go in groups as long as the manner's `repeats`, all with one figure. Neighbouring groups choose from
//! two halves of the figures that have nothing in common, so that no figure runs on beyond its group, whatever
//! else keeps one from being chosen; each half has quiet figures and busy ones. Among those whose motion fits
//! beside the melody's, weights and the draw decide: a race, see [`choose`].

use arrayvec::ArrayVec;
use figwort_theory::Span;

use super::{FIGURE_SLOT, LAYOUT_SLOT};
use crate::book::{Family, Figure, Pattern};
use crate::reading::Reading;
use crate::settings::Settings;
use crate::settings::ladder::hash;

/// Figures of a book that are looked at; further ones are never chosen.
const MOST: usize = 96;

/// The slot of the ladder in which bars get their inner lines.
const INNER_LINE: u32 = 0;

/// How a chord that is held, or the last one, is laid out, if the book says anything about it: its figure's
/// index.
pub(super) fn layout(
    family: Family,
    reading: &Reading,
    settings: &Settings,
    figures: &[Figure],
) -> Option<usize> {
    figures
        .iter()
        .enumerate()
        .filter(|(_, figure)| figure.family == family && figure.pattern(reading.bar.metre).is_some())
        .map(|(index, figure)| {
            let slot = hash(LAYOUT_SLOT, index as u32);
            let drawn = hash(settings.seed ^ slot, reading.form.number as u32);
            (minus_log(drawn) / f32::from(figure.weight.max(1)), index)
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, index)| index)
}

/// Onsets per quarter note of a pattern that is played from a place of it for a time: moments at which something
/// is struck, not notes. `None` if it has no time to move: nothing follows its first moment.
fn motion(pattern: &Pattern, from: Span, time: Span) -> Option<f32> {
    let mut moments = 0_u16;
    let mut last = None;
    let all = pattern.metre.bar() * i64::from(pattern.bars.max(1));
    // A pattern of several bars counts as a whole, but in a bar that is cut short by what is left.
    let until = if from + time < pattern.metre.bar() { from + time } else { all };
    for step in pattern.steps.iter().filter(|step| (from..until).contains(&step.at)) {
        moments += u16::from(last != Some(step.at));
        last = Some(step.at);
    }
    let moves = last.is_some_and(|last| last > Span::ZERO);
    let time = (until - from).0.max(Span::QUARTER.0);
    moves.then(|| f32::from(moments) * Span::QUARTER.0 as f32 / time as f32)
}

/// How readily a figure is chosen for its family and itself.
fn weight(figure: &Figure, settings: &Settings, number: i64) -> u32 {
    let family = match figure.family {
        Family::BrokenChord => settings.manner.broken_chord,
        Family::RepeatedChord => settings.manner.repeated_chord,
        Family::BassLine => settings.manner.bass_line,
        // Inner lines come in between the rungs Flowing and Ornate.
        Family::InnerLine if settings.ornament(number, INNER_LINE) => settings.manner.inner_line,
        Family::InnerLine | Family::Block | Family::Ending => 0,
    };
    u32::from(family.min(100)) * u32::from(figure.weight.min(100))
}

/// A figure that could be played here.
#[derive(Clone, Copy)]
struct Candidate {
    index: usize,
    weight: u32,
    motion: f32,
}

/// The figure for this bar; `None` where none fits, or where the only one has had its turns.
pub(super) fn choose(reading: &Reading, settings: &Settings, figures: &[Figure]) -> Option<usize> {
    let manner = &settings.manner;
    let metre = reading.bar.metre;
    let bar = metre.bar();
    let mut all: ArrayVec<Candidate, MOST> = figures
        .iter()
        .enumerate()
        .filter_map(|(index, figure)| {
            let motion = motion(figure.pattern(metre)?, Span::ZERO, bar)?;
            let weight = weight(figure, settings, reading.bar.index);
            (weight > 0).then_some(Candidate { index, weight, motion })
        })
        .take(MOST)
        .collect();
    all.sort_unstable_by(|a, b| a.motion.total_cmp(&b.motion).then(a.index.cmp(&b.index)));
    let left = settings.budget_at(reading.bar.index) - reading.melody_motion;
    let number = reading.form.number;
    let repeats = i64::from(manner.repeats.max(1));
    let group = if manner.ostinato { 0 } else { number.div_euclid(repeats) };
    if !manner.ostinato {
        match all.len() {
            // One alone rests for a bar when it has had its turns.
            1 if number.rem_euclid(repeats + 1) == repeats => return None,
            0 | 1 => {}
            _ => {
                let half = (group as u32 ^ hash(settings.seed, FIGURE_SLOT)) & 1;
                let mut place = 0;
                all.retain(|_| {
                    place += 1;
                    place & 1 == half
                });
            }
        }
    }
    // A race, so that the others keep their places when one doesn't fit: each figure's time is drawn, and the
    // shorter the greater its weight.
    let end = reading.bar.end();
    // Until the bar ends, the harmony changes or the melody moves again.
    let end = reading.next.map_or(end, |(change, _)| change.min(end));
    let end = reading.moves_at.map_or(end, |moves| moves.min(end));
    let (from, time) = (reading.now - reading.origin, end - reading.now);
    let here = |candidate: &Candidate| motion(figures.get(candidate.index)?.pattern(metre)?, from, time);
    all.iter()
        .filter(|candidate| here(candidate).is_some_and(|motion| motion <= left))
        .map(|candidate| {
            let drawn = hash(settings.seed ^ hash(FIGURE_SLOT, candidate.index as u32), group as u32);
            (minus_log(drawn) / candidate.weight as f32, candidate.index)
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, index)| index)
}

/// -log2 of a draw as a share of 2³², to within a tenth: `core` has no logarithm.
fn minus_log(drawn: u32) -> f32 {
    let drawn = drawn.max(1);
    let zeros = drawn.leading_zeros();
    let mantissa = (u64::from(drawn) << zeros) as f32 / 2_147_483_648.0;
    zeros as f32 + 2.0 - mantissa
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The weight decides how often a figure wins, within a few percent.
    #[test]
    fn the_race_keeps_to_the_weights() {
        let wins = (0..10_000).filter(|n| {
            let [a, b] = [hash(1, *n), hash(2, *n)].map(minus_log);
            a / 30.0 < b / 10.0
        });
        let share = wins.count() as f32 / 10_000.0;
        assert!((share - 0.75).abs() < 0.03, "{share}");
    }
}
