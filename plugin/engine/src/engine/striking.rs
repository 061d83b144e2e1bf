//! Striking: single notes, whole chords, spread chords, the last chord; and the pedal.

use figwort_theory::{Moment, Pitch, Span, Velocity};

use super::{Engine, RECENT_MS, Scene};
use crate::event::{EventSink, Hand};
use crate::figure::origin;
use crate::observation::{MelodyState, Texture};
use crate::reading::Reading;
use crate::schedule::{Desk, Onset, Until};
use crate::settings::Rung;
use crate::touch::swing::swung;
use crate::touch::{self, Place, Role, is_detached};
use crate::voicing::{MAX_PARTS, UNDER_MELODY};

/// From each of the notes that climb past the melody on the last chord to the next, in eighths of an
/// eighth note: the time grows as a last bar slows down. Common practice, no source.
const CLIMB_SLOWER: [i64; 3] = [9, 11, 14];
/// Velocity steps of the last chord. Common practice, no source.
pub(super) const ENDING_STRENGTH: i8 = -4;
/// The breath at a phrase's end. Common practice, no source.
const BREATH: Span = Span(Span::EIGHTH.0 / 2);

impl Engine {
    pub(super) fn strike_block<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
    ) {
        self.strike_spread(desk, scene, frame, 0, false);
    }

    /// Strikes the voicing, spread upward as the manner, or an ending, has it.
    fn strike_spread<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        strength: i8,
        ending: bool,
    ) {
        let notes: arrayvec::ArrayVec<Pitch, MAX_PARTS> = self.voicing.notes().iter().copied().collect();
        let beat = self.bar(scene, self.now).metre.beat();
        let millis = |ms| self.clock.span_of_millis(ms);
        let spread = touch::spread(scene.settings, millis, notes.len(), beat, ending);
        for (n, pitch) in notes.into_iter().enumerate() {
            let part = Part { pitch, until: Until::Change, strength, after: spread * n as i64 };
            self.strike(desk, scene, frame, part);
        }
    }

    /// The last chord: spread upward, softer, and on the top rung climbing past the melody, slower and slower.
    pub(super) fn strike_ending<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
    ) {
        self.strike_spread(desk, scene, frame, ENDING_STRENGTH, true);
        let (Some(chord), Some(top)) = (
            self.harmony.chord,
            self.melody.pitch(self.now, Span::WHOLE).or(self.voicing.notes().last().copied()),
        ) else {
            return;
        };
        if self.plan.rung < Rung::Ornate {
            return;
        }
        // From the next felt beat: the bar's time goes on under the last chord.
        let bar = self.bar(scene, self.now);
        let start = self.now + bar.metre.beat();
        let slower = (Span::EIGHTH * CLIMB_SLOWER.iter().sum::<i64>()).fraction(1, 8);
        let room = bar.end() - start;
        let slows = !scene.settings.dry && room - slower >= Span::EIGHTH;
        let tones = (top.key() + 1..108).map(Pitch::new).filter(|p| chord.tones().contains(p.class()));
        let mut at = start;
        for (n, (pitch, eighths)) in tones.zip(CLIMB_SLOWER).enumerate() {
            let strength = ENDING_STRENGTH - 4 - 3 * n as i8;
            let velocity = self.velocity_as(scene, Role::Right, strength);
            let onset = Onset { pitch, hand: Hand::Right, channel: 0, velocity, until: Until::Change };
            self.schedule.strike_at(at, onset);
            at += if slows { (Span::EIGHTH * eighths).fraction(1, 8) } else { Span::EIGHTH };
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
        self.strike(desk, scene, frame, Part { pitch, until, strength, after: Span::ZERO });
    }

    pub(super) fn strike<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        part: Part,
    ) {
        let Part { pitch, until, strength, after } = part;
        if !self.is_out_of_the_way(scene, pitch) {
            return;
        }
        let lowest = self.voicing.bass() == Some(pitch);
        if !lowest && self.sure.is_some_and(|sure| !sure.contains(pitch.class())) {
            return;
        }
        // A note held over a change is held until it resolves.
        if self.ornament.is_some_and(|o| o.is_held(pitch)) && self.schedule.note(pitch).is_some() {
            self.schedule.hold(pitch, Until::Change);
            return;
        }
        if self.was_struck_just_now(frame, pitch, until) {
            return;
        }
        self.laid |= !lowest;
        let velocity = self.velocity_as(scene, self.role_of(pitch), strength);
        let onset = Onset { pitch, hand: self.hand_of(pitch), channel: 0, velocity, until };
        match self.bass_due {
            Some(due) if lowest && due > self.now => self.schedule.strike_at(due, onset),
            _ => {
                self.sound(desk, scene, frame, onset, after);
            }
        }
    }

    /// Whether a note of the accompaniment was struck just now, or waits to be; if so it sounds until `until`.
    pub(super) fn was_struck_just_now(&mut self, frame: u64, pitch: Pitch, until: Until) -> bool {
        let recent = self.clock.frames_of_millis(RECENT_MS);
        if self.schedule.note(pitch).is_some_and(|n| n.hand != Hand::Melody && frame < n.struck + recent) {
            self.schedule.hold(pitch, until);
            return true;
        }
        self.schedule.expects(pitch, self.now + self.clock.span_of_millis(RECENT_MS), until)
    }

    /// Strikes a note `after` the present moment, and a little late where the manner has it. Returns whether it
    /// sounds or will.
    pub(super) fn sound<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        onset: Onset,
        after: Span,
    ) -> bool {
        let at = self.now + after + self.lateness(scene);
        // A note too short to wait isn't made to.
        let too_short = matches!(onset.until, Until::At(end) if end <= at);
        if at <= self.now || too_short {
            return self.schedule.strike(desk, frame, onset);
        }
        if self.schedule.note(onset.pitch).is_some_and(|note| note.hand == Hand::Melody) {
            return false;
        }
        self.schedule.strike_at(at, onset);
        true
    }

    /// How late the present moment comes. A chord that was played by hand has its own time.
    fn lateness(&self, scene: &Scene<'_>) -> Span {
        if scene.chart_harmony().is_none() && self.now == self.harmony.changed {
            return Span::ZERO;
        }
        let late = self.clock.span_of_millis(touch::lateness(scene.settings, self.moment()));
        // Never near the next beat, however fast.
        Span(late.0.min(self.bar(scene, self.now).metre.beat().0 / 8))
    }

    /// The present moment's number, for draws: rounded, as frames and ticks don't meet exactly.
    fn moment(&self) -> Moment {
        const GRID: i64 = Span::QUARTER.0 / 24;
        Moment((self.now.0 + GRID / 2).div_euclid(GRID))
    }

    /// The moment at which a figure's step written at `at` is played.
    pub(super) fn swung(&self, scene: &Scene<'_>, at: Moment) -> Moment {
        let bar = self.bar(scene, self.now.min(at));
        swung(scene.settings, self.clock.tempo(), bar.metre, bar.start, at)
    }

    /// Whether a note lies a semitone or a minor ninth under one of the melody. A flat ninth over a dominant's
    /// root is meant so.
    pub(super) fn rubs(&self, pitch: Pitch, melody: Pitch) -> bool {
        let root = self.harmony.chord.filter(|chord| chord.is_dominant()).map(|chord| chord.root);
        match melody.above(pitch) {
            1 => true,
            13 => root != Some(pitch.class()),
            _ => false,
        }
    }

    /// Whether the melody that sounds leaves room for a part, and the hand that holds it reaches both.
    pub(super) fn is_out_of_the_way(&self, scene: &Scene<'_>, pitch: Pitch) -> bool {
        let least = if self.plan.rung == Rung::Plain { 1 } else { UNDER_MELODY };
        let hand = self.hand_of(pitch);
        let one_hand = scene.settings.one_player && hand == Hand::Right && self.plan.rung != Rung::Plain;
        let reach = if one_hand { i32::from(scene.settings.reach) } else { i32::MAX };
        // What a chord begins with was chosen with the melody in mind, and a bass there has to be. What comes
        // later can be left out.
        let begins = self.now == self.harmony.changed || self.now == self.bar(scene, self.now).start;
        let needed = begins
            || self.plan.rung == Rung::Plain
            || self.voicing.bass() == Some(pitch) && self.schedule.note(pitch).is_none();
        self.melody.sounding().is_none_or(|melody| {
            (least..=reach).contains(&melody.above(pitch)) && (needed || !self.rubs(pitch, melody))
        })
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

    fn role_of(&self, pitch: Pitch) -> Role {
        let notes = self.voicing.notes();
        match self.hand_of(pitch) {
            _ if notes.first() == Some(&pitch) => Role::Bass,
            _ if notes.last() == Some(&pitch) => Role::Top,
            Hand::Left => Role::Left,
            _ => Role::Right,
        }
    }

    /// Velocity of a note that isn't one of the voicing's.
    pub(super) fn velocity(&self, scene: &Scene<'_>, lowest: bool, strength: i8) -> Velocity {
        self.velocity_as(scene, if lowest { Role::Bass } else { Role::Right }, strength)
    }

    fn velocity_as(&self, scene: &Scene<'_>, role: Role, strength: i8) -> Velocity {
        let bar = self.bar(scene, self.now);
        let beat = bar.metre.beat();
        // A live chord a little off its beat is still that beat's.
        let place = origin(self.now, bar.start, beat.fraction(1, 2));
        let place =
            if place == bar.start && self.now - bar.start > beat.fraction(1, 12) { self.now } else { place };
        let level = bar.metre.level(place - bar.start);
        let seed = scene.settings.seed;
        let place =
            Place::new(level, self.plan.of_phrase, place - bar.start, bar.length, seed, self.moment());
        touch::velocity(scene.settings, (self.plan.dynamics, self.plan.melody), place, role, strength)
    }

    /// Whether the pedal is the engine's and not the player's.
    pub(super) fn has_pedal(&self, scene: &Scene<'_>) -> bool {
        let settings = scene.settings;
        settings.pedal && !settings.dry && !settings.bypass
    }

    /// Whether what is played now is played with pedal: not the rung Plain, and no detached figure.
    pub(super) fn uses_pedal(&self, scene: &Scene<'_>) -> bool {
        let metre = self.bar(scene, self.now).metre;
        let pattern = self.running.and_then(|run| run.pattern(scene.figures, metre));
        self.has_pedal(scene) && self.plan.rung > Rung::Plain && !pattern.is_some_and(is_detached)
    }

    pub(super) fn lift_pedal<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>) {
        self.retake = None;
        if self.has_pedal(scene) {
            self.schedule.set_pedal(desk, false);
        }
    }

    /// The end of a phrase: if the melody stands or rests, the right hand lets go and the pedal comes up, a
    /// moment before the next phrase begins.
    pub(super) fn breathe<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>) {
        let reading = self.reading(scene);
        if reading.melody == MelodyState::Moving || self.plan.texture == Texture::Ending || self.leads_on() {
            return;
        }
        self.lift_pedal(desk, scene);
        self.schedule.release(desk, |note| note.hand == Hand::Right && note.until == Until::Change);
    }

    /// When the phrase that ends with this bar breathes; `None` in other bars, and in a dry part.
    pub(super) fn next_breath(&self, scene: &Scene<'_>, reading: &Reading) -> Option<Moment> {
        let breathes = reading.form.ends_phrase() && !reading.last && self.plan.rung > Rung::Spaced;
        (breathes && !scene.settings.dry).then(|| reading.bar.end() - BREATH).filter(|at| *at > self.now)
    }
}

/// A note of the voicing to be struck.
pub(super) struct Part {
    pub(super) pitch: Pitch,
    pub(super) until: Until,
    pub(super) strength: i8,
    /// How long after the present moment.
    pub(super) after: Span,
}
