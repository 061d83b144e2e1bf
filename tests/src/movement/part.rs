//! The written part: read back from its MIDI file, bar by bar and note by note.

use std::collections::BTreeMap;

use figwort_engine::Hand;
use figwort_render::midi;
use midly::{MetaMessage, MidiMessage, Smf, Timing, TrackEventKind};

use super::{Heard, Measures};

impl Heard<'_> {
    /// Bars against the sheet's, melody notes against the sheet's, note-ons against note-offs.
    pub(super) fn written(&self, measures: &mut Measures) {
        let bytes = midi::write(self.performance);
        let bars = self.sheet.bars.len();
        let Ok(smf) = Smf::parse(&bytes) else {
            measures.beats_off += bars;
            return;
        };
        let Timing::Metrical(per_quarter) = smf.header.timing else {
            measures.beats_off += bars;
            return;
        };
        let ticks = i64::from(per_quarter.as_int());
        let written = |at: i64| (at * ticks + 10_080).div_euclid(20_160);
        let mut metres: Vec<(i64, i64)> = vec![];
        let mut sounding: BTreeMap<(u8, u8), usize> = BTreeMap::new();
        let mut melody = vec![];
        for track in &smf.tracks {
            let mut now = 0;
            for event in track {
                now += i64::from(event.delta.as_int());
                match event.kind {
                    TrackEventKind::Meta(MetaMessage::TimeSignature(upper, lower, ..)) => {
                        metres.push((now, (ticks * 4 * i64::from(upper)) >> lower));
                    }
                    TrackEventKind::Midi { channel, message } => match message {
                        MidiMessage::NoteOn { key, vel } if vel > 0 => {
                            *sounding.entry((channel.as_int(), key.as_int())).or_default() += 1;
                            if usize::from(channel.as_int()) == Hand::Melody.index() {
                                melody.push((now, key.as_int()));
                            }
                        }
                        MidiMessage::NoteOff { key, .. } | MidiMessage::NoteOn { key, .. } => {
                            match sounding.get_mut(&(channel.as_int(), key.as_int())) {
                                Some(count) if *count > 0 => *count -= 1,
                                _ => measures.unpaired += 1,
                            }
                        }
                        _ => {}
                    },
                    _ => {}
                }
            }
        }
        measures.unpaired += sounding.values().sum::<usize>();
        let last = self.sheet.bars.last().map(|bar| bar.start);
        for bar in &self.sheet.bars {
            let start = written(bar.start.0);
            let metre = metres.iter().rev().find(|(at, _)| *at <= start);
            // A bar line falls here, and the next one where the bar ends or a new metre begins. Nobody who
            // follows live knows that the last bar is cut short to make up for a pick-up.
            let is_last = Some(bar.start) == last;
            let fits = metre.is_some_and(|(at, length)| {
                let end = written(bar.end().0);
                let next = metres.iter().map(|(at, _)| *at).find(|at| *at > start).unwrap_or(i64::MAX);
                (start - at) % (*length).max(1) == 0
                    && (start + length == end || next == end || is_last && start + length >= end)
            });
            measures.beats_off += usize::from(!fits);
        }
        let mut asked: Vec<(i64, u8)> =
            self.sheet.melody.iter().map(|note| (written(note.at.0), note.pitch.key())).collect();
        asked.sort_unstable();
        melody.sort_unstable();
        measures.beats_off += asked
            .iter()
            .filter(|(at, key)| !melody.iter().any(|(m, k)| k == key && (m - at).abs() <= 1))
            .count();
    }
}
