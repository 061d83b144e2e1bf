//! The editor without a screen: a page that can be drawn frame by frame, and what a frame costs. Also for the program
//! `frame`, which measures it.

use egui::{ClippedPrimitive, Context, Pos2, RawInput, Rect, TexturesDelta, Vec2};
use figwort::editor::{HostControls, Past, Room, View, draw};
use figwort::params::FigwortParams;
use nice_plug::context::PluginApi;
use nice_plug::context::gui::{GuiContextInner, ParamSetter};
use nice_plug::plugin::PluginState;
use nice_plug::prelude::ParamPtr;
use tests::stopwatch::{Spent, timed};

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

/// A page that can be drawn.
pub(crate) struct Desk {
    ctx: Context,
    params: FigwortParams,
    past: Past,
    room: Room,
    time: f64,
}

/// What a frame came to.
pub(crate) struct Frame {
    /// What is to be painted.
    pub(crate) primitives: Vec<ClippedPrimitive>,
    /// Changes of letters and pictures that it is painted with.
    pub(crate) textures: TexturesDelta,
    /// How long it took to know.
    pub(crate) took: Spent,
}

impl Desk {
    pub(crate) fn new(dark: bool) -> Self {
        Self {
            ctx: Context::default(),
            params: FigwortParams::default(),
            past: Past::default(),
            room: Room { dark, scale: 1.0, chooser: None },
            time: 0.0,
        }
    }

    /// One frame of a view in a window of this size in points, everything drawn `scale` times as large.
    pub(crate) fn frame(&mut self, view: &View, size: [f32; 2], scale: f32) -> Frame {
        self.time += 1.0 / 60.0;
        self.ctx.set_zoom_factor(scale);
        let input = RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, Vec2::from(size))),
            time: Some(self.time),
            focused: true,
            ..RawInput::default()
        };
        let (params, past, room) = (&self.params, &mut self.past, &mut self.room);
        let ((primitives, textures), took) = timed(|| {
            let output = self.ctx.run_ui(input, |ui| {
                let mut controls = HostControls { params, setter: ParamSetter::new(&Host), past };
                draw(ui, view, room, &mut controls);
            });
            (self.ctx.tessellate(output.shapes, output.pixels_per_point), output.textures_delta)
        });
        Frame { primitives, textures, took }
    }
}

/// So many frames of a page whose cursor moves, from the twenty-first on: what each took, and its vertices.
pub(crate) fn moving(view: &View, size: [f32; 2], frames: usize) -> (Vec<Spent>, Vec<usize>) {
    const FIRST: usize = 20;
    let mut desk = Desk::new(false);
    let mut view = view.clone();
    let (mut times, mut sizes) = (Vec::new(), Vec::new());
    for frame in 0..frames {
        view.page.now += figwort_theory::Span(300);
        let mut drawn = desk.frame(&view, size, 1.0);
        // Nobody paints them.
        drawn.textures.clear();
        if frame >= FIRST {
            times.push(drawn.took);
            let vertices = drawn.primitives.iter().map(|part| match &part.primitive {
                egui::epaint::Primitive::Mesh(mesh) => mesh.vertices.len(),
                egui::epaint::Primitive::Callback(_) => 0,
            });
            sizes.push(vertices.sum());
        }
    }
    (times, sizes)
}
