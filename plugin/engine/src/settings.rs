//! Everything a player can set, as plain data.
//!
//! A front-end (host parameters, a manner file, command-line options) resolves what its user wrote into one
//! [`Settings`]; the engine never sees the rest. Values out of range are brought into it by
//! [`Settings::in_range`], which the engine calls itself.

pub mod ladder;
pub mod weights;

use figwort_theory::{Pitch, Span};

pub use weights::Weights;

/// The player's settings, constant during a block.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// Everything goes through untouched and nothing is added.
    pub bypass: bool,
    /// How harmony and melody are told apart.
    pub source: Source,
    /// Whether a chord stays in force when its keys are let go.
    pub latch: bool,
    /// The ladder, 0 (Plain) to 4 (Ornate), continuous.
    pub elaboration: f32,
    /// How long the melody must have stood before the accompaniment moves, in felt beats: 0 to 4.
    pub wait: f32,
    /// When the accompaniment begins to move under a standing melody.
    pub start: Start,
    /// Share of the still moments that are left still on purpose, 0 to 1.
    pub space: f32,
    /// How far one hand stretches, in semitones: 12 to 16.
    pub reach: u8,
    /// Moves the low interval limits up (clearer) or down (fuller), in semitones: -4 to 4.
    pub clarity: i8,
    /// Tones beyond the chord symbol.
    pub colour: Colour,
    /// Whether the right hand also has to hold the melody: one player for all of it.
    pub one_player: bool,
    /// Loudness of the accompaniment in velocity steps against the manner's own balance: -40 to 40.
    pub level: i8,
    /// Whether the sustain pedal is used.
    pub pedal: bool,
    /// An exact part: every onset on the grid, every note equally strong, no spread chords, no pedal.
    pub dry: bool,
    /// How far eighth notes swing, 0 (even) to 1 (as far as the tempo's usual ratio); the manner may ask for
    /// more.
    pub swing: f32,
    /// Quarter notes per minute when the host gives no tempo: 20 to 400.
    pub tempo: f64,
    /// Seed of the variation; the same seed gives the same notes.
    pub seed: u32,
    /// While set, the next chord struck is the last one: spread, and climbing past the melody.
    pub finish: bool,
    /// The way of playing.
    pub manner: Manner,
}

/// When the accompaniment begins to move under a melody that was not known beforehand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Start {
    /// Once the melody has stood for the wait.
    #[default]
    AfterWait,
    /// At once under a note that, by all that was heard, will probably last 1.5 felt beats or more; after the
    /// wait under any other.
    ByChance,
}

/// How harmony and melody are told apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// Keys below the split are harmony, the others melody.
    Split(Pitch),
    /// Two MIDI channels, 0 to 15; notes on other channels go through as they are.
    Channels {
        /// The melody's channel.
        melody: u8,
        /// The chords' channel.
        harmony: u8,
    },
    /// The hands are told apart by where they are and how they move; all on one keyboard.
    Hands,
    /// The chart supplies the chords; every key is melody.
    ChartHarmony,
    /// The chart supplies the melody, which is played too; every key is harmony.
    ChartMelody,
    /// The chart supplies both, and the melody is played too; keys go through as they are.
    Chart,
}

/// A way of playing, as plain numbers. Front-ends read it from a manner file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Manner {
    /// How readily chords are broken, 0 to 100; compared with the three others.
    pub broken_chord: u8,
    /// How readily chords are repeated, 0 to 100.
    pub repeated_chord: u8,
    /// How readily the bass moves, 0 to 100.
    pub bass_line: u8,
    /// How readily an inner part moves, 0 to 100; on the rung Ornate in full, on Flowing not at all.
    pub inner_line: u8,
    /// Fewest parts of a voicing, 3 to 6.
    pub parts_min: u8,
    /// Most parts of a voicing, 3 to 6.
    pub parts_max: u8,
    /// Lowest bass.
    pub bass_low: Pitch,
    /// Highest bass.
    pub bass_high: Pitch,
    /// Velocity steps that the accompaniment stays below the melody, 0 to 60.
    pub under_melody: u8,
    /// Velocity steps of the bass against the inner parts, -20 to 20.
    pub bass_strength: i8,
    /// Velocity steps between the strongest and the weakest place of a bar, 0 to 40.
    pub accent: u8,
    /// Time from one note to the next of a spread chord, in milliseconds: 0 to 60; 0 strikes chords at once.
    pub spread_ms: u8,
    /// Whether the same figure may run on, bar after bar.
    pub ostinato: bool,
    /// Bars in a row that one figure may have, unless it is an ostinato: 1 to 8.
    pub repeats: u8,
    /// Onsets per quarter note that melody and figure may make together at Flowing, in tenths: 5 to 80.
    pub motion: u8,
    /// Velocity steps of the left hand's parts above the bass against the right hand's, -20 to 20.
    pub left_strength: i8,
    /// Velocity steps of the accompaniment's highest part against those below it, -20 to 20.
    pub top_strength: i8,
    /// How far loudness follows the melody's rise and fall, in percent: 0 to 100.
    pub follow: u8,
    /// Velocity steps from a phrase's ends to its height, 0 to 20.
    pub shape: u8,
    /// Velocity steps from the first section to the last, 0 to 20; chords become fuller with it.
    pub build: u8,
    /// Most by which a chord or a step comes late, in milliseconds: 0 to 12.
    pub timing_ms: u8,
    /// How far eighth notes swing, in percent: 0 to 100.
    pub swing: u8,
    /// Whether the sustain pedal belongs to this way of playing.
    pub pedal: bool,
    /// What matters in a voicing.
    pub weights: Weights,
}

impl Default for Manner {
    fn default() -> Self {
        Self {
            broken_chord: 60,
            repeated_chord: 30,
            bass_line: 40,
            inner_line: 30,
            parts_min: 3,
            parts_max: 6,
            bass_low: Pitch::new(36),
            bass_high: Pitch::new(55),
            under_melody: 16,
            bass_strength: 4,
            accent: 10,
            spread_ms: 0,
            ostinato: false,
            repeats: 2,
            motion: 30,
            left_strength: -3,
            top_strength: 2,
            follow: 50,
            shape: 4,
            build: 4,
            timing_ms: 0,
            swing: 0,
            pedal: true,
            weights: Weights::default(),
        }
    }
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            bypass: false,
            source: Source::Split(Pitch::C4),
            latch: true,
            elaboration: 3.0,
            wait: 1.0,
            start: Start::AfterWait,
            space: 0.08,
            reach: 14,
            clarity: 0,
            colour: Colour::FromMelody,
            one_player: true,
            level: 0,
            pedal: true,
            dry: false,
            swing: 0.0,
            tempo: 100.0,
            seed: 1,
            finish: false,
            manner: Manner::default(),
        }
    }
}

/// Which tones beyond the chord symbol are taken into a voicing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Colour {
    /// None.
    Plain,
    /// Those that a standing melody note brings: a ninth sung over a dominant belongs to it.
    #[default]
    FromMelody,
    /// Those, and a ninth where one is available.
    Added,
}

/// A rung of the ladder of elaboration.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Rung {
    /// The chords as held or written, close, one per change.
    Plain,
    /// The bass alone, the rest close under the melody.
    Spaced,
    /// The chord shared between the hands.
    Shared,
    /// And it moves while the melody stands still.
    #[default]
    Flowing,
    /// And it is ornamented.
    Ornate,
}

impl Rung {
    /// All five, from the bottom.
    pub const ALL: [Self; 5] = [Self::Plain, Self::Spaced, Self::Shared, Self::Flowing, Self::Ornate];

    /// The rung's name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Plain => "Plain",
            Self::Spaced => "Spaced",
            Self::Shared => "Shared",
            Self::Flowing => "Flowing",
            Self::Ornate => "Ornate",
        }
    }
}

impl Settings {
    /// The wait in musical time, for a felt beat of this length.
    pub fn wait_for(&self, beat: Span) -> Span {
        Span((beat.0 as f64 * f64::from(self.wait)) as i64)
    }

    /// The rung nearest to `elaboration`, for display. What a bar plays: [`Settings::rung_at`].
    pub fn rung(&self) -> Rung {
        match self.elaboration {
            e if e < 0.5 => Rung::Plain,
            e if e < 1.5 => Rung::Spaced,
            e if e < 2.5 => Rung::Shared,
            e if e < 3.5 => Rung::Flowing,
            _ => Rung::Ornate,
        }
    }

    /// The same settings with every value brought into its range; not-a-number becomes the default.
    #[must_use]
    pub fn in_range(&self) -> Self {
        fn clamp(value: f32, low: f32, high: f32, default: f32) -> f32 {
            if value.is_nan() { default } else { value.clamp(low, high) }
        }
        let default = Self::default();
        let parts_min = self.manner.parts_min.clamp(3, 6);
        Self {
            elaboration: clamp(self.elaboration, 0.0, 4.0, default.elaboration),
            wait: clamp(self.wait, 0.0, 4.0, default.wait),
            swing: clamp(self.swing, 0.0, 1.0, default.swing),
            space: clamp(self.space, 0.0, 1.0, default.space),
            reach: self.reach.clamp(12, 16),
            clarity: self.clarity.clamp(-4, 4),
            level: self.level.clamp(-40, 40),
            pedal: self.pedal && self.manner.pedal,
            tempo: if self.tempo.is_nan() { default.tempo } else { self.tempo.clamp(20.0, 400.0) },
            manner: Manner {
                parts_min,
                parts_max: self.manner.parts_max.clamp(parts_min, 6),
                bass_high: self
                    .manner
                    .bass_high
                    .max(Pitch::new(self.manner.bass_low.key().saturating_add(11))),
                under_melody: self.manner.under_melody.min(60),
                bass_strength: self.manner.bass_strength.clamp(-20, 20),
                accent: self.manner.accent.min(40),
                spread_ms: self.manner.spread_ms.min(60),
                repeats: self.manner.repeats.clamp(1, 8),
                motion: self.manner.motion.clamp(5, 80),
                left_strength: self.manner.left_strength.clamp(-20, 20),
                top_strength: self.manner.top_strength.clamp(-20, 20),
                follow: self.manner.follow.min(100),
                shape: self.manner.shape.min(20),
                build: self.manner.build.min(20),
                timing_ms: self.manner.timing_ms.min(12),
                swing: self.manner.swing.min(100),
                weights: self.manner.weights.in_range(),
                ..self.manner
            },
            ..*self
        }
    }
}
