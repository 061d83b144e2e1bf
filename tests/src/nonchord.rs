//! Names the non-chord tones of an accompaniment, or says that no name fits.
//!
//! Written from the published definitions alone (Open Music Theory, "Embellishing Tones" and "Third Species";
//! Rush, "Music Notation and Theory for Intelligent Beginners"; Hutchinson, "Music Theory for the 21st-Century
//! Classroom" 10.4; Gehrkens, "Music Notation and Terminology" §§ 210–213), never from what the engine does, so
//! that the two can contradict each other. Where a book leaves a condition open, the choice made here is told
//! beside it.
//!
//! Times are ticks ([`figwort_theory::Moment`]'s), on the grid: who calls has put early and late notes on
//! their places. A step is one or two semitones, a leap three or more. Not here: what is a chord's tone (the
//! caller says so), and whether a tone is beautiful.

mod ear;
mod voice;

use figwort_engine::Hand;
use figwort_theory::{Metre, PitchClass, PitchClassSet, Span};

use ear::Ear;

/// A key that goes down and comes up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tone {
    /// Whose it is.
    pub hand: Hand,
    /// The MIDI key.
    pub key: i32,
    /// When it goes down.
    pub at: i64,
    /// When it comes up.
    pub end: i64,
}

/// A bar's place in time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Measure {
    /// Its beginning.
    pub start: i64,
    /// How much of the metre's bar is missing before it: more than nothing in a pick-up.
    pub into: i64,
    /// Its metre.
    pub metre: Metre,
}

/// Music to be named.
#[derive(Clone, Debug, Default)]
pub struct Passage {
    /// The accompaniment, in any order.
    pub tones: Vec<Tone>,
    /// From when on which classes belong to the harmony, by time; an empty set is no chord.
    pub chords: Vec<(i64, PitchClassSet)>,
    /// The bars, by time.
    pub bars: Vec<Measure>,
}

/// The types of non-chord tones.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Type {
    /// By step through a third, two in a row through a fourth; chromatic ones fill less.
    Passing,
    /// A step out and back.
    Neighbour,
    /// The step above and the step below, in either order.
    DoubleNeighbour,
    /// By leap in, by step out, weak to strong.
    IncompleteNeighbour,
    /// By leap in, by step out, strong to weak.
    Appoggiatura,
    /// By step in, by leap out the other way.
    Escape,
    /// Struck again as a tone of the next chord.
    Anticipation,
    /// Of the chord before, resolving down by step.
    Suspension,
    /// Of the chord before, resolving up by step.
    Retardation,
    /// Stays while the chords change.
    Pedal,
    /// Five notes: step, third, step and step back.
    Cambiata,
    /// Tied over into a chord of which it is a tone.
    Syncopation,
}

impl Type {
    /// All of them.
    pub const ALL: [Self; 12] = [
        Self::Passing,
        Self::Neighbour,
        Self::DoubleNeighbour,
        Self::IncompleteNeighbour,
        Self::Appoggiatura,
        Self::Escape,
        Self::Anticipation,
        Self::Suspension,
        Self::Retardation,
        Self::Pedal,
        Self::Cambiata,
        Self::Syncopation,
    ];

    /// The trade's name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Passing => "passing tone",
            Self::Neighbour => "neighbour",
            Self::DoubleNeighbour => "double neighbour",
            Self::IncompleteNeighbour => "incomplete neighbour",
            Self::Appoggiatura => "appoggiatura",
            Self::Escape => "escape tone",
            Self::Anticipation => "anticipation",
            Self::Suspension => "suspension",
            Self::Retardation => "retardation",
            Self::Pedal => "pedal point",
            Self::Cambiata => "nota cambiata",
            Self::Syncopation => "syncopation",
        }
    }
}

/// A tone, or the part of it that sounds under one chord.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sound {
    /// Whose it is.
    pub hand: Hand,
    /// The MIDI key.
    pub key: i32,
    /// When it begins, be it struck or held over from the chord before.
    pub from: i64,
    /// When it ends, or the chord does.
    pub to: i64,
    /// Place of its chord in the passage.
    pub chord: usize,
    /// Whether it belongs to the chord.
    pub is_chord_tone: bool,
    /// Whether it was struck, not held over.
    pub struck: bool,
    /// The same key's sound under the next chord, where it is held on.
    held_into: Option<usize>,
    /// The same key's sound under the chord before, where it is held over.
    held_from: Option<usize>,
}

/// What a sound is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// A tone of its chord.
    ChordTone,
    /// Of this type. The flag tells whether its voice had to be sought in the other hand, too.
    Named(Type, bool),
    /// No definition fits.
    Undefined,
}

/// What was found, sound by sound, in order of time.
#[derive(Clone, Debug, Default)]
pub struct Naming {
    /// All sounds that have a chord.
    pub sounds: Vec<Sound>,
    /// What each is.
    pub verdicts: Vec<Verdict>,
    /// Tones that no chord is in force for.
    pub without_chord: usize,
}

/// Names every sound of a passage.
pub fn name(passage: &Passage) -> Naming {
    let (sounds, without_chord) = passage.sounds();
    let ear = Ear { passage, sounds: &sounds };
    let verdicts = (0..sounds.len()).map(|n| ear.verdict(n)).collect();
    Naming { sounds, verdicts, without_chord }
}

impl Passage {
    /// Metrical weight of a moment, as [`Metre::level`] gives it: 0 is the strongest.
    pub fn level(&self, at: i64) -> u8 {
        self.bar(at).map_or(0, |bar| bar.metre.level(Span(at - bar.start + bar.into)))
    }

    /// The counted beat at a moment.
    pub fn beat(&self, at: i64) -> i64 {
        self.bar(at).map_or(Span::QUARTER.0, |bar| bar.metre.beat().0)
    }

    fn bar(&self, at: i64) -> Option<&Measure> {
        self.bars.get(self.bars.partition_point(|bar| bar.start <= at).saturating_sub(1))
    }

    /// Tones cut at the changes of harmony. What is let go within a sixth of a beat after a change is not
    /// held over it. Repetitions of a non-chord tone under one chord are one sound: it is still the same
    /// tone that wants to go on.
    fn sounds(&self) -> (Vec<Sound>, usize) {
        let mut sounds: Vec<Sound> = vec![];
        let mut without = 0;
        let mut tones = self.tones.clone();
        tones.sort_by_key(|tone| (tone.at, tone.hand, tone.key));
        for tone in tones {
            let first = self.chords.partition_point(|(at, _)| *at <= tone.at);
            let Some(first) = first.checked_sub(1).filter(|n| !self.chords[*n].1.is_empty()) else {
                without += 1;
                continue;
            };
            let mut held_from = None;
            for (n, (start, classes)) in self.chords.iter().enumerate().skip(first) {
                let end = self.chords.get(n + 1).map_or(i64::MAX, |next| next.0);
                let late = if n == first { 0 } else { self.beat(*start) / 6 };
                if classes.is_empty() || *start + late >= tone.end.max(tone.at + 1) {
                    break;
                }
                let sound = Sound {
                    hand: tone.hand,
                    key: tone.key,
                    from: tone.at.max(*start),
                    to: tone.end.min(end),
                    chord: n,
                    is_chord_tone: classes.contains(PitchClass::new(tone.key)),
                    struck: n == first,
                    held_into: None,
                    held_from,
                };
                held_from = Some(sounds.len());
                sounds.push(sound);
            }
        }
        (self.in_order(sounds), without)
    }

    /// Puts sounds in order of time, keeping who is held into whom, and joins repetitions.
    fn in_order(&self, sounds: Vec<Sound>) -> Vec<Sound> {
        let mut order: Vec<usize> = (0..sounds.len()).collect();
        order.sort_by_key(|n| (sounds[*n].from, sounds[*n].hand, sounds[*n].key));
        let mut sorted: Vec<Sound> = vec![];
        let mut place = vec![0; sounds.len()];
        for n in order {
            let mut sound = sounds[n];
            let beat = self.beat(sound.from);
            let repeated = sorted
                .iter()
                .rposition(|before| {
                    let voice = before.hand == sound.hand && (before.key - sound.key).abs() <= 2;
                    voice && before.from < sound.from && sound.from - before.to <= beat
                })
                .filter(|m| {
                    let before = &sorted[*m];
                    !sound.is_chord_tone
                        && sound.struck
                        && before.key == sound.key
                        && before.chord == sound.chord
                });
            if let Some(before) = repeated {
                place[n] = before;
                sorted[before].to = sorted[before].to.max(sound.to);
                sorted[before].held_into = None;
                continue;
            }
            sound.held_into = None;
            place[n] = sorted.len();
            if let Some(from) = sound.held_from.map(|before| place[before]) {
                sound.held_from = Some(from);
                sorted[from].held_into = Some(sorted.len());
            }
            sorted.push(sound);
        }
        sorted
    }
}

#[cfg(test)]
mod tests;
