//! From what was played to what is written: onsets on a grid, note values, beams.
//!
//! All times are moments and spans in ticks. What is written is simpler than what was played: onsets fall on
//! sixteenths or on triplets, beat by beat, and a hand is one voice, so that a note ends on paper when the
//! hand's next one begins. Nothing played is left out. Deliberately absent: where things go on the page.

use figwort_engine::Hand;
use figwort_theory::{Moment, Pitch, Span, TICKS_PER_QUARTER};

use super::glyphs::Filling;
use super::page::{Bar, Note, Page, State};

const QUARTER: i64 = TICKS_PER_QUARTER;

/// Note values from the longest: ticks, filling, flags, dots.
const VALUES: &[(i64, Filling, u8, u8)] = &[
    (QUARTER * 6, Filling::Wide, 0, 1),
    (QUARTER * 4, Filling::Wide, 0, 0),
    (QUARTER * 3, Filling::Hollow, 0, 1),
    (QUARTER * 2, Filling::Hollow, 0, 0),
    (QUARTER * 3 / 2, Filling::Full, 0, 1),
    (QUARTER, Filling::Full, 0, 0),
    (QUARTER * 3 / 4, Filling::Full, 1, 1),
    (QUARTER * 2 / 3, Filling::Full, 0, 0),
    (QUARTER / 2, Filling::Full, 1, 0),
    (QUARTER * 3 / 8, Filling::Full, 2, 1),
    (QUARTER / 3, Filling::Full, 1, 0),
    (QUARTER / 4, Filling::Full, 2, 0),
    (QUARTER / 6, Filling::Full, 2, 0),
    (QUARTER / 8, Filling::Full, 3, 0),
];

/// A note value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Value {
    pub(crate) filling: Filling,
    pub(crate) flags: u8,
    pub(crate) dots: u8,
    /// How long it lasts on paper.
    pub(crate) length: Span,
}

impl Value {
    /// The longest value that fits; the shortest there is where none does.
    pub(crate) fn of(length: Span) -> Self {
        // A value a hair too long still fits: grids of sevenths and the like are not exact in ticks.
        let fits = |ticks: i64| ticks <= length.0 + QUARTER / 64;
        let found = VALUES.iter().find(|value| fits(value.0)).or(VALUES.last());
        let (ticks, filling, flags, dots) = *found.unwrap_or(&(QUARTER, Filling::Full, 0, 0));
        Self { filling, flags, dots, length: Span(ticks) }
    }

    /// Of a note that sounds still and has so far lasted this long: it grows, without flags.
    fn growing(elapsed: Span) -> Self {
        let filling = match elapsed.0 {
            long if long >= QUARTER * 4 => Filling::Wide,
            long if long >= QUARTER * 2 => Filling::Hollow,
            _ => Filling::Full,
        };
        Self { filling, flags: 0, dots: 0, length: elapsed.max(Span(QUARTER / 4)) }
    }
}

/// Notes that one hand strikes together, as written in one bar.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Group {
    pub(crate) hand: Hand,
    pub(crate) state: State,
    /// On the grid.
    pub(crate) at: Moment,
    pub(crate) value: Value,
    /// From below.
    pub(crate) pitches: Vec<Pitch>,
    /// Carried on from the bar before.
    pub(crate) tied: bool,
}

impl Group {
    /// Where it ends on paper.
    pub(crate) fn end(&self) -> Moment {
        self.at + self.value.length
    }
}

/// A note with its times on the grid.
struct Placed {
    hand: Hand,
    pitch: Pitch,
    state: State,
    at: Moment,
    /// `None` while it sounds.
    end: Option<Moment>,
}

/// The felt beat that holds a moment: its start and its length.
fn beat_at(bars: &[Bar], at: Moment) -> Option<(Moment, Span)> {
    let bar = bars.get(bars.partition_point(|bar| bar.start <= at).checked_sub(1)?)?;
    let beat = bar.metre.beat();
    let start = bar.start + beat * ((at - bar.start).0 / beat.0.max(1));
    Some((start, Span(beat.0.min((bar.start + bar.length - start).0).max(1))))
}

/// Parts of a beat: sixteenths, or triplets where the onsets in it lie closer to those.
fn grid(page: &Page, start: Moment, beat: Span, compound: bool) -> Span {
    let straight = Span(QUARTER / 4);
    if compound {
        return straight;
    }
    let triplet = Span((beat.0 / 3).max(1));
    let error = |grid: Span| -> f64 {
        let inside = page.notes.iter().filter(|note| note.at >= start && note.at < start + beat);
        inside
            .map(|note| {
                let rest = (note.at - start).0.rem_euclid(grid.0);
                (rest.min(grid.0 - rest) as f64 / QUARTER as f64).powi(2)
            })
            .sum()
    };
    // Four places against three: triplets have to be clearly closer.
    if error(triplet) * 2.0 + 0.0004 < error(straight) { triplet } else { straight }
}

/// Brings a moment onto the grid of its beat.
fn place(bars: &[Bar], grids: &[(Moment, Span)], at: Moment) -> Moment {
    let Some((start, _)) = beat_at(bars, at) else {
        // A little before the first bar: struck early, but meant for it.
        return bars.first().map(|bar| bar.start).filter(|start| (*start - at).0 < QUARTER / 8).unwrap_or(at);
    };
    let grid =
        grids.get(grids.partition_point(|g| g.0 <= start).wrapping_sub(1)).map_or(Span(QUARTER / 4), |g| g.1);
    let steps = ((at - start).0 as f64 / grid.0.max(1) as f64).round() as i64;
    start + grid * steps
}

/// What is written in the bars of a page, bar by bar. Groups are in order of hand and time.
pub(crate) fn write(page: &Page) -> Vec<Vec<Group>> {
    let mut grids = Vec::new();
    for bar in &page.bars {
        let beat = bar.metre.beat();
        let mut start = bar.start;
        while start < bar.start + bar.length && beat.0 > 0 {
            grids.push((start, grid(page, start, beat, bar.metre.is_compound())));
            start += beat;
        }
    }
    let mut placed: Vec<Placed> = page.notes.iter().map(|note| on_grid(page, &grids, note)).collect();
    placed.sort_by_key(|note| (note.hand.index(), note.at, note.pitch));
    page.bars.iter().map(|bar| write_bar(page, bar, &placed)).collect()
}

fn on_grid(page: &Page, grids: &[(Moment, Span)], note: &Note) -> Placed {
    let at = place(&page.bars, grids, note.at);
    let end = note.end.map(|end| place(&page.bars, grids, end).max(at + Span(QUARTER / 6)));
    Placed { hand: note.hand, pitch: note.pitch, state: note.state, at, end }
}

fn write_bar(page: &Page, bar: &Bar, placed: &[Placed]) -> Vec<Group> {
    let bar_end = bar.start + bar.length;
    let mut groups = Vec::new();
    for hand in Hand::ALL {
        let voice: Vec<&Placed> = placed.iter().filter(|note| note.hand == hand).collect();
        let mut onsets: Vec<Moment> =
            voice.iter().map(|note| note.at).filter(|at| *at >= bar.start && *at < bar_end).collect();
        onsets.dedup();
        let first = onsets.first().copied().unwrap_or(bar_end);
        // What the bar before left sounding.
        let carried: Vec<&&Placed> = voice
            .iter()
            .filter(|note| {
                let long = note.end.unwrap_or(page.now) > bar.start + Span(QUARTER / 4);
                note.at < bar.start && long && first > bar.start
            })
            .collect();
        // Only what the voice struck last: on paper, earlier notes ended when that was struck.
        let last = carried.iter().map(|note| note.at).max();
        let carried: Vec<&Placed> =
            carried.into_iter().copied().filter(|note| Some(note.at) == last).collect();
        if !carried.is_empty() {
            groups.push(group(page, &carried, bar.start, first, true));
        }
        for (index, &at) in onsets.iter().enumerate() {
            let until = onsets.get(index + 1).copied().unwrap_or(bar_end);
            let struck: Vec<&Placed> = voice.iter().copied().filter(|note| note.at == at).collect();
            groups.push(group(page, &struck, at, until, false));
        }
    }
    groups
}

/// One group, which the next of its hand or the bar line follows at `until`.
fn group(page: &Page, struck: &[&Placed], at: Moment, until: Moment, tied: bool) -> Group {
    let room = until - at;
    let sounding = struck.iter().any(|note| note.end.is_none());
    let end = struck.iter().map(|note| note.end.unwrap_or(page.now)).max().unwrap_or(until);
    let value = if sounding && page.now < until {
        Value::growing(page.now - at)
    } else {
        let own = end - at;
        // A note let go a little early is written up to the next one; a short one stays short.
        if sounding || own.0 * 5 >= room.0 * 3 { Value::of(room) } else { Value::of(own) }
    };
    let state = struck.first().map_or(State::Played, |note| note.state);
    let mut pitches: Vec<Pitch> = struck.iter().map(|note| note.pitch).collect();
    pitches.sort();
    pitches.dedup();
    let hand = struck.first().map_or(Hand::Melody, |note| note.hand);
    Group { hand, state, at, value, pitches, tied }
}

/// Which neighbours of a voice are joined by beams: ranges of two or more groups within one felt beat.
pub(crate) fn beams(bar: &Bar, voice: &[&Group]) -> Vec<std::ops::Range<usize>> {
    let beat = bar.metre.beat().0.max(1);
    let beat_of = |group: &Group| (group.at - bar.start).0 / beat;
    let mut ranges = Vec::new();
    let mut start = 0;
    while start < voice.len() {
        let mut end = start + 1;
        while end < voice.len()
            && voice[start].value.flags > 0
            && voice[end].value.flags > 0
            && beat_of(voice[end]) == beat_of(voice[start])
            && voice[end].state == voice[start].state
            && (voice[end].at - voice[end - 1].end()).0 <= QUARTER / 8
        {
            end += 1;
        }
        if end - start > 1 {
            ranges.push(start..end);
        }
        start = end;
    }
    ranges
}

#[cfg(test)]
mod tests {
    use figwort_theory::Metre;

    use super::*;

    fn note(hand: Hand, key: u8, at: i64, end: i64) -> Note {
        Note {
            hand,
            pitch: Pitch::new(key),
            at: Moment(at),
            end: (end > 0).then_some(Moment(end)),
            state: State::Played,
        }
    }

    fn page(notes: Vec<Note>) -> Page {
        let metre = Metre::FOUR_FOUR;
        let bars = (0..2).map(|n| Bar { start: Moment(n * metre.bar().0), length: metre.bar(), metre });
        Page { bars: bars.collect(), notes, now: Moment(metre.bar().0 * 2), ..Page::default() }
    }

    fn written(groups: &[Group]) -> Vec<(i64, i64, u8)> {
        groups
            .iter()
            .map(|g| (g.at.0 * 12 / QUARTER, g.value.length.0 * 12 / QUARTER, g.value.dots))
            .collect()
    }

    #[test]
    fn a_loose_hand_is_written_straight() {
        let q = QUARTER;
        let page = page(vec![
            note(Hand::Melody, 72, 300, q - 900),
            note(Hand::Melody, 74, q - 400, q * 3 / 2),
            note(Hand::Melody, 76, q * 3 / 2 + 350, q * 2 - 200),
            note(Hand::Melody, 77, q * 2 + 100, q * 4),
        ]);
        // In twelfths of a quarter.
        assert_eq!(written(&write(&page)[0]), [(0, 12, 0), (12, 6, 0), (18, 6, 0), (24, 24, 0)]);
    }

    #[test]
    fn triplets_are_seen_beat_by_beat() {
        let q = QUARTER;
        let notes = (0..3).map(|n| note(Hand::Right, 60, q * n / 3 + 90, q * (n + 1) / 3)).collect();
        assert_eq!(written(&write(&page(notes))[0]), [(0, 4, 0), (4, 4, 0), (8, 4, 0)]);
    }

    #[test]
    fn a_long_note_is_tied_over_the_bar_line() {
        let q = QUARTER;
        let page = page(vec![note(Hand::Melody, 72, q * 3, q * 6)]);
        let bars = write(&page);
        assert_eq!(written(&bars[0]), [(36, 12, 0)]);
        assert_eq!(written(&bars[1]), [(48, 24, 0)]);
        assert!(!bars[0][0].tied && bars[1][0].tied);
    }

    /// A note struck a little before the bar line belongs to the bar that it was meant for.
    #[test]
    fn an_early_note_belongs_to_the_next_bar() {
        let q = QUARTER;
        let bars = write(&page(vec![note(Hand::Left, 48, q * 4 - 500, q * 5)]));
        assert!(bars[0].is_empty());
        assert_eq!(written(&bars[1]), [(48, 12, 0)]);
    }

    #[test]
    fn an_early_note_belongs_to_the_first_bar() {
        let bars = write(&page(vec![note(Hand::Melody, 72, -400, QUARTER)]));
        assert_eq!(written(&bars[0]), [(0, 12, 0)]);
        assert!(!bars[0][0].tied);
    }

    #[test]
    fn beams_stay_within_the_beat() {
        let q = QUARTER;
        let page = page((0..8).map(|n| note(Hand::Melody, 72, q * n / 2, q * (n + 1) / 2)).collect());
        let bars = write(&page);
        let voice: Vec<&Group> = bars[0].iter().collect();
        assert_eq!(beams(&page.bars[0], &voice), [0..2, 2..4, 4..6, 6..8]);
    }

    /// While it sounds a note is written with what is known of it.
    #[test]
    fn a_sounding_note_grows() {
        let mut page = page(vec![note(Hand::Melody, 72, 0, 0)]);
        page.now = Moment(QUARTER / 2);
        assert_eq!(write(&page)[0][0].value.filling, Filling::Full);
        page.now = Moment(QUARTER * 5 / 2);
        assert_eq!(write(&page)[0][0].value.filling, Filling::Hollow);
    }
}
