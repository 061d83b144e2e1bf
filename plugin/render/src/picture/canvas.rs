//! Writes SVG elements.

use core::fmt::Write as _;

use super::lettering::{Piece, sign_paths, width};

/// SVG text in the making.
#[derive(Debug, Default)]
pub(super) struct Canvas {
    body: String,
}

/// Which ink lettering is in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ink {
    Full,
    Soft,
}

impl Canvas {
    pub(super) fn line(&mut self, class: &str, from: (f64, f64), to: (f64, f64)) {
        self.path(class, &format!("M{:.2} {:.2} L{:.2} {:.2}", from.0, from.1, to.0, to.1));
    }

    pub(super) fn path(&mut self, class: &str, data: &str) {
        let _ = writeln!(self.body, r#"<path class="{class}" d="{data}"/>"#);
    }

    pub(super) fn rect(&mut self, class: &str, corner: (f64, f64), size: (f64, f64), round: f64) {
        let _ = writeln!(
            self.body,
            r#"<rect class="{class}" x="{:.2}" y="{:.2}" width="{:.2}" height="{:.2}" rx="{round}"/>"#,
            corner.0,
            corner.1,
            size.0.max(0.0),
            size.1.max(0.0),
        );
    }

    pub(super) fn circle(&mut self, class: &str, centre: (f64, f64), radius: f64) {
        let _ = writeln!(
            self.body,
            r#"<circle class="{class}" cx="{:.2}" cy="{:.2}" r="{radius:.2}"/>"#,
            centre.0, centre.1
        );
    }

    /// Lettering from `x` on the baseline `y`; `name` is what a reader program says. Returns its right edge.
    pub(super) fn letters(
        &mut self,
        pieces: &[Piece],
        name: Option<&str>,
        (x, y): (f64, f64),
        size: f64,
        ink: Ink,
    ) -> f64 {
        if let Some(name) = name {
            let _ = writeln!(self.body, "<g><title>{}</title>", escape(name));
        }
        let (fill, stroke) = match ink {
            Ink::Full => ("ink", "sign"),
            Ink::Soft => ("soft", "softsign"),
        };
        let only = pieces.len() == 1;
        let mut x = x;
        for piece in pieces {
            if let Piece::Letters(text) = piece {
                // Among signs a run has to keep its width whatever font it is shown in.
                let fixed = if only {
                    String::new()
                } else {
                    format!(r#" textLength="{:.2}" lengthAdjust="spacingAndGlyphs""#, piece.width(size))
                };
                let _ = writeln!(
                    self.body,
                    r#"<text class="{fill}" x="{x:.2}" y="{y:.2}" font-size="{size}"{fixed}>{}</text>"#,
                    escape(text)
                );
            }
            if let Some([thin, thick]) = sign_paths(piece, x, y, size) {
                for (data, weight) in [(thin, 0.055), (thick, 0.085)] {
                    let _ = writeln!(
                        self.body,
                        r#"<path class="{stroke}" stroke-width="{:.2}" d="{data}"/>"#,
                        weight * size
                    );
                }
            }
            x += piece.width(size);
        }
        if name.is_some() {
            self.body.push_str("</g>\n");
        }
        x
    }

    /// Lettering that ends at `x`.
    pub(super) fn letters_before(&mut self, pieces: &[Piece], (x, y): (f64, f64), size: f64, ink: Ink) {
        self.letters(pieces, None, (x - width(pieces, size), y), size, ink);
    }

    /// The whole document.
    pub(super) fn finish(self, title: &str, style: &str, size: (f64, f64)) -> String {
        let (w, h) = size;
        format!(
            r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {w:.0} {h:.0}" width="{w:.0}" height="{h:.0}" role="img">
<title>{}</title>
<style>{style}</style>
<defs><pattern id="hatch" width="4" height="4" patternUnits="userSpaceOnUse"><rect class="hatchground" width="4" height="4"/><path class="hatchline" d="M-1 1 L1 -1 M0 4 L4 0 M3 5 L5 3"/></pattern></defs>
<rect class="paper" width="{w:.0}" height="{h:.0}"/>
{}</svg>
"#,
            escape(title),
            self.body
        )
    }
}

/// Text as XML may hold it.
fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            // Control characters and non-characters are not allowed in XML at all.
            '\u{fffe}' | '\u{ffff}' => {}
            letter if letter.is_control() => {}
            letter => out.push(letter),
        }
    }
    out
}
