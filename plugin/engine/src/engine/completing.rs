//! Completing a chord of which a figure struck no more than the bass, or left out what tells it from others (its third,
//! its seventh), before the melody took another turn: for the rest of the bar that is no chord, or another one.
//!
//! What is missing comes at once, with the melody note. Not here: figures that still lay the chord themselves.

use figwort_theory::{Moment, Pitch, PitchClassSet};

use super::{Engine, RECENT_MS, Scene};
use crate::book::Who;
use crate::event::{EventSink, Hand};
use crate::observation::Texture;
use crate::reading::habit::nearest_beat;
use crate::schedule::{Desk, Until};
use crate::voicing::voice;

/// A chord that comes so many milliseconds before a melody note at most is that note's.
const LATE_MELODY_MS: u32 = 100;

impl Engine {
    /// Gives a bass that is by itself, and would stay so, the rest of its chord; a chord the guide tones that nobody has.
    pub(super) fn lay_the_rest<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
    ) {
        let alone = !self.laid && self.bass_is_alone();
        let missing = self.missing_guides();
        if !(alone || !missing.is_empty() && self.laid && self.takes_a_while(scene))
            || self.chord_is_coming(scene)
            || self.line_is_open()
            || self.something_may_begin(scene, frame)
        {
            return;
        }
        for pitch in self.present_parts(Who::Upper) {
            if alone || missing.contains(pitch.class()) {
                self.strike_part(desk, scene, frame, pitch, Until::Change, 0);
            }
        }
    }

    /// A chord played by hand comes a moment before its melody note, and is laid out under the note before, which may have
    /// had its third or its seventh: what is missing under the new one is struck with it.
    pub(super) fn follow_melody<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
    ) {
        let late = self.clock.span_of_millis(LATE_MELODY_MS);
        if scene.chart_harmony().is_some()
            || self.plan.texture != Texture::Block
            || self.now - self.harmony.changed > late
            || !self.laid
        {
            return;
        }
        let missing = self.missing_guides();
        if missing.is_empty() {
            return;
        }
        let reading = self.reading(scene);
        let Some(mut request) = self.request(scene, &reading, &self.plan, self.melody.sounding()) else {
            return;
        };
        request.kept_bass = self.voicing.bass();
        let fuller = voice(&request, Some(&self.voicing));
        if !self.goes_with_what_sounds(&request, &fuller) {
            return;
        }
        self.voicing = fuller;
        for pitch in self.present_parts(Who::Upper) {
            if missing.contains(pitch.class()) {
                self.strike_part(desk, scene, frame, pitch, Until::Change, 0);
            }
        }
    }

    /// Guide tones of the chord that neither the accompaniment nor the melody sounds, or is about to sound.
    pub(super) fn missing_guides(&self) -> PitchClassSet {
        let Some(chord) = self.harmony.chord else { return PitchClassSet::EMPTY };
        let soon = self.now + self.clock.span_of_millis(RECENT_MS);
        let sounding = self.schedule.sounding().iter().map(|note| note.pitch);
        let present = sounding.chain(self.schedule.awaited(soon)).map(Pitch::class);
        present.fold(chord.guide_tones(), PitchClassSet::without)
    }

    /// Whether the chord goes on for a beat at least, as far as is known.
    fn takes_a_while(&self, scene: &Scene<'_>) -> bool {
        let bar = self.bar(scene, self.now);
        let change = scene.chart_harmony().and_then(|chart| chart.next_harmony(self.now)).map(|h| h.at);
        change.unwrap_or(bar.end()) - self.now >= bar.metre.beat()
    }

    /// Whether the running figure still strikes notes of the chord above the bass; lines are none.
    fn chord_is_coming(&self, scene: &Scene<'_>) -> bool {
        let Some(run) = self.running else { return false };
        let metre = self.bar(scene, run.origin.max(self.now)).metre;
        let steps = run.pattern(scene.figures, metre).and_then(|pattern| pattern.steps.get(run.next..));
        steps
            .unwrap_or_default()
            .iter()
            .any(|step| !matches!(step.who, Who::Bass | Who::BelowBass | Who::Line(..) | Who::Climb(_)))
    }

    /// Whether nothing of the accompaniment sounds above its bass.
    fn bass_is_alone(&self) -> bool {
        let bass = self.voicing.bass();
        self.schedule.sounding().iter().all(|note| note.hand == Hand::Melody || Some(note.pitch) <= bass)
    }

    /// Whether a chord or a bar begins in this very moment, or a chord played by hand may well come, early or
    /// late, on the beat that is nearest or within half a beat.
    fn something_may_begin(&self, scene: &Scene<'_>, frame: u64) -> bool {
        let bar = self.bar(scene, self.now);
        let half = bar.metre.beat().fraction(3, 8);
        let by_hand = scene.chart_harmony().is_none();
        let may_come = |at: Moment| {
            nearest_beat(&bar, at).is_some_and(|place| {
                bar.start + bar.metre.beat() * place as i64 >= bar.end() || !self.habit.rules_out(place)
            })
        };
        self.something_begins(scene)
            || by_hand && (may_come(self.now) || may_come(self.now + half))
            || self.change_is_near(scene, frame)
    }
}
