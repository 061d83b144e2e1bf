//! Puts what is written on the staves: heads, stems, beams, accidentals, rests, ties.
//!
//! Steps count letters from C-1 up, so that C4 is 35; y grows downward in points. Deliberately absent: what
//! is written (see [`super::rhythm`]) and how signs look (see [`super::glyphs`]).

use egui::{Color32, Pos2, pos2};
use figwort_engine::Hand;
use figwort_theory::{Key, Moment, Pitch, TICKS_PER_QUARTER};

use super::glyphs::{Filling, Quill, head_half_width};
use super::page::{Bar, State};
use super::pen::Pen;
use super::rhythm::{Group, beams};

/// The bottom lines' steps: E4 and G2.
const TREBLE_BOTTOM: i32 = 37;
const BASS_BOTTOM: i32 = 25;

/// Where things are.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Frame {
    /// Points to a staff space.
    pub(crate) space: f32,
    /// The treble staff's bottom line.
    pub(crate) treble: f32,
    /// The bass staff's bottom line.
    pub(crate) bass: f32,
}

/// Colours of a page.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Tints {
    pub(crate) ink: Color32,
    pub(crate) second: Color32,
    /// The same for what is only planned.
    pub(crate) faint_ink: Color32,
    pub(crate) faint_second: Color32,
    pub(crate) line: Color32,
}

impl Tints {
    fn of(&self, hand: Hand, state: State) -> Color32 {
        match (hand, state) {
            (Hand::Melody, State::Played) => self.ink,
            (Hand::Melody, State::Planned) => self.faint_ink,
            (_, State::Played) => self.second,
            (_, State::Planned) => self.faint_second,
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Staff {
    Treble,
    Bass,
}

/// A pitch as written: its step and alteration, in the key's spelling.
fn spell(key: Key, pitch: Pitch) -> (i32, i8) {
    let name = key.name(pitch.class());
    let natural = i32::from(pitch.key()) - i32::from(name.alter());
    (i32::from(name.letter()) + 7 * natural.div_euclid(12), name.alter())
}

/// The alteration that a key signature gives to a letter.
pub(crate) fn signature(fifths: i32, letter: i32) -> i8 {
    // Letters in the order of sharps: F C G D A E B.
    let order = [3, 0, 4, 1, 5, 2, 6];
    let place = order.iter().position(|l| *l == letter).unwrap_or(0) as i32;
    if fifths > place {
        1
    } else if -fifths > 6 - place {
        -1
    } else {
        0
    }
}

/// Which staff a group is on and whether its stems go up; `shared` when the melody plays in the bar, too.
fn seat(group: &Group, steps: &[(i32, i8)], shared: bool) -> (Staff, bool) {
    let middle = steps.iter().map(|s| s.0).sum::<i32>() / steps.len().max(1) as i32;
    match group.hand {
        Hand::Melody if shared => (Staff::Treble, true),
        Hand::Melody => (Staff::Treble, middle < TREBLE_BOTTOM + 4),
        // Low chords of the right hand are read more easily in the bass.
        Hand::Right if middle < 32 => (Staff::Bass, true),
        Hand::Right if shared => (Staff::Treble, false),
        Hand::Right => (Staff::Treble, middle < TREBLE_BOTTOM + 4),
        Hand::Left if middle > 38 => (Staff::Treble, false),
        Hand::Left => (Staff::Bass, middle < BASS_BOTTOM + 4),
    }
}

/// A group with its place.
struct Seated<'a> {
    group: &'a Group,
    x: f32,
    staff: Staff,
    up: bool,
    /// Step and alteration of each head, from below.
    steps: Vec<(i32, i8)>,
    /// Whether a line `8` belongs above or below, for what lies too far out.
    octave: i32,
}

/// Writes one bar's notes and rests.
pub(crate) struct Engraver<'a> {
    pub(crate) pen: &'a mut Pen,
    pub(crate) frame: Frame,
    pub(crate) tints: Tints,
    pub(crate) key: Key,
    pub(crate) signed: bool,
    /// Where small figures (octave marks, triplets) are wanted: their centre and text.
    pub(crate) figures: Vec<(Pos2, &'static str, Color32)>,
}

impl Engraver<'_> {
    fn quill(&mut self, colour: Color32) -> Quill<'_> {
        Quill { pen: self.pen, space: self.frame.space, colour }
    }

    fn y(&self, staff: Staff, step: i32) -> f32 {
        let (bottom, y) = match staff {
            Staff::Treble => (TREBLE_BOTTOM, self.frame.treble),
            Staff::Bass => (BASS_BOTTOM, self.frame.bass),
        };
        y - (step - bottom) as f32 * self.frame.space / 2.0
    }

    /// One bar; `x` tells where a moment stands, `now` how far the page is written.
    pub(crate) fn bar(&mut self, bar: &Bar, groups: &[Group], x: impl Fn(Moment) -> f32, now: Moment) {
        let shared = [Hand::Melody, Hand::Right].iter().all(|hand| groups.iter().any(|g| g.hand == *hand));
        let mut seated: Vec<Seated<'_>> = groups
            .iter()
            .map(|group| {
                let mut steps: Vec<(i32, i8)> = group.pitches.iter().map(|p| spell(self.key, *p)).collect();
                steps.sort();
                let (staff, up) = seat(group, &steps, shared);
                let octave = match staff {
                    Staff::Treble if steps.last().is_some_and(|s| s.0 > TREBLE_BOTTOM + 15) => 1,
                    Staff::Bass if steps.first().is_some_and(|s| s.0 < BASS_BOTTOM - 7) => -1,
                    _ => 0,
                };
                for step in &mut steps {
                    step.0 -= 7 * octave;
                }
                Seated { group, x: x(group.at), staff, up, steps, octave }
            })
            .collect();
        self.make_room(&mut seated);
        self.accidentals(&seated);
        for hand in Hand::ALL {
            let voice: Vec<&Seated<'_>> = seated.iter().filter(|s| s.group.hand == hand).collect();
            self.voice(bar, &voice, &x);
        }
        self.rests(bar, &seated, &x, now);
    }

    /// Where melody and right hand would touch, the right hand steps aside.
    fn make_room(&self, seated: &mut [Seated<'_>]) {
        let melody: Vec<(Moment, i32)> = seated
            .iter()
            .filter(|s| s.group.hand == Hand::Melody && s.staff == Staff::Treble)
            .filter_map(|s| Some((s.group.at, s.steps.first()?.0)))
            .collect();
        for s in seated.iter_mut().filter(|s| s.group.hand == Hand::Right && s.staff == Staff::Treble) {
            let top = s.steps.last().map_or(0, |step| step.0);
            if melody.iter().any(|(at, step)| *at == s.group.at && (step - top).abs() <= 1) {
                s.x += 1.3 * self.frame.space;
            }
        }
    }

    /// Accidentals before the heads, once in a bar for each line and space.
    fn accidentals(&mut self, seated: &[Seated<'_>]) {
        let fifths = if self.signed { self.key.fifths() } else { 0 };
        let mut order: Vec<&Seated<'_>> = seated.iter().filter(|s| !s.group.tied).collect();
        order.sort_by_key(|s| s.group.at);
        let mut in_force: Vec<(i32, i8)> = Vec::new();
        let mut taken: Vec<(Moment, Staff, i32, i32)> = Vec::new();
        for s in order {
            for &(step, alter) in s.steps.iter().rev() {
                let real = step + 7 * s.octave;
                let present = in_force
                    .iter()
                    .rev()
                    .find(|(other, _)| *other == real)
                    .map_or_else(|| signature(fifths, real.rem_euclid(7)), |found| found.1);
                if present == alter {
                    continue;
                }
                in_force.push((real, alter));
                // Accidentals close above one another stand side by side.
                let mut column = 0;
                while taken.iter().any(|&(at, staff, other, c)| {
                    at == s.group.at && staff == s.staff && c == column && (other - step).abs() < 6
                }) {
                    column += 1;
                }
                taken.push((s.group.at, s.staff, step, column));
                let space = self.frame.space;
                let at = pos2(s.x - (1.34 + 0.95 * column as f32) * space, self.y(s.staff, step));
                let colour = self.tints.of(s.group.hand, s.group.state);
                self.quill(colour).accidental(at, alter);
            }
        }
    }

    fn voice(&mut self, bar: &Bar, voice: &[&Seated<'_>], x: &impl Fn(Moment) -> f32) {
        let groups: Vec<&Group> = voice.iter().map(|s| s.group).collect();
        let beamed = beams(bar, &groups);
        for range in &beamed {
            if let Some(together) = voice.get(range.clone()) {
                self.beam(together);
            }
        }
        for (index, s) in voice.iter().enumerate() {
            let stem = !beamed.iter().any(|range| range.contains(&index));
            self.chord(s, stem);
            if s.group.tied {
                let from = x(bar.start) - 1.6 * self.frame.space;
                let colour = self.tints.of(s.group.hand, s.group.state);
                for &(step, _) in &s.steps {
                    let lift = if s.up { 0.7 } else { -0.7 } * self.frame.space;
                    let y = self.y(s.staff, step) + lift;
                    let to = pos2(s.x - 0.4 * self.frame.space, y);
                    self.quill(colour).tie(pos2(from, y), to, !s.up);
                }
            }
        }
    }

    /// The x of a stem.
    fn stem_x(&self, s: &Seated<'_>, up: bool) -> f32 {
        let half = head_half_width(s.group.hand, s.group.value.filling);
        // A diamond's widest place is its corner; its stem stands in the middle of its side.
        let half = if s.group.hand == Hand::Right { 0.0 } else { half - 0.06 };
        s.x + if up { half } else { -half } * self.frame.space
    }

    /// The outermost heads' y: the one at the stem's foot and the one nearest its end.
    fn reach(&self, s: &Seated<'_>, up: bool) -> (f32, f32) {
        let low = self.y(s.staff, s.steps.first().map_or(0, |step| step.0));
        let high = self.y(s.staff, s.steps.last().map_or(0, |step| step.0));
        if up { (low, high) } else { (high, low) }
    }

    fn stem(&mut self, s: &Seated<'_>, up: bool, tip: f32) {
        let (foot, _) = self.reach(s, up);
        let x = self.stem_x(s, up);
        let colour = self.tints.of(s.group.hand, s.group.state);
        let width = 0.13 * self.frame.space;
        let lift = if s.group.hand == Hand::Right { 0.45 * self.frame.space } else { 0.0 };
        let foot = foot + if up { -lift } else { lift };
        self.pen.line(pos2(x, foot), pos2(x, tip), width, colour);
    }

    fn beam(&mut self, together: &[&Seated<'_>]) {
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

    /// Heads, ledger lines, dots, and stem and flags when they are the group's own.
    fn chord(&mut self, s: &Seated<'_>, stem: bool) {
        let space = self.frame.space;
        let colour = self.tints.of(s.group.hand, s.group.state);
        let Value { filling, flags, dots } = Value::of(s.group);
        let half = head_half_width(s.group.hand, filling);
        self.ledgers(s, half);
        // Of two heads a second apart, one steps to the stem's other side.
        let mut aside = vec![false; s.steps.len()];
        let count = s.steps.len();
        for index in 1..count {
            let (this, other) = if s.up { (index, index - 1) } else { (count - 1 - index, count - index) };
            aside[this] = (s.steps[this].0 - s.steps[other].0).abs() <= 1 && !aside[other];
        }
        for (index, &(step, _)) in s.steps.iter().enumerate() {
            let shift = if aside[index] { 2.0 * half * if s.up { 1.0 } else { -1.0 } } else { 0.0 };
            let at = pos2(s.x + shift * space, self.y(s.staff, step));
            self.quill(colour).head(at, s.group.hand, filling);
            // A dot on a line would be lost: it goes into the space above.
            let on_line = (step - TREBLE_BOTTOM).rem_euclid(2) == 0;
            let y = at.y - if on_line { space / 2.0 } else { 0.0 };
            let right =
                s.x + (half + 0.55 + if aside.contains(&true) && s.up { 2.0 * half } else { 0.0 }) * space;
            for dot in 0..dots {
                self.quill(colour).lengthening(pos2(right + 0.5 * space * f32::from(dot), y));
            }
        }
        if stem && filling != Filling::Wide {
            let sign = if s.up { -1.0 } else { 1.0 };
            let (_, near) = self.reach(s, s.up);
            let tip = near + sign * (3.3 + 0.4 * f32::from(flags.saturating_sub(1))) * space;
            self.stem(s, s.up, tip);
            let x = self.stem_x(s, s.up);
            self.quill(colour).flags(pos2(x, tip), s.up, flags);
        }
        if s.octave != 0 {
            let (step, away) = if s.octave > 0 {
                (s.steps.last().map_or(0, |s| s.0), -1.5)
            } else {
                (s.steps.first().map_or(0, |s| s.0), 1.5)
            };
            self.figures.push((pos2(s.x, self.y(s.staff, step) + away * space), "8", colour));
        }
    }

    fn ledgers(&mut self, s: &Seated<'_>, half: f32) {
        let bottom = if s.staff == Staff::Treble { TREBLE_BOTTOM } else { BASS_BOTTOM };
        let lowest = s.steps.first().map_or(bottom, |step| step.0);
        let highest = s.steps.last().map_or(bottom, |step| step.0);
        let below = (lowest..=bottom - 2).filter(|step| (bottom - step) % 2 == 0);
        let above = (bottom + 10..=highest).filter(|step| (step - bottom) % 2 == 0);
        let width = (half + 0.38) * self.frame.space;
        let colour = self.tints.line;
        for step in below.chain(above) {
            let y = self.y(s.staff, step);
            self.pen.line(pos2(s.x - width, y), pos2(s.x + width, y), 0.12 * self.frame.space, colour);
        }
    }

    /// Rests where a staff says nothing: a whole bar that has passed, or whole beats.
    fn rests(&mut self, bar: &Bar, seated: &[Seated<'_>], x: &impl Fn(Moment) -> f32, now: Moment) {
        let bar_end = bar.start + bar.length;
        let beat = bar.metre.beat();
        let colour = self.tints.ink;
        for staff in [Staff::Treble, Staff::Bass] {
            let here: Vec<&Seated<'_>> = seated.iter().filter(|s| s.staff == staff).collect();
            let middle = self.y(staff, if staff == Staff::Treble { TREBLE_BOTTOM } else { BASS_BOTTOM } + 4);
            if here.is_empty() {
                if now >= bar_end {
                    let centre = (x(bar.start) + x(bar_end)) / 2.0;
                    self.quill(colour).rest(pos2(centre, middle), 4.0);
                }
                continue;
            }
            let mut at = bar.start;
            while at < bar_end && at + beat <= now && beat.0 > 0 {
                let end = at + beat;
                let silent = !here.iter().any(|s| s.group.at < end && s.group.end() > at);
                if silent && end <= bar_end {
                    let quarters = beat.in_quarters() as f32;
                    self.quill(colour).rest(pos2(x(at), middle), quarters);
                    if bar.metre.is_compound() {
                        let dot = pos2(x(at) + 0.9 * self.frame.space, middle - 0.5 * self.frame.space);
                        self.quill(colour).lengthening(dot);
                    }
                }
                at = end;
            }
        }
    }
}

/// What of a value is drawn at the head.
struct Value {
    filling: Filling,
    flags: u8,
    dots: u8,
}

impl Value {
    fn of(group: &Group) -> Self {
        Self { filling: group.value.filling, flags: group.value.flags, dots: group.value.dots }
    }
}

#[cfg(test)]
mod tests {
    use figwort_theory::Mode;

    use super::*;

    #[test]
    fn pitches_stand_on_their_lines() {
        let c = Key::from_fifths(0, Mode::Major);
        assert_eq!(spell(c, Pitch::new(64)), (TREBLE_BOTTOM, 0));
        assert_eq!(spell(c, Pitch::new(43)), (BASS_BOTTOM, 0));
        assert_eq!(spell(c, Pitch::new(60)), (35, 0));
        assert_eq!(spell(c, Pitch::new(66)), (38, 1));
        // In A flat the same key is another letter: C flat belongs to the octave below its sound's.
        let flat = Key::from_fifths(-7, Mode::Major);
        assert_eq!(
            spell(flat, Pitch::new(59)).0 - spell(c, Pitch::new(59)).0,
            if flat.fifths() < 0 { 1 } else { 0 }
        );
    }

    /// The order of sharps and flats in a signature: common practice, no source.
    #[test]
    fn signatures_alter_their_letters() {
        let altered = |fifths| (0..7).map(|letter| signature(fifths, letter)).collect::<Vec<_>>();
        assert_eq!(altered(0), [0; 7]);
        assert_eq!(altered(2), [1, 0, 0, 1, 0, 0, 0]);
        assert_eq!(altered(-1), [0, 0, 0, 0, 0, 0, -1]);
        assert_eq!(altered(-3), [0, 0, -1, 0, 0, -1, -1]);
    }
}
