//! The calibration plot.

use std::fmt::Write;

use anyhow::Result;

/// Points of a calibration curve: said, came true, notes.
type Curve = Vec<(f64, f64, usize)>;

/// A PNG of both lengths' curves: what was said across, what came true upwards.
pub(super) fn calibration(curves: &[Curve; 2]) -> Result<Vec<u8>> {
    const SIDE: f64 = 400.0;
    const EDGE: f64 = 60.0;
    let x = |share: f64| EDGE + share * SIDE;
    let y = |share: f64| EDGE + (1.0 - share) * SIDE;
    let whole = SIDE + 2.0 * EDGE;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{whole}\" height=\"{whole}\" viewBox=\"0 0 {whole} {whole}\" \
         font-family=\"sans-serif\" font-size=\"14\"><rect width=\"{whole}\" height=\"{whole}\" fill=\"#fff\"/>"
    );
    for tick in 0..=5 {
        let share = f64::from(tick) / 5.0;
        let _ = write!(
            svg,
            "<path d=\"M{0} {1}H{2}M{3} {4}V{1}\" stroke=\"#ddd\" fill=\"none\"/>\
             <text x=\"{3}\" y=\"{5}\" text-anchor=\"middle\">{share:.1}</text>\
             <text x=\"{6}\" y=\"{7}\" text-anchor=\"end\">{share:.1}</text>",
            x(0.0),
            y(share),
            x(1.0),
            x(share),
            y(1.0),
            y(0.0) + 20.0,
            x(0.0) - 8.0,
            y(share) + 5.0
        );
    }
    let _ = write!(
        svg,
        "<path d=\"M{} {}L{} {}\" stroke=\"#888\" stroke-dasharray=\"4 4\"/>",
        x(0.0),
        y(0.0),
        x(1.0),
        y(1.0)
    );
    for (n, (curve, colour)) in curves.iter().zip(["#1f4e79", "#b5541c"]).enumerate() {
        let points: Vec<String> =
            curve.iter().map(|(said, came, _)| format!("{:.1},{:.1}", x(*said), y(*came))).collect();
        let dashes = if n == 0 { "" } else { " stroke-dasharray=\"8 3\"" };
        let _ = write!(
            svg,
            "<polyline points=\"{}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"2\"{dashes}/>",
            points.join(" ")
        );
        for (said, came, notes) in curve {
            let _ = write!(
                svg,
                "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"{:.1}\" fill=\"{colour}\"/>",
                x(*said),
                y(*came),
                1.5 + (*notes as f64).sqrt() / 12.0
            );
        }
        let name = ["1.5 beats or more (solid)", "2 beats or more (dashed)"][n];
        let _ = write!(
            svg,
            "<text x=\"{}\" y=\"{}\" fill=\"{colour}\">{name}</text>",
            x(0.04),
            EDGE + 20.0 * (n as f64 + 1.0)
        );
    }
    let _ = write!(
        svg,
        "<text x=\"{}\" y=\"{}\" text-anchor=\"middle\">chance that was said</text>\
         <text x=\"{}\" y=\"30\" text-anchor=\"start\">share that came true</text></svg>",
        x(0.5),
        y(0.0) + 45.0,
        x(0.0)
    );
    Ok(figwort_render::picture::png(&svg, 2.0)?)
}
