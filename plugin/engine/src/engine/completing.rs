//! Completing a chord of which a figure struck no more than the bass, or left out what tells it from others (its third,
//! its seventh), before the melody took another turn: for the rest of the bar that is no chord, or another one.
//!
//! What is missing comes at once, with the melody note. Not here: figures that still lay the chord themselves.

use figwort_theory::{Moment, Pitch, PitchClassSet, Span};

use super::{Engine, RECENT_MS, Scene};
use crate::book::Who;
use crate::event::{EventSink, Hand};
use crate::observation::Texture;
use crate::reading::habit::nearest_beat;
use crate::schedule::{Desk, Until};
use crate::voicing::{UNDER_MELODY, voice};

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
        // A note held over from the last chord is as good as one that was laid.
        let begun = self.laid || !self.bass_is_alone();
        let missing = self.missing_guides(scene);
        let beat = self.bar(scene, self.now).metre.beat();
        if !(alone || !missing.is_empty() && begun && self.goes_on_for(scene, beat))
            || self.chord_is_coming(scene)
            || self.line_is_open()
            || self.something_may_begin(scene, frame)
        {
            return;
        }
        for pitch in self.present_parts(Who::Upper) {
            if (alone || missing.contains(pitch.class())) && !self.sets_out(scene, pitch) {
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
        if scene.chart_harmony().is_none()
            && self.plan.texture == Texture::Block
            && self.now - self.harmony.changed <= late
            && self.laid
        {
            self.lay_elsewhere(desk, scene, frame);
        }
    }

    /// A hand has had to let notes go for the melody: the guide tones among them are laid where they can be reached now,
    /// and for two beats at least, unless the melody has them soon.
    pub(super) fn make_up<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>, frame: u64) {
        let time = self.bar(scene, self.now).metre.beat() * 2;
        if self.plan.texture == Texture::Block
            && self.goes_on_for(scene, time)
            && !self.melody_brings(scene, self.missing_guides(scene), time)
            && !self.chord_is_coming(scene)
            && !self.line_is_open()
            && !self.something_may_begin(scene, frame)
        {
            self.lay_elsewhere(desk, scene, frame);
        }
    }

    /// Strikes the guide tones that nobody has where the melody leaves room for them now, beside what sounds.
    fn lay_elsewhere<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>, frame: u64) {
        let missing = self.missing_guides(scene);
        if missing.is_empty() || self.ornament.is_some() {
            return;
        }
        let reading = self.reading(scene);
        let Some(mut request) = self.request(scene, &reading, &self.plan, self.melody.sounding()) else {
            return;
        };
        request.kept_bass = self.voicing.bass();
        let other = voice(&request, Some(&self.voicing));
        if !self.goes_with_what_sounds(&request, &other) {
            return;
        }
        self.voicing = other;
        let room = |pitch: Pitch| reading.ceiling.is_none_or(|ceiling| ceiling.above(pitch) >= UNDER_MELODY);
        for pitch in self.present_parts(Who::Upper) {
            if missing.contains(pitch.class()) && room(pitch) {
                self.strike_part(desk, scene, frame, pitch, Until::Change, 0);
            }
        }
    }

    /// Whether the sheet's melody has one of these classes within a time.
    fn melody_brings(&self, scene: &Scene<'_>, classes: PitchClassSet, time: Span) -> bool {
        let Some(chart) = scene.chart_melody() else { return false };
        let coming =
            chart.melody.get(chart.melody.partition_point(|n| n.at <= self.now)..).unwrap_or_default();
        coming.iter().take_while(|n| n.at < self.now + time).any(|n| classes.contains(n.pitch.class()))
    }

    /// Guide tones of the chord that neither the accompaniment nor the melody sounds, or is about to sound. A sheet's
    /// melody counts as written, so that it is the same wherever playing began.
    pub(super) fn missing_guides(&self, scene: &Scene<'_>) -> PitchClassSet {
        let Some(chord) = self.harmony.chord else { return PitchClassSet::EMPTY };
        let soon = self.now + self.clock.span_of_millis(RECENT_MS);
        let own = self.schedule.sounding().iter().filter(|note| note.hand != Hand::Melody);
        let own = own.map(|note| note.pitch).chain(self.schedule.awaited(soon));
        let melody = self.melody_during(scene, self.now, self.now + Span(1));
        let present = own.chain(melody.map(|(pitch, _)| pitch)).map(Pitch::class);
        present.fold(chord.guide_tones(), PitchClassSet::without)
    }

    /// Whether the chord goes on for so long at least: as far as the sheet says, live to the bar line.
    fn goes_on_for(&self, scene: &Scene<'_>, time: Span) -> bool {
        let end = self.known_end(scene).unwrap_or(self.bar(scene, self.now).end());
        end - self.now >= time
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

    /// Whether a line leaves a note of the voicing in this very moment.
    fn sets_out(&self, scene: &Scene<'_>, pitch: Pitch) -> bool {
        let Some(run) = self.running else { return false };
        let metre = self.bar(scene, run.origin.max(self.now)).metre;
        let steps = run.pattern(scene.figures, metre).and_then(|pattern| pattern.steps.get(run.next..));
        let due = steps.unwrap_or_default().iter().take_while(|step| run.origin + step.at <= self.now);
        let present = self.present_voicing();
        due.filter_map(|step| match step.who {
            Who::Line(thread, _) => present.notes().get(self.part_of(thread)?).copied(),
            _ => None,
        })
        .any(|leaves| leaves == pitch)
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
