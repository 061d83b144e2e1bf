//! SVG to PNG, with fonts that come along in the binary.

use std::sync::Arc;

use epaint_default_fonts::{HACK_REGULAR, UBUNTU_LIGHT};
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{ImageHrefResolver, Options, Tree, fontdb};

use super::PictureError;

/// Most pixels of a picture: 100 million, 400 MB while it is made.
const MOST_PIXELS: u64 = 100_000_000;

/// An SVG made by [`super::svg`] as a PNG; `scale` 1 gives one pixel per SVG unit, 2 is sharp in print.
/// Nothing is read from disk or network: pictures inside the SVG are left out.
///
/// # Errors
/// [`PictureError`] where the text is not SVG or the size is impossible.
pub fn png(svg: &str, scale: f32) -> Result<Vec<u8>, PictureError> {
    let tree = tree(svg)?;
    let size = tree.size();
    let pixels = |length: f32| (length * scale).ceil().clamp(0.0, 1e9) as u32;
    let (width, height) = (pixels(size.width()), pixels(size.height()));
    if u64::from(width) * u64::from(height) > MOST_PIXELS {
        return Err(PictureError::Size { width, height });
    }
    let mut pixmap = Pixmap::new(width, height).ok_or(PictureError::Size { width, height })?;
    resvg::render(&tree, Transform::from_scale(scale, scale), &mut pixmap.as_mut());
    pixmap.encode_png().map_err(|error| PictureError::Png(error.to_string()))
}

/// The SVG as resvg understands it, set in our fonts.
pub(super) fn tree(svg: &str) -> Result<Tree, PictureError> {
    let mut fonts = fontdb::Database::new();
    for font in [UBUNTU_LIGHT, HACK_REGULAR] {
        fonts.load_font_source(fontdb::Source::Binary(Arc::new(font)));
    }
    fonts.set_sans_serif_family("Ubuntu");
    let options = Options {
        font_family: "Ubuntu".into(),
        fontdb: Arc::new(fonts),
        image_href_resolver: ImageHrefResolver {
            resolve_data: Box::new(|_, _, _| None),
            resolve_string: Box::new(|_, _| None),
        },
        ..Options::default()
    };
    Tree::from_str(svg, &options).map_err(|error| PictureError::Svg(error.to_string()))
}
