//! The definitions of non-chord tones, as the ways in which a line may go on.
//!
//! A line is at a chord tone, or at a non-chord tone that owes something: the [`Place`] says what. Each way on is one
//! definition of Open Music Theory (Shaffer, Hughes and Moseley, 2014, embellishing tones) and of Rush's sheet
//! Non-Harmonic Tones (Music Theory for Musicians and Normal People): passing, also two in a row that fill a fourth,
//! neighbour, double neighbour, anticipation. Suspensions aren't among them: those are prepared before the line
//! begins. Nor are incomplete neighbours and escape tones, which leap: among several voices a leap is easily heard as
//! two of them. Intervals are in semitones; a step is one or two.

/// Where a line stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// At a chord tone, entered by this step; 0 where it wasn't a step, or began the line. Nothing is owed.
    Tone(i8),
    /// At a non-chord tone, entered by this step from a chord tone.
    Stepped(i8),
    /// At the second of two passing notes, the chord tone before them this far behind.
    Second(i8),
    /// At the second of two neighbours, this far from the chord tone that it owes.
    Changing(i8),
    /// At a tone of the next chord, ahead of its time.
    Ahead,
}

/// How many places there are.
pub const PLACES: usize = 18;

impl Place {
    /// All of them, by [`Place::index`].
    pub const ALL: [Self; PLACES] = [
        Self::Tone(0),
        Self::Tone(-2),
        Self::Tone(-1),
        Self::Tone(1),
        Self::Tone(2),
        Self::Stepped(-2),
        Self::Stepped(-1),
        Self::Stepped(1),
        Self::Stepped(2),
        Self::Second(-4),
        Self::Second(-3),
        Self::Second(3),
        Self::Second(4),
        Self::Changing(-2),
        Self::Changing(-1),
        Self::Changing(1),
        Self::Changing(2),
        Self::Ahead,
    ];

    /// Its index among [`Place::ALL`].
    pub fn index(self) -> usize {
        Self::ALL.iter().position(|place| *place == self).unwrap_or(0)
    }

    /// Whether it is at a chord tone.
    pub fn is_tone(self) -> bool {
        matches!(self, Self::Tone(_))
    }

    /// Whether an interval leads back to the note that the line left by step two notes before.
    pub fn is_left_again(self, by: i32) -> bool {
        matches!(self, Self::Tone(s) | Self::Stepped(s) if s != 0 && by == -i32::from(s))
    }
}

/// A note that a line may go to.
#[derive(Clone, Copy, Debug)]
pub struct Step {
    /// Semitones from the note before.
    pub by: i32,
    /// Whether it is a tone of the chord that is in force then.
    pub tone: bool,
    /// Whether it is a tone of the next chord only, and the line's last note before it.
    pub early: bool,
    /// Metrical weight of its place; smaller is stronger.
    pub level: u8,
}

/// Places weaker than this may have non-chord tones: not the bar's start nor its middle.
pub const STRONG: u8 = 1;

/// Where a line is after a step; `None` if no definition allows it.
pub fn go(from: Place, step: Step) -> Option<Place> {
    let Step { by, tone, early, level } = step;
    let is_step = matches!(by.abs(), 1 | 2);
    if tone {
        let allowed = match from {
            Place::Tone(_) => true,
            // On in the same direction it was passing; back where it came from, a neighbour.
            Place::Stepped(s) => {
                let s = i32::from(s);
                (is_step && by.signum() == s.signum()) || by == -s
            }
            Place::Second(sum) => {
                let sum = i32::from(sum);
                is_step && by.signum() == sum.signum() && matches!((sum + by).abs(), 5 | 6)
            }
            Place::Changing(s) => by == -i32::from(s),
            Place::Ahead => by == 0,
        };
        return allowed.then_some(Place::Tone(if is_step { by as i8 } else { 0 }));
    }
    if level <= STRONG {
        return None;
    }
    if early && from.is_tone() && by != 0 && by.abs() <= 4 {
        return Some(Place::Ahead);
    }
    match from {
        Place::Tone(_) if is_step => Some(Place::Stepped(by as i8)),
        Place::Stepped(s) => {
            let s = i32::from(s);
            let sum = s + by;
            if is_step && by.signum() == s.signum() && matches!(sum.abs(), 3 | 4) {
                Some(Place::Second(sum as i8))
            } else if sum.signum() == -s.signum() && matches!(sum.abs(), 1 | 2) {
                // Across the chord tone to its other side; the leap is a third.
                matches!(by.abs(), 3 | 4).then_some(Place::Changing(sum as i8))
            } else {
                None
            }
        }
        _ => None,
    }
}
