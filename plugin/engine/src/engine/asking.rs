//! Lines as they are asked for: which part leads, what its steps want, what is in the way, and what follows.
//!
//! The notes themselves are found by [`solve`]; how they are played is the line's own matter.

use arrayvec::ArrayVec;
use figwort_theory::{Moment, Pitch, Span};

use super::{Engine, Scene};
use crate::book::{Aim, Hold, Pattern, Step, Thread, Who};
use crate::event::Hand;
use crate::figure::line::{self, Held, MAX_NOTES, Target, Task, Wanted, Wishes, solve};
use crate::reading::clock::Bar;
use crate::schedule::Until;
use crate::settings::Rung;
use crate::voicing::{UNDER_MELODY, bass_candidates};

/// Notes of a line to come, each with its step's index and whether it is a chord tone.
pub(super) type Notes = ArrayVec<(usize, Pitch, bool), MAX_NOTES>;

/// A way that was found.
struct Found {
    /// The part's index in the voicing.
    part: usize,
    notes: Notes,
    /// The bass that the line leads to, and when.
    promised: Option<(Moment, Pitch)>,
}

/// What a line's steps ask for.
#[derive(Default)]
struct Asked {
    wishes: Wishes,
    /// The steps that ask.
    indices: ArrayVec<usize, MAX_NOTES>,
    /// The part is struck anew afterwards: the metrical weight of that place and the melody there.
    home: Option<(u8, Option<(Pitch, Pitch)>)>,
}

/// Where a part may move.
struct Room {
    /// Notes that stay meanwhile.
    held: Held,
    low: Pitch,
    high: Pitch,
}

/// The line that asks.
#[derive(Clone, Copy)]
struct Asking<'a> {
    thread: Thread,
    /// Its part's index in the voicing.
    part: usize,
    /// Its note now.
    start: Pitch,
    pattern: &'a Pattern,
    /// The first step asked for.
    index: usize,
    /// When the pattern began.
    origin: Moment,
    /// Steps from here on belong to something else.
    end: Moment,
    /// A note that the next chord will find held, and since when it sounds.
    kept: Option<(Moment, Pitch)>,
}

/// Whether a pattern leads a part by a line.
fn leads(pattern: &Pattern, thread: Thread) -> bool {
    pattern.steps.iter().any(|step| matches!(step.who, Who::Line(of, _) if of == thread))
}

/// Whether a line has neither two notes by turns nor the same again, a note that comes before its chord excepted.
fn goes_somewhere(start: Pitch, notes: &line::Notes, target: Target) -> bool {
    let (follows, home) = match target {
        Target::Known { pitch, change, .. } => (Some(pitch), !change),
        Target::Open => (None, false),
    };
    let line = || core::iter::once(start).chain(notes.iter().map(|(pitch, _)| *pitch));
    let all = || line().chain(follows);
    let by_turns = all().zip(all().skip(1)).zip(all().skip(2).zip(all().skip(3)));
    let again = |home: Option<Pitch>| line().zip(line().skip(1).chain(home)).any(|(note, next)| note == next);
    by_turns.into_iter().all(|(before, after)| before != after) && !again(follows.filter(|_| home))
}

/// Who strikes a thread's part anew, if that ever happens within a pattern.
fn anew(thread: Thread) -> Option<Who> {
    match thread {
        Thread::Bass => Some(Who::Bass),
        Thread::Top => Some(Who::Top),
        Thread::Inner => None,
    }
}

impl Engine {
    /// Which part of the voicing a thread leads.
    pub(super) fn part_of(&self, thread: Thread) -> Option<usize> {
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
    pub(super) fn ask(&mut self, scene: &Scene<'_>, thread: Thread, index: usize) {
        let found = self.find_line(scene, thread, index);
        let Some(line) = self.lines.get_mut(thread.index()) else { return };
        line.notes.clear();
        match found {
            Some(found) => {
                line.part = found.part;
                line.asked = found.notes.last().map_or(index, |(n, ..)| *n) + 1;
                line.notes = found.notes;
                if found.promised.is_some() {
                    self.promised = found.promised;
                }
            }
            // Another try at the next step: there may be a way from there.
            None => line.asked = index + 1,
        }
    }

    fn find_line(&mut self, scene: &Scene<'_>, thread: Thread, index: usize) -> Option<Found> {
        let run = self.running?;
        let bar = self.bar(scene, self.now);
        let pattern = run.pattern(scene.figures, bar.metre)?;
        let part = self.part_of(thread)?;
        // One part can't go two ways: where there is but one above the bass, the top line has it.
        if thread == Thread::Inner && leads(pattern, Thread::Top) && self.part_of(Thread::Top) == Some(part) {
            return None;
        }
        let line = self.lines.get(thread.index())?;
        let start = line.at.or(self.voicing.notes().get(part).copied())?;
        // Where chords are played by hand, a part whose note has been let go of has nothing to lead on from.
        let blind = scene.chart_harmony().is_none();
        if thread != Thread::Bass && blind && self.schedule.note(start).is_none() {
            return None;
        }
        let change = scene.chart_harmony().and_then(|chart| chart.next_harmony(self.now)).map(|h| h.at);
        let end = change.map_or(run.end, |change| change.min(run.end));
        // Where the next chord isn't known, a line is over before one is to be expected.
        let end = if blind { end.min(self.expected_change(&bar)) } else { end };
        let chord = self.harmony.chord?;
        let key = self.reading(scene).key;

        let ahead = self.look_ahead(scene);
        let kept = ahead.as_ref().and_then(|(at, voicing, _)| {
            let pitch = self.held_into(scene, *at, voicing)?;
            Some((*at - bar.metre.beat(), pitch))
        });
        let own = self.voicing.notes().get(part).copied();
        // A note that the next chord will find held is left where it is.
        if thread != Thread::Bass && kept.is_some_and(|(_, pitch)| Some(pitch) == own) {
            return None;
        }
        let asking = Asking { thread, part, start, pattern, index, origin: run.origin, end, kept };
        let Asked { wishes, indices, home } = self.wishes(scene, asking);
        let (target, promised) = match (home, own) {
            // Where the melody will be in its way, the line has to do without going home.
            (Some((_, Some((low, high)))), Some(pitch))
                if low.above(pitch) < UNDER_MELODY || self.rubs(pitch, low) || self.rubs(pitch, high) =>
            {
                (Target::Open, None)
            }
            (Some((level, _)), Some(pitch)) => (Target::Known { pitch, level, change: false }, None),
            _ if indices.is_full() => (Target::Open, None),
            _ => self.what_follows(scene, thread, start, end),
        };

        let Room { held, low, high } = self.room(scene, asking)?;
        let settings = scene.settings;
        let in_left = part < self.voicing.left().len();
        let one_hand = settings.one_player && !in_left && self.plan.rung != Rung::Plain;
        let task = Task {
            start,
            chord,
            key,
            steps: &wishes,
            target,
            follows_home: ahead.as_ref().filter(|_| home.is_some()).and_then(|(_, next, _)| match thread {
                Thread::Bass => next.bass(),
                _ => next.notes().last().copied(),
            }),
            low,
            high,
            held: &held,
            clarity: i32::from(settings.clarity),
            reach: if one_hand { i32::from(settings.reach) } else { i32::MAX },
        };
        // Rather fewer notes than two by turns, or one again and again.
        let whole = solve(&task)?;
        let (skipped, notes) = if goes_somewhere(start, &whole, target) {
            (0, whole)
        } else {
            (1..wishes.len()).find_map(|skipped| {
                let notes = solve(&Task { steps: wishes.get(skipped..)?, ..task })?;
                goes_somewhere(start, &notes, target).then_some((skipped, notes))
            })?
        };
        let indices = indices.iter().skip(skipped);
        let notes = indices.zip(&notes).map(|(n, (pitch, tone))| (*n, *pitch, *tone)).collect();
        Some(Found { part, notes, promised })
    }

    /// What a thread's steps ask for, before the end, or until its part is struck anew.
    fn wishes(&self, scene: &Scene<'_>, asking: Asking<'_>) -> Asked {
        let Asking { thread, pattern, index, origin, end, .. } = asking;
        let bar = self.bar(scene, self.now);
        let beat = bar.metre.beat();
        let blind = scene.chart_harmony().is_none();
        let anew = anew(thread);
        let mut asked = Asked::default();
        for (n, step) in pattern.steps.iter().enumerate().skip(index) {
            let at = origin + step.at;
            if at >= end || asked.indices.is_full() {
                break;
            }
            // Nor does a note of a line wait longer than a beat for the next where nobody knows what comes.
            let before = asked.indices.last().and_then(|n| pattern.steps.get(*n));
            if blind && before.is_some_and(|before| step.at - before.at > beat) {
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
                    let beside = self.beside(asking, at, last.max(at + Span(1)));
                    asked.wishes.push(Wanted { aim, level, melody, soon: end - at <= beat, bass, beside });
                    asked.indices.push(n);
                }
                who if Some(who) == anew => {
                    asked.home = Some((level, self.melody_during(scene, at, at + Span(1))));
                    break;
                }
                _ => {}
            }
        }
        asked
    }

    /// Notes that sound beside a line's from one moment to another and aren't held all the time: those that
    /// other lines have then, as far as they are known, what held notes resolve to, what will be held over the
    /// next change, and what still sounds but isn't of the voicing.
    fn beside(&self, asking: Asking<'_>, from: Moment, to: Moment) -> Held {
        let Asking { part, start, pattern, index, origin, .. } = asking;
        let mut beside = Held::new();
        // A note that finds no room is one too many to be heard apart.
        let mut add = |pitch: Pitch| {
            if !beside.contains(&pitch) {
                let _ = beside.try_push(pitch);
            }
        };
        let others =
            Thread::ALL.into_iter().filter(|other| *other != asking.thread && leads(pattern, *other));
        for other in others {
            let (Some(line), Some(of)) = (self.lines.get(other.index()), self.part_of(other)) else {
                continue;
            };
            if of == part {
                continue;
            }
            let home = self.voicing.notes().get(of).copied();
            let mut at = line.at.or(home);
            for (n, step) in pattern.steps.iter().enumerate().skip(index) {
                let moment = origin + step.at;
                if moment >= to {
                    break;
                }
                let next = match step.who {
                    Who::Line(..) => line.notes.iter().find(|(asked, ..)| *asked == n).map(|(_, p, _)| *p),
                    who if Some(who) == anew(other) => home,
                    _ => None,
                };
                if next.is_some() && moment > from {
                    at.into_iter().for_each(&mut add);
                }
                at = next.or(at);
            }
            at.into_iter().for_each(&mut add);
        }
        let resolution = self.ornament.and_then(|ornament| ornament.resolution());
        let to_come = asking.kept.into_iter().chain(resolution);
        to_come.filter(|(since, _)| *since < to).for_each(|(_, pitch)| add(pitch));
        let present = self.present_voicing();
        for note in self.schedule.sounding().iter().filter(|note| note.hand != Hand::Melody) {
            let over = matches!(note.until, Until::At(end) if end <= from);
            if !over && note.pitch != start && !present.notes().contains(&note.pitch) {
                add(note.pitch);
            }
        }
        beside
    }

    /// Between which notes a part may move, and which are held meanwhile.
    fn room(&self, scene: &Scene<'_>, asking: Asking<'_>) -> Option<Room> {
        let Asking { thread, part, pattern, .. } = asking;
        let moves = |n: usize| {
            Thread::ALL.into_iter().any(|other| self.part_of(other) == Some(n) && leads(pattern, other))
        };
        let present = self.present_voicing();
        let held: Held = present
            .notes()
            .iter()
            .enumerate()
            .filter(|(n, _)| *n != part && !moves(*n))
            .map(|(_, p)| *p)
            .collect();
        let reach = i32::from(scene.settings.reach);
        let others = self.voicing.left().iter().enumerate().filter(|(n, _)| *n != part).map(|(_, p)| *p);
        let (low, high) = if thread == Thread::Bass {
            let from = others.max().and_then(|p| p.transpose(-reach)).unwrap_or(Pitch::new(0));
            let high = held.iter().min().and_then(|p| p.transpose(-3)).unwrap_or(Pitch::new(64));
            (from.max(scene.settings.manner.bass_low), high)
        } else {
            let below = present.notes().get(part.checked_sub(1)?).copied()?;
            let above = present.notes().get(part + 1).and_then(|p| p.transpose(-1));
            let in_left = part < self.voicing.left().len();
            let hand = if in_left { others.min().and_then(|p| p.transpose(reach)) } else { None };
            let high = above.unwrap_or(Pitch::new(84)).min(hand.unwrap_or(Pitch::new(127)));
            (below.transpose(2)?, high)
        };
        Some(Room { held, low, high })
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
    pub(super) fn melody_during(
        &self,
        scene: &Scene<'_>,
        from: Moment,
        to: Moment,
    ) -> Option<(Pitch, Pitch)> {
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
}
