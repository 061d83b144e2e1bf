//! The bars of a report.

use figwort_engine::{Decision, Hand, MelodyState, Texture};
use figwort_theory::{ChordSymbol, Moment, Span};

use crate::perform::{Performance, PlayedBar, PlayedNote};

use super::{BarReport, ChordAt, DecisionReport, MelodyReport, Onsets, Range};

/// Hands come a little early: what begins this shortly before a bar belongs to it. A sixteenth of a quarter.
const EARLY: Span = Span(Span::QUARTER.0 / 16);

pub(super) fn bars(performance: &Performance) -> Vec<BarReport> {
    performance.bars.iter().map(|bar| one(performance, bar)).collect()
}

fn one(performance: &Performance, bar: &PlayedBar) -> BarReport {
    let within = |at: Moment| bar.start <= at + EARLY && at + EARLY < bar.end();
    let decisions: Vec<&Decision> = performance.decisions.iter().filter(|d| within(d.at)).collect();
    // What was decided last before the bar still holds at its beginning.
    let before = performance.decisions.iter().rfind(|decision| decision.at + EARLY < bar.start);
    let opening = before.filter(|_| decisions.first().is_none_or(|first| first.at > bar.start));
    let in_force: Vec<&Decision> = opening.into_iter().chain(decisions.iter().copied()).collect();
    let begun: Vec<&PlayedNote> = performance.notes.iter().filter(|note| within(note.at)).collect();
    let mut textures: Vec<&'static str> = in_force.iter().map(|decision| decision.texture.name()).collect();
    textures.dedup();
    let mut figures: Vec<u16> = in_force.iter().filter_map(|decision| decision.figure).collect();
    figures.sort_unstable();
    figures.dedup();
    let sounding = in_force.iter().filter(|decision| decision.texture != Texture::Silent);
    BarReport {
        number: bar.number,
        start_quarters: bar.start.since_zero().in_quarters(),
        beats: in_beats(bar, bar.length),
        metre: format!("{}/{}", bar.metre.numerator(), bar.metre.denominator()),
        chords: chords(performance, bar),
        melody: melody(&in_force, bar),
        textures,
        figures,
        parts: range(sounding.map(|decision| decision.parts)),
        dynamics: range(begun.iter().filter(|n| n.hand != Hand::Melody).map(|note| note.velocity.value())),
        onsets: onsets(begun.iter().copied()),
        pedal_changes: performance.pedal.iter().filter(|change| within(change.at)).count(),
        decisions: decisions.into_iter().map(|decision| decided(bar, decision)).collect(),
    }
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

/// The chord in force at the bar's beginning and those that begin in it.
fn chords(performance: &Performance, bar: &PlayedBar) -> Vec<ChordAt> {
    let within = performance.chords.iter().filter(|mark| bar.start <= mark.at && mark.at < bar.end());
    let starts_with = within.clone().next().is_some_and(|mark| mark.at == bar.start);
    let before = performance.chords.iter().rfind(|mark| mark.at < bar.start).filter(|_| !starts_with);
    let lasting = before.map(|mark| ChordAt { beat: place(bar, bar.start), symbol: mark.text.clone() });
    let begun = within.map(|mark| ChordAt { beat: place(bar, mark.at), symbol: mark.text.clone() });
    lasting.into_iter().chain(begun).collect()
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
