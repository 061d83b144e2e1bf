//! How an accompaniment moves against its melody: counts over one performance of a sheet.
//!
//! "Beat" is the counted beat (the dotted quarter in 6/8). Notes of the accompaniment within a thirty-second of
//! the one before are one attack, so that a spread chord counts once. Early and late notes are put on their
//! places first ([`grid`]). What is counted is defined beside each field of [`Measures`]; nothing is judged,
//! and how several tunes are summed up is the caller's.

pub mod grid;
pub mod struck;

mod motion;
mod part;

use figwort_engine::Colour;
use figwort_engine::voicing::colour::coloured;
use figwort_engine::{Figure, Hand, Settings, Texture};
use figwort_render::Performance;
use figwort_sheet::Sheet;
use figwort_theory::{Moment, Pitch, PitchClassSet};

use crate::nonchord::{self, Measure, Passage, Tone, Type, Verdict};
use grid::Grid;

/// So many of so many.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Share {
    /// Those that are.
    pub count: usize,
    /// All of them.
    pub of: usize,
}

impl Share {
    /// One more, that is or isn't.
    pub fn tell(&mut self, is: bool) {
        self.count += usize::from(is);
        self.of += 1;
    }

    /// Those of another tune, too.
    pub fn add(&mut self, other: Self) {
        self.count += other.count;
        self.of += other.of;
    }

    /// In percent; `None` of nothing.
    pub fn percent(self) -> Option<f64> {
        (self.of > 0).then(|| self.count as f64 * 100.0 / self.of as f64)
    }
}

/// Attacks in so many beats.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Rate {
    /// How many attacks.
    pub attacks: usize,
    /// In how many beats.
    pub beats: f64,
}

impl Rate {
    /// That of another tune, too.
    pub fn add(&mut self, other: Self) {
        self.attacks += other.attacks;
        self.beats += other.beats;
    }

    /// Attacks a beat; `None` in no time.
    pub fn per_beat(self) -> Option<f64> {
        (self.beats > 0.0).then(|| self.attacks as f64 / self.beats)
    }

    /// How many times another rate it is; `None` where either has no time or the other no attack.
    pub fn against(self, other: Self) -> Option<f64> {
        let other = other.per_beat().filter(|rate| *rate > 0.0);
        self.per_beat().zip(other).map(|(rate, other)| rate / other)
    }
}

/// When a figure begins under a melody that stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Entry {
    /// From the moment at which the melody had stood for the wait to the decision, in milliseconds.
    pub decided_ms: f64,
    /// From the decision to the figure's first note, in beats.
    pub waited_beats: f64,
    /// From the figure's step that is nearest to that note, to the note, in milliseconds.
    pub beside_ms: f64,
}

/// Counts over one performance.
#[derive(Clone, Debug, Default)]
pub struct Measures {
    /// Attacks a beat while a melody note has been held for over a beat, divided by those in the first beat of
    /// melody notes; `None` where there is no such time or no attack in the first beats.
    pub ratio: Option<f64>,
    /// Attacks and beats: in the first beats of melody notes, while notes are held for over a beat, and in the
    /// whole of notes that last a beat or less.
    pub rates: [Rate; 3],
    /// Spells without a melody onset for two beats or more in which a chord is in force, the last chord's
    /// apart: those with an attack after the first beat.
    pub filled: Share,
    /// The others: where they begin and how long they are, and what the accompaniment meant to do.
    pub unfilled: Vec<(String, String)>,
    /// Attacks that fall on beats with three melody onsets or more.
    pub on_busy_beats: Share,
    /// Attacks there that are no change of harmony and no bar line's.
    pub moving_on_busy_beats: Share,
    /// Beats with three melody onsets or more, of all beats.
    pub busy_beats: Share,
    /// Beats in which a chord is in force, up to the ending: those in whose middle fewer than three notes of
    /// the accompaniment sound or ring under its pedal.
    pub thin: Share,
    /// Bars of the written part that are not the sheet's, and melody notes not at the sheet's places.
    pub beats_off: usize,
    /// Notes that never ended.
    pub hanging: usize,
    /// Difference between note-ons and note-offs in the written part, over all keys.
    pub unpaired: usize,
    /// Sounds of the accompaniment that are chord tones, of all.
    pub chord_tones: Share,
    /// Non-chord tones by type, in the order of [`Type::ALL`].
    pub types: [usize; 12],
    /// Of these, such whose voice crosses the hands.
    pub across_hands: usize,
    /// Non-chord tones that meet no definition, described.
    pub undefined: Vec<String>,
    /// Sounds on strong places (bar start, middle of an even bar) that are chord tones, suspensions,
    /// retardations or appoggiaturas.
    pub strong: Share,
    /// Notes begun while no chord is in force.
    pub without_chord: usize,
    /// Changes between roots a third to a fifth apart whose new bass is reached by step.
    pub bass_steps: Share,
    /// Different bars, by rhythm and by order of pitches, in every sixteen bars.
    pub varieties: Vec<f64>,
    /// Figures that begin under a standing melody.
    pub entries: Vec<Entry>,
}

impl Measures {
    /// All non-chord tones.
    pub fn non_chord_tones(&self) -> usize {
        self.types.iter().sum::<usize>() + self.undefined.len()
    }
}

/// A performance of a sheet, ready to be counted.
pub(crate) struct Heard<'a> {
    pub(crate) sheet: &'a Sheet,
    pub(crate) performance: &'a Performance,
    pub(crate) figures: &'a [Figure],
    /// Beats that the melody has to have stood.
    pub(crate) wait: f64,
    pub(crate) grid: Grid<'a>,
    /// The accompaniment on its places, by onset.
    pub(crate) tones: Vec<Tone>,
    /// Its attacks on their places.
    pub(crate) attacks: Vec<i64>,
}

/// Counts everything. `settings` and `figures` are what the performance was played with.
pub fn measure(
    sheet: &Sheet,
    performance: &Performance,
    settings: &Settings,
    figures: &[Figure],
) -> Measures {
    let grid = Grid::of(sheet);
    let own = || performance.notes.iter().filter(|note| note.hand != Hand::Melody);
    let mut tones: Vec<Tone> = own()
        .map(|note| {
            let (at, end) = (grid.place(note.at.0), grid.place(note.end().0));
            // What is over before its place was early for nothing: it belongs to what was before.
            let at = if end <= at { at.min(note.at.0) } else { at };
            Tone { hand: note.hand, key: i32::from(note.pitch.key()), at, end }
        })
        .collect();
    tones.sort_by_key(|tone| (tone.at, tone.hand, tone.key));
    let mut attacks: Vec<i64> = vec![];
    let mut last = i64::MIN;
    for note in own() {
        if note.at.0.saturating_sub(last) > grid::ONE_ATTACK {
            attacks.push(grid.place(note.at.0));
        }
        last = note.at.0;
    }
    attacks.sort_unstable();
    attacks.dedup();
    let wait = f64::from(settings.wait);
    let heard = Heard { sheet, performance, figures, wait, grid, tones, attacks };
    let mut measures = Measures { hanging: performance.hanging, ..Measures::default() };
    heard.motion(&mut measures);
    heard.thin(&mut measures);
    heard.written(&mut measures);
    heard.bass(&mut measures);
    heard.variety(&mut measures);
    heard.entries(&mut measures);
    heard.harmony(&mut measures, settings);
    measures
}

impl Heard<'_> {
    /// What the accompaniment meant to do at a moment.
    pub(crate) fn intention(&self, at: i64) -> String {
        let decisions = &self.performance.decisions;
        let before = decisions.iter().rev().find(|decision| decision.at.0 <= at + grid::ONE_ATTACK);
        before.map_or("nothing yet".into(), |decision| {
            let figure = decision.figure.map_or(String::new(), |id| format!(" #{id}"));
            format!("{}{figure}, melody {:?}", decision.texture.name(), decision.melody)
        })
    }

    /// From when on the last chord sounds.
    pub(crate) fn ending(&self) -> Option<i64> {
        let decisions = &self.performance.decisions;
        decisions.iter().find(|decision| decision.texture == Texture::Ending).map(|decision| decision.at.0)
    }

    /// The harmony's classes from change to change, with the colour that a standing melody note may have given.
    fn chords(&self, settings: &Settings) -> Vec<(i64, PitchClassSet)> {
        // Above Flowing, ninths are an ornament of some bars.
        let colour = match settings.colour {
            Colour::FromMelody if settings.elaboration > 3.0 => Colour::Added,
            colour => colour,
        };
        let mut chords = vec![];
        for (n, change) in self.sheet.chords.iter().enumerate() {
            let end = self.sheet.chords.get(n + 1).map_or(i64::MAX, |next| next.at.0);
            let classes = change.symbol.chord.map_or(PitchClassSet::EMPTY, |chord| {
                let key = self.grid.key(change.at.0);
                let plain = coloured(chord, key, None, colour).classes();
                self.sheet
                    .melody
                    .iter()
                    .filter(|note| note.at.0 < end && note.end().0 > change.at.0)
                    .filter(|note| note.length.0 >= self.grid.beat(note.at.0))
                    .map(|note| coloured(chord, key, Some(note.pitch.class()), colour).classes())
                    .fold(plain.union(chord.classes()), PitchClassSet::union)
            });
            chords.push((change.at.0, classes));
        }
        chords
    }

    fn harmony(&self, measures: &mut Measures, settings: &Settings) {
        let bars = self.sheet.bars.iter().enumerate().map(|(n, bar)| Measure {
            start: bar.start.0,
            into: self.sheet.place(n, bar.start).0,
            metre: bar.metre,
        });
        let passage =
            Passage { tones: self.tones.clone(), chords: self.chords(settings), bars: bars.collect() };
        let naming = nonchord::name(&passage);
        measures.without_chord = naming.without_chord;
        for (sound, verdict) in naming.sounds.iter().zip(&naming.verdicts) {
            measures.chord_tones.tell(*verdict == Verdict::ChordTone);
            let mut is_proper = *verdict == Verdict::ChordTone;
            match verdict {
                Verdict::ChordTone => {}
                Verdict::Named(kind, across) => {
                    if let Some(n) = Type::ALL.iter().position(|other| other == kind) {
                        measures.types[n] += 1;
                    }
                    measures.across_hands += usize::from(*across);
                    is_proper = matches!(kind, Type::Suspension | Type::Retardation | Type::Appoggiatura);
                }
                Verdict::Undefined => {
                    let neighbours = |range: std::ops::Range<i64>| {
                        let mut names: Vec<String> = self
                            .tones
                            .iter()
                            .filter(|t| t.hand == sound.hand && range.contains(&t.at) && t.at != sound.from)
                            .filter_map(|t| Pitch::from_i32(t.key))
                            .map(|pitch| pitch.to_string())
                            .collect();
                        names.dedup();
                        names.join(" ")
                    };
                    let beat = self.grid.beat(sound.from);
                    let chord = |n: usize| {
                        self.sheet.chords.get(n).map_or(String::new(), |change| change.symbol.to_string())
                    };
                    let pitch = Pitch::from_i32(sound.key).map_or(String::new(), |p| p.to_string());
                    measures.undefined.push(format!(
                        "{}: {pitch} {:?} {} for {:.2} beats over {} (before {}, after {}); hand before [{}] after \
                         [{}]; {}",
                        self.grid.spell(sound.from),
                        sound.hand,
                        if sound.struck { "struck" } else { "held over" },
                        (sound.to.min(self.performance.end.0) - sound.from) as f64 / beat as f64,
                        chord(sound.chord),
                        sound.chord.checked_sub(1).map_or("–".into(), chord),
                        chord(sound.chord + 1),
                        neighbours(sound.from - 2 * beat..sound.from),
                        neighbours(sound.from + 1..sound.from + 2 * beat + 1),
                        self.intention(sound.from),
                    ));
                }
            }
            if passage.level(sound.from) <= 1 {
                measures.strong.tell(is_proper);
            }
        }
    }

    /// Whether a chord is in force.
    pub(crate) fn has_chord(&self, at: i64) -> bool {
        let chords = &self.sheet.chords;
        let after = chords.partition_point(|change| change.at <= Moment(at));
        after.checked_sub(1).and_then(|n| chords.get(n)).is_some_and(|change| change.symbol.chord.is_some())
    }
}

#[cfg(test)]
mod tests;
