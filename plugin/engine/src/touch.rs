//! Touch: how strong each note is, and how a chord is spread.

use figwort_theory::{Span, Velocity};

use crate::settings::Settings;

/// Velocity of a note: the plan's dynamics, the accent of its place, its part, its figure's wish.
/// `level` is the metrical weight of the place, 0 to 4; `lowest` tells the bass.
pub fn velocity(settings: &Settings, dynamics: u8, level: u8, lowest: bool, strength: i8) -> Velocity {
    let base = i32::from(dynamics);
    if settings.dry {
        return Velocity::new(base);
    }
    let accent = i32::from(settings.manner.accent);
    // Half the manner's range up on the bar's start, half of it down on the weakest places.
    let lean = match level {
        0 => accent / 2,
        1 => accent / 4,
        2 => 0,
        3 => -accent / 4,
        _ => -accent / 2,
    };
    let part = if lowest { i32::from(settings.manner.bass_strength) } else { 0 };
    Velocity::new(base + lean + part + i32::from(strength))
}

/// The time between two notes of a spread chord.
pub fn spread(settings: &Settings, millis_to_span: impl Fn(u32) -> Span, ending: bool) -> Span {
    /// A last chord is spread at leisure. Common practice, no source.
    const ENDING_MS: u32 = 70;
    if settings.dry {
        Span::ZERO
    } else if ending {
        millis_to_span(ENDING_MS)
    } else {
        millis_to_span(u32::from(settings.manner.spread_ms))
    }
}
