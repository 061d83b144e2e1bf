//! Where a bar needs tuplets: stretches in which notes begin or end between binary places.
//!
//! A tuplet takes a half, a quarter, an eighth or a sixteenth that lies on its own place in the bar, the widest
//! where its notes are all long (triplets of quarters in a half), else the narrowest. Common practice, no source.

use figwort_theory::TICKS_PER_QUARTER;

use super::pulse::{FINEST, Pulse};

/// A stretch of a bar in which `actual` notes take the time of `normal`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Tuplet {
    pub(super) from: i64,
    pub(super) to: i64,
    pub(super) actual: i64,
    pub(super) normal: i64,
}

impl Tuplet {
    /// A sounding length or distance inside the tuplet as a written one.
    pub(super) fn written(&self, length: i64) -> i64 {
        length * self.actual / self.normal
    }

    /// A written length as it sounds.
    pub(super) fn sounding(&self, length: i64) -> i64 {
        length * self.normal / self.actual
    }

    /// The written length of one of its units.
    pub(super) fn unit(&self) -> i64 {
        (self.to - self.from) / self.normal
    }
}

const RATIOS: [(i64, i64); 3] = [(3, 2), (5, 4), (7, 4)];

/// The tuplets of a stretch of a bar, for notes that begin and end at `boundaries` (rising); `None` where no
/// tuplets make these places. All in ticks from the metre's bar.
pub(super) fn tuplets(boundaries: &[i64], pulse: &Pulse, from: i64, to: i64) -> Option<Vec<Tuplet>> {
    let mut found = Vec::new();
    if boundaries.iter().all(|at| at % FINEST == 0) {
        return Some(found);
    }
    let beat = pulse.beat();
    // Two beats at a time where two make a half.
    let width = if pulse.is_compound() { beat } else { beat * 2 };
    let mut start = pulse.beat_start(from);
    if !pulse.is_compound() && pulse.rank(start) >= 2 && pulse.rank(start - beat) < 2 {
        start -= beat;
    }
    while start < to {
        let next = if pulse.is_compound() { pulse.beat_start(start) + beat } else { start + width };
        let scope = Scope { boundaries, from, to };
        if pulse.is_compound() {
            for third in 0..3 {
                scope.search(start + third * beat / 3, beat / 3, &mut found)?;
            }
        } else {
            scope.search(start, width, &mut found)?;
        }
        start = next;
    }
    Some(found)
}

struct Scope<'a> {
    boundaries: &'a [i64],
    from: i64,
    to: i64,
}

impl Scope<'_> {
    fn search(&self, start: i64, length: i64, found: &mut Vec<Tuplet>) -> Option<()> {
        let end = start + length;
        let first = self.boundaries.partition_point(|at| *at <= start);
        let last = self.boundaries.partition_point(|at| *at < end);
        let inside = self.boundaries.get(first..last.max(first)).unwrap_or_default();
        if inside.iter().all(|at| at % FINEST == 0) {
            return Some(());
        }
        let fits_bar = self.from <= start && end <= self.to;
        let tuplet = |(actual, normal)| Tuplet { from: start, to: end, actual, normal };
        let on = |step: i64| inside.iter().all(|at| (at - start) * step % length == 0);
        let middle = start + length / 2;
        let uneven = |at: &&i64| *at % FINEST != 0;
        let both_halves = inside.iter().filter(uneven).any(|at| *at < middle)
            && inside.iter().filter(uneven).any(|at| *at > middle);
        // A half makes one tuplet only of notes that lie in both its beats.
        if fits_bar && (both_halves || length <= TICKS_PER_QUARTER) {
            for ratio in RATIOS {
                let in_one = both_halves && on(ratio.0 * 2) && !inside.contains(&middle);
                if on(ratio.0) || (in_one && length <= TICKS_PER_QUARTER) {
                    found.push(tuplet(ratio));
                    return Some(());
                }
            }
        }
        if length > FINEST * 4 {
            let before = found.len();
            let halves =
                self.search(start, length / 2, found).and_then(|()| self.search(middle, length / 2, found));
            if halves.is_some() {
                return halves;
            }
            found.truncate(before);
        }
        if !fits_bar {
            return None;
        }
        let ratio = RATIOS.into_iter().find(|ratio| on(ratio.0 * 4))?;
        found.push(tuplet(ratio));
        Some(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use figwort_theory::Metre;

    const Q: i64 = TICKS_PER_QUARTER;

    fn found(n: u8, d: u8, boundaries: &[i64]) -> Option<Vec<(i64, i64, i64)>> {
        let metre = Metre::new(n, d).unwrap();
        let tuplets = tuplets(boundaries, &Pulse::new(metre), 0, metre.bar().0)?;
        Some(tuplets.iter().map(|t| (t.from * 24 / Q, t.to * 24 / Q, t.actual)).collect())
    }

    #[test]
    fn tuplets_take_the_place_they_need() {
        assert_eq!(found(4, 4, &[0, Q, 2 * Q]), Some(vec![]));
        assert_eq!(found(4, 4, &[0, Q / 3, 2 * Q / 3, Q, 2 * Q]), Some(vec![(0, 24, 3)]));
        assert_eq!(found(4, 4, &[0, 2 * Q / 3, 4 * Q / 3, 2 * Q]), Some(vec![(0, 48, 3)]));
        let all: Vec<i64> = (0..=6).map(|n| n * Q / 3).collect();
        assert_eq!(found(4, 4, &all), Some(vec![(0, 24, 3), (24, 48, 3)]));
        // Triplets of eighths go by the beat even where a note lies across it.
        let across = [0, Q / 3, 4 * Q / 3, 5 * Q / 3, 2 * Q];
        assert_eq!(found(4, 4, &across), Some(vec![(0, 24, 3), (24, 48, 3)]));
        assert_eq!(found(3, 4, &[0, Q / 2, 2 * Q / 3, 5 * Q / 6, Q]), Some(vec![(12, 24, 3)]));
        assert_eq!(found(3, 4, &[2 * Q, 2 * Q + Q / 5, 2 * Q + 2 * Q / 5, 3 * Q]), Some(vec![(48, 72, 5)]));
        assert_eq!(found(6, 8, &[0, Q / 6, Q / 3, Q / 2]), Some(vec![(0, 12, 3)]));
        assert_eq!(found(4, 4, &[0, Q / 3, Q / 5 * 2, Q]), None);
    }
}
