//! Voicing: which notes, and in which hand.
//!
//! [`voice`] is a pure function of what is asked and of the voicing before. On the rung Plain it answers the
//! chord as held, or close in the left hand; above, it searches all allowed sets of notes for the one of
//! least cost ([`search`]). Rules that must hold are tests, not weights; where they can't all be met, parts
//! are given up one by one before a rule is.

pub mod colour;
mod compass;
pub mod cost;
pub mod search;
pub mod spacing;

use arrayvec::ArrayVec;
use figwort_theory::{Chord, Degree, Key, Pitch, PitchClass, PitchClassSet};

use crate::reading::held::Keys;
use crate::settings::{Rung, Weights};
use cost::{Pull, Weighing};

/// Most parts of a voicing.
pub const MAX_PARTS: usize = 8;

/// The notes of a chord, from the bass up, and how many of them are the left hand's.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Voicing {
    notes: ArrayVec<Pitch, MAX_PARTS>,
    left: usize,
    /// One bit a note: the chord's sevenths, which want to fall, and leading tones, which want to rise.
    falling: u8,
    rising: u8,
    /// The melody note that it was made for.
    under: Option<Pitch>,
}

impl Voicing {
    /// From rising pitches, the first `left` of them in the left hand; more than [`MAX_PARTS`] are cut off.
    pub fn new(notes: impl IntoIterator<Item = Pitch>, left: usize) -> Self {
        let notes: ArrayVec<_, MAX_PARTS> = notes.into_iter().take(MAX_PARTS).collect();
        let left = left.min(notes.len());
        Self { notes, left, falling: 0, rising: 0, under: None }
    }

    /// The same notes, knowing which of them are tones that want to go somewhere in the next chord.
    #[must_use]
    pub fn of_chord(mut self, chord: Chord, key: Key) -> Self {
        for (n, note) in self.notes.iter().enumerate() {
            match chord.degree(note.class()) {
                Some(Degree::Seventh) => self.falling |= 1 << n,
                Some(Degree::Third) if chord.is_dominant() && note.class() == key.tonic.transpose(-1) => {
                    self.rising |= 1 << n;
                }
                _ => {}
            }
        }
        self
    }

    /// The same notes, knowing the melody note above them.
    #[must_use]
    pub fn under(mut self, melody: Option<Pitch>) -> Self {
        self.under = melody;
        self
    }

    /// The tones that want to go somewhere.
    pub(crate) fn pulls(&self) -> impl Iterator<Item = (Pitch, Pull)> {
        self.notes.iter().enumerate().filter_map(|(n, note)| {
            match (self.falling >> n & 1 == 1, self.rising >> n & 1 == 1) {
                (true, _) => Some((*note, Pull::Down)),
                (_, true) => Some((*note, Pull::Up)),
                _ => None,
            }
        })
    }

    /// The same with another note in the place of the *n*th from below, counted from 0; for parts that move
    /// while the others stay.
    #[must_use]
    pub fn replaced(&self, n: usize, pitch: Pitch) -> Self {
        let mut changed = self.clone();
        if let Some(note) = changed.notes.get_mut(n) {
            *note = pitch;
        }
        changed
    }

    /// All notes, rising.
    pub fn notes(&self) -> &[Pitch] {
        &self.notes
    }

    /// The left hand's notes, rising.
    pub fn left(&self) -> &[Pitch] {
        self.notes.get(..self.left).unwrap_or_default()
    }

    /// The right hand's notes, rising.
    pub fn right(&self) -> &[Pitch] {
        self.notes.get(self.left..).unwrap_or_default()
    }

    /// The bass.
    pub fn bass(&self) -> Option<Pitch> {
        self.notes.first().copied()
    }

    /// Whether there is no note.
    pub fn is_empty(&self) -> bool {
        self.notes.is_empty()
    }
}

/// What is asked of a voicing.
#[derive(Clone, Copy, Debug)]
pub struct Request {
    /// The chord.
    pub chord: Chord,
    /// The key, for the leading tone.
    pub key: Key,
    /// The melody note that sounds with it.
    pub melody: Option<Pitch>,
    /// The class that a standing melody note supplies, so that no part has to.
    pub sung: Option<PitchClass>,
    /// The pitch that all parts stay under, by a third at least; usually the melody's lowest.
    pub ceiling: Option<Pitch>,
    /// The highest melody note that is known to come over this chord.
    pub summit: Option<Pitch>,
    /// The melody's level over the bars around, which the register follows; it moves slowly.
    pub register: Option<Pitch>,
    /// Harmonic tension, 0 to 100: wider spacing and a deeper bass.
    pub tension: u8,
    /// Whether low interval limits may be missed by [`spacing::TOLERANCE`].
    pub lenient: bool,
    /// Parts wanted, bass included: 1 to 6.
    pub parts: usize,
    /// The rung.
    pub rung: Rung,
    /// Widest stretch of one hand, in semitones.
    pub reach: i32,
    /// Moves the low interval limits up, in semitones.
    pub clarity: i32,
    /// Whether the right hand holds the melody too.
    pub one_player: bool,
    /// What each wish weighs.
    pub weights: Weights,
    /// Range of the bass.
    pub bass_range: (Pitch, Pitch),
    /// A bass that sounds already and stays.
    pub kept_bass: Option<Pitch>,
    /// The keys that the player holds, for the rung Plain; none with a chart.
    pub grip: Keys,
}

impl Request {
    /// What the right hand has to hold beside its parts.
    pub(crate) fn held(&self) -> Option<Pitch> {
        self.melody.filter(|_| self.one_player)
    }

    /// What the right hand has to reach later.
    pub(crate) fn reached(&self) -> Option<Pitch> {
        self.summit.max(self.melody).filter(|_| self.one_player)
    }

    /// How many of some notes the left hand takes; `None` if they can't be held.
    pub(crate) fn hands(&self, notes: &[Pitch]) -> Option<usize> {
        spacing::hands(notes, self.held(), self.reached(), self.reach)
    }
}

/// Without a melody the parts stay under this pitch: E5.
const OPEN_CEILING: Pitch = Pitch::new(76);
/// The accompaniment's distance from the melody: a minor third at least.
pub const UNDER_MELODY: i32 = 3;
/// The lowest bass under a melody that leaves no other room: C2, below which chords are no more than a rumble. Common
/// practice, no source.
const LOWEST_BASS: Pitch = Pitch::new(36);
/// Plain chords have their lowest note from F2 up.
const PLAIN_LOWEST: Pitch = Pitch::new(41);

/// The voicing that serves the request best, `previous` being what sounded before.
/// Empty only if not even the bass fits under the melody.
pub fn voice(request: &Request, previous: Option<&Voicing>) -> Voicing {
    if request.rung == Rung::Plain {
        return plain(request);
    }
    // First everything as asked; then closer to the melody than its coming notes allow, as the accompaniment
    // gives way to a dip when it comes; then with the low interval limits' tolerance. Rather fewer parts than
    // a chord without a guide tone (the third and the seventh are never left out: Integrated Musicianship,
    // intmus.github.io, discussion 10); where no room is found for both of them, rather one than none. Under a
    // melody that leaves no room at all the bass goes below its range.
    let nearer = Request { ceiling: nearer_ceiling(request), ..*request };
    let lenient = Request { lenient: true, ..nearer };
    let (low, high) = request.bass_range;
    let lower = Request {
        bass_range: (low.transpose(-12).unwrap_or(low).max(LOWEST_BASS.min(low)), high),
        ..lenient
    };
    let guide = request.chord.guide_tones();
    let attempts = [(request, guide, 3), (&nearer, guide, 3), (&lenient, guide, 3)]
        .into_iter()
        .chain(guide.iter().map(|class| (&lenient, PitchClassSet::EMPTY.with(class), 3)))
        .chain([(request, PitchClassSet::EMPTY, 2), (&lower, guide, 2), (&lower, PitchClassSet::EMPTY, 2)]);
    let weighing = Weighing::new(request, previous);
    for (request, required, fewest) in attempts {
        if let Some(found) = best_of_parts(&weighing, request, required, fewest) {
            return found.of_chord(request.chord, request.key).under(request.melody);
        }
    }
    // The bass alone, as high as its range allows under the melody, where it goes with it if it can.
    let under = request.ceiling.map_or(127, |c| i32::from(c.key()) - UNDER_MELODY);
    let (low, high) = lower.bass_range;
    let fits = |p: &Pitch| i32::from(p.key()) <= under;
    let bass = bass_candidates(request.chord.bass, low, high)
        .filter(fits)
        .max_by_key(|bass| (search::goes_with_melody(request, *bass), *bass));
    Voicing::new(bass, 1).under(request.melody)
}

/// The best voicing of as many parts as are wanted, or fewer, each missing one at its price.
fn best_of_parts(
    weighing: &Weighing<'_>,
    request: &Request,
    required: PitchClassSet,
    fewest: usize,
) -> Option<Voicing> {
    let thin = i32::from(request.weights.thin);
    let most = request.parts.clamp(1, 6);
    let mut best = None;
    let mut limit = i32::MAX;
    let mut ground = search::Ground::new(weighing, request, required);
    for parts in (fewest..=most).rev() {
        let price = (most - parts) as i32 * thin;
        let found = ground.search_below(parts, limit.saturating_sub(price));
        if found.voicing.is_some() {
            limit = found.cost + price;
            best = found.voicing;
        }
    }
    best
}

/// The present melody note as the ceiling, if it is higher; a third above the coming one where it rests.
fn nearer_ceiling(request: &Request) -> Option<Pitch> {
    let ceiling = request.ceiling?;
    Some(request.melody.or(ceiling.transpose(4)).unwrap_or(ceiling).max(ceiling))
}

/// Every pitch of a class in a range, from below.
pub(crate) fn bass_candidates(class: PitchClass, low: Pitch, high: Pitch) -> impl Iterator<Item = Pitch> {
    let mut next = low.next_of_class(class);
    core::iter::from_fn(move || {
        let pitch = next.filter(|p| *p <= high)?;
        next = pitch.transpose(12);
        Some(pitch)
    })
}

/// The chord as held; or in close position over its bass, all in the left hand.
fn plain(request: &Request) -> Voicing {
    let fits = |pitch: Pitch| request.melody.is_none_or(|melody| pitch < melody);
    if !request.grip.is_empty() {
        let count = request.grip.iter().filter(|p| fits(*p)).count();
        return Voicing::new(request.grip.iter().filter(|p| fits(*p)), count);
    }
    let Some(bass) = PLAIN_LOWEST.next_of_class(request.chord.bass) else { return Voicing::default() };
    let close = |bass: Pitch| -> ArrayVec<Pitch, MAX_PARTS> {
        let above = (1..12).filter_map(|step| bass.transpose(step));
        let tones = above.filter(|pitch| request.chord.tones().contains(pitch.class()));
        core::iter::once(bass).chain(tones).filter(|pitch| fits(*pitch)).take(MAX_PARTS).collect()
    };
    let mut notes = close(bass);
    // Under a low melody an octave lower, where there is more room.
    if notes.len() < 2
        && let Some(lower) = bass.transpose(-12).map(close).filter(|lower| lower.len() > notes.len())
    {
        notes = lower;
    }
    let left = notes.len();
    Voicing::new(notes, left)
}

/// The classes worth sounding above the bass with a number of parts: a chord of many tones gives up, in this
/// order, the natural eleventh over a major third (common practice, no source), the perfect fifth
/// (Gehrkens, Music Notation and Terminology, 1914, § 201), and one of five tones or more the root.
pub(crate) fn wanted_classes(chord: Chord, parts: usize) -> PitchClassSet {
    let mut classes = chord.tones();
    let has = |interval: i32| chord.intervals().contains(PitchClass::new(interval));
    if has(4) && has(5) {
        classes = classes.without(chord.root.transpose(5));
    }
    let over_bass = |set: PitchClassSet| set.without(chord.bass).len() as usize;
    let fifth = chord.root.transpose(7);
    if over_bass(classes) >= parts && chord.degree(fifth) == Some(Degree::Fifth) && chord.bass != fifth {
        classes = classes.without(fifth);
    }
    if over_bass(classes) >= parts && chord.bass != chord.root && classes.len() > 4 {
        classes = classes.without(chord.root);
    }
    classes
}
