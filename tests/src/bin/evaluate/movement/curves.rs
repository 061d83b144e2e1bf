//! Curves over the ballad: how many onsets a beat and how loud, melody and accompaniment, bar by bar.
//!
//! One strip for each manner. Onsets as columns (accompaniment filled, melody as an outline), velocities as
//! lines over them. Not here: anything else than the drawing.

use std::fmt::Write;

use anyhow::{Context, Result};
use figwort_engine::Hand;
use figwort_render::Performance;
use figwort_sheet::Sheet;
use figwort_theory::Span;

const LEFT: f64 = 150.0;
const WIDTH: f64 = 900.0;
const STRIP: f64 = 110.0;
const TOP: f64 = 50.0;
/// Onsets a beat at the top of a strip.
const MOST: f64 = 6.0;
const ACCOMPANIMENT: &str = "#2f6f5e";
const MELODY: &str = "#b5541c";

/// The demo song that all curves are drawn of.
pub(super) fn ballad() -> Result<Sheet> {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../presets/songs/lamps-along-the-landing.abc");
    let bytes = std::fs::read(path).with_context(|| format!("{path} can't be read"))?;
    Ok(figwort_sheet::read(&bytes, None)?)
}

/// The picture.
pub(super) fn png(sheet: &Sheet, played: &[(String, Performance)]) -> Result<Vec<u8>> {
    let height = TOP + STRIP * played.len() as f64 + 30.0;
    let whole = LEFT + WIDTH + 60.0;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{whole}\" height=\"{height}\" \
         viewBox=\"0 0 {whole} {height}\" font-family=\"sans-serif\" font-size=\"12\">\
         <rect width=\"{whole}\" height=\"{height}\" fill=\"#fff\"/>\
         <text x=\"{LEFT}\" y=\"20\">{}: onsets a beat as columns (accompaniment filled, melody outlined; dashed \
         lines at 2 and 4), velocity as lines (0 to 127 from the foot of a strip to its top)</text>",
        escaped(&sheet.title)
    );
    for (n, (name, performance)) in played.iter().enumerate() {
        strip(&mut svg, sheet, name, performance, TOP + STRIP * n as f64);
    }
    for (n, bar) in sheet.bars.iter().enumerate().step_by(4) {
        let x = LEFT + WIDTH * n as f64 / sheet.bars.len() as f64;
        let _ = write!(svg, "<text x=\"{x:.1}\" y=\"{:.1}\">{}</text>", height - 12.0, bar.number);
    }
    svg += "</svg>";
    Ok(figwort_render::picture::png(&svg, 1.5)?)
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;")
}

fn strip(svg: &mut String, sheet: &Sheet, name: &str, performance: &Performance, top: f64) {
    let foot = top + STRIP - 12.0;
    let scale = (STRIP - 12.0) / MOST;
    let width = WIDTH / sheet.bars.len().max(1) as f64;
    let _ = write!(svg, "<text x=\"8\" y=\"{:.1}\" font-size=\"14\">{}</text>", top + 40.0, escaped(name));
    let _ = write!(svg, "<path d=\"M{LEFT} {foot}h{WIDTH}\" stroke=\"#888\"/>");
    for level in [2.0, 4.0] {
        let y = foot - level * scale;
        let _ = write!(svg, "<path d=\"M{LEFT} {y:.1}h{WIDTH}\" stroke=\"#ddd\" stroke-dasharray=\"3 3\"/>");
    }
    let mut lines = [String::new(), String::new()];
    for (n, bar) in sheet.bars.iter().enumerate() {
        let x = LEFT + width * n as f64;
        let beats = bar.length.0 as f64 / bar.metre.beat().0.max(1) as f64;
        let early = Span(Span::QUARTER.0 / 16);
        for (voice, is_melody) in [false, true].into_iter().enumerate() {
            let inside = performance.notes.iter().filter(|note| {
                (note.hand == Hand::Melody) == is_melody
                    && note.at + early >= bar.start
                    && note.at + early < bar.end()
            });
            let velocities: Vec<f64> = inside.clone().map(|note| f64::from(note.velocity.value())).collect();
            let mut onsets: Vec<i64> = inside.map(|note| note.at.0 / (Span::QUARTER.0 / 8)).collect();
            onsets.dedup();
            let column = (onsets.len() as f64 / beats).min(MOST) * scale;
            let style = if is_melody {
                format!("fill=\"none\" stroke=\"{MELODY}\"")
            } else {
                format!("fill=\"{ACCOMPANIMENT}\" fill-opacity=\"0.35\"")
            };
            let _ = write!(
                svg,
                "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{column:.1}\" {style}/>",
                x + 1.0,
                foot - column,
                width - 2.0
            );
            if !velocities.is_empty() {
                let mean = velocities.iter().sum::<f64>() / velocities.len() as f64;
                let y = foot - mean / 127.0 * (STRIP - 12.0);
                if let Some(line) = lines.get_mut(voice) {
                    let _ = write!(line, "{:.1},{y:.1} ", x + width / 2.0);
                }
            }
        }
    }
    for (line, colour) in lines.iter().zip([ACCOMPANIMENT, MELODY]) {
        let _ =
            write!(svg, "<polyline points=\"{line}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"2\"/>");
    }
}
