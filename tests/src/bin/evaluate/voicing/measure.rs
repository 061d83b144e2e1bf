//! Counts over pieces: everything about voicing that is compared between rungs and with composed music.
//!
//! What concerns the hands and the melody is looked at on every attack of the accompaniment, what concerns
//! the voicing where a whole chord is struck (three notes together). Keys that are down count, not what a
//! pedal holds. Semitones and shares; not here: rules ([`super::rules`]), and how it is printed.

use std::collections::BTreeMap;

use ::tests::movement::Share;
use figwort_engine::Hand;
use figwort_theory::Pitch;

use super::piece::{Attack, Piece, names};
use super::rules;

mod chords;

/// A hand's reach in semitones, the default setting's.
const REACH: i32 = 14;
/// Registers of the lowest note, from the first key up to the next one's: E1–B1, C2–E2, F2–B2, C3–E3, F3–B3.
pub(crate) const REGISTERS: [(&str, i32, i32); 5] =
    [("E1–B1", 28, 35), ("C2–E2", 36, 40), ("F2–B2", 41, 47), ("C3–E3", 48, 52), ("F3–B3", 53, 59)];
/// Tolerances at which low interval limits are counted.
pub(crate) const TOLERANCES: [i32; 2] = [0, 2];

/// A thing to look at, by kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Kind {
    LowInterval,
    ForcedLowInterval,
    LowRoot,
    ForcedLowRoot,
    Stretch,
    Fingers,
    EndingHands,
    Covered,
    TooClose,
    MelodyClash,
    PartsClash,
    PassingClash,
    GuideMissing,
    GuideImpossible,
    Doubled,
    Parallel,
}

/// Where it was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Finding {
    pub(crate) kind: Kind,
    pub(crate) text: String,
}

/// Breaks of low interval limits at one tolerance.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Low {
    /// Attacks with a break between neighbours, and those in which the written bass forces one.
    pub(crate) neighbours: Share,
    pub(crate) forced: usize,
    /// Struck inversions too low over the root, and those that are wherever their bass lies.
    pub(crate) root: Share,
    pub(crate) root_forced: usize,
}

/// Everything that is counted.
#[derive(Clone, Debug, Default)]
pub(crate) struct Tally {
    pub(crate) pieces: usize,
    pub(crate) attacks: usize,
    pub(crate) strikes: usize,
    pub(crate) low: [Low; 2],
    /// Intervals between the two lowest notes, by register.
    pub(crate) lowest: [Vec<i32>; 5],
    /// Gaps from the bottom where four or more notes are down.
    pub(crate) gaps: [Vec<i32>; 4],
    /// Roughness of struck chords: all, and those of 3, 4 and 5 notes.
    pub(crate) rough: [Vec<f64>; 4],
    /// Spans of notes struck together: left, right.
    pub(crate) spans: [Vec<i32>; 2],
    /// Attacks with a hand held wider than its reach: left, right, right with the melody; and the last at
    /// every attack, the melody's, too.
    pub(crate) stretched: [Share; 4],
    /// Attacks with more than five keys under one hand.
    pub(crate) fingers: Share,
    /// Either in the climb of the last chord, which the others leave out.
    pub(crate) ending_hands: Share,
    /// Attacks of the accompaniment, and of the melody, with a part on the melody or above it.
    pub(crate) covered: [Share; 2],
    /// Attacks with a part less than a third below the melody.
    pub(crate) close: Share,
    pub(crate) melody_clash: Share,
    /// Between two chord tones; with a passing tone.
    pub(crate) parts_clash: [Share; 2],
    /// Struck chords of four or more parts without a guide tone.
    pub(crate) guides: Share,
    /// Those of them where the rules would have allowed all guide tones.
    pub(crate) guides_possible: usize,
    pub(crate) sevenths_doubled: Share,
    pub(crate) leading_doubled: Share,
    /// Fifths and octaves between bass and top part, then between bass and melody, out of all changes.
    pub(crate) parallels: [[Share; 2]; 2],
    /// Semitones moved and parts that moved them: all parts, those above the bass, the bass.
    pub(crate) motion: [(i32, usize); 3],
    /// Ticks by notes sounding: accompaniment's keys, with the pedal, keys with the melody.
    pub(crate) sounding: [[i64; 8]; 3],
    /// Sevenths and leading tones that step or stay where the next chord lets them.
    pub(crate) resolved: [Share; 2],
    pub(crate) findings: Vec<Finding>,
    known: BTreeMap<Vec<i32>, f64>,
}

impl Tally {
    /// Counts a piece. `range` is that of the bass.
    pub(crate) fn add(&mut self, piece: &Piece, range: (i32, i32)) {
        self.pieces += 1;
        let both = [Hand::Left, Hand::Right];
        let sounding =
            [piece.sounding(&both, false), piece.sounding(&both, true), piece.sounding(&Hand::ALL, false)];
        for (all, new) in self.sounding.iter_mut().flatten().zip(sounding.iter().flatten()) {
            *all += new;
        }
        let attacks = piece.attacks();
        for attack in &attacks {
            if attack.melody.is_some() && !attack.ending && !attack.parts.is_empty() {
                let covered = attack.parts.last() >= attack.melody.as_ref();
                self.covered[1].tell(covered);
                if covered {
                    self.find(Kind::Covered, piece, attack, "");
                }
                if piece.one_player {
                    self.stretched[3].tell(is_wide(&with_melody(piece, attack)));
                }
            }
            if attack.is_accompaniment() {
                self.attacks += 1;
                self.add_spacing(piece, attack, range);
                self.add_hands(piece, attack);
                self.add_melody(piece, attack);
            }
        }
        let strikes: Vec<&Attack> = attacks.iter().filter(|attack| attack.is_strike()).collect();
        for attack in &strikes {
            self.strikes += 1;
            self.add_chord(piece, attack, range);
        }
        for pair in strikes.windows(2) {
            if let [before, after] = pair {
                self.add_change(piece, before, after);
            }
        }
    }

    fn find(&mut self, kind: Kind, piece: &Piece, attack: &Attack, what: &str) {
        let chord = attack.chord.map(|(_, chord)| {
            let key = piece.bars.get(attack.bar).and_then(|bar| bar.key).unwrap_or_default();
            figwort_theory::ChordSymbol::of(chord, key).to_string()
        });
        let melody = attack.melody.map(|key| names(&[key])).unwrap_or_else(|| "rests".into());
        let text = format!(
            "{}: {} {} | {}; melody {melody}; chord {}",
            piece.place(attack),
            what,
            names(&attack.hands[0]),
            names(&attack.hands[1]),
            chord.unwrap_or_else(|| "none".into())
        );
        self.findings.push(Finding { kind, text });
    }

    fn add_spacing(&mut self, piece: &Piece, attack: &Attack, range: (i32, i32)) {
        let all = attack.all();
        for (n, tolerance) in TOLERANCES.into_iter().enumerate() {
            let pairs = rules::murky_pairs(&all, tolerance);
            let is_forced = |low: i32| {
                attack.chord.is_some_and(|(_, chord)| {
                    Some(chord.bass) == Pitch::from_i32(low).map(Pitch::class)
                        && rules::bass_forces(chord, range, attack.melody, tolerance)
                })
            };
            let forced = pairs.iter().all(|(low, _)| is_forced(*low)) && !pairs.is_empty();
            self.low[n].neighbours.tell(!pairs.is_empty());
            self.low[n].forced += usize::from(forced);
            if n == 0 && !pairs.is_empty() {
                let kind = if forced { Kind::ForcedLowInterval } else { Kind::LowInterval };
                let shown: Vec<String> =
                    pairs.iter().map(|(low, high)| names(&[*low, *high]).replace(' ', "–")).collect();
                let why = if forced {
                    "the written bass forces it"
                } else if rules::murky_pairs(&all, 2).is_empty() {
                    "within the tolerance, for a guide tone or what is still held"
                } else {
                    "beyond the tolerance"
                };
                self.find(kind, piece, attack, &format!("{} ({why}) in", shown.join(", ")));
            }
        }
        if let [bass, next, ..] = attack.parts.as_slice() {
            let register = REGISTERS.iter().position(|(_, low, high)| (low..=high).contains(&bass));
            if let Some(intervals) = register.and_then(|n| self.lowest.get_mut(n)) {
                intervals.push(next - bass);
            }
        }
        if attack.parts.len() >= 4 {
            for (gaps, pair) in self.gaps.iter_mut().zip(attack.parts.windows(2)) {
                gaps.extend(pair.last().zip(pair.first()).map(|(high, low)| high - low));
            }
        }
    }

    fn add_hands(&mut self, piece: &Piece, attack: &Attack) {
        for (spans, struck) in self.spans.iter_mut().zip(&attack.struck) {
            if let [low, .., high] = struck.as_slice() {
                spans.push(high - low);
            }
        }
        let right = with_melody(piece, attack);
        let stretched = [is_wide(&attack.hands[0]), is_wide(&attack.hands[1]), is_wide(&right)];
        let crowded = attack.hands[0].len() > 5 || right.len() > 5;
        if attack.ending {
            let impossible = crowded || stretched.contains(&true);
            self.ending_hands.tell(impossible);
            if impossible {
                self.find(Kind::EndingHands, piece, attack, "");
            }
            return;
        }
        let counted = if piece.one_player { 3 } else { 2 };
        for (share, wide) in self.stretched.iter_mut().zip(stretched).take(counted) {
            share.tell(wide);
        }
        if stretched.contains(&true) {
            self.find(Kind::Stretch, piece, attack, "");
        }
        self.fingers.tell(crowded);
        if crowded {
            self.find(Kind::Fingers, piece, attack, "");
        }
    }

    fn add_melody(&mut self, piece: &Piece, attack: &Attack) {
        let chord = attack.chord.map(|(_, chord)| chord);
        let clash = attack.parts.iter().enumerate().find_map(|(n, low)| {
            let higher = attack.parts.iter().skip(n + 1);
            higher.copied().find(|high| rules::clashes(*low, *high, chord)).map(|high| (*low, high))
        });
        let passes = |key: i32| {
            let class = Pitch::from_i32(key).map(Pitch::class);
            chord.zip(class).is_some_and(|(chord, class)| !chord.classes().contains(class))
        };
        let passing = clash.is_some_and(|(low, high)| passes(low) || passes(high));
        self.parts_clash[0].tell(clash.is_some() && !passing);
        self.parts_clash[1].tell(passing);
        if let Some((low, high)) = clash {
            let kind = if passing { Kind::PassingClash } else { Kind::PartsClash };
            self.find(kind, piece, attack, &format!("{} in", names(&[low, high])));
        }
        let (Some(melody), false) = (attack.melody, attack.ending) else { return };
        self.covered[0].tell(attack.parts.last().is_some_and(|top| *top >= melody));
        let near = attack.parts.iter().rev().find(|key| **key < melody);
        let close = near.is_some_and(|key| melody - key < figwort_engine::voicing::UNDER_MELODY);
        self.close.tell(close);
        if close {
            self.find(Kind::TooClose, piece, attack, "");
        }
        let pair = |key: &&i32| rules::clashes(melody.min(**key), melody.max(**key), chord);
        let clash = attack.parts.iter().find(pair).copied();
        self.melody_clash.tell(clash.is_some());
        if let Some(key) = clash {
            self.find(Kind::MelodyClash, piece, attack, &format!("{} in", names(&[key])));
        }
    }
}

/// The right hand's keys, with the melody's where it plays that too.
fn with_melody(piece: &Piece, attack: &Attack) -> Vec<i32> {
    let mut keys = attack.hands[1].clone();
    if piece.one_player {
        keys.extend(attack.melody);
        keys.sort_unstable();
        keys.dedup();
    }
    keys
}

/// Whether one hand can't hold them.
fn is_wide(rising: &[i32]) -> bool {
    matches!(rising, [low, .., high] if high - low > REACH)
}

#[cfg(test)]
mod tests;
