//! The plugin: CLAP, VST3 and standalone around the engine, with the editor.
//!
//! The only crate that knows the plugin framework and the screen. It turns host events into engine events
//! and back, parameters into [`Settings`], and the engine's snapshots into a picture.
//!
//! Threads: the host's audio thread calls `process` and `reset`; everything else is the main thread's. The
//! engine's memory is made in `activate` and nowhere else. Snapshots go to the editor by triple buffer;
//! settings come back as the atomics that parameters are.
//!
//! Deliberately absent: music (the engine's), file formats (the sheet and preset crates').

use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;

use figwort_engine::{Engine, Settings, Snapshot};
use figwort_theory::Moment;
use nice_plug::prelude::*;
use nice_plug_egui::{EguiEditor, EguiEditorState, RepaintNotifier};

mod audition;
mod calls;
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
use calls::Calls;
use clock::{Bar, OwnClock};
use demo::Demo;
use editor::EditorApp;
use following::Following;
use params::{FigwortParams, OutputChoice, SheetChoice};
use process::{Inlet, Lanes};
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
    /// Hosts may send every parameter in one block, and VST3 has 2080 more, for the controllers of all channels.
    const INPUT_EVENT_CAPACITY: usize = 2304;
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
        if self.playing.is_none() {
            return ProcessStatus::KeepAlive;
        }
        if self.leftover {
            self.leftover = !self.lanes.finish(context);
        }
        let settings = self.params.settings();
        let demonstrated = self.demo.playing();
        let new_demo = self.receive(context);
        let own = self.session.own_clock.load(Ordering::Relaxed);
        if own {
            self.keep_time(settings.tempo, demonstrated, new_demo);
        }
        let following = self.play(settings, own, new_demo, frames, channels, context);
        let demonstrating = self.demo.playing();
        self.session.demonstrating.store(demonstrating, Ordering::Relaxed);
        if demonstrated && !demonstrating && !new_demo {
            // It is over: who supplies what is the player's again, and our clock stands.
            self.session.running.store(false, Ordering::Release);
        }
        self.show(following);
        ProcessStatus::KeepAlive
    }
}

/// The steps of a block, on the audio thread: no allocation, no lock.
impl Figwort {
    /// Takes what the other threads hand over, and begins anew where that asks for it. Says whether there is another
    /// demonstration, or none any more.
    fn receive(&mut self, context: &mut impl ProcessContext<Self>) -> bool {
        let session = &*self.session;
        session.book.take(&mut self.book);
        let new_demo = session.demo.take(&mut self.demo.take);
        let anew = session.score.take(&mut self.score) | new_demo;
        let panic = session.panic.swap(false, Ordering::AcqRel);
        if anew || panic {
            if let Some(playing) = &mut self.playing {
                playing.engine.reset();
                playing.sounding.all_off();
            }
            self.inlet.reset();
            self.rows.reset();
        }
        if panic {
            // What was played before the word and not heard yet would sound after it.
            for _ in 0..session.incoming.len() {
                let _ = session.incoming.pop();
            }
            process::silence_all(context, session);
        }
        new_demo
    }

    /// Where there is no host, begins the block on our own clock; `usual` is the tempo where nothing else gives one.
    fn keep_time(&mut self, usual: f64, demonstrated: bool, new_demo: bool) {
        let session = &*self.session;
        if new_demo {
            self.clock.rewind();
            session.running.store(self.demo.take.is_some(), Ordering::Release);
        }
        // A demonstration that is over stays here until the next, and gives no time any more.
        let demo = self.demo.take.as_ref().filter(|_| demonstrated || new_demo);
        let followed = self.score.as_deref_mut();
        let followed = followed.filter(|_| self.params.sheet.value() != SheetChoice::Nothing);
        let written = followed.map(|score| score.tempo_at(self.clock.position(), usual));
        let tempo = demo.map(|take| take.tempo).or(written).unwrap_or(usual);
        let bar = match (demo, &self.score) {
            (Some(take), _) => Bar::first(take.metre),
            (None, Some(score)) => score.bar_at(self.clock.position()),
            (None, None) => Bar::first(session.metre()),
        };
        self.clock.begin(session.running.load(Ordering::Acquire), tempo, bar);
    }

    /// Plays the block, on our own clock or in the host's time. Says whether a sheet is followed.
    fn play(
        &mut self,
        mut settings: Settings,
        own: bool,
        new_demo: bool,
        frames: u32,
        channels: &mut [&mut [f32]],
        context: &mut impl ProcessContext<Self>,
    ) -> bool {
        let Some(playing) = &mut self.playing else { return false };
        let session = &*self.session;
        let figures = match &self.book {
            Some(book) => {
                settings.manner = book.manner;
                &book.figures
            }
            None => &self.params.manner.value().entry().figures,
        };
        let sample_rate = context.transport().sample_rate;
        let (clock, host) = (&self.clock, process::transport(context.transport()));
        let time =
            |frame| if own { clock.transport(frame) } else { process::later(host, frame, sample_rate) };
        if new_demo {
            self.demo.begin(&time(0));
        }
        let demonstrating = self.demo.playing();
        if demonstrating {
            settings.source = Demo::SOURCE;
        }
        playing.sounding.exchange(session);
        let audition = playing.sounding.begin(self.params.audition_gain(), channels);
        let calls = Calls {
            engine: &mut playing.engine,
            inlet: &mut self.inlet,
            lanes: &mut self.lanes,
            rows: &mut self.rows,
            demo: &mut self.demo,
            tape: &mut self.tape,
            session,
            settings,
            figures,
            wanted: Following {
                score: self.score.as_deref().filter(|_| !demonstrating),
                gives: self.params.sheet.value(),
                // Our own clock counts from the sheet's beginning.
                bar: if own { 1 } else { self.params.sheet_bar.value() },
            },
            apart: self.params.outputs.value() == OutputChoice::Three,
            sample_rate,
        };
        let following = calls.play(frames, time, context, audition);
        if own && let [left, right, ..] = channels {
            self.clock.end(left, right, session.metronome.load(Ordering::Relaxed));
        }
        following
    }

    /// Shows the editor what has become of the block.
    fn show(&mut self, following: bool) {
        let Some(playing) = &self.playing else { return };
        let snapshot = playing.engine.snapshot();
        self.session.tell_place(following.then_some(snapshot.position));
        self.screen.write(Shown { snapshot: *snapshot, roll: self.tape.roll(), following });
        if editor::looks_different(&self.shown, snapshot) {
            self.shown = *snapshot;
            if self.editor_state.is_open() {
                self.repaint.request_repaint();
            }
        }
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
