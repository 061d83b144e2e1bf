//! The forms in which a performance leaves: MIDI, sound, sheet music, pictures, a report, text.
//!
//! Bytes only; nothing is written here.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use figwort_render::perform::{Options, Performance};
use figwort_render::report::Report;
use figwort_render::{midi, picture, report, score, text, wav};
use figwort_sheet::page::PageBar;
use serde::Serialize;

use super::Pianist;
use crate::args::Extra;
use crate::failure::{Failure, Outcome};
use crate::output::Places;

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
    pub(super) fn in_turn(pieces: &[(&str, Self)]) -> Self {
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
    pub(super) fn is_score(self) -> bool {
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
    let minute = 60 * u64::from(performance.sample_rate.max(1));
    if performance.end_frame > MAX_WAV_MINUTES * minute {
        let minutes = performance.end_frame / minute;
        let message = format!(
            "the sound would last {minutes} minutes or more; the most is {MAX_WAV_MINUTES}; write MIDI and play it \
             with another instrument"
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
        let place = if one { path.to_owned() } else { page(path, index + 1) };
        let bytes = match kind {
            Extra::Png => picture::png(&svg, PNG_SCALE)
                .map_err(|error| Failure::file(path, format!("{error}; or write .svg")))?,
            _ => svg.into_bytes(),
        };
        files.push((place, bytes));
    }
    Ok(files)
}

/// Warnings about files that look like pages of the pictures that were written, and are not: a shorter picture leaves
/// those of a longer one.
pub(crate) fn other_pages<'a>(
    files: impl IntoIterator<Item = &'a (PathBuf, Product)>,
    written: &[PathBuf],
    places: &Places,
) -> Vec<String> {
    let is_picture = |product: &Product| matches!(product, Product::Also(Extra::Svg | Extra::Png));
    let mut others = Vec::new();
    for (path, _) in files.into_iter().filter(|(_, product)| is_picture(product)) {
        let pages = (1..).take_while(|number| written.contains(&page(path, *number))).count();
        if pages > 0 && path.exists() {
            others.push(path.clone());
        }
        let after = (pages + 1..).map(|number| page(path, number)).take_while(|page| page.exists());
        others.extend(after.filter(|page| !places.taken(page)));
    }
    let warning = |path: PathBuf| {
        format!("{}: not of this picture; delete it if an earlier run left it", path.display())
    };
    others.into_iter().map(warning).collect()
}

/// Where one page of several goes, counted from 1.
fn page(path: &Path, number: usize) -> PathBuf {
    let mut name = path.file_stem().unwrap_or_default().to_owned();
    name.push(format!("-{number}."));
    name.push(path.extension().unwrap_or_default());
    path.with_file_name(name)
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
