//! The form: where a bar stands in its phrase and in the piece.
//!
//! Depends on nothing but the chart and the bar, so that a bar has the same place wherever playing began.
//! Without a chart bars are counted from the host's first. Not here: what the phrase says.

use crate::chart::{Chart, ChartBar};

/// Bars in a phrase, for want of a better word from the sheet. Common practice, no source: of the lines of the Essen
/// Folksong Collection (Schaffrath 1995), counted as music21 10.5.1 ships it, 62 % are two bars long and 12 % four.
pub const PHRASE: i64 = 4;
/// Bars that build up together; a longer section is taken in groups of these. Common practice, no source.
const GROUP: i64 = 8;
/// How far a section's beginning is looked for, in bars. Beyond, bars are counted from the chart's first.
const FAR: usize = 128;
/// What groups of bars without a chart build up to, in turn, out of 100: a little, and back.
const FREE_BUILD: [u8; 4] = [0, 25, 50, 25];

/// A bar's place in the form.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Form {
    /// The bar's number; the same each time it is played. A pick-up doesn't count: it is -1.
    pub number: i64,
    /// Bars since its phrase began: 0 to [`PHRASE`] - 1.
    pub of_phrase: u8,
    /// How far the piece has built up, 0 (its first bars) to 100.
    pub build: u8,
}

impl Form {
    /// Without a chart, by the bar's index.
    pub fn free(index: i64) -> Self {
        let group = index.div_euclid(GROUP).rem_euclid(FREE_BUILD.len() as i64) as usize;
        Self {
            number: index,
            of_phrase: index.rem_euclid(PHRASE) as u8,
            build: FREE_BUILD.get(group).copied().unwrap_or(0),
        }
    }

    /// Of a chart's bar. A phrase begins with each section, after its pick-up if it has one; a section builds on the one
    /// before, so that each is as full as its beginning is far into the piece.
    pub fn of(chart: &Chart<'_>, index: usize) -> Self {
        let is_short = |bar: &ChartBar| bar.length < bar.metre.bar();
        let is_pickup = |index: usize| chart.bars.get(index).is_some_and(|bar| bar.section && is_short(bar));
        let begins = |index: usize| match index.checked_sub(1) {
            Some(before) if is_pickup(before) => true,
            _ => chart.bars.get(index).is_some_and(|bar| bar.section && !is_short(bar)),
        };
        let number = index as i64 - i64::from(chart.bars.first().is_some_and(is_short));
        let back = (0..FAR.min(index + 1)).find(|back| begins(index - back));
        // A pick-up belongs to the phrase before.
        let into = back.map_or(number, |back| back as i64 - i64::from(back > 0 && is_pickup(index)));
        let first = number - into + into.div_euclid(GROUP) * GROUP;
        let bars = (chart.bars.len() as i64 - (index as i64 - number)).max(1);
        // The last group of the commonest form, four of eight bars, is the full one.
        let build = first.max(0) * 100 / (bars - bars / 4).max(1);
        Self {
            number,
            of_phrase: into.rem_euclid(PHRASE) as u8,
            build: u8::try_from(build.min(100)).unwrap_or(100),
        }
    }

    /// Whether it is its phrase's last bar.
    pub fn ends_phrase(&self) -> bool {
        i64::from(self.of_phrase) == PHRASE - 1
    }
}

#[cfg(test)]
mod tests {
    use figwort_theory::{Key, Metre, Moment, Span};

    use super::*;

    fn bar(n: i64, section: bool) -> ChartBar {
        let metre = Metre::FOUR_FOUR;
        ChartBar {
            start: Moment::ZERO + Span::WHOLE * n,
            length: Span::WHOLE,
            metre,
            key: Key::default(),
            section,
        }
    }

    /// Sections of eight and ten bars after a pick-up.
    #[test]
    fn phrases_begin_with_sections() {
        let mut bars = [bar(0, true); 19];
        bars[0].length = Span::QUARTER;
        for (n, place) in bars.iter_mut().enumerate().skip(1) {
            *place = bar(n as i64 - 1, n == 1 || n == 9);
        }
        let chart = Chart { bars: &bars, ..Chart::default() };
        let form = |index| Form::of(&chart, index);
        assert_eq!(form(0).number, -1);
        assert_eq!([1, 4, 5, 8, 9, 12, 17, 18].map(|n| form(n).of_phrase), [0, 3, 0, 3, 0, 3, 0, 1]);
        assert_eq!((form(1).number, form(1).build), (0, 0));
        assert!(form(9).build > form(8).build && form(17).build > form(16).build);
        assert!((1..19).all(|n| form(n).build >= form(n - 1).build && form(n).build <= 100));
    }

    /// A repeated part that begins with its own pick-up, and the bar before it as much too short.
    #[test]
    fn a_phrase_begins_after_its_pick_up() {
        let mut bars = [bar(0, false); 12];
        for (n, place) in bars.iter_mut().enumerate() {
            *place = bar(n as i64, n == 0 || n == 4);
        }
        (bars[3].length, bars[4].length) = (Span::QUARTER * 3, Span::QUARTER);
        let chart = Chart { bars: &bars, ..Chart::default() };
        let phrases: [u8; 12] = core::array::from_fn(|n| Form::of(&chart, n).of_phrase);
        assert_eq!(phrases, [0, 1, 2, 3, 3, 0, 1, 2, 3, 0, 1, 2]);
        assert!((1..12).all(|n| Form::of(&chart, n).build >= Form::of(&chart, n - 1).build));
    }

    #[test]
    fn without_a_chart_it_builds_a_little_and_returns() {
        assert_eq!([0, 7, 8, 16, 24, 32, -1].map(|n| Form::free(n).build), [0, 0, 25, 50, 25, 0, 25]);
        assert_eq!([0, 3, 4, -1].map(|n| Form::free(n).of_phrase), [0, 3, 0, 3]);
    }
}
