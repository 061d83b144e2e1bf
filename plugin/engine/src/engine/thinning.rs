//! Thinning: a figure's first beat is one stroke where the melody strikes a note that is known to be long.
//!
//! Deliberately absent: when figures begin and how they go on (moving).

use super::{Engine, Scene};
use crate::book::{Family, Step, Who};
use crate::event::EventSink;
use crate::reading::Reading;
use crate::schedule::Desk;

/// Motion, in tenths of onsets a quarter note, beyond which a manner runs on through first beats.
const MUCH: u8 = 36;

impl Engine {
    /// A melody that has moved strikes a note that is known to be long: the figure's first beat is one stroke,
    /// what a broken chord has in it together and repetitions left out, and it moves from the second beat on.
    /// Not in manners that move much or have one figure for all.
    pub(super) fn thin_first_beat<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        reading: &Reading,
    ) {
        let beat = reading.bar.metre.beat();
        let family = self.running.map(|run| run.family);
        let (Some(Family::BrokenChord | Family::RepeatedChord), Some(chart), Some(moves)) =
            (family, scene.chart_melody(), reading.moves_at)
        else {
            return;
        };
        let note = chart.melody.partition_point(|n| n.at <= self.now).checked_sub(1);
        let at = |n: usize| chart.melody.get(n).map(|n| n.at);
        let begins = note.and_then(at).is_some_and(|at| (self.now - at).0 * 6 < beat.0);
        let before = note.and_then(|n| n.checked_sub(1)).and_then(at);
        let moved = before.is_some_and(|before| (self.now - before).0 * 2 < beat.0 * 3);
        let manner = &scene.settings.manner;
        if !begins
            || !moved
            || (moves - self.now).0 * 2 < beat.0 * 3
            || manner.ostinato
            || manner.motion > MUCH
        {
            return;
        }
        while let Some((at, step)) = self.upcoming_step(scene) {
            if (at - self.now).0 * 6 >= beat.0 * 5 {
                break;
            }
            let index = self.advance_step();
            let parts = self.present_parts(step.who);
            let again = self.struck_so_far(scene, index).any(|who| {
                let struck = self.present_parts(who);
                parts.iter().any(|p| struck.contains(p))
            });
            if family == Some(Family::BrokenChord) && !again {
                self.play_step(desk, scene, frame, self.now, (index, step));
            }
        }
    }

    /// Who had the running figure's steps before this one, from about now on.
    fn struck_so_far<'a>(&self, scene: &Scene<'a>, index: usize) -> impl Iterator<Item = Who> + use<'a> {
        let metre = self.bar(scene, self.now).metre;
        let pattern = self.running.and_then(|run| Some((run, run.pattern(scene.figures, metre)?)));
        let (now, beat) = (self.now, metre.beat());
        pattern.into_iter().flat_map(move |(run, pattern)| {
            let recent = move |step: &&Step| (now - (run.origin + step.at)).0 * 6 < beat.0;
            pattern.steps.iter().take(index).filter(recent).map(|step| step.who)
        })
    }
}
