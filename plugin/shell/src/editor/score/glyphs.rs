//! The signs of notation, drawn as a pen would: Figwort's own outlines, in staff spaces.
//!
//! Measures are in staff spaces, y down, and lie around the place that the sign names: a clef around its
//! line, a head around its centre, a flag at its stem's end. Who plays is told by the head's shape: the
//! melody's heads are oval, the right hand's diamonds, the left hand's squares.
//!
//! Deliberately absent: where signs go (see [`super::engraving`]).

use std::f32::consts::PI;

use egui::{Color32, Pos2, pos2, vec2};
use figwort_engine::Hand;

use super::pen::{Dab, Pen, ellipse, smooth};

mod strokes;

use strokes::{DIGITS, F_CLEF, FLAG, FLAT_BOWL, G_CLEF, Point, QUARTER_REST};

/// What a head's filling says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Filling {
    /// Quarter notes and shorter.
    Full,
    /// Half notes.
    Hollow,
    /// Whole notes, which have no stem.
    Wide,
}

/// Half a head's width, in staff spaces: where a stem stands.
pub(crate) fn head_half_width(hand: Hand, filling: Filling) -> f32 {
    match (hand, filling) {
        (_, Filling::Wide) => 0.84,
        (Hand::Melody, _) => 0.62,
        (Hand::Right, _) => 0.66,
        (Hand::Left, _) => 0.52,
    }
}

/// A pen with a place and a size: writes signs given in staff spaces.
pub(crate) struct Quill<'a> {
    pub(crate) pen: &'a mut Pen,
    /// Points to a staff space.
    pub(crate) space: f32,
    pub(crate) colour: Color32,
}

impl Quill<'_> {
    fn stroke(&mut self, at: Pos2, points: &[Point], flip: f32) {
        let dabs: Vec<Dab> =
            points.iter().map(|&(x, y, w)| (at + vec2(x, y * flip) * self.space, w * self.space)).collect();
        self.pen.stroke(&smooth(&dabs, 6), self.colour);
    }

    fn bar(&mut self, at: Pos2, from: (f32, f32), to: (f32, f32), width: f32) {
        let s = self.space;
        let (from, to) = (at + vec2(from.0, from.1) * s, at + vec2(to.0, to.1) * s);
        self.pen.line(from, to, width * s, self.colour);
    }

    fn dot(&mut self, at: Pos2, x: f32, y: f32, radius: f32) {
        self.pen.dot(at + vec2(x, y) * self.space, radius * self.space, self.colour);
    }

    /// A beam between two stem ends, half a space thick, towards the heads when `down` is 1, else away.
    pub(crate) fn beam(&mut self, from: Pos2, to: Pos2) {
        let half = vec2(0.0, 0.25 * self.space);
        self.pen.fill(&[from - half, to - half, to + half, from + half], self.colour);
    }

    /// The treble clef, around the G line.
    pub(crate) fn g_clef(&mut self, at: Pos2) {
        self.stroke(at, G_CLEF, 1.0);
        self.dot(at, -0.32, 2.14, 0.28);
    }

    /// The bass clef, around the F line.
    pub(crate) fn f_clef(&mut self, at: Pos2) {
        self.stroke(at, F_CLEF, 1.0);
        self.dot(at, -0.70, 0.02, 0.36);
        self.dot(at, 1.42, -0.5, 0.21);
        self.dot(at, 1.42, 0.5, 0.21);
    }

    /// The brace at the left of a grand staff, from its top to its bottom; `at.x` is its right edge.
    pub(crate) fn brace(&mut self, x: f32, top: f32, bottom: f32) {
        let (s, height) = (self.space, bottom - top);
        let half = [
            (0.0, 0.0, 0.05),
            (-0.62, 0.05, 0.20),
            (-0.58, 0.20, 0.42),
            (-0.46, 0.36, 0.34),
            (-1.12, 0.5, 0.03),
        ];
        for flip in [false, true] {
            let dabs: Vec<Dab> = half
                .iter()
                .map(|&(dx, share, w)| {
                    let share = if flip { 1.0 - share } else { share };
                    (pos2(x + dx * s, top + share * height), w * s)
                })
                .collect();
            self.pen.stroke(&smooth(&dabs, 8), self.colour);
        }
    }

    /// A sharp, flat or natural before a head: 1, -1, 0; 2 and -2 doubled.
    pub(crate) fn accidental(&mut self, at: Pos2, alter: i8) {
        match alter {
            2 => {
                for side in [-1.0, 1.0] {
                    self.bar(at, (-0.36, -0.36 * side), (0.36, 0.36 * side), 0.18);
                }
                for (x, y) in [(-0.36, -0.36), (0.36, -0.36), (-0.36, 0.36), (0.36, 0.36)] {
                    self.dot(at, x, y, 0.17);
                }
            }
            1 => {
                self.bar(at, (-0.20, -1.28), (-0.20, 1.40), 0.11);
                self.bar(at, (0.20, -1.40), (0.20, 1.28), 0.11);
                self.bar(at, (-0.46, -0.34), (0.46, -0.58), 0.28);
                self.bar(at, (-0.46, 0.58), (0.46, 0.34), 0.28);
            }
            0 => {
                self.bar(at, (-0.26, -1.36), (-0.26, 0.62), 0.11);
                self.bar(at, (0.26, -0.62), (0.26, 1.36), 0.11);
                self.bar(at, (-0.30, -0.36), (0.30, -0.56), 0.28);
                self.bar(at, (-0.30, 0.56), (0.30, 0.36), 0.28);
            }
            -2 => {
                for x in [-0.32, 0.36] {
                    self.flat(at + vec2(x * self.space, 0.0));
                }
            }
            _ => self.flat(at),
        }
    }

    fn flat(&mut self, at: Pos2) {
        self.bar(at, (-0.28, -1.72), (-0.28, 0.68), 0.11);
        self.stroke(at, FLAT_BOWL, 1.0);
    }

    /// A head around its centre.
    pub(crate) fn head(&mut self, at: Pos2, hand: Hand, filling: Filling) {
        let s = self.space;
        let corners = |x: f32, y: f32| match hand {
            Hand::Left => [(-x, -y), (x, -y), (x, y), (-x, y)].map(|(x, y)| at + vec2(x, y) * s),
            _ => [(-x, 0.0), (0.0, -y), (x, 0.0), (0.0, y)].map(|(x, y)| at + vec2(x, y) * s),
        };
        match (hand, filling) {
            (Hand::Melody, Filling::Full) => {
                self.pen.fill(&ellipse(at, vec2(0.66, 0.46) * s, -0.38), self.colour);
            }
            (Hand::Melody, Filling::Hollow) => {
                let outer = ellipse(at, vec2(0.66, 0.46) * s, -0.42);
                let inner = ellipse(at, vec2(0.58, 0.22) * s, -0.52);
                self.pen.ring(&outer, &inner, self.colour);
            }
            (Hand::Melody, Filling::Wide) => {
                let outer = ellipse(at, vec2(0.86, 0.50) * s, 0.0);
                let mut inner = ellipse(at, vec2(0.42, 0.32) * s, 0.9);
                // Corner by corner beside the outer one, though it is turned.
                inner.rotate_right(3);
                self.pen.ring(&outer, &inner, self.colour);
            }
            (_, filling) => {
                let (x, y) = match (hand, filling) {
                    (Hand::Left, Filling::Wide) => (0.80, 0.44),
                    (Hand::Left, _) => (0.52, 0.44),
                    (_, Filling::Wide) => (0.88, 0.58),
                    _ => (0.68, 0.58),
                };
                if filling == Filling::Full {
                    self.pen.fill(&corners(x, y), self.colour);
                } else {
                    self.frame(&corners(x, y), if hand == Hand::Left { 0.17 } else { 0.19 });
                }
            }
        }
    }

    /// The sides of a shape as lines, their corners closed.
    fn frame(&mut self, corners: &[Pos2; 4], width: f32) {
        let half = width * self.space / 2.0;
        let centre = corners.iter().fold(vec2(0.0, 0.0), |sum, p| sum + p.to_vec2()) / 4.0;
        let inside = corners.map(|corner| corner - (corner.to_vec2() - centre).normalized() * half);
        for side in 0..4 {
            let (a, b) = (inside[side], inside[(side + 1) % 4]);
            let over = (b - a).normalized() * half * 0.7;
            self.pen.line(a - over, b + over, half * 2.0, self.colour);
        }
    }

    /// A dot behind a head or rest.
    pub(crate) fn lengthening(&mut self, at: Pos2) {
        self.pen.dot(at, 0.20 * self.space, self.colour);
    }

    /// `count` flags at a stem's end; the stem points up when `up`.
    pub(crate) fn flags(&mut self, at: Pos2, up: bool, count: u8) {
        let flip = if up { 1.0 } else { -1.0 };
        for flag in 0..count {
            self.stroke(at + vec2(0.0, 0.78 * self.space * f32::from(flag) * flip), FLAG, flip);
        }
    }

    /// A rest around the staff's middle line; the value is in quarters, dots not counted.
    pub(crate) fn rest(&mut self, at: Pos2, quarters: f32) {
        if quarters >= 3.9 {
            self.block(at, -1.0, -0.46);
        } else if quarters >= 1.9 {
            self.block(at, -0.5, 0.0);
        } else if quarters >= 0.9 {
            self.stroke(at, QUARTER_REST, 1.0);
        } else {
            let rows = if quarters >= 0.45 { 1 } else { 2 };
            for row in 0..rows {
                let (x, y) = (-0.18 * row as f32, row as f32);
                self.dot(at, x - 0.32, y - 0.56, 0.25);
                self.stroke(
                    at,
                    &[(x - 0.34, y - 0.36, 0.08), (x - 0.02, y - 0.30, 0.13), (x + 0.36, y - 0.66, 0.10)],
                    1.0,
                );
            }
            let foot = if rows == 1 { 1.0 } else { 2.0 };
            self.bar(at, (0.38, -0.70), (0.38 - 0.23 * (foot + 0.7), foot), 0.13);
        }
    }

    fn block(&mut self, at: Pos2, top: f32, bottom: f32) {
        let corners = [(-0.6, top), (0.6, top), (0.6, bottom), (-0.6, bottom)];
        self.pen.fill(&corners.map(|(x, y)| at + vec2(x, y) * self.space), self.colour);
    }

    /// A number around its centre, two spaces high.
    pub(crate) fn number(&mut self, at: Pos2, number: u8) {
        let digits: Vec<usize> = number.to_string().bytes().map(|b| usize::from(b - b'0')).collect();
        let width = 1.3 * self.space;
        let first = at.x - width * (digits.len() as f32 - 1.0) / 2.0;
        for (index, digit) in digits.iter().enumerate() {
            for stroke in DIGITS[*digit] {
                self.stroke(pos2(first + width * index as f32, at.y), stroke, 1.0);
            }
        }
    }

    /// A tie from one head to the next; bowed up when `up`.
    pub(crate) fn tie(&mut self, from: Pos2, to: Pos2, up: bool) {
        let rise = if up { -0.7 } else { 0.7 } * self.space;
        let s = self.space;
        let dabs: Vec<Dab> = (0..=12)
            .map(|cut| {
                let t = cut as f32 / 12.0;
                let bow = (PI * t).sin();
                (from.lerp(to, t) + vec2(0.0, rise * bow), (0.06 + 0.16 * bow) * s)
            })
            .collect();
        self.pen.stroke(&dabs, self.colour);
    }
}
