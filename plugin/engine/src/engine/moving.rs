//! Moving: figures begin when the melody stands, run step by step, and yield when it moves.

use figwort_theory::{Moment, Pitch, Span};

use super::striking::{ENDING_STRENGTH, Part};
use super::{Engine, RETAKE_MS, Scene};
use crate::book::{Family, Figure, Hold, Step, Who};
use crate::decision::{Plan, decide};
use crate::event::{EventSink, Hand};
use crate::figure::{Running, origin, parts_of};
use crate::observation::{MelodyState, Texture};
use crate::reading::Reading;
use crate::reading::habit::nearest_beat;
use crate::schedule::{Desk, Onset, Sounding, Until};
use crate::settings::Rung;
use crate::touch;
use crate::voicing::search::may_be_doubled;
use crate::voicing::{Request, Voicing, voice};

/// The piano's lowest key, A0.
const LOWEST: Pitch = Pitch::new(21);

impl Engine {
    /// The melody has a new note at `pitch`. `next` is the onset after it, where known.
    pub(super) fn melody_moves<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        (pitch, next): (Pitch, Option<Moment>),
    ) {
        let own =
            |engine: &Self| engine.schedule.sounding().iter().filter(|n| n.hand != Hand::Melody).count();
        let before = own(self);
        if self.plan.texture != Texture::Ending {
            // The accompaniment gives way to a melody that dips into it, and one player's right hand lets go
            // of what it can't reach from there.
            let reach = self.reach_under_melody(scene);
            // A note that was held over may lie in the other hand by now.
            let (left, right) = (self.voicing.left(), self.voicing.right());
            let holder = |note: &Sounding| match note.hand {
                Hand::Right if left.contains(&note.pitch) => Hand::Left,
                Hand::Left if right.contains(&note.pitch) => Hand::Right,
                hand => hand,
            };
            self.schedule.release(desk, |note| {
                let away = pitch.above(note.pitch);
                match holder(note) {
                    Hand::Melody => false,
                    Hand::Left => away <= 1,
                    Hand::Right => away <= 1 || away > reach,
                }
            });
            self.schedule.forget(|onset| onset.hand != Hand::Melody && pitch.above(onset.pitch) <= 1);
        }
        let let_go = own(self) < before;
        self.follow_melody(desk, scene, frame);
        let beat = self.bar(scene, self.now).metre.beat();
        match self.melody.state(self.now, scene.settings.wait_for(beat), beat, next) {
            MelodyState::Moving => {
                self.give_way(desk, scene, frame);
                if let_go {
                    self.make_up(desk, scene, frame);
                }
            }
            MelodyState::Still | MelodyState::Resting => {
                self.stood = self.melody.last_onset();
                if self.something_begins(scene) {
                    return;
                }
                self.stand(desk, scene, frame);
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
    /// gets its goal. A bass that is still by itself gets its chord, with the melody.
    fn give_way<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>, frame: u64) {
        // How a held chord is laid out has to do with the chord, not with the melody.
        let laid_out = self.plan.texture == Texture::Block && self.plan.figure.is_some();
        if self.running.is_none() || self.plan.texture == Texture::Ending || laid_out {
            return;
        }
        if !self.line_is_open() {
            self.running = None;
        }
        self.schedule.hold_all();
        let parts = self.schedule.sounding().iter().filter(|n| n.hand != Hand::Melody).count();
        if parts >= 3 {
            self.lift_pedal(desk, scene);
        }
        self.plan.texture = Texture::Block;
        self.plan.figure = None;
        self.lay_the_rest(desk, scene, frame);
        let reading = self.reading(scene);
        self.tell(desk, &reading);
    }

    /// Whether a chord of the sheet or a bar begins in this very moment: it decides for itself.
    pub(super) fn something_begins(&self, scene: &Scene<'_>) -> bool {
        let change = scene.chart_harmony().and_then(|chart| chart.next_harmony(self.cursor.harmony));
        change.is_some_and(|h| h.at <= self.now) || self.next_bar <= self.now
    }

    /// The melody stands: time to move.
    pub(super) fn stand<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>, frame: u64) {
        if self.harmony.chord.is_none()
            || (self.running.is_some() && (self.plan.figure.is_none() || self.plan.texture != Texture::Block))
            || self.plan.texture == Texture::Ending
            || scene.settings.bypass
        {
            return;
        }
        let reading = self.reading(scene);
        let plan = decide(&reading, scene.settings, scene.figures);
        if plan.texture == Texture::Ending {
            // Elsewhere the next chord that is struck will be the last. One that sounds already is not struck again for
            // less than a beat.
            let known = scene.chart_harmony().filter(|_| scene.chart_melody().is_some());
            let time = reading.bar.metre.beat();
            if known
                .is_some_and(|chart| chart.next_harmony(self.now).is_none() && chart.end() - self.now >= time)
            {
                self.close(desk, scene, frame, (&reading, plan));
            }
            return;
        }
        let (Texture::Figure(_), Some(_)) = (plan.texture, plan.figure) else { return };
        let Some(mut request) = self.request(scene, &reading, &plan, self.melody.sounding()) else { return };
        // What sounds stays; the figure may use a fuller voicing over the same bass, if both go together.
        request.kept_bass = self.voicing.bass().filter(|bass| bass.class() == request.chord.bass);
        let fuller = voice(&request, Some(&self.voicing));
        // A note held over from the last chord, or to be held over into the next, keeps its part.
        let kept = self.look_ahead(scene).and_then(|(at, voicing, _)| self.held_into(scene, at, &voicing));
        let fuller_at_all = fuller.notes().len() >= self.voicing.notes().len();
        if self.ornament.is_none()
            && kept.is_none()
            && fuller_at_all
            && self.goes_with_what_sounds(&request, &fuller)
        {
            self.voicing = fuller;
        }
        self.plan = plan;
        self.start_planned(scene, &reading);
        self.lay_the_rest(desk, scene, frame);
        if self.uses_pedal(scene) && self.retake.is_none() {
            self.schedule.set_pedal(desk, true);
        }
        self.tell(desk, &reading);
    }

    /// The melody has come to its last note under the last chord: it is struck once more, as an ending.
    fn close<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        (reading, plan): (&Reading, Plan),
    ) {
        self.plan = plan;
        self.voice_anew(scene, reading);
        self.let_go(desk, scene, frame, false);
        self.lift_pedal(desk, scene);
        self.play_plan(desk, scene, frame, reading);
        self.breath = None;
        if self.uses_pedal(scene) {
            self.retake = Some(self.now + self.clock.span_of_millis(RETAKE_MS));
        }
        self.tell(desk, reading);
    }

    /// Whether a voicing can be struck while what sounds is held: nothing rubs, and no tone is there twice that
    /// mustn't be.
    pub(super) fn goes_with_what_sounds(&self, request: &Request, voicing: &Voicing) -> bool {
        let sounding = self.schedule.sounding().iter().filter(|n| n.hand != Hand::Melody).map(|n| n.pitch);
        sounding.filter(|held| !voicing.notes().contains(held)).all(|held| {
            let degree = request.chord.degree(held.class());
            let doubles = may_be_doubled(degree, held.class(), request.key);
            voicing.notes().iter().all(|note| {
                !matches!(note.above(held).abs(), 1 | 13) && (doubles || note.class() != held.class())
            })
        })
    }

    /// Sets a figure going from its next step; the steps before are not played.
    pub(super) fn start_figure(&mut self, scene: &Scene<'_>, reading: &Reading, figure: (usize, u16)) {
        let metre = reading.bar.metre;
        let Some((family, pattern)) =
            scene.figures.get(figure.0).and_then(|f: &Figure| Some((f.family, f.pattern(metre)?)))
        else {
            return;
        };
        let beat = metre.beat();
        let mut from = reading.bar.start;
        if self.harmony.changed >= reading.bar.start - beat.fraction(1, 6) {
            from = origin(self.harmony.changed.max(reading.bar.start), reading.bar.start, beat);
        }
        // A chord struck just before the bar line belongs to the bar that comes; an ending begins now.
        if self.now == self.harmony.changed || family == Family::Ending {
            from = origin(self.now, reading.bar.start, beat);
        }
        let mut end = if from >= reading.bar.end() { from + reading.bar.length } else { reading.bar.end() };
        if family == Family::Ending {
            // The last chord has all the time that it needs.
            end = from + metre.bar() * i64::from(pattern.bars);
        } else if from == reading.bar.start && pattern.bars > 1 {
            from = from - reading.bar.length * reading.form.number.rem_euclid(i64::from(pattern.bars));
        }
        self.running = Some(Running::start(figure, (family, pattern), from, self.now, end));
        self.lines = Default::default();
    }

    /// The first sound of a figure that begins with a chord: its steps of this moment, and what of the chord
    /// it wouldn't bring within a beat. Broken chords and endings take their time; they begin with the bass.
    pub(super) fn open_figure<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        reading: &Reading,
    ) {
        let beat = reading.bar.metre.beat();
        if let Some(run) = self.running
            && let Some(pattern) = run.pattern(scene.figures, reading.bar.metre)
        {
            // A chord a little late still gets the steps of its beat.
            let next = pattern.steps.partition_point(|s| (self.now - (run.origin + s.at)).0 * 6 >= beat.0);
            self.running = Some(Running { next, ..run });
        }
        while let Some((at, step)) = self.upcoming_step(scene) {
            if (at - self.now).0 * 6 >= beat.0 {
                break;
            }
            let index = self.advance_step();
            self.play_step(desk, scene, frame, at, (index, step));
        }
        self.thin_first_beat(desk, scene, frame, reading);
        let family = self.running.map(|run| run.family);
        let takes_its_time = matches!(family, Some(Family::BrokenChord | Family::Ending));
        let parts = if takes_its_time { 1 } else { self.voicing.notes().len() };
        let notes: arrayvec::ArrayVec<Pitch, 8> = self.voicing.notes().iter().copied().collect();
        for (n, pitch) in notes.iter().take(parts).enumerate() {
            if self.schedule.note(*pitch).is_none() && (n == 0 || !self.comes_within(scene, *pitch, beat)) {
                self.strike_part(desk, scene, frame, *pitch, Until::Change, 0);
            }
        }
        if takes_its_time {
            self.hurry(desk, scene, frame, notes.get(1..).unwrap_or_default());
        }
    }

    /// What a broken chord or an ending won't bring before the chord is known to be over is struck with its bass: of an
    /// ending everything, of a broken chord its guide tones.
    fn hurry<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        upper: &[Pitch],
    ) {
        let Some(end) = self.known_end(scene) else { return };
        let ending = self.running.is_some_and(|run| run.family == Family::Ending);
        let missing = self.missing_guides(scene);
        let time = end - self.now - Span(1);
        for pitch in upper {
            let wanted = ending || missing.contains(pitch.class());
            let awaited = self.schedule.awaited(end).any(|awaited| awaited == *pitch);
            if wanted && !awaited && !self.comes_within(scene, *pitch, time) {
                self.strike_part(desk, scene, frame, *pitch, Until::Change, 0);
            }
        }
    }

    /// When the present chord is over, where that is known: at the next one of the sheet, or at the sheet's end.
    pub(super) fn known_end(&self, scene: &Scene<'_>) -> Option<Moment> {
        let chart = scene.chart_harmony()?;
        Some(chart.next_harmony(self.now).map_or(chart.end(), |next| next.at))
    }

    /// Whether the running figure strikes a note of the voicing within a beat from now.
    fn comes_within(&self, scene: &Scene<'_>, pitch: Pitch, beat: Span) -> bool {
        let Some(run) = self.running else { return false };
        let metre = self.bar(scene, run.origin.max(self.now)).metre;
        let Some(pattern) = run.pattern(scene.figures, metre) else { return false };
        let coming = pattern.steps.get(run.next..).unwrap_or_default().iter();
        coming
            .take_while(|step| run.origin + step.at <= (self.now + beat).min(run.end - Span(1)))
            .any(|step| parts_of(step.who, &self.voicing).contains(&pitch))
    }

    /// The running figure's next step.
    pub(super) fn upcoming_step(&self, scene: &Scene<'_>) -> Option<(Moment, Step)> {
        let run = self.running?;
        let metre = self.bar(scene, run.origin.max(self.now)).metre;
        let (at, step) = run.upcoming(run.pattern(scene.figures, metre)?)?;
        Some((self.swung(scene, at), step))
    }

    /// Takes the next step as done; returns its index.
    pub(super) fn advance_step(&mut self) -> usize {
        match &mut self.running {
            Some(run) => {
                run.next += 1;
                run.next - 1
            }
            None => 0,
        }
    }

    /// The figure has given way: all that is still owed is the resolution of an open line.
    pub(super) fn is_settling(&self) -> bool {
        self.plan.figure.is_none()
    }

    /// Does the step that is due.
    pub(super) fn step<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>, frame: u64) {
        let Some((at, step)) = self.upcoming_step(scene) else { return };
        self.now = self.now.max(at);
        let index = self.advance_step();
        if self.is_settling() {
            if self.resolves(step.who) {
                self.play_step(desk, scene, frame, at, (index, step));
            }
            if self.line_is_open() {
                return;
            }
            self.running = None;
            return;
        }
        // A resolution is owed, unless another chord is coming that very moment.
        let can_be_left_out = !self.resolves(step.who)
            && (self.change_is_possible(scene, self.now) || self.is_too_busy_for(scene, step));
        if can_be_left_out || self.change_is_near(scene, frame) {
            return;
        }
        if core::mem::take(&mut self.owes_bass)
            && !matches!(step.who, Who::Line(..))
            && let Some(bass) = self.voicing.bass()
        {
            self.strike_part(desk, scene, frame, bass, Until::Change, 0);
        }
        self.play_step(desk, scene, frame, at, (index, step));
    }

    /// Whether, where chords are played by hand, one may well come on this very beat: a step can be left out.
    pub(super) fn change_is_possible(&self, scene: &Scene<'_>, at: Moment) -> bool {
        let bar = self.bar(scene, at);
        scene.chart_harmony().is_none()
            && nearest_beat(&bar, at).is_some_and(|place| {
                let beat = bar.start + bar.metre.beat() * place as i64;
                let late = self.clock.frame_of(at) as i64 - self.clock.frame_of(beat) as i64;
                beat < bar.end() && self.habit.allows(place, late)
            })
    }

    /// A held chord is laid down again only where the melody leaves time: not where two or more notes of it
    /// come to the beat.
    fn is_too_busy_for(&self, scene: &Scene<'_>, step: Step) -> bool {
        let beat = self.bar(scene, self.now).metre.beat();
        let Some(run) = self.running.filter(|run| run.family == Family::Block && step.at >= beat) else {
            return false;
        };
        match scene.chart_melody() {
            Some(chart) => {
                let from = (self.now - beat).max(run.origin);
                let first = chart.melody.partition_point(|n| n.at <= from);
                let coming = chart.melody.get(first..).unwrap_or_default();
                coming.iter().take_while(|n| n.at < self.now + beat).count() >= 3
            }
            None => self.melody.density(self.now, beat) >= 1.5,
        }
    }

    /// Plays one step of the running figure.
    pub(super) fn play_step<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        at: Moment,
        (index, step): (usize, Step),
    ) {
        let until = match step.hold {
            Hold::For(span) => {
                let written = self.running.map_or(at, |run| run.origin + step.at);
                Until::At(self.now.max(at) + (self.swung(scene, written + span) - at))
            }
            Hold::Through | Hold::Over => Until::Change,
        };
        match step.who {
            Who::Line(thread, _) => {
                self.line_step(desk, scene, frame, (index, step), thread, until);
                return;
            }
            Who::Next => {
                self.push(desk, scene, frame, step);
                return;
            }
            Who::BelowBass | Who::Climb(_) => {
                if let Some(pitch) = self.beyond(step.who) {
                    let hand = if step.who == Who::BelowBass { Hand::Left } else { Hand::Right };
                    let strength = step.strength + ENDING_STRENGTH;
                    let velocity = self.velocity(scene, hand == Hand::Left, strength);
                    let onset = Onset { pitch, hand, channel: 0, velocity, until };
                    self.sound(desk, scene, frame, onset, Span::ZERO);
                }
                return;
            }
            _ => {}
        }
        if let Some((thread, on)) = self.way_on(scene, step.who) {
            self.go_on(desk, scene, frame, (thread, on), (until, step.strength));
            return;
        }
        self.come_home(desk, scene, step.who);
        let parts = self.present_parts(step.who);
        let ending = self.running.is_some_and(|run| run.family == Family::Ending);
        let beat = self.bar(scene, self.now).metre.beat();
        let millis = |ms| self.clock.span_of_millis(ms);
        let spread =
            if ending { touch::spread(scene.settings, millis, parts.len(), beat, true) } else { Span::ZERO };
        let strength = step.strength + if ending { ENDING_STRENGTH } else { 0 };
        for (n, pitch) in parts.iter().enumerate() {
            let part = Part { pitch: *pitch, until, strength, after: spread * n as i64 };
            self.strike(desk, scene, frame, part);
        }
        if step.hold == Hold::Over {
            self.tie_over(parts);
        }
    }

    /// The note of a step that goes beyond the voicing: below its bass, or above the melody on the last
    /// chord, which the rung Ornate alone does.
    fn beyond(&self, who: Who) -> Option<Pitch> {
        match who {
            Who::BelowBass => {
                let pitch = self.voicing.bass()?.transpose(-12)?;
                (pitch >= LOWEST).then_some(pitch)
            }
            Who::Climb(n) if self.plan.rung >= Rung::Ornate => {
                let top =
                    self.melody.pitch(self.now, Span::WHOLE).or(self.voicing.notes().last().copied())?;
                let tones = self.harmony.chord?.tones();
                let mut above = (top.key() + 1..108).map(Pitch::new).filter(|p| tones.contains(p.class()));
                above.nth(usize::from(n.max(1)) - 1)
            }
            _ => None,
        }
    }
}
