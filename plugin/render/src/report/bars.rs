//! The bars of a report.

use figwort_engine::{Decision, Hand, MelodyState, Texture};
use figwort_theory::{ChordSymbol, Moment, Span};

use crate::perform::{ChordMark, Performance, PlayedBar, PlayedNote};
use crate::timeline::Timeline;

use super::{BarReport, ChordAt, DecisionReport, MelodyReport, Onsets, Range};

/// Hands come a little early: what begins this shortly before a bar belongs to it. A sixteenth of a quarter.
const EARLY: Span = Span(Span::QUARTER.0 / 16);

pub(super) fn bars(performance: &Performance) -> Vec<BarReport> {
    let played = Played::of(performance);
    performance.bars.iter().map(|bar| played.bar(bar)).collect()
}

/// A performance by moment; all but its chords as much earlier as hands may be.
struct Played<'a> {
    decisions: Timeline<&'a Decision>,
    notes: Timeline<&'a PlayedNote>,
    /// After so many of the notes, where the last of the accompaniment's among them ends.
    ends: Vec<Moment>,
    pedal: Timeline<()>,
    chords: Timeline<&'a ChordMark>,
}

impl<'a> Played<'a> {
    fn of(performance: &'a Performance) -> Self {
        let notes = Timeline::of(performance.notes.iter().map(|note| (note.at + EARLY, note)));
        let mut ends = vec![Moment(i64::MIN)];
        for (_, note) in notes.all() {
            let last = ends.last().copied().unwrap_or(Moment::ZERO);
            ends.push(if note.hand == Hand::Melody { last } else { last.max(note.end()) });
        }
        Self {
            decisions: Timeline::of(performance.decisions.iter().map(|d| (d.at + EARLY, d))),
            notes,
            ends,
            pedal: Timeline::of(performance.pedal.iter().map(|change| (change.at + EARLY, ()))),
            chords: Timeline::of(performance.chords.iter().map(|mark| (mark.at, mark))),
        }
    }

    fn bar(&self, bar: &PlayedBar) -> BarReport {
        let (start, end) = (bar.start, bar.end());
        let decisions: Vec<&Decision> = values(self.decisions.within(start, end));
        // What was decided last before the bar still holds at its beginning.
        let before = self.decisions.before(start).copied();
        let opening = before.filter(|_| decisions.first().is_none_or(|first| first.at > start));
        let in_force: Vec<&Decision> = opening.into_iter().chain(decisions.iter().copied()).collect();
        let begun: Vec<&PlayedNote> = values(self.notes.within(start, end));
        // A decision that nothing came of, as where the melody leaves no room, is none that was played.
        let sounds = self.ends.get(self.notes.count(end)).is_some_and(|last| *last > start + EARLY);
        let is_true = |decision: &&&Decision| sounds || decision.texture == Texture::Silent;
        let played: Vec<&Decision> = in_force.iter().filter(is_true).copied().collect();
        let mut textures: Vec<&'static str> = played.iter().map(|decision| decision.texture.name()).collect();
        textures.dedup();
        let mut figures: Vec<u16> = played.iter().filter_map(|decision| decision.figure).collect();
        figures.sort_unstable();
        figures.dedup();
        let voiced = played.iter().filter(|decision| decision.texture != Texture::Silent);
        BarReport {
            number: bar.number,
            start_quarters: bar.start.since_zero().in_quarters(),
            beats: in_beats(bar, bar.length),
            metre: format!("{}/{}", bar.metre.numerator(), bar.metre.denominator()),
            chords: self.chords(bar),
            melody: melody(&in_force, bar),
            textures,
            figures,
            parts: range(voiced.map(|decision| decision.parts)),
            dynamics: range(
                begun.iter().filter(|n| n.hand != Hand::Melody).map(|note| note.velocity.value()),
            ),
            onsets: onsets(begun.iter().copied()),
            pedal_changes: self.pedal.within(start, end).len(),
            decisions: decisions.into_iter().map(|decision| decided(bar, decision)).collect(),
        }
    }

    /// The chord in force at the bar's beginning and those that begin in it.
    fn chords(&self, bar: &PlayedBar) -> Vec<ChordAt> {
        let begun = self.chords.within(bar.start, bar.end());
        let starts_with = begun.first().is_some_and(|(at, _)| *at == bar.start);
        let before = self.chords.before(bar.start).filter(|_| !starts_with);
        let lasting = before.map(|mark| ChordAt { beat: place(bar, bar.start), symbol: mark.text.clone() });
        let begun =
            begun.iter().map(|(at, mark)| ChordAt { beat: place(bar, *at), symbol: mark.text.clone() });
        lasting.into_iter().chain(begun).collect()
    }
}

fn values<T: Copy>(things: &[(Moment, T)]) -> Vec<T> {
    things.iter().map(|(_, thing)| *thing).collect()
}

/// Notes counted by hand.
pub(super) fn onsets<'a>(notes: impl Iterator<Item = &'a PlayedNote>) -> Onsets {
    notes.fold(Onsets::default(), |mut count, note| {
        match note.hand {
            Hand::Melody => count.melody += 1,
            Hand::Right => count.right += 1,
            Hand::Left => count.left += 1,
        }
        count
    })
}

fn range(values: impl Iterator<Item = u8>) -> Option<Range<u8>> {
    values.fold(None, |range: Option<Range<u8>>, value| {
        Some(range.map_or(Range { from: value, to: value }, |range| Range {
            from: range.from.min(value),
            to: range.to.max(value),
        }))
    })
}

/// How long the melody was in each state. Before the first decision it rests.
fn melody(in_force: &[&Decision], bar: &PlayedBar) -> MelodyReport {
    let mut spans = [Span::ZERO; 3];
    let mut add = |state: MelodyState, length: Span| {
        let index = match state {
            MelodyState::Still => 0,
            MelodyState::Moving => 1,
            MelodyState::Resting => 2,
        };
        spans[index] += length;
    };
    let first = in_force.first().map_or(bar.end(), |decision| decision.at.max(bar.start));
    add(MelodyState::Resting, first - bar.start);
    for (index, decision) in in_force.iter().enumerate() {
        let until = in_force.get(index + 1).map_or(bar.end(), |next| next.at);
        add(decision.melody, (until - decision.at.max(bar.start)).max(Span::ZERO));
    }
    let [still, moving, resting] = spans.map(|span| in_beats(bar, span));
    MelodyReport { still, moving, resting }
}

fn decided(bar: &PlayedBar, decision: &Decision) -> DecisionReport {
    DecisionReport {
        beat: place(bar, decision.at.max(bar.start)),
        chord: decision.chord.map(|chord| ChordSymbol::of(chord, bar.key).to_string()),
        melody: match decision.melody {
            MelodyState::Resting => "resting",
            MelodyState::Moving => "moving",
            MelodyState::Still => "still",
        },
        texture: decision.texture.name(),
        figure: decision.figure,
        parts: decision.parts,
        dynamics: decision.dynamics,
    }
}

fn in_beats(bar: &PlayedBar, span: Span) -> f64 {
    span.0 as f64 / bar.metre.beat().0.max(1) as f64
}

/// Felt beat of a moment, from 1, rounded to a thousandth. A bar at the music's beginning that is shorter
/// than its metre is a pick-up and ends with the metre's last beat.
fn place(bar: &PlayedBar, at: Moment) -> f64 {
    let missing = if bar.start == Moment::ZERO { bar.metre.bar() - bar.length } else { Span::ZERO };
    let beats = in_beats(bar, at - bar.start + missing.max(Span::ZERO));
    (beats * 1_000.0).round() / 1_000.0 + 1.0
}
