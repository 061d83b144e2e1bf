//! Note values: cutting a stretch of a bar into notes or rests that show the beat, tied where it takes several.
//!
//! A note may hide a place of the bar only if it begins on a stronger one, or ends on one, or is an undotted
//! syncopation of one step ("short, long, short"); the middle of a bar stays visible. What begins off the beat hides
//! the next beat to the end of a later one only in pairs of beats: in 3/4 and other odd bars the beat shows. Where the
//! beat has a dot itself, what hides a beat begins and ends on one. Rests are stricter. Common practice, no source.

use figwort_theory::TICKS_PER_QUARTER;

use super::pulse::{FINEST, Pulse};

/// A written value: a power-of-two note with perhaps a dot.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Value {
    /// How often a breve is halved: 0 breve, 1 whole, 2 half, 3 quarter, 4 eighth …
    pub(super) halvings: u8,
    /// Whether it has a dot.
    pub(super) dotted: bool,
}

impl Value {
    const BREVE: i64 = TICKS_PER_QUARTER * 8;

    /// The value of just this length, from a 128th to a breve.
    pub(super) fn of(length: i64) -> Option<Self> {
        (0..=9).find_map(|halvings| {
            let plain = Self::BREVE >> halvings;
            if length == plain {
                Some(Self { halvings, dotted: false })
            } else if halvings > 0 && length * 2 == plain * 3 {
                Some(Self { halvings, dotted: true })
            } else {
                None
            }
        })
    }

    /// MusicXML's name.
    pub(super) fn name(self) -> &'static str {
        const NAMES: [&str; 10] =
            ["breve", "whole", "half", "quarter", "eighth", "16th", "32nd", "64th", "128th", "256th"];
        NAMES.get(usize::from(self.halvings)).copied().unwrap_or("256th")
    }

    /// Flags or beams of a note of this value.
    pub(super) fn flags(self) -> u8 {
        self.halvings.saturating_sub(3)
    }
}

/// Places in a stretch, with their ranks.
pub(super) trait Places {
    /// How strong a place is: 0 the strongest.
    fn rank(&self, place: i64) -> u8;
    /// The strongest rank strictly inside a stretch.
    fn strongest_inside(&self, from: i64, to: i64) -> u8;
    /// Whether the beat has a dot: rests may, too, and no note begins or ends off the beat that hides one.
    fn is_compound(&self) -> bool;
    /// Whether beats come in pairs, of which the second may be hidden by what begins off the first.
    fn in_pairs(&self) -> bool;
}

impl Places for Pulse {
    fn rank(&self, place: i64) -> u8 {
        Pulse::rank(self, place)
    }
    fn strongest_inside(&self, from: i64, to: i64) -> u8 {
        Pulse::strongest_inside(self, from, to)
    }
    fn is_compound(&self) -> bool {
        Pulse::is_compound(self)
    }
    fn in_pairs(&self) -> bool {
        Pulse::in_pairs(self)
    }
}

/// The inside of a tuplet: units of one length, each halved.
pub(super) struct Units(pub(super) i64);

impl Places for Units {
    fn rank(&self, place: i64) -> u8 {
        let mut step = self.0.max(1);
        let mut rank = 2;
        if place == 0 {
            return 0;
        }
        while place % step != 0 && step > 1 {
            step /= 2;
            rank += 1;
        }
        rank
    }
    fn strongest_inside(&self, from: i64, to: i64) -> u8 {
        let mut step = self.0.max(1);
        let mut rank = 2;
        while step > FINEST / 4 {
            if (from / step + 1) * step < to {
                return rank;
            }
            step /= 2;
            rank += 1;
        }
        u8::MAX
    }
    fn is_compound(&self) -> bool {
        false
    }
    fn in_pairs(&self) -> bool {
        true
    }
}

/// Rank of a beat.
const BEAT: u8 = 2;

/// Cost of a piece, and of one that hides a place it should show.
const PIECE: u32 = 100;
const HIDES: u32 = 250;

fn allowed(places: &impl Places, from: i64, to: i64, value: Value, rest: bool) -> bool {
    let inside = places.strongest_inside(from, to);
    if inside == u8::MAX {
        return true;
    }
    let (start, end) = (places.rank(from), places.rank(to));
    if rest {
        let fits = start < inside && (end < inside || inside >= 3);
        return fits && (!value.dotted || (places.is_compound() && inside >= 3 && end <= 2));
    }
    let hides_beat = inside <= BEAT;
    if hides_beat && places.is_compound() && (start > BEAT || end > BEAT) {
        return false;
    }
    if start <= inside {
        return true;
    }
    let ends_stronger = end <= inside && inside >= BEAT && (!hides_beat || places.in_pairs());
    let middle = from + (to - from) / 2;
    let only_middle = places.strongest_inside(from, middle).min(places.strongest_inside(middle, to)) > inside;
    let syncopation = !value.dotted && inside >= 1 && start == inside + 1 && end == start && only_middle;
    ends_stronger || syncopation
}

/// Cuts the stretch from `from` to `to` (multiples of a 256th) into written values: the fewest that show the
/// places that should be seen.
pub(super) fn pieces(places: &impl Places, from: i64, to: i64, rest: bool) -> Vec<(i64, i64, Value)> {
    if to <= from {
        return Vec::new();
    }
    if let Some(value) = Value::of(to - from)
        && allowed(places, from, to, value, rest)
    {
        return vec![(from, to, value)];
    }
    // Cuts on a grid that both ends are on.
    let mut step = TICKS_PER_QUARTER;
    while step > FINEST / 4 && (from % step != 0 || to % step != 0) {
        step /= 2;
    }
    // A stretch between whole quarters may still be best cut at an eighth, in compound time.
    let step = if step == TICKS_PER_QUARTER { step / 2 } else { step };
    let count = usize::try_from((to - from) / step).unwrap_or(0);
    if (to - from) % step != 0 || count > 512 {
        return Vec::new();
    }
    let at = |index: usize| from + index as i64 * step;
    // Cheapest way to each cut, with the cut before and the value between.
    let mut best: Vec<Option<(u32, usize, Value)>> = vec![None; count + 1];
    for end in 1..=count {
        for start in 0..end {
            let before = match (start, best.get(start).copied().flatten()) {
                (0, _) => 0,
                (_, Some((cost, ..))) => cost,
                (_, None) => continue,
            };
            let Some(value) = Value::of(at(end) - at(start)) else { continue };
            let hides = if allowed(places, at(start), at(end), value, rest) { 0 } else { HIDES };
            let weak = if end == count { 0 } else { u32::from(places.rank(at(end))) };
            let cost = before + PIECE + hides + weak;
            // Of equal ways the one that begins with the longest.
            let better = best.get(end).copied().flatten().is_none_or(|(known, ..)| cost <= known);
            if better && let Some(place) = best.get_mut(end) {
                *place = Some((cost, start, value));
            }
        }
    }
    let mut pieces = Vec::new();
    let mut end = count;
    while end > 0 {
        let Some((_, start, value)) = best.get(end).copied().flatten() else { return Vec::new() };
        pieces.push((at(start), at(end), value));
        end = start;
    }
    pieces.reverse();
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;
    use figwort_theory::Metre;

    /// A stretch in eighths, as the values it is cut to: `4.` for a dotted quarter, `_` for a tie or the next
    /// rest.
    fn cut(n: u8, d: u8, from: i64, to: i64, rest: bool) -> String {
        let pulse = Pulse::new(Metre::new(n, d).unwrap());
        let eighth = TICKS_PER_QUARTER / 2;
        let pieces = pieces(&pulse, from * eighth, to * eighth, rest);
        let text = |(_, _, value): &(i64, i64, Value)| {
            let plain = match value.halvings {
                0 => "breve".to_owned(),
                n => (1 << (n - 1)).to_string(),
            };
            format!("{plain}{}", if value.dotted { "." } else { "" })
        };
        pieces.iter().map(text).collect::<Vec<_>>().join("_")
    }

    /// Common practice, no source.
    #[test]
    fn notes_show_the_beat() {
        assert_eq!(cut(4, 4, 0, 8, false), "1");
        assert_eq!(cut(4, 4, 0, 6, false), "2.");
        assert_eq!(cut(4, 4, 2, 8, false), "4_2");
        assert_eq!(cut(4, 4, 2, 6, false), "2");
        assert_eq!(cut(4, 4, 1, 3, false), "4");
        assert_eq!(cut(4, 4, 3, 5, false), "8_8");
        assert_eq!(cut(4, 4, 1, 8, false), "4._2");
        assert_eq!(cut(4, 4, 0, 5, false), "2_8");
        assert_eq!(cut(4, 4, 5, 8, false), "4.");
        assert_eq!(cut(3, 4, 2, 6, false), "2");
        assert_eq!(cut(3, 4, 0, 5, false), "2_8");
        assert_eq!(cut(2, 4, 1, 3, false), "4");
        assert_eq!(cut(3, 4, 0, 3, false), "4.");
        assert_eq!(cut(3, 4, 3, 6, false), "8_4");
        assert_eq!(cut(3, 4, 1, 4, false), "8_4");
        assert_eq!(cut(3, 4, 1, 6, false), "8_2");
        assert_eq!(cut(3, 4, 1, 5, false), "8_4.");
        assert_eq!(cut(3, 4, 3, 5, false), "4");
        assert_eq!(cut(2, 4, 1, 4, false), "4.");
        assert_eq!(cut(2, 2, 2, 8, false), "2.");
        assert_eq!(cut(5, 4, 3, 6, false), "8_4");
        assert_eq!(cut(7, 8, 1, 4, false), "8_4");
        assert_eq!(cut(7, 8, 4, 7, false), "4.");
        assert_eq!(cut(6, 8, 0, 6, false), "2.");
        assert_eq!(cut(6, 8, 2, 4, false), "8_8");
        assert_eq!(cut(6, 8, 0, 5, false), "4._4");
        assert_eq!(cut(9, 8, 0, 9, false), "2._4.");
        assert_eq!(cut(5, 4, 0, 10, false), "1_4");
        assert_eq!(cut(12, 8, 0, 12, false), "1.");
        assert_eq!(cut(6, 8, 0, 4, false), "4._8");
        assert_eq!(cut(9, 8, 2, 6, false), "8_4.");
        assert_eq!(cut(9, 8, 2, 4, false), "8_8");
        assert_eq!(cut(9, 8, 3, 9, false), "2.");
        assert_eq!(cut(12, 8, 2, 6, false), "8_4.");
        assert_eq!(cut(12, 8, 0, 8, false), "2._4");
    }

    #[test]
    fn rests_go_by_the_beat() {
        assert_eq!(cut(4, 4, 0, 4, true), "2");
        assert_eq!(cut(4, 4, 2, 6, true), "4_4");
        assert_eq!(cut(4, 4, 0, 6, true), "2_4");
        assert_eq!(cut(4, 4, 1, 8, true), "8_4_2");
        assert_eq!(cut(3, 4, 0, 4, true), "4_4");
        assert_eq!(cut(3, 4, 2, 6, true), "4_4");
        assert_eq!(cut(6, 8, 0, 3, true), "4.");
        assert_eq!(cut(6, 8, 0, 2, true), "4");
        assert_eq!(cut(6, 8, 1, 3, true), "8_8");
        assert_eq!(cut(6, 8, 2, 6, true), "8_4.");
    }
}
