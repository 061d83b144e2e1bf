//! Which figure a bar gets.
//!
//! Bars go in groups as long as the manner's `repeats`, all with one figure. Neighbouring groups choose from
//! two halves of the figures that have nothing in common, so that no figure runs on beyond its group, whatever
//! else keeps one from being chosen; each half has quiet figures and busy ones. Among those whose motion fits
//! beside the melody's, weights and the draw decide: a race, see [`choose`].

use arrayvec::ArrayVec;
use figwort_theory::Span;

use super::{FIGURE_SLOT, LAYOUT_SLOT};
use crate::book::{Family, Figure, Pattern, Who};
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
    let half = (group as u32 ^ hash(settings.seed, FIGURE_SLOT)) & 1;
    if !manner.ostinato && all.len() == 1 && number.rem_euclid(repeats + 1) == repeats {
        // One alone rests for a bar when it has had its turns.
        return None;
    }
    let halved = !manner.ostinato && all.len() > 1;
    let turn = |place: usize| !halved || (place as u32 + 1) & 1 == half;
    let spell = Spell::of(reading);
    let pattern = |candidate: &Candidate| figures.get(candidate.index)?.pattern(metre);
    let fits = |candidate: &Candidate| {
        pattern(candidate)
            .and_then(|pattern| motion(pattern, spell.from, spell.time))
            .is_some_and(|motion| motion <= left)
    };
    let fills = |candidate: &Candidate| pattern(candidate).is_some_and(|pattern| spell.is_filled(pattern));
    // A race, so that the others keep their places when one doesn't fit: each figure's time is drawn, and the
    // shorter the greater its weight.
    let race = |in_turn: bool, filling: bool| {
        all.iter()
            .enumerate()
            .filter(|(place, _)| !in_turn || turn(*place))
            .filter(|(_, candidate)| fits(candidate) && (!filling || fills(candidate)))
            .map(|(_, candidate)| {
                let drawn = hash(settings.seed ^ hash(FIGURE_SLOT, candidate.index as u32), group as u32);
                (minus_log(drawn) / candidate.weight as f32, candidate.index)
            })
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, index)| index)
    };
    // Such as move in the time there is, if any; for less than a bar also such whose turn it isn't.
    race(true, true)
        .or_else(|| if spell.is_part { race(false, true) } else { None })
        .or_else(|| race(true, false))
}

/// The time that a figure would have.
struct Spell {
    /// From the pattern's start.
    from: Span,
    /// Until the bar ends, the harmony changes or the melody moves again, as far as that is known.
    time: Span,
    /// Whether that is less than the bar.
    is_part: bool,
    /// Bars of a longer pattern that are over.
    over: i64,
    bar: Span,
    beat: Span,
    /// Whether the melody's next note is known.
    known: bool,
}

impl Spell {
    fn of(reading: &Reading) -> Self {
        let bar = reading.bar;
        let end = reading.next.map_or(bar.end(), |(change, _)| change.min(bar.end()));
        let end = reading.moves_at.map_or(end, |moves| moves.min(end));
        Self {
            from: reading.now - reading.origin,
            time: end - reading.now,
            is_part: reading.now > bar.start || end < bar.end(),
            over: if reading.origin == bar.start { reading.form.number } else { 0 },
            bar: bar.length,
            beat: bar.metre.beat(),
            known: reading.moves_at.is_some(),
        }
    }

    /// Whether a pattern moves in this time: where the melody's next note is known, beyond the first beat or
    /// half of it, else soon.
    fn is_filled(&self, pattern: &Pattern) -> bool {
        let from = self.from + self.bar * self.over.rem_euclid(i64::from(pattern.bars.max(1)));
        let late = Span(self.beat.0.min(self.time.0 / 2).max(1));
        let (first, end) = match (self.known, self.from > Span::ZERO) {
            (true, _) => (from + late, from + self.time),
            // It has stood for a while; most likely it won't for much longer.
            (false, true) => (from + Span(1), from + Span(self.beat.0.min(self.time.0))),
            (false, false) => (from + Span(1), from + self.time),
        };
        // Whether a push finds its chord isn't sure.
        pattern.steps.iter().any(|step| (first..end).contains(&step.at) && step.who != Who::Next)
    }
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
