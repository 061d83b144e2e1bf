//! What an editor is shown at the end of a block.
//!
//! The snapshot is written in its place, as it is large and every block takes one; what is planned is worked
//! out again only where something was due or something else is asked. Nothing here sounds.

use super::{Engine, Scene};
use crate::event::Hand;
use crate::observation::Texture;
use crate::settings::Settings;
use crate::snapshot::{MOST_PLANNED, Planned};

/// What a block asks besides events: as long as it stays the same and nothing is due, what is planned stays,
/// too.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Asked {
    settings: Settings,
    tempo: f64,
    /// Where the figures lie, and how many.
    figures: (usize, usize),
    /// Where the followed sheet's melody lies, and of how many notes.
    sheet: Option<(usize, usize)>,
}

impl Asked {
    fn of(scene: &Scene<'_>, tempo: f64) -> Self {
        let figures = (scene.figures.as_ptr().addr(), scene.figures.len());
        let sheet = scene.chart.map(|chart| (chart.melody.as_ptr().addr(), chart.melody.len()));
        Self { settings: *scene.settings, tempo, figures, sheet }
    }
}

impl Engine {
    /// Brings the snapshot up to date at the end of a block; `quiet` if nothing was due in it.
    pub(super) fn show(&mut self, scene: &Scene<'_>, end: u64, quiet: bool) {
        let asked = Asked::of(scene, self.clock.tempo());
        if !quiet || self.asked != Some(asked) {
            self.snapshot.planned = self.planned(scene);
        }
        self.asked = Some(asked);
        let now = self.now.max(self.clock.moment_at(end));
        let bar = self.bar(scene, now);
        let beat = bar.metre.beat();
        let mut sounding = [0u128; 3];
        for note in self.schedule.sounding() {
            if let Some(bits) = sounding.get_mut(note.hand.index()) {
                *bits |= 1 << note.pitch.key();
            }
        }
        let melody_state = self.melody.state(now, scene.settings.wait_for(beat), beat, None);
        let shown = &mut self.snapshot;
        shown.position = now;
        shown.bar_start = bar.start;
        shown.metre = Some(bar.metre);
        shown.tempo = self.clock.tempo();
        shown.playing = self.playing;
        shown.chord = self.harmony.chord;
        shown.key = self.key.key();
        shown.melody = self.melody.sounding();
        shown.melody_state = melody_state;
        shown.stillness = self.melody.stillness(now);
        shown.long_note_chance = self.melody.odds().half;
        shown.melody_density = self.melody.density(now, beat);
        shown.texture = if self.harmony.chord.is_some() { self.plan.texture } else { Texture::Silent };
        shown.figure = self.plan.figure.map(|(_, id)| id);
        shown.parts = self.voicing.notes().len() as u8;
        shown.sounding = sounding;
        shown.pedal = self.schedule.pedal();
    }

    /// What the running figure has still to play, if nothing happens.
    fn planned(&self, scene: &Scene<'_>) -> [Option<Planned>; MOST_PLANNED] {
        let mut planned = [None; MOST_PLANNED];
        let mut places = planned.iter_mut();
        let Some(mut run) = self.running.filter(|_| !self.is_settling()) else {
            return planned;
        };
        let metre = self.bar(scene, run.origin.max(self.now)).metre;
        let Some(pattern) = run.pattern(scene.figures, metre) else { return planned };
        while let Some((at, step)) = run.upcoming(pattern) {
            run.next += 1;
            if self.change_is_possible(scene, self.swung(scene, at)) {
                continue;
            }
            for pitch in self.present_parts(step.who) {
                let left = self.voicing.left().contains(&pitch);
                let hand = if left { Hand::Left } else { Hand::Right };
                let Some(place) = places.next() else { return planned };
                *place = Some(Planned { at: self.swung(scene, at), pitch, hand });
            }
        }
        planned
    }
}
