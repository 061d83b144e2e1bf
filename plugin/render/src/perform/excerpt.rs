//! A few bars of a performance, as a performance of its own.

use std::ops::Range;

use figwort_theory::Moment;

use super::{ChordMark, PedalChange, Performance, PlayedBar, PlayedNote};
use crate::tempo::TempoMap;

impl Performance {
    /// The bars with these indices (not numbers), moved to the beginning. Notes that began earlier are left
    /// out, those that go on are cut at the end; a chord in force is written over the first bar. Indices past
    /// the end are left out; without any bar the excerpt is empty.
    #[must_use]
    pub fn excerpt(&self, bars: Range<usize>) -> Self {
        let chosen = self.bars.get(bars.start.min(self.bars.len())..bars.end.min(self.bars.len()));
        let chosen = chosen.unwrap_or_default();
        let start = chosen.first().map_or(Moment::ZERO, |bar| bar.start);
        let end = chosen.last().map_or(start, PlayedBar::end);
        let map = TempoMap::new(&self.tempos, self.sample_rate);
        let (first, last) = (map.frame_at(start), map.frame_at(end));
        let inside = |at: Moment| start <= at && at < end;
        let moved = |at: Moment| Moment::ZERO + (at - start);

        let in_force = self.chords.iter().rev().find(|mark| mark.at < start);
        let begins = self.chords.iter().any(|mark| mark.at == start);
        let carried = in_force.filter(|_| !begins && !chosen.is_empty());
        let carried = carried.map(|mark| ChordMark { at: Moment::ZERO, ..mark.clone() });
        let chords = self.chords.iter().filter(|mark| inside(mark.at));
        let tempo = self.tempos.iter().rev().find(|change| change.at <= start);
        Self {
            title: self.title.clone(),
            composer: self.composer.clone(),
            sample_rate: self.sample_rate,
            notes: self
                .notes
                .iter()
                .filter(|note| inside(note.at))
                .map(|note| PlayedNote {
                    on: note.on.saturating_sub(first),
                    off: note.off.min(last).saturating_sub(first),
                    at: moved(note.at),
                    length: note.end().min(end) - note.at,
                    ..*note
                })
                .collect(),
            pedal: self
                .pedal
                .iter()
                .filter(|change| inside(change.at))
                .map(|change| PedalChange {
                    frame: change.frame.saturating_sub(first),
                    at: moved(change.at),
                    ..*change
                })
                .skip_while(|change| !change.down)
                .collect(),
            decisions: self
                .decisions
                .iter()
                .filter(|decision| inside(decision.at))
                .map(|decision| figwort_engine::Decision { at: moved(decision.at), ..*decision })
                .collect(),
            bars: chosen.iter().map(|bar| PlayedBar { start: moved(bar.start), ..*bar }).collect(),
            headings: self
                .headings
                .iter()
                .filter(|(at, _)| inside(*at))
                .map(|(at, text)| (moved(*at), text.clone()))
                .collect(),
            chords: carried
                .into_iter()
                .chain(chords.map(|mark| ChordMark { at: moved(mark.at), ..mark.clone() }))
                .collect(),
            tempos: tempo
                .map(|change| figwort_sheet::TempoChange { at: Moment::ZERO, ..*change })
                .into_iter()
                .chain(
                    self.tempos
                        .iter()
                        .filter(|change| inside(change.at) && change.at > start)
                        .map(|change| figwort_sheet::TempoChange { at: moved(change.at), ..*change }),
                )
                .collect(),
            end: moved(end),
            end_frame: last.saturating_sub(first),
            hanging: 0,
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::perform::{Options, arrange};

    const TUNE: &[u8] = b"X:1\nT:Three\nM:3/4\nL:1/4\nQ:1/4=90\nK:C\n\"C\"CDE|F3-|F2\"G\"G|\"C\"c3|]\n";

    #[test]
    fn an_excerpt_holds_its_bars_and_nothing_else() {
        let sheet = figwort_sheet::read(TUNE, None).expect("a tune");
        let whole = arrange(&sheet, &Options::default());
        let part = whole.excerpt(1..3);
        assert_eq!(part.bars.len(), 2);
        assert_eq!(part.bars[0].start.0, 0);
        assert_eq!(part.end, part.bars[1].end());
        assert!(!part.notes.is_empty());
        assert!(part.notes.iter().all(|note| note.end() <= part.end && note.off <= part.end_frame));
        // The chord of the first bar is still in force.
        assert_eq!(part.chords.first().map(|mark| (mark.at.0, mark.text.as_str())), Some((0, "C")));
        let all = whole.excerpt(0..99);
        assert_eq!(all.bars, whole.bars);
        assert_eq!(whole.excerpt(9..12).notes, []);
    }
}
