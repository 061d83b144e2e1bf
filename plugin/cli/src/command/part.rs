//! What is written of a performance, and where.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use figwort_engine::{Colour, Rung, Settings};
use figwort_render::perform::{Options, Performance};
use figwort_render::report::Report;
use figwort_render::soundfont::Font;
use figwort_render::tempo::TempoMap;
use figwort_render::{midi, picture, report, score, text, wav};
use figwort_sheet::TempoChange;
use figwort_sheet::page::PageBar;
use figwort_theory::Moment;
use serde::Serialize;

use crate::args::{ColourTones, Extra, Playing, Wanted};
use crate::failure::{Failure, Outcome};
use crate::output::{self, Outputs};
use crate::{input, news, presets, print};

/// Longest music, in hours. Sheets and takes of any sense are shorter; a damaged one may last for years.
const MAX_HOURS: u64 = 4;
/// Longest sound, in minutes; it is made in memory.
const MAX_WAV_MINUTES: u64 = 60;
/// Pixels of a PNG for each unit of the SVG.
const PNG_SCALE: f32 = 2.0;

/// A form in which a performance leaves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Product {
    Midi,
    Also(Extra),
}

/// A sheet or take as performed: to be heard and, where sheet music is wanted, to be written.
#[derive(Clone, Debug)]
pub(crate) struct Music {
    /// As it is heard.
    pub(crate) heard: Performance,
    /// Without touch; the same again where no sheet music is wanted.
    written: Option<Performance>,
    /// The page with its repeat signs, where sheet music keeps them.
    page: Vec<PageBar>,
}

impl Music {
    /// Performs for these products.
    pub(crate) fn perform<'a>(
        pianist: &Pianist,
        products: impl IntoIterator<Item = &'a Product>,
        perform: impl Fn(&Options) -> Performance,
    ) -> Self {
        let written = products
            .into_iter()
            .any(|product| product.is_score())
            .then(|| perform(&pianist.options.notated()));
        Self { heard: perform(&pianist.options), written, page: Vec::new() }
    }

    /// Pieces of music one after another, each under a heading.
    fn in_turn(pieces: &[(&str, Self)]) -> Self {
        let all = |of: fn(&Self) -> &Performance| {
            let pieces: Vec<(&str, Performance)> =
                pieces.iter().map(|(heading, music)| (*heading, of(music).clone())).collect();
            Performance::in_turn(&pieces)
        };
        let has_written = pieces.iter().any(|(_, music)| music.written.is_some());
        let written = has_written.then(|| all(Self::written));
        Self { heard: all(|music| &music.heard), written, page: Vec::new() }
    }

    /// The same, its sheet music with the repeat signs of a page; without bars as it is played.
    pub(crate) fn on_page(self, page: &[PageBar]) -> Self {
        Self { page: page.to_vec(), ..self }
    }

    fn written(&self) -> &Performance {
        self.written.as_ref().unwrap_or(&self.heard)
    }

    fn score(&self) -> String {
        match &self.page[..] {
            [] => score::musicxml(self.written(), &self.heard),
            page => score::musicxml_on_page(self.written(), &self.heard, page),
        }
    }
}

impl Product {
    /// Whether it is sheet music.
    fn is_score(self) -> bool {
        matches!(self, Self::Also(Extra::Musicxml | Extra::Mxl))
    }

    /// The music in this form, as the files it takes: one at `path`, or several numbered ones beside it.
    pub(crate) fn render(
        self,
        music: &Music,
        pianist: &Pianist,
        path: &Path,
    ) -> Outcome<Vec<(PathBuf, Vec<u8>)>> {
        let performance = &music.heard;
        let bytes = match self {
            Self::Midi => midi::write(performance),
            Self::Also(Extra::Wav) => sound(performance, pianist, path)?,
            Self::Also(kind @ (Extra::Svg | Extra::Png)) => return pages(performance, kind, path),
            Self::Also(Extra::Musicxml) => music.score().into_bytes(),
            Self::Also(Extra::Mxl) => score::mxl(&music.score()),
            Self::Also(Extra::Json) => json(performance, pianist)
                .map_err(|error| Failure::file(path, format!("the report cannot be made ({error})")))?,
            Self::Also(Extra::Txt) => text::score(performance, 0..performance.bars.len()).into_bytes(),
        };
        Ok(vec![(path.to_owned(), bytes)])
    }
}

/// The sound, by the piano or the soundfont.
fn sound(performance: &Performance, pianist: &Pianist, path: &Path) -> Outcome<Vec<u8>> {
    let minutes = performance.end_frame / u64::from(performance.sample_rate.max(1)) / 60;
    if minutes >= MAX_WAV_MINUTES {
        let message = format!(
            "the sound would last {minutes} minutes, more than {MAX_WAV_MINUTES}; write MIDI and play it with \
             another instrument"
        );
        return Err(Failure::file(path, message));
    }
    match &pianist.font {
        None => Ok(wav::write(performance)),
        Some(font) => match wav::write_with(performance, font) {
            Ok((bytes, _)) => Ok(bytes),
            Err(error) => Err(Failure::file(path, format!("{error} with --rate"))),
        },
    }
}

/// The picture's pages.
fn pages(performance: &Performance, kind: Extra, path: &Path) -> Outcome<Vec<(PathBuf, Vec<u8>)>> {
    let pages = picture::pages(performance, &Default::default());
    let one = pages.len() == 1;
    let mut files = Vec::new();
    for (index, svg) in pages.into_iter().enumerate() {
        let stem = path.file_stem().unwrap_or_default().to_string_lossy();
        let extension = path.extension().unwrap_or_default().to_string_lossy();
        let place = match one {
            true => path.to_owned(),
            false => path.with_file_name(format!("{stem}-{}.{extension}", index + 1)),
        };
        let bytes = match kind {
            Extra::Png => picture::png(&svg, PNG_SCALE)
                .map_err(|error| Failure::file(path, format!("{error}; or write .svg")))?,
            _ => svg.into_bytes(),
        };
        files.push((place, bytes));
    }
    Ok(files)
}

/// Everything that is wanted of one sheet or take.
#[derive(Debug)]
pub(crate) struct Order<'a> {
    wanted: &'a Wanted,
    /// Files of the performance itself.
    files: Vec<(PathBuf, Product)>,
    /// Files of each rung, with `--stages`, and of all of them in turn.
    stages: Vec<(Rung, Vec<(PathBuf, Product)>)>,
    in_turn: Vec<(PathBuf, Product)>,
}

impl<'a> Order<'a> {
    /// Whether sheet music is among the files.
    pub(crate) fn has_score(&self) -> bool {
        let staged = self.stages.iter().flat_map(|(_, files)| files);
        self.files.iter().chain(staged).any(|(_, product)| product.is_score())
    }

    /// What the options ask for, if they ask for anything and it can be written.
    pub(crate) fn new(wanted: &'a Wanted, read: &Path) -> Outcome<Self> {
        let mut files = Vec::new();
        let mut stages = Vec::new();
        let mut in_turn = Vec::new();
        if let Some(part) = &wanted.out {
            files.extend(beside(part, &wanted.also));
            if wanted.stages {
                for rung in Rung::ALL {
                    let name = format!("{}.mid", rung.name().to_lowercase());
                    stages.push((rung, beside(&part.with_extension(name), &wanted.also)));
                }
                in_turn = beside(&part.with_extension("stages.mid"), &wanted.also);
            }
        }
        if let Some(path) = &wanted.wav {
            files.push((path.clone(), Product::Also(Extra::Wav)));
        }
        if let Some(path) = &wanted.score {
            let kind = match input::extension(path).as_str() {
                "musicxml" | "xml" => Extra::Musicxml,
                "mxl" => Extra::Mxl,
                _ => {
                    return Err(Failure::misuse(format!(
                        "--score {}: name a file that ends in .musicxml, or in .mxl for a compressed one",
                        path.display()
                    )));
                }
            };
            files.push((path.clone(), Product::Also(kind)));
        }
        if let Some(path) = &wanted.picture {
            let kind = match input::extension(path).as_str() {
                "svg" => Extra::Svg,
                "png" => Extra::Png,
                _ => {
                    return Err(Failure::misuse(format!(
                        "--picture {}: name a file that ends in .svg or .png",
                        path.display()
                    )));
                }
            };
            files.push((path.clone(), Product::Also(kind)));
        }
        if let Some(path) = &wanted.report {
            files.push((path.clone(), Product::Also(Extra::Json)));
        }
        let sounds = |(_, product): &(PathBuf, Product)| *product == Product::Also(Extra::Wav);
        if wanted.soundfont.is_some() && !files.iter().any(sounds) {
            return Err(Failure::misuse(
                "--soundfont: nothing that sounds is written; add --wav FILE.wav, or --also wav",
            ));
        }
        if files.is_empty() && !wanted.text && !wanted.chart && !wanted.table {
            return Err(Failure::misuse(
                "nothing to do: say what to write with -o, --score, --wav, --picture or --report, or what to \
                 print with --text, --chart or --table",
            ));
        }
        let staged = stages.iter().flat_map(|(_, files)| files).chain(&in_turn);
        output::check_places(files.iter().chain(staged).map(|(path, _)| path.as_path()), read)?;
        Ok(Self { wanted, files, stages, in_turn })
    }

    /// Performs, renders everything, and only then writes and prints.
    ///
    /// `page` is the sheet's page where sheet music keeps its repeat signs; all rungs in turn are played out.
    pub(crate) fn fill(
        &self,
        pianist: &Pianist,
        page: &[PageBar],
        perform: impl Fn(&Options) -> Performance,
    ) -> Outcome<()> {
        let products = self.files.iter().map(|(_, product)| product);
        let music = Music::perform(pianist, products, &perform).on_page(page);
        let performance = &music.heard;
        let mut outputs = Outputs::default();
        for (path, product) in &self.files {
            outputs.add_all(product.render(&music, pianist, path)?);
        }
        let mut pieces = Vec::new();
        for (rung, files) in &self.stages {
            let mut staged = pianist.clone();
            staged.options.settings.elaboration = *rung as u8 as f32;
            let products = files.iter().map(|(_, product)| product);
            let music = Music::perform(&staged, products, &perform).on_page(page);
            for (path, product) in files {
                outputs.add_all(product.render(&music, &staged, path)?);
            }
            pieces.push((rung.name(), music));
        }
        if !self.in_turn.is_empty() {
            let all = Music::in_turn(&pieces);
            for (path, product) in &self.in_turn {
                outputs.add_all(product.render(&all, pianist, path)?);
            }
        }
        let mut printed = String::new();
        if self.wanted.text {
            printed += &text::score(performance, 0..performance.bars.len());
        }
        if self.wanted.chart {
            printed += &text::chart(performance);
        }
        if self.wanted.table {
            printed += &report::table(performance);
        }
        for path in outputs.write()? {
            news(&format!("wrote {}", path.display()));
        }
        print(&printed)
    }
}

/// A part and the files wanted beside it.
pub(crate) fn beside(part: &Path, also: &[Extra]) -> Vec<(PathBuf, Product)> {
    let mut files = vec![(part.to_owned(), Product::Midi)];
    for kind in also {
        let file = (part.with_extension(kind.extension()), Product::Also(*kind));
        if !files.contains(&file) {
            files.push(file);
        }
    }
    files
}

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

/// The report, with who played.
fn json(performance: &Performance, pianist: &Pianist) -> serde_json::Result<Vec<u8>> {
    #[derive(Serialize)]
    struct Signed<'a> {
        manner: &'a str,
        elaboration: f32,
        seed: u32,
        /// What the numbers of figures stand for.
        figure_names: &'a BTreeMap<u16, String>,
        #[serde(flatten)]
        report: Report,
    }
    let settings = &pianist.options.settings;
    let signed = Signed {
        manner: &pianist.manner,
        elaboration: settings.elaboration,
        seed: settings.seed,
        figure_names: &pianist.figures,
        report: report::report(performance),
    };
    let mut bytes = serde_json::to_vec_pretty(&signed)?;
    bytes.push(b'\n');
    Ok(bytes)
}

/// Refuses music that would take hours to perform.
pub(crate) fn check_duration(tempos: &[TempoChange], end: Moment) -> Result<(), String> {
    /// A clock coarse enough for years to fit.
    const RATE: u32 = 1_000;
    let hours = TempoMap::new(tempos, RATE).frame_at(end) / u64::from(RATE) / 3_600;
    if hours >= MAX_HOURS {
        Err(format!("it would last {hours} hours, more than {MAX_HOURS}; check its tempo and its last event"))
    } else {
        Ok(())
    }
}
