//! Stems, and the beams that join them.

use egui::pos2;
use figwort_engine::Hand;
use figwort_theory::TICKS_PER_QUARTER;

use super::{Engraver, Seated};
use crate::editor::score::glyphs::head_half_width;

impl Engraver<'_> {
    /// The x of a stem.
    pub(super) fn stem_x(&self, s: &Seated<'_>, up: bool) -> f32 {
        let half = head_half_width(s.group.hand, s.group.value.filling);
        // A diamond's widest place is its corner; its stem stands in the middle of its side.
        let half = if s.group.hand == Hand::Right { 0.0 } else { half - 0.06 };
        s.x + if up { half } else { -half } * self.frame.space
    }

    /// The outermost heads' y: the one at the stem's foot and the one nearest its end.
    pub(super) fn reach(&self, s: &Seated<'_>, up: bool) -> (f32, f32) {
        let low = self.y(s.staff, s.steps.first().map_or(0, |step| step.0));
        let high = self.y(s.staff, s.steps.last().map_or(0, |step| step.0));
        if up { (low, high) } else { (high, low) }
    }

    /// A stem to its tip.
    pub(super) fn stem(&mut self, s: &Seated<'_>, up: bool, tip: f32) {
        let (foot, _) = self.reach(s, up);
        let x = self.stem_x(s, up);
        let colour = self.tints.of(s.group.hand, s.group.state);
        let width = 0.13 * self.frame.space;
        let lift = if s.group.hand == Hand::Right { 0.45 * self.frame.space } else { 0.0 };
        let foot = foot + if up { -lift } else { lift };
        self.pen.line(pos2(x, foot), pos2(x, tip), width, colour);
    }

    /// Groups under one beam, or under as many as their flags ask for.
    pub(super) fn beam(&mut self, together: &[&Seated<'_>]) {
        let (Some(first), Some(last)) = (together.first(), together.last()) else { return };
        let space = self.frame.space;
        // One direction for all: that of most.
        let up = together.iter().filter(|s| s.up).count() * 2 >= together.len();
        let sign = if up { -1.0 } else { 1.0 };
        let (from, to) = (self.stem_x(first, up), self.stem_x(last, up));
        let width = (to - from).max(1.0);
        let ends = (self.reach(first, up).1, self.reach(last, up).1);
        let slope = ((ends.1 - ends.0) * 0.5).clamp(-space, space) / width;
        // As far out as the stem that needs it most.
        let most = together.iter().map(|s| s.group.value.flags).max().unwrap_or(1);
        let length = (2.5 + 0.4 * f32::from(most)) * space;
        let base = together
            .iter()
            .map(|s| self.reach(s, up).1 + sign * length - slope * (self.stem_x(s, up) - from))
            .fold(f32::NAN, |most: f32, y| if up { most.min(y) } else { most.max(y) });
        let line = |x: f32| base + slope * (x - from);
        for s in together {
            let tip = line(self.stem_x(s, up));
            self.stem(s, up, tip);
        }
        let xs: Vec<f32> = together.iter().map(|s| self.stem_x(s, up)).collect();
        let colour = self.tints.of(first.group.hand, first.group.state);
        for level in 1..=most {
            let inward = -sign * f32::from(level - 1) * 0.75 * space - sign * 0.2 * space;
            for index in 0..together.len() {
                if together[index].group.value.flags < level {
                    continue;
                }
                let next = together.get(index + 1).is_some_and(|s| s.group.value.flags >= level);
                let before = index > 0 && together[index - 1].group.value.flags >= level;
                let (a, b) = match (next, before) {
                    (true, _) => (xs[index], xs[index + 1]),
                    (false, true) => continue,
                    // Alone on its level: a stub towards its neighbour.
                    (false, false) if index > 0 => (xs[index] - 0.9 * space, xs[index]),
                    (false, false) => (xs[index], xs[index] + 0.9 * space),
                };
                let (a, b) = (pos2(a, line(a) + inward), pos2(b, line(b) + inward));
                self.quill(colour).beam(a, b);
            }
        }
        let triplet =
            together.len() == 3 && together.iter().all(|s| s.group.value.length.0 == TICKS_PER_QUARTER / 3);
        if triplet {
            let x = (from + to) / 2.0;
            self.figures.push((pos2(x, line(x) + sign * 0.9 * space), "3", colour));
        }
    }
}
