//! Motion against the melody: how much while it stands, how little while it moves, how varied, how soon.

use std::collections::BTreeSet;

use figwort_engine::{Hand, MelodyState, Texture};
use figwort_render::perform::PlayedNote;
use figwort_render::tempo::TempoMap;
use figwort_theory::{Moment, Span};

use super::{Entry, Heard, Measures, Rate};

/// Bars over which variety is counted.
const WINDOW: usize = 16;
/// Melody onsets in a beat from which on the melody is busy.
const BUSY: usize = 3;
/// Notes of a full chord.
const FULL: usize = 3;
/// A decision this close to the event that it answers is its answer, in milliseconds.
const ANSWER_MS: f64 = 60.0;

impl Heard<'_> {
    fn attacks_in(&self, from: i64, to: i64) -> usize {
        let before = |at: i64| self.attacks.partition_point(|attack| *attack < at);
        before(to).saturating_sub(before(from))
    }

    pub(super) fn motion(&self, measures: &mut Measures) {
        let melody = &self.sheet.melody;
        for (n, note) in melody.iter().enumerate() {
            let beat = self.grid.beat(note.at.0);
            let (at, end) = (note.at.0, note.end().0);
            let turn = end.min(at + beat);
            let mut spans = vec![(0, at, turn), (1, turn, end)];
            if end - at <= beat {
                spans.push((2, at, end));
            }
            for (which, from, to) in spans {
                let rate =
                    Rate { attacks: self.attacks_in(from, to), beats: (to - from) as f64 / beat as f64 };
                measures.rates[which].add(rate);
            }
            let next = melody.get(n + 1).map_or(self.sheet.end.0, |next| next.at.0);
            let after_first = at + beat;
            let is_last = self.ending().is_some_and(|ending| ending <= after_first);
            if next - at >= 2 * beat && self.has_chord(after_first) && !is_last {
                let is_filled = self.attacks_in(after_first, next) > 0;
                measures.filled.tell(is_filled);
                if !is_filled {
                    let beats = (next - at) as f64 / beat as f64;
                    let place = self.grid.spell(at);
                    let meant = self.intention(after_first);
                    measures.unfilled.push((format!("{place}, {beats:.2} beats"), meant));
                }
            }
        }
        let [first, held, _] = measures.rates;
        measures.ratio = held.against(first);
        self.busy(measures);
    }

    fn busy(&self, measures: &mut Measures) {
        let onsets_in = |from: i64, to: i64| {
            let before = |at: i64| self.sheet.melody.partition_point(|note| note.at.0 < at);
            before(to).saturating_sub(before(from))
        };
        for (n, bar) in self.sheet.bars.iter().enumerate() {
            for (from, to) in self.grid.beats(n) {
                let is_busy = onsets_in(from, to) >= BUSY;
                measures.busy_beats.tell(is_busy);
                let attacks = self.attacks.iter().filter(|at| (from..to).contains(at));
                for at in attacks {
                    measures.on_busy_beats.tell(is_busy);
                    let due = *at == bar.start.0 || self.sheet.chords.iter().any(|c| c.at.0 == *at);
                    measures.moving_on_busy_beats.tell(is_busy && !due);
                }
            }
        }
    }

    pub(super) fn thin(&self, measures: &mut Measures) {
        let pedal = &self.performance.pedal;
        let rings = |note: &PlayedNote, at: i64| {
            let (from, to) = (note.at.0, note.end().0);
            // A pedal that is down at the note's end, and since then.
            let changes = pedal.partition_point(|change| change.at.0 <= to);
            let down = changes.checked_sub(1).and_then(|n| pedal.get(n)).is_some_and(|change| change.down);
            let until = pedal.get(changes).map_or(i64::MAX, |change| change.at.0);
            from <= at && (at < to || down && at < until)
        };
        let own: Vec<&PlayedNote> =
            self.performance.notes.iter().filter(|note| note.hand != Hand::Melody).collect();
        for n in 0..self.sheet.bars.len() {
            for (from, to) in self.grid.beats(n) {
                let middle = (from + to) / 2;
                if !self.has_chord(middle) || self.ending().is_some_and(|ending| ending <= middle) {
                    continue;
                }
                let keys: BTreeSet<_> =
                    own.iter().filter(|note| rings(note, middle)).map(|note| note.pitch).collect();
                measures.thin.tell(keys.len() < FULL);
            }
        }
    }

    /// Different bars: where in the bar its notes begin and how high each is among the bar's pitches.
    pub(super) fn variety(&self, measures: &mut Measures) {
        let patterns: Vec<Vec<(i64, usize)>> = self
            .sheet
            .bars
            .iter()
            .map(|bar| {
                let inside = self.tones.iter().filter(|t| (bar.start.0..bar.end().0).contains(&t.at));
                let keys: BTreeSet<i32> = inside.clone().map(|tone| tone.key).collect();
                let rank = |key: i32| keys.range(..key).count();
                inside.map(|tone| (tone.at - bar.start.0, rank(tone.key))).collect()
            })
            .collect();
        for window in patterns.chunks_exact(WINDOW) {
            let different: BTreeSet<&Vec<(i64, usize)>> = window.iter().filter(|p| !p.is_empty()).collect();
            measures.varieties.push(different.len() as f64);
        }
    }

    /// Figures that begin because the melody has stood for long enough.
    pub(super) fn entries(&self, measures: &mut Measures) {
        let rate = self.performance.sample_rate;
        let map = TempoMap::new(&self.performance.tempos, rate);
        let millis = |from: u64, to: u64| (to as f64 - from as f64) * 1_000.0 / f64::from(rate.max(1));
        for pair in self.performance.decisions.windows(2) {
            let [before, decision] = pair else { continue };
            let (Texture::Figure(_), MelodyState::Still) = (decision.texture, decision.melody) else {
                continue;
            };
            if matches!(before.texture, Texture::Figure(_)) {
                continue;
            }
            let at = decision.at.0;
            let note = self.sheet.melody.partition_point(|note| note.at.0 < at).checked_sub(1);
            let Some(note) = note.and_then(|n| self.sheet.melody.get(n)) else { continue };
            let beat = self.grid.beat(note.at.0);
            let event = note.at.0 + (beat as f64 * self.wait) as i64;
            let decided_ms = millis(map.frame_at(Moment(event)), map.frame_at(decision.at));
            let first = self
                .performance
                .notes
                .iter()
                .find(|n| n.hand != Hand::Melody && n.on >= map.frame_at(decision.at));
            let slot = first.and_then(|first| self.slot(decision.figure?, first.at.0));
            if let (true, Some(first), Some(slot)) = (decided_ms.abs() <= ANSWER_MS, first, slot) {
                measures.entries.push(Entry {
                    decided_ms,
                    waited_beats: (first.at.0 - at) as f64 / beat as f64,
                    beside_ms: millis(map.frame_at(Moment(slot)), first.on),
                });
            }
        }
    }

    /// The step of a figure nearest to a moment, its pattern beginning with the bar or with the harmony.
    fn slot(&self, id: u16, at: i64) -> Option<i64> {
        let bar = self.grid.bar(at)?;
        let figure = self.figures.iter().find(|figure| figure.id == id)?;
        let pattern = figure.pattern(bar.metre)?;
        let length = bar.metre.bar().0.max(1);
        let changes = self.sheet.chords.iter().map(|c| c.at.0).filter(|c| (bar.start.0..=at).contains(c));
        changes
            .chain([bar.start.0])
            .flat_map(|origin| {
                let steps = pattern.steps.iter().map(|step| step.at.0.rem_euclid(length));
                steps.map(move |step| origin + step)
            })
            .min_by_key(|slot| (slot - at).abs())
    }

    /// New basses reached by step, where roots are a third to a fifth apart.
    pub(super) fn bass(&self, measures: &mut Measures) {
        let lowest = |from: i64, to: i64| {
            let inside = || self.tones.iter().filter(move |tone| (from..to).contains(&tone.at));
            let last = inside().map(|tone| tone.at).max()?;
            inside().filter(|tone| tone.at == last).map(|tone| tone.key).min()
        };
        for pair in self.sheet.chords.windows(2) {
            let [before, after] = pair else { continue };
            let (Some(from), Some(to)) = (before.symbol.chord, after.symbol.chord) else { continue };
            let apart = to.root.above(from.root).min(from.root.above(to.root));
            let at = after.at.0;
            let beat = self.grid.beat(at);
            let Some(new) = lowest(at, at + Span::QUARTER.0 / 8) else { continue };
            if (3..=6).contains(&apart) {
                let left = self.last_bass(at - 2 * beat, at);
                measures.bass_steps.tell(left.is_some_and(|old| (1..=2).contains(&(new - old).abs())));
            }
        }
    }

    /// The lowest part's latest note before a moment: the lowest that the left hand plays last.
    fn last_bass(&self, from: i64, to: i64) -> Option<i32> {
        let inside = || {
            self.tones
                .iter()
                .filter(move |t| t.hand == figwort_engine::Hand::Left && t.at < to && t.end > from)
        };
        let last = inside().map(|tone| tone.at).max()?;
        inside().filter(|tone| tone.at == last).map(|tone| tone.key).min()
    }
}
