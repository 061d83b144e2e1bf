//! Colours. Everything that matters also differs in shape, so the colours are a courtesy.

use super::Theme;

/// The style sheet of a picture: one class for each kind of mark.
pub(super) fn style(theme: Theme) -> String {
    let c = match theme {
        Theme::Light => Colours {
            paper: "#fdfcf9",
            ink: "#1c2430",
            soft: "#6a7079",
            line: "#8d929a",
            hair: "#dcdad3",
            still: "#f0ebdc",
            right: "#3d7f95",
            left: "#9a5b2b",
            left_ground: "#fbf3ea",
        },
        Theme::Dark => Colours {
            paper: "#15191f",
            ink: "#eef0ee",
            soft: "#9aa1aa",
            line: "#6d757f",
            hair: "#2b313a",
            still: "#262a2c",
            right: "#5fa5bb",
            left: "#dd9b62",
            left_ground: "#2b241e",
        },
    };
    format!(
        ".paper{{fill:{paper}}}.still{{fill:{still}}}.ink{{fill:{ink}}}.soft{{fill:{soft}}}\
         .hair{{stroke:{hair};stroke-width:0.8;fill:none}}.line{{stroke:{line};stroke-width:1;fill:none}}\
         .beat{{stroke:{hair};stroke-width:0.8;stroke-dasharray:1.5 3;fill:none}}\
         .bar{{stroke:{line};stroke-width:1.1;fill:none}}.section{{stroke:{soft};stroke-width:2.4;fill:none}}\
         .bracket{{stroke:{soft};stroke-width:1.1;fill:none}}.pedal{{stroke:{soft};stroke-width:1.3;fill:none}}\
         .melody{{stroke:{ink};stroke-width:2.6;fill:none;stroke-linecap:butt}}\
         .join{{stroke:{ink};stroke-width:0.9;fill:none}}.head{{fill:{ink}}}\
         .right{{fill:{right}}}\
         .left{{fill:url(#hatch);stroke:{left};stroke-width:1.1}}\
         .hatchground{{fill:{left_ground}}}.hatchline{{stroke:{left};stroke-width:1;fill:none}}\
         .sign{{stroke:{ink};fill:none;stroke-linejoin:round}}.softsign{{stroke:{soft};fill:none;stroke-linejoin:round}}\
         text{{font-family:Ubuntu,'Ubuntu Light','Noto Sans','DejaVu Sans',sans-serif;font-weight:300}}",
        paper = c.paper,
        ink = c.ink,
        soft = c.soft,
        line = c.line,
        hair = c.hair,
        still = c.still,
        right = c.right,
        left = c.left,
        left_ground = c.left_ground,
    )
}

struct Colours {
    paper: &'static str,
    ink: &'static str,
    soft: &'static str,
    line: &'static str,
    hair: &'static str,
    still: &'static str,
    right: &'static str,
    left: &'static str,
    left_ground: &'static str,
}
