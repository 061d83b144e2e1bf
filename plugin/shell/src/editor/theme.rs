//! Paper and ink: the editor's colours and sizes.
//!
//! Two inks and paper. Colour never says anything alone: hands differ by mark, states by word.

use egui::{Color32, CornerRadius, FontFamily, FontId, Stroke, TextStyle, Theme, Visuals, vec2};

/// The colours of one page.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Inks {
    /// The page.
    pub(crate) paper: Color32,
    /// A sunken or raised place on it.
    pub(crate) shade: Color32,
    /// Words, lines, the melody.
    pub(crate) ink: Color32,
    /// Less important words; still readable (contrast above 4.5 to 1 on the paper).
    pub(crate) pencil: Color32,
    /// Hairlines.
    pub(crate) line: Color32,
    /// Staff lines: seen at a glance, quieter than what stands on them.
    pub(crate) stave: Color32,
    /// The accompaniment.
    pub(crate) second: Color32,
    /// Keys of the keyboard, and letters on them.
    pub(crate) white_key: Color32,
    pub(crate) black_key: Color32,
    pub(crate) pencil_on_key: Color32,
}

const LIGHT: Inks = Inks {
    paper: Color32::from_rgb(0xf5, 0xf0, 0xe4),
    shade: Color32::from_rgb(0xe8, 0xe0, 0xce),
    ink: Color32::from_rgb(0x22, 0x1e, 0x1a),
    pencil: Color32::from_rgb(0x63, 0x5a, 0x4d),
    line: Color32::from_rgb(0xb9, 0xad, 0x97),
    stave: Color32::from_rgb(0x8c, 0x82, 0x72),
    second: Color32::from_rgb(0x8a, 0x2f, 0x1f),
    white_key: Color32::from_rgb(0xfc, 0xfa, 0xf4),
    black_key: Color32::from_rgb(0x3a, 0x35, 0x2f),
    pencil_on_key: Color32::from_rgb(0x63, 0x5a, 0x4d),
};

const DARK: Inks = Inks {
    paper: Color32::from_rgb(0x1e, 0x1c, 0x1a),
    shade: Color32::from_rgb(0x2c, 0x29, 0x26),
    ink: Color32::from_rgb(0xef, 0xe8, 0xd9),
    pencil: Color32::from_rgb(0xb3, 0xa8, 0x96),
    line: Color32::from_rgb(0x5a, 0x53, 0x4a),
    stave: Color32::from_rgb(0x86, 0x7d, 0x70),
    second: Color32::from_rgb(0xe7, 0x93, 0x74),
    white_key: Color32::from_rgb(0x3b, 0x37, 0x33),
    black_key: Color32::from_rgb(0x12, 0x11, 0x10),
    pencil_on_key: Color32::from_rgb(0xc2, 0xb7, 0xa5),
};

/// The colours of the page in use.
pub(crate) fn inks(dark: bool) -> &'static Inks {
    if dark { &DARK } else { &LIGHT }
}

/// A colour between two, `share` of the way from the first.
pub(crate) fn blend(from: Color32, to: Color32, share: f32) -> Color32 {
    from.lerp_to_gamma(to, share)
}

/// Dresses egui in them. Cheap when nothing has changed.
pub(crate) fn apply(ctx: &egui::Context, dark: bool) {
    let id = egui::Id::unique("figwort page");
    if ctx.data(|data| data.get_temp::<bool>(id)) == Some(dark) {
        return;
    }
    ctx.data_mut(|data| data.insert_temp(id, dark));
    let theme = if dark { Theme::Dark } else { Theme::Light };
    ctx.set_theme(theme);
    let inks = inks(dark);
    let mut visuals = if dark { Visuals::dark() } else { Visuals::light() };
    visuals.panel_fill = inks.paper;
    visuals.window_fill = inks.paper;
    visuals.extreme_bg_color = inks.shade;
    visuals.override_text_color = Some(inks.ink);
    visuals.window_stroke = Stroke::new(1.0, inks.line);
    visuals.selection.bg_fill = inks.second;
    visuals.selection.stroke = Stroke::new(1.5, inks.paper);
    visuals.slider_trailing_fill = true;
    let corner = CornerRadius::same(2);
    for widget in [
        &mut visuals.widgets.noninteractive,
        &mut visuals.widgets.inactive,
        &mut visuals.widgets.hovered,
        &mut visuals.widgets.active,
        &mut visuals.widgets.open,
    ] {
        widget.corner_radius = corner;
        widget.bg_fill = inks.shade;
        widget.weak_bg_fill = inks.shade;
        widget.bg_stroke = Stroke::new(1.0, inks.line);
        widget.fg_stroke = Stroke::new(1.5, inks.ink);
        widget.expansion = 0.0;
    }
    visuals.widgets.hovered.bg_stroke = Stroke::new(1.5, inks.ink);
    visuals.widgets.active.bg_stroke = Stroke::new(2.0, inks.second);
    ctx.set_visuals_of(theme, visuals);
    ctx.style_mut_of(theme, |style| {
        let sizes = [
            (TextStyle::Small, 12.5),
            (TextStyle::Body, 14.0),
            (TextStyle::Button, 14.0),
            (TextStyle::Heading, 17.0),
        ];
        for (name, size) in sizes {
            style.text_styles.insert(name, FontId::new(size, FontFamily::Proportional));
        }
        style.spacing.item_spacing = vec2(8.0, 6.0);
        style.spacing.interact_size.y = 22.0;
        style.interaction.tooltip_delay = 0.6;
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance and contrast as WCAG 2.2 defines them (from memory).
    fn contrast(a: Color32, b: Color32) -> f64 {
        let luminance = |c: Color32| {
            let linear = |v: u8| {
                let v = f64::from(v) / 255.0;
                if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
            };
            0.2126 * linear(c.r()) + 0.7152 * linear(c.g()) + 0.0722 * linear(c.b())
        };
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn all_words_can_be_read_on_the_paper() {
        for inks in [LIGHT, DARK] {
            for word in [inks.ink, inks.pencil, inks.second] {
                for ground in [inks.paper, inks.shade] {
                    assert!(
                        contrast(word, ground) >= 4.5,
                        "{word:?} on {ground:?}: {}",
                        contrast(word, ground)
                    );
                }
            }
            assert!(contrast(inks.paper, inks.second) >= 4.5);
            assert!(contrast(inks.pencil_on_key, inks.white_key) >= 4.5);
            // Lines and marks, which WCAG asks 3 to 1 of.
            assert!(contrast(inks.stave, inks.paper) >= 3.0, "{}", contrast(inks.stave, inks.paper));
        }
    }
}
