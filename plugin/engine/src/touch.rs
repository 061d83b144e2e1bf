//! Touch: how strong each note is, how late it may come, how a chord is spread, when the pedal is no help.
//!
//! Everything here is turned off by a dry setting, exactly. Nothing here moves the melody, and nothing comes
//! early: a note may follow its moment, never come before it.

pub mod swing;

use figwort_theory::{Moment, Span, Velocity};

use crate::book::{Hold, Pattern, Step};
use crate::reading::form::PHRASE;
use crate::settings::Settings;
use crate::settings::ladder::hash;

/// Where a note belongs in the accompaniment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// The lowest part.
    Bass,
    /// The left hand's others.
    Left,
    /// The right hand's, but for the highest.
    Right,
    /// The highest part.
    Top,
}

/// Where a note stands in time.
#[derive(Clone, Copy, Debug)]
pub struct Place {
    /// Metrical weight, 0 (a bar's start) to 4.
    pub level: u8,
    /// How much of its phrase is over, 0 to 1.
    pub of_phrase: f32,
    /// Which fractions of a velocity step count as a whole one here: 0 (none) to less than 1 (almost all).
    pub grain: f32,
}

impl Place {
    /// A place so far into a bar, that bar being so many bars into its phrase. `moment` is its number, for the
    /// draw of its grain.
    pub fn new(level: u8, bars: u8, into: Span, bar: Span, seed: u32, moment: Moment) -> Self {
        let bar_part = into.0.clamp(0, bar.0) as f32 / bar.0.max(1) as f32;
        let grain = (hash(seed ^ GRAIN, moment.0 as u32) >> 8) as f32 / (1 << 24) as f32;
        Self { level, of_phrase: (f32::from(bars) + bar_part) / PHRASE as f32, grain }
    }
}

impl Place {
    /// The grain of a part, so that those struck together differ.
    fn grain_of(&self, role: Role) -> f32 {
        let grain = self.grain + role as u8 as f32 / 4.0;
        if grain < 1.0 { grain } else { grain - 1.0 }
    }
}

/// Keeps the draws of grain apart from all others.
const GRAIN: u32 = 0x06a1_0f00;

/// A phrase is strongest when so much of it is over. Common practice, no source; the tension of its third bar
/// agrees.
const HEIGHT: f32 = 0.65;

/// The bass may be so much stronger than the melody, and the other parts have to stay so far below it. Common practice, no
/// source.
const BASS_OVER: i32 = 2;
const PARTS_UNDER: i32 = 4;
/// So far below that, accents and all else begin to count for a third.
const KNEE: i32 = 6;

/// What is to be this strong, under a melody of this strength.
fn under(velocity: i32, role: Role, melody: u8) -> i32 {
    let most = i32::from(melody) + if role == Role::Bass { BASS_OVER } else { -PARTS_UNDER };
    let over = velocity - (most - KNEE);
    if over <= 0 { velocity } else { (most - KNEE + (over + 1) / 3).min(most) }
}

/// Velocity of a note under a melody of a velocity: the plan's dynamics, the accent of its place, the phrase's shape, its
/// part, its figure's wish; however much that is, the tune stays on top. A dry note has the plan's dynamics alone.
pub fn velocity(
    settings: &Settings,
    (dynamics, melody): (u8, u8),
    place: Place,
    role: Role,
    strength: i8,
) -> Velocity {
    let base = i32::from(dynamics);
    if settings.dry {
        return Velocity::new(base);
    }
    let manner = &settings.manner;
    // Half the manner's range up on the bar's start, half of it down on the weakest places.
    let lean = f32::from(manner.accent) * (2.0 - f32::from(place.level.min(4))) / 4.0;
    let shaped = (lean + f32::from(manner.shape) * shape(place.of_phrase)) * settings.expression();
    let part = match role {
        Role::Bass => manner.bass_strength,
        Role::Left => manner.left_strength,
        Role::Right => 0,
        Role::Top => manner.top_strength,
    };
    let wanted = base + stepped(shaped, place.grain_of(role)) + i32::from(part) + i32::from(strength);
    Velocity::new(under(wanted, role, melody))
}

/// A phrase's shape when so much of it is over: 1/2 at its height, -1/2 at its ends.
fn shape(of_phrase: f32) -> f32 {
    let arch = if of_phrase < HEIGHT { of_phrase / HEIGHT } else { (1.0 - of_phrase) / (1.0 - HEIGHT) };
    arch.clamp(0.0, 1.0) - 0.5
}

/// To one of the two nearest whole steps, by the grain of the place: no two notes are quite alike, and what
/// grows little by little does so in some place at once. `core` rounds no floats; for what is far smaller than
/// the shift.
fn stepped(steps: f32, grain: f32) -> i32 {
    const SHIFT: f32 = 1_000.0;
    (steps + SHIFT + grain) as i32 - SHIFT as i32
}

/// How late what is struck at a moment comes, in milliseconds: all of a moment together, drawn from seed and
/// moment, at most the manner's.
pub fn lateness(settings: &Settings, at: Moment) -> u32 {
    let most = u32::from(settings.manner.timing_ms);
    if settings.dry || most == 0 { 0 } else { hash(settings.seed ^ LATENESS, at.0 as u32) % (most + 1) }
}

/// Keeps the draws of lateness apart from all others.
const LATENESS: u32 = 0x51ab_7e1e;

/// The time between two notes of a chord of `notes`, when it is spread: the manner's, but such that the last
/// note comes before a quarter of the beat is over; at an ending, at leisure.
pub fn spread(
    settings: &Settings,
    millis_to_span: impl Fn(u32) -> Span,
    notes: usize,
    beat: Span,
    ending: bool,
) -> Span {
    /// A last chord is spread at leisure. Common practice, no source.
    const ENDING_MS: u32 = 70;
    if settings.dry {
        return Span::ZERO;
    }
    let gaps = notes.saturating_sub(1).max(1) as i64;
    let (wanted, room) = if ending {
        (millis_to_span(ENDING_MS), beat)
    } else {
        (millis_to_span(u32::from(settings.manner.spread_ms)), beat.fraction(1, 4))
    };
    Span(wanted.0.min(room.0 / gaps))
}

/// Whether a figure is played detached, so that a pedal would spoil it: it begins with a rest, or some of its
/// notes end before the next step.
pub fn is_detached(pattern: &Pattern) -> bool {
    let length = pattern.metre.bar() * i64::from(pattern.bars.max(1));
    let next =
        |at: Span| pattern.steps.iter().map(|step| step.at).find(|later| *later > at).unwrap_or(length);
    let ends_early = |step: &Step| match step.hold {
        Hold::Through | Hold::Over => false,
        Hold::For(span) => step.at + span < next(step.at),
    };
    pattern.steps.first().is_some_and(|step| step.at > Span::ZERO) || pattern.steps.iter().any(ends_early)
}

#[cfg(test)]
mod tests {
    use figwort_theory::Metre;

    use super::*;
    use crate::book::Who;

    const ROLES: [Role; 4] = [Role::Bass, Role::Left, Role::Right, Role::Top];

    fn place(level: u8, of_phrase: f32) -> Place {
        Place { level, of_phrase, grain: 0.5 }
    }

    /// Accents fall with the metrical level; in the usual balance the bass is stronger than the inner parts, the
    /// left hand softer than the right, the top a little stronger.
    #[test]
    fn accents_and_balance() {
        let settings = Settings::default();
        let strength = |level, role| velocity(&settings, (64, 82), place(level, 0.3), role, 0).value();
        for role in ROLES {
            assert!((1..5).all(|level| strength(level, role) <= strength(level - 1, role)));
            assert!(strength(4, role) < strength(0, role));
        }
        let [bass, left, right, top] = ROLES.map(|role| strength(2, role));
        assert!(left < right && right < top && left < bass, "{bass} {left} {right} {top}");
    }

    /// Stronger accents are never weaker notes, and the strongest stay about the melody's strength.
    #[test]
    fn the_tune_is_not_drowned() {
        let mut settings = Settings::default();
        settings.manner.accent = 40;
        for role in ROLES {
            let strength =
                |wish| i32::from(velocity(&settings, (76, 80), place(0, 0.65), role, wish).value());
            assert!((-40..40).all(|wish| strength(wish) <= strength(wish + 1)));
            assert_eq!(strength(40), if role == Role::Bass { 82 } else { 76 });
            assert!(strength(-20) < strength(0));
        }
        let quiet = velocity(&settings, (40, 80), place(4, 0.0), Role::Right, 0);
        assert_eq!(quiet, velocity(&settings, (40, 127), place(4, 0.0), Role::Right, 0));
    }

    #[test]
    fn a_phrase_has_its_height_in_its_third_quarter() {
        let steps = (0..=40).map(|n| shape(n as f32 / 40.0));
        let height = steps.clone().fold(-1.0, f32::max);
        assert_eq!((height, shape(0.0), shape(1.0)), (0.5, -0.5, -0.5));
        assert!((20..30).any(|n| shape(n as f32 / 40.0) == height));
        assert!(steps.clone().zip(steps.skip(1)).all(|(a, b)| (a - b).abs() < 0.1));
        assert_eq!([-1.6, -0.5, -0.4, 0.4, 0.5, 2.5].map(|n| stepped(n, 0.5)), [-2, 0, 0, 0, 1, 3]);
    }

    #[test]
    fn dry_is_flat_and_exact() {
        let mut settings = Settings { dry: true, swing: 1.0, ..Settings::default() };
        (settings.manner.timing_ms, settings.manner.spread_ms, settings.manner.accent) = (12, 60, 40);
        for level in 0..5 {
            for role in ROLES {
                assert_eq!(velocity(&settings, (64, 60), place(level, 0.6), role, 9).value(), 64);
            }
        }
        assert!((0..5_000).all(|at| lateness(&settings, Moment(at * 37)) == 0));
        assert_eq!(spread(&settings, |ms| Span(i64::from(ms)), 5, Span::QUARTER, true), Span::ZERO);
    }

    /// At most what the manner allows, all of it used, about evenly.
    #[test]
    fn lateness_keeps_to_its_limit() {
        let mut settings = Settings::default();
        settings.manner.timing_ms = 8;
        let mut counts = [0; 9];
        for n in 0..9_000 {
            counts[lateness(&settings, Moment(n * Span::EIGHTH.0)) as usize] += 1;
        }
        assert!(counts.iter().all(|count| (800..1_200).contains(count)), "{counts:?}");
    }

    #[test]
    fn a_spread_chord_is_over_in_a_quarter_of_a_beat() {
        let mut settings = Settings::default();
        settings.manner.spread_ms = 60;
        for beat in [Span(500), Span(2_000), Span(20_000)] {
            for notes in 1..7 {
                let gap = spread(&settings, |ms| Span(i64::from(ms) * 10), notes, beat, false);
                assert!(gap.0 * (notes as i64 - 1) * 4 <= beat.0 && gap.0 <= 600);
            }
        }
    }

    #[test]
    fn detached_figures_are_seen() {
        let figure = |steps: &[(i64, Hold)]| {
            let steps = steps.iter().map(|(eighth, hold)| Step {
                at: Span::EIGHTH * *eighth,
                who: Who::All,
                hold: *hold,
                strength: 0,
            });
            is_detached(&Pattern { metre: Metre::FOUR_FOUR, bars: 1, lent: false, steps: steps.collect() })
        };
        let quarter = Hold::For(Span::QUARTER);
        assert!(!figure(&[(0, Hold::Through), (7, Hold::For(Span::EIGHTH))]));
        assert!(figure(&[(0, Hold::Through), (6, Hold::For(Span::EIGHTH))]));
        assert!(!figure(&[(0, quarter), (2, quarter), (4, Hold::For(Span::EIGHTH * 4))]));
        assert!(figure(&[(2, Hold::Through)]));
        assert!(figure(&[(0, quarter), (3, Hold::Through)]));
        assert!(figure(&[(0, quarter), (2, quarter)]));
    }
}
