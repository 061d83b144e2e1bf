//! Performances one after another, as one.

use figwort_theory::{Moment, Span};

use super::{ChordMark, PedalChange, Performance, PlayedBar, PlayedNote};
use crate::tempo::TempoMap;

/// Bars of rest between two performances, to breathe and to turn the page.
const REST: usize = 1;

impl Performance {
    /// Performances one after another, each under its heading, each beginning on a bar line when the one before
    /// has rung out and a bar has passed. Title, composer and sample rate are the first one's; the others are to
    /// have the same rate.
    #[must_use]
    pub fn in_turn(parts: &[(&str, Performance)]) -> Self {
        let mut whole = Self::default();
        let mut parts = parts.iter();
        if let Some((heading, first)) = parts.next() {
            whole.clone_from(first);
            whole.head(Moment::ZERO, heading);
        }
        for (heading, part) in parts {
            whole.append(heading, part);
        }
        whole
    }

    fn head(&mut self, at: Moment, heading: &str) {
        self.headings.insert(0, (at, heading.to_owned()));
        self.headings.sort_by_key(|(at, _)| *at);
    }

    fn append(&mut self, heading: &str, part: &Performance) {
        self.rest();
        let start = self.bars.last().map_or(self.end, PlayedBar::end);
        let frame = TempoMap::new(&self.tempos, self.sample_rate).frame_at(start).max(self.end_frame);
        let by = start.since_zero();
        self.notes.extend(part.notes.iter().map(|note| PlayedNote {
            on: note.on + frame,
            off: note.off + frame,
            at: note.at + by,
            ..*note
        }));
        self.pedal.extend(part.pedal.iter().map(|change| PedalChange {
            frame: change.frame + frame,
            at: change.at + by,
            ..*change
        }));
        self.decisions.extend(part.decisions.iter().map(|decision| {
            let mut decision = *decision;
            decision.at += by;
            decision
        }));
        let bars = part.bars.iter().enumerate();
        self.bars.extend(bars.map(|(index, bar)| PlayedBar {
            start: bar.start + by,
            section: bar.section || index == 0,
            ..*bar
        }));
        self.chords.extend(part.chords.iter().map(|mark| ChordMark { at: mark.at + by, ..mark.clone() }));
        self.headings.extend(part.headings.iter().map(|(at, text)| (*at + by, text.clone())));
        self.headings.push((start, heading.to_owned()));
        self.headings.sort_by_key(|(at, _)| *at);
        self.tempos.extend(part.tempos.iter().map(|change| {
            let mut change = *change;
            change.at += by;
            change
        }));
        self.end = part.end + by;
        self.end_frame = part.end_frame + frame;
        self.hanging += part.hanging;
    }

    /// Adds bars without music until what was played is over, and some more.
    fn rest(&mut self) {
        let Some(last) = self.bars.last().copied() else { return };
        let length = last.metre.bar().max(Span(1));
        let mut left = REST;
        let mut start = last.end();
        while left > 0 {
            left -= usize::from(start >= self.end);
            let number = self.bars.last().map_or(1, |bar| bar.number.saturating_add(1));
            self.bars.push(PlayedBar { start, length, number, section: false, ..last });
            start += length;
        }
        // The last chord does not go on through the rest.
        if let Some(mark) = self.chords.last()
            && mark.chord.is_some()
        {
            let at = last.end().max(mark.at + Span(1));
            self.chords.push(ChordMark { at, text: "N.C.".into(), chord: None });
        }
        self.end = self.end.max(start);
        let frame = TempoMap::new(&self.tempos, self.sample_rate).frame_at(self.end);
        self.end_frame = self.end_frame.max(frame);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;

    #[test]
    fn the_second_begins_after_a_bar_of_rest_and_is_the_same() {
        let one = sample::two_bars();
        let both = Performance::in_turn(&[("First", one.clone()), ("Second", one.clone())]);
        // Nine quarters, a bar of rest.
        let by = Span::QUARTER * 13;
        assert_eq!(both.headings, [(Moment::ZERO, "First".into()), (Moment::quarters(13), "Second".into())]);
        assert_eq!(both.notes.len(), 2 * one.notes.len());
        for (note, again) in one.notes.iter().zip(&both.notes[one.notes.len()..]) {
            assert_eq!((again.at, again.length, again.pitch), (note.at + by, note.length, note.pitch));
            assert_eq!(again.on, note.on + 13 * 48_000);
        }
        for pair in both.bars.windows(2) {
            assert_eq!(pair[0].end(), pair[1].start);
        }
        assert_eq!(both.bars.len(), 2 * one.bars.len() + 1);
        assert_eq!(both.end, Moment::quarters(22));
        assert_eq!(both.end_frame, 22 * 48_000);
        assert!(both.bars[4].section);
    }

    #[test]
    fn what_rings_on_is_waited_for() {
        let mut one = sample::two_bars();
        one.end = Moment::quarters(14);
        one.end_frame = 14 * 48_000;
        let both = Performance::in_turn(&[("First", one.clone()), ("Second", one)]);
        // Nine quarters, two bars until it has rung out, a bar of rest.
        assert_eq!(both.headings[1].0, Moment::quarters(21));
    }
}
