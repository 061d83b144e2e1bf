//! Which notes of a stave share a voice: one where that says it all, two where a note is held against others.
//!
//! A lowest note held under later ones goes into the lower voice, a highest one held over them into the upper.
//! What is held in the middle, or by the pedal alone, is written until its voice goes on: the pedal mark tells
//! the rest. Common practice, no source.

use figwort_theory::{Pitch, TICKS_PER_QUARTER};

use super::notes::{Pedalled, Struck};
use crate::perform::PlayedBar;

/// Notes that begin and end together in one voice.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Chord {
    pub(super) at: i64,
    pub(super) end: i64,
    /// Rising.
    pub(super) pitches: Vec<Pitch>,
}

/// A voice: chords one after another.
pub(super) type Line = Vec<Chord>;

/// A held note has to outlast the next onset by this much to need a voice.
const OVERLAP: i64 = TICKS_PER_QUARTER;

/// How to read a stave.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stave<'a> {
    pub(super) bars: &'a [PlayedBar],
    pub(super) pedal: &'a Pedalled,
    /// What the other hand plays, by place.
    pub(super) other: &'a [Struck],
    /// Whether the hand may let go on paper what the pedal holds when the next note comes, the lowest note
    /// too.
    pub(super) pedal_tells: bool,
}

impl Stave<'_> {
    /// When the other hand strikes one of these keys after `at`: no hand holds it down any longer. `until` where it
    /// does not before that.
    fn taken(&self, pitches: &[Pitch], at: i64, until: i64) -> i64 {
        let after = self.other.partition_point(|note| note.at <= at);
        let later = self.other.get(after..).unwrap_or_default().iter().take_while(|note| note.at < until);
        let mut takes = later.filter(|note| pitches.contains(&note.pitch));
        takes.next().map_or(until, |note| note.at)
    }
}

/// The upper and the lower voice of a stave. Notes come by place, then pitch.
pub(super) fn voices(notes: &[Struck], stave: Stave<'_>) -> [Line; 2] {
    let (mut upper, mut lower): (Line, Line) = (Vec::new(), Vec::new());
    // Until when a held note keeps its voice, and which voice is left for the others.
    let (mut busy, mut others_below) = (i64::MIN, false);
    let mut rest = notes;
    while let Some(first) = rest.first() {
        let at = first.at;
        let together = rest.iter().take_while(|note| note.at == at).count();
        let (group, after) = rest.split_at(together);
        rest = after;
        let mut moving: Vec<Struck> = group.to_vec();
        let next = after.first().map_or(i64::MAX, |note| note.at);
        if at >= busy {
            others_below = false;
            let last = group.iter().map(|note| note.end).max().unwrap_or(at);
            let pitches: Vec<Pitch> = group.iter().map(|note| note.pitch).collect();
            let held = suspended(group, after, next.min(stave.taken(&pitches, at, last)))
                .or_else(|| held_below(group, after, next, stave))
                .or_else(|| held_above(group, after, next, stave));
            if let Some(Held { from, to, end, is_low }) = held {
                busy = end;
                others_below = !is_low;
                let stays = group.get(from..to).unwrap_or_default();
                push(if is_low { &mut lower } else { &mut upper }, at, end, stays);
                moving.retain(|note| !stays.contains(note));
            }
        }
        if !moving.is_empty() {
            // Those that stay a little longer than the others of their chord go with them.
            let until =
                |most: fn(i64, i64) -> i64| moving.iter().map(|note| note.end).reduce(most).unwrap_or(at);
            let end = if until(i64::min) <= next { until(i64::max).min(next) } else { until(i64::max) };
            let goes_below = others_below || (at >= busy && continues_bass(&upper, &lower, &moving, stave));
            push(if goes_below { &mut lower } else { &mut upper }, at, end, &moving);
        }
    }
    for line in [&mut upper, &mut lower] {
        settle(line, notes, stave);
    }
    [upper, lower]
}

/// Whether a single note goes on where the lower voice has just ended in its bar, below all of the upper voice: the
/// bass on its way.
fn continues_bass(upper: &Line, lower: &Line, moving: &[Struck], stave: Stave<'_>) -> bool {
    let ([note], Some(low), Some(high)) = (moving, lower.last(), upper.last()) else { return false };
    let just_ended = low.end <= note.at && note.at - low.end <= TICKS_PER_QUARTER / 4;
    just_ended
        && note.at < bar_end(stave.bars, low.at)
        && high.end > low.at
        && high.pitches.first().is_some_and(|lowest| *lowest > note.pitch)
}

fn push(line: &mut Line, at: i64, end: i64, notes: &[Struck]) {
    line.push(Chord { at, end, pitches: notes.iter().map(|note| note.pitch).collect() });
}

fn later(after: &[Struck], end: i64) -> impl Iterator<Item = &Struck> {
    after.iter().take_while(move |note| note.at < end)
}

fn below(note: &Struck, after: &[Struck], end: i64) -> bool {
    later(after, end).all(|other| other.pitch > note.pitch)
}

fn above(note: &Struck, after: &[Struck], end: i64) -> bool {
    later(after, end).all(|other| other.pitch < note.pitch)
}

/// Notes of a group, by their places in it, that keep a voice to themselves until `end`.
struct Held {
    from: usize,
    to: usize,
    end: i64,
    /// Whether it is the lower voice.
    is_low: bool,
}

/// Whether a note outlasts the next onset so far that it has to be written so.
fn is_held(note: &Struck, next: i64, stave: Stave<'_>) -> bool {
    note.end.saturating_sub(next) >= OVERLAP && !(stave.pedal_tells && stave.pedal.is_down(next))
}

/// The notes that stay into the next onset when the others of their chord go: suspensions. Pedal or not, they
/// are meant.
fn suspended(group: &[Struck], after: &[Struck], next: i64) -> Option<Held> {
    let stays = |note: &Struck| note.end.saturating_sub(next) >= OVERLAP / 4;
    let from = group.iter().position(stays)?;
    let to = group.iter().rposition(stays)? + 1;
    let staying = group.get(from..to)?;
    let end = staying.iter().map(|note| note.end).min()?;
    let some_go = group.iter().any(|note| note.end <= next);
    if !some_go || !staying.iter().all(stays) {
        return None;
    }
    let is_high = staying.iter().all(|note| above(note, after, end));
    // With nothing later in this hand they are as low or high as they are in their chord.
    let is_low = (!is_high || from == 0) && staying.iter().all(|note| below(note, after, end));
    (is_high || is_low).then_some(Held { from, to, end, is_low })
}

/// The lowest notes of a group, where they are held under what follows.
fn held_below(group: &[Struck], after: &[Struck], next: i64, stave: Stave<'_>) -> Option<Held> {
    let end = group.first()?.end;
    if !is_held(group.first()?, next, stave) {
        return None;
    }
    let to = group.iter().take_while(|note| note.end >= end && below(note, after, end)).count();
    (to > 0).then_some(Held { from: 0, to, end, is_low: true })
}

/// The highest notes of a group, where they are held over what follows.
fn held_above(group: &[Struck], after: &[Struck], next: i64, stave: Stave<'_>) -> Option<Held> {
    let end = group.last()?.end;
    if !is_held(group.last()?, next, stave) {
        return None;
    }
    let count = group.iter().rev().take_while(|note| note.end >= end && above(note, after, end)).count();
    (count > 0).then_some(Held { from: group.len() - count, to: group.len(), end, is_low: false })
}

/// Ends every chord where its voice goes on, and closes gaps that are no rests: those that the pedal bridges,
/// those much shorter than the note before, and what is missing to the next half beat.
fn settle(line: &mut Line, notes: &[Struck], stave: Stave<'_>) {
    let starts: Vec<i64> = line.iter().map(|chord| chord.at).collect();
    for (index, chord) in line.iter_mut().enumerate() {
        let next = starts.get(index + 1).copied();
        if let Some(next) = next {
            chord.end = chord.end.min(next);
        }
        let bar_end = bar_end(stave.bars, chord.end - 1);
        let taken = stave.taken(&chord.pitches, chord.at, bar_end);
        chord.end = chord.end.min(taken);
        // What begins in the other voice ends a gap, too.
        let onset = notes.get(notes.partition_point(|note| note.at < chord.end)).map(|note| note.at);
        let until = next.unwrap_or(i64::MAX).min(onset.unwrap_or(i64::MAX)).min(taken);
        let (gap, length) = (until - chord.end, chord.end - chord.at);
        let bridged = stave.pedal.holds(chord.end, until) && gap <= length.max(TICKS_PER_QUARTER);
        if gap > 0 && (bridged || gap * 3 <= length) {
            chord.end = until;
        } else if gap > 0 {
            let half = half_beat(stave.bars, chord.end);
            if chord.at < half - TICKS_PER_QUARTER / 4 {
                chord.end = half.min(until);
            }
        }
    }
}

/// The next half of a felt beat (third in compound time) at or after a place.
fn half_beat(bars: &[PlayedBar], at: i64) -> i64 {
    let after = bars.partition_point(|bar| bar.start.0 < at);
    let Some(bar) = bars.get(after.saturating_sub(1)) else { return at };
    let parts = if bar.metre.is_compound() { 3 } else { 2 };
    let step = (bar.metre.beat().0 / parts).clamp(1, TICKS_PER_QUARTER / 2);
    bar.start.0 + (at - bar.start.0 + step - 1).div_euclid(step) * step
}

/// End of the bar that holds a place.
fn bar_end(bars: &[PlayedBar], at: i64) -> i64 {
    let after = bars.partition_point(|bar| bar.start.0 <= at);
    bars.get(after.saturating_sub(1)).map_or(at, |bar| bar.end().0)
}

/// A melody: one line as it is, each note ended by the next; where it was played by hand, short gaps closed. Of
/// notes that come to one place, such as a slip and its mending, the longest stays.
pub(super) fn melody(notes: &[Struck], bars: &[PlayedBar], played: bool) -> Line {
    let mut line: Line = Vec::new();
    for note in notes {
        match line.last_mut() {
            Some(last) if last.at == note.at => {
                if note.end > last.end {
                    (last.pitches, last.end) = (vec![note.pitch], note.end);
                }
            }
            _ => line.push(Chord { at: note.at, end: note.end, pitches: vec![note.pitch] }),
        }
    }
    let starts: Vec<i64> = line.iter().map(|chord| chord.at).collect();
    for (index, chord) in line.iter_mut().enumerate() {
        let Some(next) = starts.get(index + 1).copied() else { continue };
        chord.end = chord.end.min(next);
        let until = next.min(bar_end(bars, chord.end - 1));
        if played && until - chord.end <= TICKS_PER_QUARTER / 2 {
            chord.end = until;
        }
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;

    const Q: i64 = TICKS_PER_QUARTER;

    fn struck(list: &[(i64, i64, u8)]) -> Vec<Struck> {
        let note = |(at, length, key): &(i64, i64, u8)| Struck {
            at: Q + at * Q / 2,
            end: Q + (at + length) * Q / 2,
            pitch: Pitch::new(*key),
        };
        list.iter().map(note).collect()
    }

    /// Chords in eighths from bar 1 on: `at:keys(length)`.
    fn told(line: &Line) -> String {
        let text = |chord: &Chord| {
            let keys: Vec<String> = chord.pitches.iter().map(|pitch| pitch.key().to_string()).collect();
            let eighths = |ticks: i64| ticks * 2 / Q;
            format!("{}:{}({})", eighths(chord.at - Q), keys.join("+"), eighths(chord.end - chord.at))
        };
        line.iter().map(text).collect::<Vec<_>>().join(" ")
    }

    fn told_voices(notes: &[(i64, i64, u8)], pedal_tells: bool) -> [String; 2] {
        told_beside(notes, &[], pedal_tells)
    }

    fn told_beside(notes: &[(i64, i64, u8)], other: &[(i64, i64, u8)], pedal_tells: bool) -> [String; 2] {
        let performance = sample::two_bars();
        let pedal = Pedalled::of(&performance);
        let other = struck(other);
        let stave = Stave { bars: &performance.bars, pedal: &pedal, other: &other, pedal_tells };
        voices(&struck(notes), stave).map(|line| told(&line))
    }

    #[test]
    fn a_held_bass_has_the_lower_voice() {
        let notes = [(0, 8, 39), (1, 7, 46), (2, 6, 55)];
        assert_eq!(told_voices(&notes, false), ["1:46(1) 2:55(6)", "0:39(8)"]);
    }

    #[test]
    fn a_bass_line_moves_under_a_held_note() {
        let notes = [(0, 5, 43), (0, 8, 55), (5, 1, 44), (6, 2, 46)];
        assert_eq!(told_voices(&notes, false), ["0:55(8)", "0:43(5) 5:44(1) 6:46(2)"]);
    }

    #[test]
    fn the_bass_goes_on_in_its_voice() {
        let notes = [(0, 3, 45), (1, 2, 55), (3, 1, 48), (4, 4, 50), (5, 3, 60)];
        assert_eq!(told_voices(&notes, false), ["1:55(2) 5:60(3)", "0:45(3) 3:48(1) 4:50(4)"]);
        // An inner note does not.
        let notes = [(0, 3, 45), (1, 2, 55), (3, 1, 57), (4, 4, 50), (5, 3, 60)];
        assert_eq!(told_voices(&notes, false), ["1:55(2) 3:57(1) 5:60(3)", "0:45(3) 4:50(4)"]);
    }

    #[test]
    fn what_the_pedal_holds_needs_no_voice() {
        let notes = [(2, 6, 58), (4, 3, 67)];
        assert_eq!(told_voices(&notes, true), ["2:58(2) 4:67(4)", ""]);
        assert_eq!(told_voices(&notes, false)[1], "2:58(6)");
    }

    #[test]
    fn a_suspension_stays_while_the_others_go() {
        let notes = [(0, 4, 45), (0, 5, 55), (4, 4, 50), (5, 3, 57)];
        assert_eq!(told_voices(&notes, false), ["0:55(5) 5:57(3)", "0:45(4) 4:50(4)"]);
        // Without one, a chord isn't drawn out into the next.
        let notes = [(0, 4, 45), (0, 4, 55), (4, 4, 50), (5, 3, 57)];
        assert_eq!(told_voices(&notes, false), ["0:45+55(4) 5:57(3)", "4:50(4)"]);
        // One in the middle of its chord, too.
        let notes = [(0, 4, 45), (0, 5, 55), (0, 4, 57), (4, 4, 50), (5, 3, 57)];
        assert_eq!(told_voices(&notes, false), ["0:55(5) 5:57(3)", "0:45+57(4) 4:50(4)"]);
    }

    #[test]
    fn a_key_that_the_other_hand_strikes_is_let_go() {
        let notes = [(0, 4, 40), (0, 2, 52), (4, 4, 45)];
        assert_eq!(told_voices(&notes, false), ["0:40+52(4) 4:45(4)", ""]);
        assert_eq!(told_beside(&notes, &[(2, 2, 52)], false), ["0:52(2)", "0:40(4) 4:45(4)"]);
        assert_eq!(told_beside(&notes[1..], &[(3, 1, 52)], false), ["0:52(3) 4:45(4)", ""]);
    }

    #[test]
    fn notes_begun_together_end_together() {
        let notes = [(4, 4, 65), (4, 3, 70)];
        assert_eq!(told_voices(&notes, false), ["4:65+70(4)", ""]);
    }
}
