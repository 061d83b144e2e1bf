//! Piano-roll pictures: SVG, and PNG made from it.
//!
//! A picture reads like a page: rows of bars from top to bottom, chord symbols above each, bar numbers
//! below. Melody, right hand and left hand differ in shape and filling, so that a grey print or an eye
//! without colour tells them apart. Where the melody stands still, the ground is shaded and a bracket says
//! so. Lengths are in SVG units, one to a pixel at scale 1; a page is 1240 wide and as long as it needs, or
//! as a sheet of paper is.
//!
//! Deliberately absent: note symbols (that is engraving's business), velocities, interaction.

mod canvas;
mod grid;
mod lettering;
mod marks;
mod page;
mod png;
mod theme;

use crate::perform::Performance;

pub(crate) use page::tempo_name;
pub use png::png;

/// Light or dark.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Theme {
    /// Dark marks on light paper; reads in grey print.
    #[default]
    Light,
    /// Light marks on dark ground.
    Dark,
}

/// How to draw.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PictureOptions {
    /// Most bars in a row, 1 to 16, a pick-up not counted; values outside are brought in.
    pub bars_per_row: usize,
    /// Light or dark.
    pub theme: Theme,
}

impl Default for PictureOptions {
    fn default() -> Self {
        Self { bars_per_row: 4, theme: Theme::Light }
    }
}

/// Why an SVG could not become a PNG.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PictureError {
    /// The text is not SVG.
    #[error("the picture is not readable SVG: {0}; draw it again")]
    Svg(String),
    /// The picture would be empty or too large.
    #[error("a picture of {width} by {height} pixels can't be made; choose another scale or fewer bars")]
    Size {
        /// In pixels.
        width: u32,
        /// In pixels.
        height: u32,
    },
    /// The PNG could not be encoded.
    #[error("the PNG could not be written: {0}")]
    Png(String),
}

/// The picture as SVG text, all rows on one page.
pub fn svg(performance: &Performance, options: &PictureOptions) -> String {
    page::draw(performance, options, f64::INFINITY).into_iter().next().unwrap_or_default()
}

/// The picture as SVG texts, one for each page: upright, of the proportions of A4, a row never divided. There is
/// always one, also where nothing was played.
pub fn pages(performance: &Performance, options: &PictureOptions) -> Vec<String> {
    page::draw(performance, options, page::HEIGHT)
}

#[cfg(test)]
mod tests;
