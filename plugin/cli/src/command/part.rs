//! What is written of a performance, and where; and who plays it.

mod order;
mod product;

use std::collections::BTreeMap;
use std::path::Path;

use figwort_engine::{Colour, Settings};
use figwort_render::perform::Options;
use figwort_render::soundfont::Font;
use figwort_render::tempo::TempoMap;
use figwort_sheet::TempoChange;
use figwort_theory::Moment;

use crate::args::{ColourTones, Playing, Wanted};
use crate::failure::{Failure, Outcome};
use crate::{input, presets};

pub(crate) use order::Order;
pub(crate) use product::{Music, Product, beside, other_pages};

/// Longest music, in hours. Sheets and takes of any sense are shorter; a damaged one may last for years.
const MAX_HOURS: u64 = 4;

/// Who plays: everything that the command line's options resolve to.
#[derive(Clone, Debug)]
pub(crate) struct Pianist {
    /// For the performance; the source is the caller's to set.
    pub(crate) options: Options,
    /// The soundfont that plays, in place of the piano.
    font: Option<Font>,
    /// The manner's name.
    manner: String,
    /// Its figures' names, by the numbers that decisions carry.
    figures: BTreeMap<u16, String>,
}

impl Pianist {
    /// The pianist that is asked for.
    ///
    /// # Errors
    /// When there is no such manner, or a preset file is wrong.
    pub(crate) fn new(playing: &Playing, wanted: &Wanted) -> Outcome<Self> {
        let (library, manner) = presets::manner(playing)?;
        let name = |id| Some((id, library.figure_name(id)?.to_owned()));
        let figures = manner.figures.iter().filter_map(|figure| name(figure.id)).collect();
        let settings = Settings {
            elaboration: playing.elaboration,
            seed: playing.seed,
            dry: playing.dry,
            swing: f32::from(playing.swing) / 100.0,
            space: f32::from(playing.space) / 100.0,
            colour: match playing.colour {
                ColourTones::Symbol => Colour::Plain,
                ColourTones::Melody => Colour::FromMelody,
                ColourTones::Added => Colour::Added,
            },
            manner: manner.manner,
            ..Settings::default()
        };
        let options =
            Options { sample_rate: wanted.rate, settings, figures: manner.figures, ..Options::default() };
        let font = wanted.soundfont.as_deref().map(font).transpose()?;
        Ok(Self { options, font, manner: manner.name, figures })
    }
}

/// The soundfont in a file.
fn font(path: &Path) -> Outcome<Font> {
    let bytes = input::bytes(path, input::MAX_FONT)?;
    Font::read(&bytes).map_err(|error| Failure::file(path, error))
}

/// Refuses music that would take hours to perform.
pub(crate) fn check_duration(tempos: &[TempoChange], end: Moment) -> Result<(), String> {
    /// A clock coarse enough for years to fit.
    const RATE: u32 = 1_000;
    let hour = 3_600 * u64::from(RATE);
    let long = TempoMap::new(tempos, RATE).frame_at(end);
    if long > MAX_HOURS * hour {
        let hours = long / hour;
        Err(format!(
            "it would last {hours} hours or more; the most is {MAX_HOURS}; check its tempo and its last event"
        ))
    } else {
        Ok(())
    }
}
