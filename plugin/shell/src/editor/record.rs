//! Listens to what is played and keeps the page: bars, notes, chords, how long the melody stood.
//!
//! Events come in roll time from the session's history; the sheet that is followed gives what is to come.
//! Keeps a few bars only. Deliberately absent: drawing.

use figwort_engine::{Hand, MelodyState};
use figwort_sheet::Sheet;
use figwort_theory::{ChordSymbol, Key, Metre, Moment, Pitch, Span, TICKS_PER_QUARTER};

use super::score::{Bar, ChordMark, Note, Page, State, Stretch};
use crate::Shown;
use crate::session::history::{Event, What};

/// Bars that are kept behind the present one, and written before it.
const BEHIND: usize = 7;
const AHEAD: usize = 4;
/// A bar shorter than this is the trace of a jump, not a bar.
const LEAST: Span = Span(TICKS_PER_QUARTER / 4);

/// Names that follow one another within this are those of one chord.
const ROLLED: Span = Span(TICKS_PER_QUARTER / 3);

/// What was heard.
#[derive(Clone, Debug, Default)]
pub struct Record {
    /// Bars that began, with their numbers counted from the first.
    bars: Vec<Bar>,
    /// Whether the last of them was told, not assumed.
    told: bool,
    /// Number of the first bar that is kept.
    first_number: u32,
    notes: Vec<Note>,
    chords: Vec<ChordMark>,
    stretches: Vec<Stretch>,
    key: Key,
}

impl Record {
    /// Takes in what happened, in the order of time.
    pub fn take(&mut self, events: &[Event]) {
        for event in events {
            let at = event.at;
            match event.what {
                What::On { hand, pitch, .. } => {
                    self.go_on(at);
                    // A note whose end was lost ends where it is struck again.
                    self.end(hand, pitch, at);
                    self.notes.push(Note { hand, pitch, at, end: None, state: State::Played });
                    if hand == Hand::Melody {
                        self.close(at);
                        self.stretches.push(Stretch { from: at, until: None, chance: None });
                    }
                }
                What::Off { hand, pitch } => {
                    self.end(hand, pitch, at);
                    let silent = !self.notes.iter().any(|n| n.hand == Hand::Melody && n.end.is_none());
                    if hand == Hand::Melody && silent {
                        self.close(at);
                    }
                }
                What::Decided(Some(chord)) => self.name(at, ChordSymbol::of(chord, self.key)),
                What::KeyHeard(key) => self.key = key,
                What::Bar { metre, .. } => {
                    self.begin_bar(at, metre);
                    self.told = true;
                }
                _ => {}
            }
        }
        self.forget();
    }

    /// A chord is known by its name. One whose keys came one after another is written once, as it became.
    fn name(&mut self, at: Moment, symbol: ChordSymbol) {
        match self.chords.last_mut() {
            Some(last) if last.symbol == symbol => {}
            Some(last) if at - last.at < ROLLED => last.symbol = symbol,
            _ => self.chords.push(ChordMark { at, symbol, state: State::Played }),
        }
    }

    fn end(&mut self, hand: Hand, pitch: Pitch, at: Moment) {
        let open = |n: &&mut Note| n.end.is_none() && n.hand == hand && n.pitch == pitch;
        if let Some(note) = self.notes.iter_mut().rev().find(open) {
            note.end = Some(at.max(note.at));
        }
    }

    fn close(&mut self, at: Moment) {
        if let Some(last) = self.stretches.last_mut().filter(|stretch| stretch.until.is_none()) {
            last.until = Some(at);
        }
    }

    fn begin_bar(&mut self, at: Moment, metre: Metre) {
        if let Some(last) = self.bars.last_mut() {
            if at - last.start < LEAST {
                self.bars.pop();
            } else {
                last.length = last.length.min(at - last.start);
            }
        }
        self.bars.push(Bar { start: at, length: metre.bar(), metre });
    }

    /// Bars up to a note, where no clock runs that would begin them: a melody alone beside a host that stands.
    fn go_on(&mut self, at: Moment) {
        let Some(last) = self.bars.last() else {
            self.told = false;
            return self.begin_bar(at, Metre::FOUR_FOUR);
        };
        let (metre, mut next) = (last.metre, last.start + last.length);
        // A sheet's bar may be longer than its metre says: only a whole bar more without a word means that none comes.
        if self.told && at - next < metre.bar() {
            return;
        }
        if at - next > metre.bar() * BEHIND as i64 {
            // After a long silence the page begins anew.
            next = at;
        }
        while next <= at {
            self.begin_bar(next, metre);
            next += metre.bar();
        }
        self.told = false;
    }

    /// Lets go of what has left the page.
    fn forget(&mut self) {
        let Some(extra) = self.bars.len().checked_sub(BEHIND + 1).filter(|extra| *extra > 0) else { return };
        self.bars.drain(..extra);
        self.first_number += extra as u32;
        let Some(from) = self.bars.first().map(|bar| bar.start) else { return };
        self.notes.retain(|note| note.end.is_none_or(|end| end > from));
        self.stretches.retain(|stretch| stretch.until.is_none_or(|until| until > from));
        // The chord in force when the page begins stays.
        let past = self.chords.iter().rposition(|chord| chord.at <= from).unwrap_or(0);
        self.chords.drain(..past);
    }

    /// Remembers the chance that the newest melody note was given.
    fn judge(&mut self, shown: &Shown) {
        let snapshot = &shown.snapshot;
        if let Some(last) = self.stretches.last_mut()
            && last.chance.is_none()
            && last.until.is_none()
            && snapshot.melody_state != MelodyState::Resting
            && snapshot.long_note_chance > 0.0
        {
            last.chance = Some(snapshot.long_note_chance);
        }
    }

    /// The page at this moment. `wait` is how long the melody must stand before the accompaniment moves.
    pub fn page(&mut self, shown: &Shown, sheet: Option<&Sheet>, wait: Span) -> Page {
        self.judge(shown);
        let mut page = Page {
            bars: self.bars.clone(),
            present: self.bars.len().saturating_sub(1),
            first_number: (!self.bars.is_empty()).then_some(self.first_number + 1),
            notes: self.notes.clone(),
            chords: self.chords.clone(),
            stretches: self.stretches.clone(),
            now: shown.roll,
            key: self.key,
            signed: false,
            wait,
        };
        match sheet {
            Some(sheet) if shown.following => read_on(&mut page, sheet, shown),
            Some(sheet) if page.bars.is_empty() => preview(&mut page, sheet),
            _ => {}
        }
        plan(&mut page, shown);
        fill(&mut page, shown);
        // While the clock stands the cursor waits at the end of what was written.
        if let Some(last) = page.bars.get(page.present) {
            page.now = page.now.clamp(last.start, last.start + last.length);
        }
        page
    }
}

/// The bars of a sheet before any of it was played.
fn preview(page: &mut Page, sheet: &Sheet) {
    page.now = Moment::ZERO;
    write_sheet(page, sheet, Span::ZERO, Moment::ZERO);
    page.present = 0;
    page.first_number = sheet.bars.first().map(|bar| bar.number);
}

/// What of the sheet is to come, in roll time.
fn read_on(page: &mut Page, sheet: &Sheet, shown: &Shown) {
    let shift = shown.roll - shown.snapshot.position;
    if let Some(present) = page.bars.last().copied() {
        // The bar line is the sheet's: a pick-up is as long as it is.
        let here = sheet.bars.iter().rev().find(|bar| bar.start + shift <= present.start + LEAST);
        if let (Some(bar), Some(last)) = (here, page.bars.last_mut()) {
            last.length = bar.length.min(bar.start + shift + bar.length - last.start).max(LEAST);
            let behind = page.bars.len() as u32 - 1;
            page.first_number = bar.number.checked_sub(behind);
            page.key = bar.key;
        }
    }
    page.signed = true;
    write_sheet(page, sheet, shift, shown.roll);
}

fn write_sheet(page: &mut Page, sheet: &Sheet, shift: Span, now: Moment) {
    let from = page.bars.last().map_or(Moment::ZERO + shift, |bar| bar.start + bar.length);
    let coming = sheet.bars.iter().filter(|bar| bar.start + shift >= from - LEAST).take(AHEAD);
    let bars: Vec<Bar> =
        coming.map(|bar| Bar { start: bar.start + shift, length: bar.length, metre: bar.metre }).collect();
    let until = bars.last().map_or(from, |bar| bar.start + bar.length);
    page.bars.extend(bars);
    if page.notes.is_empty() {
        page.key = sheet.key;
        page.signed = true;
    }
    let now = now + Span(TICKS_PER_QUARTER / 16);
    let ahead = sheet.melody.iter().filter(|note| note.at + shift > now && note.at + shift < until);
    page.notes.extend(ahead.map(|note| Note {
        hand: Hand::Melody,
        pitch: note.pitch,
        at: note.at + shift,
        end: Some(note.at + shift + note.length),
        state: State::Planned,
    }));
    let ahead = sheet.chords.iter().filter(|chord| chord.at + shift > now && chord.at + shift < until);
    page.chords.extend(ahead.map(|chord| ChordMark {
        at: chord.at + shift,
        symbol: chord.symbol,
        state: State::Planned,
    }));
}

/// What the running figure has still to play in this bar.
fn plan(page: &mut Page, shown: &Shown) {
    let Some(bar) = page.bars.get(page.present) else { return };
    let end = bar.start + bar.length;
    let shift = shown.roll - shown.snapshot.position;
    for planned in shown.snapshot.planned.iter().flatten() {
        let at = planned.at + shift;
        if at > shown.roll && at < end {
            let (hand, pitch) = (planned.hand, planned.pitch);
            page.notes.push(Note { hand, pitch, at, end: Some(end), state: State::Planned });
        }
    }
}

/// Empty bars up to the page's end.
fn fill(page: &mut Page, shown: &Shown) {
    let metre = page.bars.last().map(|bar| bar.metre).or(shown.snapshot.metre).unwrap_or(Metre::FOUR_FOUR);
    if page.bars.is_empty() {
        page.now = Moment::ZERO;
    }
    let wanted = page.present + 1 + AHEAD;
    while page.bars.len() < wanted {
        let start = page.bars.last().map_or(Moment::ZERO, |bar| bar.start + bar.length);
        page.bars.push(Bar { start, length: metre.bar(), metre });
    }
}

#[cfg(test)]
mod tests {
    use figwort_engine::Snapshot;
    use figwort_theory::Velocity;

    use super::*;

    const Q: i64 = TICKS_PER_QUARTER;

    fn event(quarters: f64, what: What) -> Event {
        Event { at: Moment((quarters * Q as f64) as i64), frame: 0, what }
    }

    fn on(hand: Hand, key: u8) -> What {
        What::On { hand, pitch: Pitch::new(key), velocity: Velocity::new(80) }
    }

    fn off(hand: Hand, key: u8) -> What {
        What::Off { hand, pitch: Pitch::new(key) }
    }

    fn bar() -> What {
        What::Bar { metre: Metre::FOUR_FOUR, cut: false }
    }

    fn shown(quarters: f64) -> Shown {
        let roll = Moment((quarters * Q as f64) as i64);
        Shown { roll, snapshot: Snapshot { position: roll, ..Snapshot::default() }, ..Shown::default() }
    }

    #[test]
    fn what_is_played_is_written() {
        let mut record = Record::default();
        record.take(&[
            event(0.0, bar()),
            event(0.0, on(Hand::Melody, 72)),
            event(1.0, off(Hand::Melody, 72)),
            event(1.0, on(Hand::Left, 48)),
        ]);
        let page = record.page(&shown(1.5), None, Span(Q));
        assert_eq!(page.notes.len(), 2);
        assert_eq!(page.notes[0].end, Some(Moment(Q)));
        assert_eq!(page.notes[1].end, None);
        assert_eq!(page.stretches, [Stretch { from: Moment::ZERO, until: Some(Moment(Q)), chance: None }]);
        assert_eq!((page.present, page.bars.len(), page.first_number), (0, 1 + AHEAD, Some(1)));
    }

    /// E flat, then its sixth a moment later: one chord.
    #[test]
    fn a_rolled_chord_is_written_once() {
        let symbol = |text| ChordSymbol::parse(text).expect("a symbol");
        let mut record = Record::default();
        record.name(Moment(0), symbol("Eb"));
        record.name(Moment(Q / 10), symbol("Eb6"));
        record.name(Moment(Q), symbol("Eb6"));
        record.name(Moment(Q * 2), symbol("Ab"));
        let written: Vec<_> = record.chords.iter().map(|mark| (mark.at.0, mark.symbol)).collect();
        assert_eq!(written, [(0, symbol("Eb6")), (Q * 2, symbol("Ab"))]);
    }

    #[test]
    fn what_the_figure_has_still_to_play_is_planned() {
        let mut record = Record::default();
        record.take(&[event(0.0, bar())]);
        let mut shown = shown(1.0);
        // The engine's time may be the host's: here a hundred quarters later.
        shown.snapshot.position = Moment(Q * 101);
        let planned = |quarters: i64| {
            let at = Moment(Q * (100 + quarters));
            Some(figwort_engine::Planned { at, pitch: Pitch::new(64), hand: Hand::Right })
        };
        shown.snapshot.planned[0] = planned(1);
        shown.snapshot.planned[1] = planned(2);
        shown.snapshot.planned[2] = planned(5);
        let page = record.page(&shown, None, Span(Q));
        assert_eq!(page.notes.len(), 1, "neither what is due now nor what lies in the next bar");
        assert_eq!((page.notes[0].at, page.notes[0].state), (Moment(Q * 2), State::Planned));
    }

    #[test]
    fn a_long_evening_keeps_the_last_bars() {
        let mut record = Record::default();
        for n in 0..500 {
            let at = f64::from(n) * 4.0;
            record.take(&[
                event(at, bar()),
                event(at, on(Hand::Melody, 72)),
                event(at + 3.0, off(Hand::Melody, 72)),
            ]);
        }
        let page = record.page(&shown(1999.0), None, Span(Q));
        assert_eq!(page.present, BEHIND);
        assert_eq!(page.notes.len(), BEHIND + 1);
        assert_eq!(page.first_number, Some(500 - BEHIND as u32));
    }

    /// A melody alone beside a host that stands: no bar is told, and the page goes on all the same.
    #[test]
    fn without_a_clock_the_page_goes_on() {
        let mut record = Record::default();
        for n in 0..500 {
            let at = 3.0 + f64::from(n);
            record.take(&[event(at, on(Hand::Melody, 72)), event(at + 0.9, off(Hand::Melody, 72))]);
        }
        let page = record.page(&shown(502.9), None, Span(Q));
        assert_eq!((page.present, page.bars[page.present].start), (BEHIND, Moment(499 * Q)));
        assert_eq!(page.notes.len(), (BEHIND + 1) * 4);
        assert_eq!(page.now, shown(502.9).roll);
        // A bar of a sheet may be longer than its metre.
        let mut long = Record::default();
        long.take(&[event(0.0, bar()), event(4.5, on(Hand::Melody, 72)), event(5.0, bar())]);
        let page = long.page(&shown(5.5), None, Span(Q));
        assert_eq!((page.present, page.bars[1].start), (1, Moment(5 * Q)));
        // After a long silence it begins with the note, and a bar that is told a moment late changes nothing.
        record.take(&[event(900.25, on(Hand::Melody, 72)), event(900.25, bar())]);
        let page = record.page(&shown(900.5), None, Span(Q));
        assert_eq!(page.bars[page.present].start.0, 900 * Q + Q / 4);
        assert_eq!(page.bars[page.present - 1].start, Moment(499 * Q));
    }

    /// A jump in the middle of a bar cuts it there; the trace of one leaves no bar.
    #[test]
    fn jumps_cut_bars() {
        let mut record = Record::default();
        record.take(&[event(0.0, bar()), event(2.5, bar()), event(2.51, bar())]);
        let page = record.page(&shown(3.0), None, Span(Q));
        assert_eq!(page.bars[0].length, Span(Q * 5 / 2));
        assert_eq!(page.present, 1);
    }

    #[test]
    fn before_anything_is_played_the_page_has_empty_bars() {
        let page = Record::default().page(&shown(77.0), None, Span(Q));
        assert_eq!(page.bars.len(), 1 + AHEAD);
        assert_eq!(page.now, Moment::ZERO);
    }
}
