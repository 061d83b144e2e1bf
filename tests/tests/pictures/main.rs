//! Pictures of the editor, painted without a screen: that nothing is lost or cut at any size, on either
//! paper, and what a frame costs. `cargo xtask pictures` keeps them in the target folder to be looked at.
#![allow(unsafe_code, reason = "the framework's host interface hands over raw parameters")]

use std::path::PathBuf;
use std::time::{Duration, Instant};

use egui::{Context, Pos2, RawInput, Rect, Vec2};
use figwort::editor::{HostControls, Past, Room, SheetCard, View, draw};
use figwort::params::FigwortParams;
use nice_plug::context::PluginApi;
use nice_plug::context::gui::{GuiContextInner, ParamSetter};
use nice_plug::plugin::PluginState;
use nice_plug::prelude::ParamPtr;

mod raster;
mod scene;

use raster::{Picture, Textures, paint};

/// A host that only does what it is asked.
struct Host;

impl GuiContextInner for Host {
    fn plugin_api(&self) -> PluginApi {
        PluginApi::Clap
    }
    unsafe fn raw_begin_set_parameter(&self, _param: ParamPtr) {}
    unsafe fn raw_set_parameter_normalized(&self, param: ParamPtr, normalized: f32) {
        // SAFETY: the parameters outlive the page that is being drawn.
        unsafe { param._internal_set_normalized_value(normalized) };
    }
    unsafe fn raw_end_set_parameter(&self, _param: ParamPtr) {}
    fn get_state(&self) -> PluginState {
        unreachable!("the page asks for no state")
    }
    fn set_state(&self, _state: PluginState) {}
    fn request_restart(&self) {}
}

/// A page that can be painted.
struct Desk {
    ctx: Context,
    params: FigwortParams,
    past: Past,
    room: Room,
    textures: Textures,
    time: f64,
}

impl Desk {
    fn new(dark: bool) -> Self {
        Self {
            ctx: Context::default(),
            params: FigwortParams::default(),
            past: Past::default(),
            room: Room { dark, scale: 1.0, chooser: None },
            textures: Textures::default(),
            time: 0.0,
        }
    }

    /// One frame: what is to be painted, and the CPU time that it took to know.
    fn frame(&mut self, view: &View, size: [f32; 2], scale: f32) -> (Vec<egui::ClippedPrimitive>, Duration) {
        self.time += 1.0 / 60.0;
        self.ctx.set_zoom_factor(scale);
        let input = RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, Vec2::from(size))),
            time: Some(self.time),
            focused: true,
            ..RawInput::default()
        };
        let start = Instant::now();
        let (params, past, room) = (&self.params, &mut self.past, &mut self.room);
        let output = self.ctx.run_ui(input, |ui| {
            let mut controls = HostControls { params, setter: ParamSetter::new(&Host), past };
            draw(ui, view, room, &mut controls);
        });
        let primitives = self.ctx.tessellate(output.shapes, output.pixels_per_point);
        let took = start.elapsed();
        self.textures.update(output.textures_delta);
        (primitives, took)
    }

    fn picture(&mut self, view: &View, size: [f32; 2], scale: f32) -> Picture {
        // The first frames find out how large things are.
        self.frame(view, size, scale);
        self.frame(view, size, scale);
        let (primitives, _) = self.frame(view, size, scale);
        let pixels = size.map(|side| (side * scale).round() as usize);
        paint(&primitives, &self.textures, pixels, scale)
    }
}

fn folder() -> Option<PathBuf> {
    let folder = PathBuf::from(std::env::var_os("FIGWORT_PICTURES")?);
    std::fs::create_dir_all(&folder).expect("the pictures' folder can be made");
    Some(folder)
}

fn keep(picture: &Picture, name: &str) {
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
            let mut desk = Desk::new(dark);
            let picture = desk.picture(&scene::live(), size, 1.0);
            let paper = if dark { "dark" } else { "light" };
            keep(&picture, &format!("editor-{name}-{paper}"));
            let ground = picture.at(2, 2);
            let inked = picture.pixels.iter().filter(|pixel| **pixel != ground).count();
            let share = inked as f32 / picture.pixels.len() as f32;
            assert!((0.04..0.6).contains(&share), "{name} {paper}: {share} of the page is inked");
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
        keep(&Desk::new(false).picture(&view, size, 1.0), &format!("editor-{name}"));
    }
}

#[test]
fn scaled_pages() {
    for scale in [0.75, 2.0] {
        keep(&Desk::new(false).picture(&scene::live(), SIZES[1].1, scale), &format!("editor-at-{scale}"));
    }
}

/// What a moving page costs: prints the CPU time to lay out and to tessellate (the aim is a median of 4 ms in a
/// release build), and guards against pages that grow as they move.
#[test]
fn a_moving_page_does_not_grow() {
    let mut desk = Desk::new(false);
    let mut view = scene::live();
    let (mut times, mut sizes) = (Vec::new(), Vec::new());
    for frame in 0..200 {
        view.page.now += figwort_theory::Span(300);
        let (primitives, took) = desk.frame(&view, SIZES[1].1, 1.0);
        if frame >= 20 {
            times.push(took);
            let vertices = primitives.iter().map(|part| match &part.primitive {
                egui::epaint::Primitive::Mesh(mesh) => mesh.vertices.len(),
                egui::epaint::Primitive::Callback(_) => 0,
            });
            sizes.push(vertices.sum::<usize>());
        }
    }
    times.sort();
    let (median, most) = (times[times.len() / 2], times[times.len() - 1]);
    println!("a frame: median {median:?}, longest {most:?}, {} vertices", sizes[sizes.len() - 1]);
    assert!(sizes[sizes.len() - 1] <= sizes[0] + sizes[0] / 4, "{sizes:?}");
}
