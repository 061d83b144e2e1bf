//! Playing: chords are struck when they come, and again with the bar; they are refined, and they end.

use figwort_theory::{Chord, Pitch, Span};

use super::staying::may_stay;
use super::{Engine, Harmony, LEAVING_MS, RETAKE_MS, Scene, sheet};
use crate::book::Who;
use crate::decision::{Plan, decide};
use crate::event::{EventSink, Hand};
use crate::observation::{Decision, MelodyState, Texture};
use crate::reading::Reading;
use crate::reading::form::Form;
use crate::reading::habit::nearest_beat;
use crate::reading::tension::tension;
use crate::schedule::{Desk, Until};
use crate::settings::{Colour, Rung};
use crate::voicing::colour::coloured;
use crate::voicing::{Request, Voicing, voice};

/// The slot of colour tones among a bar's ornaments.
const COLOUR_SLOT: u32 = 0x4000_0001;

/// Onsets per quarter note that a melody which stands makes at most, whatever came before.
const STANDING: f32 = 0.6;

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
        let chord = self.chord(scene);
        let key = written.map_or_else(|| self.key.key(), |bar| bar.key);
        let form = match scene.chart.and_then(|chart| Some((chart, chart.bar_at(now)?))) {
            Some((chart, index)) => Form::of(chart, index),
            None => Form::free(bar.index),
        };
        let wait = settings.wait_for(beat) + self.patience.more(scene, now, beat);
        let melody = self.melody.state(now, wait, beat, next);
        let motion = self.melody.motion(now);
        Reading {
            now,
            bar,
            form,
            turn: bar.index,
            chord,
            key,
            tension: chord.map_or(0, |chord| tension(chord, key, form)),
            melody,
            ceiling: self.melody.pitch(now, beat * 4),
            summit: None,
            melody_motion: if melody == MelodyState::Moving { motion } else { motion.min(STANDING) },
            melody_height: self.melody.height(),
            melody_velocity: self.melody.velocity().unwrap_or(72),
            next: change.and_then(|h| Some((h.at, h.chord?))),
            origin: if self.harmony.changed == now { now } else { bar.start },
            moves_at: next.filter(|_| melody != MelodyState::Moving),
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
        // Ninths are an ornament, where colour tones are wanted at all. A chord played by hand may still get an
        // altered one.
        let known = scene.chart_harmony().is_some();
        let colour = match settings.colour {
            Colour::FromMelody if known && settings.ornament(reading.bar.index, COLOUR_SLOT) => Colour::Added,
            colour => colour,
        };
        let sung = melody.filter(|_| reading.melody == MelodyState::Still).map(Pitch::class);
        Some(Request {
            chord: match plan.rung {
                Rung::Plain => reading.chord?,
                _ => coloured(reading.chord?, reading.key, sung, colour),
            },
            key: reading.key,
            melody,
            sung,
            ceiling: reading.ceiling,
            summit: reading.summit,
            register: match scene.chart_melody() {
                Some(chart) => sheet::register(chart, reading.now),
                None => self.melody.register(),
            },
            tension: reading.tension,
            lenient: false,
            parts: usize::from(plan.parts),
            rung: plan.rung,
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
        self.learn(scene, frame);
        self.owes_bass = false;
        let reading = self.reading(scene);
        self.plan = decide(&reading, scene.settings, scene.figures);
        let before = self.frame_voicing.clone();
        self.voice_anew(scene, &reading);
        self.suspend(scene, &reading, &before);
        self.settle_upper(scene);
        self.let_go(desk, scene, frame, true);
        self.lift_pedal(desk, scene);
        self.be_careful(scene, frame);
        self.play_plan(desk, scene, frame, &reading);
        self.breath = self.next_breath(scene, &reading);
        self.plan_lead(scene, &reading);
        self.plan_preparation(scene);
        if self.uses_pedal(scene) && reading.melody != MelodyState::Moving {
            self.retake = Some(self.now + self.clock.span_of_millis(RETAKE_MS));
        }
        self.tell(desk, &reading);
    }

    /// Takes the chord just struck into account for what the player usually does.
    fn learn(&mut self, scene: &Scene<'_>, frame: u64) {
        if scene.chart_harmony().is_some() {
            return;
        }
        let bar = self.bar(scene, self.now);
        let first = self.chords.began().min(frame);
        if let Some(place) = nearest_beat(&bar, self.now) {
            let beat = self.clock.frame_of(bar.start + bar.metre.beat() * place as i64);
            self.habit.change(&bar, self.now, first as i64 - beat as i64);
        }
        self.habit.leave(self.chords.gap());
    }

    /// While more keys may well give the chord another name, only the classes held are sure; and the bass
    /// waits, where another note of the chord sounds at once.
    fn be_careful(&mut self, scene: &Scene<'_>, frame: u64) {
        let settles = self.chords.settles().filter(|settled| *settled > frame);
        let settles = settles.filter(|_| scene.chart_harmony().is_none());
        self.sure = settles.map(|_| self.chords.grip().classes());
        let broken = self.plan.texture == Texture::Ending || self.begins_with_bass_alone(scene);
        let upper = self.voicing.notes().get(1..).unwrap_or_default();
        let others = upper.iter().any(|p| self.sure.is_some_and(|sure| sure.contains(p.class())));
        self.bass_due = settles
            .filter(|_| others && !broken && scene.settings.manner.spread_ms == 0)
            .map(|settled| self.clock.moment_at(settled));
    }

    /// Whether the figure that is planned strikes nothing but the bass at its beginning.
    fn begins_with_bass_alone(&self, scene: &Scene<'_>) -> bool {
        let metre = self.bar(scene, self.now).metre;
        let figure = self.plan.figure.and_then(|(index, _)| scene.figures.get(index));
        figure.and_then(|figure| figure.pattern(metre)).is_some_and(|pattern| {
            let mut first = pattern.steps.iter().take_while(|step| step.at.0 * 6 < metre.beat().0);
            first.all(|step| matches!(step.who, Who::Bass | Who::BelowBass))
        })
    }

    /// Whether a new chord is likely to come in a moment, so that the old one isn't worth striking: keys are
    /// going down, the hand has just left, or the player usually changes on this beat.
    pub(super) fn change_is_near(&self, scene: &Scene<'_>, frame: u64) -> bool {
        if scene.chart_harmony().is_some() {
            return false;
        }
        let bar = self.bar(scene, self.now);
        let expected = nearest_beat(&bar, self.now).is_some_and(|place| {
            let beat = bar.start + bar.metre.beat() * place as i64;
            beat < bar.end() && self.habit.expects(place, frame as i64 - self.clock.frame_of(beat) as i64)
        });
        expected || self.chords.is_gathering() || self.hand_is_moving(frame)
    }

    /// A bar begins under a chord that lasts.
    pub(super) fn bar_line<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>, frame: u64) {
        let bar = self.bar(scene, self.now);
        self.habit.pass();
        self.next_bar = if bar.end() > self.now { bar.end() } else { self.now + Span::QUARTER };
        self.tire(desk);
        let goes_on = self.running.is_some_and(|run| run.end > self.now);
        if self.harmony.chord.is_none()
            || scene.settings.bypass
            || scene.settings.rung_at(bar.index) == Rung::Plain
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
            self.owes_bass = !just_struck;
            if just_struck || self.change_is_near(scene, frame) {
                self.run_on(scene);
                return;
            }
        }
        self.owes_bass = false;
        let reading = self.reading(scene);
        self.plan = decide(&reading, scene.settings, scene.figures);
        self.voice_anew(scene, &reading);
        if self.holds_through(&reading) {
            self.running = None;
            self.lines = Default::default();
            self.schedule.hold_all();
        } else {
            self.let_go(desk, scene, frame, false);
            self.harmony.struck = self.now;
            self.play_plan(desk, scene, frame, &reading);
        }
        self.breath = self.next_breath(scene, &reading);
        let pedalled = self.uses_pedal(scene) && reading.melody != MelodyState::Moving;
        if !pedalled {
            self.lift_pedal(desk, scene);
        } else if !self.schedule.pedal() {
            self.retake = Some(self.now + self.clock.span_of_millis(RETAKE_MS));
        }
        self.plan_lead(scene, &reading);
        self.plan_preparation(scene);
        self.tell(desk, &reading);
    }

    /// The bar begins without a stroke: what sounds is held, and a figure goes on with its next step.
    fn run_on(&mut self, scene: &Scene<'_>) {
        self.running = None;
        self.lines = Default::default();
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

    /// Whether the chord hand was lifted just now: it is probably on its way to another chord.
    fn hand_is_moving(&self, frame: u64) -> bool {
        let reach = self.habit.reach(self.clock.frames_of_millis(LEAVING_MS));
        self.chords.lifted().is_some_and(|lifted| reach.is_some_and(|reach| frame <= lifted + reach))
    }

    /// The chord in force is better known: notes are added, none is struck twice.
    pub(super) fn refine_chord<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
    ) {
        self.revoice(desk, scene, frame, false);
    }

    /// The chord in force has another bass: nothing but the bass is struck.
    pub(super) fn move_bass<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>, frame: u64) {
        self.learn(scene, frame);
        self.harmony.changed = self.now;
        self.harmony.struck = self.now;
        self.revoice(desk, scene, frame, true);
    }

    fn revoice<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        bass_only: bool,
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
        let sounds = |bass: &Pitch| self.schedule.note(*bass).is_some_and(|n| n.hand != Hand::Melody);
        let old_bass = self.voicing.bass().filter(sounds);
        request.kept_bass = old_bass.filter(|bass| bass.class() == request.chord.bass);
        let refined = voice(&request, Some(&self.frame_voicing));
        let classes = request.chord.classes();
        let bass_waited = self.bass_due.is_some();
        self.ornament = None;
        self.lines = Default::default();
        self.schedule.forget_pending();
        self.schedule.release(desk, |note| {
            note.hand != Hand::Melody
                && (!classes.contains(note.pitch.class())
                    || refined.bass().is_some_and(|bass| note.pitch < bass)
                    || refined.notes().iter().any(|n| n.above(note.pitch).abs() == 1))
        });
        let bass_changed = refined.bass() != old_bass;
        if bass_changed && old_bass.is_some() {
            self.lift_pedal(desk, scene);
            if self.uses_pedal(scene) && reading.melody != MelodyState::Moving {
                self.retake = Some(self.now + self.clock.span_of_millis(RETAKE_MS));
            }
        }
        self.frame_voicing = refined.clone();
        self.voicing = refined;
        self.be_careful(scene, frame);
        let wanted: arrayvec::ArrayVec<Pitch, 8> = self.voicing.notes().iter().copied().collect();
        for pitch in wanted {
            let is_bass = Some(pitch) == self.voicing.bass();
            let added = match self.plan.texture {
                Texture::Silent => false,
                _ if bass_only => is_bass,
                _ if self.schedule.note(pitch).is_some() => false,
                Texture::Figure(_) => is_bass && (bass_changed || bass_waited),
                Texture::Block | Texture::Ending => true,
            };
            if added {
                self.strike_part(desk, scene, frame, pitch, Until::Change, 0);
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
        let promised = self.promised.take().filter(|(at, _)| *at == self.now).map(|(_, bass)| bass);
        self.ahead = None;
        self.ornament = None;
        self.preparation = None;
        self.laid = false;
        self.leads = false;
        self.voicing = match self.request(scene, reading, &self.plan, melody) {
            Some(mut request) => {
                request.kept_bass = promised.filter(|bass| bass.class() == request.chord.bass);
                let previous = Some(&self.frame_voicing).filter(|voicing| !voicing.is_empty());
                let owed = self.owed_bass(request.chord.bass, request.bass_range);
                let owing = owed.filter(|_| scene.chart_harmony().is_none()).and_then(|bass| {
                    let voicing = voice(&Request { kept_bass: Some(bass), ..request }, previous);
                    Self::is_worth_it(&voicing, bass).then_some(voicing)
                });
                match previous {
                    _ if owing.is_some() => owing.unwrap_or_default(),
                    Some(kept) if may_stay(reading, &self.plan, self.harmony.changed, &request, kept) => {
                        kept.clone()
                    }
                    _ => voice(&request, previous),
                }
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
        self.lines = Default::default();
        self.start_planned(scene, reading);
        if self.begins_with_bass_alone(scene) {
            // Another figure may have taken the place of one that struck more at once.
            self.bass_due = None;
        }
        match (self.plan.texture, self.plan.figure) {
            (Texture::Silent, _) => {}
            (_, Some(_)) => {
                self.open_figure(desk, scene, frame, reading);
            }
            (Texture::Ending, _) => self.strike_ending(desk, scene, frame),
            (Texture::Block | Texture::Figure(_), _) => self.strike_block(desk, scene, frame),
        }
    }

    pub(super) fn tell<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, reading: &Reading) {
        self.told = Some(reading.melody);
        let figure = matches!(self.plan.texture, Texture::Figure(_));
        let moving = reading.melody == MelodyState::Moving;
        self.patience.hear(self.now, reading.bar.metre.beat(), figure, moving);
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
