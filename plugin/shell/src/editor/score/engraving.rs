//! Puts what is written on the staves: heads, stems, beams, accidentals, rests, ties.
//!
//! Steps as in `seats`; y grows downward in points. Deliberately absent: what is written (see [`super::rhythm`]) and how
//! signs look (see [`super::glyphs`]).

use egui::{Color32, Pos2, pos2};
use figwort_engine::Hand;
use figwort_theory::spelling::Context;
use figwort_theory::{Key, Moment};

use super::glyphs::{Filling, Quill, head_half_width};
use super::page::{Bar, ChordMark, State};
use super::pen::Pen;
use super::rhythm::{Group, beams};

mod seats;
mod stems;

pub(crate) use seats::signature;
use seats::{BASS_BOTTOM, Seated, Staff, TREBLE_BOTTOM};

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

/// Writes one bar's notes and rests.
pub(crate) struct Engraver<'a> {
    pub(crate) pen: &'a mut Pen,
    pub(crate) frame: Frame,
    pub(crate) tints: Tints,
    pub(crate) key: Key,
    /// Chords, by time, for spelling.
    pub(crate) chords: &'a [ChordMark],
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

    /// What a note at a moment is named by.
    fn context(&self, at: Moment) -> Context {
        let chord = self.chords.iter().rev().find(|chord| chord.at <= at).map(|chord| chord.symbol);
        Context { key: self.key, chord, before: None, after: None }
    }

    /// One bar; `x` tells where a moment stands, `now` how far the page is written.
    pub(crate) fn bar(&mut self, bar: &Bar, groups: &[Group], x: impl Fn(Moment) -> f32, now: Moment) {
        let shared = [Hand::Melody, Hand::Right].iter().all(|hand| groups.iter().any(|g| g.hand == *hand));
        let mut seated: Vec<Seated<'_>> = groups
            .iter()
            .map(|group| Seated::new(group, self.context(group.at), shared, x(group.at)))
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
