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
    ("falling.toml", include_str!("../../../presets/figures/falling.toml")),
    ("arch.toml", include_str!("../../../presets/figures/arch.toml")),
    ("weaving.toml", include_str!("../../../presets/figures/weaving.toml")),
    ("sweep.toml", include_str!("../../../presets/figures/sweep.toml")),
    ("alberti.toml", include_str!("../../../presets/figures/alberti.toml")),
    ("uneven-groups.toml", include_str!("../../../presets/figures/uneven-groups.toml")),
    ("paired.toml", include_str!("../../../presets/figures/paired.toml")),
    ("answering-hands.toml", include_str!("../../../presets/figures/answering-hands.toml")),
    ("wave.toml", include_str!("../../../presets/figures/wave.toml")),
    ("late-bloom.toml", include_str!("../../../presets/figures/late-bloom.toml")),
    ("triplets.toml", include_str!("../../../presets/figures/triplets.toml")),
    ("dotted-sway.toml", include_str!("../../../presets/figures/dotted-sway.toml")),
    ("two-to-a-bar.toml", include_str!("../../../presets/figures/two-to-a-bar.toml")),
    ("off-beats.toml", include_str!("../../../presets/figures/off-beats.toml")),
    ("pushed.toml", include_str!("../../../presets/figures/pushed.toml")),
    ("dotted-bass.toml", include_str!("../../../presets/figures/dotted-bass.toml")),
    ("cross-beat.toml", include_str!("../../../presets/figures/cross-beat.toml")),
    ("throbbing.toml", include_str!("../../../presets/figures/throbbing.toml")),
    ("syncopated.toml", include_str!("../../../presets/figures/syncopated.toml")),
    ("call-and-reply.toml", include_str!("../../../presets/figures/call-and-reply.toml")),
    ("long-and-two-short.toml", include_str!("../../../presets/figures/long-and-two-short.toml")),
    ("early-step.toml", include_str!("../../../presets/figures/early-step.toml")),
    ("there-and-back.toml", include_str!("../../../presets/figures/there-and-back.toml")),
    ("walking.toml", include_str!("../../../presets/figures/walking.toml")),
    ("step-and-afterbeats.toml", include_str!("../../../presets/figures/step-and-afterbeats.toml")),
    ("every-other-bar.toml", include_str!("../../../presets/figures/every-other-bar.toml")),
    ("arrival.toml", include_str!("../../../presets/figures/arrival.toml")),
    ("pushed-step.toml", include_str!("../../../presets/figures/pushed-step.toml")),
    ("bass-and-tenor.toml", include_str!("../../../presets/figures/bass-and-tenor.toml")),
];

/// Manner files, the default first.
pub(crate) const MANNERS: &[File] = &[
    ("unhurried.toml", include_str!("../../../presets/manners/unhurried.toml")),
    ("light-footed.toml", include_str!("../../../presets/manners/light-footed.toml")),
    ("strolling-bass.toml", include_str!("../../../presets/manners/strolling-bass.toml")),
    ("held-chords.toml", include_str!("../../../presets/manners/held-chords.toml")),
    ("rippling.toml", include_str!("../../../presets/manners/rippling.toml")),
    ("cradle-song.toml", include_str!("../../../presets/manners/cradle-song.toml")),
    ("brisk-dance.toml", include_str!("../../../presets/manners/brisk-dance.toml")),
    ("off-the-beat.toml", include_str!("../../../presets/manners/off-the-beat.toml")),
    ("duet.toml", include_str!("../../../presets/manners/duet.toml")),
    ("broad.toml", include_str!("../../../presets/manners/broad.toml")),
    ("late-evening.toml", include_str!("../../../presets/manners/late-evening.toml")),
];
