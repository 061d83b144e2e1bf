//! What is counted where a whole chord is struck, and from one to the next: roughness, guide tones, doublings, parallels,
//! motion, resolutions.

use figwort_theory::{Chord, Pitch, roughness};

use super::{Kind, REACH, TOLERANCES, Tally};
use crate::voicing::piece::{Attack, Piece, names};
use crate::voicing::rules::{self, Parallel};

impl Tally {
    /// A struck chord.
    pub(super) fn add_chord(&mut self, piece: &Piece, attack: &Attack, range: (i32, i32)) {
        let rough = self.roughness(&attack.parts);
        self.rough[0].push(rough);
        if let Some(of_count) = attack.parts.len().checked_sub(2).filter(|n| *n > 0) {
            self.rough.iter_mut().skip(of_count).take(1).for_each(|all| all.push(rough));
        }
        let (Some((_, chord)), Some(bass)) = (attack.chord, attack.parts.first()) else { return };
        self.add_root(piece, attack, chord, *bass, range);
        let all = attack.all();
        if attack.parts.len() >= 4 {
            let missing = rules::missing_guides(chord, &all);
            self.guides.tell(missing > 0);
            if missing > 0 {
                let reach = (REACH, piece.one_player);
                let possible = rules::guides_fit(chord, range, attack.melody, reach);
                self.guides_possible += usize::from(possible);
                let kind = if possible { Kind::GuideMissing } else { Kind::GuideImpossible };
                self.find(kind, piece, attack, "");
            }
        }
        let mut doubled = false;
        if let Some(seventh) = rules::seventh(chord) {
            let twice = rules::doubles(seventh, chord, &attack.parts, attack.melody);
            self.sevenths_doubled.tell(twice);
            doubled |= twice;
        }
        let key = piece.bars.get(attack.bar).and_then(|bar| bar.key);
        if let Some(tone) = key.and_then(|key| rules::leading_tone(chord, key)) {
            let twice = rules::doubles(tone, chord, &attack.parts, attack.melody);
            self.leading_doubled.tell(twice);
            doubled |= twice;
        }
        if doubled {
            self.find(Kind::Doubled, piece, attack, "");
        }
    }

    fn add_root(&mut self, piece: &Piece, attack: &Attack, chord: Chord, bass: i32, range: (i32, i32)) {
        let Some(root) = rules::assumed_root(chord, bass) else { return };
        for (n, tolerance) in TOLERANCES.into_iter().enumerate() {
            let low = rules::is_murky(root, bass, tolerance);
            let forced = low && rules::root_forces(chord, range, attack.melody, tolerance);
            self.low[n].root.tell(low);
            self.low[n].root_forced += usize::from(forced);
            if low && n == 0 {
                let kind = if forced { Kind::ForcedLowRoot } else { Kind::LowRoot };
                self.find(kind, piece, attack, &format!("{} assumed under", names(&[root])));
            }
        }
    }

    /// From one struck chord to the next.
    pub(super) fn add_change(&mut self, piece: &Piece, before: &Attack, after: &Attack) {
        if before.parts == after.parts {
            return;
        }
        let same_chord = before.chord.is_some() && before.chord == after.chord;
        let ends = |attack: &Attack| Some((*attack.parts.first()?, *attack.parts.last()?));
        if let (Some(old), Some(new), false) = (ends(before), ends(after), same_chord) {
            let top = rules::parallel((old.0, new.0), (old.1, new.1));
            let sung = before.melody.zip(after.melody);
            let melody = sung.map(|upper| rules::parallel((old.0, new.0), upper));
            for (shares, found) in self.parallels.iter_mut().zip([Some(top), melody]) {
                let Some(found) = found else { continue };
                shares[0].tell(found == Some(Parallel::Fifths));
                shares[1].tell(found == Some(Parallel::Octaves));
            }
            if let Some(found) = top {
                let what = format!("{found:?} from {} to", names(&before.parts));
                self.find(Kind::Parallel, piece, after, &what);
            }
            let upper = |attack: &Attack| attack.parts.get(1..).unwrap_or_default().to_vec();
            let moved = [
                rules::motion(&before.parts, &after.parts),
                rules::motion(&upper(before), &upper(after)),
                ((new.0 - old.0).abs(), 1),
            ];
            for (all, new) in self.motion.iter_mut().zip(moved) {
                *all = (all.0 + new.0, all.1 + new.1);
            }
        }
        self.add_resolution(piece, before, after);
    }

    /// Only where the next chord of the sheet is the next one struck.
    fn add_resolution(&mut self, piece: &Piece, before: &Attack, after: &Attack) {
        let (Some((n, chord)), Some((m, next))) = (before.chord, after.chord) else { return };
        if m != n + 1 {
            return;
        }
        let key = piece.bars.get(before.bar).and_then(|bar| bar.key);
        let sounding = after.all();
        let wants: [(_, &[i32]); 2] = [
            (rules::seventh(chord), &[0, -1, -2]),
            (key.and_then(|key| rules::leading_tone(chord, key)), &[0, 1]),
        ];
        for (share, (class, goals)) in self.resolved.iter_mut().zip(wants) {
            let tones = before.parts.iter().filter(|k| Pitch::from_i32(**k).map(Pitch::class) == class);
            for tone in tones.take(8) {
                if let Some(done) = rules::resolves(*tone, goals, next, &sounding) {
                    share.tell(done);
                }
            }
        }
    }

    fn roughness(&mut self, parts: &[i32]) -> f64 {
        *self
            .known
            .entry(parts.to_vec())
            .or_insert_with_key(|parts| roughness::of(parts.iter().filter_map(|key| Pitch::from_i32(*key))))
    }
}
