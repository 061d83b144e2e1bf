//! Which notes of a bar show an accidental.
//!
//! An accidental holds for its line to the end of the bar, in its octave alone. What was altered in the bar
//! before and is no more shows a reminder. Common practice, no source.

use std::collections::BTreeMap;

use figwort_theory::spelling::Written;
use figwort_theory::{Key, Mode, NoteName};

/// What stands before a notehead.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Accidental {
    /// Semitones.
    pub(super) alter: i8,
    /// Whether it is only a reminder.
    pub(super) reminder: bool,
}

impl Accidental {
    /// MusicXML's name.
    pub(super) fn name(self) -> &'static str {
        match self.alter {
            -2 => "flat-flat",
            -1 => "flat",
            1 => "sharp",
            2 => "double-sharp",
            _ => "natural",
        }
    }
}

/// What holds on a stave.
#[derive(Clone, Debug, Default)]
pub(super) struct Accidentals {
    signature: [i8; 7],
    /// By step of the staff, in this bar and in the one before.
    here: BTreeMap<i32, i8>,
    before: BTreeMap<i32, i8>,
}

impl Accidentals {
    /// Comes to a bar in a key.
    pub(super) fn bar(&mut self, key: Key) {
        self.before = core::mem::take(&mut self.here);
        self.signature = signature(key);
    }

    /// What a note shows; notes come by time. One that is tied from before shows nothing.
    pub(super) fn note(&mut self, written: Written, tied_from: bool) -> Option<Accidental> {
        if tied_from {
            return None;
        }
        let step = written.step();
        let alter = written.name.alter();
        let own = self.signature.get(usize::from(written.name.letter())).copied().unwrap_or(0);
        let holds = self.here.get(&step).copied().unwrap_or(own);
        let was = self.before.remove(&step);
        let reminder = holds == alter && was.is_some_and(|was| was != alter);
        if holds == alter && !reminder {
            return None;
        }
        self.here.insert(step, alter);
        Some(Accidental { alter, reminder })
    }
}

/// The alteration of each letter in a key signature.
fn signature(key: Key) -> [i8; 7] {
    let mut signature = [0; 7];
    let major = Key::from_fifths(key.fifths(), Mode::Major).fifths();
    for place in major - 1..major + 6 {
        if let Some(name) = NoteName::from_fifths(place)
            && let Some(alter) = signature.get_mut(usize::from(name.letter()))
        {
            *alter = name.alter();
        }
    }
    signature
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn accidentals_hold_to_the_bar_line() {
        let written = |letter, alter, octave| Written { name: NoteName::new(letter, alter).unwrap(), octave };
        let mut stave = Accidentals::default();
        let mut show = |bar: bool, letter, alter, octave| {
            if bar {
                stave.bar(Key::from_fifths(2, Mode::Major));
            }
            stave.note(written(letter, alter, octave), false).map(|shown| (shown.alter, shown.reminder))
        };
        assert_eq!(show(true, 3, 1, 4), None);
        assert_eq!(show(false, 4, 1, 4), Some((1, false)));
        assert_eq!(show(false, 4, 1, 4), None);
        assert_eq!(show(false, 4, 1, 5), Some((1, false)));
        assert_eq!(show(false, 4, 0, 4), Some((0, false)));
        assert_eq!(show(false, 3, 0, 4), Some((0, false)));
        // In the next bar G natural is what the bar before left off with, F sharp is not.
        assert_eq!(show(true, 4, 0, 4), None);
        assert_eq!(show(false, 3, 1, 4), Some((1, true)));
        assert_eq!(show(false, 3, 1, 4), None);
        assert_eq!(show(true, 4, 0, 5), None);
    }
}
