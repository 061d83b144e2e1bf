//! The factory's figures and manners, all of them in all their metres.
//!
//! What a single file can be wrong about is checked where files are read; here it is what the set as a whole
//! promises: enough figures, for every metre, each its own music, and manners that differ.

use std::collections::BTreeMap;

use figwort_engine::{Aim, Family, Figure, Hold, Pattern, Step, Thread, Who};
use figwort_preset::{Library, ResolvedManner};
use figwort_theory::{Metre, Span};

/// The metres that each family covers.
const METRES: [(u8, u8); 8] = [(2, 4), (3, 4), (4, 4), (5, 4), (7, 8), (6, 8), (9, 8), (12, 8)];
/// The metres that borrow where they have no pattern of their own.
const LENT: [(u8, u8); 8] = [(2, 2), (3, 2), (4, 2), (6, 4), (7, 4), (9, 4), (3, 8), (5, 8)];
/// The fewest figures of each family, and of those the fewest in each metre.
const LEAST: [(Family, usize, usize); 6] = [
    (Family::Block, 3, 3),
    (Family::BrokenChord, 10, 8),
    (Family::RepeatedChord, 8, 6),
    (Family::BassLine, 8, 8),
    (Family::InnerLine, 5, 5),
    (Family::Ending, 3, 3),
];

fn metre((numerator, denominator): (u8, u8)) -> Metre {
    Metre::new(numerator, denominator).expect("a metre")
}

fn figures() -> Vec<(String, Figure)> {
    let library = Library::factory();
    library
        .figures()
        .map(|entry| (entry.name.to_owned(), library.figure(entry.name).expect("listed").clone()))
        .collect()
}

fn manners() -> Vec<ResolvedManner> {
    let library = Library::factory();
    library.manners().map(|entry| library.manner(entry.name).expect("listed")).collect()
}

/// Calls `check` with each figure's name and each of its patterns.
fn each_pattern(mut check: impl FnMut(&str, Family, &Pattern)) {
    let mut count = 0;
    for (name, figure) in figures() {
        for pattern in &figure.patterns {
            let place = format!("{name} in {:?}", pattern.metre);
            check(&place, figure.family, pattern);
            count += 1;
        }
    }
    assert!(count >= 200, "only {count} patterns");
}

fn end(step: &Step, pattern: &Pattern) -> Span {
    match step.hold {
        Hold::For(length) => step.at + length,
        Hold::Through | Hold::Over => pattern.metre.bar() * i64::from(pattern.bars),
    }
}

/// The bar, counted from 0, in which a step stands, and its place in it.
fn place(step: &Step, pattern: &Pattern) -> (i64, Span) {
    let bar = pattern.metre.bar().0;
    (step.at.0 / bar, Span(step.at.0 % bar))
}

#[test]
fn there_are_enough_of_each_family_in_every_metre() {
    let figures = figures();
    for (family, least, in_each) in LEAST {
        let of_family: Vec<_> = figures.iter().filter(|(_, figure)| figure.family == family).collect();
        assert!(of_family.len() >= least, "{} figures: {}", family.name(), of_family.len());
        for m in METRES {
            let count = of_family.iter().filter(|(_, figure)| figure.pattern(metre(m)).is_some()).count();
            assert!(count >= in_each, "{} in {}/{}: {count}", family.name(), m.0, m.1);
        }
        let two_bars = |figure: &Figure| figure.patterns.iter().any(|pattern| pattern.bars == 2);
        if matches!(family, Family::BrokenChord | Family::RepeatedChord | Family::BassLine) {
            assert!(of_family.iter().any(|(_, f)| two_bars(f)), "{}: all of one bar", family.name());
        }
    }
}

#[test]
fn patterns_tile_whole_bars() {
    each_pattern(|name, _, pattern| {
        let length = pattern.metre.bar() * i64::from(pattern.bars);
        assert!((1..=4).contains(&pattern.bars), "{name}");
        assert!(pattern.steps.is_sorted_by_key(|step| step.at), "{name}");
        for step in &pattern.steps {
            assert!((Span::ZERO..length).contains(&step.at), "{name}");
            assert!(end(step, pattern) > step.at && end(step, pattern) <= length, "{name}");
        }
    });
}

/// A bar of a longer pattern may be all that is played of it: each begins with its bass, and does something
/// after it.
#[test]
fn every_bar_stands_on_its_own() {
    each_pattern(|name, _, pattern| {
        for bar in 0..i64::from(pattern.bars) {
            let steps: Vec<&Step> =
                pattern.steps.iter().filter(|step| place(step, pattern).0 == bar).collect();
            let bass = steps.iter().find(|step| matches!(step.who, Who::Bass | Who::Left | Who::All));
            assert!(
                bass.is_some_and(|step| place(step, pattern).1 == Span::ZERO),
                "{name}, bar {bar}: no bass"
            );
            assert!(steps.len() > 1, "{name}, bar {bar}: nothing but the bass");
            for step in steps {
                assert!(
                    end(step, pattern).0 <= pattern.metre.bar().0 * (bar + 1)
                        || matches!(step.hold, Hold::Through | Hold::Over)
                );
            }
        }
    });
}

/// Where the harmony changes in the middle of the bar, a figure gets no further than its first half: by then
/// a broken chord has sounded at least two parts above its bass, in a short bar one. Bars shorter than a half
/// note aren't divided. What is lent in longer notes is as its lender.
#[test]
fn half_a_bar_tells_the_chord() {
    each_pattern(|name, family, pattern| {
        let bar = pattern.metre.bar();
        let longer = LENT[1..6].iter().any(|lent| metre(*lent) == pattern.metre);
        if family != Family::BrokenChord || bar < Span::WHOLE.fraction(1, 2) || longer {
            return;
        }
        for n in 0..i64::from(pattern.bars) {
            let upper = pattern.steps.iter().filter(|step| {
                let (bar_of_step, at) = place(step, pattern);
                bar_of_step == n && at * 2 < bar && step.who != Who::Bass
            });
            let least = if bar >= Span::WHOLE { 2 } else { 1 };
            let (count, right) = upper.fold((0, false), |(count, right), step| {
                (count + 1, right || matches!(step.who, Who::Right | Who::Upper))
            });
            assert!(count >= least || right, "{name}, bar {n}: {count} parts in its first half");
        }
    });
}

/// A bass line starts from a bass that is held, so that nothing is missing where no way is found; bass lines
/// have lines in the bass, inner lines above it, and no other family but these has any.
#[test]
fn lines_start_from_what_is_held() {
    let mut lines = 0;
    each_pattern(|name, family, pattern| {
        let has = |threads: &[Thread]| {
            pattern.steps.iter().any(|s| matches!(s.who, Who::Line(thread, _) if threads.contains(&thread)))
        };
        // Inner lines may go along with the bass.
        assert!(
            has(&[Thread::Bass]) == (family == Family::BassLine) || family == Family::InnerLine,
            "{name}"
        );
        assert_eq!(has(&[Thread::Inner, Thread::Top]), family == Family::InnerLine, "{name}");
        let mut bass: Option<&Step> = None;
        for step in &pattern.steps {
            match step.who {
                Who::Bass | Who::Left | Who::All => bass = Some(step),
                Who::Line(Thread::Bass, _) => {
                    lines += 1;
                    assert_eq!(bass.unwrap().hold, Hold::Through, "{name}: a bass that may end too early");
                }
                Who::Line(_, aim) => {
                    lines += 1;
                    assert_ne!(aim, Aim::Leap, "{name}: inner parts don't leap");
                }
                _ => {}
            }
        }
    });
    assert!(lines >= 150, "only {lines} steps of lines");
}

/// The bass is never silent for long and the inner parts are never more than a hand can do: two strikes of
/// one part lie a sixteenth apart at least, and no more than two single parts begin together.
#[test]
fn hands_can_play_it() {
    each_pattern(|name, _, pattern| {
        for (index, step) in pattern.steps.iter().enumerate() {
            let later = &pattern.steps[index + 1..];
            if let Some(again) = later.iter().find(|later| later.who == step.who) {
                let sixteenth = Span::WHOLE.fraction(1, 16);
                assert!(again.at - step.at >= sixteenth, "{name}: {:?} too soon again", step.who);
            }
            let together = later.iter().take_while(|other| other.at == step.at).count();
            assert!(together <= 1, "{name}: three steps at once");
        }
    });
}

/// What is heard of a pattern: where and what is struck, whatever its strength.
fn heard(pattern: &Pattern) -> Vec<(Span, Who, Span)> {
    pattern.steps.iter().map(|step| (step.at, step.who, end(step, pattern))).collect()
}

#[test]
fn no_two_figures_are_the_same() {
    let figures = figures();
    let mut compared = 0;
    for (index, (name, figure)) in figures.iter().enumerate() {
        for (other_name, other) in &figures[index + 1..] {
            if figure.family != other.family {
                continue;
            }
            for pattern in &figure.patterns {
                let Some(rival) = other.pattern(pattern.metre) else { continue };
                compared += 1;
                assert_ne!(heard(pattern), heard(rival), "{name} and {other_name} in {:?}", pattern.metre);
                // Lines need more than that: the same parts at the same places with other lengths is the
                // same figure. Among chords, short and held strokes are different music.
                let struck = |p: &Pattern| -> Vec<(Span, Who)> {
                    p.steps.iter().map(|step| (step.at, step.who)).collect()
                };
                if figure.family != Family::RepeatedChord {
                    assert_ne!(
                        struck(pattern),
                        struck(rival),
                        "{name} and {other_name} in {:?}",
                        pattern.metre
                    );
                }
            }
        }
    }
    assert!(compared > 500, "only {compared} pairs");
}

/// A manner moves in every metre of the set and those that borrow, or says by naming no figures that move that it only holds chords.
#[test]
fn every_manner_moves_in_every_metre_or_says_block() {
    let manners = manners();
    assert!(manners.len() >= 8);
    let mut block = 0;
    for manner in &manners {
        let wants = |family| match family {
            Family::BrokenChord => manner.manner.broken_chord,
            Family::RepeatedChord => manner.manner.repeated_chord,
            Family::BassLine => manner.manner.bass_line,
            Family::InnerLine => manner.manner.inner_line,
            Family::Block | Family::Ending => 1,
        };
        let moving = |family| !matches!(family, Family::Block | Family::Ending);
        if !manner.figures.iter().any(|figure| moving(figure.family)) {
            let mut families = Family::ALL.into_iter().filter(|family| moving(*family));
            assert!(families.all(|family| wants(family) == 0), "{}", manner.name);
            block += 1;
            continue;
        }
        for figure in &manner.figures {
            assert!(wants(figure.family) > 0, "{}: a figure that is never chosen", manner.name);
        }
        for m in METRES.into_iter().chain(LENT) {
            let fits = |figure: &Figure| moving(figure.family) && figure.pattern(metre(m)).is_some();
            let found = manner.figures.iter().any(fits);
            assert!(found, "{}: nothing in {}/{}", manner.name, m.0, m.1);
        }
    }
    assert_eq!(block, 1);
}

/// Two manners differ in more than one of: texture, figures, parts, register, touch.
#[test]
fn manners_differ_in_several_ways() {
    let manners = manners();
    for (index, one) in manners.iter().enumerate() {
        for other in &manners[index + 1..] {
            let ids = |manner: &ResolvedManner| {
                let mut ids: Vec<u16> = manner.figures.iter().map(|figure| figure.id).collect();
                ids.sort_unstable();
                ids
            };
            let (a, b) = (&one.manner, &other.manner);
            let differs = [
                (a.broken_chord, a.repeated_chord, a.bass_line, a.inner_line)
                    != (b.broken_chord, b.repeated_chord, b.bass_line, b.inner_line),
                ids(one) != ids(other),
                (a.parts_min, a.parts_max) != (b.parts_min, b.parts_max),
                (a.bass_low, a.bass_high) != (b.bass_low, b.bass_high),
                (a.under_melody, a.bass_strength, a.accent, a.spread_ms)
                    != (b.under_melody, b.bass_strength, b.accent, b.spread_ms),
            ];
            let count = differs.iter().filter(|differs| **differs).count();
            assert!(count >= 3, "{} and {} differ in {count} ways", one.name, other.name);
        }
    }
}

/// Every figure is part of some manner: none lies about unplayed.
#[test]
fn every_figure_is_played_by_some_manner() {
    let mut uses: BTreeMap<u16, usize> = BTreeMap::new();
    for figure in manners().iter().flat_map(|manner| &manner.figures) {
        *uses.entry(figure.id).or_default() += 1;
    }
    for (name, figure) in figures() {
        assert!(uses.contains_key(&figure.id), "{name} is in no manner");
    }
}
