//! The engine: holds the state, walks from instant to instant.
//!
//! A block is not a unit of anything musical. Within it the engine steps to the earliest thing that is due
//! (an input event, a bar line, a step of a figure, the end of a note), does it, and looks again; so it makes
//! no difference where one block ends and the next begins.

mod asking;
mod completing;
mod hearing;
mod lines;
mod moving;
mod ornaments;
mod owing;
mod patience;
mod playing;
mod pushing;
mod sheet;
mod showing;
mod staying;
mod striking;
mod thinning;
mod turning;

use figwort_theory::{Chord, Moment, PitchClassSet};

use crate::book::Figure;
use crate::chart::Chart;
use crate::decision::Plan;
use crate::event::{Block, EventSink, Hand, InputEvent};
use crate::figure::Running;
use crate::observation::MelodyState;
use crate::reading::chord::{ChordReader, GAP_MS, GATHER_MS, KEPT_MS, ROLL_MS, SLIP_MS, Windows};
use crate::reading::clock::{Bar, Clock, Drive, Turn};
use crate::reading::habit::Habit;
use crate::reading::hands::HandsReader;
use crate::reading::key::KeyReader;
use crate::reading::melody::MelodyReader;
use crate::schedule::{Desk, Schedule, Until};
use crate::settings::{Settings, Source};
use crate::snapshot::Snapshot;
use crate::voicing::Voicing;
use hearing::Routes;
use lines::Line;
use ornaments::Ornament;
use patience::Patience;
use pushing::Tied;
use showing::Asked;

/// A pitch struck this short a time ago isn't struck again by a figure, in milliseconds.
const RECENT_MS: u32 = 150;
/// The pedal comes down again this long after a change of harmony, in milliseconds. Common practice, no source.
const RETAKE_MS: u32 = 90;
/// A hand that is up for longer than this between chords rests; its lifting tells nothing. In milliseconds.
const LEAVING_MS: u32 = 400;
/// Without a chord the free clock stops after this many bars.
const FREE_REST_BARS: u8 = 2;

/// The pianist. One per track; it can be sent to another thread but not shared.
///
/// [`Engine::process`] takes bounded time and allocates nothing, so it may be called from an audio thread.
#[derive(Clone, Debug)]
pub struct Engine {
    /// First frame of the next block, counted from creation.
    frame: u64,
    /// Musical time reached.
    now: Moment,
    clock: Clock,
    chords: ChordReader,
    melody: MelodyReader,
    key: KeyReader,
    routes: Routes,
    hands: HandsReader,
    schedule: Schedule,
    harmony: Harmony,
    /// The voicing struck with the chord or the bar, which the next one leads on from.
    frame_voicing: Voicing,
    /// The voicing in use, maybe fuller.
    voicing: Voicing,
    plan: Plan,
    running: Option<Running>,
    /// The lines of its parts, by [`crate::book::Thread::index`].
    lines: [Line; 3],
    /// The place after this one, with its voicing and whether its harmony is another, once it was worked out.
    ahead: Option<(Moment, Voicing, bool)>,
    /// A bass that the line before leads to, and when.
    promised: Option<(Moment, figwort_theory::Pitch)>,
    /// Notes to be held over a change, not struck again.
    tied: Tied,
    /// A part that moves by itself at a moment to come.
    ornament: Option<Ornament>,
    /// Whether more than the bass of the voicing was struck since it was chosen.
    laid: bool,
    /// A note that has to sound from a moment on, since the next chord finds it held.
    preparation: Option<(Moment, figwort_theory::Pitch)>,
    /// A note sounds that leads to the next chord.
    leads: bool,
    /// When the pedal comes down again.
    retake: Option<Moment>,
    /// When the phrase breathes.
    breath: Option<Moment>,
    patience: Patience,
    cursor: Cursor,
    next_bar: Moment,
    habit: Habit,
    /// Until when the bass of a chord just struck waits for keys that may still come.
    bass_due: Option<Moment>,
    /// A bar began without its bass, which the next step brings if no chord does.
    owes_bass: bool,
    /// While keys may still come, the classes that are sure.
    sure: Option<PitchClassSet>,
    /// The melody onset whose standing still has been acted on.
    stood: Option<Moment>,
    /// What the melody did when it was last told of.
    told: Option<MelodyState>,
    silent_bars: u8,
    player_pedal: bool,
    /// Whether the pedal was the player's, and chords latched, in the block before.
    pedal_was_players: bool,
    latched: bool,
    bypassed: bool,
    source: Option<Source>,
    reset_wanted: bool,
    playing: bool,
    asked: Option<Asked>,
    snapshot: Snapshot,
}

/// The chord in force.
#[derive(Clone, Copy, Debug, Default)]
struct Harmony {
    chord: Option<Chord>,
    changed: Moment,
    struck: Moment,
}

/// How far the chart has been played: up to and including these moments.
#[derive(Clone, Copy, Debug)]
struct Cursor {
    harmony: Moment,
    melody: Moment,
    /// The end of the chart's melody note that sounds.
    note_end: Option<(Moment, figwort_theory::Pitch)>,
    ended: bool,
}

/// What a block offers besides events.
#[derive(Clone, Copy)]
struct Scene<'a> {
    settings: &'a Settings,
    figures: &'a [Figure],
    /// The chart, where it supplies something and time runs by the host.
    chart: Option<&'a Chart<'a>>,
}

impl<'a> Scene<'a> {
    /// The chart, if the harmony comes from it.
    fn chart_harmony(&self) -> Option<&'a Chart<'a>> {
        self.chart.filter(|_| matches!(self.settings.source, Source::ChartHarmony | Source::Chart))
    }

    /// The chart, if the melody comes from it.
    fn chart_melody(&self) -> Option<&'a Chart<'a>> {
        self.chart.filter(|_| matches!(self.settings.source, Source::ChartMelody | Source::Chart))
    }
}

/// Things that can be due, in the order in which they are done in one frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Due {
    ChartEnd,
    MelodyEnd,
    ChartMelody,
    ChartHarmony,
    Input,
    Gathered,
    BarLine,
    Stands,
    Schedule,
    Ornament,
    Step,
    Preparation,
    Breath,
    Pedal,
}

impl Engine {
    /// An engine at rest. `sample_rate` in frames per second, 1 kHz to 1 MHz.
    pub fn new(sample_rate: f64) -> Self {
        let clock = Clock::new(sample_rate);
        let windows = Windows {
            gather: clock.frames_of_millis(GATHER_MS),
            roll: clock.frames_of_millis(ROLL_MS),
            slip: clock.frames_of_millis(SLIP_MS),
            gap: clock.frames_of_millis(GAP_MS),
            kept: clock.frames_of_millis(KEPT_MS),
        };
        Self {
            frame: 0,
            now: Moment::ZERO,
            clock,
            chords: ChordReader::new(windows),
            melody: MelodyReader::default(),
            key: KeyReader::default(),
            routes: Routes::default(),
            hands: HandsReader::new(windows.gather),
            schedule: Schedule::default(),
            harmony: Harmony::default(),
            frame_voicing: Voicing::default(),
            voicing: Voicing::default(),
            plan: Plan::default(),
            running: None,
            lines: Default::default(),
            ahead: None,
            promised: None,
            tied: Tied::default(),
            ornament: None,
            laid: false,
            preparation: None,
            leads: false,
            retake: None,
            breath: None,
            patience: Patience::default(),
            cursor: Cursor { harmony: Moment(-1), melody: Moment(-1), note_end: None, ended: false },
            next_bar: Moment::ZERO,
            habit: Habit::default(),
            bass_due: None,
            owes_bass: false,
            sure: None,
            stood: None,
            told: None,
            silent_bars: 0,
            player_pedal: false,
            pedal_was_players: false,
            latched: false,
            bypassed: false,
            source: None,
            reset_wanted: false,
            playing: false,
            asked: None,
            snapshot: Snapshot::default(),
        }
    }

    /// Forgets all music and every key. What still sounds gets its note-off at the first frame of the next
    /// block, since only then is there somewhere to send it.
    pub fn reset(&mut self) {
        self.reset_wanted = true;
    }

    /// Plays one block. Takes bounded time, allocates nothing, cannot fail.
    pub fn process(&mut self, block: Block<'_>, sink: &mut impl EventSink) {
        let settings = block.settings.in_range();
        let start = self.frame;
        let end = start + u64::from(block.frames);
        let mut desk = Desk::new(sink, start, block.frames);
        let mut scene = Scene { settings: &settings, figures: block.figures, chart: None };

        let mut quiet = !self.reset_wanted;
        if self.reset_wanted {
            self.reset_now(&mut desk);
        }
        self.schedule.pay_debts(&mut desk);
        let turn = self.clock.begin_block(start, &block.transport, settings.tempo);
        if self.clock.drive() == Drive::Host {
            scene.chart = block.chart;
        }
        self.playing = block.transport.playing;
        self.take_settings(&mut desk, &scene, turn);
        match turn {
            Turn::On => {}
            Turn::Jump => self.begin_again(&mut desk, &scene, start),
            Turn::Stop => self.stop(&mut desk, start),
        }

        let mut input = Inputs { events: block.input, next: 0, earliest: 0, frames: block.frames };
        let mut here = start;
        // A block without frames still has to take its input.
        let last = end.max(start + u64::from(input.is_waiting()));
        while let Some((frame, due)) = self.next_due(&scene, &input, start, here) {
            if frame >= last {
                break;
            }
            here = frame;
            quiet = false;
            desk.go_to(frame);
            self.act(&mut desk, &scene, frame, due, &mut input);
        }
        self.frame = end;
        self.show(&scene, end, quiet && turn == Turn::On);
    }

    /// The state at the end of the last block.
    pub fn snapshot(&self) -> &Snapshot {
        &self.snapshot
    }

    /// The earliest thing that is due, at `here` or later.
    fn next_due(&self, scene: &Scene<'_>, input: &Inputs<'_>, start: u64, here: u64) -> Option<(u64, Due)> {
        let mut best: Option<(u64, Due)> = None;
        let mut offer = |frame: u64, due: Due| {
            let offered = (frame.max(here), due);
            if best.is_none_or(|found| offered < found) {
                best = Some(offered);
            }
        };
        if let Some(offset) = input.peek() {
            offer(start + u64::from(offset), Due::Input);
        }
        if let Some(deadline) = self.chords.deadline() {
            offer(deadline, Due::Gathered);
        }
        if self.clock.drive() != Drive::Idle {
            let mut musical = |moment: Option<Moment>, due: Due| {
                if let Some(moment) = moment {
                    offer(self.clock.frame_of(moment), due);
                }
            };
            musical(Some(self.next_bar), Due::BarLine);
            musical(self.schedule.next(), Due::Schedule);
            musical(self.ornament.map(|ornament| ornament.at), Due::Ornament);
            musical(self.upcoming_step(scene).map(|(at, _)| at), Due::Step);
            musical(self.preparation.map(|(at, _)| at), Due::Preparation);
            musical(self.breath, Due::Breath);
            musical(self.retake, Due::Pedal);
            musical(self.next_standing(scene), Due::Stands);
            musical(self.cursor.note_end.map(|(at, _)| at), Due::MelodyEnd);
            if let Some(chart) = scene.chart {
                musical((!self.cursor.ended).then(|| chart.end()), Due::ChartEnd);
            }
            if let Some(chart) = scene.chart_harmony() {
                musical(chart.next_harmony(self.cursor.harmony).map(|h| h.at), Due::ChartHarmony);
            }
            if let Some(chart) = scene.chart_melody() {
                musical(chart.next_note(self.cursor.melody).map(|n| n.at), Due::ChartMelody);
            }
        }
        best
    }

    /// Does one thing.
    fn act<S: EventSink>(
        &mut self,
        desk: &mut Desk<'_, S>,
        scene: &Scene<'_>,
        frame: u64,
        due: Due,
        input: &mut Inputs<'_>,
    ) {
        self.now = self.now.max(self.clock.moment_at(frame));
        match due {
            Due::Input => {
                if let Some(event) = input.take() {
                    self.hear(desk, scene, frame, event);
                }
            }
            Due::Gathered => self.gathered(desk, scene, frame),
            Due::BarLine => {
                self.now = self.now.max(self.next_bar);
                self.bar_line(desk, scene, frame);
            }
            Due::Stands => {
                self.now = self.now.max(self.next_standing(scene).unwrap_or(self.now));
                self.stood = self.melody.last_onset();
                self.stand(desk, scene, frame);
                self.tell_of_melody(desk, scene);
            }
            Due::Schedule => {
                self.now = self.now.max(self.schedule.next().unwrap_or(self.now));
                self.schedule.perform(desk, frame, self.now);
            }
            Due::Ornament => self.do_ornament(desk, scene, frame),
            Due::Step => self.step(desk, scene, frame),
            Due::Preparation => self.prepare(desk, scene, frame),
            Due::Breath => {
                self.now = self.now.max(self.breath.take().unwrap_or(self.now));
                self.breathe(desk, scene);
            }
            Due::Pedal => {
                self.now = self.now.max(self.retake.take().unwrap_or(self.now));
                self.schedule.set_pedal(desk, true);
            }
            Due::MelodyEnd => {
                if let Some((at, pitch)) = self.cursor.note_end.take() {
                    self.now = self.now.max(at);
                    self.melody.release(pitch);
                    // Before anything else of this moment, which may want the pitch.
                    self.schedule
                        .release(desk, |note| note.hand == Hand::Melody && note.until == Until::At(at));
                }
            }
            Due::ChartMelody => self.chart_note(desk, scene, frame),
            Due::ChartHarmony => self.chart_harmony(desk, scene, frame),
            Due::ChartEnd => self.chart_end(desk, scene),
        }
    }

    /// When the melody will have stood long enough to be acted on.
    fn next_standing(&self, scene: &Scene<'_>) -> Option<Moment> {
        let onset = self.melody.last_onset()?;
        if self.stood == Some(onset) {
            return None;
        }
        let beat = self.bar(scene, self.now).metre.beat();
        self.melody.threshold(scene.settings.wait_for(beat) + self.patience.more(scene, self.now, beat))
    }

    /// The bar that holds a moment: the sheet's while one is followed, else the host's.
    fn bar(&self, scene: &Scene<'_>, at: Moment) -> Bar {
        match scene.chart.and_then(|chart| Some((chart, chart.bar_at(at)?))) {
            Some((chart, index)) => sheet::bar(chart, index),
            None => self.clock.bar_at(at),
        }
    }
}

/// The block's input, its offsets made to rise.
struct Inputs<'a> {
    events: &'a [InputEvent],
    next: usize,
    earliest: u32,
    frames: u32,
}

impl Inputs<'_> {
    fn is_waiting(&self) -> bool {
        self.next < self.events.len()
    }

    fn peek(&self) -> Option<u32> {
        let event = self.events.get(self.next)?;
        Some(event.offset.min(self.frames.saturating_sub(1)).max(self.earliest))
    }

    fn take(&mut self) -> Option<InputEvent> {
        let event = *self.events.get(self.next)?;
        self.earliest = self.peek().unwrap_or(self.earliest);
        self.next += 1;
        Some(event)
    }
}
