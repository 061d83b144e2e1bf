//! Deciding: which texture, which figure, how many parts, how loud.
//!
//! [`decide`] is a pure function of the reading and the settings. Whatever varies is drawn from a hash of
//! (seed, bar, slot), so the same place always gets the same draw.

use crate::book::{Family, Figure};
use crate::observation::{MelodyState, Texture};
use crate::reading::Reading;
use crate::reading::tension::PHRASE;
use crate::settings::{Rung, Settings};

/// A plan for the time until something changes, at most a bar.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Plan {
    /// The rung of the ladder that the bar has climbed to.
    pub rung: Rung,
    /// What is played.
    pub texture: Texture,
    /// Index of the figure in the book, and its id.
    pub figure: Option<(usize, u16)>,
    /// Parts of the voicing, bass included.
    pub parts: u8,
    /// Velocity before accents, 1 to 127.
    pub dynamics: u8,
}

/// Slots of the hash: one for each thing that is drawn.
#[derive(Clone, Copy)]
enum Slot {
    Rest = 1,
    Figure = 2,
    OtherFigure = 3,
}

/// What to do from now on.
pub fn decide(reading: &Reading, settings: &Settings, figures: &[Figure]) -> Plan {
    let rung = settings.rung_at(reading.bar.index);
    if reading.chord.is_none() {
        return Plan { rung, dynamics: dynamics(reading, settings), ..Plan::default() };
    }
    let mut plan = Plan {
        rung,
        texture: Texture::Block,
        figure: None,
        parts: parts(reading, settings, rung),
        dynamics: dynamics(reading, settings),
    };
    if reading.last && rung >= Rung::Flowing {
        plan.texture = Texture::Ending;
    } else if rung >= Rung::Flowing
        && reading.melody != MelodyState::Moving
        && moves(reading, settings)
        && let Some(index) = choose(reading, settings, figures)
        && let Some(figure) = figures.get(index)
    {
        plan.texture = Texture::Figure(figure.family);
        plan.figure = Some((index, figure.id));
    }
    plan
}

/// How much of the manner's range of parts a melody that stands adds, and what full tension adds, in percent.
/// Common practice, no source.
const STANDING: u32 = 35;
const TENSE: u32 = 80;
/// Velocity steps from no tension to full.
const LEAN: i32 = 6;

/// Fuller where the melody stands and where it is tense, thinner while it moves.
fn parts(reading: &Reading, settings: &Settings, rung: Rung) -> u8 {
    let manner = &settings.manner;
    let most = if rung == Rung::Spaced { manner.parts_max.min(4) } else { manner.parts_max };
    let standing = if reading.melody == MelodyState::Moving { 0 } else { STANDING };
    let fullness = (standing + TENSE * u32::from(reading.tension) / 100).min(100);
    let range = u32::from(manner.parts_max.saturating_sub(manner.parts_min));
    let more = (range * fullness + 50) / 100;
    (manner.parts_min + more as u8 + u8::from(reading.last)).clamp(manner.parts_min, most)
}

fn dynamics(reading: &Reading, settings: &Settings) -> u8 {
    let under = i32::from(settings.manner.under_melody);
    let level = i32::from(settings.level) + i32::from(reading.tension) * LEAN / 100;
    (i32::from(reading.melody_velocity) - under + level).clamp(1, 127) as u8
}

/// Whether this still moment is used, or left still on purpose; ends of phrases are left alone half as often
/// again.
fn moves(reading: &Reading, settings: &Settings) -> bool {
    let phrase_end = reading.bar.index.rem_euclid(PHRASE) == PHRASE - 1;
    let space = (settings.space * if phrase_end { 1.5 } else { 1.0 }).min(1.0);
    let drawn = draw(settings.seed, reading.bar.index, Slot::Rest) % 10_000;
    (drawn as f32) < (1.0 - space) * 10_000.0
}

/// The figure for this bar. Unless the manner asks for an ostinato, a bar whose draw repeats that of the bar
/// before draws again.
fn choose(reading: &Reading, settings: &Settings, figures: &[Figure]) -> Option<usize> {
    let weight = |figure: &Figure| {
        let family = match figure.family {
            Family::BrokenChord => settings.manner.broken_chord,
            Family::RepeatedChord => settings.manner.repeated_chord,
            Family::BassLine => settings.manner.bass_line,
        };
        let fits = figure.pattern(reading.bar.metre).is_some();
        if fits { u32::from(family.min(100)) * u32::from(figure.weight.min(100)) } else { 0 }
    };
    let total: u32 = figures.iter().map(weight).sum();
    if total == 0 {
        return None;
    }
    let pick = |bar: i64, slot: Slot| {
        let mut left = draw(settings.seed, bar, slot) % total;
        figures.iter().position(|figure| {
            let share = weight(figure);
            let found = left < share;
            left = left.saturating_sub(share);
            found
        })
    };
    if settings.manner.ostinato {
        return pick(0, Slot::Figure);
    }
    let here = pick(reading.bar.index, Slot::Figure);
    if here == pick(reading.bar.index - 1, Slot::Figure) {
        pick(reading.bar.index, Slot::OtherFigure)
    } else {
        here
    }
}

/// A draw that depends on nothing but its place: the finaliser of SplitMix64.
fn draw(seed: u32, bar: i64, slot: Slot) -> u32 {
    let mut x = u64::from(seed) << 32 ^ (bar as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ slot as u64;
    x = x.wrapping_add(0x9e37_79b9_7f4a_7c15);
    x = (x ^ x >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    x = (x ^ x >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
    ((x ^ x >> 31) >> 32) as u32
}

#[cfg(test)]
mod tests {
    use figwort_theory::{Chord, Key, Kind, Metre, Moment, PitchClass, Span};

    use super::*;
    use crate::reading::clock::Bar;

    fn reading(tension: u8, melody: MelodyState) -> Reading {
        let bar = Bar { start: Moment::ZERO, length: Span::WHOLE, metre: Metre::FOUR_FOUR, index: 0 };
        Reading {
            now: Moment::ZERO,
            bar,
            chord: Some(Chord::new(PitchClass::C, Kind::Major)),
            key: Key::default(),
            tension,
            melody,
            ceiling: None,
            summit: None,
            melody_velocity: 80,
            next: None,
            last: false,
        }
    }

    /// More tension, never fewer or softer parts; the whole of the manner's range is used, and no more.
    #[test]
    fn parts_and_loudness_follow_the_tension() {
        for (fewest, most) in [(3, 6), (3, 5), (4, 4)] {
            let mut settings = Settings { elaboration: 2.0, ..Settings::default() };
            (settings.manner.parts_min, settings.manner.parts_max) = (fewest, most);
            let plan = |tension, melody| decide(&reading(tension, melody), &settings, &[]);
            for melody in [MelodyState::Moving, MelodyState::Still, MelodyState::Resting] {
                for tension in 1..=100 {
                    let (less, more) = (plan(tension - 1, melody), plan(tension, melody));
                    assert!(less.parts <= more.parts && less.dynamics <= more.dynamics);
                    assert!((fewest..=most).contains(&more.parts));
                }
            }
            assert_eq!(plan(0, MelodyState::Moving).parts, fewest);
            assert_eq!(plan(100, MelodyState::Still).parts, most);
            assert!(plan(100, MelodyState::Still).dynamics > plan(0, MelodyState::Still).dynamics);
        }
    }
}
