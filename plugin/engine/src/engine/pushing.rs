//! Pushing: chords that come before their beat and are held over it; and what is let go at a change.

use arrayvec::ArrayVec;
use figwort_theory::{Moment, Pitch, Span};

use super::{Engine, Scene, sheet};
use crate::book::{Step, Who};
use crate::decision::decide;
use crate::event::{EventSink, Hand};
use crate::observation::Texture;
use crate::schedule::{Desk, Onset, Until};
use crate::settings::Rung;
use crate::voicing::{MAX_PARTS, UNDER_MELODY, Voicing};

/// Notes that belong to what begins at a moment, and sound already.
#[derive(Clone, Debug, Default)]
pub(super) struct Tied {
    at: Option<Moment>,
    notes: ArrayVec<Pitch, MAX_PARTS>,
}

impl Engine {
    /// The next chord's parts above the bass come now and are held over its beginning. Where the next chord
    /// isn't known, or isn't near, it is the present one's parts that are struck. Where one of them would rub,
    /// none is: the chord then comes with its beat.
    pub(super) fn push<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        step: Step,
    ) {
        let beat = self.bar(scene, self.now).metre.beat();
        let end = self.running.map_or(self.now, |run| run.end);
        let ahead = self.look_ahead(scene).filter(|(at, ..)| *at - self.now <= beat);
        let (at, next) = match ahead {
            Some((at, voicing, _)) => (at, voicing),
            // A change is known to be near and its chord isn't: nothing is pushed.
            None if scene.chart_harmony().is_some_and(|chart| {
                chart.next_harmony(self.now).is_some_and(|h| h.at - self.now <= beat) || chart.end() <= end
            }) =>
            {
                return;
            }
            // Live, a chord that came in this bar may well go with it.
            None if scene.chart_harmony().is_none()
                && self.harmony.changed > self.bar(scene, self.now).start - beat =>
            {
                return;
            }
            None => (end, self.present_voicing()),
        };
        let bass = self.present_voicing().bass();
        if !self.opens_whole(scene, at) || !self.is_free_for(scene, &next, bass) {
            return;
        }
        let upper = next.notes().get(1..).unwrap_or_default();
        self.lift_pedal(desk, scene);
        self.schedule.release(desk, |note| note.hand != Hand::Melody && Some(note.pitch) != bass);
        for pitch in upper.iter().copied() {
            let hand = if next.left().contains(&pitch) { Hand::Left } else { Hand::Right };
            let velocity = self.velocity(scene, false, step.strength);
            self.schedule.strike(
                desk,
                frame,
                Onset { pitch, hand, channel: 0, velocity, until: Until::Change },
            );
        }
        self.retake_soon(scene);
        self.tied = Tied { at: Some(at), notes: upper.iter().copied().collect() };
    }

    /// Whether the parts above the bass of a voicing can be struck beside the melody and the bass that sounds.
    fn is_free_for(&self, scene: &Scene<'_>, next: &Voicing, bass: Option<Pitch>) -> bool {
        let settings = scene.settings;
        let rubs = |a: Pitch, b: Pitch| matches!(a.above(b).abs(), 0 | 1 | 13 | 25);
        next.notes().iter().skip(1).all(|pitch| {
            let right = !next.left().contains(pitch);
            let one_hand = settings.one_player && right && self.plan.rung != Rung::Plain;
            let reach = if one_hand { i32::from(settings.reach) } else { i32::MAX };
            let melody = self.melody.sounding();
            melody.is_none_or(|m| (UNDER_MELODY..=reach).contains(&m.above(*pitch)) && !rubs(m, *pitch))
                && bass.is_none_or(|bass| *pitch > bass && !rubs(bass, *pitch))
        })
    }

    /// Whether notes sound that belong to what comes, and shouldn't be let go of.
    pub(super) fn leads_on(&self) -> bool {
        self.leads || self.line_is_open() || self.tied.at.is_some_and(|at| at > self.now)
    }

    /// Whether the chord of a place to come is struck whole at its beginning, so that it can be pushed. Live,
    /// what comes isn't known.
    pub(super) fn opens_whole(&self, scene: &Scene<'_>, at: Moment) -> bool {
        let (Some(chart), Some(_)) = (scene.chart_harmony(), scene.chart_melody()) else { return true };
        let reading = sheet::read(chart, scene.settings, at);
        // A figure of lines that finds no way makes room for another, so that one counts, too.
        let mut chords_only = *scene.settings;
        (chords_only.manner.inner_line, chords_only.manner.bass_line) = (0, 0);
        [scene.settings, &chords_only].into_iter().all(|settings| {
            let plan = decide(&reading, settings, scene.figures);
            let figure = plan.figure.and_then(|(index, _)| scene.figures.get(index));
            match (plan.texture, figure.and_then(|figure| figure.pattern(reading.bar.metre))) {
                (Texture::Silent | Texture::Ending, _) => false,
                (_, None) => true,
                (_, Some(pattern)) => {
                    // A change inside the bar begins the figure anew; at the bar's start it may be in a later
                    // bar.
                    let begun = reading.form.number.rem_euclid(i64::from(pattern.bars.max(1)));
                    let from = if at == reading.bar.start { reading.bar.length * begun } else { Span::ZERO };
                    pattern.steps.iter().any(|s| s.at == from && matches!(s.who, Who::Upper | Who::All))
                }
            }
        })
    }

    /// Notes just struck are held over the next bar line or change.
    pub(super) fn tie_over(&mut self, notes: impl IntoIterator<Item = Pitch>) {
        let end = self.running.map(|run| run.end);
        if self.tied.at != end {
            self.tied = Tied { at: end, notes: ArrayVec::new() };
        }
        for pitch in notes {
            let _ = self.tied.notes.try_push(pitch);
        }
    }

    /// What sounded ends, but for notes that were tied over and belong to the new voicing too. Live, a chord
    /// that is struck anew is struck whole.
    pub(super) fn let_go<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        change: bool,
    ) {
        let tied = core::mem::take(&mut self.tied);
        let in_time = tied.at == Some(self.now);
        let known = !change || self.cursor.harmony == self.now;
        let suspended = self.ornament.map(|ornament| ornament.from);
        let stays = |pitch: Pitch| {
            (in_time
                && known
                && tied.notes.contains(&pitch)
                && self.voicing.notes().contains(&pitch)
                && self.is_out_of_the_way(scene, pitch))
                || suspended == Some(pitch)
        };
        let staying: ArrayVec<Pitch, { 2 * MAX_PARTS }> = self
            .schedule
            .sounding()
            .iter()
            .filter(|n| n.hand != Hand::Melody && stays(n.pitch))
            .map(|n| n.pitch)
            .take(2 * MAX_PARTS)
            .collect();
        self.schedule.forget_pending();
        self.schedule.release(desk, |note| note.hand != Hand::Melody && !staying.contains(&note.pitch));
        for pitch in staying {
            self.schedule.tie(pitch, frame);
        }
        // A note that the change leaves hanging sounds with it, held over or struck.
        if let Some(pitch) = suspended.filter(|p| self.schedule.note(*p).is_none()) {
            self.strike_part(desk, scene, frame, pitch, Until::Change, 0);
        }
    }
}
