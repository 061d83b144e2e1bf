//! What is wanted of one sheet or take, each in its place.

use std::path::{Path, PathBuf};

use figwort_engine::Rung;
use figwort_render::perform::{Options, Performance};
use figwort_render::{report, text};
use figwort_sheet::page::PageBar;

use super::product::other_pages;
use super::{Music, Pianist, Product, beside};
use crate::args::{Extra, Playing, Wanted};
use crate::command::arrange;
use crate::failure::{Failure, Outcome};
use crate::output::{Outputs, Places};
use crate::{input, news, presets, print};

/// Everything that is wanted of one sheet or take.
#[derive(Debug)]
pub(crate) struct Order<'a> {
    wanted: &'a Wanted,
    /// What is played.
    music: &'a Path,
    /// Files of the performance itself.
    files: Vec<(PathBuf, Product)>,
    /// Files of each rung, with `--stages`, and of all of them in turn.
    stages: Vec<(Rung, Vec<(PathBuf, Product)>)>,
    in_turn: Vec<(PathBuf, Product)>,
    places: Places,
}

impl<'a> Order<'a> {
    /// Whether sheet music is among the files.
    pub(crate) fn has_score(&self) -> bool {
        let staged = self.stages.iter().flat_map(|(_, files)| files);
        self.files.iter().chain(staged).any(|(_, product)| product.is_score())
    }

    /// What the options ask for of this music, if they ask for anything and it can be written without replacing what
    /// is read.
    pub(crate) fn new(wanted: &'a Wanted, playing: &Playing, music: &'a Path) -> Outcome<Self> {
        let mut files = Vec::new();
        let mut stages = Vec::new();
        let mut in_turn = Vec::new();
        if let Some(part) = &wanted.out {
            check_part(part)?;
            files.extend(beside(part, &wanted.also));
            if wanted.stages {
                for rung in Rung::ALL {
                    let name = format!("{}.mid", rung.name().to_lowercase());
                    stages.push((rung, beside(&part.with_extension(name), &wanted.also)));
                }
                in_turn = beside(&part.with_extension("stages.mid"), &wanted.also);
            }
        }
        let mut add = |path: &Option<PathBuf>, option, kinds: &[_], advice| match path {
            Some(path) => kind(path, option, kinds, advice).map(|kind| files.push((path.clone(), kind))),
            None => Ok(()),
        };
        add(
            &wanted.wav,
            "--wav",
            &[("wav", Extra::Wav)],
            "the sound is a WAV file; name one that ends in .wav",
        )?;
        add(
            &wanted.score,
            "--score",
            &[("musicxml", Extra::Musicxml), ("xml", Extra::Musicxml), ("mxl", Extra::Mxl)],
            "name a file that ends in .musicxml, or in .mxl for a compressed one",
        )?;
        add(
            &wanted.picture,
            "--picture",
            &[("svg", Extra::Svg), ("png", Extra::Png)],
            "name a file that ends in .svg or .png",
        )?;
        add(
            &wanted.report,
            "--report",
            &[("json", Extra::Json)],
            "the report is JSON; name a file that ends in .json",
        )?;
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
        let mut read = presets::files(playing)?;
        read.extend(wanted.soundfont.clone());
        read.push(music.to_owned());
        let mut places = Places::sparing(&read);
        let staged = stages.iter().flat_map(|(_, files)| files).chain(&in_turn);
        for (path, _) in files.iter().chain(staged) {
            places.take(path)?;
        }
        Ok(Self { wanted, music, files, stages, in_turn, places })
    }

    /// Says something about the music that was read.
    pub(crate) fn warn(&self, warning: impl std::fmt::Display) {
        news(&format!("warning: {}: {warning}", self.music.display()));
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
        if let Some(warning) = arrange::no_room(performance) {
            self.warn(warning);
        }
        let mut outputs = Outputs::new(&self.places);
        for (path, product) in &self.files {
            outputs.add(path, product.render(&music, pianist, path)?)?;
        }
        let mut pieces = Vec::new();
        for (rung, files) in &self.stages {
            let mut staged = pianist.clone();
            staged.options.settings.elaboration = *rung as u8 as f32;
            let products = files.iter().map(|(_, product)| product);
            let music = Music::perform(&staged, products, &perform).on_page(page);
            for (path, product) in files {
                outputs.add(path, product.render(&music, &staged, path)?)?;
            }
            pieces.push((rung.name(), music));
        }
        if !self.in_turn.is_empty() {
            let all = Music::in_turn(&pieces);
            for (path, product) in &self.in_turn {
                outputs.add(path, product.render(&all, pianist, path)?)?;
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
        let written = outputs.write()?;
        for path in &written {
            news(&format!("wrote {}", path.display()));
        }
        let staged = self.stages.iter().flat_map(|(_, files)| files).chain(&self.in_turn);
        for warning in other_pages(self.files.iter().chain(staged), &written, &self.places) {
            news(&format!("warning: {warning}"));
        }
        print(&printed)
    }
}

/// What an option's file is by its name's end.
fn kind(path: &Path, option: &str, kinds: &[(&str, Extra)], advice: &str) -> Outcome<Product> {
    let end = input::extension(path);
    match kinds.iter().find(|(known, _)| *known == end) {
        Some((_, kind)) => Ok(Product::Also(*kind)),
        None => Err(Failure::misuse(format!("{option} {}: {advice}", path.display()))),
    }
}

/// Whether a part's name is one of a MIDI file.
fn check_part(path: &Path) -> Outcome<()> {
    if path.as_os_str() == "-" {
        return Err(Failure::misuse("-o -: the part goes to a file; name one"));
    }
    let name = path.display();
    let instead = match input::extension(path).as_str() {
        "" | "mid" | "midi" => return Ok(()),
        "wav" => format!(", and write sound with --wav {name}"),
        "svg" | "png" => format!(", and draw it with --picture {name}"),
        "musicxml" | "xml" | "mxl" => format!(", and write sheet music with --score {name}"),
        "json" => format!(", and write the report with --report {name}"),
        "txt" => ", and print it as text with --text".to_owned(),
        _ => String::new(),
    };
    Err(Failure::misuse(format!("-o {name}: the part is a MIDI file; name one that ends in .mid{instead}")))
}
