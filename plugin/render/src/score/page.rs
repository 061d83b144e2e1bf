//! A performance on the page: every voice with its spelling, every stave with its clefs, every mark in its place.

use figwort_engine::Hand;
use figwort_theory::spelling::{Context, Written, written};
use figwort_theory::{ChordSymbol, Pitch};

use super::clefs::{Clef, clefs};
use super::layout::{Frame, tidy};
use super::marks::{self, Pedal, Touch};
use super::notes::{Grid, Pedalled, bar_of};
use super::voices::{self, Line, Stave};
use crate::perform::{Performance, PlayedBar};

/// A voice, its chords' notes spelled.
pub(super) struct Voice {
    pub(super) line: Line,
    /// For each chord, its notes from the bottom up.
    pub(super) names: Vec<Vec<Written>>,
    /// For each chord, whether it is spread.
    pub(super) spread: Vec<bool>,
}

/// Everything that is written.
pub(super) struct Page<'a> {
    pub(super) bars: &'a [PlayedBar],
    pub(super) frames: Vec<Frame>,
    pub(super) melody: Voice,
    /// Upper and lower voice of the upper and the lower stave.
    pub(super) piano: [[Voice; 2]; 2],
    /// Clefs by bar: the melody's, the upper and the lower stave's.
    pub(super) clefs: [Vec<Clef>; 3],
    pub(super) chords: Vec<(i64, ChordSymbol)>,
    pub(super) headings: Vec<(i64, String)>,
    pub(super) pedal: Vec<(i64, Pedal)>,
    pub(super) dynamics: Vec<(i64, &'static str)>,
}

impl<'a> Page<'a> {
    /// Notes come from `notated`; pedal, dynamics and spread chords from `played`.
    pub(super) fn new(notated: &'a Performance, played: &Performance) -> Self {
        let bars = notated.bars.as_slice();
        let frames: Vec<Frame> =
            bars.iter().enumerate().map(|(index, bar)| Frame::new(bar, is_pick_up(bars, index))).collect();
        let grid = Grid::of(notated);
        let pedal = Pedalled::of(played);
        let chords: Vec<(i64, ChordSymbol)> = notated
            .chords
            .iter()
            .map(|mark| {
                let at = mark.at.0.max(0);
                let key =
                    bar_of(bars, at).and_then(|bar| bars.get(bar)).map(|bar| bar.key).unwrap_or_default();
                let of = |chord| ChordSymbol::of(chord, key);
                let read = ChordSymbol::parse(&mark.text);
                (at, read.unwrap_or_else(|_| mark.chord.map_or(ChordSymbol::NO_CHORD, of)))
            })
            .collect();
        let speller = Speller { bars, chords: &chords };

        let mut melody = voices::melody(&grid.notes(notated, Hand::Melody), bars, grid.is_played());
        tidy(&mut melody, &frames);
        let melody = speller.voice(melody, |_| false);

        let touch = Touch::of(played);
        let mut onsets: Vec<i64> = Vec::new();
        let piano = [(Hand::Right, true), (Hand::Left, false)].map(|(hand, pedal_tells)| {
            let other = if hand == Hand::Right { Hand::Left } else { Hand::Right };
            let other = grid.notes(notated, other);
            let stave = Stave { bars, pedal: &pedal, other: &other, pedal_tells };
            voices::voices(&grid.notes(notated, hand), stave).map(|mut line| {
                tidy(&mut line, &frames);
                onsets.extend(line.iter().map(|chord| chord.at));
                speller.voice(line, |chord| touch.is_spread(hand, chord))
            })
        });
        onsets.sort_unstable();
        onsets.dedup();

        let end = bars.last().map_or(0, |bar| bar.end().0);
        let clefs = [
            clefs(&steps(&frames, &[&melody]), Clef::Treble),
            clefs(&steps(&frames, &piano[0].each_ref()), Clef::Treble),
            clefs(&steps(&frames, &piano[1].each_ref()), Clef::Bass),
        ];
        let headings = notated.headings.iter();
        Self {
            headings: headings.map(|(at, text)| (at.0.max(0), text.clone())).collect(),
            pedal: marks::pedal(&pedal, &onsets, end),
            dynamics: marks::dynamics(played, bars, &onsets),
            bars,
            frames,
            melody,
            piano,
            clefs,
            chords,
        }
    }
}

/// Whether a bar is the end of its metre's bar rather than the beginning: a short one that begins the music or a
/// section, or that completes the short bar before it.
pub(super) fn is_pick_up(bars: &[PlayedBar], index: usize) -> bool {
    let Some(bar) = bars.get(index) else { return false };
    let full = bar.metre.bar();
    if bar.length >= full {
        return false;
    }
    match index.checked_sub(1).and_then(|before| bars.get(before)) {
        None => true,
        Some(before) => {
            bar.section || (before.length < before.metre.bar() && before.length + bar.length == full)
        }
    }
}

/// The steps of the notes that sound in each bar.
fn steps(frames: &[Frame], voices: &[&Voice]) -> Vec<Vec<i32>> {
    let mut steps = vec![Vec::new(); frames.len()];
    for voice in voices {
        for (chord, names) in voice.line.iter().zip(&voice.names) {
            let first = frames.partition_point(|frame| frame.end <= chord.at);
            let last = frames.partition_point(|frame| frame.start < chord.end);
            for bar in steps.get_mut(first..last.max(first)).into_iter().flatten() {
                bar.extend(names.iter().map(|name| name.step()));
            }
        }
    }
    steps
}

struct Speller<'a> {
    bars: &'a [PlayedBar],
    chords: &'a [(i64, ChordSymbol)],
}

impl Speller<'_> {
    fn voice(&self, line: Line, is_spread: impl Fn(&voices::Chord) -> bool) -> Voice {
        let nearest = |index: Option<usize>, pitch: Pitch| {
            let pitches = &line.get(index?)?.pitches;
            pitches.iter().min_by_key(|other| other.above(pitch).abs()).copied()
        };
        let names = line
            .iter()
            .enumerate()
            .map(|(index, chord)| {
                let key = bar_of(self.bars, chord.at).and_then(|bar| self.bars.get(bar));
                let symbol = self.chords.partition_point(|(at, _)| *at <= chord.at).checked_sub(1);
                let context = Context {
                    key: key.map(|bar| bar.key).unwrap_or_default(),
                    chord: symbol.and_then(|index| self.chords.get(index)).map(|(_, symbol)| *symbol),
                    before: None,
                    after: None,
                };
                let name = |pitch: &Pitch| {
                    let before = nearest(index.checked_sub(1), *pitch);
                    let after = nearest(Some(index + 1), *pitch);
                    written(*pitch, &Context { before, after, ..context })
                };
                chord.pitches.iter().map(name).collect()
            })
            .collect();
        let spread = line.iter().map(is_spread).collect();
        Voice { line, names, spread }
    }
}
