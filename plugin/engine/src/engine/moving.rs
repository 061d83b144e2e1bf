//! Moving: figures begin when the melody stands, run step by step, and yield when it moves.

use figwort_theory::{Moment, Pitch, Span};

use super::{Engine, Line, RETAKE_MS, Scene};
use crate::book::{Family, Hold, Step, Who};
use crate::decision::decide;
use crate::event::{EventSink, Hand};
use crate::figure::line::bass_move;
use crate::figure::{Running, origin, parts_of};
use crate::observation::{MelodyState, Texture};
use crate::reading::Reading;
use crate::schedule::{Desk, Onset, Until};
use crate::voicing::voice;

impl Engine {
    /// The melody has a new note at `pitch`. `next` is the onset after it, where known.
    pub(super) fn melody_moves<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        pitch: Pitch,
        next: Option<Moment>,
    ) {
        if self.plan.texture != Texture::Ending {
            // The accompaniment gives way to a melody that dips into it, and one player's right hand lets go
            // of what it can't reach from there.
            let reach = self.reach_under_melody(scene);
            self.schedule.release(desk, |note| {
                let away = pitch.above(note.pitch);
                match note.hand {
                    Hand::Melody => false,
                    Hand::Left => away <= 1,
                    Hand::Right => away <= 1 || away > reach,
                }
            });
            self.schedule.forget(|onset| onset.hand != Hand::Melody && pitch.above(onset.pitch) <= 1);
        }
        let beat = self.bar(scene, self.now).metre.beat();
        match self.melody.state(self.now, scene.settings.wait_for(beat), beat, next) {
            MelodyState::Moving => self.give_way(desk, scene),
            MelodyState::Still | MelodyState::Resting => {
                self.stood = self.melody.last_onset();
                // A chord or a bar that begins in this very moment decides for itself.
                let change = scene.chart_harmony().and_then(|chart| chart.next_harmony(self.cursor.harmony));
                let coming = change.is_some_and(|h| h.at <= self.now) || self.next_bar <= self.now;
                if coming {
                    return;
                }
                self.stand(desk, scene);
            }
        }
        self.tell_of_melody(desk, scene);
    }

    /// Lets an observer know when the melody begins to move or to stand, whatever follows from it.
    pub(super) fn tell_of_melody<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>) {
        let reading = self.reading(scene);
        if self.harmony.chord.is_some() && self.told != Some(reading.melody) {
            self.tell(desk, &reading);
        }
    }

    /// The melody moves: a running figure settles into a held chord. A passing note that has sounded still
    /// gets its goal.
    pub(super) fn give_way<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>) {
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

    pub(super) fn start_figure(&mut self, scene: &Scene<'_>, reading: &Reading, figure: (usize, u16)) {
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
            from = from - reading.bar.length * reading.form.number.rem_euclid(i64::from(pattern.bars));
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
    pub(super) fn open_figure<S: EventSink>(
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
        let (at, step) = run.upcoming(run.pattern(scene.figures, metre)?)?;
        Some((self.swung(scene, at), step))
    }

    pub(super) fn advance_step(&mut self) {
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
        if self.change_is_near(scene, frame) {
            return;
        }
        if core::mem::take(&mut self.owes_bass)
            && !matches!(step.who, Who::BassPassing | Who::BassGoal)
            && let Some(bass) = self.voicing.bass()
        {
            self.strike_part(desk, scene, frame, bass, Until::Change, 0);
        }
        self.play_step(desk, scene, frame, at, step);
    }

    pub(super) fn play_step<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        at: Moment,
        step: Step,
    ) {
        let until = match step.hold {
            Hold::For(span) => {
                let written = self.running.map_or(at, |run| run.origin + step.at);
                Until::At(self.now.max(at) + (self.swung(scene, written + span) - at))
            }
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
    pub(super) fn pass<S: EventSink>(
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

    pub(super) fn arrive<S: EventSink>(
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

    pub(super) fn goal_moment(&self, scene: &Scene<'_>) -> Option<Moment> {
        let run = self.running?;
        let metre = self.bar(scene, self.now).metre;
        let pattern = run.pattern(scene.figures, metre)?;
        let step = pattern.steps.get(run.next..)?.iter().find(|step| step.who == Who::BassGoal)?;
        Some(run.origin + step.at).filter(|at| *at < run.end)
    }

    /// The bass note ends, so that the line can move.
    pub(super) fn leave_bass<S: EventSink>(&mut self, desk: &mut Desk<'_, S>) {
        let bass = self.voicing.bass();
        self.schedule.release(desk, |note| note.hand != Hand::Melody && Some(note.pitch) == bass);
    }

    pub(super) fn strike_line<S: EventSink>(
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
        self.sound(desk, scene, frame, onset, Span::ZERO)
    }
}
