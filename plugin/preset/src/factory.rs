//! The factory set, part of the binary. The tests compare these lists with the folders.

/// A file's name and text.
type File = (&'static str, &'static str);

/// Figure files.
pub(crate) const FIGURES: &[File] = &[
    ("rising.toml", include_str!("../../../presets/figures/rising.toml")),
    ("rocking.toml", include_str!("../../../presets/figures/rocking.toml")),
    ("pulse.toml", include_str!("../../../presets/figures/pulse.toml")),
    ("afterbeats.toml", include_str!("../../../presets/figures/afterbeats.toml")),
    ("late-step.toml", include_str!("../../../presets/figures/late-step.toml")),
    ("mid-step.toml", include_str!("../../../presets/figures/mid-step.toml")),
];

/// Manner files, the default first.
pub(crate) const MANNERS: &[File] = &[
    ("unhurried.toml", include_str!("../../../presets/manners/unhurried.toml")),
    ("light-footed.toml", include_str!("../../../presets/manners/light-footed.toml")),
    ("strolling-bass.toml", include_str!("../../../presets/manners/strolling-bass.toml")),
];
