//! Keeps what the engine plays, pairs note-ons with note-offs.

use figwort_engine::{Decision, EventSink, Full, Hand, OutputEvent, OutputMessage};
use figwort_sheet::TempoChange;
use figwort_theory::{Chord, ChordSymbol, Key, Moment, Pitch, Velocity};

use super::{ChordMark, PedalChange, Performance, PlayedNote};
use crate::tempo::TempoMap;

/// Everything that came out, in frames.
#[derive(Clone, Debug, Default)]
pub(super) struct Kept {
    block_start: u64,
    last_frame: u64,
    notes: Vec<KeptNote>,
    /// Indices of notes that still sound.
    open: Vec<usize>,
    pedal: Vec<(u64, bool)>,
    decisions: Vec<(u64, Decision)>,
}

#[derive(Clone, Copy, Debug)]
struct KeptNote {
    hand: Hand,
    channel: u8,
    pitch: Pitch,
    velocity: Velocity,
    on: u64,
    /// `None` while it sounds.
    off: Option<u64>,
}

impl Kept {
    /// A block begins at this frame.
    pub(super) fn begin_block(&mut self, frame: u64) {
        self.block_start = frame;
    }

    /// Whether a note sounds or the pedal is down.
    pub(super) fn sounds(&self) -> bool {
        !self.open.is_empty() || self.pedal.last().is_some_and(|(_, down)| *down)
    }

    fn end_note(&mut self, frame: u64, same: impl Fn(&KeptNote) -> bool) {
        let found = self.open.iter().position(|index| self.notes.get(*index).is_some_and(&same));
        if let Some(place) = found {
            let index = self.open.remove(place);
            if let Some(note) = self.notes.get_mut(index) {
                note.off = Some(frame);
            }
        }
    }

    /// Chord symbols from the decisions: one at every change of chord; a change within `refinement` frames
    /// of the one before corrects it.
    pub(super) fn chord_marks(&self, key: Key, refinement: u64) -> Vec<ChordMark> {
        let mut marks: Vec<(u64, Moment, Option<Chord>)> = Vec::new();
        for (frame, decision) in &self.decisions {
            match marks.last_mut() {
                Some((_, _, chord)) if *chord == decision.chord => {}
                None if decision.chord.is_none() => {}
                Some((since, _, chord)) if *frame - *since <= refinement => *chord = decision.chord,
                _ => marks.push((*frame, decision.at, decision.chord)),
            }
        }
        // A correction may have led back to the chord before.
        marks.dedup_by(|after, before| after.2 == before.2);
        marks
            .into_iter()
            .map(|(_, at, chord)| {
                let symbol = chord.map_or(ChordSymbol::NO_CHORD, |chord| ChordSymbol::of(chord, key));
                ChordMark { at: at.max(Moment::ZERO), text: symbol.to_string(), chord }
            })
            .collect()
    }

    /// The performance in both times; notes without an end are counted and ended where the music is over.
    /// `music_end` is where its last bar ends.
    pub(super) fn performance(&self, map: &TempoMap, music_end: Moment) -> Performance {
        let end_frame = self.last_frame.max(map.frame_at(music_end));
        let mut notes: Vec<PlayedNote> = self
            .notes
            .iter()
            .map(|note| {
                let off = note.off.unwrap_or(end_frame).max(note.on);
                let at = map.moment_at(note.on);
                PlayedNote {
                    hand: note.hand,
                    pitch: note.pitch,
                    velocity: note.velocity,
                    on: note.on,
                    off,
                    at,
                    length: map.moment_at(off) - at,
                }
            })
            .collect();
        notes.sort_by_key(|note| (note.on, note.hand, note.pitch, note.off));
        let end = notes.iter().map(PlayedNote::end).fold(music_end, Moment::max);
        Performance {
            title: String::new(),
            composer: None,
            sample_rate: map.sample_rate(),
            notes,
            pedal: self
                .pedal
                .iter()
                .map(|(frame, down)| PedalChange { frame: *frame, at: map.moment_at(*frame), down: *down })
                .collect(),
            decisions: self.decisions.iter().map(|(_, decision)| *decision).collect(),
            bars: Vec::new(),
            chords: Vec::new(),
            headings: Vec::new(),
            tempos: map.changes().collect::<Vec<TempoChange>>(),
            end,
            end_frame,
            hanging: self.open.len(),
        }
    }
}

impl EventSink for Kept {
    fn push(&mut self, event: OutputEvent) -> Result<(), Full> {
        let frame = self.block_start + u64::from(event.offset);
        match event.message {
            OutputMessage::NoteOn { hand, channel, pitch, velocity } => {
                // A second onset of a sounding pitch would be a fault; it must not lose the first one's end.
                self.end_note(frame, |note| {
                    note.hand == hand && note.channel == channel && note.pitch == pitch
                });
                self.open.push(self.notes.len());
                self.notes.push(KeptNote { hand, channel, pitch, velocity, on: frame, off: None });
                self.last_frame = self.last_frame.max(frame);
            }
            OutputMessage::NoteOff { hand, channel, pitch } => {
                self.end_note(frame, |note| {
                    note.hand == hand && note.channel == channel && note.pitch == pitch
                });
                self.last_frame = self.last_frame.max(frame);
            }
            OutputMessage::Pedal(down) => {
                if self.pedal.last().is_some_and(|(_, was)| *was) != down {
                    self.pedal.push((frame, down));
                }
            }
            OutputMessage::Other { .. } => {}
        }
        Ok(())
    }

    fn observe(&mut self, offset: u32, decision: &Decision) {
        self.decisions.push((self.block_start + u64::from(offset), *decision));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use figwort_engine::{MelodyState, Texture};
    use figwort_theory::{Kind, PitchClass, Span};

    fn map() -> TempoMap {
        TempoMap::new(&[TempoChange { at: Moment::ZERO, micros_per_quarter: 1_000_000 }], 48_000)
    }

    fn on(offset: u32, hand: Hand, key: u8) -> OutputEvent {
        let message =
            OutputMessage::NoteOn { hand, channel: 0, pitch: Pitch::new(key), velocity: Velocity::new(64) };
        OutputEvent { offset, message }
    }

    fn off(offset: u32, hand: Hand, key: u8) -> OutputEvent {
        OutputEvent { offset, message: OutputMessage::NoteOff { hand, channel: 0, pitch: Pitch::new(key) } }
    }

    #[test]
    fn notes_are_paired_over_blocks_and_placed_in_both_times() {
        let mut kept = Kept::default();
        kept.begin_block(48_000);
        kept.push(on(0, Hand::Left, 40)).unwrap();
        kept.push(on(0, Hand::Right, 64)).unwrap();
        kept.begin_block(96_000);
        kept.push(off(24_000, Hand::Left, 40)).unwrap();
        assert!(kept.sounds());
        kept.push(off(24_000, Hand::Right, 64)).unwrap();
        assert!(!kept.sounds());
        let performance = kept.performance(&map(), Moment::quarters(2));
        assert_eq!(performance.hanging, 0);
        assert_eq!((performance.notes[0].hand, performance.notes[1].hand), (Hand::Right, Hand::Left));
        for note in &performance.notes {
            assert_eq!((note.on, note.off), (48_000, 120_000));
            assert_eq!((note.at, note.length), (Moment::quarters(1), Span::QUARTER + Span::EIGHTH));
        }
        assert_eq!((performance.end, performance.end_frame), (Moment::quarters(2) + Span::EIGHTH, 120_000));
    }

    #[test]
    fn a_note_without_end_is_counted_and_ended() {
        let mut kept = Kept::default();
        kept.push(on(10, Hand::Left, 40)).unwrap();
        kept.push(off(20, Hand::Left, 41)).unwrap();
        let performance = kept.performance(&map(), Moment::quarters(1));
        assert_eq!(performance.hanging, 1);
        assert_eq!(performance.notes[0].off, 48_000);
    }

    /// Keys that arrive one by one correct the symbol, a later change is a new one.
    #[test]
    fn refinements_correct_the_symbol() {
        let chord = |root, kind| Some(Chord::new(PitchClass::new(root), kind));
        let mut kept = Kept::default();
        let story = [
            (0, None),
            (100, chord(0, Kind::Major)),
            (1_500, chord(0, Kind::MajorSeventh)),
            (48_000, chord(5, Kind::Major)),
            (60_000, chord(5, Kind::Major)),
            (96_000, None),
        ];
        for (frame, chord) in story {
            let decision = Decision {
                at: map().moment_at(u64::from(frame)),
                chord,
                melody: MelodyState::Resting,
                texture: Texture::Block,
                figure: None,
                parts: 4,
                dynamics: 60,
            };
            kept.observe(frame, &decision);
        }
        let marks = kept.chord_marks(Key::default(), 3_360);
        let texts: Vec<_> = marks.iter().map(|mark| mark.text.as_str()).collect();
        assert_eq!(texts, ["Cmaj7", "F", "N.C."]);
        assert_eq!(marks[1].at, Moment::quarters(1));
    }
}
