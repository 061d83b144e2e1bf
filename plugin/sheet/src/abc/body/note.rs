//! Notes, rests, note chords, ties, tuplets and broken rhythms.

use figwort_theory::{Metre, Moment, Pitch, Span};

use super::super::scan::Scan;
use super::bar::Event;
use super::symbols::LineNote;
use super::{Body, Reach, Spelled, Tuplet};
use crate::length::Exact;
use crate::{SheetError, limits};

/// Most notes of a note chord that ties are looked for in.
const MAX_TONES: usize = 16;
/// Semitones of the natural letters above C.
const NATURAL: [i32; 7] = [0, 2, 4, 5, 7, 9, 11];

impl Body {
    /// A note with its accidental and length.
    pub(super) fn note(&mut self, scan: &mut Scan) -> Result<(), SheetError> {
        let accidental = scan.accidental();
        let Some((letter, octave)) = scan.pitch() else {
            self.problem("an accidental has no note; it is skipped");
            return Ok(());
        };
        let spelled = self.spell(letter, octave, accidental);
        let multiplier = scan.multiplier();
        self.tie = None;
        let pitch = self.sounding(spelled);
        self.strike(pitch, spelled, multiplier)
    }

    /// Adds a note of the melody. One that a tie holds from below the top of a note chord sounds on, and is none.
    fn strike(&mut self, pitch: Pitch, spelled: Spelled, multiplier: (u32, u32)) -> Result<(), SheetError> {
        let held = self.lower.contains(&(pitch, true));
        self.add(Some(pitch), multiplier)?;
        if let Some(event) = self.open.events.last_mut() {
            event.held = held;
        }
        self.last_note = Some(spelled);
        Ok(())
    }

    /// `[CEG]`, or `+CEG+` as ABC had it once: its top note, with the length of the first. The opening sign is
    /// behind.
    pub(super) fn note_chord(&mut self, scan: &mut Scan, close: char) -> Result<(), SheetError> {
        let mut top: Option<(Pitch, Spelled)> = None;
        let mut length = None;
        let mut tones: Vec<(Pitch, bool)> = Vec::new();
        loop {
            let accidental = scan.accidental();
            if let Some((letter, octave)) = scan.pitch() {
                let spelled = self.spell(letter, octave, accidental);
                let pitch = self.sounding(spelled);
                if top.is_none_or(|(highest, _)| pitch > highest) {
                    top = Some((pitch, spelled));
                }
                if tones.len() < MAX_TONES {
                    tones.push((pitch, false));
                }
                let own = scan.multiplier();
                length.get_or_insert(own);
                continue;
            }
            match scan.peek() {
                None | Some('|') => {
                    self.problem("a note chord [ is not closed by ]; it ends here");
                    break;
                }
                Some('(') if scan.look(1).is_some_and(|c| c.is_ascii_digit()) => {
                    self.problem("a note chord [ is not closed by ]; it ends before the tuplet");
                    break;
                }
                Some(c) if c == close => {
                    scan.next();
                    break;
                }
                Some('"') => {
                    scan.next();
                    if let Some(text) = scan.quotation() {
                        self.quotation(text)?;
                    }
                }
                Some(sign @ ('!' | '+')) => {
                    scan.next();
                    scan.decoration(sign);
                }
                Some(c) => {
                    // A tie inside is its note's own (ABC 2.1, 4.17).
                    if let Some(tone) = tones.last_mut().filter(|_| c == '-') {
                        tone.1 = true;
                    }
                    scan.next();
                }
            }
        }
        let (numerator, denominator) = length.unwrap_or((1, 1));
        let outer = scan.multiplier();
        self.tie = None;
        if let Some((pitch, spelled)) = top {
            let numerator = numerator.saturating_mul(outer.0).min(1_000_000);
            let denominator = denominator.saturating_mul(outer.1).min(1 << 20);
            self.strike(pitch, spelled, (numerator, denominator))?;
            if tones.contains(&(pitch, true)) {
                self.tie_top();
            }
            tones.retain(|(tone, _)| *tone != pitch);
            self.lower = tones;
        }
        Ok(())
    }

    /// The note with the alteration that holds for it.
    fn spell(&mut self, letter: u8, octave: i32, accidental: Option<i8>) -> Spelled {
        let reach = self.reach;
        let same = |place: &Spelled| place.0 == letter && (reach == Reach::Letter || place.1 == octave);
        let in_force = self.open.accidentals.iter().find(|place| same(place)).map(|found| found.2);
        let by_tie = self.tie.filter(|tie| (tie.0, tie.1) == (letter, octave)).map(|tie| tie.2);
        let by_key = self.signature.alter.get(usize::from(letter)).copied().unwrap_or(0);
        let alter = accidental.or(by_tie).or(in_force).unwrap_or(by_key);
        if accidental.is_some() && reach != Reach::Note {
            self.open.accidentals.retain(|place| !same(place));
            self.open.accidentals.push((letter, octave, alter));
        }
        (letter, octave, alter)
    }

    fn sounding(&mut self, (letter, octave, alter): Spelled) -> Pitch {
        let natural = NATURAL.get(usize::from(letter)).copied().unwrap_or(0);
        let key = 60 + natural + 12 * octave + i32::from(alter) + self.transpose;
        Pitch::from_i32(key).unwrap_or_else(|| {
            self.problem_once("a note lies outside the MIDI range; it is moved to the nearest key");
            Pitch::new(key.clamp(0, 127) as u8)
        })
    }

    /// Adds a note or rest after what the bar holds.
    pub(super) fn add(&mut self, pitch: Option<Pitch>, multiplier: (u32, u32)) -> Result<(), SheetError> {
        let mut length = self.unit.times(multiplier.0, multiplier.1).times(self.broken.0, self.broken.1);
        self.broken = (1, 1);
        if let Some(tuplet) = &mut self.tuplet {
            length = length.times(tuplet.time, tuplet.notes);
            tuplet.left = tuplet.left.saturating_sub(1);
            if tuplet.left == 0 {
                self.tuplet = None;
            }
        }
        let longest = Exact::of(Span::WHOLE * limits::MAX_NOTE_WHOLES);
        if length.at_most(longest) != length {
            self.problem(format!("a note is longer than {} whole notes; it is cut", limits::MAX_NOTE_WHOLES));
            length = longest;
        }
        self.add_length(pitch, length)
    }

    fn add_length(&mut self, pitch: Option<Pitch>, length: Exact) -> Result<(), SheetError> {
        if length == Exact::ZERO {
            self.problem_once("a note has no length; it is left out");
            return Ok(());
        }
        self.notes += 1;
        if self.notes > limits::MAX_NOTES {
            return Err(SheetError::TooLarge { what: "notes", limit: limits::MAX_NOTES });
        }
        if self.open.is_empty() {
            self.open.line = self.line;
            self.open.key = self.signature.key;
            self.open.metre = self.metre;
            self.open.tempo = self.tempo;
        }
        if !self.quoted.is_empty() {
            let texts = core::mem::take(&mut self.quoted);
            self.open.quoted.push((self.open.events.len(), texts, self.line));
        }
        if pitch.is_some() {
            let (bar, event) = (self.bars.len(), self.open.events.len());
            self.line_notes.push(LineNote { bar, event, at: self.open.at, length });
        }
        self.open.events.push(Event { at: self.open.at, length, pitch, tied: false, held: false });
        self.open.at = self.open.at.plus(length);
        self.last_note = None;
        self.lower.clear();
        Ok(())
    }

    /// `Z4`: whole bars of rest; the bar line that follows closes the last. In free metre a bar of four
    /// quarters.
    pub(super) fn bars_of_rest(&mut self, count: u32) -> Result<(), SheetError> {
        let length = self.metre.map_or(Moment::quarters(4).since_zero(), Metre::bar);
        for index in 0..count {
            if index > 0 {
                self.close_bar()?;
            }
            self.add_length(None, Exact::of(length))?;
        }
        Ok(())
    }

    /// `(3`, `(3:2`, `(3:2:4`, `(3::2`; the parenthesis is behind.
    pub(super) fn tuplet(&mut self, scan: &mut Scan) {
        let notes = scan.number().unwrap_or(0);
        let mut time = None;
        let mut count = None;
        if scan.take(':') {
            time = scan.number();
            if scan.take(':') {
                count = scan.number();
            }
        }
        let compound = self.metre.is_some_and(Metre::is_compound);
        // The table of ABC 2.1, 4.13.
        let time = time.unwrap_or(match notes {
            2 | 4 | 8 => 3,
            3 | 6 => 2,
            _ if compound => 3,
            _ => 2,
        });
        let left = count.unwrap_or(notes);
        let allowed = 1..=limits::MAX_TUPLET;
        if allowed.contains(&notes) && allowed.contains(&time) && allowed.contains(&left) {
            self.tuplet = Some(Tuplet { notes, time, left });
        } else {
            self.problem(format!(
                "no tuplet has the numbers {notes}:{time}:{left}; its notes keep their length"
            ));
        }
    }

    /// A tie from the last note or note chord, be it in this bar or the one before.
    pub(super) fn tie(&mut self) {
        for tone in &mut self.lower {
            tone.1 = true;
        }
        self.tie_top();
    }

    fn tie_top(&mut self) {
        let Some(spelled) = self.last_note else { return };
        if let Some(event) = self.open.events.last_mut() {
            event.tied = true;
        } else if let Some(note) = self.bars.last_mut().and_then(|bar| bar.notes.last_mut()) {
            note.tied = true;
        }
        self.tie = Some(spelled);
    }

    /// `A>B`: the first dotted, the second halved; more signs, more dots.
    pub(super) fn broken_rhythm(&mut self, long_first: bool, count: usize) {
        let divisor = 1u32 << count.min(3);
        let (long, short) = ((divisor * 2 - 1, divisor), (1, divisor));
        let Some(event) = self.open.events.last_mut() else {
            self.problem("a broken rhythm has no note before it in its bar; it is skipped");
            return;
        };
        let (first, second) = if long_first { (long, short) } else { (short, long) };
        event.length = event.length.times(first.0, first.1);
        let (begin, end) = (event.at, event.at.plus(event.length));
        self.open.at = end;
        // A tempo between the two notes moves along.
        for (at, _) in self.open.tempos.iter_mut().rev().take_while(|(at, _)| at.order(begin).is_gt()) {
            *at = end;
        }
        self.broken = second;
    }
}
