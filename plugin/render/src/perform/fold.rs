//! A performance put back on the page it was read from: every bar once, as it was played the first time.

use std::ops::Range;

use figwort_engine::Hand;
use figwort_sheet::TempoChange;
use figwort_sheet::page::PageBar;
use figwort_theory::{Moment, Pitch, Span};

use super::{ChordMark, PedalChange, Performance, PlayedBar, PlayedNote};

/// Bars that follow one another both on the page and as played the first time.
struct Run {
    /// Their beginning and end as played.
    from: Moment,
    to: Moment,
    /// From where they are on the page to where they were played.
    back: Span,
}

impl Run {
    fn holds(&self, at: Moment) -> bool {
        self.from <= at && at < self.to
    }

    fn moved(&self, at: Moment) -> Moment {
        Moment::ZERO + (at.min(self.to).since_zero() - self.back)
    }
}

impl Performance {
    /// The bars of a page, each as it was played the first time, in musical time; melody, chord symbols and
    /// tempos are the page's. Notes that go on into a bar that does not follow on the page are cut. For
    /// writing: frames stay those of the performance, and decisions are left out.
    #[must_use]
    pub fn on_page(&self, page: &[PageBar]) -> Self {
        let mut bars: Vec<PlayedBar> = Vec::with_capacity(page.len());
        let mut start = Moment::ZERO;
        for bar in page {
            let Some(played) = self.bars.get(bar.played) else { continue };
            bars.push(PlayedBar { start, section: bar.section, ..*played });
            start += played.length;
        }
        let runs = self.runs(page, &bars);
        let mut notes = melody(page, &bars);
        let accompaniment = self.notes.iter().filter(|note| note.hand != Hand::Melody);
        notes.extend(accompaniment.filter_map(|note| {
            let run = runs.iter().find(|run| run.holds(note.at))?;
            let at = run.moved(note.at);
            Some(PlayedNote { at, length: run.moved(note.end()) - at, ..*note })
        }));
        notes.sort_by_key(|note| (note.at, note.hand, note.pitch));
        let at = |index: usize, inside: Span| bars.get(index).map_or(start, |bar| bar.start + inside);
        let chords = page.iter().enumerate().flat_map(|(index, bar)| {
            bar.symbols.iter().map(move |(inside, symbol)| (index, *inside, symbol))
        });
        let chords = chords.map(|(index, inside, symbol)| ChordMark {
            at: at(index, inside),
            text: symbol.to_string(),
            chord: symbol.chord,
        });
        let tempos = page.iter().enumerate().flat_map(|(index, bar)| {
            let first = (index, Span::ZERO, bar.tempo);
            core::iter::once(first)
                .chain(bar.tempos.iter().map(move |(inside, tempo)| (index, *inside, *tempo)))
        });
        let mut tempos: Vec<TempoChange> = tempos
            .map(|(index, inside, micros_per_quarter)| TempoChange {
                at: at(index, inside),
                micros_per_quarter,
            })
            .collect();
        tempos.dedup_by(|after, before| after.micros_per_quarter == before.micros_per_quarter);
        Self {
            title: self.title.clone(),
            composer: self.composer.clone(),
            sample_rate: self.sample_rate,
            notes,
            pedal: self.pedal_on(&runs),
            decisions: Vec::new(),
            headings: Vec::new(),
            chords: chords.collect(),
            tempos,
            end: start,
            end_frame: self.end_frame,
            hanging: self.hanging,
            bars,
        }
    }

    fn runs(&self, page: &[PageBar], bars: &[PlayedBar]) -> Vec<Run> {
        let mut runs: Vec<Run> = Vec::new();
        let mut before: Option<usize> = None;
        for (bar, placed) in page.iter().zip(bars) {
            let Some(played) = self.bars.get(bar.played) else { continue };
            let follows = before.is_some_and(|before| before + 1 == bar.played);
            before = Some(bar.played);
            match runs.last_mut().filter(|_| follows) {
                Some(run) => run.to = played.end(),
                None => {
                    runs.push(Run { from: played.start, to: played.end(), back: played.start - placed.start })
                }
            }
        }
        // What is played after the last bar rings on where that bar was also the last to be played.
        if let Some(run) = runs.last_mut()
            && self.bars.last().is_some_and(|last| last.end() == run.to)
        {
            run.to = run.to.max(self.end);
        }
        runs
    }

    /// The pedal of each run: down at its beginning where it was down, up at its end.
    fn pedal_on(&self, runs: &[Run]) -> Vec<PedalChange> {
        let mut pedal: Vec<PedalChange> = Vec::new();
        let mut put = |frame, at, down: bool| match pedal.last() {
            Some(last) if last.down == down => {}
            None if !down => {}
            _ => pedal.push(PedalChange { frame, at, down }),
        };
        for run in runs {
            let Range { start, end } = self.within(run);
            let before = start.checked_sub(1).and_then(|index| self.pedal.get(index));
            if let Some(before) = before.filter(|before| before.down) {
                put(before.frame, run.moved(run.from), true);
            }
            for change in self.pedal.get(start..end).unwrap_or_default() {
                put(change.frame, run.moved(change.at), change.down);
            }
            let next = self.pedal.get(end).map_or(self.end_frame, |next| next.frame);
            put(next, run.moved(run.to), false);
        }
        pedal
    }

    /// Indices of the pedal's movements in a run.
    fn within(&self, run: &Run) -> Range<usize> {
        let start = self.pedal.partition_point(|change| change.at < run.from);
        start..self.pedal.partition_point(|change| change.at < run.to).max(start)
    }
}

/// The page's melody; notes tied to what follows on the page are one.
fn melody(page: &[PageBar], bars: &[PlayedBar]) -> Vec<PlayedNote> {
    let mut notes: Vec<PlayedNote> = Vec::new();
    let mut tied = false;
    for (bar, placed) in page.iter().zip(bars) {
        for note in &bar.notes {
            let at = placed.start + note.at;
            match notes.last_mut() {
                Some(last) if tied && last.pitch == note.pitch && last.end() == at => {
                    last.length += note.length;
                }
                _ => notes.push(sung(at, note.length, note.pitch)),
            }
            tied = note.tied_to;
        }
    }
    notes
}

fn sung(at: Moment, length: Span, pitch: Pitch) -> PlayedNote {
    PlayedNote {
        hand: Hand::Melody,
        pitch,
        velocity: figwort_sheet::DEFAULT_VELOCITY,
        on: 0,
        off: 0,
        at,
        length,
    }
}
