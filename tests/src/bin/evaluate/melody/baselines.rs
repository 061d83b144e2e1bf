//! Simple models to compare with: each counts something and nothing else.

use std::collections::BTreeMap;

use super::{Heard, LENGTHS, Onset, Said};

/// Notes, and how many of them lasted 1.5 and 2 beats.
type Count = (f64, [f64; 2]);

fn add(count: &mut Count, onset: &Onset) {
    count.0 += 1.0;
    for (sum, least) in count.1.iter_mut().zip(LENGTHS) {
        *sum += f64::from(u8::from(onset.lasts(least)));
    }
}

/// The shares counted, drawn towards `usual` as `strength` notes would.
fn shares(count: Option<&Count>, usual: [f64; 2], strength: f64) -> [f64; 2] {
    let (notes, long) = count.copied().unwrap_or_default();
    [0, 1].map(|n| (long[n] + strength * usual[n]) / (notes + strength))
}

/// Metre and place in the bar.
fn place_of(onset: &Onset) -> (u8, u8, i64) {
    let metre = onset.in_bar.metre;
    (metre.numerator(), metre.denominator(), (onset.at - onset.in_bar.start).0)
}

/// And the time since the onset before, in half beats.
fn place_and_gap_of(onset: &Onset, before: Option<&Onset>) -> ((u8, u8, i64), u8) {
    let gap = before.map_or(255, |before| (before.length * 2.0).round().clamp(0.0, 12.0) as u8);
    (place_of(onset), gap)
}

fn overall(learn: &[&Heard]) -> [f64; 2] {
    let mut count = Count::default();
    learn.iter().flat_map(|heard| &heard.onsets).for_each(|onset| add(&mut count, onset));
    shares(Some(&count), [0.5; 2], 1.0)
}

fn places(learn: &[&Heard]) -> BTreeMap<(u8, u8, i64), Count> {
    let mut counts = BTreeMap::new();
    for onset in learn.iter().flat_map(|heard| &heard.onsets) {
        add(counts.entry(place_of(onset)).or_default(), onset);
    }
    counts
}

pub(super) fn constant(learn: &[&Heard], asked: &[&Heard]) -> Said {
    let usual = overall(learn);
    asked.iter().map(|heard| vec![usual; heard.onsets.len()]).collect()
}

pub(super) fn place(learn: &[&Heard], asked: &[&Heard]) -> Said {
    let (usual, places) = (overall(learn), places(learn));
    let answer = |onset: &Onset| shares(places.get(&place_of(onset)), usual, 5.0);
    asked.iter().map(|heard| heard.onsets.iter().map(answer).collect()).collect()
}

pub(super) fn place_and_gap(learn: &[&Heard], asked: &[&Heard]) -> Said {
    let (usual, places) = (overall(learn), places(learn));
    let mut counts: BTreeMap<_, Count> = BTreeMap::new();
    for heard in learn {
        for (n, onset) in heard.onsets.iter().enumerate() {
            let before = n.checked_sub(1).and_then(|n| heard.onsets.get(n));
            add(counts.entry(place_and_gap_of(onset, before)).or_default(), onset);
        }
    }
    let answer = |heard: &Heard, n: usize, onset: &Onset| {
        let before = n.checked_sub(1).and_then(|n| heard.onsets.get(n));
        let place = shares(places.get(&place_of(onset)), usual, 5.0);
        shares(counts.get(&place_and_gap_of(onset, before)), place, 5.0)
    };
    asked
        .iter()
        .map(|heard| heard.onsets.iter().enumerate().map(|(n, onset)| answer(heard, n, onset)).collect())
        .collect()
}

pub(super) fn place_and_history(learn: &[&Heard], asked: &[&Heard]) -> Said {
    let (usual, places) = (overall(learn), places(learn));
    asked
        .iter()
        .map(|heard| {
            let mut here: BTreeMap<_, Count> = BTreeMap::new();
            heard
                .onsets
                .iter()
                .map(|onset| {
                    let place = shares(places.get(&place_of(onset)), usual, 5.0);
                    let answer = shares(here.get(&place_of(onset)), place, 2.0);
                    add(here.entry(place_of(onset)).or_default(), onset);
                    answer
                })
                .collect()
        })
        .collect()
}
