//! Guards how chords are heard live: hands that are early or late, spread, slip, roll, overlap, pedal and
//! cross. Figures are printed; run with `--nocapture` to read them.
#![allow(clippy::print_stdout, reason = "the figures are for reading")]

#[path = "support/hands.rs"]
mod hands;
mod support;

use hands::{Hands, Leaving, Size, Tally, percentile, rehearse};

fn line(name: &str, tally: &Tally) {
    println!(
        "{name:34} {:6} old {:5.2} % twice {:5.2} % back {:5.2} % false {:5.2} % root {:5.2} % forth {:5.2} % wrong {:5.2} % unheard {:4} \
         complete p95 {:5.1} first max {:5.1} ms  bars unstruck {:4}/{:4}",
        tally.changes,
        tally.share(tally.old_before),
        tally.share(tally.twice),
        tally.share(tally.taken_back),
        tally.share(tally.false_notes),
        tally.share(tally.other_root_first),
        tally.share(tally.back_and_forth),
        tally.share(tally.wrong),
        tally.unheard,
        percentile(&tally.after_complete, 0.95),
        percentile(&tally.after_first, 1.0),
        tally.unstruck_bars,
        tally.lasting_bars,
    );
    if let Ok(what) = std::env::var("EXAMPLES") {
        for example in tally.examples.iter().filter(|e| e.starts_with(&what)).take(25) {
            println!("    {example}");
        }
    }
}

#[test]
fn early_and_late_hands() {
    let book = support::book();
    for sigma in [10.0, 25.0, 40.0] {
        for (player, bias) in [("steady", 0.0), ("rushing", -20.0), ("dragging", 20.0)] {
            for leaving in [Leaving::Lifting, Leaving::Overlapping, Leaving::Short] {
                let hands = Hands { sigma, bias, leaving, ..Hands::default() };
                let tally = rehearse(&hands, 1_000, 1, &book);
                line(&format!("σ {sigma} {player} {leaving:?}"), &tally);
            }
        }
    }
    for rhythm in hands::RHYTHMS {
        for leaving in [Leaving::Lifting, Leaving::Overlapping] {
            let mut tally = Tally::default();
            for seed in 0..40 {
                let performance = hands::perform(&Hands { rhythm, leaving, ..Hands::default() }, seed);
                let settings = figwort_engine::Settings { source: hands::SOURCE, ..Default::default() };
                tally.add(hands::measure(&performance, &hands::listen(&performance, &settings, &book)));
            }
            line(&format!("{rhythm:?} {leaving:?}"), &tally);
        }
    }
    for size in [Size::Triads, Size::Sevenths, Size::Mixed] {
        line(&format!("{size:?}"), &rehearse(&Hands { size, ..Hands::default() }, 2_000, 2, &book));
    }
    let even = Hands { even: Some(35.0), ..Hands::default() };
    line("even 35 ms", &rehearse(&even, 2_000, 3, &book));
    line("even 35 ms, slips", &rehearse(&Hands { slips: 1.0, ..even }, 2_000, 3, &book));
    line("rolls to 400 ms", &rehearse(&Hands { roll: Some(400.0), ..Hands::default() }, 2_000, 4, &book));
    for leaving in [Leaving::KeepingCommonKeys, Leaving::Pedalling] {
        line(&format!("{leaving:?}"), &rehearse(&Hands { leaving, ..Hands::default() }, 2_000, 5, &book));
    }
}
