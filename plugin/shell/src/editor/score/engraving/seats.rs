//! Where a group stands: the staff, the lines and spaces, the way its stems go, an octave mark.
//!
//! Steps count letters from C-1 up, so that C4 is 35.

use figwort_engine::Hand;
use figwort_theory::Pitch;
use figwort_theory::spelling::{Context, written};

use crate::editor::score::rhythm::Group;

/// The bottom lines' steps: E4 and G2.
pub(super) const TREBLE_BOTTOM: i32 = 37;
pub(super) const BASS_BOTTOM: i32 = 25;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Staff {
    Treble,
    Bass,
}

/// A pitch as written: its step and alteration.
fn spell(context: &Context, pitch: Pitch) -> (i32, i8) {
    let written = written(pitch, context);
    (written.step() + 7, written.name.alter())
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
pub(super) struct Seated<'a> {
    pub(super) group: &'a Group,
    pub(super) x: f32,
    pub(super) staff: Staff,
    pub(super) up: bool,
    /// Step and alteration of each head, from below.
    pub(super) steps: Vec<(i32, i8)>,
    /// Whether a line `8` belongs above or below, for what lies too far out.
    pub(super) octave: i32,
}

impl<'a> Seated<'a> {
    /// A group at its place; `shared` when melody and right hand both play in the bar.
    pub(super) fn new(group: &'a Group, context: Context, shared: bool, x: f32) -> Self {
        let mut steps: Vec<(i32, i8)> = group.pitches.iter().map(|pitch| spell(&context, *pitch)).collect();
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
        Self { group, x, staff, up, steps, octave }
    }
}

#[cfg(test)]
mod tests {
    use figwort_theory::{ChordSymbol, Key, Mode};

    use super::*;

    #[test]
    fn pitches_stand_on_their_lines() {
        let key = |fifths, mode| Context { key: Key::from_fifths(fifths, mode), ..Context::default() };
        let spell = |context, pitch| spell(&context, pitch);
        let c = key(0, Mode::Major);
        assert_eq!(spell(c, Pitch::new(64)), (TREBLE_BOTTOM, 0));
        assert_eq!(spell(c, Pitch::new(43)), (BASS_BOTTOM, 0));
        assert_eq!(spell(c, Pitch::new(60)), (35, 0));
        assert_eq!(spell(c, Pitch::new(66)), (38, 1));
        // In C sharp minor the leading tone is another letter: B sharp, which belongs to the octave below its sound's.
        let sharp = key(4, Mode::Minor);
        assert_eq!((spell(c, Pitch::new(60)), spell(sharp, Pitch::new(60))), ((35, 0), (34, 1)));
        // The third of D7 in E flat is F sharp.
        let chord = ChordSymbol::parse("D7").ok();
        assert_eq!(spell(Context { chord, ..key(-3, Mode::Major) }, Pitch::new(66)), (38, 1));
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
