//! What is wished of a line: small numbers, the less the better. Rules are elsewhere.
//!
//! The sizes are by trial; that lines go by step, leap seldom, don't stand and don't go to and fro is common
//! practice, no source.

use super::motion::Place;
use crate::book::Aim;

/// Each semitone beyond a fifth from where the line began.
pub const FAR: u16 = 4;
/// The same note again.
const AGAIN: u16 = 30;
/// A neighbour that takes the note away from what follows.
pub const FORESTALLED: u16 = 10;
/// The note that it left by step two notes before: the line turns round.
const BACK: u16 = 12;
/// And it has only just turned round: two notes by turns, which go nowhere.
const TRILL: u16 = 24;
/// What was asked for isn't given.
const MISSED: u16 = 14;
/// A non-chord tone on a felt beat.
const ACCENTED: u16 = 3;

/// A step of the line.
#[derive(Clone, Copy, Debug)]
pub struct Here {
    /// Semitones from the note before.
    pub by: i32,
    /// Where the line is now.
    pub arrived: Place,
    /// Whether the note is of the scale.
    pub in_scale: bool,
    /// Metrical weight of its place.
    pub level: u8,
    /// Semitones from the note before to what follows the line; 0 if unknown.
    pub towards: i32,
}

/// Semitones as effort: steps are easy, thirds and fourths less so.
fn effort(by: i32) -> u16 {
    match by.abs() {
        0 => AGAIN,
        1 | 2 => 0,
        3 | 4 => 4,
        5 => 6,
        7 => 8,
        12 => 12,
        n => 8 + 2 * n.min(20) as u16,
    }
}

/// The cost of a note under its aim; `None` if the aim forbids it.
pub fn entering(aim: Aim, here: Here) -> Option<u16> {
    let Here { by, arrived, in_scale, level, towards } = here;
    let tone = arrived.is_tone();
    let mut cost = effort(by);
    if !tone && level <= 2 {
        cost += ACCENTED;
    }
    // Chromatic where it says so, and where the next chord's own note comes early.
    if !in_scale && aim != Aim::Chromatic && arrived != Place::Ahead {
        return None;
    }
    // Early tones are rare.
    cost += match arrived {
        Place::Ahead => 10,
        Place::Changing(_) => 8,
        _ => 0,
    };
    let off = by.signum() == -towards.signum() && towards != 0;
    cost += match aim {
        Aim::Tone if !tone || by == 0 => return None,
        Aim::Tone => 0,
        Aim::Step => u16::from(by.abs() > 2) * 6 + u16::from(off) * 2,
        Aim::Passing | Aim::Neighbour if tone => MISSED,
        Aim::Passing | Aim::Neighbour => 0,
        Aim::Approach | Aim::Chromatic => u16::from(off) * 3,
        Aim::Run => u16::from(by.abs() > 2) * MISSED + u16::from(off) * MISSED,
        Aim::Down => u16::from(by > 0) * MISSED,
        Aim::Up => u16::from(by < 0) * MISSED,
        Aim::Leap if !tone => return None,
        Aim::Leap => return Some(if (3..=7).contains(&by.abs()) || by.abs() == 12 { 0 } else { MISSED }),
        Aim::Tenth => 0,
    };
    Some(cost)
}

/// What the note after costs the one with this aim at `at`. `change` tells whether it is the next chord's.
pub fn leaving(aim: Aim, by: i32, at: Place, change: bool) -> u16 {
    let step = matches!(by.abs(), 1 | 2);
    match (aim, at) {
        // A neighbour goes home, a passing note goes on.
        (Aim::Neighbour, Place::Stepped(s)) => u16::from(by != -i32::from(s)) * MISSED,
        (Aim::Passing, Place::Stepped(s)) => u16::from(by.signum() != i32::from(s).signum()) * MISSED,
        (Aim::Approach, _) if change => u16::from(!step) * MISSED,
        (Aim::Chromatic, _) if change => match by.abs() {
            1 => 0,
            2 => 7,
            _ => MISSED,
        },
        _ => 0,
    }
}

/// What it costs to go back to the note before the last, which is the right of a neighbour and of a note that
/// leans. `turned` tells whether the line did so with its last note, too.
pub fn turning(aim: Aim, by: i32, at: Place, turned: bool) -> u16 {
    match aim {
        _ if !at.is_left_again(by) => 0,
        _ if turned => BACK + TRILL,
        Aim::Neighbour | Aim::Down | Aim::Up => 0,
        _ => BACK,
    }
}

/// What it costs to go from the line's last note, at `at`, to what follows.
pub fn arriving(aim: Aim, by: i32, at: Place) -> u16 {
    let effort = match by.abs() {
        0 if at == Place::Ahead => 0,
        0 => AGAIN,
        1 | 2 => 0,
        n => (n.min(12) as u16) + 2,
    };
    effort + leaving(aim, by, at, true)
}
