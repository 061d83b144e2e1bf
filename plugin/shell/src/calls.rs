//! The calls of the engine in one block of the host's: one, or more where the host sends more events than fit into one,
//! and where a sheet's final chord is announced.
//!
//! Frames are offsets in the host's block. Deliberately absent: whose time it is, and what the block is begun and ended
//! with (the plugin's).
//!
//! # Real time
//! No allocation, no lock.

use std::marker::PhantomData;
use std::sync::atomic::Ordering;

use figwort_engine::{Block, Engine, Figure, Settings, Texture, Transport};
use figwort_theory::TICKS_PER_QUARTER;
use nice_plug::prelude::{NoteEvent, ProcessContext};

use crate::Figwort;
use crate::audition::Audition;
use crate::demo::Demo;
use crate::following::Following;
use crate::process::{Inlet, Lanes, Outlet};
use crate::rows::Rows;
use crate::session::Session;
use crate::tape::Tape;

/// What the calls of one block need, and leave changed.
pub(crate) struct Calls<'a> {
    pub(crate) engine: &'a mut Engine,
    pub(crate) inlet: &'a mut Inlet,
    pub(crate) lanes: &'a mut Lanes,
    pub(crate) rows: &'a mut Rows,
    pub(crate) demo: &'a mut Demo,
    pub(crate) tape: &'a mut Tape,
    pub(crate) session: &'a Session,
    /// As the player has them; each call makes of them what the sheet asks for.
    pub(crate) settings: Settings,
    pub(crate) figures: &'a [Figure],
    pub(crate) wanted: Following<'a>,
    /// Whether each hand has a channel of its own.
    pub(crate) apart: bool,
    pub(crate) sample_rate: f32,
}

impl Calls<'_> {
    /// Plays a whole block. `time` gives the transport at a frame. Says whether a sheet was followed in the last call.
    pub(crate) fn play<C: ProcessContext<Figwort>>(
        mut self,
        frames: u32,
        time: impl Fn(u32) -> Transport,
        context: &mut C,
        mut audition: Option<Audition<'_>>,
    ) -> bool {
        let (live, finish) = (self.settings.source, self.settings.finish);
        let mut next = context.next_event();
        let mut start = 0;
        loop {
            let mut transport = time(start);
            self.session.tell_metre(transport.metre);
            let followed = self.wanted.begin(&mut transport, live, self.sample_rate);
            self.settings.source = followed.source;
            self.settings.finish = finish || followed.last || self.session.finishing();
            let cut = followed.until.map_or(frames, |until| start.saturating_add(until).min(frames));
            let end = self.hear(&mut next, start, cut, frames, context);

            let tempo = transport.tempo.unwrap_or(self.settings.tempo);
            let rate = tempo * TICKS_PER_QUARTER as f64 / (60.0 * f64::from(self.sample_rate));
            self.demo.feed(self.inlet, end - start, rate);
            let block = Block {
                frames: end - start,
                transport,
                input: self.inlet.events(),
                settings: &self.settings,
                figures: self.figures,
                chart: followed.chart.as_ref(),
            };
            self.tape.begin(self.session, tempo);
            let mut outlet = Outlet {
                context: &mut *context,
                lanes: &mut *self.lanes,
                apart: self.apart,
                start,
                audition: audition.as_mut(),
                session: self.session,
                tape: &mut *self.tape,
                plugin: PhantomData::<Figwort>,
            };
            self.engine.process(block, &mut outlet);
            let snapshot = self.engine.snapshot();
            self.tape.keys(self.session, self.inlet.events());
            self.tape.end(self.session, end - start, snapshot);
            self.demo.advance(end - start, rate);
            if snapshot.texture == Texture::Ending {
                self.session.finish.store(false, Ordering::Release);
            }
            start = end;
            if next.is_none() && start >= frames {
                if let Some(audition) = &mut audition {
                    audition.until(frames as usize);
                }
                return followed.chart.is_some();
            }
        }
    }

    /// What is played in a call that begins at `start` and ends at `cut` at the latest: keys of our own, and the host's
    /// events as far as they fit. Leaves in `next` the first that does not, and answers where the call ends.
    fn hear<C: ProcessContext<Figwort>>(
        &mut self,
        next: &mut Option<NoteEvent<()>>,
        start: u32,
        cut: u32,
        frames: u32,
        context: &mut C,
    ) -> u32 {
        self.inlet.clear();
        self.rows.play(self.session, self.inlet, self.settings.source);
        while let Some(event) = next.take() {
            if !self.inlet.has_room() || (cut < frames && event.timing() >= cut) {
                *next = Some(event);
                break;
            }
            self.inlet.take(&event, start);
            *next = context.next_event();
        }
        next.as_ref().map_or(cut, |event| event.timing().clamp(start, cut))
    }
}
