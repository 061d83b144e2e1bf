//! The plugin: CLAP, VST3 and standalone around the engine, with the editor.
//!
//! The only crate that knows the plugin framework and the screen. It turns host events into engine events
//! and back, parameters into [`figwort_engine::Settings`], and the engine's snapshots into a picture.
//!
//! Threads: the host's audio thread calls `process` and `reset`; everything else is the main thread's. The
//! engine's memory is made in `activate` and nowhere else. Snapshots go to the editor by triple buffer;
//! settings come back as the atomics that parameters are.
//!
//! Deliberately absent: music (the engine's), file formats (the sheet and preset crates').

use std::marker::PhantomData;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;

use figwort_engine::{Block, Engine, Snapshot, Texture};
use figwort_theory::{Moment, TICKS_PER_QUARTER};
use nice_plug::prelude::*;
use nice_plug_egui::{EguiEditor, EguiEditorState, RepaintNotifier};

mod audition;
mod clock;
pub mod demo;
pub mod editor;
mod files;
mod following;
pub mod manners;
pub mod params;
mod process;
mod rows;
pub mod session;
pub mod sheet;
#[cfg(feature = "standalone")]
pub mod standalone;
pub mod state;
pub mod take;
mod tape;

use audition::Sounding;
use clock::{Bar, OwnClock};
use demo::Demo;
use editor::EditorApp;
use following::Following;
use params::{FigwortParams, OutputChoice, SheetChoice};
use process::{Inlet, Lanes, Outlet};
use rows::Rows;
use session::Session;
use session::shelf::Book;
use sheet::Score;
use tape::Tape;

/// How long a host that renders is held up for a soundfont that is still being read.
const FONT_PATIENCE: Duration = Duration::from_secs(60);

/// What the audio thread shows the editor, at the end of every block.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Shown {
    /// The engine's state. While a sheet is followed its time is the sheet's, from zero.
    pub snapshot: Snapshot,
    /// Now, in the roll time of [`session::history`].
    pub roll: Moment,
    /// Whether a sheet is followed.
    pub following: bool,
}

/// The plugin as hosts see it.
pub struct Figwort {
    params: Arc<FigwortParams>,
    /// Made in `activate`.
    playing: Option<Playing>,
    inlet: Inlet,
    lanes: Lanes,
    /// What an engine that is gone left sounding has to be ended first.
    leftover: bool,
    session: Arc<Session>,
    /// The sheet, if one is loaded.
    score: Option<Box<Score>>,
    /// The player's own manner, if one is chosen.
    book: Option<Box<Book>>,
    demo: Demo,
    clock: OwnClock,
    rows: Rows,
    tape: Tape,
    screen: triple_buffer::Input<Shown>,
    shown: Snapshot,
    /// For the editor, which is made once.
    view: Option<triple_buffer::Output<Shown>>,
    repaint: RepaintNotifier,
    editor_state: Arc<EguiEditorState>,
}

/// What needs the sample rate.
struct Playing {
    engine: Box<Engine>,
    sounding: Sounding,
}

impl Default for Figwort {
    fn default() -> Self {
        let (screen, view) = triple_buffer::triple_buffer(&Shown::default());
        let params: Arc<FigwortParams> = Arc::default();
        #[cfg(feature = "standalone")]
        standalone::attach(&params.session);
        Self {
            session: params.session.clone(),
            params,
            score: None,
            book: None,
            demo: Demo::default(),
            clock: OwnClock::new(),
            rows: Rows::new(),
            tape: Tape::new(),
            playing: None,
            inlet: Inlet::new(),
            lanes: Lanes::new(),
            leftover: false,
            screen,
            shown: Snapshot::default(),
            view: Some(view),
            repaint: RepaintNotifier::new(),
            editor_state: editor::initial_state(),
        }
    }
}

impl Plugin for Figwort {
    const NAME: &'static str = "Figwort";
    const VENDOR: &'static str = "Figwort";
    const URL: &'static str = "https://figwort.invalid";
    const EMAIL: &'static str = "nobody@figwort.invalid";
    const VERSION: &'static str = env!("CARGO_PKG_VERSION");
    /// Silent unless the audition piano is turned up; some hosts load nothing without an audio output.
    const AUDIO_IO_LAYOUTS: &'static [AudioIOLayout] = &[AudioIOLayout {
        main_input_channels: None,
        main_output_channels: NonZeroU32::new(2),
        ..AudioIOLayout::const_default()
    }];
    const MIDI_INPUT: MidiConfig = MidiConfig::MidiCCs;
    const MIDI_OUTPUT: MidiConfig = MidiConfig::MidiCCs;
    /// On, the framework counts a transport event's offset twice. Settings are constant per block instead.
    const SAMPLE_ACCURATE_AUTOMATION: bool = false;

    type Editor = EguiEditor<EditorApp>;
    type SysExMessage = ();
    type BackgroundTask = ();

    fn params(&self) -> Arc<dyn Params> {
        self.params.clone()
    }

    fn editor(&mut self, _executor: AsyncExecutor<Self>) -> Option<Self::Editor> {
        let app = EditorApp::new(self.params.clone(), self.view.take()?);
        editor::create(self.editor_state.clone(), self.repaint.clone(), app)
    }

    fn filter_state(state: &mut PluginState) {
        state::mend(state);
    }

    fn activate(
        &mut self,
        _layout: &AudioIOLayout,
        config: &BufferConfig,
        _context: &mut impl ActivateContext<Self>,
    ) -> bool {
        self.playing = Some(Playing {
            engine: Box::new(Engine::new(f64::from(config.sample_rate))),
            sounding: Sounding::new(config.sample_rate),
        });
        if config.process_mode == ProcessMode::Offline {
            // What is rendered is to sound as the project says from its first note on.
            self.session.wait_for_soundfont(FONT_PATIENCE);
        }
        self.session.set_rate(config.sample_rate);
        self.inlet.reset();
        self.rows.reset();
        // What was played while nothing ran is not made up for.
        while self.session.incoming.pop().is_some() {}
        self.tape.set_rate(config.sample_rate);
        self.clock.set_rate(config.sample_rate);
        self.leftover = true;
        true
    }

    fn reset(&mut self) {
        self.inlet.reset();
        if let Some(playing) = &mut self.playing {
            playing.engine.reset();
            playing.sounding.all_off();
        }
    }

    fn process(
        &mut self,
        buffer: &mut Buffer,
        _aux: &mut AuxiliaryBuffers,
        context: &mut impl ProcessContext<Self>,
    ) -> ProcessStatus {
        let frames = buffer.samples() as u32;
        let channels = buffer.as_slice();
        for channel in channels.iter_mut() {
            channel.fill(0.0);
        }
        let Some(playing) = &mut self.playing else { return ProcessStatus::KeepAlive };
        if self.leftover {
            self.leftover = !self.lanes.finish(context);
        }

        let session = &*self.session;
        let sample_rate = context.transport().sample_rate;
        let mut settings = self.params.settings();
        session.book.take(&mut self.book);
        let figures = match &self.book {
            Some(book) => {
                settings.manner = book.manner;
                &book.figures
            }
            None => &self.params.manner.value().entry().figures,
        };
        let demonstrated = self.demo.playing();
        let demo_changed = session.demo.take(&mut self.demo.take);
        let anew = session.score.take(&mut self.score) | demo_changed;
        let panic = session.panic.swap(false, Ordering::AcqRel);
        if anew || panic {
            playing.engine.reset();
            playing.sounding.all_off();
            self.inlet.reset();
            self.rows.reset();
        }
        if panic {
            process::silence_all(context, session);
        }

        // Whose time it is.
        let own = session.own_clock.load(Ordering::Relaxed);
        if own {
            if demo_changed {
                self.clock.rewind();
                session.running.store(self.demo.take.is_some(), Ordering::Release);
            }
            // A demonstration that is over stays here until the next, and gives no time any more.
            let demo = self.demo.take.as_ref().filter(|_| demonstrated || demo_changed);
            let followed = self.score.as_deref_mut();
            let followed = followed.filter(|_| self.params.sheet.value() != SheetChoice::Nothing);
            let written = followed.map(|score| score.tempo_at(self.clock.position(), settings.tempo));
            let tempo = demo.map(|take| take.tempo).or(written).unwrap_or(settings.tempo);
            let bar = match (demo, &self.score) {
                (Some(take), _) => Bar::first(take.metre),
                (None, Some(score)) => score.bar_at(self.clock.position()),
                (None, None) => Bar::first(session.metre()),
            };
            self.clock.begin(session.running.load(Ordering::Acquire), tempo, bar);
        }
        let clock = &self.clock;
        let host = process::transport(context.transport());
        let time =
            |frame| if own { clock.transport(frame) } else { process::later(host, frame, sample_rate) };
        if demo_changed {
            self.demo.begin(&time(0));
        }

        let apart = self.params.outputs.value() == OutputChoice::Three;
        playing.sounding.exchange(session);
        let mut audition = playing.sounding.begin(self.params.audition_gain(), channels);
        let finish = settings.finish;
        let demonstrating = self.demo.playing();
        let live = if demonstrating { Demo::SOURCE } else { settings.source };
        let wanted = Following {
            score: self.score.as_deref().filter(|_| !demonstrating),
            gives: self.params.sheet.value(),
            // Our own clock counts from the sheet's beginning.
            bar: if own { 1 } else { self.params.sheet_bar.value() },
        };

        // One call of the engine, or more when the host sends more events than fit into one, and where a
        // sheet's final chord is announced.
        let mut next = context.next_event();
        let mut start = 0;
        let mut following;
        loop {
            let mut transport = time(start);
            session.tell_metre(transport.metre);
            let followed = wanted.begin(&mut transport, live, sample_rate);
            following = followed.chart.is_some();
            settings.source = followed.source;
            settings.finish = finish || followed.last || session.finishing();
            let cut = followed.until.map_or(frames, |until| start.saturating_add(until).min(frames));

            self.inlet.clear();
            self.rows.play(session, &mut self.inlet, settings.source);
            while let Some(event) = next.take() {
                if !self.inlet.has_room() || (cut < frames && event.timing() >= cut) {
                    next = Some(event);
                    break;
                }
                self.inlet.take(&event, start);
                next = context.next_event();
            }
            let end = next.as_ref().map_or(cut, |event| event.timing().clamp(start, cut));
            let tempo = transport.tempo.unwrap_or(settings.tempo);
            let rate = tempo * TICKS_PER_QUARTER as f64 / (60.0 * f64::from(sample_rate));
            self.demo.feed(&mut self.inlet, end - start, rate);
            let block = Block {
                frames: end - start,
                transport,
                input: self.inlet.events(),
                settings: &settings,
                figures,
                chart: followed.chart.as_ref(),
            };
            self.tape.begin(session, tempo);
            let mut outlet = Outlet {
                context: &mut *context,
                lanes: &mut self.lanes,
                apart,
                start,
                audition: audition.as_mut(),
                session,
                tape: &mut self.tape,
                plugin: PhantomData::<Self>,
            };
            playing.engine.process(block, &mut outlet);
            let snapshot = playing.engine.snapshot();
            self.tape.keys(session, self.inlet.events());
            self.tape.end(session, end - start, snapshot);
            self.demo.advance(end - start, rate);
            if snapshot.texture == Texture::Ending {
                session.finish.store(false, Ordering::Release);
            }
            start = end;
            if next.is_none() && start >= frames {
                break;
            }
        }
        if let Some(audition) = &mut audition {
            audition.until(frames as usize);
        }
        if own && let [left, right, ..] = channels {
            self.clock.end(left, right, session.metronome.load(Ordering::Relaxed));
        }
        let demonstrating = self.demo.playing();
        session.demonstrating.store(demonstrating, Ordering::Relaxed);
        if demonstrated && !demonstrating && !demo_changed {
            // It is over: who supplies what is the player's again, and our clock stands.
            session.running.store(false, Ordering::Release);
        }

        let snapshot = playing.engine.snapshot();
        session.tell_place(following.then_some(snapshot.position));
        self.screen.write(Shown { snapshot: *snapshot, roll: self.tape.roll(), following });
        if editor::looks_different(&self.shown, snapshot) {
            self.shown = *snapshot;
            if self.editor_state.is_open() {
                self.repaint.request_repaint();
            }
        }
        ProcessStatus::KeepAlive
    }
}

impl ClapPlugin for Figwort {
    const CLAP_ID: &'static str = "org.figwort.figwort";
    const CLAP_DESCRIPTION: Option<&'static str> =
        Some("Plays a piano accompaniment to a melody from the chords that are held");
    const CLAP_MANUAL_URL: Option<&'static str> = None;
    const CLAP_SUPPORT_URL: Option<&'static str> = None;
    const CLAP_FEATURES: &'static [ClapFeature] = &[ClapFeature::NoteEffect, ClapFeature::Utility];
}

impl Vst3Plugin for Figwort {
    const VST3_CLASS_ID: [u8; 16] = *b"FigwortPianist01";
    const VST3_SUBCATEGORIES: &'static [Vst3SubCategory] =
        &[Vst3SubCategory::Instrument, Vst3SubCategory::Tools];
}

/// The symbols that hosts look for.
mod export {
    #![allow(clippy::disallowed_types, reason = "the framework's macros check ids with a set")]

    use nice_plug::prelude::*;

    use super::Figwort;

    nice_export_clap!(Figwort);
    nice_export_vst3!(Figwort);
}

#[cfg(test)]
mod tests;
