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
    /// Whether the hand may let go on paper what the pedal holds when the next note comes, the lowest note
    /// too.
    pub(super) pedal_tells: bool,
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
        if at >= busy {
            others_below = false;
            let next = after.first().map_or(i64::MAX, |note| note.at);
            if let Some(end) = held_below(group, after, next, stave) {
                busy = end;
                let (held, moves) = split(&moving, |note| note.end >= end && below(note, after, end));
                push(&mut lower, at, end, &held);
                moving = moves;
            } else if let Some(end) = held_above(group, after, next, stave) {
                busy = end;
                others_below = true;
                let (held, moves) = split(&moving, |note| note.end >= end && above(note, after, end));
                push(&mut upper, at, end, &held);
                moving = moves;
            }
        }
        if !moving.is_empty() {
            let end = moving.iter().map(|note| note.end).max().unwrap_or(at);
            push(if others_below { &mut lower } else { &mut upper }, at, end, &moving);
        }
    }
    for line in [&mut upper, &mut lower] {
        settle(line, stave);
    }
    [upper, lower]
}

fn push(line: &mut Line, at: i64, end: i64, notes: &[Struck]) {
    line.push(Chord { at, end, pitches: notes.iter().map(|note| note.pitch).collect() });
}

fn split(notes: &[Struck], held: impl Fn(&Struck) -> bool) -> (Vec<Struck>, Vec<Struck>) {
    notes.iter().partition(|note| held(note))
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

/// Whether a note outlasts the next onset so far that it has to be written so: one that stays when others of its
/// chord go (a suspension), sooner.
fn is_held(note: &Struck, group: &[Struck], next: i64, stave: Stave<'_>) -> bool {
    let stays_alone = group.iter().any(|other| other.end <= next);
    let enough = if stays_alone { OVERLAP / 4 } else { OVERLAP };
    note.end.saturating_sub(next) >= enough && !(stave.pedal_tells && stave.pedal.is_down(next))
}

/// Until when the lowest note of a group is held under what follows.
fn held_below(group: &[Struck], after: &[Struck], next: i64, stave: Stave<'_>) -> Option<i64> {
    let lowest = group.first()?;
    (is_held(lowest, group, next, stave) && below(lowest, after, lowest.end)).then_some(lowest.end)
}

/// Until when the highest note of a group is held over what follows.
fn held_above(group: &[Struck], after: &[Struck], next: i64, stave: Stave<'_>) -> Option<i64> {
    let highest = group.last()?;
    (is_held(highest, group, next, stave) && above(highest, after, highest.end)).then_some(highest.end)
}

/// Ends every chord where its voice goes on, and closes gaps that are no rests: those that the pedal bridges,
/// those much shorter than the note before, and what is missing to the next half beat.
fn settle(line: &mut Line, stave: Stave<'_>) {
    let starts: Vec<i64> = line.iter().map(|chord| chord.at).collect();
    for (index, chord) in line.iter_mut().enumerate() {
        let next = starts.get(index + 1).copied();
        if let Some(next) = next {
            chord.end = chord.end.min(next);
        }
        let bar_end = bar_end(stave.bars, chord.end - 1);
        let until = next.unwrap_or(i64::MAX).min(bar_end);
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

/// A melody: one line as it is, each note ended by the next; where it was played by hand, short gaps closed.
pub(super) fn melody(notes: &[Struck], bars: &[PlayedBar], played: bool) -> Line {
    let mut line: Line = Vec::new();
    for note in notes {
        match line.last_mut() {
            Some(last) if last.at == note.at => {
                last.pitches.push(note.pitch);
                last.end = last.end.max(note.end);
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
        let performance = sample::two_bars();
        let pedal = Pedalled::of(&performance);
        let stave = Stave { bars: &performance.bars, pedal: &pedal, pedal_tells };
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
    fn what_the_pedal_holds_needs_no_voice() {
        let notes = [(2, 6, 58), (4, 3, 67)];
        assert_eq!(told_voices(&notes, true), ["2:58(2) 4:67(4)", ""]);
        assert_eq!(told_voices(&notes, false)[1], "2:58(6)");
    }

    #[test]
    fn a_suspension_stays_while_the_others_go() {
        let notes = [(0, 4, 45), (0, 5, 55), (4, 4, 50), (5, 3, 57)];
        assert_eq!(told_voices(&notes, false), ["0:55(5) 5:57(3)", "0:45(4) 4:50(4)"]);
    }

    #[test]
    fn notes_begun_together_end_together() {
        let notes = [(4, 4, 65), (4, 3, 70)];
        assert_eq!(told_voices(&notes, false), ["4:65+70(4)", ""]);
    }
}
