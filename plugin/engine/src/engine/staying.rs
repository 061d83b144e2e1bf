//! Staying: bars that begin without a stroke, since the melody moves and what would be struck sounds already.
//!
//! Every other bar is struck, as a piano's notes fade, and every phrase begins with a stroke. Live and with a sheet the
//! same is asked, so that what is looked forward to is what comes.

use figwort_theory::{Moment, Pitch};

use super::Engine;
use crate::decision::Plan;
use crate::event::Hand;
use crate::observation::{MelodyState, Texture};
use crate::reading::Reading;
use crate::settings::Rung;
use crate::voicing::{Request, UNDER_MELODY, Voicing};

impl Engine {
    /// Whether the bar needs no stroke: the melody moves, what would be struck sounds already, and it was struck
    /// with the bar before. Every other bar is struck, as a piano's notes fade.
    pub(super) fn holds_through(&self, reading: &Reading) -> bool {
        let own = || self.schedule.sounding().iter().filter(|n| n.hand != Hand::Melody);
        let notes = self.voicing.notes();
        needs_no_stroke(reading, &self.plan, self.harmony.changed)
            && own().count() == notes.len()
            && own().all(|n| notes.contains(&n.pitch))
    }
}

/// Whether a bar that begins under a chord of `changed` may do without a stroke: the melody moves, and it is
/// the second of two and begins no phrase.
fn needs_no_stroke(reading: &Reading, plan: &Plan, changed: Moment) -> bool {
    let bars = (reading.bar.start - changed).0 + reading.bar.length.0 / 2;
    let second = bars.div_euclid(reading.bar.length.0.max(1)).rem_euclid(2) == 1;
    reading.now == reading.bar.start
        && reading.melody == MelodyState::Moving
        && plan.rung >= Rung::Flowing
        && plan.texture == Texture::Block
        && reading.form.of_phrase > 0
        && second
}

/// Whether a voicing can stay for the bar that begins, so that it needs no stroke: it goes with the melody that
/// comes, has about as many parts as are wanted, and lies in both hands' reach.
pub(super) fn may_stay(
    reading: &Reading,
    plan: &Plan,
    changed: Moment,
    request: &Request,
    voicing: &Voicing,
) -> bool {
    let notes = voicing.notes();
    let classes = request.chord.classes();
    let under = |highest: Pitch| notes.last().is_some_and(|top| highest.above(*top) >= UNDER_MELODY);
    let parts = i32::from(plan.parts) - notes.len() as i32;
    needs_no_stroke(reading, plan, changed)
        && reading.ceiling.is_none_or(under)
        && matches!(parts, -1..=1)
        && voicing.bass().map(Pitch::class) == Some(request.chord.bass)
        && notes.iter().all(|note| classes.contains(note.class()))
        && request.hands(notes).is_some_and(|left| left <= voicing.left().len())
        && request.kept_bass.is_none_or(|bass| voicing.bass() == Some(bass))
}
