//! The pen: strokes of changing width and filled shapes, gathered in one mesh with smooth edges.
//!
//! Points are in screen points, y down. Every edge fades over one pixel, so that a stroke looks the same at
//! any scale. Deliberately absent: what is written (see [`super::glyphs`] and [`super::engraving`]).

use egui::{Color32, Mesh, Pos2, Shape, Vec2, vec2};

/// A point of a stroke: where, and how wide the pen is there.
pub(crate) type Dab = (Pos2, f32);

/// Gathers what is written.
pub(crate) struct Pen {
    mesh: Mesh,
    /// Width of the fading edge: one pixel, in points.
    feather: f32,
}

impl Pen {
    /// A pen for a screen with so many pixels to a point.
    pub(crate) fn new(pixels_per_point: f32) -> Self {
        Self { mesh: Mesh::default(), feather: 1.0 / pixels_per_point.max(0.25) }
    }

    /// All that was written.
    pub(crate) fn shape(self) -> Shape {
        Shape::mesh(self.mesh)
    }

    fn vertex(&mut self, at: Pos2, colour: Color32) -> u32 {
        let index = self.mesh.vertices.len() as u32;
        self.mesh.colored_vertex(at, colour);
        index
    }

    fn quad(&mut self, a: u32, b: u32, c: u32, d: u32) {
        self.mesh.add_triangle(a, b, c);
        self.mesh.add_triangle(c, b, d);
    }

    /// A stroke through points that lie close together.
    pub(crate) fn stroke(&mut self, dabs: &[Dab], colour: Color32) {
        let half_edge = self.feather / 2.0;
        let mut before: Option<[u32; 4]> = None;
        for (index, &(at, width)) in dabs.iter().enumerate() {
            let ahead = dabs.get(index + 1).map_or(at, |d| d.0);
            let behind = index.checked_sub(1).and_then(|i| dabs.get(i)).map_or(at, |d| d.0);
            let along = (ahead - behind).normalized();
            let across = vec2(-along.y, along.x);
            // A stroke thinner than a pixel is a fainter one of a pixel.
            let strength = (width / self.feather).min(1.0);
            let inner = (width / 2.0 - half_edge).max(0.0);
            let outer = inner + self.feather.min(half_edge * 2.0);
            let solid = colour.gamma_multiply(strength);
            let row = [
                self.vertex(at - across * outer, Color32::TRANSPARENT),
                self.vertex(at - across * inner, solid),
                self.vertex(at + across * inner, solid),
                self.vertex(at + across * outer, Color32::TRANSPARENT),
            ];
            if let Some(last) = before {
                for side in 0..3 {
                    self.quad(last[side], last[side + 1], row[side], row[side + 1]);
                }
            }
            before = Some(row);
        }
    }

    /// A straight line with square ends.
    pub(crate) fn line(&mut self, from: Pos2, to: Pos2, width: f32, colour: Color32) {
        self.stroke(&[(from, width), (to, width)], colour);
    }

    /// A filled shape without hollows, its corners in order.
    pub(crate) fn fill(&mut self, corners: &[Pos2], colour: Color32) {
        let count = corners.len();
        if count < 3 {
            return;
        }
        let centre = corners.iter().fold(Vec2::ZERO, |sum, p| sum + p.to_vec2()) / count as f32;
        let middle = self.vertex(centre.to_pos2(), colour);
        let first = self.mesh.vertices.len() as u32;
        for (index, &corner) in corners.iter().enumerate() {
            let before = corners[(index + count - 1) % count];
            let after = corners[(index + 1) % count];
            // Outward, so that the edge fades evenly along both sides of the corner.
            let normal = |along: Vec2| {
                let across = vec2(along.y, -along.x).normalized();
                if across.dot(corner.to_vec2() - centre) < 0.0 { -across } else { across }
            };
            let (a, b) = (normal(corner - before), normal(after - corner));
            let out = (a + b) / (1.0 + a.dot(b)).max(0.5) * (self.feather / 2.0);
            self.vertex(corner - out, colour);
            self.vertex(corner + out, Color32::TRANSPARENT);
        }
        for side in 0..count as u32 {
            let (a, b) = (first + 2 * side, first + 2 * ((side + 1) % count as u32));
            self.mesh.add_triangle(middle, a, b);
            self.quad(a, a + 1, b, b + 1);
        }
    }

    /// The space between two closed outlines with as many corners each.
    pub(crate) fn ring(&mut self, outer: &[Pos2], inner: &[Pos2], colour: Color32) {
        let half_edge = self.feather / 2.0;
        let mut rows = Vec::with_capacity(outer.len());
        for (&o, &i) in outer.iter().zip(inner) {
            let across = (o - i).normalized() * half_edge;
            rows.push([
                self.vertex(o + across, Color32::TRANSPARENT),
                self.vertex(o - across, colour),
                self.vertex(i + across, colour),
                self.vertex(i - across, Color32::TRANSPARENT),
            ]);
        }
        for (index, row) in rows.iter().enumerate() {
            let next = rows[(index + 1) % rows.len()];
            for side in 0..3 {
                self.quad(row[side], row[side + 1], next[side], next[side + 1]);
            }
        }
    }

    /// A filled circle.
    pub(crate) fn dot(&mut self, centre: Pos2, radius: f32, colour: Color32) {
        self.fill(&ellipse(centre, vec2(radius, radius), 0.0), colour);
    }
}

/// The outline of an ellipse, turned by an angle in radians, clockwise on the screen.
pub(crate) fn ellipse(centre: Pos2, radii: Vec2, turn: f32) -> Vec<Pos2> {
    const CORNERS: usize = 20;
    let (sin, cos) = turn.sin_cos();
    (0..CORNERS)
        .map(|corner| {
            let (y, x) = (std::f32::consts::TAU * corner as f32 / CORNERS as f32).sin_cos();
            let (x, y) = (x * radii.x, y * radii.y);
            centre + vec2(x * cos - y * sin, x * sin + y * cos)
        })
        .collect()
}

/// A smooth way through the dabs (a Catmull–Rom spline, from memory), each stretch cut into `cuts`.
pub(crate) fn smooth(dabs: &[Dab], cuts: usize) -> Vec<Dab> {
    let Some(last) = dabs.len().checked_sub(1) else { return Vec::new() };
    let at = |index: isize| dabs[index.clamp(0, last as isize) as usize];
    let mut way = Vec::with_capacity(last * cuts + 1);
    for stretch in 0..last as isize {
        let (a, b, c, d) = (at(stretch - 1), at(stretch), at(stretch + 1), at(stretch + 2));
        for cut in 0..cuts {
            let t = cut as f32 / cuts as f32;
            let blend = |p: f32, q: f32, r: f32, s: f32| {
                0.5 * (2.0 * q
                    + (r - p) * t
                    + (2.0 * p - 5.0 * q + 4.0 * r - s) * t * t
                    + (3.0 * q - p - 3.0 * r + s) * t * t * t)
            };
            let x = blend(a.0.x, b.0.x, c.0.x, d.0.x);
            let y = blend(a.0.y, b.0.y, c.0.y, d.0.y);
            way.push((Pos2::new(x, y), (b.1 + (c.1 - b.1) * t).max(0.0)));
        }
    }
    way.push(dabs[last]);
    way
}

#[cfg(test)]
mod tests {
    use egui::pos2;

    use super::*;

    #[test]
    fn a_smooth_way_passes_its_points() {
        let dabs = [(pos2(0.0, 0.0), 1.0), (pos2(3.0, 5.0), 2.0), (pos2(8.0, 1.0), 0.5)];
        let way = smooth(&dabs, 8);
        assert_eq!(way.len(), 17);
        for (index, dab) in dabs.iter().enumerate() {
            assert!((way[index * 8].0 - dab.0).length() < 1e-4);
            assert_eq!(way[index * 8].1, dab.1);
        }
        assert!(smooth(&[], 8).is_empty());
    }

    /// What is written stays within its outline and the fading edge, and every corner belongs to the mesh.
    #[test]
    fn shapes_keep_their_size() {
        let mut pen = Pen::new(1.0);
        pen.line(pos2(10.0, 10.0), pos2(20.0, 10.0), 4.0, Color32::BLACK);
        pen.dot(pos2(40.0, 10.0), 5.0, Color32::BLACK);
        let Shape::Mesh(mesh) = pen.shape() else { panic!("a mesh") };
        assert!(mesh.is_valid());
        let bounds = mesh.calc_bounds();
        assert!((bounds.left() - 10.0).abs() < 1e-3, "{bounds:?}");
        assert!((bounds.right() - 45.5).abs() < 0.02, "{bounds:?}");
        assert!((bounds.top() - 4.5).abs() < 0.1, "{bounds:?}");
    }
}
