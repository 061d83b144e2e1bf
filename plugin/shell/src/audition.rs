//! What is heard of the instance itself: the built-in piano, or the player's soundfont in its place.
//!
//! Both start quiet and go through the same limiter. Deliberately absent: reading soundfonts (the session's).
//!
//! # Real time
//! [`Sounding::new`] takes memory; nothing else does, or waits.

use figwort_engine::{OutputEvent, OutputMessage};
use figwort_render::piano::Piano;
use figwort_render::soundfont::Instrument;

use crate::session::Session;

/// The instruments, at one sample rate.
pub(crate) struct Sounding {
    piano: Piano,
    font: Option<Box<Instrument>>,
    audible: bool,
}

impl Sounding {
    pub(crate) fn new(sample_rate: f32) -> Self {
        Self { piano: Piano::new(sample_rate), font: None, audible: false }
    }

    /// Damps everything.
    pub(crate) fn all_off(&mut self) {
        self.piano.all_off();
        if let Some(font) = &mut self.font {
            font.all_off();
        }
    }

    /// Takes another soundfont, or none, where the session has news.
    pub(crate) fn exchange(&mut self, session: &Session) {
        if session.instrument.take(&mut self.font) {
            // Whoever sounds next does not begin with what it left ringing.
            self.piano.all_off();
        }
    }

    /// Sounds into both channels at a factor of the usual loudness; not at all where there is none.
    pub(crate) fn begin<'a>(
        &'a mut self,
        gain: Option<f32>,
        channels: &'a mut [&mut [f32]],
    ) -> Option<Audition<'a>> {
        if gain.is_none() && self.audible {
            self.all_off();
        }
        self.audible = gain.is_some();
        let (Some(gain), [left, right, ..]) = (gain, channels) else { return None };
        let player = match &mut self.font {
            Some(font) => {
                font.set_gain(gain);
                Player::Font(font)
            }
            None => {
                self.piano.set_gain(gain);
                Player::Piano(&mut self.piano)
            }
        };
        Some(Audition { player, left, right, done: 0 })
    }
}

enum Player<'a> {
    Piano(&'a mut Piano),
    Font(&'a mut Instrument),
}

/// Who sounds in one of the host's blocks, and where to.
pub(crate) struct Audition<'a> {
    player: Player<'a>,
    /// Silent from the start.
    left: &'a mut [f32],
    right: &'a mut [f32],
    /// Frames that are done.
    done: usize,
}

impl Audition<'_> {
    /// Plays on up to a frame of the host's block.
    pub(crate) fn until(&mut self, frame: usize) {
        let frame = frame.min(self.left.len()).min(self.right.len());
        let span = self.done..frame;
        if let (Some(left), Some(right)) = (self.left.get_mut(span.clone()), self.right.get_mut(span)) {
            match &mut self.player {
                Player::Piano(piano) => piano.add_to(left, right),
                Player::Font(font) => font.render(left, right),
            }
            self.done = frame;
        }
    }

    /// Plays what left the engine, at its frame of the host's block.
    pub(crate) fn hear(&mut self, event: &OutputEvent, frame: usize) {
        self.until(frame);
        match (&mut self.player, event.message) {
            (Player::Piano(piano), OutputMessage::NoteOn { pitch, velocity, .. }) => {
                piano.note_on(pitch.key(), velocity.value());
            }
            (Player::Font(font), OutputMessage::NoteOn { pitch, velocity, .. }) => {
                font.note_on(pitch.key(), velocity.value());
            }
            (Player::Piano(piano), OutputMessage::NoteOff { pitch, .. }) => piano.note_off(pitch.key()),
            (Player::Font(font), OutputMessage::NoteOff { pitch, .. }) => font.note_off(pitch.key()),
            (Player::Piano(piano), OutputMessage::Pedal(down)) => piano.pedal(down),
            (Player::Font(font), OutputMessage::Pedal(down)) => font.pedal(down),
            (_, OutputMessage::Other { .. }) => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use figwort_engine::Hand;
    use figwort_theory::{Pitch, Velocity};

    use super::*;

    /// A second of one struck key, heard from its half on: how often the sound rises through zero, and its peak.
    fn heard(sounding: &mut Sounding, gain: f32) -> (usize, f32) {
        let (mut left, mut right) = (vec![0.0; 48_000], vec![0.0; 48_000]);
        let mut channels = [&mut left[..], &mut right[..]];
        let mut audition = sounding.begin(Some(gain), &mut channels).expect("two channels");
        let message = OutputMessage::NoteOn {
            hand: Hand::Right,
            channel: 0,
            pitch: Pitch::new(69),
            velocity: Velocity::new(80),
        };
        audition.hear(&OutputEvent { offset: 0, message }, 24_000);
        audition.until(48_000);
        assert!(left[..24_000].iter().all(|sample| *sample == 0.0), "before the key");
        let rising = left[24_000..].windows(2).filter(|pair| pair[0] <= 0.0 && pair[1] > 0.0).count();
        (rising, left.iter().fold(0.0, |peak, sample| sample.abs().max(peak)))
    }

    #[test]
    fn a_soundfont_takes_the_pianos_place_and_gives_it_back() {
        let session = Session::new();
        session.set_rate(48_000.0);
        let mut sounding = Sounding::new(48_000.0);
        let piano = heard(&mut sounding, 1.0);
        let file = concat!(env!("CARGO_MANIFEST_DIR"), "/../render/src/soundfont/sine.sf2");
        assert_eq!(session.load_soundfont(file.as_ref()).as_deref(), Ok("Sine"));
        sounding.exchange(&session);
        assert!(sounding.font.is_some());
        // The font is tuned to 441 Hz, the piano to 440 and not a sine.
        let (rising, peak) = heard(&mut sounding, 1.0);
        assert!((219..=221).contains(&rising) && (0.02..0.5).contains(&peak), "{rising} {peak}");
        assert!(sounding.begin(None, &mut []).is_none());
        session.clear_soundfont();
        sounding = Sounding { piano: Piano::new(48_000.0), ..sounding };
        sounding.exchange(&session);
        assert!(sounding.font.is_none());
        assert_eq!(heard(&mut sounding, 1.0), piano);
    }
}
