//! Chords of a broken accompaniment: notes one after another that make a chord over a bar, half of it or a beat.
//!
//! The longest span whose notes are plainly one chord gives it; a bar whose halves are each a chord on another root has
//! two. A span that adds nothing to the chord before goes on with it. Deliberately absent: telling passing notes from
//! chord notes (a span with some is divided, and left out where that does not help).

use figwort_theory::identify::{Context, identify_keys};
use figwort_theory::{
    Alterations, Chord, ChordSymbol, Key, Kind, Moment, Pitch, PitchClassSet, Span, TICKS_PER_QUARTER,
};

use super::file::RawNote;
use crate::{Bar, ChordChange};

/// Least share of the bars with notes that must be plainly chords.
const MOSTLY: f64 = 0.6;
/// How much early a note may be.
const EARLY: Span = Span(TICKS_PER_QUARTER / 16);
/// Most notes of a bar that are looked at, and most before it that may sound on.
const MAX_NOTES: usize = 256;
const MAX_HELD: usize = 64;
/// Kinds that a broken chord is taken for.
const KINDS: [Kind; 18] = [
    Kind::Major,
    Kind::Minor,
    Kind::Augmented,
    Kind::Diminished,
    Kind::Dominant,
    Kind::MajorSeventh,
    Kind::MinorSeventh,
    Kind::DiminishedSeventh,
    Kind::AugmentedSeventh,
    Kind::HalfDiminished,
    Kind::MajorMinor,
    Kind::MajorSixth,
    Kind::MinorSixth,
    Kind::DominantNinth,
    Kind::MajorNinth,
    Kind::MinorNinth,
    Kind::SuspendedSecond,
    Kind::SuspendedFourth,
];

/// The chords that notes make bar by bar; none where most bars are no plain chord. Notes are sorted by onset.
pub(super) fn read(notes: &[RawNote], bars: &[Bar], key: Key) -> Vec<ChordChange> {
    let mut reader = Reader { key, chords: Vec::new() };
    let (mut with_notes, mut plain) = (0usize, 0usize);
    for bar in bars {
        // What a bar holds begins in it, or sounds on from the one before.
        let start = notes.partition_point(|note| note.at + EARLY < bar.start);
        let end = notes.partition_point(|note| note.at + EARLY < bar.end());
        let here = notes.get(start.saturating_sub(MAX_HELD)..end.min(start + MAX_NOTES)).unwrap_or(&[]);
        if start == end {
            continue;
        }
        with_notes += 1;
        let window = Window { at: bar.start, end: bar.end(), beat: bar.metre.beat() };
        plain += usize::from(reader.window(window, here));
    }
    if plain as f64 >= MOSTLY * with_notes.max(1) as f64 { reader.chords } else { Vec::new() }
}

/// A span of time, and the beat that it is divided by.
#[derive(Clone, Copy)]
struct Window {
    at: Moment,
    end: Moment,
    beat: Span,
}

impl Window {
    /// Halves where the beats are even, else single beats; none of one beat.
    fn parts(self) -> Vec<Self> {
        let length = self.end - self.at;
        let beats = (length.0 + self.beat.0 - 1) / self.beat.0.max(1);
        let part = if beats % 2 == 0 { self.beat * (beats / 2) } else { self.beat };
        if beats < 2 {
            return Vec::new();
        }
        let starts = (0..beats).map(|index| self.at + part * index).take_while(|at| *at < self.end);
        starts.map(|at| Self { at, end: (at + part).min(self.end), ..self }).collect()
    }
}

struct Reader {
    key: Key,
    chords: Vec<ChordChange>,
}

impl Reader {
    fn previous(&self) -> Option<Chord> {
        self.chords.last().and_then(|last| last.symbol.chord)
    }

    fn add(&mut self, at: Moment, chord: Chord) {
        self.chords.push(ChordChange { at, symbol: ChordSymbol::of(chord, self.key) });
    }

    /// Reads a window and its parts; whether all of it is plainly chords.
    fn window(&mut self, window: Window, notes: &[RawNote]) -> bool {
        let context = Context { key: Some(self.key), previous: self.previous() };
        let whole = plain(window, notes, &context);
        let parts = window.parts();
        let chords: Vec<Option<Chord>> = parts.iter().map(|part| plain(*part, notes, &context)).collect();
        let own_roots = chords.iter().all(Option::is_some)
            && chords.windows(2).any(|pair| matches!(pair, [Some(a), Some(b)] if a.root != b.root));
        if let Some(chord) = whole.filter(|_| !own_roots) {
            self.add(window.at, chord);
            return true;
        }
        // A bass and its fifth, or a rest, go on with the chord before.
        let classes = classes(window, notes);
        if self.previous().is_some_and(|chord| chord.classes().intersection(classes) == classes) {
            return true;
        }
        let mut all = !parts.is_empty();
        for part in parts {
            all &= self.window(part, notes);
        }
        all
    }
}

/// The notes of a window: what begins in it, and what sounds on for half of it or more.
fn sounding(window: Window, notes: &[RawNote]) -> impl Iterator<Item = &RawNote> {
    let half = Span((window.end - window.at).0 / 2);
    notes.iter().filter(move |note| {
        let begins = note.at + EARLY >= window.at && note.at + EARLY < window.end;
        begins || (note.at < window.at && note.end >= window.at + half)
    })
}

fn classes(window: Window, notes: &[RawNote]) -> PitchClassSet {
    sounding(window, notes).map(|note| note.pitch.class()).collect()
}

/// The chord that a window's notes plainly are: three classes or more, all of them tones of a usual kind.
fn plain(window: Window, notes: &[RawNote], context: &Context) -> Option<Chord> {
    let classes = classes(window, notes);
    if classes.len() < 3 {
        return None;
    }
    let keys = sounding(window, notes).map(|note| note.pitch);
    let chord = identify_keys(keys.collect::<Vec<Pitch>>().into_iter(), context)?;
    let usual = KINDS.contains(&chord.kind) && Alterations::ADD_NINTH.contains(chord.alterations);
    (usual && chord.tones().intersection(classes) == classes).then_some(chord)
}
