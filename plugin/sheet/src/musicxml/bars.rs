//! From the bars of parts to bars as written.
//!
//! Notes come from the melody's part, chord symbols from theirs; repeat signs, endings, double bars, jumps and
//! sections from every part that has as many bars, since some programs write them only in the first.

use figwort_theory::{ChordSymbol, Metre, Span};

use super::choose::{self, Chosen};
use super::harmony::Harmony;
use super::measure::{Edges, Measure, Time};
use super::score::Part;
use crate::length::Exact;
use crate::warnings::Warnings;
use crate::written::{Al, Left, Mark, MarkKind, Right, WrittenBar, WrittenNote, metre_of, number_after};
use crate::{DEFAULT_TEMPO, SheetError, limits};

/// The bars and the marks in them.
///
/// # Errors
/// [`SheetError::TooLarge`] where the melody has too many notes.
pub(super) fn written(
    parts: &[Part],
    chosen: Chosen,
    warnings: &mut Warnings,
) -> Result<(Vec<WrittenBar>, Vec<Mark>), SheetError> {
    let measures = parts.get(chosen.melody).map_or(&[][..], |part| &part.measures);
    let count = measures.len();
    // The chosen parts first: where parts differ, the first to say something is right.
    let mut alike: Vec<&[Measure]> = vec![measures];
    alike.extend(parts.iter().map(|part| part.measures.as_slice()).filter(|part| part.len() == count));
    let tempos = alike.iter().find(|part| part.iter().any(|measure| !measure.tempos.is_empty()));
    let mut pages = Pages {
        measures,
        harmony: parts.get(chosen.harmony).map_or(measures, |part| &part.measures),
        tempos: tempos.copied().unwrap_or(measures),
        alike,
        unstated: unstated(measures, warnings),
        voice: choose::voice(measures),
        bars: Vec::with_capacity(count),
        marks: Vec::new(),
        tempo: DEFAULT_TEMPO,
        notes: 0,
        late: Vec::new(),
        section_next: true,
    };
    for (index, measure) in measures.iter().enumerate() {
        pages.bar(index, measure, warnings)?;
    }
    if let Some(symbol) = pages.late.first() {
        let text = format!("the chord symbol {symbol} stands after the last bar; it is left out");
        warnings.push(pages.bars.last().map(|bar| bar.number), None, text);
    }
    Ok((pages.bars, pages.marks))
}

/// The parts side by side, and what has been written of them.
struct Pages<'a> {
    /// The melody's part, the chord symbols', and the one that states tempos.
    measures: &'a [Measure],
    harmony: &'a [Measure],
    tempos: &'a [Measure],
    /// All that have as many bars, the melody's first.
    alike: Vec<&'a [Measure]>,
    /// The metre where none is stated.
    unstated: Metre,
    /// The melody's voice.
    voice: u16,
    bars: Vec<WrittenBar>,
    marks: Vec<Mark>,
    /// The tempo at the present place, microseconds a quarter note.
    tempo: u32,
    /// How many notes there are in all.
    notes: usize,
    /// Chord symbols at the end of the bar before, which are the next one's.
    late: Vec<ChordSymbol>,
    /// Whether the bar before ends a section.
    section_next: bool,
}

impl<'a> Pages<'a> {
    /// Writes the bar of that index.
    fn bar(&mut self, index: usize, measure: &'a Measure, warnings: &mut Warnings) -> Result<(), SheetError> {
        let here: Vec<&Measure> = self.alike.iter().filter_map(|part| part.get(index)).collect();
        let edges = edges(&here);
        let reach = here.iter().fold(Exact::ZERO, |reach, other| reach.at_least(other.length)).round();
        let (metre, free) = match measure.time {
            Time::Metre(metre) => (metre, measure.implicit),
            Time::Unstated => (self.unstated, measure.implicit),
            Time::Free => (metre_of(reach), true),
        };
        let length = if reach > Span::ZERO { reach } else { metre.bar() };
        let left = self.left(index, &edges, &here);
        self.section_next = edges.ends > 0 || edges.double_right;
        let number = measure.number.unwrap_or_else(|| number_after(self.bars.last(), &left, length, metre));
        for problem in &measure.problems {
            warnings.push(Some(number), None, problem.as_str());
        }
        let notes = self.notes(index, measure, number, length, warnings)?;
        self.mark(index, &here);
        let (tempo, tempos) = self.tempos(index, length);
        let mut bar = WrittenBar {
            line: None,
            number,
            metre,
            free,
            key: measure.key,
            tempo,
            tempos,
            length,
            notes,
            quoted: Vec::new(),
            symbols: Vec::new(),
            left,
            right: Right {
                repeat: edges.ends,
                double: edges.double_right,
                restarts: false,
                after_jump: edges.after_jump,
            },
        };
        self.chords(index, &mut bar, warnings);
        self.bars.push(bar);
        Ok(())
    }

    fn left(&self, index: usize, edges: &Edges, here: &[&Measure]) -> Left {
        Left {
            section: self.section_next
                || edges.starts
                || edges.double_left
                || !edges.ending.is_empty()
                || here.iter().any(|other| other.section),
            repeat: if edges.starts { 2 } else { 0 },
            ending_bars: if edges.ending.is_empty() { 0 } else { ending_bars(&self.alike, index) },
            ending: edges.ending.clone(),
            part: None,
        }
    }

    /// The melody of a bar; where a sign stands for it, that of the bar meant.
    fn notes(
        &mut self,
        index: usize,
        measure: &Measure,
        number: u32,
        length: Span,
        warnings: &mut Warnings,
    ) -> Result<Vec<WrittenNote>, SheetError> {
        let earlier = index.checked_sub(1).and_then(|before| self.measures.get(before));
        let mut notes = notes(measure, earlier, self.voice);
        if notes.is_empty()
            && let Some(back) = measure.repeats
        {
            let meant = index.checked_sub(back).and_then(|before| self.bars.get(before));
            match meant.filter(|meant| meant.length == length) {
                Some(meant) => notes.clone_from(&meant.notes),
                None => warnings.push(
                    Some(number),
                    None,
                    "a sign repeats a bar that is not there or is of another length; the bar is empty",
                ),
            }
        }
        self.notes += notes.len();
        if self.notes > limits::MAX_NOTES {
            return Err(SheetError::TooLarge { what: "notes", limit: limits::MAX_NOTES });
        }
        Ok(notes)
    }

    /// The marks of all parts, each once.
    fn mark(&mut self, index: usize, here: &[&Measure]) {
        for (kind, before) in here.iter().flat_map(|other| &other.marks) {
            let known = self.marks.iter_mut().rev().take_while(|mark| mark.bar == index);
            match known.into_iter().find(|mark| mark.kind.is_like(*kind)) {
                // Words beside a sound, or in another part, say how far a jump leads.
                Some(Mark {
                    kind: known @ (MarkKind::DaCapo(Al::Unsaid) | MarkKind::DalSegno(Al::Unsaid)),
                    ..
                }) => {
                    *known = *kind;
                }
                Some(_) => {}
                None => self.marks.push(Mark { kind: *kind, bar: index, before: *before, line: None }),
            }
        }
    }

    /// The tempo at a bar's beginning, and those that come in it.
    fn tempos(&mut self, index: usize, length: Span) -> (u32, Vec<(Span, u32)>) {
        let stated = self.tempos.get(index).map_or(&[][..], |measure| &measure.tempos);
        let mut inside: Vec<(Span, u32)> =
            stated.iter().map(|(at, micros)| (at.round().min(length - Span(1)), *micros)).collect();
        inside.sort_by_key(|(at, _)| *at);
        let first = inside.iter().rev().find(|(at, _)| *at == Span::ZERO).map(|(_, micros)| *micros);
        let first = first.unwrap_or(self.tempo);
        self.tempo = inside.last().map_or(self.tempo, |(_, micros)| *micros);
        inside.retain(|(at, _)| *at > Span::ZERO);
        (first, inside)
    }

    /// The chord symbols of a bar; where a sign stands for it and it has none, those of the bar meant.
    fn chords(&mut self, index: usize, bar: &mut WrittenBar, warnings: &mut Warnings) {
        let chords = self.harmony.get(index);
        let found = chords.map_or(&[][..], |measure| &measure.harmonies);
        let meant = chords.and_then(|measure| self.bars.get(index.checked_sub(measure.repeats?)?));
        match meant.filter(|meant| meant.length == bar.length) {
            Some(meant) if found.is_empty() && self.late.is_empty() => {
                bar.symbols.clone_from(&meant.symbols);
            }
            _ => self.late = symbols(bar, found, core::mem::take(&mut self.late), warnings),
        }
    }
}

/// The metre where none is stated: what most bars make.
fn unstated(measures: &[Measure], warnings: &mut Warnings) -> Metre {
    let without = measures.iter().filter(|measure| measure.time == Time::Unstated);
    let mut lengths: Vec<Span> =
        without.map(|measure| measure.length.round()).filter(|length| *length > Span::ZERO).collect();
    if lengths.is_empty() {
        return Metre::FOUR_FOUR;
    }
    lengths.sort_unstable();
    let runs = lengths.chunk_by(|a, b| a == b);
    let metre = runs
        .max_by_key(|run| run.len())
        .and_then(|run| run.first())
        .copied()
        .map_or(Metre::FOUR_FOUR, metre_of);
    let text = format!(
        "the sheet has no time signature that is understood; {}/{} is taken, as most bars are that long",
        metre.numerator(),
        metre.denominator()
    );
    warnings.push(None, None, text);
    metre
}

/// The signs of all parts at a bar's edges together.
fn edges(here: &[&Measure]) -> Edges {
    let mut all = Edges::default();
    for Measure { edges, .. } in here {
        all.starts |= edges.starts;
        all.ends = all.ends.max(edges.ends);
        all.after_jump |= edges.after_jump;
        all.double_left |= edges.double_left;
        all.double_right |= edges.double_right;
        all.ending_over |= edges.ending_over;
        if all.ending.is_empty() {
            all.ending.clone_from(&edges.ending);
        }
    }
    all
}

/// How many bars the ending has that begins at a bar; 0 where its end is not marked. A bracket that is over
/// before the repeat sign of its ending only tells where the line was drawn: such an ending reaches to the sign.
fn ending_bars(alike: &[&[Measure]], from: usize) -> usize {
    let counts = alike.iter().filter_map(|part| {
        let rest = part.get(from..)?;
        let begins = |measure: &Measure| !measure.edges.ending.is_empty() || measure.edges.starts;
        let next = rest.iter().skip(1).position(begins).map_or(rest.len(), |next| next + 1);
        let end = rest.iter().take(next).position(|measure| measure.edges.ending_over)? + 1;
        let repeat = rest.iter().take(next).position(|measure| measure.edges.ends > 0).map(|last| last + 1);
        let is_first = rest.get(next).is_some_and(|measure| !measure.edges.ending.is_empty());
        Some(match repeat {
            Some(sign) if sign == next && is_first => sign,
            _ => end,
        })
    });
    counts.min().unwrap_or(0)
}

fn notes(measure: &Measure, before: Option<&Measure>, voice: u16) -> Vec<WrittenNote> {
    let line = choose::line(measure, before, voice);
    let note = |note: &choose::Sung| {
        let (at, end) = (note.at.round(), note.end.round());
        let written = WrittenNote { at, length: end - at, pitch: note.pitch, tied: note.tied };
        (end > at).then_some(written)
    };
    line.iter().filter_map(note).collect()
}

/// Puts chord symbols into a bar; what stands at its end or after is returned for the next.
///
/// Several at one place share the time up to the next note, each from a felt beat on; where there are not beats
/// enough, the first is taken, for a faster change is not what a lead-sheet player reads.
fn symbols(
    bar: &mut WrittenBar,
    found: &[(Exact, Harmony)],
    late: Vec<ChordSymbol>,
    warnings: &mut Warnings,
) -> Vec<ChordSymbol> {
    let mut placed: Vec<(Span, ChordSymbol)> = late.into_iter().map(|symbol| (Span::ZERO, symbol)).collect();
    if found.iter().any(|(at, _)| *at == Exact::ZERO) {
        placed.clear();
    }
    for (at, harmony) in found {
        if let Some(doubt) = &harmony.doubt {
            warnings.push(Some(bar.number), None, doubt.as_str());
        }
        placed.extend(harmony.symbol.map(|symbol| (at.round(), symbol)));
    }
    placed.sort_by_key(|(at, _)| *at);
    let here = placed.partition_point(|(at, _)| *at < bar.length);
    let late = placed.split_off(here).into_iter().map(|(_, symbol)| symbol).collect();
    for run in placed.chunk_by(|a, b| a.0 == b.0) {
        let Some((at, _)) = run.first().copied() else { continue };
        let next_note = bar.notes.iter().map(|note| note.at).find(|onset| *onset > at);
        let next_symbol = placed.iter().map(|(place, _)| *place).find(|place| *place > at);
        let end = next_note.unwrap_or(bar.length).min(next_symbol.unwrap_or(bar.length));
        let count = run.len() as i64;
        let beat = bar.metre.beat().0;
        let place = |index: usize| match index {
            0 => at.0,
            _ => {
                let share = (at + (end - at).fraction(index as i64, count)).0;
                (share + beat - 1).div_euclid(beat) * beat
            }
        };
        let has_room = (1..run.len()).all(|index| place(index) > place(index - 1) && place(index) < end.0);
        if has_room {
            let share = |(index, (_, symbol)): (usize, &(Span, ChordSymbol))| (Span(place(index)), *symbol);
            bar.symbols.extend(run.iter().enumerate().map(share));
        } else {
            let text = "several chord symbols stand over one note; the first is played";
            warnings.push_once(Some(bar.number), None, text);
            bar.symbols.extend(run.first());
        }
    }
    late
}
