//! What can be written on the command line.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};
use figwort_engine::{Rung, Settings};
use figwort_preset::{Library, notation};
use figwort_theory::{ChordSymbol, Key, Kind, Mode, Pitch};

/// Figwort plays a piano accompaniment to a melody, from a lead sheet or from the chords a player holds.
#[derive(Debug, Parser)]
#[command(name = "figwort", version, max_term_width = 100, after_help = EXAMPLES)]
pub(crate) struct Arguments {
    #[command(subcommand)]
    pub(crate) command: Command,
}

const EXAMPLES: &str = "\
Examples:
  figwort arrange waltz.abc -o waltz.mid --wav waltz.wav
  figwort arrange songs/ -o parts/ --also svg,json
  figwort follow take.mid -o part.mid
  figwort name 48 52 55 58

Exit codes: 0 done, 1 could not, 2 misuse, 130 stopped.";

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Play a whole lead sheet (ABC, MusicXML, or MIDI with melody and chords), knowing all of it.
    Arrange(Arrange),
    /// Play along with a recorded take (MIDI), knowing only what has been heard so far.
    Follow(Follow),
    /// Name a held chord.
    Name(Name),
    /// Read sheets, takes, figures and manners and say what is wrong with them.
    Check(Check),
    /// List the manners: the ways of playing.
    Manners(Listing),
    /// List the figures that manners are made of.
    Figures(Listing),
}

/// The usual share of planned stillness, in percent; the engine's own.
const SPACE: u8 = 8;

/// How to play.
#[derive(Args, Debug)]
#[command(next_help_heading = "Playing")]
pub(crate) struct Playing {
    /// The way of playing: a name from `figwort manners`, or a manner file (.toml).
    #[arg(long, value_name = "NAME", default_value = Library::DEFAULT_MANNER)]
    pub(crate) manner: String,
    /// How far to elaborate, 0 to 4 or by name: plain, spaced, shared, flowing, ornate.
    #[arg(long, value_name = "0..4", default_value = "3", allow_negative_numbers = true, value_parser = elaboration)]
    pub(crate) elaboration: f32,
    /// Vary the playing; the same seed gives the same notes.
    #[arg(long, value_name = "N", default_value_t = Settings::default().seed, allow_negative_numbers = true, value_parser = seed)]
    pub(crate) seed: u32,
    /// How far eighth notes swing, in percent of what is usual at the tempo; the manner may ask for more.
    #[arg(long, value_name = "0..100", default_value_t = 0, allow_negative_numbers = true, value_parser = clap::value_parser!(u8).range(0..=100))]
    pub(crate) swing: u8,
    /// Which share of the melody's still moments is left still on purpose, in percent.
    #[arg(long, value_name = "0..100", default_value_t = SPACE, allow_negative_numbers = true, value_parser = clap::value_parser!(u8).range(0..=100))]
    pub(crate) space: u8,
    /// An exact part: all on the grid, all equally strong, no spread chords, no pedal.
    #[arg(long)]
    pub(crate) dry: bool,
    /// Tones beyond the chord symbols.
    #[arg(long, value_enum, default_value_t)]
    pub(crate) colour: ColourTones,
    /// A folder with figures and manners of your own (.toml); they go before the factory's.
    #[arg(long, value_name = "DIR")]
    pub(crate) presets: Option<PathBuf>,
}

/// Which tones beyond the chord symbols are played.
#[derive(Clone, Copy, Debug, Default, ValueEnum)]
pub(crate) enum ColourTones {
    /// None
    Symbol,
    /// Those that a long melody note brings
    #[default]
    Melody,
    /// And a ninth where one is available
    Added,
}

/// What to write.
#[derive(Args, Debug)]
#[command(next_help_heading = "Output")]
pub(crate) struct Wanted {
    /// The part as a MIDI file.
    #[arg(short = 'o', long, value_name = "PART.mid")]
    pub(crate) out: Option<PathBuf>,
    /// The sound as a WAV file.
    #[arg(long, value_name = "FILE.wav")]
    pub(crate) wav: Option<PathBuf>,
    /// The instrument that sounds: a soundfont, in place of the built-in piano.
    #[arg(long, value_name = "FILE.sf2")]
    pub(crate) soundfont: Option<PathBuf>,
    /// The part as sheet music (MusicXML 4.0), plain or compressed by its extension: the melody with chord
    /// symbols over two piano staves.
    #[arg(long, value_name = "FILE.musicxml|mxl")]
    pub(crate) score: Option<PathBuf>,
    /// A picture of the part, as SVG or PNG by its extension; a long one on several pages: FILE-1.png …
    #[arg(long, value_name = "FILE.svg|png")]
    pub(crate) picture: Option<PathBuf>,
    /// What was decided and played in each bar, as JSON.
    #[arg(long, value_name = "FILE.json")]
    pub(crate) report: Option<PathBuf>,
    /// More files beside the part, under the same name.
    #[arg(long, value_name = "KINDS", value_delimiter = ',', requires = "out")]
    pub(crate) also: Vec<Extra>,
    /// All five rungs of elaboration beside the part, for practice: PART.plain.mid, PART.spaced.mid … and one
    /// after another in PART.stages.mid.
    #[arg(long, requires = "out")]
    pub(crate) stages: bool,
    /// Print the part as a readable text score.
    #[arg(long)]
    pub(crate) text: bool,
    /// Print a chord chart: bars, chords, what was played.
    #[arg(long)]
    pub(crate) chart: bool,
    /// Print a table of the bars: chord, melody, what was played, parts, dynamics.
    #[arg(long)]
    pub(crate) table: bool,
    /// Frames per second of the sound and of the engine's clock.
    #[arg(long, value_name = "HZ", default_value_t = 48_000, allow_negative_numbers = true, value_parser = clap::value_parser!(u32).range(8_000..=192_000))]
    pub(crate) rate: u32,
}

/// How sheet music has the sheet's repeats.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub(crate) enum Repeats {
    /// Written out as they are played
    #[default]
    Play,
    /// Each bar once, with repeat signs, endings and jumps
    Keep,
}

/// When to begin to move.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum StartWhen {
    /// Once the melody has stood for a beat.
    AfterWait,
    /// At the onset of a note that is likely to be long.
    ByChance,
}

/// A kind of file to write beside the part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum Extra {
    /// Sound.
    Wav,
    /// Picture.
    Svg,
    /// Picture.
    Png,
    /// Sheet music.
    Musicxml,
    /// Sheet music, compressed.
    Mxl,
    /// Report.
    Json,
    /// Text score.
    Txt,
}

impl Extra {
    /// The file's extension.
    pub(crate) fn extension(self) -> &'static str {
        match self {
            Self::Wav => "wav",
            Self::Svg => "svg",
            Self::Png => "png",
            Self::Musicxml => "musicxml",
            Self::Mxl => "mxl",
            Self::Json => "json",
            Self::Txt => "txt",
        }
    }
}

#[derive(Args, Debug)]
#[command(after_help = "\
Examples:
  figwort arrange waltz.abc -o waltz.mid --picture waltz.png
  figwort arrange book.abc --tune 12 -o twelve.mid --manner light-footed
  figwort arrange ballad.abc --score ballad.musicxml
  figwort arrange trio.musicxml -o trio.mid --melody Flute
  figwort arrange reel.abc --score reel.musicxml --repeats keep
  figwort arrange ballad.abc -o ballad.mid --stages
  figwort arrange ballad.mxl --elaboration shared --chart
  figwort arrange ballad.mxl --wav ballad.wav --soundfont grand.sf2
  figwort arrange songs/ -o parts/ --also svg,json")]
pub(crate) struct Arrange {
    /// The lead sheet, or a folder of them: then every tune of every sheet is arranged, -o names the folder for their
    /// parts, and --report writes how each tune went.
    #[arg(value_name = "SHEET")]
    pub(crate) sheet: PathBuf,
    /// More than one, which is refused in words of our own.
    #[arg(hide = true)]
    pub(crate) others: Vec<PathBuf>,
    /// Which tune of an ABC file, by its X: number; the first when left out.
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = tune_number)]
    pub(crate) tune: Option<usize>,
    /// Which line is the melody, by its name or its number from 1: the part of a MusicXML sheet, the voice of an ABC
    /// tune, the track of a MIDI file; found by itself when left out.
    #[arg(long, value_name = "NAME|N")]
    pub(crate) melody: Option<String>,
    /// How sheet music (MusicXML) has the sheet's repeats: all played out, or kept as signs with the accompaniment
    /// of the first time. What is heard is the same. Of --stages, the sheet music of all rungs in turn is played out, as
    /// a D.C. or D.S. would lead back into the first rung.
    #[arg(long, value_enum, value_name = "HOW", default_value_t, help_heading = "Output")]
    pub(crate) repeats: Repeats,
    #[command(flatten)]
    pub(crate) playing: Playing,
    #[command(flatten)]
    pub(crate) wanted: Wanted,
}

#[derive(Args, Debug)]
#[command(after_help = "\
Examples:
  figwort follow take.mid -o part.mid
  figwort follow take.mid -o part.mid --melody-channel 1 --chord-channel 3
  figwort follow take.mid -o part.mid --split C4 --wav part.wav
  figwort follow take.mid -o part.mid --hands")]
pub(crate) struct Follow {
    /// The take: a MIDI file.
    #[arg(value_name = "TAKE.mid")]
    pub(crate) take: PathBuf,
    /// More than one, which is refused in words of our own.
    #[arg(hide = true)]
    pub(crate) others: Vec<PathBuf>,
    /// The melody's channel, 1 to 16.
    #[arg(long, value_name = "1..16", default_value_t = 1, allow_negative_numbers = true, value_parser = clap::value_parser!(u8).range(1..=16))]
    pub(crate) melody_channel: u8,
    /// The chords' channel, 1 to 16.
    #[arg(long, value_name = "1..16", default_value_t = 2, allow_negative_numbers = true, value_parser = clap::value_parser!(u8).range(1..=16))]
    pub(crate) chord_channel: u8,
    /// All on one keyboard: chords below this key, the melody from it up; C4 is middle C.
    #[arg(long, value_name = "KEY", allow_negative_numbers = true, value_parser = key, conflicts_with_all = ["melody_channel", "chord_channel"])]
    pub(crate) split: Option<Pitch>,
    /// All on one keyboard: the hands are told apart by where they are and how they move.
    #[arg(long, conflicts_with_all = ["melody_channel", "chord_channel", "split"])]
    pub(crate) hands: bool,
    /// When to begin to move under a standing melody: after a beat's wait, or at once under a note that, by
    /// all that was heard, is likely to be long.
    #[arg(long, value_enum, value_name = "WHEN", default_value_t = StartWhen::AfterWait)]
    pub(crate) start: StartWhen,
    /// Frames per block, 1 to 8192; the music is the same with any.
    #[arg(long, value_name = "FRAMES", default_value_t = 64, allow_negative_numbers = true, value_parser = clap::value_parser!(u32).range(1..=8192))]
    pub(crate) block: u32,
    #[command(flatten)]
    pub(crate) playing: Playing,
    #[command(flatten)]
    pub(crate) wanted: Wanted,
}

#[derive(Args, Debug)]
#[command(after_help = "\
Examples:
  figwort name 48 52 55 58
  figwort name C3 E3 G3 Bb3
  figwort name --key Gm 52 57 60 67")]
pub(crate) struct Name {
    /// The keys, as MIDI numbers or as names; C4 and 60 are middle C. One key alone is a pedal point: Cpedal.
    #[arg(value_name = "KEY", required = true, allow_negative_numbers = true, value_parser = key)]
    pub(crate) keys: Vec<Pitch>,
    /// The key of the music, to settle doubts and for the spelling: Eb, F#m; C when left out.
    #[arg(long, value_name = "KEY", value_parser = key_of_music)]
    pub(crate) key: Option<Key>,
}

#[derive(Args, Debug)]
#[command(after_help = "\
Examples:
  figwort check songs/*.abc take.mid
  figwort check my-presets/")]
pub(crate) struct Check {
    /// Sheets, takes, figures and manners, or folders with such files.
    #[arg(value_name = "FILE", required = true)]
    pub(crate) files: Vec<PathBuf>,
}

#[derive(Args, Debug)]
pub(crate) struct Listing {
    /// Print this one's file, to start your own from.
    #[arg(long, value_name = "NAME")]
    pub(crate) show: Option<String>,
    /// A folder with figures and manners of your own (.toml).
    #[arg(long, value_name = "DIR")]
    pub(crate) presets: Option<PathBuf>,
}

fn elaboration(text: &str) -> Result<f32, String> {
    if let Some(place) = Rung::ALL.iter().position(|rung| rung.name().eq_ignore_ascii_case(text)) {
        return Ok(place as f32);
    }
    match text.parse::<f32>() {
        Ok(value) if (0.0..=4.0).contains(&value) => Ok(value),
        _ => Err("write a number from 0 to 4, or plain, spaced, shared, flowing, ornate".to_owned()),
    }
}

fn seed(text: &str) -> Result<u32, String> {
    text.parse().map_err(|_| format!("write a whole number from 0 to {}", u32::MAX))
}

fn tune_number(text: &str) -> Result<usize, String> {
    text.parse().map_err(|_| "write the tune's X: number".to_owned())
}

fn key(text: &str) -> Result<Pitch, String> {
    notation::pitch(text).ok_or_else(|| {
        "write a key as a number from 0 to 127, or as a name with its octave such as C3, F#4 or Bb2"
            .to_owned()
    })
}

/// Written like its tonic's chord.
fn key_of_music(text: &str) -> Result<Key, String> {
    let chord = ChordSymbol::parse(text).ok().and_then(|symbol| symbol.chord);
    let mode = match chord.map(|chord| chord.kind) {
        Some(Kind::Major) => Some(Mode::Major),
        Some(Kind::Minor) => Some(Mode::Minor),
        _ => None,
    };
    match (chord, mode) {
        (Some(chord), Some(mode)) if chord.bass == chord.root && chord.alterations.is_empty() => {
            Ok(Key { tonic: chord.root, mode })
        }
        _ => {
            Err("write a major key as its tonic, such as Eb, and a minor one with m, such as F#m".to_owned())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_usual_space_is_the_engines() {
        assert!((f32::from(SPACE) / 100.0 - Settings::default().space).abs() < 1e-6);
    }

    #[test]
    fn the_definitions_hold_together() {
        <Arguments as clap::CommandFactory>::command().debug_assert();
    }
}
