//! Swing: the second eighth of a quarter comes late, the more so the slower the tempo.
//!
//! Time within a quarter is stretched before its half and pressed together after it, so that sixteenths swing
//! along and quarters stay. Not here: the melody, which is never moved, and metres whose felt beat has three
//! parts, which have a lilt of their own.

use figwort_theory::{Metre, Moment, Span};

use crate::settings::Settings;

/// The ratio of the long eighth to the short one at full swing: the short note keeps about 100 ms, and never
/// more than 3.5 : 1 (Friberg and Sundström, Swing ratios and ensemble timing in jazz performance, Music Perception 19,
/// 2002, 333–349; so 2.0 at 200 quarters a minute, 1.5 at 240, 1.0 at 300).
pub fn ratio(tempo: f64) -> f64 {
    let quarter_ms = 60_000.0 / tempo.max(1.0);
    ((quarter_ms - 100.0) / 100.0).clamp(1.0, 3.5)
}

/// How far the settings let it swing, 0 to 1.
fn amount(settings: &Settings) -> f64 {
    let manner = f64::from(settings.manner.swing) / 100.0;
    if settings.dry { 0.0 } else { f64::from(settings.swing).max(manner) }
}

/// The moment at which something written at `at` is played. Never earlier than written, never past the next
/// quarter, and in the same order. What isn't on a sixteenth (triplets) stays.
pub fn swung(settings: &Settings, tempo: f64, metre: Metre, bar_start: Moment, at: Moment) -> Moment {
    const HALF: i64 = Span::EIGHTH.0;
    const SIXTEENTH: i64 = HALF / 2;
    let amount = amount(settings);
    // 7/8 and the like count eighths, which can't be uneven.
    if amount <= 0.0 || metre.beat().0 % Span::QUARTER.0 != 0 || metre.denominator() > 4 {
        return at;
    }
    let place = (at - bar_start).0.rem_euclid(Span::QUARTER.0);
    if place == 0 || place % SIXTEENTH != 0 {
        return at;
    }
    let ratio = 1.0 + (ratio(tempo) - 1.0) * amount;
    let turn = (Span::QUARTER.0 as f64 * ratio / (ratio + 1.0)) as i64;
    let swung = if place <= HALF {
        place * turn / HALF
    } else {
        turn + (place - HALF) * (Span::QUARTER.0 - turn) / HALF
    };
    at + Span(swung - place)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Computed by hand from what Friberg and Sundström (2002) measured: a short note of 100 ms, and 3.5 : 1 at most.
    #[test]
    fn the_ratio_narrows_as_the_tempo_rises() {
        for (tempo, expected) in [(200.0, 2.0), (240.0, 1.5), (300.0, 1.0), (400.0, 1.0), (60.0, 3.5)] {
            assert!((ratio(tempo) - expected).abs() < 1e-9, "{tempo}");
        }
        let ratios = (40..400).map(|tempo| ratio(f64::from(tempo)));
        assert!(ratios.clone().zip(ratios.skip(1)).all(|(slow, fast)| fast <= slow));
    }

    #[test]
    fn eighths_swing_late_in_order_and_within_their_quarter() {
        let place = |swing: f32, tempo: f64, sixteenths: i64| {
            let settings = Settings { swing, ..Settings::default() };
            let at = Moment(sixteenths * Span::QUARTER.0 / 4);
            swung(&settings, tempo, Metre::FOUR_FOUR, Moment::ZERO, at).0
        };
        let quarter = Span::QUARTER.0;
        assert_eq!(place(1.0, 200.0, 2), quarter * 2 / 3);
        assert_eq!(place(0.0, 200.0, 2), quarter / 2);
        for tempo in [50.0, 110.0, 170.0, 260.0] {
            for swing in [0.1, 0.5, 1.0] {
                for n in 0..16 {
                    let (here, next) = (place(swing, tempo, n), place(swing, tempo, n + 1));
                    let written = n * quarter / 4;
                    assert!(here >= written && here < next && here < (written / quarter + 1) * quarter);
                    assert!(n % 4 != 0 || here == written);
                }
            }
        }
    }

    #[test]
    fn threes_and_dry_parts_stay() {
        let full = Settings { swing: 1.0, ..Settings::default() };
        let dry = Settings { dry: true, ..full };
        let eighth = Moment(Span::EIGHTH.0);
        let third = Moment(Span::QUARTER.0 / 3);
        let place = |settings: &Settings, metre, at| swung(settings, 120.0, metre, Moment::ZERO, at);
        assert_eq!(place(&dry, Metre::FOUR_FOUR, eighth), eighth);
        assert_eq!(place(&full, Metre::FOUR_FOUR, third), third);
        for (above, below) in [(6, 8), (7, 8), (12, 8), (3, 8)] {
            if let Some(metre) = Metre::new(above, below) {
                assert_eq!(place(&full, metre, eighth), eighth);
            }
        }
        assert!(place(&full, Metre::FOUR_FOUR, eighth) > eighth);
    }
}
