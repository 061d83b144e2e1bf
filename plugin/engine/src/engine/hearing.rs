//! Hearing: input events reach the readers, or go through.

use figwort_theory::{Moment, Pitch, Velocity};

use super::{Engine, Scene};
use crate::event::{EventSink, Hand, InputEvent, InputMessage, OutputMessage};
use crate::reading::chance::{Around, NO_CHORD};
use crate::reading::chord::Heard;
use crate::reading::clock::Drive;
use crate::reading::melody::{LEGATO_MS, ORNAMENT_MS};
use crate::schedule::{Desk, Onset, Until};
use crate::settings::{Settings, Source, Start};

/// What a key that went down was taken for, so that its coming up is taken for the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
enum Role {
    /// It isn't down.
    #[default]
    Up,
    /// Melody: passed on and read.
    Melody,
    /// Harmony: read, not passed on.
    Harmony,
    /// Neither: passed on.
    Through,
    /// It was harmony under another setting; its coming up means nothing.
    Stale,
}

/// The role of every key on every channel.
#[derive(Clone, Debug)]
pub(super) struct Routes([[Role; 128]; 16]);

impl Default for Routes {
    fn default() -> Self {
        Self([[Role::Up; 128]; 16])
    }
}

impl Routes {
    fn slot(&mut self, channel: u8, pitch: Pitch) -> &mut Role {
        &mut self.0[usize::from(channel & 15)][pitch.index()]
    }

    /// Keys held as harmony mean nothing any more.
    pub(super) fn forget_harmony(&mut self) {
        for role in self.0.iter_mut().flatten() {
            if *role == Role::Harmony {
                *role = Role::Stale;
            }
        }
    }
}

fn role(settings: &Settings, channel: u8, pitch: Pitch) -> Role {
    if settings.bypass {
        return Role::Through;
    }
    match settings.source {
        Source::Split(split) if pitch < split => Role::Harmony,
        // Decided by the hands themselves.
        Source::Hands => Role::Through,
        Source::Split(_) | Source::ChartHarmony => Role::Melody,
        Source::Channels { melody, .. } if channel == melody => Role::Melody,
        Source::Channels { harmony, .. } if channel == harmony => Role::Harmony,
        Source::Channels { .. } | Source::Chart => Role::Through,
        Source::ChartMelody => Role::Harmony,
    }
}

impl Engine {
    /// Takes one input event.
    pub(super) fn hear<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        event: InputEvent,
    ) {
        let channel = event.channel & 15;
        match event.message {
            InputMessage::NoteOn { pitch, velocity } => {
                if *self.routes.slot(channel, pitch) != Role::Up {
                    // A key that goes down twice came up unheard.
                    self.key_up(desk, scene, frame, channel, pitch);
                }
                let role = match scene.settings.source {
                    Source::Hands if !scene.settings.bypass => self.hand_role(frame, pitch),
                    _ => role(scene.settings, channel, pitch),
                };
                *self.routes.slot(channel, pitch) = role;
                self.key_down(desk, scene, frame, role, channel, pitch, velocity);
            }
            InputMessage::NoteOff { pitch } => self.key_up(desk, scene, frame, channel, pitch),
            InputMessage::Sustain(down) => {
                self.player_pedal = down;
                if scene.settings.bypass || !scene.settings.pedal || scene.settings.dry {
                    self.schedule.set_pedal(desk, down);
                }
                let heard = self.chords.pedal(frame, down, scene.settings.latch);
                self.heard(desk, scene, frame, heard);
            }
            InputMessage::Other(bytes) => {
                // A controller that finds no room is lost, as in any full MIDI queue; no note depends on it.
                desk.send(OutputMessage::Other { channel, bytes });
            }
        }
    }

    fn hand_role(&mut self, frame: u64, pitch: Pitch) -> Role {
        if self.hands.press(frame, pitch) { Role::Melody } else { Role::Harmony }
    }

    #[allow(clippy::too_many_arguments, reason = "what a key press is")]
    fn key_down<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        role: Role,
        channel: u8,
        pitch: Pitch,
        velocity: Velocity,
    ) {
        match role {
            Role::Melody | Role::Through => {
                let onset = Onset { pitch, hand: Hand::Melody, channel, velocity, until: Until::Key };
                self.schedule.strike(desk, frame, onset);
                if role == Role::Melody {
                    self.melody_key(desk, scene, frame, pitch, velocity);
                }
            }
            Role::Harmony => {
                let heard = self.chords.press(frame, pitch, self.key.key());
                self.heard(desk, scene, frame, heard);
            }
            Role::Up | Role::Stale => {}
        }
    }

    fn key_up<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        channel: u8,
        pitch: Pitch,
    ) {
        let role = core::mem::take(self.routes.slot(channel, pitch));
        self.hands.release(pitch);
        match role {
            Role::Melody | Role::Through => {
                self.schedule.release(desk, |note| {
                    note.pitch == pitch && note.channel == channel && note.until == Until::Key
                });
                if role == Role::Melody {
                    self.melody_key_up(desk, scene, frame, pitch);
                }
            }
            Role::Harmony => {
                let key = self.key.key();
                let heard = self.chords.release(frame, pitch, scene.settings.latch, key);
                self.heard(desk, scene, frame, heard);
            }
            Role::Up | Role::Stale => {}
        }
    }

    fn melody_key<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        pitch: Pitch,
        velocity: Velocity,
    ) {
        let ornament = self.clock.frames_of_millis(ORNAMENT_MS);
        if self.melody.press(self.now, frame, pitch, velocity, ornament) {
            self.melody_sings(desk, scene, frame, (pitch, self.now));
        }
    }

    fn melody_key_up<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        pitch: Pitch,
    ) {
        let [legato, ornament] = [LEGATO_MS, ORNAMENT_MS].map(|millis| self.clock.frames_of_millis(millis));
        let next = self.melody.come_up(frame, pitch, legato, ornament);
        if let (Some(at), Some(pitch)) = (next, self.melody.sounding()) {
            self.melody_sings(desk, scene, frame, (pitch, at));
        }
    }

    /// The melody has a new note, which began `at`.
    fn melody_sings<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        (pitch, at): (Pitch, Moment),
    ) {
        self.key.hear_note(pitch.class(), self.now);
        self.place_note(scene, pitch, at);
        self.melody_moves(desk, scene, frame, (pitch, None));
    }

    /// Lets the melody's reader know where its new note belongs. While time stands it belongs nowhere.
    fn place_note(&mut self, scene: &Scene<'_>, pitch: Pitch, at: Moment) {
        if self.clock.drive() == Drive::Idle {
            return;
        }
        let root = self.chord(scene).map(|chord| chord.root);
        let around = Around {
            key: pitch.key(),
            degree: pitch.class().above(self.key.key().tonic),
            chord_degree: root.map_or(NO_CHORD, |root| pitch.class().above(root)),
            changed: self.harmony.chord.map(|_| self.harmony.changed),
        };
        let bar = self.bar(scene, at);
        self.melody.place(at, bar, around, scene.settings.start == Start::ByChance);
    }

    /// The time for gathering a chord's keys is over.
    pub(super) fn gathered<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>, frame: u64) {
        let heard = self.chords.expire(frame, scene.settings.latch, self.key.key());
        self.heard(desk, scene, frame, heard);
    }

    fn heard<S: EventSink>(&mut self, desk: &mut Desk<'_, S>, scene: &Scene<'_>, frame: u64, heard: Heard) {
        match heard {
            Heard::Nothing => {}
            Heard::New => {
                self.ensure_running(desk, frame);
                self.strike_chord(desk, scene, frame);
            }
            Heard::Bass => {
                self.ensure_running(desk, frame);
                self.move_bass(desk, scene, frame);
            }
            Heard::Refined => self.refine_chord(desk, scene, frame),
            Heard::Ended => self.end_chord(desk),
        }
    }

    /// A chart's note is over, though its time isn't.
    pub(super) fn release_chart_note<S: EventSink>(&mut self, desk: &mut Desk<'_, S>) {
        self.schedule
            .release(desk, |note| note.hand == Hand::Melody && matches!(note.until, Until::At(Moment(_))));
        if let Some((_, pitch)) = self.cursor.note_end.take() {
            self.melody.release(pitch);
        }
    }
}
