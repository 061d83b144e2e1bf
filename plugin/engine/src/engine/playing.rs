//! Playing: chords are struck, figures run and yield, the pedal follows.

use figwort_theory::{Moment, Pitch, Span};

use super::{Engine, Harmony, Line, RECENT_MS, RETAKE_MS, Scene, sheet};
use crate::book::{Family, Hold, Step, Who};
use crate::decision::{Plan, decide};
use crate::event::{EventSink, Hand};
use crate::figure::line::bass_move;
use crate::figure::{Running, origin, parts_of};
use crate::observation::{Decision, MelodyState, Texture};
use crate::reading::Reading;
use crate::schedule::{Desk, Onset, Until};
use crate::settings::Rung;
use crate::touch;
use crate::voicing::{Request, UNDER_MELODY, Voicing, voice};

/// Notes that climb past the melody on the last chord.
const CLIMB: usize = 3;

impl Engine {
    /// What is known now.
    fn reading(&self, scene: &Scene<'_>) -> Reading {
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

    fn chord(&self, scene: &Scene<'_>) -> Option<figwort_theory::Chord> {
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
            self.key.hear_chord(chord.classes());
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
            if just_struck || self.hand_is_moving(frame, beat) {
                self.running = None;
                self.schedule.hold_all();
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

    /// Whether the chord hand was lifted less than a beat ago: it is probably on its way to another chord.
    fn hand_is_moving(&self, frame: u64, beat: Span) -> bool {
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

    /// The melody has a new note at `pitch`. `next` is the onset after it, where known.
    pub(super) fn melody_moves<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        pitch: Pitch,
        next: Option<Moment>,
    ) {
        if self.plan.texture != Texture::Ending {
            // The accompaniment gives way to a melody that dips into it.
            self.schedule.release(desk, |note| note.hand != Hand::Melody && pitch.above(note.pitch) <= 1);
        }
        let beat = self.bar(scene, self.now).metre.beat();
        match self.melody.state(self.now, scene.settings.wait_for(beat), beat, next) {
            MelodyState::Moving => self.give_way(desk, scene),
            MelodyState::Still | MelodyState::Resting => {
                self.stood = self.melody.last_onset();
                // A chord or a bar that begins in this very moment decides for itself.
                let change = scene.chart_harmony().and_then(|chart| chart.next_harmony(self.cursor.harmony));
                let coming = change.is_some_and(|h| h.at <= self.now) || self.next_bar <= self.now;
                if !coming {
                    self.stand(desk, scene);
                }
            }
        }
    }

    /// The melody moves: a running figure settles into a held chord. A passing note that has sounded still
    /// gets its goal.
    fn give_way<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>) {
        if self.running.is_none() || self.plan.texture == Texture::Ending {
            return;
        }
        if !self.line.open {
            self.running = None;
        }
        self.schedule.hold_all();
        let parts = self.schedule.sounding().iter().filter(|n| n.hand != Hand::Melody).count();
        if parts >= 3 {
            self.lift_pedal(desk, scene);
        }
        self.plan.texture = Texture::Block;
        self.plan.figure = None;
        let reading = self.reading(scene);
        self.tell(desk, &reading);
    }

    /// The melody stands: time to move.
    pub(super) fn stand<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>) {
        if self.harmony.chord.is_none()
            || self.running.is_some()
            || self.plan.texture == Texture::Ending
            || scene.settings.bypass
        {
            return;
        }
        let reading = self.reading(scene);
        let plan = decide(&reading, scene.settings, scene.figures);
        let (Texture::Figure(_), Some(figure)) = (plan.texture, plan.figure) else { return };
        let Some(mut request) = self.request(scene, &reading, &plan, self.melody.sounding()) else { return };
        // What sounds stays; the figure may use a fuller voicing over the same bass.
        request.kept_bass = self.voicing.bass().filter(|bass| bass.class() == request.chord.bass);
        let fuller = voice(&request, Some(&self.voicing));
        if fuller.notes().len() >= self.voicing.notes().len() {
            self.voicing = fuller;
        }
        self.plan = plan;
        self.start_figure(scene, &reading, figure);
        if self.uses_pedal(scene) && self.retake.is_none() {
            self.schedule.set_pedal(desk, true);
        }
        self.tell(desk, &reading);
    }

    /// Chooses the voicing of this place, leading on from the one before.
    fn voice_anew(&mut self, scene: &Scene<'_>, reading: &Reading) {
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
    fn play_plan<S: EventSink>(
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

    fn start_figure(&mut self, scene: &Scene<'_>, reading: &Reading, figure: (usize, u16)) {
        let Some(pattern) = scene.figures.get(figure.0).and_then(|f| f.pattern(reading.bar.metre)) else {
            return;
        };
        let beat = reading.bar.metre.beat();
        let mut from = reading.bar.start;
        if self.harmony.changed >= reading.bar.start - beat.fraction(1, 6) {
            from = origin(self.harmony.changed.max(reading.bar.start), reading.bar.start, beat);
        }
        // A chord struck just before the bar line belongs to the bar that comes.
        if self.now == self.harmony.changed {
            from = origin(self.now, reading.bar.start, beat);
        }
        let end = if from >= reading.bar.end() { from + reading.bar.length } else { reading.bar.end() };
        if from == reading.bar.start && pattern.bars > 1 {
            from = from - reading.bar.length * reading.bar.index.rem_euclid(i64::from(pattern.bars));
        }
        self.running = Some(Running::start(figure, pattern, from, self.now, end));
        self.line = Line {
            way: bass_move(
                match reading.chord {
                    Some(chord) => chord,
                    None => return,
                },
                reading.key,
                &self.voicing,
                reading.next.map(|(_, chord)| chord.bass),
                scene.settings.manner.bass_low,
                i32::from(scene.settings.clarity),
            ),
            open: false,
        };
    }

    /// The first sound of a figure that begins with a chord: its steps of this moment, and at least the bass
    /// (broken chords) or the whole chord (the other families).
    fn open_figure<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        reading: &Reading,
        family: Family,
    ) {
        let window = reading.bar.metre.beat();
        if let Some(run) = self.running
            && let Some(pattern) = run.pattern(scene.figures, reading.bar.metre)
        {
            // A chord a little late still gets the steps of its beat.
            let next = pattern.steps.partition_point(|s| (self.now - (run.origin + s.at)).0 * 6 >= window.0);
            self.running = Some(Running { next, ..run });
        }
        while let Some((at, step)) = self.upcoming_step(scene) {
            if (at - self.now).0 * 6 >= window.0 {
                break;
            }
            self.advance_step();
            self.play_step(desk, scene, frame, at, step);
        }
        let bass_sounds = self.voicing.bass().is_some_and(|bass| self.schedule.note(bass).is_some());
        match family {
            Family::BrokenChord if !bass_sounds => {
                if let Some(bass) = self.voicing.bass() {
                    self.strike_part(desk, scene, frame, bass, Until::Change, 0);
                }
            }
            Family::RepeatedChord | Family::BassLine => {
                let notes: arrayvec::ArrayVec<Pitch, 8> = self.voicing.notes().iter().copied().collect();
                for pitch in notes {
                    if self.schedule.note(pitch).is_none() {
                        self.strike_part(desk, scene, frame, pitch, Until::Change, 0);
                    }
                }
            }
            Family::BrokenChord => {}
        }
    }

    /// The running figure's next step.
    pub(super) fn upcoming_step(&self, scene: &Scene<'_>) -> Option<(Moment, Step)> {
        let run = self.running?;
        let metre = self.bar(scene, run.origin.max(self.now)).metre;
        run.upcoming(run.pattern(scene.figures, metre)?)
    }

    fn advance_step(&mut self) {
        if let Some(run) = &mut self.running {
            run.next += 1;
        }
    }

    /// Does the step that is due.
    pub(super) fn step<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>, frame: u64) {
        let Some((at, step)) = self.upcoming_step(scene) else { return };
        self.now = self.now.max(at);
        self.advance_step();
        let settling = !matches!(self.plan.texture, Texture::Figure(_));
        if settling {
            // Only the goal of a passing note is still owed.
            if step.who == Who::BassGoal && self.line.open {
                self.play_step(desk, scene, frame, at, step);
                self.running = None;
            }
            return;
        }
        let bar = self.bar(scene, self.now);
        let strong = bar.metre.level(self.now - bar.start) <= 1;
        if strong && self.hand_is_moving(frame, bar.metre.beat().fraction(1, 2)) {
            return;
        }
        self.play_step(desk, scene, frame, at, step);
    }

    fn play_step<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        at: Moment,
        step: Step,
    ) {
        let until = match step.hold {
            Hold::For(span) => Until::At(self.now.max(at) + span),
            Hold::Through => Until::Change,
        };
        match step.who {
            Who::BassPassing => self.pass(desk, scene, frame, step, until),
            Who::BassGoal => self.arrive(desk, scene, frame, step, until),
            _ => {
                for pitch in parts_of(step.who, &self.voicing) {
                    self.strike_part(desk, scene, frame, pitch, until, step.strength);
                }
            }
        }
    }

    /// The bass leaves for its goal, if it can get there before the harmony changes.
    fn pass<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        step: Step,
        until: Until,
    ) {
        let Some(way) = self.line.way else { return };
        let goal_at = self.goal_moment(scene);
        let change = scene.chart_harmony().and_then(|chart| chart.next_harmony(self.now)).map(|h| h.at);
        let in_time = match (goal_at, change) {
            (Some(goal), Some(change)) => goal < change,
            (goal, None) => goal.is_some(),
            (None, Some(_)) => false,
        };
        let clashes = self.melody.sounding().is_some_and(|m| {
            [way.passing, way.goal].iter().any(|p| matches!(m.above(*p), i32::MIN..=1 | 13))
        });
        if !in_time || clashes {
            return;
        }
        self.lift_pedal(desk, scene);
        self.leave_bass(desk);
        if self.strike_line(desk, scene, frame, way.passing, until, step.strength) {
            self.line.open = true;
        }
    }

    fn arrive<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        step: Step,
        until: Until,
    ) {
        let Some(way) = self.line.way.filter(|_| self.line.open) else { return };
        self.schedule.release(desk, |note| note.hand == Hand::Left && note.pitch == way.passing);
        self.line.open = false;
        self.strike_line(desk, scene, frame, way.goal, until, step.strength);
        if self.uses_pedal(scene) && matches!(self.plan.texture, Texture::Figure(_)) {
            self.retake = Some(self.now + self.clock.span_of_millis(RETAKE_MS));
        }
    }

    fn goal_moment(&self, scene: &Scene<'_>) -> Option<Moment> {
        let run = self.running?;
        let metre = self.bar(scene, self.now).metre;
        let pattern = run.pattern(scene.figures, metre)?;
        let step = pattern.steps.get(run.next..)?.iter().find(|step| step.who == Who::BassGoal)?;
        Some(run.origin + step.at).filter(|at| *at < run.end)
    }

    /// The bass note ends, so that the line can move.
    fn leave_bass<S: EventSink>(&mut self, desk: &mut Desk<'_, S>) {
        let bass = self.voicing.bass();
        self.schedule.release(desk, |note| note.hand != Hand::Melody && Some(note.pitch) == bass);
    }

    fn strike_line<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        pitch: Pitch,
        until: Until,
        strength: i8,
    ) -> bool {
        let velocity = self.velocity(scene, true, strength);
        let onset = Onset { pitch, hand: Hand::Left, channel: 0, velocity, until };
        self.schedule.strike(desk, frame, onset)
    }

    fn strike_block<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>, frame: u64) {
        let spread = touch::spread(scene.settings, |ms| self.clock.span_of_millis(ms), false);
        self.strike_spread(desk, scene, frame, spread);
    }

    fn strike_spread<S: EventSink>(
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
    fn strike_ending<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>, frame: u64) {
        let spread = touch::spread(scene.settings, |ms| self.clock.span_of_millis(ms), true);
        self.strike_spread(desk, scene, frame, spread);
        let (Some(chord), Some(top)) = (
            self.harmony.chord,
            self.melody.pitch(self.now, Span::WHOLE).or(self.voicing.notes().last().copied()),
        ) else {
            return;
        };
        if scene.settings.rung() < Rung::Ornate {
            return;
        }
        let start = self.now + spread * self.voicing.notes().len() as i64;
        let tones = (top.key() + 1..108).map(Pitch::new).filter(|p| chord.tones().contains(p.class()));
        for (n, pitch) in tones.take(CLIMB).enumerate() {
            let strength = -6 - 3 * n as i8;
            let velocity = self.velocity(scene, false, strength);
            let onset = Onset { pitch, hand: Hand::Right, channel: 0, velocity, until: Until::Change };
            self.schedule.strike_at(start + Span::EIGHTH * (n as i64 + 1), onset);
        }
    }

    /// Strikes one note of the voicing, unless the melody is in the way or it was struck just now.
    fn strike_part<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        pitch: Pitch,
        until: Until,
        strength: i8,
    ) {
        let least = if scene.settings.rung() == Rung::Plain { 1 } else { UNDER_MELODY };
        if self.melody.sounding().is_some_and(|melody| melody.above(pitch) < least) {
            return;
        }
        let recent = self.clock.frames_of_millis(RECENT_MS);
        if self.schedule.note(pitch).is_some_and(|n| n.hand != Hand::Melody && frame < n.struck + recent) {
            self.schedule.hold(pitch, until);
            return;
        }
        let lowest = self.voicing.bass() == Some(pitch);
        let velocity = self.velocity(scene, lowest, strength);
        let onset = Onset { pitch, hand: self.hand_of(pitch), channel: 0, velocity, until };
        self.schedule.strike(desk, frame, onset);
    }

    fn hand_of(&self, pitch: Pitch) -> Hand {
        if self.voicing.left().contains(&pitch) { Hand::Left } else { Hand::Right }
    }

    fn velocity(&self, scene: &Scene<'_>, lowest: bool, strength: i8) -> figwort_theory::Velocity {
        let bar = self.bar(scene, self.now);
        let beat = bar.metre.beat();
        // A live chord a little off its beat is still that beat's.
        let place = origin(self.now, bar.start, beat.fraction(1, 2));
        let place =
            if place == bar.start && self.now - bar.start > beat.fraction(1, 12) { self.now } else { place };
        let level = bar.metre.level(place - bar.start);
        touch::velocity(scene.settings, self.plan.dynamics, level, lowest, strength)
    }

    fn uses_pedal(&self, scene: &Scene<'_>) -> bool {
        let settings = scene.settings;
        settings.pedal && !settings.dry && !settings.bypass && settings.rung() > Rung::Plain
    }

    fn lift_pedal<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>) {
        self.retake = None;
        if self.uses_pedal(scene) {
            self.schedule.set_pedal(desk, false);
        }
    }

    fn tell<S: EventSink>(&self, desk: &mut Desk<'_, S>, reading: &Reading) {
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
