//! A piece as it is measured: keys going down and up under two hands, and what they play.
//!
//! Times in ticks ([`figwort_theory::Moment`]'s), pitches as MIDI keys. The same for what Figwort plays and
//! for what composers wrote; the latter have no chord symbols and no pedal here. Not here: any judgement.

use figwort_engine::{Hand, Texture};
use figwort_render::Performance;
use figwort_theory::{Chord, Key, Pitch, Span};

/// Notes begun within this time are one attack: a thirty-second.
const ONE_ATTACK: i64 = Span::QUARTER.0 / 8;
/// A key that comes up this soon after an attack is let go at it, not held through: a sixty-fourth.
const LET_GO: i64 = Span::QUARTER.0 / 16;
/// Fewest accompaniment notes that begin together in a struck chord.
const STRIKE: usize = 3;

/// A key that goes down and comes up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Played {
    /// Whose it is: the melody's or one of the accompaniment's hands.
    pub(crate) hand: Hand,
    pub(crate) key: i32,
    /// When it goes down and when it comes up.
    pub(crate) at: i64,
    pub(crate) end: i64,
    /// When it stops sounding: later than `end` where a pedal holds it.
    pub(crate) silent: i64,
}

/// A bar's beginning, its number and, where known, its key.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bar {
    pub(crate) start: i64,
    pub(crate) number: u32,
    pub(crate) key: Option<Key>,
}

/// A piece.
#[derive(Clone, Debug, Default)]
pub(crate) struct Piece {
    pub(crate) name: String,
    /// By onset.
    pub(crate) notes: Vec<Played>,
    pub(crate) bars: Vec<Bar>,
    /// Changes of harmony; none of them for composed music.
    pub(crate) chords: Vec<(i64, Option<Chord>)>,
    /// From when on the last chord may climb past the melody, if it does.
    pub(crate) ending: Option<i64>,
    pub(crate) end: i64,
    /// Whether the right hand plays the melody too.
    pub(crate) one_player: bool,
}

/// What is down just after an attack.
#[derive(Clone, Debug, Default)]
pub(crate) struct Attack {
    pub(crate) at: i64,
    /// Accompaniment keys that go down here, rising: the left hand's, the right hand's.
    pub(crate) struck: [Vec<i32>; 2],
    /// Accompaniment keys that are down, rising: the left hand's, the right hand's.
    pub(crate) hands: [Vec<i32>; 2],
    /// Both hands together, rising, each key once.
    pub(crate) parts: Vec<i32>,
    /// The melody's highest key.
    pub(crate) melody: Option<i32>,
    /// The chord in force and its place in the list.
    pub(crate) chord: Option<(usize, Chord)>,
    /// Place of the bar.
    pub(crate) bar: usize,
    /// Whether it belongs to the last chord, which may climb past the melody.
    pub(crate) ending: bool,
}

impl Attack {
    /// Whether a whole chord goes down.
    pub(crate) fn is_strike(&self) -> bool {
        self.struck[0].len() + self.struck[1].len() >= STRIKE
    }

    /// Whether the accompaniment has a key going down here, rather than the melody alone.
    pub(crate) fn is_accompaniment(&self) -> bool {
        !self.struck[0].is_empty() || !self.struck[1].is_empty()
    }

    /// Everything that is down, the melody included, rising, each key once.
    pub(crate) fn all(&self) -> Vec<i32> {
        let mut all = self.parts.clone();
        all.extend(self.melody);
        all.sort_unstable();
        all.dedup();
        all
    }
}

impl Piece {
    /// What Figwort played.
    pub(crate) fn of(name: &str, performance: &Performance, one_player: bool) -> Self {
        let ends_at = performance.end.0;
        let mut notes: Vec<Played> = performance
            .notes
            .iter()
            .map(|note| {
                let end = note.end().0;
                let pedal = performance.pedal.iter().rev().find(|change| change.at.0 <= end);
                let held = note.hand != Hand::Melody && pedal.is_some_and(|change| change.down);
                let lifted = performance.pedal.iter().find(|change| change.at.0 > end && !change.down);
                let silent = if held { lifted.map_or(ends_at, |change| change.at.0).max(end) } else { end };
                Played { hand: note.hand, key: i32::from(note.pitch.key()), at: note.at.0, end, silent }
            })
            .collect();
        notes.sort_by_key(|note| (note.at, note.key));
        Self {
            name: name.to_owned(),
            notes,
            bars: performance
                .bars
                .iter()
                .map(|bar| Bar { start: bar.start.0, number: bar.number, key: Some(bar.key) })
                .collect(),
            chords: performance.chords.iter().map(|mark| (mark.at.0, mark.chord)).collect(),
            ending: performance
                .decisions
                .iter()
                .find(|decision| decision.texture == Texture::Ending)
                .map(|decision| decision.at.0),
            end: ends_at,
            one_player,
        }
    }

    /// Every attack, of the melody alone, too.
    pub(crate) fn attacks(&self) -> Vec<Attack> {
        let mut attacks = vec![];
        let mut down: Vec<Played> = vec![];
        let mut rest = self.notes.as_slice();
        while let Some(first) = rest.first() {
            let count = rest.partition_point(|note| note.at <= first.at + ONE_ATTACK);
            let (group, later) = rest.split_at(count);
            let last = group.last().map_or(first.at, |note| note.at);
            down.retain(|note| note.end > last + LET_GO);
            down.extend_from_slice(group);
            attacks.push(self.attack(first.at, last, group, &down));
            // A note that is over already, or is struck again.
            down.retain(|note| note.end > last);
            rest = later;
        }
        attacks
    }

    fn attack(&self, at: i64, last: i64, group: &[Played], down: &[Played]) -> Attack {
        let of = |notes: &[Played], hand: Hand| {
            let mut keys: Vec<i32> = notes.iter().filter(|n| n.hand == hand).map(|n| n.key).collect();
            keys.sort_unstable();
            keys.dedup();
            keys
        };
        let hands = [of(down, Hand::Left), of(down, Hand::Right)];
        let mut parts = hands.concat();
        parts.sort_unstable();
        parts.dedup();
        let chord = self.chords.partition_point(|(start, _)| *start <= last + LET_GO).checked_sub(1);
        Attack {
            at,
            struck: [of(group, Hand::Left), of(group, Hand::Right)],
            hands,
            parts,
            melody: of(down, Hand::Melody).last().copied(),
            chord: chord.and_then(|n| Some((n, self.chords.get(n)?.1?))),
            bar: self.bars.partition_point(|bar| bar.start <= last).saturating_sub(1),
            ending: self.ending.is_some_and(|ending| last >= ending),
        }
    }

    /// Ticks with 0, 1 … 6, 7 and more keys: of those hands, until the keys come up or until they are silent.
    pub(crate) fn sounding(&self, hands: &[Hand], pedalled: bool) -> [i64; 8] {
        let mut changes: Vec<(i64, i32, usize)> = vec![];
        for note in self.notes.iter().filter(|note| hands.contains(&note.hand)) {
            let key = usize::try_from(note.key).unwrap_or(0);
            changes.push((note.at, 1, key));
            changes.push((if pedalled { note.silent } else { note.end }, -1, key));
        }
        changes.push((self.end, 0, 0));
        changes.sort_unstable();
        let mut ticks = [0; 8];
        let mut down = [0; 128];
        let mut now = 0;
        for (at, change, key) in changes {
            let count = down.iter().filter(|n| **n > 0).count();
            ticks[count.min(7)] += (at.min(self.end) - now).max(0);
            now = now.max(at);
            if let Some(n) = down.get_mut(key) {
                *n += change;
            }
        }
        ticks
    }

    /// Where an attack is, for a reader: the bar's number and the quarter in it, from 1.
    pub(crate) fn place(&self, attack: &Attack) -> String {
        let Some(bar) = self.bars.get(attack.bar) else { return self.name.clone() };
        let quarter = 1.0 + (attack.at - bar.start) as f64 / Span::QUARTER.0 as f64;
        format!("{}, bar {}, quarter {quarter:.2}", self.name, bar.number)
    }
}

/// Notes for a reader, from below.
pub(crate) fn names(keys: &[i32]) -> String {
    let names: Vec<String> =
        keys.iter().filter_map(|key| Pitch::from_i32(*key)).map(|pitch| pitch.to_string()).collect();
    names.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    const Q: i64 = Span::QUARTER.0;

    fn played(hand: Hand, key: i32, at: i64, end: i64) -> Played {
        Played { hand, key, at, end, silent: end }
    }

    #[test]
    fn an_attack_sees_what_is_held_and_not_what_is_let_go() {
        let piece = Piece {
            notes: vec![
                played(Hand::Left, 36, 0, 2 * Q),
                played(Hand::Right, 64, 0, Q + 10),
                played(Hand::Melody, 72, Q, 2 * Q),
                played(Hand::Right, 62, Q, 2 * Q),
            ],
            ..Piece::default()
        };
        let attacks = piece.attacks();
        assert_eq!(attacks.len(), 2);
        assert_eq!(attacks[0].parts, [36, 64]);
        assert_eq!(attacks[1].parts, [36, 62], "64 is only a little late in coming up");
        assert_eq!(attacks[1].melody, Some(72));
        assert_eq!(attacks[1].struck, [vec![], vec![62]]);
        assert!(!attacks[1].is_strike());
    }

    #[test]
    fn time_is_shared_out_among_counts_of_keys() {
        let mut low = played(Hand::Left, 36, 0, Q);
        low.silent = 3 * Q;
        let piece =
            Piece { notes: vec![low, played(Hand::Right, 60, Q, 2 * Q)], end: 4 * Q, ..Piece::default() };
        let both = [Hand::Left, Hand::Right];
        assert_eq!(piece.sounding(&both, false), [2 * Q, 2 * Q, 0, 0, 0, 0, 0, 0]);
        assert_eq!(piece.sounding(&both, true), [Q, 2 * Q, Q, 0, 0, 0, 0, 0]);
    }

    #[test]
    fn spelled_from_below() {
        assert_eq!(names(&[36, 52, 70]), "C2 E3 A#4");
    }
}
