//! Draws what egui wants drawn, without a graphics card: triangles, textures, clipping.
//!
//! Colours are premultiplied and blended as they are, in gamma space, as egui asks of its painters.

use std::collections::BTreeMap;

use egui::epaint::{ClippedPrimitive, Mesh, Primitive, Vertex};
use egui::{Color32, ColorImage, ImageData, Rect, TextureId, TexturesDelta};

/// Textures by id, kept from frame to frame.
#[derive(Default)]
pub(crate) struct Textures(BTreeMap<u64, ColorImage>);

fn number(id: TextureId) -> u64 {
    match id {
        TextureId::Managed(n) => n << 1,
        TextureId::User(n) => n << 1 | 1,
    }
}

impl Textures {
    /// Takes in what a frame changed.
    pub(crate) fn update(&mut self, mut delta: TexturesDelta) {
        for (id, changes) in &delta.set {
            for change in changes {
                let ImageData::Color(image) = &change.image;
                match change.pos {
                    None => {
                        self.0.insert(number(*id), (**image).clone());
                    }
                    Some([left, top]) => {
                        let whole = self.0.get_mut(&number(*id)).expect("patched after it was made");
                        for y in 0..image.size[1] {
                            for x in 0..image.size[0] {
                                whole[(left + x, top + y)] = image[(x, y)];
                            }
                        }
                    }
                }
            }
        }
        // Taken in; egui minds when changes are dropped.
        delta.clear();
    }
}

/// A picture, pixel by pixel.
pub(crate) struct Picture {
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) pixels: Vec<Color32>,
}

impl Picture {
    pub(crate) fn at(&self, x: usize, y: usize) -> Color32 {
        self.pixels[y * self.width + x]
    }

    /// As a PNG file.
    pub(crate) fn save(&self, path: &std::path::Path) {
        let file = std::fs::File::create(path).expect("the pictures' folder can be written");
        let mut encoder = png::Encoder::new(file, self.width as u32, self.height as u32);
        encoder.set_color(png::ColorType::Rgba);
        encoder.set_depth(png::BitDepth::Eight);
        let bytes: Vec<u8> = self.pixels.iter().flat_map(|p| [p.r(), p.g(), p.b(), 255]).collect();
        encoder.write_header().expect("a header").write_image_data(&bytes).expect("pixels");
    }
}

/// As near to an edge as that is on it.
const EDGE: f64 = 1e-9;

/// Paints a frame.
pub(crate) fn paint(
    primitives: &[ClippedPrimitive],
    textures: &Textures,
    [width, height]: [usize; 2],
    pixels_per_point: f32,
) -> Picture {
    let mut picture = Picture { width, height, pixels: vec![Color32::BLACK; width * height] };
    for ClippedPrimitive { clip_rect, primitive } in primitives {
        let Primitive::Mesh(mesh) = primitive else { continue };
        let Some(texture) = textures.0.get(&number(mesh.texture_id)) else { continue };
        triangles(&mut picture, mesh, texture, *clip_rect * pixels_per_point, pixels_per_point);
    }
    picture
}

fn triangles(picture: &mut Picture, mesh: &Mesh, texture: &ColorImage, clip: Rect, scale: f32) {
    for corners in mesh.indices.chunks_exact(3) {
        let [a, b, c] = [0, 1, 2].map(|i| mesh.vertices[corners[i] as usize]);
        triangle(picture, [a, b, c], texture, clip, scale);
    }
}

fn triangle(picture: &mut Picture, corners: [Vertex; 3], texture: &ColorImage, clip: Rect, scale: f32) {
    let [a, b, c] = corners.map(|v| v.pos.to_vec2() * scale);
    let area = (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
    if area.abs() < 1e-9 {
        return;
    }
    let low = |x: [f32; 3]| x.into_iter().fold(f32::INFINITY, f32::min);
    let high = |x: [f32; 3]| x.into_iter().fold(f32::NEG_INFINITY, f32::max);
    let (xs, ys) = ([a.x, b.x, c.x], [a.y, b.y, c.y]);
    // Pixels whose centres lie in both.
    let first = |edge: f32| (edge - 0.5).ceil().max(0.0) as usize;
    let (left, right) = (first(low(xs).max(clip.left())), first(high(xs).min(clip.right())));
    let (top, bottom) = (first(low(ys).max(clip.top())), first(high(ys).min(clip.bottom())));
    let (right, bottom) = (right.min(picture.width), bottom.min(picture.height));
    // Weight of each corner as a plane over the picture; a pixel on an edge belongs to the triangle whose top
    // or left edge it is.
    let planes = [(b, c), (c, a), (a, b)].map(|(p, q)| {
        let (px, py) = (f64::from(p.x), f64::from(p.y));
        let (dx, dy) = (py - f64::from(q.y), f64::from(q.x) - px);
        // The same sum whichever way round the edge is taken, so that neighbours agree.
        let (dx, dy) = (dx / f64::from(area), dy / f64::from(area));
        let top_left = dx > 0.0 || (dx == 0.0 && dy > 0.0);
        (dx, dy, -(px * dx + py * dy), top_left)
    });
    let one_texel = corners.iter().all(|v| v.uv == corners[0].uv);
    let texel = sample(texture, corners[0].uv.x, corners[0].uv.y);
    let tinted = corners.map(|v| v.color.to_array().map(f32::from));
    let flat = one_texel && corners.iter().all(|v| v.color == corners[0].color);
    let flat_source: [f32; 4] = std::array::from_fn(|i| tinted[0][i] * texel[i] / 255.0);
    for y in top..bottom {
        for x in left..right {
            let (px, py) = (x as f64 + 0.5, y as f64 + 0.5);
            let mut weights = [0.0; 3];
            let mut inside = true;
            for (weight, (dx, dy, rest, top_left)) in weights.iter_mut().zip(planes) {
                let exact = px * dx + py * dy + rest;
                *weight = exact as f32;
                inside &= exact > EDGE || (exact > -EDGE && top_left);
            }
            if !inside {
                continue;
            }
            let source = if flat {
                flat_source
            } else {
                let texel = if one_texel {
                    texel
                } else {
                    let mix = |part: fn(&Vertex) -> f32| {
                        corners.iter().zip(weights).map(|(v, w)| part(v) * w).sum::<f32>()
                    };
                    sample(texture, mix(|v| v.uv.x), mix(|v| v.uv.y))
                };
                std::array::from_fn(|i| {
                    let colour: f32 = tinted.iter().zip(weights).map(|(t, w)| t[i] * w).sum();
                    colour * texel[i] / 255.0
                })
            };
            let pixel = &mut picture.pixels[y * picture.width + x];
            let below = pixel.to_array();
            let rest = 1.0 - source[3] / 255.0;
            let mixed = |i: usize| (source[i] + f32::from(below[i]) * rest).round().clamp(0.0, 255.0) as u8;
            *pixel = Color32::from_rgba_premultiplied(mixed(0), mixed(1), mixed(2), mixed(3));
        }
    }
}

/// The texture between its four nearest pixels.
fn sample(texture: &ColorImage, u: f32, v: f32) -> [f32; 4] {
    let [width, height] = texture.size;
    let (x, y) = (u * width as f32 - 0.5, v * height as f32 - 0.5);
    let (left, top) = (x.floor(), y.floor());
    let (dx, dy) = (x - left, y - top);
    let at = |x: f32, y: f32| {
        let x = (x.max(0.0) as usize).min(width - 1);
        let y = (y.max(0.0) as usize).min(height - 1);
        texture[(x, y)].to_array().map(f32::from)
    };
    let (a, b) = (at(left, top), at(left + 1.0, top));
    let (c, d) = (at(left, top + 1.0), at(left + 1.0, top + 1.0));
    std::array::from_fn(|i| {
        (a[i] * (1.0 - dx) + b[i] * dx) * (1.0 - dy) + (c[i] * (1.0 - dx) + d[i] * dx) * dy
    })
}
