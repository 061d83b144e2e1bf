//! Turning points: settings change, the transport starts, stops and jumps, the clock begins and tires.

use figwort_theory::{Moment, Span};

use super::hearing::Routes;
use super::{Cursor, Engine, FREE_REST_BARS, Harmony, Patience, Scene};
use crate::decision::Plan;
use crate::event::{EventSink, Hand};
use crate::reading::chord::Heard;
use crate::reading::clock::{Drive, Turn};
use crate::reading::habit::Habit;
use crate::schedule::Desk;
use crate::voicing::Voicing;

impl Engine {
    /// Lets the consequences of changed settings happen: bypass, and another way of telling who is who. A jump
    /// of the transport begins again by itself.
    pub(super) fn take_settings<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        turn: Turn,
    ) {
        let settings = scene.settings;
        let other_source = self.source.is_some_and(|source| source != settings.source);
        let entering = settings.bypass && !self.bypassed;
        let leaving = !settings.bypass && self.bypassed;
        self.source = Some(settings.source);
        self.bypassed = settings.bypass;
        if other_source || entering {
            self.fall_silent(desk);
            self.release_chart_note(desk);
            self.chords.clear();
            self.routes.forget_harmony();
            self.hands.restart();
        }
        let running = self.clock.drive() == Drive::Host && turn != Turn::Jump;
        if (other_source || leaving) && running && !settings.bypass {
            self.begin_again(desk, scene, self.frame);
        }
        if core::mem::replace(&mut self.latched, settings.latch)
            && !settings.latch
            && self.chords.unlatch(self.frame) == Heard::Ended
        {
            self.end_chord(desk);
        }
        let pedal_is_players = settings.bypass || !settings.pedal || settings.dry;
        if core::mem::replace(&mut self.pedal_was_players, pedal_is_players) && !pedal_is_players {
            // What the player held down stays with the player; ours begins with the next harmony.
            self.schedule.set_pedal(desk, false);
        }
        if pedal_is_players && self.retake.is_none() && self.schedule.pedal() != self.player_pedal {
            self.schedule.set_pedal(desk, self.player_pedal);
        }
        if pedal_is_players {
            self.retake = None;
        }
    }

    pub(super) fn reset_now<S: EventSink>(&mut self, desk: &mut Desk<'_, S>) {
        self.reset_wanted = false;
        self.schedule.forget_pending();
        self.schedule.release(desk, |_| true);
        self.player_pedal = false;
        self.fall_silent(desk);
        self.clock.reset();
        self.chords.clear();
        self.melody.clear();
        self.key.clear();
        self.routes = Routes::default();
        self.hands.clear();
        self.now = Moment::ZERO;
        self.cursor = Cursor { harmony: Moment(-1), melody: Moment(-1), note_end: None, ended: false };
    }

    /// Ends the accompaniment and forgets its chord.
    pub(super) fn fall_silent<S: EventSink>(&mut self, desk: &mut Desk<'_, S>) {
        self.schedule.release_accompaniment(desk);
        self.retake = None;
        self.breath = None;
        self.schedule.set_pedal(desk, false);
        self.harmony = Harmony::default();
        self.frame_voicing = Voicing::default();
        self.voicing = Voicing::default();
        self.plan = Plan::default();
        self.running = None;
        self.forget_moves();
        self.promised = None;
        self.tied = Default::default();
    }

    pub(super) fn stop<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, frame: u64) {
        self.fall_silent(desk);
        self.release_chart_note(desk);
        self.chords.forget();
        self.now = self.clock.moment_at(frame);
        self.melody.restart(self.now, frame);
    }

    /// The transport began to run or jumped. A jump forgets the past; only the hands stay where they are.
    pub(super) fn begin_again<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
    ) {
        self.fall_silent(desk);
        self.release_chart_note(desk);
        self.now = self.clock.moment_at(frame);
        self.melody.restart(self.now, frame);
        self.key.clear();
        self.hands.restart();
        self.stood = None;
        self.patience = Patience::default();
        self.habit = Habit::default();
        self.next_bar = self.bar(scene, self.now).end();
        self.cursor = Cursor {
            harmony: self.now - Span(1),
            melody: self.now - Span(1),
            note_end: None,
            ended: scene.chart.is_some_and(|chart| chart.end() <= self.now),
        };
        if scene.settings.bypass {
            return;
        }
        self.join_chart(desk, scene, frame);
        if scene.chart_harmony().is_none() && self.chords.reread(frame, self.key.key()) {
            self.strike_chord(desk, scene, frame);
        }
    }

    /// Starts the free clock if nothing runs.
    pub(super) fn ensure_running<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, frame: u64) {
        if self.clock.drive() == Drive::Idle {
            self.clock.run_free(frame);
            self.schedule.forget_pending();
            self.schedule.release(desk, |note| note.hand != Hand::Melody);
            self.now = self.clock.moment_at(frame);
            self.melody.restart(self.now, frame);
            self.stood = None;
            self.silent_bars = 0;
            self.patience = Patience::default();
            self.habit = Habit::default();
            self.next_bar = self.clock.bar_at(self.now).end();
        }
    }

    /// A free clock without a chord goes back to rest after a while, so that the next chord is a bar's first.
    pub(super) fn tire<S: EventSink>(&mut self, desk: &mut Desk<'_, S>) {
        if self.clock.drive() != Drive::Free {
            return;
        }
        self.silent_bars = if self.harmony.chord.is_some() { 0 } else { self.silent_bars.saturating_add(1) };
        if self.silent_bars >= FREE_REST_BARS {
            self.schedule.release_accompaniment(desk);
            self.clock.rest();
        }
    }
}
