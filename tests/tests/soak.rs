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
    // An interpreter that watches memory is some thousand times slower.
    let (manners, minutes) = if cfg!(miri) { (1, 0.05) } else { (usize::MAX, 5.0) };
    let mut refused = 0;
    for (seed, entry) in (100u64..).zip(library.manners().take(manners)) {
        let heard = soak(&library, entry.name, &charts, minutes, seed);
        assert!(heard.is_clean(), "{heard:#?}");
        assert!(heard.ons as f64 > 200.0 * minutes && heard.snapshots > 0, "too little happened: {heard:#?}");
        refused += heard.refused;
    }
    assert!(refused > 0 || cfg!(miri), "no queue was ever full");
}
