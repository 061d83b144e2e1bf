//! Guards against notes that hang, events out of order or range, and allocations, under random players in
//! every manner; `cargo xtask soak` does the same for hours.
#![allow(clippy::unwrap_used, reason = "a test")]

use assert_no_alloc::AllocDisabler;
use figwort_preset::Library;
use figwort_render::chart::OwnedChart;
use tests::soak::soak;

#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

#[test]
fn random_players_leave_nothing_hanging() {
    let song = include_bytes!("../../presets/songs/fog-bell-slack-water.abc");
    let charts = [OwnedChart::of(&figwort_sheet::read(song, None).unwrap())];
    let library = Library::factory();
    let mut refused = 0;
    for (seed, entry) in (100u64..).zip(library.manners()) {
        let heard = soak(&library, entry.name, &charts, 5.0, seed);
        assert!(heard.is_clean(), "{heard:#?}");
        assert!(heard.ons > 1_000 && heard.snapshots > 0, "too little happened: {heard:#?}");
        refused += heard.refused;
    }
    assert!(refused > 0, "no queue was ever full");
}
