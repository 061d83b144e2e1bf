//! Lines as they are played, step by step.
//!
//! They are asked for when a line's first step is due. A line that has begun a non-chord tone always gets to its
//! resolution, also when the figure gives way.

use arrayvec::ArrayVec;
use figwort_theory::{Pitch, Span};

use super::asking::Notes;
use super::{Engine, RETAKE_MS, Scene};
use crate::book::{Family, Step, Thread, Who};
use crate::decision::{Plan, decide};
use crate::event::{EventSink, Hand};
use crate::figure::parts_of;
use crate::reading::Reading;
use crate::schedule::{Desk, Onset, Until};
use crate::voicing::{UNDER_MELODY, Voicing};

/// One part's line in a running figure.
#[derive(Clone, Debug, Default)]
pub(super) struct Line {
    /// The part's index in the voicing.
    pub(super) part: usize,
    /// The note that it has reached, where that isn't the voicing's own.
    pub(super) at: Option<Pitch>,
    /// It is at a non-chord tone, which owes its resolution.
    pub(super) open: bool,
    /// The note that it had before that one.
    pub(super) before: Option<Pitch>,
    /// Notes to come, each with its step's index and whether it is a chord tone.
    pub(super) notes: Notes,
    /// Steps before this one have been asked for.
    pub(super) asked: usize,
}

impl Engine {
    /// Forgets lines and ornaments that were under way or to come.
    pub(super) fn forget_moves(&mut self) {
        self.lines = Default::default();
        self.ornament = None;
        self.preparation = None;
        self.ahead = None;
    }

    /// Whether a non-chord tone waits for its resolution.
    pub(super) fn line_is_open(&self) -> bool {
        self.lines.iter().any(|line| line.open)
    }

    /// The voicing with each part where its line has led it.
    pub(super) fn present_voicing(&self) -> Voicing {
        self.lines
            .iter()
            .filter_map(|line| Some((line.part, line.at?)))
            .fold(self.voicing.clone(), |voicing, (part, pitch)| voicing.replaced(part, pitch))
    }

    /// Whether a step brings the resolution that an open line owes.
    pub(super) fn resolves(&self, who: Who) -> bool {
        let open = |thread: Thread| self.lines.get(thread.index()).is_some_and(|line| line.open);
        match who {
            Who::Line(thread, _) => open(thread),
            Who::Bass => open(Thread::Bass),
            Who::Top => open(Thread::Top),
            _ => false,
        }
    }

    /// A step goes back to the voicing's own note of a part whose line has led away from it.
    pub(super) fn come_home<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>, who: Who) {
        let thread = match who {
            Who::Bass => Thread::Bass,
            Who::Top => Thread::Top,
            _ => return,
        };
        let away = self.lines.get_mut(thread.index()).and_then(|line| {
            line.open = false;
            line.at.take()
        });
        if let Some(away) = away {
            // What was gathered under the line would blur it.
            self.lift_pedal(desk, scene);
            self.schedule.release(desk, |note| note.hand != Hand::Melody && note.pitch == away);
            self.retake_soon(scene);
        }
    }

    pub(super) fn retake_soon(&mut self, scene: &Scene<'_>) {
        if self.uses_pedal(scene) && !self.is_settling() {
            self.retake = Some(self.now + self.clock.span_of_millis(RETAKE_MS));
        }
    }

    /// A line's step: the part moves on, if a way was found.
    pub(super) fn line_step<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        (index, step): (usize, Step),
        thread: Thread,
        until: Until,
    ) {
        if self.lines.get(thread.index()).is_some_and(|line| line.asked <= index) {
            self.ask(scene, thread, index);
        }
        let Some(line) = self.lines.get(thread.index()) else { return };
        let found = line.notes.iter().find(|(n, ..)| *n == index).copied();
        let part = line.part;
        let present = line.at.or(self.voicing.notes().get(part).copied());
        let Some((_, pitch, tone)) = found else {
            // The part stays where it is and keeps sounding.
            if let Some(present) = present {
                self.schedule.hold(present, Until::Change);
            }
            return;
        };
        let in_the_way = |melody: Pitch, pitch| matches!(melody.above(pitch), i32::MIN..UNDER_MELODY | 13);
        let (mut pitch, mut tone) = (pitch, tone);
        if self.melody.sounding().is_some_and(|melody| in_the_way(melody, pitch)) {
            // Rather back where it came from than nowhere.
            let tones = self.harmony.chord.map(|chord| chord.tones()).unwrap_or_default();
            let back = self.lines.get(thread.index()).filter(|line| line.open).and_then(|line| line.before);
            let free = |back: &Pitch| self.melody.sounding().is_none_or(|melody| !in_the_way(melody, *back));
            let back = back.filter(|back| tones.contains(back.class())).filter(free);
            self.break_off(thread);
            let Some(back) = back else { return };
            (pitch, tone) = (back, true);
        }
        // A note held over the change may have resolved to the line's own note in this very moment.
        if self.was_struck_just_now(frame, pitch, until) {
            let left = present.filter(|present| *present != pitch);
            self.schedule.release(desk, |note| note.hand != Hand::Melody && Some(note.pitch) == left);
            if let Some(line) = self.lines.get_mut(thread.index()) {
                (line.before, line.at, line.open) = (present, Some(pitch), !tone);
            }
            return;
        }
        if !tone || thread == Thread::Bass {
            self.lift_pedal(desk, scene);
        }
        // The hand that has the note goes on with it.
        let played_by = present
            .and_then(|present| self.schedule.note(present))
            .map(|note| note.hand)
            .filter(|hand| *hand != Hand::Melody);
        self.schedule.release(desk, |note| note.hand != Hand::Melody && Some(note.pitch) == present);
        let left = self.voicing.left().len() > part;
        let of_voicing = if left { Hand::Left } else { Hand::Right };
        let hand = played_by.unwrap_or(of_voicing);
        let velocity = self.velocity(scene, thread == Thread::Bass, step.strength);
        let sounds =
            self.sound(desk, scene, frame, Onset { pitch, hand, channel: 0, velocity, until }, Span::ZERO);
        if let Some(line) = self.lines.get_mut(thread.index()) {
            (line.before, line.at) = (present, Some(pitch));
            line.open = sounds && !tone;
        }
        if tone {
            self.retake_soon(scene);
        }
    }

    /// The melody has come into a line's way: what was to come of it is left out.
    fn break_off(&mut self, thread: Thread) {
        if let Some(line) = self.lines.get_mut(thread.index()) {
            line.notes.clear();
            line.open = false;
        }
        if let Some((_, bass)) = self.promised.filter(|_| thread == Thread::Bass) {
            self.promised = self.promised.filter(|_| self.voicing.bass() == Some(bass));
        }
    }

    /// Whether the running figure has a way for one of its lines at least; true of figures without lines.
    pub(super) fn finds_its_way(&mut self, scene: &Scene<'_>) -> bool {
        let Some(run) = self.running else { return true };
        let metre = self.bar(scene, run.origin.max(self.now)).metre;
        let Some(pattern) = run.pattern(scene.figures, metre) else { return true };
        // Where the melody's next note is known, what comes after it may not come at all.
        let moves = scene.chart_melody().and_then(|chart| chart.next_note(self.now)).map(|n| n.at);
        let end = moves.map_or(run.end, |moves| moves.min(run.end));
        let mut lines = false;
        for thread in Thread::ALL {
            let coming = pattern.steps.iter().enumerate().skip(run.next);
            let coming = coming.take_while(|(_, step)| run.origin + step.at < end);
            let first = coming.into_iter().find(|(_, s)| matches!(s.who, Who::Line(of, _) if of == thread));
            let Some((index, _)) = first else { continue };
            lines = true;
            self.ask(scene, thread, index);
            if self.lines.get(thread.index()).is_some_and(|line| !line.notes.is_empty()) {
                return true;
            }
        }
        !lines && !matches!(run.family, Family::BassLine | Family::InnerLine)
    }

    /// Starts the figure of the plan. Where it is a line that finds no way, another figure is planned instead,
    /// first of all families but inner lines, then of those without lines.
    pub(super) fn start_planned(&mut self, scene: &Scene<'_>, reading: &Reading) {
        let mut settings = *scene.settings;
        for _ in 0..2 {
            let Some(figure) = self.plan.figure else { return };
            self.start_figure(scene, reading, figure);
            if self.finds_its_way(scene) {
                return;
            }
            let inner = self.running.is_some_and(|run| run.family == Family::InnerLine);
            settings.manner.inner_line = 0;
            if !inner {
                settings.manner.bass_line = 0;
            }
            let other = decide(reading, &settings, scene.figures);
            self.running = None;
            self.plan = Plan { parts: self.plan.parts, ..other };
        }
        if let Some(figure) = self.plan.figure {
            self.start_figure(scene, reading, figure);
        }
    }

    /// The notes that a step of the voicing strikes, each part where its line has led it.
    pub(super) fn present_parts(&self, who: Who) -> ArrayVec<Pitch, { crate::voicing::MAX_PARTS }> {
        parts_of(who, &self.present_voicing())
    }
}
