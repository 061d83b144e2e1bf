//! The demonstration take: a melody and plain chords as a pianist played them, sent in as if they were played
//! now, so that one press lets somebody hear what Figwort does.
//!
//! In time with a running transport it begins with the next bar, otherwise at once. While it plays the melody
//! is looked for on channel 1 and the chords on channel 2, whatever the settings say.
//!
//! # Real time
//! `Demo` is the audio thread's: no allocation, no lock. `DemoTake::embedded` is not.

use figwort_engine::{InputMessage, Source, Transport};
use figwort_sheet::take::{self, TakeMessage};
use figwort_theory::{Metre, Moment, Span, TICKS_PER_QUARTER};

use crate::process::Inlet;

const TAKE: &[u8] = include_bytes!("../../../presets/songs/lamps-along-the-landing.take.mid");
/// What it is called.
pub const TITLE: &str = "Lamps Along the Landing";
/// The last chord rings on this long after the take's end.
const RING_OUT: Span = Span(4 * TICKS_PER_QUARTER);

/// The take, ready to be sent in.
#[derive(Debug)]
pub(crate) struct DemoTake {
    /// By time, from zero.
    events: Vec<(Moment, u8, InputMessage)>,
    end: Moment,
    /// Quarter notes a minute.
    pub(crate) tempo: f64,
    pub(crate) metre: Metre,
}

impl DemoTake {
    /// The take that comes with Figwort.
    pub(crate) fn embedded() -> Result<Self, String> {
        let take = take::read(TAKE).map_err(|error| format!("the demonstration take: {error}"))?;
        let events = take.events.iter().filter_map(|event| {
            let message = match event.message {
                TakeMessage::NoteOn { pitch, velocity } => InputMessage::NoteOn { pitch, velocity },
                TakeMessage::NoteOff { pitch } => InputMessage::NoteOff { pitch },
                TakeMessage::Sustain(down) => InputMessage::Sustain(down),
                _ => return None,
            };
            Some((event.at, event.channel, message))
        });
        let micros =
            take.tempos.first().map_or(figwort_sheet::DEFAULT_TEMPO, |tempo| tempo.micros_per_quarter);
        Ok(Self {
            events: events.collect(),
            end: take.end,
            tempo: 60e6 / f64::from(micros.max(1)),
            metre: take.metres.first().map_or(Metre::FOUR_FOUR, |change| change.metre),
        })
    }
}

/// The take being played.
#[derive(Debug, Default)]
pub(crate) struct Demo {
    pub(crate) take: Option<Box<DemoTake>>,
    next: usize,
    /// Ticks since its beginning; negative before it.
    elapsed: f64,
}

impl Demo {
    /// Who supplies what while it plays.
    pub(crate) const SOURCE: Source = Source::Channels { melody: 0, harmony: 1 };

    /// Begins: with the next bar of a running transport, else at once.
    pub(crate) fn begin(&mut self, transport: &Transport) {
        self.next = 0;
        let bar = transport.metre.unwrap_or(Metre::FOUR_FOUR).bar().in_quarters();
        let wait = match (transport.playing, transport.position, transport.bar_start) {
            (true, Some(position), Some(bar_start)) if position > bar_start => {
                (bar_start + bar - position).clamp(0.0, bar)
            }
            _ => 0.0,
        };
        self.elapsed = -wait * TICKS_PER_QUARTER as f64;
    }

    /// Whether there is something to play, or the last chord still rings.
    pub(crate) fn playing(&self) -> bool {
        self.take.as_ref().is_some_and(|take| self.elapsed < (take.end + RING_OUT).0 as f64)
    }

    /// Sends in what falls into the next frames; `rate` in ticks per frame.
    pub(crate) fn feed(&mut self, inlet: &mut Inlet, frames: u32, rate: f64) {
        let Some(take) = &self.take else { return };
        while let Some((at, channel, message)) = take.events.get(self.next) {
            let frame = (at.0 as f64 - self.elapsed) / rate;
            if frame >= f64::from(frames) || !inlet.has_room() {
                break;
            }
            inlet.insert(frame.max(0.0) as u32, *channel, *message);
            self.next += 1;
        }
    }

    /// Time has passed; `rate` in ticks per frame.
    pub(crate) fn advance(&mut self, frames: u32, rate: f64) {
        if self.take.is_some() {
            self.elapsed += f64::from(frames) * rate;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_take_is_sent_in_whole_and_in_order() {
        let take = DemoTake::embedded().expect("a take");
        let all = take.events.len();
        assert!(all > 300 && take.tempo > 40.0, "{all} events at {}", take.tempo);
        let mut demo = Demo { take: Some(Box::new(take)), ..Demo::default() };
        let host = Transport {
            playing: true,
            tempo: Some(60.0),
            position: Some(5.0),
            bar_start: Some(4.0),
            metre: Some(Metre::FOUR_FOUR),
        };
        demo.begin(&host);
        // A thousand frames a beat: nothing for three beats, then the first event.
        let rate = TICKS_PER_QUARTER as f64 / 1_000.0;
        let mut inlet = Inlet::new();
        let (mut sent, mut frame, mut first) = (0, 0u64, None);
        while demo.playing() {
            inlet.clear();
            demo.feed(&mut inlet, 64, rate);
            assert!(inlet.events().is_sorted_by_key(|event| event.offset));
            if let Some(event) = inlet.events().first() {
                first = first.or(Some(frame + u64::from(event.offset)));
            }
            sent += inlet.events().len();
            demo.advance(64, rate);
            frame += 64;
        }
        assert_eq!(sent, all);
        assert!(first.is_some_and(|first| first >= 3_000), "{first:?}");
    }
}
