//! A plain plot of a few lines, both axes logarithmic, as PNG.

use std::fmt::Write;

use anyhow::Result;

const WIDTH: f64 = 640.0;
const HEIGHT: f64 = 380.0;
const LEFT: f64 = 64.0;
const RIGHT: f64 = 24.0;
const TOP: f64 = 44.0;
const FOOT: f64 = 52.0;
/// What is less is drawn as this.
const LEAST: f64 = 0.01;
/// Line styles: told apart without colour, too.
const DASHES: [&str; 4] = ["", "7 4", "2 4", "10 4 2 4"];

/// A line and its name.
pub(crate) struct Line {
    name: &'static str,
    points: Vec<(f64, f64)>,
}

impl Line {
    pub(crate) fn new(name: &'static str) -> Self {
        Self { name, points: Vec::new() }
    }

    pub(crate) fn add(&mut self, x: f64, y: f64) {
        self.points.push((x, y));
    }
}

/// A plot.
pub(crate) struct Plot {
    pub(crate) title: &'static str,
    pub(crate) x: &'static str,
    pub(crate) y: &'static str,
    pub(crate) lines: Vec<Line>,
}

impl Plot {
    /// Draws it; prints its numbers, too.
    pub(crate) fn png(&self) -> Result<Vec<u8>> {
        println!("{}", self.title);
        for line in &self.lines {
            let points: Vec<String> = line.points.iter().map(|(x, y)| format!("{x}: {y:.2}")).collect();
            println!("  {:28} {}", line.name, points.join("  "));
        }
        let points = || self.lines.iter().flat_map(|line| &line.points);
        let span = |values: &mut dyn Iterator<Item = f64>| {
            values.fold((f64::MAX, f64::MIN), |(low, high), value| (low.min(value), high.max(value)))
        };
        let (low, high) = span(&mut points().map(|(x, _)| x.log2()));
        // Whole decades.
        let (least, most) = span(&mut points().map(|(_, y)| y.max(LEAST).log10()));
        let (least, most) = (least.floor(), most.ceil());
        let x = |value: f64| LEFT + (value.log2() - low) / (high - low) * (WIDTH - LEFT - RIGHT);
        let y = |value: f64| {
            HEIGHT - FOOT - (value.max(LEAST).log10() - least) / (most - least) * (HEIGHT - TOP - FOOT)
        };
        let mut svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{WIDTH}\" height=\"{HEIGHT}\" \
             font-family=\"sans-serif\" font-size=\"12\"><rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\
             <text x=\"{LEFT}\" y=\"22\" font-size=\"14\">{}</text>",
            self.title
        );
        let decades = (least as i32..=most as i32).flat_map(|n| [1.0, 2.0, 5.0].map(|m| m * 10f64.powi(n)));
        for value in decades.filter(|value| value.log10() <= most) {
            let (left, right, at) = (LEFT, WIDTH - RIGHT, y(value));
            let _ = write!(
                svg,
                "<path d=\"M{left} {at:.1}H{right}\" stroke=\"#ddd\"/><text x=\"{:.1}\" y=\"{:.1}\" \
                 text-anchor=\"end\">{value}</text>",
                left - 6.0,
                at + 4.0
            );
        }
        if let Some(line) = self.lines.first() {
            for (value, _) in &line.points {
                let _ = write!(
                    svg,
                    "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{value}</text>",
                    x(*value),
                    HEIGHT - FOOT + 18.0
                );
            }
        }
        let _ = write!(
            svg,
            "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{}</text><text x=\"8\" y=\"{:.1}\">{}</text>",
            WIDTH - RIGHT,
            HEIGHT - 12.0,
            self.x,
            TOP - 6.0,
            self.y
        );
        for (n, line) in self.lines.iter().enumerate() {
            let path: Vec<String> =
                line.points.iter().map(|(a, b)| format!("{:.1},{:.1}", x(*a), y(*b))).collect();
            let dash = DASHES[n % DASHES.len()];
            let legend = LEFT + 150.0 * n as f64;
            let _ = write!(
                svg,
                "<polyline points=\"{}\" fill=\"none\" stroke=\"#1d4f6b\" stroke-width=\"2\" \
                 stroke-dasharray=\"{dash}\"/><path d=\"M{legend} {:.1}h26\" stroke=\"#1d4f6b\" \
                 stroke-width=\"2\" stroke-dasharray=\"{dash}\"/><text x=\"{:.1}\" y=\"{:.1}\">{}</text>",
                path.join(" "),
                HEIGHT - 16.0,
                legend + 32.0,
                HEIGHT - 12.0,
                line.name
            );
        }
        svg += "</svg>";
        Ok(figwort_render::picture::png(&svg, 1.5)?)
    }
}
