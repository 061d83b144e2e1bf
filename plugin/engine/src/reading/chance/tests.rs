extern crate std;

use std::vec::Vec;

use figwort_theory::Metre;
use proptest::prelude::*;

use super::*;

const QUARTER: i64 = figwort_theory::TICKS_PER_QUARTER;

fn bar_of(metre: Metre, at: i64) -> Bar {
    let length = metre.bar();
    let index = at.div_euclid(length.0);
    Bar { start: Moment(index * length.0), length, metre, index }
}

fn strike(chance: &mut Chance, metre: Metre, at: i64, key: u8) -> Odds {
    let around = Around { key, degree: key % 12, chord_degree: NO_CHORD, changed: None };
    chance.strike(Moment(at), bar_of(metre, at), around)
}

/// A rhythm in eighths, played over and over; returns the odds of each note of each round.
fn rounds(chance: &mut Chance, rhythm: &[i64], rounds: usize) -> Vec<Vec<Odds>> {
    let mut at = 0;
    let mut play = |length: &i64| {
        let odds = strike(chance, Metre::FOUR_FOUR, at, 60 + (at / QUARTER % 5) as u8);
        at += length * QUARTER / 2;
        odds
    };
    (0..rounds).map(|_| rhythm.iter().map(&mut play).collect()).collect()
}

/// The logistic function at some places; from its formula.
#[test]
fn squash_is_the_logistic_function() {
    for (x, expected) in
        [(0.0, 0.5), (1.0, 0.731_058_6), (-1.0, 0.268_941_4), (4.5, 0.989_013_1), (-9.25, 9.610_5e-5)]
    {
        assert!((squash(x) - expected).abs() < 1e-5, "{x}: {}", squash(x));
    }
    assert!(squash(-1e9) >= 0.0 && squash(1e9) <= 1.0);
}

#[test]
fn a_repeated_rhythm_is_learned() {
    // Long notes on the second beat and short ones elsewhere: against the usual.
    let rhythm = [1, 1, 4, 1, 1];
    let mut chance = Chance::default();
    let odds = rounds(&mut chance, &rhythm, 12);
    let last = &odds[11];
    for (n, length) in rhythm.iter().enumerate() {
        let sure = if *length >= 3 { last[n].half } else { 1.0 - last[n].half };
        assert!(sure > 0.85, "note {n}: {:?}", last[n]);
    }
    assert!(odds[0][2].half < last[2].half);
}

#[test]
fn one_place_with_two_fates_is_told_apart_by_what_came_before() {
    // The first beat is long in every second bar: the place alone gives even odds.
    let rhythm = [6, 1, 1, 1, 1, 1, 1, 2, 2];
    let mut chance = Chance::default();
    let odds = rounds(&mut chance, &rhythm, 10);
    let loss: f32 = odds[4..].iter().map(|round| -ln(round[0].half) - ln(1.0 - round[3].half)).sum();
    let even = 12.0 * core::f32::consts::LN_2;
    assert!(loss < even / 4.0, "{loss} against {even}");
}

fn ln(x: f32) -> f32 {
    std::primitive::f32::ln(x)
}

#[test]
fn what_is_taken_back_leaves_no_trace() {
    let play = |ornaments: bool| {
        let mut chance = Chance::default();
        let mut odds = [Odds::default(); 40];
        for (n, odds) in odds.iter_mut().enumerate() {
            let at = n as i64 * QUARTER * if n % 4 == 3 { 2 } else { 1 };
            if ornaments && n % 3 == 1 {
                strike(&mut chance, Metre::FOUR_FOUR, at - QUARTER / 6, 90);
                chance.take_back();
            }
            *odds = strike(&mut chance, Metre::FOUR_FOUR, at, 60 + (n % 7) as u8);
        }
        odds
    };
    let (plain, ornamented) = (play(false), play(true));
    let apart = plain.iter().zip(&ornamented).filter(|(a, b)| a != b).count();
    assert_eq!(apart, 0);
}

#[test]
fn a_cleared_reader_is_a_new_one() {
    let mut chance = Chance::default();
    let first = rounds(&mut chance, &[2, 2, 4], 6);
    chance.clear();
    assert_eq!(rounds(&mut chance, &[2, 2, 4], 6), first);
}

proptest! {
    #[test]
    fn odds_are_probabilities_whatever_is_played(
        notes in prop::collection::vec((-3_i64..200_000, 0..128_u8, any::<i64>(), any::<bool>()), 1..800),
        upper in 1..=64_u8,
        lower in 0..7_u32,
    ) {
        let metre = Metre::new(upper, 1 << lower).unwrap_or(Metre::FOUR_FOUR);
        let mut chance = Chance::default();
        let mut at = 0;
        for (n, (gap, key, wild, back)) in notes.into_iter().enumerate() {
            at += gap;
            let bar = match n % 50 {
                // A bar that has nothing to do with the moment.
                49 => Bar { start: Moment(wild), length: Span(wild), metre, index: wild },
                _ => bar_of(metre, at),
            };
            let around = Around { key, degree: key, chord_degree: key, changed: Some(Moment(wild)) };
            let odds = chance.strike(Moment(at), bar, around);
            prop_assert!((0.0..=1.0).contains(&odds.half) && (0.0..=1.0).contains(&odds.two));
            prop_assert!(odds.two <= odds.half);
            if back {
                chance.take_back();
            }
        }
    }
}
