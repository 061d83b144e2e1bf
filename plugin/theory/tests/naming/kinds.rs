//! The published chord kinds, and which of them share their notes.

use figwort_theory::{Alterations, Chord, ChordSymbol, Key, Kind, PitchClass, PitchClassSet};

/// One kind: its name, its semitones above the root, and whether only context gives that name.
#[derive(Debug)]
pub(crate) struct Entry {
    /// MusicXML's name, else music21's.
    pub(crate) name: &'static str,
    /// Above the root, extensions folded into the octave.
    pub(crate) semitones: &'static [i32],
    /// Neapolitan, the augmented sixths and Tristan.
    pub(crate) context_only: bool,
}

const fn kind(name: &'static str, semitones: &'static [i32]) -> Entry {
    Entry { name, semitones, context_only: false }
}

const fn in_context(name: &'static str, semitones: &'static [i32]) -> Entry {
    Entry { name, semitones, context_only: true }
}

/// The 50 kinds of music21 10.5.1 (`harmony.CHORD_TYPES`, BSD), as facts; names as in MusicXML 4.0
/// (`kind-value`) where it has the kind.
pub(crate) const KINDS: &[Entry] = &[
    kind("major", &[0, 4, 7]),
    kind("minor", &[0, 3, 7]),
    kind("augmented", &[0, 4, 8]),
    kind("diminished", &[0, 3, 6]),
    kind("dominant", &[0, 4, 7, 10]),
    kind("major-seventh", &[0, 4, 7, 11]),
    kind("minor-seventh", &[0, 3, 7, 10]),
    kind("diminished-seventh", &[0, 3, 6, 9]),
    kind("augmented-seventh", &[0, 4, 8, 10]),
    kind("half-diminished", &[0, 3, 6, 10]),
    kind("major-minor", &[0, 3, 7, 11]),
    kind("major-sixth", &[0, 4, 7, 9]),
    kind("minor-sixth", &[0, 3, 7, 9]),
    kind("dominant-ninth", &[0, 2, 4, 7, 10]),
    kind("major-ninth", &[0, 2, 4, 7, 11]),
    kind("minor-ninth", &[0, 2, 3, 7, 10]),
    kind("dominant-11th", &[0, 2, 4, 5, 7, 10]),
    kind("major-11th", &[0, 2, 4, 5, 7, 11]),
    kind("minor-11th", &[0, 2, 3, 5, 7, 10]),
    kind("dominant-13th", &[0, 2, 4, 5, 7, 9, 10]),
    kind("major-13th", &[0, 2, 4, 5, 7, 9, 11]),
    kind("minor-13th", &[0, 2, 3, 5, 7, 9, 10]),
    kind("suspended-second", &[0, 2, 7]),
    kind("suspended-fourth", &[0, 5, 7]),
    in_context("Neapolitan", &[0, 1, 4, 6]),
    in_context("Italian", &[0, 6, 8]),
    in_context("French", &[0, 2, 6, 8]),
    in_context("German", &[0, 3, 6, 8]),
    kind("pedal", &[0]),
    kind("power", &[0, 7]),
    in_context("Tristan", &[0, 3, 6, 10]),
    kind("augmented-major-seventh", &[0, 4, 8, 11]),
    kind("seventh-flat-five", &[0, 4, 6, 10]),
    kind("minor-major-ninth", &[0, 2, 3, 7, 11]),
    kind("augmented-major-ninth", &[0, 2, 4, 8, 11]),
    kind("augmented-dominant-ninth", &[0, 2, 4, 8, 10]),
    kind("half-diminished-ninth", &[0, 2, 3, 6, 10]),
    kind("half-diminished-minor-ninth", &[0, 1, 3, 6, 10]),
    kind("diminished-ninth", &[0, 2, 3, 6, 9]),
    kind("diminished-minor-ninth", &[0, 1, 3, 6, 9]),
    kind("minor-major-11th", &[0, 2, 3, 5, 7, 11]),
    kind("augmented-major-11th", &[0, 2, 4, 5, 8, 11]),
    kind("augmented-11th", &[0, 2, 4, 5, 8, 10]),
    kind("half-diminished-11th", &[0, 2, 3, 5, 6, 10]),
    kind("diminished-11th", &[0, 2, 3, 5, 6, 9]),
    kind("minor-major-13th", &[0, 2, 3, 5, 7, 9, 11]),
    kind("augmented-major-13th", &[0, 2, 4, 5, 8, 9, 11]),
    kind("augmented-dominant-13th", &[0, 2, 4, 5, 8, 9, 10]),
    kind("half-diminished-13th", &[0, 2, 3, 5, 6, 9, 10]),
    kind("suspended-fourth-seventh", &[0, 5, 7, 10]),
];

/// Altered dominants that share their notes with one of the kinds (common practice, no source).
const ALTERED: [(Kind, Alterations); 8] = [
    (Kind::Dominant, Alterations::FLAT_NINTH),
    (Kind::Dominant, Alterations::FLAT_THIRTEENTH),
    (Kind::Dominant, Alterations::FLAT_NINTH.union(Alterations::FLAT_THIRTEENTH)),
    (Kind::Dominant, Alterations::FLAT_NINTH.union(Alterations::ADD_THIRTEENTH)),
    (Kind::AugmentedSeventh, Alterations::FLAT_NINTH),
    (Kind::AugmentedSeventh, Alterations::FLAT_NINTH.union(Alterations::SHARP_NINTH)),
    (Kind::DominantNinth, Alterations::SHARP_ELEVENTH),
    (Kind::DominantThirteenth, Alterations::SHARP_ELEVENTH),
];

/// All chords of the table on all roots: root, notes, and whether a kind (else an altered dominant).
pub(crate) struct Kinds(Vec<(PitchClass, PitchClassSet, bool)>);

impl Kinds {
    pub(crate) fn new() -> Self {
        let kinds = KINDS
            .iter()
            .filter(|entry| !entry.context_only)
            .map(|entry| (entry.semitones.iter().copied().map(PitchClass::new).collect(), true));
        let altered = ALTERED
            .iter()
            .map(|(kind, flags)| (Chord::new(PitchClass::C, *kind).altered(*flags).intervals(), false));
        let shapes: Vec<(PitchClassSet, bool)> = kinds.chain(altered).collect();
        let on = |root: i32| {
            shapes.iter().map(move |(shape, kind)| (PitchClass::new(root), shape.transpose(root), *kind))
        };
        Self((0..12).flat_map(on).collect())
    }

    fn of(&self, held: PitchClassSet) -> impl Iterator<Item = &(PitchClass, PitchClassSet, bool)> {
        self.0.iter().filter(move |(_, notes, _)| *notes == held)
    }

    /// How many of music21's kinds, on any root, have exactly these notes.
    pub(crate) fn kinds_of(&self, held: PitchClassSet) -> usize {
        self.of(held).filter(|(_, _, kind)| *kind).count()
    }

    /// How many kinds and altered dominants, on any root, have exactly these notes.
    pub(crate) fn readings_of(&self, held: PitchClassSet) -> usize {
        self.of(held).count()
    }

    pub(crate) fn has_reading_on(&self, held: PitchClassSet, root: PitchClass) -> bool {
        self.of(held).any(|(on, _, _)| *on == root)
    }

    pub(crate) fn is_reading(&self, chord: Chord) -> bool {
        self.of(chord.tones()).any(|(on, _, _)| *on == chord.root)
    }
}

/// A chord as a player reads it.
pub(crate) fn text(chord: Chord) -> String {
    ChordSymbol::of(chord, Key::default()).to_string()
}

/// A chord from its symbol.
pub(crate) fn chord(text: &str) -> Chord {
    ChordSymbol::parse(text).ok().and_then(|symbol| symbol.chord).expect("a chord symbol")
}
