//! The plugin's parameters, and the [`Settings`] that they amount to.
//!
//! The ids below are a promise: they never change and are never used for anything else, as they stand in
//! projects and automation. New parameters go at the end; choices are stored by their own ids.
//!
//! | id | name | values |
//! |---|---|---|
//! | `bypass` | Bypass | off, on |
//! | `manner` | Manner | the factory manners, stored by name |
//! | `elaboration` | Elaboration | 0 Plain to 4 Ornate, continuous |
//! | `wait` | Wait | 0 to 4 felt beats (in 6/8 a dotted quarter) |
//! | `space` | Space | 0 to 100 % |
//! | `source` | Input | how melody and harmony are told apart: `split`, `channels`, `hands` |
//! | `split` | Split key | C-1 to G9; keys below it are harmony |
//! | `melody_channel` | Melody channel | 1 to 16 |
//! | `chord_channel` | Chord channel | 1 to 16 |
//! | `latch` | Latch | off, on |
//! | `reach` | Reach | 12 to 16 semitones |
//! | `clarity` | Clarity | -4 (fuller) to 4 (clearer) semitones |
//! | `one_player` | One player | off, on |
//! | `level` | Level | -40 to 40 velocity steps |
//! | `pedal` | Pedal | off, on |
//! | `dry` | Dry | off, on |
//! | `tempo` | Own tempo | 20 to 400 quarter notes a minute, for when the host gives none |
//! | `seed` | Seed | 1 to 9999 |
//! | `finish` | Final chord | off, on: the next chord struck is the last |
//! | `outputs` | Output channels | `one`, `three` |
//! | `audition` | Audition piano | -60 (off) to 0 dB |
//! | `colour` | Colour tones | `symbol`, `melody`, `added` |
//! | `start` | Start | when it begins to move: after the `wait`, or by `chance` at the onset of a note likely to be long |
//! | `swing` | Swing | 0 (as the manner has it) to 100 %: how far eighth notes swing |
//! | `sheet` | Sheet gives | what of a loaded sheet is used while the host plays: `all`, `chords`, `melody`, `nothing` |
//! | `sheet_bar` | Sheet starts in bar | 1 to 999, a bar of the host; a pick-up ends with it |
//!
//! Deliberately absent: anything that sounds. Reading a value is an atomic load, so [`FigwortParams::settings`]
//! may be called from the audio thread.

use std::sync::Arc;
use std::sync::atomic::Ordering;

use crossbeam::atomic::AtomicCell;
use figwort_engine::{Colour, Settings, Source, Start};
use figwort_theory::Pitch;
use nice_plug::prelude::*;

use crate::manners::MannerChoice;
use crate::session::Session;
use crate::state::Desk;

mod knob;
mod text;

pub use knob::{Control, Kind, Knob};

/// How harmony and melody are told apart.
#[derive(Enum, Clone, Copy, Debug, PartialEq, Eq)]
pub enum SourceChoice {
    /// Keys below the split are harmony.
    #[id = "split"]
    #[name = "Split key"]
    Split,
    /// Two MIDI channels.
    #[id = "channels"]
    #[name = "Two channels"]
    Channels,
    /// One keyboard, the hands told apart by where they are and how they move.
    #[id = "hands"]
    #[name = "By hand"]
    Hands,
}

/// On how many channels the notes leave.
#[derive(Enum, Clone, Copy, Debug, PartialEq, Eq)]
pub enum OutputChoice {
    /// The melody on the channel it came in on, the accompaniment on channel 1.
    #[id = "one"]
    #[name = "One channel"]
    One,
    /// Melody on channel 1, right hand on 2, left hand on 3.
    #[id = "three"]
    #[name = "One for each hand"]
    Three,
}

/// Which tones beyond the chord are taken into a voicing.
#[derive(Enum, Clone, Copy, Debug, PartialEq, Eq)]
pub enum ColourChoice {
    /// None.
    #[id = "symbol"]
    #[name = "As in the chord"]
    Symbol,
    /// Those that a standing melody note brings.
    #[id = "melody"]
    #[name = "From the melody"]
    Melody,
    /// And a ninth where one is available.
    #[id = "added"]
    #[name = "Ninths added"]
    Added,
}

/// When the accompaniment begins to move.
#[derive(Enum, Clone, Copy, Debug, PartialEq, Eq)]
pub enum StartChoice {
    /// Once the melody has stood for the wait.
    #[id = "wait"]
    #[name = "After the wait"]
    Wait,
    /// At once under a note that is likely to be long.
    #[id = "chance"]
    #[name = "By chance"]
    Chance,
}

/// What of a loaded sheet is used while the host plays.
#[derive(Enum, Clone, Copy, Debug, PartialEq, Eq)]
pub enum SheetChoice {
    /// Its chords and its melody; nothing needs to be played.
    #[id = "all"]
    #[name = "Chords and melody"]
    All,
    /// Its chords; every key played is melody.
    #[id = "chords"]
    #[name = "Chords"]
    Chords,
    /// Its melody; every key played is harmony.
    #[id = "melody"]
    #[name = "Melody"]
    Melody,
    /// It is not followed.
    #[id = "nothing"]
    #[name = "Nothing"]
    Nothing,
}

/// All parameters, with what else a project keeps.
#[derive(Params)]
#[allow(missing_docs, reason = "the table above says what each is")]
pub struct FigwortParams {
    #[persist = "desk"]
    pub desk: Arc<AtomicCell<Desk>>,
    #[persist = "session"]
    pub session: Arc<Session>,
    #[id = "bypass"]
    pub bypass: BoolParam,
    #[id = "manner"]
    pub manner: EnumParam<MannerChoice>,
    #[id = "elaboration"]
    pub elaboration: FloatParam,
    #[id = "wait"]
    pub wait: FloatParam,
    #[id = "space"]
    pub space: IntParam,
    #[id = "source"]
    pub source: EnumParam<SourceChoice>,
    #[id = "split"]
    pub split: IntParam,
    #[id = "melody_channel"]
    pub melody_channel: IntParam,
    #[id = "chord_channel"]
    pub chord_channel: IntParam,
    #[id = "latch"]
    pub latch: BoolParam,
    #[id = "reach"]
    pub reach: IntParam,
    #[id = "clarity"]
    pub clarity: IntParam,
    #[id = "one_player"]
    pub one_player: BoolParam,
    #[id = "level"]
    pub level: IntParam,
    #[id = "pedal"]
    pub pedal: BoolParam,
    #[id = "dry"]
    pub dry: BoolParam,
    #[id = "tempo"]
    pub tempo: FloatParam,
    #[id = "seed"]
    pub seed: IntParam,
    #[id = "finish"]
    pub finish: BoolParam,
    #[id = "outputs"]
    pub outputs: EnumParam<OutputChoice>,
    #[id = "audition"]
    pub audition: FloatParam,
    #[id = "colour"]
    pub colour: EnumParam<ColourChoice>,
    #[id = "start"]
    pub start: EnumParam<StartChoice>,
    #[id = "swing"]
    pub swing: IntParam,
    #[id = "sheet"]
    pub sheet: EnumParam<SheetChoice>,
    #[id = "sheet_bar"]
    pub sheet_bar: IntParam,
}

/// Where the audition piano stands when nobody has set it.
static AUDITION: AtomicF32 = AtomicF32::new(text::AUDITION_OFF);

/// Turns the audition piano up in every instance that is made from now on, to a quiet level.
pub fn sound_from_the_start() {
    AUDITION.store(-12.0, Ordering::Relaxed);
}

fn whole(name: &str, default: i32, min: i32, max: i32) -> IntParam {
    IntParam::new(name, default, IntRange::Linear { min, max })
        .with_string_to_value(Arc::new(text::read_whole))
}

fn fraction(name: &str, default: f32, min: f32, max: f32, step: f32) -> FloatParam {
    FloatParam::new(name, default, FloatRange::Linear { min, max }).with_step_size(step)
}

fn switch(name: &str, default: bool) -> BoolParam {
    BoolParam::new(name, default).with_string_to_value(Arc::new(text::read_switch))
}

impl Default for FigwortParams {
    fn default() -> Self {
        let usual = Settings::default();
        Self {
            desk: Arc::default(),
            session: Arc::default(),
            bypass: switch("Bypass", usual.bypass).make_bypass(),
            manner: EnumParam::new("Manner", MannerChoice::default()),
            elaboration: fraction("Elaboration", usual.elaboration, 0.0, 4.0, 0.05)
                .with_value_to_string(Arc::new(text::show_rung))
                .with_string_to_value(Arc::new(text::read_rung)),
            wait: fraction("Wait", usual.wait, 0.0, 4.0, 0.25)
                .with_value_to_string(Arc::new(text::show_beats))
                .with_string_to_value(Arc::new(text::read_beats)),
            space: whole("Space", (usual.space * 100.0).round() as i32, 0, 100).with_unit(" %"),
            source: EnumParam::new("Input", SourceChoice::Split),
            split: IntParam::new(
                "Split key",
                i32::from(Pitch::C4.key()),
                IntRange::Linear { min: 0, max: 127 },
            )
            .with_value_to_string(Arc::new(text::show_key))
            .with_string_to_value(Arc::new(text::read_key)),
            melody_channel: whole("Melody channel", 1, 1, 16),
            chord_channel: whole("Chord channel", 2, 1, 16),
            latch: switch("Latch", usual.latch),
            reach: whole("Reach", i32::from(usual.reach), 12, 16)
                .with_value_to_string(Arc::new(text::show_reach))
                .with_string_to_value(Arc::new(text::read_reach)),
            clarity: whole("Clarity", i32::from(usual.clarity), -4, 4)
                .with_value_to_string(Arc::new(text::show_clarity))
                .with_string_to_value(Arc::new(text::read_clarity)),
            one_player: switch("One player", usual.one_player),
            level: whole("Level", i32::from(usual.level), -40, 40)
                .with_value_to_string(Arc::new(text::show_signed))
                .with_string_to_value(Arc::new(text::read_signed)),
            pedal: switch("Pedal", usual.pedal),
            dry: switch("Dry", usual.dry),
            tempo: fraction("Own tempo", usual.tempo as f32, 20.0, 400.0, 1.0)
                .with_unit(" bpm")
                .with_string_to_value(Arc::new(text::read_tempo)),
            seed: whole("Seed", usual.seed as i32, 1, 9999),
            finish: switch("Final chord", usual.finish),
            outputs: EnumParam::new("Output channels", OutputChoice::One),
            audition: fraction(
                "Audition piano",
                AUDITION.load(Ordering::Relaxed),
                text::AUDITION_OFF,
                0.0,
                0.5,
            )
            .with_value_to_string(Arc::new(text::show_audition))
            .with_string_to_value(Arc::new(text::read_audition)),
            colour: EnumParam::new("Colour tones", ColourChoice::Melody),
            start: EnumParam::new("Start", StartChoice::Wait),
            swing: whole("Swing", (usual.swing * 100.0).round() as i32, 0, 100).with_unit(" %"),
            sheet: EnumParam::new("Sheet gives", SheetChoice::All),
            sheet_bar: whole("Sheet starts in bar", 1, 1, 999),
        }
    }
}

/// A MIDI channel as the engine counts, 0 to 15.
fn channel(param: &IntParam) -> u8 {
    (param.value().clamp(1, 16) - 1) as u8
}

impl FigwortParams {
    /// What the parameters ask of the engine at this moment.
    ///
    /// # Real time
    /// Atomic loads only.
    pub fn settings(&self) -> Settings {
        Settings {
            bypass: self.bypass.value(),
            source: match self.source.value() {
                SourceChoice::Split => Source::Split(Pitch::new(self.split.value().clamp(0, 127) as u8)),
                SourceChoice::Hands => Source::Hands,
                SourceChoice::Channels => Source::Channels {
                    melody: channel(&self.melody_channel),
                    harmony: channel(&self.chord_channel),
                },
            },
            latch: self.latch.value(),
            elaboration: self.elaboration.value(),
            wait: self.wait.value(),
            space: self.space.value() as f32 / 100.0,
            reach: self.reach.value().clamp(12, 16) as u8,
            clarity: self.clarity.value().clamp(-4, 4) as i8,
            one_player: self.one_player.value(),
            level: self.level.value().clamp(-40, 40) as i8,
            pedal: self.pedal.value(),
            dry: self.dry.value(),
            swing: self.swing.value() as f32 / 100.0,
            tempo: f64::from(self.tempo.value()),
            seed: self.seed.value().max(0) as u32,
            finish: self.finish.value(),
            start: match self.start.value() {
                StartChoice::Wait => Start::AfterWait,
                StartChoice::Chance => Start::ByChance,
            },
            colour: match self.colour.value() {
                ColourChoice::Symbol => Colour::Plain,
                ColourChoice::Melody => Colour::FromMelody,
                ColourChoice::Added => Colour::Added,
            },
            manner: self.manner.value().entry().manner,
        }
    }

    /// Loudness of the audition piano as a factor; `None` when it is off.
    ///
    /// # Real time
    /// One atomic load.
    pub fn audition_gain(&self) -> Option<f32> {
        let decibels = self.audition.value();
        (decibels > text::AUDITION_OFF).then(|| 10.0_f32.powf(decibels / 20.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn defaults_are_the_engines() {
        let manner = MannerChoice::default().entry().manner;
        assert_eq!(FigwortParams::default().settings(), Settings { manner, ..Settings::default() });
    }

    #[test]
    fn the_ids_are_the_promised_ones() {
        let named: Vec<&str> = Control::ALL.iter().map(|control| control.id()).collect();
        let ids: Vec<String> = FigwortParams::default().param_map().into_iter().map(|p| p.0).collect();
        let promised = [
            "bypass",
            "manner",
            "elaboration",
            "wait",
            "space",
            "source",
            "split",
            "melody_channel",
            "chord_channel",
            "latch",
            "reach",
            "clarity",
            "one_player",
            "level",
            "pedal",
            "dry",
            "tempo",
            "seed",
            "finish",
            "outputs",
            "audition",
            "colour",
            "start",
            "swing",
            "sheet",
            "sheet_bar",
        ];
        assert_eq!(ids, promised);
        assert_eq!(named, promised);
    }
}
