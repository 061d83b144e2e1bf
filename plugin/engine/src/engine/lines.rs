//! Lines as they are played: whose turn it is, what is in the way, and what follows.
//!
//! The notes themselves are found by [`solve`]; here they are asked for when a line's first step is due, and
//! played step by step. A line that has begun a non-chord tone always gets to its resolution, also when the
//! figure gives way.

use arrayvec::ArrayVec;
use figwort_theory::{Moment, Pitch, Span};

use super::{Engine, RETAKE_MS, Scene};
use crate::book::{Aim, Family, Hold, Pattern, Step, Thread, Who};
use crate::decision::{Plan, decide};
use crate::event::{EventSink, Hand};
use crate::figure::line::{Held, MAX_NOTES, Target, Task, Wanted, Wishes, solve};
use crate::figure::parts_of;
use crate::reading::Reading;
use crate::reading::clock::Bar;
use crate::schedule::{Desk, Onset, Until};
use crate::settings::Rung;
use crate::voicing::{UNDER_MELODY, Voicing, bass_candidates};

/// One part's line in a running figure.
#[derive(Clone, Debug, Default)]
pub(super) struct Line {
    /// The part's index in the voicing.
    part: usize,
    /// The note that it has reached, where that isn't the voicing's own.
    pub(super) at: Option<Pitch>,
    /// It is at a non-chord tone, which owes its resolution.
    pub(super) open: bool,
    /// The note that it had before that one.
    pub(super) before: Option<Pitch>,
    /// Notes to come, each with its step's index and whether it is a chord tone.
    notes: ArrayVec<(usize, Pitch, bool), MAX_NOTES>,
    /// Steps before this one have been asked for.
    asked: usize,
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

    /// Which part of the voicing a thread leads.
    fn part_of(&self, thread: Thread) -> Option<usize> {
        let notes = self.voicing.notes();
        let last = notes.len().checked_sub(1).filter(|last| *last > 0);
        match thread {
            Thread::Bass => (!notes.is_empty()).then_some(0),
            Thread::Top => last,
            Thread::Inner => {
                let last = last?;
                // Room below, as far as an octave; the wide gap over the bass counts for no more.
                let room = |n: usize| match (notes.get(n), n.checked_sub(1).and_then(|m| notes.get(m))) {
                    (Some(note), Some(below)) => note.above(*below).min(12),
                    _ => 0,
                };
                (1..last.max(2)).max_by_key(|n| (room(*n), *n))
            }
        }
    }

    /// Finds the notes of a thread's steps from `index` on, up to where the part is struck anew.
    fn ask(&mut self, scene: &Scene<'_>, thread: Thread, index: usize) {
        let found = self.find_line(scene, thread, index);
        let Some(line) = self.lines.get_mut(thread.index()) else { return };
        line.notes.clear();
        match found {
            Some((part, notes, promised)) => {
                line.part = part;
                line.asked = notes.last().map_or(index, |(n, ..)| *n) + 1;
                line.notes = notes;
                if promised.is_some() {
                    self.promised = promised;
                }
            }
            // Another try at the next step: there may be a way from there.
            None => line.asked = index + 1,
        }
    }

    #[expect(clippy::type_complexity)]
    fn find_line(
        &mut self,
        scene: &Scene<'_>,
        thread: Thread,
        index: usize,
    ) -> Option<(usize, ArrayVec<(usize, Pitch, bool), MAX_NOTES>, Option<(Moment, Pitch)>)> {
        let run = self.running?;
        let bar = self.bar(scene, self.now);
        let pattern = run.pattern(scene.figures, bar.metre)?;
        let part = self.part_of(thread)?;
        // One part can't go two ways: where there is but one above the bass, the top line has it.
        let top_moves = pattern.steps.iter().any(|s| matches!(s.who, Who::Line(Thread::Top, _)));
        if thread == Thread::Inner && top_moves && self.part_of(Thread::Top) == Some(part) {
            return None;
        }
        let line = self.lines.get(thread.index())?;
        let start = line.at.or(self.voicing.notes().get(part).copied())?;
        // Where chords are played by hand, a part whose note has been let go of has nothing to lead on from.
        if thread != Thread::Bass && scene.chart_harmony().is_none() && self.schedule.note(start).is_none() {
            return None;
        }
        let change = scene.chart_harmony().and_then(|chart| chart.next_harmony(self.now)).map(|h| h.at);
        let end = change.map_or(run.end, |change| change.min(run.end));
        // Where the next chord isn't known, a line is over before one is to be expected, and no note of it waits
        // longer than a beat for the next.
        let blind = scene.chart_harmony().is_none();
        let end = if blind { end.min(self.expected_change(&bar)) } else { end };
        let chord = self.harmony.chord?;
        let key = self.reading(scene).key;

        let mut wishes = Wishes::new();
        let mut indices = ArrayVec::<usize, MAX_NOTES>::new();
        let mut home = None;
        let mut melody_home = None;
        for (n, step) in pattern.steps.iter().enumerate().skip(index) {
            let at = run.origin + step.at;
            if at >= end || indices.is_full() {
                break;
            }
            let asked = indices.last().and_then(|n| pattern.steps.get(*n));
            if blind && asked.is_some_and(|asked| step.at - asked.at > bar.metre.beat()) {
                break;
            }
            let level = bar.metre.level(at - bar.start);
            match step.who {
                Who::Line(of, aim) if of == thread => {
                    let last = match step.hold {
                        Hold::For(span) => (at + span).min(end),
                        Hold::Through | Hold::Over => end,
                    };
                    let melody = self.melody_during(scene, at, last);
                    let bass = (aim == Aim::Tenth).then(|| self.bass_at(pattern, step)).flatten();
                    let soon = end - at <= bar.metre.beat();
                    wishes.push(Wanted { aim, level, melody, soon, bass });
                    indices.push(n);
                }
                Who::Bass if thread == Thread::Bass => home = Some(level),
                Who::Top if thread == Thread::Top => home = Some(level),
                _ => {}
            }
            if home.is_some() {
                melody_home = self.melody_during(scene, at, at + Span(1));
                break;
            }
        }
        let own = self.voicing.notes().get(part).copied();
        // A note that the next chord will find held is left where it is.
        let kept = self.look_ahead(scene).and_then(|(at, voicing, _)| self.held_into(scene, at, &voicing));
        if thread != Thread::Bass && kept.is_some() && kept == own {
            return None;
        }
        let (target, promised) = match (home, own) {
            // Where the melody will be in its way, the line has to do without going home.
            (Some(_), Some(pitch)) if melody_home.is_some_and(|(low, _)| low.above(pitch) < UNDER_MELODY) => {
                (Target::Open, None)
            }
            (Some(level), Some(pitch)) => (Target::Known { pitch, level, change: false }, None),
            _ if indices.is_full() => (Target::Open, None),
            _ => self.what_follows(scene, thread, start, end),
        };

        let moves = |n: usize| {
            Thread::ALL.into_iter().any(|other| {
                self.part_of(other) == Some(n)
                    && pattern.steps.iter().any(|s| matches!(s.who, Who::Line(of, _) if of == other))
            })
        };
        let present = self.present_voicing();
        let held: Held = present
            .notes()
            .iter()
            .enumerate()
            .filter(|(n, _)| *n != part && !moves(*n))
            .map(|(_, p)| *p)
            .collect();
        let settings = scene.settings;
        let reach = i32::from(settings.reach);
        let in_left = part < self.voicing.left().len();
        let others = self.voicing.left().iter().enumerate().filter(|(n, _)| *n != part).map(|(_, p)| *p);
        let (low, high) = if thread == Thread::Bass {
            let from = others.max().and_then(|p| p.transpose(-reach)).unwrap_or(Pitch::new(0));
            let high = held.iter().min().and_then(|p| p.transpose(-3)).unwrap_or(Pitch::new(64));
            (from.max(settings.manner.bass_low), high)
        } else {
            let below = present.notes().get(part.checked_sub(1)?).copied()?;
            let above = present.notes().get(part + 1).and_then(|p| p.transpose(-1));
            let hand = if in_left { others.min().and_then(|p| p.transpose(reach)) } else { None };
            let high = above.unwrap_or(Pitch::new(84)).min(hand.unwrap_or(Pitch::new(127)));
            (below.transpose(2)?, high)
        };
        let one_hand = settings.one_player && !in_left && self.plan.rung != Rung::Plain;
        let task = Task {
            start,
            chord,
            key,
            steps: &wishes,
            target,
            low,
            high,
            held: &held,
            clarity: i32::from(settings.clarity),
            reach: if one_hand { reach } else { i32::MAX },
        };
        let notes = solve(&task)?;
        let notes = indices.iter().zip(&notes).map(|(n, (pitch, tone))| (*n, *pitch, *tone)).collect();
        Some((part, notes, promised))
    }

    /// The first beat of the bar, after now, on which this player may well change the chord; the bar's end at
    /// the latest.
    fn expected_change(&self, bar: &Bar) -> Moment {
        let beat = bar.metre.beat();
        let beats = (0..).map(|n| bar.start + beat * n).take_while(|at| *at < bar.end());
        beats
            .enumerate()
            .filter(|(place, at)| *at > self.now && !self.habit.rules_out(*place))
            .map(|(_, at)| at)
            .next()
            .unwrap_or(bar.end())
    }

    /// What the part takes after the line's end, where that is known; and the bass that it promises.
    fn what_follows(
        &mut self,
        scene: &Scene<'_>,
        thread: Thread,
        start: Pitch,
        end: Moment,
    ) -> (Target, Option<(Moment, Pitch)>) {
        let open = (Target::Open, None);
        let bar = self.bar(scene, end);
        let level = bar.metre.level(end - bar.start);
        if let Some((at, voicing, change)) = self.look_ahead(scene) {
            let notes = voicing.notes();
            let pitch = match thread {
                Thread::Bass => voicing.bass(),
                Thread::Top => notes.last().copied(),
                Thread::Inner => {
                    let upper = notes.get(1..).unwrap_or_default();
                    upper.iter().min_by_key(|p| p.above(start).abs()).copied()
                }
            };
            // An upper part is led only to a note that will be struck when its chord begins.
            let struck = at == end && (thread == Thread::Bass || self.opens_whole(scene, at));
            return match pitch.filter(|_| struck) {
                Some(pitch) => (Target::Known { pitch, level, change }, None),
                None => open,
            };
        }
        // The chords are known and the melody isn't: the bass can be promised, the other parts can't.
        let next = scene.chart_harmony().and_then(|chart| chart.next_harmony(self.now));
        let Some(chord) = next.filter(|h| h.at == end && thread == Thread::Bass).and_then(|h| h.chord) else {
            return open;
        };
        let manner = &scene.settings.manner;
        let ceiling = self.melody.sounding().and_then(|m| m.transpose(-12)).unwrap_or(manner.bass_high);
        bass_candidates(chord.bass, manner.bass_low, manner.bass_high.min(ceiling))
            .min_by_key(|p| p.above(start).abs())
            .map_or(open, |pitch| (Target::Known { pitch, level, change: true }, Some((end, pitch))))
    }

    /// The lowest and the highest melody note that is known to sound in a stretch of time.
    fn melody_during(&self, scene: &Scene<'_>, from: Moment, to: Moment) -> Option<(Pitch, Pitch)> {
        match scene.chart_melody() {
            Some(chart) => {
                let first = chart.melody.partition_point(|n| n.at + n.length <= from);
                let notes = chart.melody.get(first..).unwrap_or_default();
                let sounding = notes.iter().take_while(|n| n.at < to).map(|n| n.pitch);
                sounding.fold(None, |range: Option<(Pitch, Pitch)>, p| {
                    Some(range.map_or((p, p), |(low, high)| (low.min(p), high.max(p))))
                })
            }
            None => self.melody.sounding().map(|p| (p, p)),
        }
    }

    /// The note that the bass line has with a step.
    fn bass_at(&self, pattern: &Pattern, step: &Step) -> Option<Pitch> {
        let line = self.lines.get(Thread::Bass.index())?;
        let before = |n: &usize| pattern.steps.get(*n).is_some_and(|s| s.at <= step.at);
        let moved = line.notes.iter().rev().find(|(n, ..)| before(n)).map(|(_, pitch, _)| *pitch);
        moved.or(line.at).or(self.voicing.bass())
    }

    /// The notes that a step of the voicing strikes, each part where its line has led it.
    pub(super) fn present_parts(&self, who: Who) -> ArrayVec<Pitch, { crate::voicing::MAX_PARTS }> {
        parts_of(who, &self.present_voicing())
    }
}
