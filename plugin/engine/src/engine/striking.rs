//! Striking: single notes, whole chords, spread chords, the last chord; and the pedal.

use figwort_theory::{Pitch, Span, Velocity};

use super::{Engine, RECENT_MS, Scene};
use crate::event::{EventSink, Hand};
use crate::figure::origin;
use crate::schedule::{Desk, Onset, Until};
use crate::settings::Rung;
use crate::touch;
use crate::voicing::UNDER_MELODY;

/// Notes that climb past the melody on the last chord.
const CLIMB: usize = 3;

impl Engine {
    pub(super) fn strike_block<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
    ) {
        let spread = touch::spread(scene.settings, |ms| self.clock.span_of_millis(ms), false);
        self.strike_spread(desk, scene, frame, spread);
    }

    pub(super) fn strike_spread<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        spread: Span,
    ) {
        let voicing = self.voicing.clone();
        for (n, pitch) in voicing.notes().iter().enumerate() {
            if n == 0 || spread.0 <= 0 {
                self.strike_part(desk, scene, frame, *pitch, Until::Change, 0);
            } else {
                let hand = self.hand_of(*pitch);
                let velocity = self.velocity(scene, false, 0);
                let onset = Onset { pitch: *pitch, hand, channel: 0, velocity, until: Until::Change };
                self.schedule.strike_at(self.now + spread * n as i64, onset);
            }
        }
    }

    /// The last chord: spread upward, and on the top rung climbing past the melody.
    pub(super) fn strike_ending<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
    ) {
        let spread = touch::spread(scene.settings, |ms| self.clock.span_of_millis(ms), true);
        self.strike_spread(desk, scene, frame, spread);
        let (Some(chord), Some(top)) = (
            self.harmony.chord,
            self.melody.pitch(self.now, Span::WHOLE).or(self.voicing.notes().last().copied()),
        ) else {
            return;
        };
        if self.plan.rung < Rung::Ornate {
            return;
        }
        // From the next felt beat, in eighths: the bar's time goes on under the last chord.
        let start = self.now + self.bar(scene, self.now).metre.beat();
        let tones = (top.key() + 1..108).map(Pitch::new).filter(|p| chord.tones().contains(p.class()));
        for (n, pitch) in tones.take(CLIMB).enumerate() {
            let strength = -6 - 3 * n as i8;
            let velocity = self.velocity(scene, false, strength);
            let onset = Onset { pitch, hand: Hand::Right, channel: 0, velocity, until: Until::Change };
            self.schedule.strike_at(start + Span::EIGHTH * n as i64, onset);
        }
    }

    /// Strikes one note of the voicing, unless the melody is in the way or it was struck just now.
    pub(super) fn strike_part<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        pitch: Pitch,
        until: Until,
        strength: i8,
    ) {
        let least = if self.plan.rung == Rung::Plain { 1 } else { UNDER_MELODY };
        let hand = self.hand_of(pitch);
        let one_hand = scene.settings.one_player && hand == Hand::Right && self.plan.rung != Rung::Plain;
        let reach = if one_hand { i32::from(scene.settings.reach) } else { i32::MAX };
        let out_of_the_way = |melody: Pitch| (least..=reach).contains(&melody.above(pitch));
        if !self.melody.sounding().is_none_or(out_of_the_way) {
            return;
        }
        let lowest = self.voicing.bass() == Some(pitch);
        if !lowest && self.sure.is_some_and(|sure| !sure.contains(pitch.class())) {
            return;
        }
        let recent = self.clock.frames_of_millis(RECENT_MS);
        if self.schedule.note(pitch).is_some_and(|n| n.hand != Hand::Melody && frame < n.struck + recent) {
            self.schedule.hold(pitch, until);
            return;
        }
        let velocity = self.velocity(scene, lowest, strength);
        let onset = Onset { pitch, hand, channel: 0, velocity, until };
        match self.bass_due {
            Some(due) if lowest && due > self.now => self.schedule.strike_at(due, onset),
            _ => {
                self.schedule.strike(desk, frame, onset);
            }
        }
    }

    /// How far below the melody the right hand reaches, where it has to hold both. Live, chord and melody come
    /// a few milliseconds apart in either order, and the player's own hand has the melody: no limit then.
    pub(super) fn reach_under_melody(&self, scene: &Scene<'_>) -> i32 {
        let settings = scene.settings;
        let holds_both =
            settings.one_player && self.plan.rung != Rung::Plain && scene.chart_melody().is_some();
        if holds_both { i32::from(settings.reach) } else { i32::MAX }
    }

    pub(super) fn hand_of(&self, pitch: Pitch) -> Hand {
        if self.voicing.left().contains(&pitch) { Hand::Left } else { Hand::Right }
    }

    pub(super) fn velocity(&self, scene: &Scene<'_>, lowest: bool, strength: i8) -> Velocity {
        let bar = self.bar(scene, self.now);
        let beat = bar.metre.beat();
        // A live chord a little off its beat is still that beat's.
        let place = origin(self.now, bar.start, beat.fraction(1, 2));
        let place =
            if place == bar.start && self.now - bar.start > beat.fraction(1, 12) { self.now } else { place };
        let level = bar.metre.level(place - bar.start);
        touch::velocity(scene.settings, self.plan.dynamics, level, lowest, strength)
    }

    pub(super) fn uses_pedal(&self, scene: &Scene<'_>) -> bool {
        let settings = scene.settings;
        settings.pedal && !settings.dry && !settings.bypass && self.plan.rung > Rung::Plain
    }

    pub(super) fn lift_pedal<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>) {
        self.retake = None;
        if self.uses_pedal(scene) {
            self.schedule.set_pedal(desk, false);
        }
    }
}
