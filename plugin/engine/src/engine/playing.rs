//! Playing: chords are struck when they come, and again with the bar; they are refined, and they end.

use figwort_theory::{Chord, Pitch, Span};

use super::{Engine, Harmony, Line, RETAKE_MS, Scene, sheet};
use crate::decision::{Plan, decide};
use crate::event::{EventSink, Hand};
use crate::figure::origin;
use crate::observation::{Decision, MelodyState, Texture};
use crate::reading::Reading;
use crate::schedule::{Desk, Until};
use crate::settings::Rung;
use crate::voicing::{Request, Voicing, voice};

impl Engine {
    /// What is known now.
    pub(super) fn reading(&self, scene: &Scene<'_>) -> Reading {
        let now = self.now;
        if let (Some(chart), Some(_)) = (scene.chart_harmony(), scene.chart_melody()) {
            return sheet::read(chart, scene.settings, now);
        }
        let bar = self.bar(scene, now);
        let beat = bar.metre.beat();
        let settings = scene.settings;
        let next = scene.chart_melody().and_then(|chart| chart.next_note(now)).map(|n| n.at);
        let written = scene.chart.and_then(|chart| chart.bars.get(chart.bar_at(now)?));
        let change = scene.chart_harmony().and_then(|chart| chart.next_harmony(now));
        Reading {
            now,
            bar,
            chord: self.chord(scene),
            key: written.map_or_else(|| self.key.key(), |bar| bar.key),
            melody: self.melody.state(now, settings.wait_for(beat), beat, next),
            ceiling: self.melody.pitch(now, beat * 4),
            melody_velocity: self.melody.velocity().unwrap_or(72),
            next: change.and_then(|h| Some((h.at, h.chord?))),
            last: settings.finish,
        }
    }

    pub(super) fn chord(&self, scene: &Scene<'_>) -> Option<Chord> {
        match scene.chart_harmony() {
            Some(chart) => chart.harmony_at(self.now).and_then(|(_, harmony)| harmony.chord),
            None => self.chords.chord(),
        }
    }

    /// The request for a voicing; `None` without a chord.
    pub(super) fn request(
        &self,
        scene: &Scene<'_>,
        reading: &Reading,
        plan: &Plan,
        melody: Option<Pitch>,
    ) -> Option<Request> {
        let settings = scene.settings;
        Some(Request {
            chord: reading.chord?,
            key: reading.key,
            melody,
            sung: melody.filter(|_| reading.melody == MelodyState::Still).map(Pitch::class),
            ceiling: reading.ceiling,
            parts: usize::from(plan.parts),
            rung: settings.rung(),
            reach: i32::from(settings.reach),
            clarity: i32::from(settings.clarity),
            one_player: settings.one_player,
            weights: settings.manner.weights,
            bass_range: (settings.manner.bass_low, settings.manner.bass_high),
            kept_bass: None,
            grip: if scene.chart_harmony().is_some() { Default::default() } else { self.chords.grip() },
        })
    }

    /// A chord comes into force and is struck.
    pub(super) fn strike_chord<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
    ) {
        self.harmony = Harmony { chord: self.chord(scene), changed: self.now, struck: self.now };
        if let Some(chord) = self.harmony.chord {
            self.key.hear_chord(chord, self.now);
        }
        let bar = self.bar(scene, self.now);
        let line = origin(self.now, bar.start, bar.metre.beat());
        if (line == bar.start && self.now - line < bar.metre.beat()) || line == bar.end() {
            self.habit.change(line);
        }
        let reading = self.reading(scene);
        self.plan = decide(&reading, scene.settings, scene.figures);
        self.schedule.release_accompaniment(desk);
        self.lift_pedal(desk, scene);
        self.voice_anew(scene, &reading);
        self.play_plan(desk, scene, frame, &reading);
        if self.uses_pedal(scene) && reading.melody != MelodyState::Moving {
            self.retake = Some(self.now + self.clock.span_of_millis(RETAKE_MS));
        }
        self.tell(desk, &reading);
    }

    /// A bar begins under a chord that lasts.
    pub(super) fn bar_line<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>, frame: u64) {
        let bar = self.bar(scene, self.now);
        self.habit.pass(self.bar(scene, self.now - Span(1)).start);
        self.next_bar = if bar.end() > self.now { bar.end() } else { self.now + Span::QUARTER };
        self.tire(desk);
        let goes_on = self.running.is_some_and(|run| run.end > self.now);
        if self.harmony.chord.is_none()
            || scene.settings.bypass
            || scene.settings.rung() == Rung::Plain
            || self.plan.texture == Texture::Ending
            || self.cursor.ended && scene.chart_harmony().is_some()
            || goes_on
        {
            return;
        }
        if scene.chart_harmony().is_some() {
            // A change of harmony on the bar line strikes by itself.
            if scene
                .chart_harmony()
                .and_then(|c| c.harmony_at(self.now))
                .is_some_and(|(_, h)| h.at == self.now)
            {
                return;
            }
        } else {
            let beat = bar.metre.beat();
            let just_struck = (self.now - self.harmony.struck).0 * 3 < beat.0 * 2;
            // Keys that are going down now, a hand in the air, or a habit of changing with the bar: the old
            // chord isn't struck where a new one may come a moment later.
            let another_comes = self.chords.deadline().is_some()
                || self.hand_is_moving(frame, beat)
                || self.habit.expects_change();
            if just_struck || another_comes {
                self.run_on(scene);
                return;
            }
        }
        let reading = self.reading(scene);
        self.plan = decide(&reading, scene.settings, scene.figures);
        self.schedule.release_accompaniment(desk);
        self.voice_anew(scene, &reading);
        self.harmony.struck = self.now;
        self.play_plan(desk, scene, frame, &reading);
        self.tell(desk, &reading);
    }

    /// The bar begins without a stroke: what sounds is held, and a figure goes on with its next step.
    fn run_on(&mut self, scene: &Scene<'_>) {
        self.running = None;
        self.schedule.hold_all();
        let reading = self.reading(scene);
        let plan = decide(&reading, scene.settings, scene.figures);
        self.plan = Plan { parts: self.plan.parts, ..plan };
        if let (Texture::Figure(_), Some(figure)) = (plan.texture, plan.figure) {
            self.start_figure(scene, &reading, figure);
            while self.upcoming_step(scene).is_some_and(|(at, _)| at <= self.now) {
                self.advance_step();
            }
        }
    }

    /// Whether the chord hand was lifted less than a beat ago: it is probably on its way to another chord.
    pub(super) fn hand_is_moving(&self, frame: u64, beat: Span) -> bool {
        self.chords
            .lifted()
            .is_some_and(|lifted| self.now - self.clock.moment_at(lifted) < beat && frame >= lifted)
    }

    /// The chord in force is better known: notes are added, none is struck twice.
    pub(super) fn refine_chord<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
    ) {
        self.harmony.chord = self.chords.chord();
        if let Some(chord) = self.harmony.chord {
            self.key.refine_chord(chord);
        }
        let reading = self.reading(scene);
        let plan = decide(&reading, scene.settings, scene.figures);
        self.plan.parts = self.plan.parts.max(plan.parts);
        let Some(mut request) = self.request(scene, &reading, &self.plan, self.melody.sounding()) else {
            return;
        };
        request.kept_bass = self.voicing.bass().filter(|bass| bass.class() == request.chord.bass);
        let refined = voice(&request, Some(&self.frame_voicing));
        let classes = request.chord.classes();
        self.schedule.release(desk, |note| {
            note.hand != Hand::Melody
                && (!classes.contains(note.pitch.class())
                    || refined.notes().iter().any(|n| n.above(note.pitch).abs() == 1))
        });
        let bass_changed = refined.bass() != self.voicing.bass();
        self.frame_voicing = refined.clone();
        self.voicing = refined;
        let missing: arrayvec::ArrayVec<Pitch, 8> =
            self.voicing.notes().iter().copied().filter(|p| self.schedule.note(*p).is_none()).collect();
        for (n, pitch) in missing.iter().enumerate() {
            let is_bass = Some(*pitch) == self.voicing.bass();
            let added = match self.plan.texture {
                Texture::Figure(_) => n == 0 && is_bass && bass_changed,
                Texture::Block | Texture::Ending => true,
                Texture::Silent => false,
            };
            if added {
                self.strike_part(desk, scene, frame, *pitch, Until::Change, 0);
            }
        }
        self.tell(desk, &reading);
    }

    /// The chord is over, and none follows.
    pub(super) fn end_chord<S: EventSink>(&mut self, desk: &mut Desk<'_, S>) {
        self.fall_silent(desk);
    }

    /// Chooses the voicing of this place, leading on from the one before.
    pub(super) fn voice_anew(&mut self, scene: &Scene<'_>, reading: &Reading) {
        if let (Some(chart), Some(_)) = (scene.chart_harmony(), scene.chart_melody())
            && self.at_anchor(chart, self.now)
        {
            self.frame_voicing = self.voicing_before(scene, chart, self.now).unwrap_or_default();
        }
        let melody = match scene.chart_melody() {
            Some(chart) => chart.note_at(self.now).map(|n| n.pitch),
            None => self.melody.sounding(),
        };
        self.voicing = match self.request(scene, reading, &self.plan, melody) {
            Some(request) => {
                let previous = Some(&self.frame_voicing).filter(|voicing| !voicing.is_empty());
                voice(&request, previous)
            }
            None => Voicing::default(),
        };
        self.frame_voicing = self.voicing.clone();
    }

    /// Begins what the plan says.
    pub(super) fn play_plan<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        reading: &Reading,
    ) {
        self.running = None;
        self.line = Line::default();
        match (self.plan.texture, self.plan.figure) {
            (Texture::Silent, _) => {}
            (Texture::Ending, _) => self.strike_ending(desk, scene, frame),
            (Texture::Figure(family), Some(figure)) => {
                self.start_figure(scene, reading, figure);
                self.open_figure(desk, scene, frame, reading, family);
            }
            (Texture::Block | Texture::Figure(_), _) => self.strike_block(desk, scene, frame),
        }
    }

    pub(super) fn tell<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, reading: &Reading) {
        self.told = Some(reading.melody);
        let decision = Decision {
            at: self.now,
            chord: self.harmony.chord,
            melody: reading.melody,
            texture: self.plan.texture,
            figure: self.plan.figure.map(|(_, id)| id),
            parts: self.voicing.notes().len() as u8,
            dynamics: self.plan.dynamics,
        };
        let (sink, offset) = desk.observer();
        sink.observe(offset, &decision);
    }
}
