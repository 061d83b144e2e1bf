//! How the notes of a performance are written in its part, for everything else that prints their names.
//!
//! Not known here: what is printed, and where.

use std::collections::BTreeMap;

use figwort_engine::Hand;
use figwort_theory::Pitch;
use figwort_theory::spelling::{Context, Written, written};

use super::page::{Page, Voice};
use crate::perform::{Performance, PlayedNote};

/// Every note's name, by hand and pitch: where in ticks it is written, how it is written.
pub(crate) struct Names(BTreeMap<(Hand, Pitch), Vec<(i64, Written)>>);

impl Names {
    /// The names in the part of a performance.
    pub(crate) fn of(performance: &Performance) -> Self {
        let page = Page::new(performance, performance);
        let [right, left] = &page.piano;
        let voices = [(Hand::Melody, &page.melody)].into_iter();
        let voices = voices.chain(right.iter().map(|voice| (Hand::Right, voice)));
        let voices = voices.chain(left.iter().map(|voice| (Hand::Left, voice)));
        let mut names: BTreeMap<(Hand, Pitch), Vec<(i64, Written)>> = BTreeMap::new();
        for (hand, Voice { line, names: written, .. }) in voices {
            for (chord, written) in line.iter().zip(written) {
                for (pitch, name) in chord.pitches.iter().zip(written) {
                    names.entry((hand, *pitch)).or_default().push((chord.at, *name));
                }
            }
        }
        for places in names.values_mut() {
            places.sort_by_key(|(at, _)| *at);
        }
        Self(names)
    }

    /// The name of a note of that performance: that of the place nearest to its own, since the part has it on one
    /// that can be written. What the part leaves out is named by C major.
    pub(crate) fn name(&self, note: &PlayedNote) -> Written {
        let places = self.0.get(&(note.hand, note.pitch)).map(Vec::as_slice).unwrap_or_default();
        let after = places.partition_point(|(at, _)| *at < note.at.0);
        let near = [after.checked_sub(1), Some(after)].into_iter().flatten();
        let nearest = near.filter_map(|index| places.get(index)).min_by_key(|(at, _)| (at - note.at.0).abs());
        nearest.map_or_else(|| written(note.pitch, &Context::default()), |(_, name)| *name)
    }
}
