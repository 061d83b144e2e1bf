//! A sheet's melody as the reader of long notes hears it.

use std::collections::BTreeMap;

use figwort_engine::reading::chance::{Around, CUES, Chance};
use figwort_engine::reading::clock::Bar;
use figwort_engine::reading::key::KeyReader;
use figwort_sheet::Sheet;
use figwort_theory::Moment;

/// A note is struck.
pub(super) struct Onset {
    pub(super) at: Moment,
    pub(super) in_bar: Bar,
    pub(super) around: Around,
    /// What the reader makes of it.
    pub(super) cues: [u8; CUES],
    /// Bars played before.
    pub(super) bar: usize,
    /// Whether the written bar is played for the first time.
    pub(super) first_time: bool,
    /// Time to the next onset, or to the end, in felt beats.
    pub(super) length: f64,
}

impl Onset {
    /// Whether it lasts so many beats.
    pub(super) fn lasts(&self, beats: f64) -> bool {
        self.length >= beats - 1e-3
    }
}

/// Plays a sheet's melody to a reader.
pub(super) fn hear(sheet: &Sheet, chance: &mut Chance) -> Vec<Onset> {
    let mut onsets = vec![];
    let mut key = KeyReader::default();
    // Bar numbers as written, and where they were first played.
    let mut played: BTreeMap<u32, i64> = BTreeMap::new();
    let (mut bar, mut index, mut chord, mut harmony) = (0, 0_i64, 0, None);
    for (n, note) in sheet.melody.iter().enumerate() {
        while sheet.bars.get(bar + 1).is_some_and(|next| next.start <= note.at) {
            bar += 1;
            // The second half of a bar that is divided in two goes on with the first.
            index += i64::from(!sheet.is_pickup(bar));
        }
        let Some(written) = sheet.bars.get(bar) else { break };
        while let Some(change) = sheet.chords.get(chord).filter(|change| change.at <= note.at) {
            harmony = Some((change.at, change.symbol.chord));
            if let Some(chord) = change.symbol.chord {
                key.hear_chord(chord, change.at);
            }
            chord += 1;
        }
        let class = note.pitch.class();
        key.hear_note(class, note.at);
        let root = harmony.and_then(|(_, chord)| chord).map(|chord| chord.root);
        let around = Around {
            key: note.pitch.key(),
            degree: class.above(key.key().tonic),
            chord_degree: root.map_or(12, |root| class.above(root)),
            changed: harmony.map(|(at, _)| at),
        };
        let metre = written.metre;
        let in_bar = Bar {
            start: note.at - sheet.place(bar, note.at),
            length: metre.bar().max(written.length),
            metre,
            index,
        };
        let next = sheet.melody.get(n + 1).map_or(sheet.end.max(note.end()), |next| next.at);
        let length = (next - note.at).0 as f64 / metre.beat().0.max(1) as f64;
        let first_time = *played.entry(written.number).or_insert(index) == index;
        chance.strike(note.at, in_bar, around);
        let (cues, bar) = (*chance.cues(), index as usize);
        onsets.push(Onset { at: note.at, in_bar, around, cues, bar, first_time, length });
    }
    onsets
}
