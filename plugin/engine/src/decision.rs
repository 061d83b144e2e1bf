//! Deciding: which texture, which figure, how many parts, how loud.
//!
//! [`decide`] is a pure function of the reading and the settings. Whatever varies is drawn from a hash of
//! (seed, bar, slot), so the same place always gets the same draw. The law is one budget of motion for both
//! hands: melody onsets and figure onsets per quarter note stay under [`Settings::budget`] together, so that a
//! figure is chosen that fits beside the melody, or none. Not here: what a figure's steps sound like, and when
//! a running one gives way.

mod choice;
mod loudness;

use crate::book::{Family, Figure};
use crate::observation::{MelodyState, Texture};
use crate::reading::Reading;
use crate::settings::ladder::{below, hash, threshold};
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
    /// Velocity before accents and the phrase's shape, 1 to 127.
    pub dynamics: u8,
    /// The velocity that the accompaniment stays under or about with all that, 1 to 127: the melody's.
    pub melody: u8,
    /// Bars since the phrase began.
    pub of_phrase: u8,
}

/// Slots of the thresholds, far from those of the ladder and its ornaments.
const REST_SLOT: u32 = 0x8000_0001;
const FIGURE_SLOT: u32 = 0x8000_0002;
const LAYOUT_SLOT: u32 = 0x8000_0003;

/// Melody onsets a quarter note from which on a held chord is struck at once, whatever its figure.
const BUSY: f32 = 0.9;

/// What to do from now on.
pub fn decide(reading: &Reading, settings: &Settings, figures: &[Figure]) -> Plan {
    let rung = settings.rung_at(reading.turn);
    let mut plan = Plan {
        rung,
        dynamics: loudness::dynamics(reading, settings),
        melody: loudness::melody(reading, settings),
        of_phrase: reading.form.of_phrase,
        ..Plan::default()
    };
    if reading.chord.is_none() {
        return plan;
    }
    let layout = |family| {
        let index = choice::layout(family, reading, settings, figures)?;
        figures.get(index).map(|figure| (index, figure.id))
    };
    plan.texture = Texture::Block;
    plan.parts = parts(&built(reading, settings), settings, rung);
    if reading.last && rung >= Rung::Flowing {
        plan.texture = Texture::Ending;
        plan.figure = layout(Family::Ending);
    } else if rung >= Rung::Flowing
        && reading.melody != MelodyState::Moving
        && !rests(reading, settings)
        && let Some(index) = choice::choose(reading, settings, figures)
        && let Some(figure) = figures.get(index)
    {
        plan.texture = Texture::Figure(figure.family);
        plan.figure = Some((index, figure.id));
    } else if rung >= Rung::Flowing && reading.melody_motion < BUSY {
        plan.figure = layout(Family::Block);
    }
    plan
}

/// Tension added when a piece has built up fully, for each velocity step that the manner builds.
const BUILD_TENSION: i32 = 5;

/// Tension added for each rung above Flowing, and taken away for each below: chords grow fuller little by
/// little on the way from one rung to the next.
const RUNG_TENSION: f32 = 15.0;

/// The reading as a piece that has built up, and elaboration, hear it: a little more or less tense, so that
/// chords are fuller or thinner.
fn built(reading: &Reading, settings: &Settings) -> Reading {
    let build = i32::from(settings.manner.build) * BUILD_TENSION * i32::from(reading.form.build) / 100;
    let more = build + ((settings.elaboration - 3.0) * RUNG_TENSION) as i32;
    Reading { tension: (i32::from(reading.tension) + more).clamp(0, 100) as u8, ..*reading }
}

/// How much of the manner's range of parts a melody that stands adds, and what full tension adds, in percent;
/// and what each semitone of room under the melody adds, beyond two octaves above the lowest bass. Common
/// practice, no source; the sizes by trial against the shares of composed piano writing.
const STANDING: u32 = 25;
const TENSE: u32 = 90;
const ROOM: u32 = 2;
const CLOSE: u32 = 26;

/// Fuller where the melody stands, where it is tense and where there is room; thinner while the melody moves
/// or lies low.
fn parts(reading: &Reading, settings: &Settings, rung: Rung) -> u8 {
    let manner = &settings.manner;
    let most = if rung == Rung::Spaced { manner.parts_max.min(4) } else { manner.parts_max };
    let standing = if reading.melody == MelodyState::Moving { 0 } else { STANDING };
    let room = reading.ceiling.map_or(0, |ceiling| ceiling.above(manner.bass_low).max(0) as u32);
    let room = room.saturating_sub(CLOSE) * ROOM;
    let fullness = (standing + room + TENSE * u32::from(reading.tension) / 100).min(100);
    let range = u32::from(manner.parts_max.saturating_sub(manner.parts_min));
    let more = (range * fullness + 50) / 100;
    (manner.parts_min + more as u8 + u8::from(reading.last)).clamp(manner.parts_min.min(most), most)
}

/// A melody that is known to stand for this many beats is long.
const LONG_BEATS: i64 = 3;
/// Space up to which long stillness, and an ostinato, is never left still.
const LITTLE_SPACE: f32 = 0.1;

/// Whether this still moment is left still on purpose: the set share of the bars, half as many again at the
/// ends of phrases; fewer where the melody is known to stand for long, and where one figure runs on. Which bars
/// they are is another matter in each manner.
fn rests(reading: &Reading, settings: &Settings) -> bool {
    let manner = &settings.manner;
    let long = reading.bar.metre.beat() * LONG_BEATS;
    let share = if manner.ostinato || reading.moves_at.is_some_and(|moves| moves - reading.now >= long) {
        ((settings.space - LITTLE_SPACE) / (1.0 - LITTLE_SPACE)).max(0.0)
    } else {
        settings.space
    };
    let share = share * if reading.form.ends_phrase() { 1.5 } else { 1.0 };
    let own =
        u32::from(manner.motion) << 16 | u32::from(manner.under_melody) << 8 | u32::from(manner.parts_max);
    let drawn = threshold(settings.seed ^ hash(REST_SLOT, own), reading.bar.index, REST_SLOT);
    below(drawn, share.min(1.0))
}

#[cfg(test)]
mod tests {
    extern crate std;

    use std::vec::Vec;

    use figwort_theory::{Chord, Key, Kind, Metre, Moment, PitchClass, Span};
    use proptest::prelude::*;

    use super::*;
    use crate::book::{Family, Hold, Pattern, Step, Who};
    use crate::reading::clock::Bar;
    use crate::reading::form::Form;

    fn reading(tension: u8, melody: MelodyState) -> Reading {
        let bar = Bar { start: Moment::ZERO, length: Span::WHOLE, metre: Metre::FOUR_FOUR, index: 0 };
        Reading {
            now: Moment::ZERO,
            bar,
            form: Form::free(bar.index),
            turn: bar.index,
            chord: Some(Chord::new(PitchClass::C, Kind::Major)),
            key: Key::default(),
            tension,
            melody,
            ceiling: None,
            summit: None,
            melody_motion: 0.0,
            melody_height: 0,
            melody_velocity: 80,
            next: None,
            origin: Moment::ZERO,
            moves_at: None,
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

    /// A figure of evenly spaced steps, `count` to the bar.
    fn even(id: u16, family: Family, count: i64) -> Figure {
        let step = |n| Step {
            at: Span::WHOLE.fraction(n, count),
            who: Who::Upper,
            hold: Hold::Through,
            strength: 0,
        };
        let pattern =
            Pattern { metre: Metre::FOUR_FOUR, bars: 1, lent: false, steps: (0..count).map(step).collect() };
        Figure { id, family, weight: 50, patterns: [pattern].into_iter().collect() }
    }

    fn book() -> Vec<Figure> {
        let families = [Family::BrokenChord, Family::RepeatedChord, Family::BassLine];
        let counts = [1, 2, 3, 4, 6, 8, 12, 16];
        (0..8).map(|n| even(n, families[usize::from(n) % 3], counts[usize::from(n)])).collect()
    }

    fn at_bar(index: i64, melody: MelodyState) -> Reading {
        let mut reading = reading(30, melody);
        (reading.bar.index, reading.turn) = (index, index);
        reading.form = Form::free(index);
        reading
    }

    proptest! {
        /// The law: melody and figure together stay within the budget; and more elaboration never means that
        /// less may move.
        #[test]
        fn both_hands_share_one_budget(
            elaboration in 2.0..4.0f32, motion in 5..80u8, melody in 0.0..5.0f32, bar in -20..200i64, seed: u32,
        ) {
            let book = book();
            let mut settings = Settings { elaboration, seed, space: 0.0, ..Settings::default() };
            settings.manner.motion = motion;
            let reading = Reading { melody_motion: melody, ..at_bar(bar, MelodyState::Still) };
            let plan = decide(&reading, &settings, &book);
            if let Some((index, _)) = plan.figure {
                let spent = melody + book[index].patterns[0].steps.len() as f32 / 4.0;
                prop_assert!(spent <= settings.budget(), "{spent} of {}", settings.budget());
            }
            let more = Settings { elaboration: (elaboration + 0.1).min(4.0), ..settings };
            prop_assert!(more.budget() >= settings.budget());
            prop_assert!(plan.figure.is_none() || decide(&reading, &more, &book).figure.is_some());
        }

        /// No figure has more bars in a row than the manner's limit, whatever the melody leaves to it; an
        /// ostinato keeps its figure where there is room for it.
        #[test]
        fn no_figure_runs_on_beyond_its_turns(
            repeats in 1..5u8, count in 1..8usize, motions in prop::collection::vec(0..30u8, 64), seed: u32,
        ) {
            let book: Vec<_> = book().into_iter().take(count).collect();
            let mut settings = Settings { seed, space: 0.0, ..Settings::default() };
            settings.manner.repeats = repeats;
            let figure = |settings: &Settings, bar: usize, motion: u8| {
                let melody_motion = f32::from(motion) / 10.0;
                let reading = Reading { melody_motion, ..at_bar(bar as i64, MelodyState::Still) };
                decide(&reading, settings, &book).figure
            };
            let (mut run, mut last) = (0, None);
            for (bar, motion) in motions.iter().enumerate() {
                let here = figure(&settings, bar, *motion);
                run = if here.is_some() && here == last { run + 1 } else { 1 };
                last = here;
                prop_assert!(here.is_none() || run <= repeats, "bar {bar}: {run} in a row");
            }
            settings.manner.ostinato = true;
            settings.manner.motion = 80;
            let first = figure(&settings, 0, 5);
            prop_assert!((1..64).all(|bar| figure(&settings, bar, 5) == first));
        }
    }

    /// The set share of the bars is left still, half as many again at the ends of phrases, and none or all at
    /// the ends of the range.
    #[test]
    fn stillness_is_planned() {
        let book = book();
        let still = |space: f32, ends: bool| {
            let settings = Settings { space, ..Settings::default() };
            let bars = (0..4_000).filter(|bar| (bar % 4 == 3) == ends);
            let (mut still, mut all) = (0, 0);
            for bar in bars {
                still +=
                    usize::from(decide(&at_bar(bar, MelodyState::Still), &settings, &book).figure.is_none());
                all += 1;
            }
            still as f32 / all as f32
        };
        assert_eq!((still(0.0, true), still(0.0, false)), (0.0, 0.0));
        assert_eq!((still(1.0, true), still(1.0, false)), (1.0, 1.0));
        assert!((still(0.2, false) - 0.2).abs() < 0.01 && (still(0.2, true) - 0.3).abs() < 0.01);
    }

    /// Loudness follows the melody's height and the piece's build; a dry part has one velocity.
    #[test]
    fn loudness_follows_the_melody_and_the_piece() {
        let settings = Settings::default();
        let plan = |height: i8, build: u8, settings: &Settings| {
            let mut reading = Reading { melody_height: height, ..reading(30, MelodyState::Still) };
            reading.form.build = build;
            decide(&reading, settings, &[])
        };
        assert!(plan(12, 0, &settings).dynamics > plan(0, 0, &settings).dynamics);
        assert!(plan(-12, 0, &settings).dynamics < plan(0, 0, &settings).dynamics);
        assert!(plan(0, 100, &settings).dynamics > plan(0, 0, &settings).dynamics);
        assert!(plan(0, 100, &settings).parts >= plan(0, 0, &settings).parts);
        let dry = Settings { dry: true, ..settings };
        assert_eq!(plan(12, 100, &dry).dynamics, plan(-12, 0, &dry).dynamics);
    }
}
