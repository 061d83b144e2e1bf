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

mod voice;

use figwort_engine::Hand;
use figwort_theory::{Metre, PitchClass, PitchClassSet, Span};

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

/// Listens to one passage.
struct Ear<'a> {
    passage: &'a Passage,
    /// In order of time.
    sounds: &'a [Sound],
}

impl Ear<'_> {
    fn verdict(&self, n: usize) -> Verdict {
        if self.sounds[n].is_chord_tone {
            return Verdict::ChordTone;
        }
        [false, true]
            .into_iter()
            .find_map(|both| Some(Verdict::Named(self.name(n, both)?, both)))
            .unwrap_or(Verdict::Undefined)
    }

    /// The first definition that fits; `both` looks for the voice in both hands.
    fn name(&self, n: usize, both: bool) -> Option<Type> {
        let (before, after) = (self.before(n, both), self.after(n, both));
        let fits = |kind: Type| match kind {
            Type::Suspension => self.resolves(n, &before, &after, -1),
            Type::Retardation => self.resolves(n, &before, &after, 1),
            Type::Passing => self.passes(n, both),
            Type::Neighbour => before.iter().any(|b| {
                let (b, a) = (&self.sounds[*b], |a: &usize| &self.sounds[*a]);
                self.is_step(n, b)
                    && b.is_chord_tone
                    && after.iter().map(a).any(|a| a.key == b.key && a.is_chord_tone)
            }),
            Type::DoubleNeighbour => self.doubles(n, both),
            Type::Appoggiatura => self.is_left_by_step(n, &before, &after, true),
            Type::IncompleteNeighbour => self.is_left_by_step(n, &before, &after, false),
            Type::Escape => self.escapes(n, &before, &after),
            Type::Anticipation => self.is_early(n, &after, true),
            Type::Syncopation => self.is_early(n, &after, false),
            Type::Cambiata => self.changes(n, both),
            Type::Pedal => self.stays(n),
        };
        const ORDER: [Type; 12] = [
            Type::Suspension,
            Type::Retardation,
            Type::Syncopation,
            Type::Anticipation,
            Type::Passing,
            Type::DoubleNeighbour,
            Type::Neighbour,
            Type::Appoggiatura,
            Type::IncompleteNeighbour,
            Type::Escape,
            Type::Cambiata,
            Type::Pedal,
        ];
        ORDER.into_iter().find(|kind| fits(*kind))
    }

    fn level(&self, sound: &Sound) -> u8 {
        self.passage.level(sound.from)
    }

    /// Whether one sound is stronger placed than the other. Of two equal beats the earlier is the stronger;
    /// of two equal places within a beat, neither.
    fn is_stronger(&self, earlier: &Sound, later: &Sound) -> bool {
        let (first, second) = (self.level(earlier), self.level(later));
        first < second || first == second && first <= 2
    }

    fn is_step(&self, n: usize, other: &Sound) -> bool {
        (1..=2).contains(&(other.key - self.sounds[n].key).abs())
    }

    /// Prepared by the same pitch as a tone of the chord before, placed at the change, resolved by step over
    /// the same chord on a weaker place; the resolution's class sounds elsewhere in the bass only (9–8).
    fn resolves(&self, n: usize, before: &[usize], after: &[usize], direction: i32) -> bool {
        let sound = &self.sounds[n];
        let change = self.passage.chords[sound.chord].0;
        let at_change = (sound.from - change).abs() * 6 <= self.passage.beat(change);
        let prepared = before
            .iter()
            .map(|b| &self.sounds[*b])
            .any(|b| b.key == sound.key && b.is_chord_tone && b.chord + 1 == sound.chord);
        at_change
            && prepared
            && after.iter().map(|a| &self.sounds[*a]).any(|a| {
                let step = (a.key - sound.key) * direction;
                (1..=2).contains(&step)
                    && a.is_chord_tone
                    && a.chord == sound.chord
                    && self.is_stronger(sound, a)
                    && !self.sounds_above_the_bass(sound, a.key)
            })
    }

    /// Whether a class sounds with another sound's beginning, not in the lowest part.
    fn sounds_above_the_bass(&self, with: &Sound, key: i32) -> bool {
        let together = || self.sounds.iter().filter(|s| s.from <= with.from && s.to > with.from);
        let lowest = together().map(|s| s.key).min();
        together().any(|s| Some(s.key) != lowest && s.key != with.key && (s.key - key) % 12 == 0)
    }

    /// Left by step for a chord tone, reached by leap: accented an appoggiatura, whichever way the leap went
    /// (the books disagree); otherwise an incomplete neighbour.
    fn is_left_by_step(&self, n: usize, before: &[usize], after: &[usize], accented: bool) -> bool {
        let sound = &self.sounds[n];
        let leapt = !before.is_empty() && before.iter().all(|b| (self.sounds[*b].key - sound.key).abs() >= 3);
        leapt
            && sound.struck
            && after.iter().map(|a| &self.sounds[*a]).any(|a| {
                let placed =
                    if accented { self.is_stronger(sound, a) } else { self.level(sound) > self.level(a) };
                (1..=2).contains(&(a.key - sound.key).abs()) && a.is_chord_tone && placed
            })
    }

    /// By step from a chord tone, by leap the other way, on the weaker place.
    fn escapes(&self, n: usize, before: &[usize], after: &[usize]) -> bool {
        let sound = &self.sounds[n];
        before.iter().map(|b| &self.sounds[*b]).any(|b| {
            self.is_step(n, b)
                && b.is_chord_tone
                && self.level(b) < self.level(sound)
                && !after.is_empty()
                && after.iter().all(|a| (self.sounds[*a].key - sound.key).abs() >= 3)
                && after
                    .iter()
                    .any(|a| (self.sounds[*a].key - sound.key).signum() == (b.key - sound.key).signum())
        })
    }

    /// A tone of the next chord, within a beat of the change and on a weaker place: struck again there, or
    /// tied.
    fn is_early(&self, n: usize, after: &[usize], again: bool) -> bool {
        let sound = &self.sounds[n];
        let Some((change, _)) = self.passage.chords.get(sound.chord + 1) else { return false };
        let soon = change - sound.from <= self.passage.beat(sound.from);
        let weak = self.passage.level(sound.from) > self.passage.level(*change);
        soon && weak
            && sound.struck
            && sound.held_into.is_some() != again
            && after
                .iter()
                .map(|a| &self.sounds[*a])
                .any(|a| a.key == sound.key && a.is_chord_tone && a.chord == sound.chord + 1)
    }

    /// The same pitch goes on through changes of harmony, and is a tone of the first and the last of these
    /// chords.
    fn stays(&self, n: usize) -> bool {
        let walk = |forward: bool| {
            let mut here = n;
            loop {
                let next = if forward { self.after(here, false) } else { self.before(here, false) };
                let same = next.into_iter().find(|other| self.sounds[*other].key == self.sounds[n].key);
                match same {
                    Some(same) if self.sounds[same].is_chord_tone => return Some(self.sounds[same].chord),
                    Some(same) => here = same,
                    None => return None,
                }
            }
        };
        let here = self.sounds[n].chord;
        walk(false).zip(walk(true)).is_some_and(|(first, last)| first < here && here < last)
    }
}

#[cfg(test)]
mod tests;
