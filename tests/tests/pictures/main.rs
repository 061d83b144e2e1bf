//! Pictures of the editor, painted without a screen: that nothing is lost or cut at any size, on either
//! paper, and that a page does not grow. `cargo xtask pictures` keeps them in the target folder to be looked at.
#![allow(unsafe_code, reason = "the framework's host interface hands over raw parameters")]

use std::path::PathBuf;

use figwort::editor::{SheetCard, View};

mod desk;
mod raster;
mod scene;

use desk::Desk;
use raster::{Picture, Textures, paint};

/// A page that can be painted.
struct Painted {
    desk: Desk,
    textures: Textures,
}

impl Painted {
    fn new(dark: bool) -> Self {
        Self { desk: Desk::new(dark), textures: Textures::default() }
    }

    fn picture(&mut self, view: &View, size: [f32; 2], scale: f32) -> Picture {
        // The first frames find out how large things are.
        let mut primitives = Vec::new();
        for _ in 0..3 {
            let frame = self.desk.frame(view, size, scale);
            self.textures.update(frame.textures);
            primitives = frame.primitives;
        }
        let pixels = size.map(|side| (side * scale).round() as usize);
        paint(&primitives, &self.textures, pixels, scale)
    }
}

fn folder() -> Option<PathBuf> {
    let folder = PathBuf::from(std::env::var_os("FIGWORT_PICTURES")?);
    std::fs::create_dir_all(&folder).expect("the pictures' folder can be made");
    Some(folder)
}

/// Looks whether there is a page at all, and keeps it where that is wanted.
fn keep(picture: &Picture, name: &str) {
    let ground = picture.at(2, 2);
    let inked = picture.pixels.iter().filter(|pixel| **pixel != ground).count();
    let share = inked as f32 / picture.pixels.len() as f32;
    assert!((0.04..0.6).contains(&share), "{name}: {share} of the page is inked");
    if let Some(folder) = folder() {
        picture.save(&folder.join(format!("{name}.png")));
    }
}

const SIZES: [(&str, [f32; 2]); 3] =
    [("small", [560.0, 460.0]), ("usual", [1040.0, 760.0]), ("large", [1680.0, 1050.0])];

#[test]
fn the_page_in_three_sizes_on_both_papers() {
    for (name, size) in SIZES {
        for dark in [false, true] {
            let mut desk = Painted::new(dark);
            let picture = desk.picture(&scene::live(), size, 1.0);
            let paper = if dark { "dark" } else { "light" };
            keep(&picture, &format!("editor-{name}-{paper}"));
        }
    }
}

#[test]
fn pages_at_work() {
    let size = SIZES[1].1;
    let mut sheet = scene::live();
    sheet.sheet = Some(SheetCard {
        title: "Lantern Walk".into(),
        about: "32 bars in 4/4".into(),
        warnings: vec!["bar 9: the chord \"Zz\" is not understood and was left out".into()],
        ..SheetCard::default()
    });
    sheet.metre = None;
    sheet.messages = vec!["The take is kept in Music/Figwort/Takes/Take 003.mid".into()];
    for (name, view) in [("empty", View::default()), ("planned", scene::planned()), ("sheet", sheet)] {
        keep(&Painted::new(false).picture(&view, size, 1.0), &format!("editor-{name}"));
    }
}

#[test]
fn scaled_pages() {
    for scale in [0.75, 2.0] {
        keep(&Painted::new(false).picture(&scene::live(), SIZES[1].1, scale), &format!("editor-at-{scale}"));
    }
}

/// Guards against pages that grow as they move, which would cost more and more.
#[test]
fn a_moving_page_does_not_grow() {
    let (_, sizes) = desk::moving(&scene::live(), SIZES[1].1, 200);
    assert!(sizes[sizes.len() - 1] <= sizes[0] + sizes[0] / 4, "{sizes:?}");
}
