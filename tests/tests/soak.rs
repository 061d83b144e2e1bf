//! Guards against notes that hang, events out of order or range, and allocations, under random players in
//! every manner; `cargo xtask soak` does the same for hours.
#![allow(clippy::unwrap_used, reason = "a test")]

use assert_no_alloc::AllocDisabler;
use figwort_preset::Library;
use figwort_render::chart::OwnedChart;
use tests::soak::soak;

#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

/// The factory set; under Miri, which is some thousand times slower, one manner of it.
fn library() -> Library {
    if !cfg!(miri) {
        return Library::factory();
    }
    let mut library = Library::empty();
    for text in [
        include_str!("../../presets/manners/cradle-song.toml"),
        include_str!("../../presets/figures/rocking.toml"),
        include_str!("../../presets/figures/alberti.toml"),
        include_str!("../../presets/figures/dotted-sway.toml"),
        include_str!("../../presets/figures/held.toml"),
        include_str!("../../presets/figures/answered.toml"),
    ] {
        library.add("of the factory", text).unwrap();
    }
    library
}

#[test]
fn random_players_leave_nothing_hanging() {
    let song = include_bytes!("../../presets/songs/fog-bell-slack-water.abc");
    let charts = [OwnedChart::of(&figwort_sheet::read(song, None).unwrap())];
    let library = library();
    let minutes = if cfg!(miri) { 0.05 } else { 5.0 };
    let mut refused = 0;
    for (seed, entry) in (100u64..).zip(library.manners()) {
        let heard = soak(&library, entry.name, &charts, minutes, seed);
        assert!(heard.is_clean(), "{heard:#?}");
        assert!(heard.ons as f64 > 200.0 * minutes && heard.snapshots > 0, "too little happened: {heard:#?}");
        refused += heard.refused;
    }
    assert!(refused > 0 || cfg!(miri), "no queue was ever full");
}
