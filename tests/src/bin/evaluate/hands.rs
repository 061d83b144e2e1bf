//! How the live engine hears a player's chords: simulated hands, early and late, spread, slipping, rolling,
//! overlapping, pedalling; figures beside their aims. Prints only.

#[path = "../../../../plugin/engine/tests/support/hands.rs"]
mod simulation;

use std::time::Instant;

use anyhow::Result;
use figwort_engine::{Figure, Settings, Source};
use figwort_preset::Library;
use figwort_theory::Pitch;
use simulation::{
    Hands, Leaving, Rhythm, Size, Tally, assigned_rightly, listen, on_one_keyboard, percentile, perform,
    rehearse, wander,
};

/// Changes in each row.
const CHANGES: usize = 2_000;
/// Pieces of 32 bars in each row of the table of two hands.
const PIECES: u64 = 100;

/// Prints the tables.
pub(crate) fn evaluate() -> Result<()> {
    let begun = Instant::now();
    let figures = Library::factory().manner(Library::DEFAULT_MANNER)?.figures;
    println!(
        "\nChords heard live: simulated hands, at least {CHANGES} changes a row, keys within a chord σ = 12 ms"
    );
    println!(
        "  in rhythms of two bars, a bar, half a bar, mixed, free; short: lifts early, relies on the latch"
    );
    heading();
    for sigma in [10.0, 25.0, 40.0] {
        for (player, bias) in [("steady", 0.0), ("rushing 20 ms", -20.0), ("dragging 20 ms", 20.0)] {
            let mut all = Tally::default();
            for leaving in [Leaving::Lifting, Leaving::Overlapping, Leaving::Short] {
                let hands = Hands { sigma, bias, leaving, ..Hands::default() };
                let tally = rehearse(&hands, CHANGES, 11, &figures);
                if sigma == 25.0 {
                    row(&format!("σ 25 {player}, {}", name(leaving)), &tally);
                }
                all.add(tally);
            }
            row(&format!("σ {sigma} {player}, all"), &all);
        }
    }
    aims("≤ 1 (σ 25)", "0", "");
    println!();
    heading();
    for (what, size) in
        [("triads", Size::Triads), ("sevenths and ninths", Size::Sevenths), ("both", Size::Mixed)]
    {
        row(what, &rehearse(&Hands { size, ..Hands::default() }, CHANGES, 12, &figures));
    }
    let even = Hands { even: Some(35.0), ..Hands::default() };
    row("keys spread evenly over 35 ms", &rehearse(&even, CHANGES, 13, &figures));
    row("and a slip in every chord", &rehearse(&Hands { slips: 1.0, ..even }, CHANGES, 13, &figures));
    let rolled = Hands { roll: Some(400.0), ..Hands::default() };
    row("rolled from below, 60 to 400 ms", &rehearse(&rolled, CHANGES, 14, &figures));
    for leaving in [Leaving::KeepingCommonKeys, Leaving::Pedalling] {
        row(name(leaving), &rehearse(&Hands { leaving, ..Hands::default() }, CHANGES, 15, &figures));
    }
    aims("", "0", "0");
    one_keyboard(&figures);
    println!("  {:.1} s", begun.elapsed().as_secs_f64());
    Ok(())
}

/// Both hands on one keyboard: how many keys went to the hand that struck them.
fn one_keyboard(figures: &[Figure]) {
    println!("\nBoth hands on one keyboard: keys assigned rightly, {PIECES} pieces a row");
    println!("  {:44} {:>8} {:>10} {:>12}", "", "keys", "learned %", "C4 split %");
    for leaving in [Leaving::Lifting, Leaving::Overlapping, Leaving::Short] {
        for (places, moving) in [("hands in their places", false), ("hands moving by octaves", true)] {
            let hands = Hands { leaving, rhythm: Rhythm::Phrase, ..Hands::default() };
            let (mut keys, mut right) = (0, [0; 2]);
            for seed in 0..PIECES {
                let piece = if moving { wander(&hands, seed) } else { perform(&hands, seed) };
                for (n, source) in [Source::Hands, Source::Split(Pitch::C4)].into_iter().enumerate() {
                    let settings = Settings { source, ..Settings::default() };
                    let heard = listen(&on_one_keyboard(&piece), &settings, figures);
                    let (all, assigned) = assigned_rightly(&piece, &heard);
                    keys += if n == 0 { all } else { 0 };
                    right[n] += assigned;
                }
            }
            let share = |n: usize| 100.0 * right[n] as f64 / keys as f64;
            let what = format!("{}, {places}", name(leaving));
            println!("  {what:44} {keys:8} {:10.2} {:12.2}", share(0), share(1));
        }
    }
}

fn name(leaving: Leaving) -> &'static str {
    match leaving {
        Leaving::Lifting => "lifting",
        Leaving::Overlapping => "overlapping",
        Leaving::Short => "short",
        Leaving::KeepingCommonKeys => "common keys kept down",
        Leaving::Pedalling => "pedal over the change",
    }
}

fn heading() {
    println!(
        "  {:32} {:>7} {:>7} {:>7} {:>7} {:>7} {:>7} {:>6} {:>6} {:>6} {:>6}  bars",
        "", "changes", "old %", "twice %", "false %", "forth %", "wrong %", "p50", "p95", "max", "first"
    );
}

fn aims(old: &str, twice: &str, forth: &str) {
    println!(
        "  {:32} {:>7} {old:>7} {twice:>7} {:>7} {forth:>7} {:>7} {:>6} {:>6} {:>6} {:>6}",
        "aim", "", "", "", "", "1.3", "", "35"
    );
    println!(
        "  old: the old chord sounds within 80 ms before; twice: a pitch struck twice within 150 ms; false: a \
         note outside the chord, or another bass first;\n  forth: a root left comes back; wrong: not what is held \
         in the end; ms from the completing key to the first sound: median, 95 %, longest; first: longest from \
         the first key;\n  bars: bar lines under a lasting chord that passed without a stroke"
    );
}

fn row(name: &str, tally: &Tally) {
    let share = |count| tally.share(count);
    println!(
        "  {name:32} {:7} {:7.2} {:7.2} {:7.2} {:7.2} {:7.2} {:6.1} {:6.1} {:6.1} {:6.1}  {}/{}",
        tally.changes,
        share(tally.old_before),
        share(tally.twice),
        share(tally.false_notes),
        share(tally.back_and_forth),
        share(tally.wrong + tally.unheard),
        percentile(&tally.after_complete, 0.5),
        percentile(&tally.after_complete, 0.95),
        percentile(&tally.after_complete, 1.0),
        percentile(&tally.after_first, 1.0),
        tally.unstruck_bars,
        tally.lasting_bars,
    );
}
