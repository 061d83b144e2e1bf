//! The melody so far: which notes were struck where, how long each lasted, and where the tune has been before.
//!
//! Places and lengths are in twelfths of a felt beat, drawn to the nearest likely division of it so that a
//! hand's unevenness doesn't blur them. Deliberately absent: any judgement of what that means.

/// Notes remembered.
const NOTES: usize = 512;
/// Bars remembered.
const BARS: usize = 64;
/// Entries of the tables that find the same course again.
const FINDS: usize = 256;
/// Longest length told apart, in twelfths of a beat; also stands for all longer ones.
pub(super) const LONGEST: u8 = 250;

/// Distances, in bars, at which a tune is compared with itself.
pub(super) const LAGS: [u8; 8] = [1, 2, 3, 4, 8, 16, 24, 32];

/// A struck note.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Note {
    /// Bar, counted from the tune's first full one.
    pub(super) bar: i16,
    /// Place in the bar.
    pub(super) place: u8,
    /// Time to the next onset; 0 while that hasn't come.
    pub(super) length: u8,
    /// MIDI key.
    pub(super) key: u8,
}

/// What a comparison with an earlier place says.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Echo {
    /// How long the note lasted that was struck at the same place then; 0 where none was struck, 255 where
    /// nothing is remembered.
    pub(super) length: u8,
    /// Notes in a row, up to and with this one, that agree.
    pub(super) run: u8,
}

/// The same course of notes, found again.
#[derive(Clone, Copy, Debug, Default)]
struct Course {
    /// The note then that corresponds to the last one now, one more than its number; 0 for none.
    then: u32,
    run: u8,
}

/// How well the present agrees with what it is compared with.
#[derive(Clone, Copy, Debug, Default)]
struct Thread {
    /// The notes struck at the same place so many bars before, one more than their numbers; 0 for none.
    there: [u32; LAGS.len()],
    runs: [u8; LAGS.len()],
    rhythm: Course,
    tune: Course,
}

/// What the last note overwrote.
#[derive(Clone, Copy, Debug)]
pub(super) struct Before {
    note: Note,
    bar: (i16, u32),
    thread: Thread,
    rhythm: (u8, u32),
    tune: (u8, u32),
}

/// Remembers the melody.
#[derive(Clone, Debug)]
pub(super) struct Past {
    notes: [Note; NOTES],
    count: u32,
    /// For bars modulo their number: the bar and its first note's number.
    bars: [(i16, u32); BARS],
    thread: Thread,
    rhythms: [u32; FINDS],
    tunes: [u32; FINDS],
}

impl Past {
    pub(super) const NONE: Self = Self {
        notes: [Note { bar: 0, place: 0, length: 0, key: 0 }; NOTES],
        count: 0,
        bars: [(i16::MIN, 0); BARS],
        thread: Thread {
            there: [0; LAGS.len()],
            runs: [0; LAGS.len()],
            rhythm: Course { then: 0, run: 0 },
            tune: Course { then: 0, run: 0 },
        },
        rhythms: [0; FINDS],
        tunes: [0; FINDS],
    };

    /// Notes struck so far.
    pub(super) fn count(&self) -> u32 {
        self.count
    }

    /// The note struck `back` notes ago, 0 being the last; empty where it isn't remembered.
    pub(super) fn back(&self, back: u32) -> Note {
        if back < self.count { self.note(self.count - 1 - back) } else { Note::default() }
    }

    fn note(&self, number: u32) -> Note {
        let kept = number < self.count && number + NOTES as u32 >= self.count;
        if kept { self.notes[number as usize % NOTES] } else { Note::default() }
    }

    /// Adds a note. The one before it lasted `length`. Returns what [`Past::take_back`] needs.
    pub(super) fn strike(&mut self, note: Note, length: u8) -> Before {
        let thread = self.thread;
        if let Some(last) = self.count.checked_sub(1) {
            self.notes[last as usize % NOTES].length = length;
        }
        let number = self.count;
        let overwritten = core::mem::replace(&mut self.notes[number as usize % NOTES], note);
        self.count += 1;
        let slot = &mut self.bars[note.bar.rem_euclid(BARS as i16) as usize];
        let bar = *slot;
        if slot.0 != note.bar {
            *slot = (note.bar, number);
        }
        for (n, lag) in LAGS.into_iter().enumerate() {
            let then = find(&self.notes, self.count, &self.bars, note, lag);
            let before = then.and_then(|then| then.checked_sub(1));
            self.thread.there[n] = then.map_or(0, |then| then + 1);
            self.thread.runs[n] = match before {
                Some(before) if self.notes[before as usize % NOTES].length == length => {
                    self.thread.runs[n].saturating_add(1)
                }
                _ => 0,
            };
        }
        let (rhythm, tune) = self.follow(number);
        Before { note: overwritten, bar, thread, rhythm, tune }
    }

    /// The last note didn't count.
    pub(super) fn take_back(&mut self, before: Before) {
        let Some(number) = self.count.checked_sub(1) else { return };
        let slot = &mut self.notes[number as usize % NOTES];
        self.bars[slot.bar.rem_euclid(BARS as i16) as usize] = before.bar;
        *slot = before.note;
        self.count = number;
        if let Some(last) = number.checked_sub(1) {
            self.notes[last as usize % NOTES].length = 0;
        }
        self.thread = before.thread;
        self.rhythms[usize::from(before.rhythm.0)] = before.rhythm.1;
        self.tunes[usize::from(before.tune.0)] = before.tune.1;
    }

    /// Keeps up with the same course of notes, or looks for one.
    fn follow(&mut self, number: u32) -> ((u8, u32), (u8, u32)) {
        let [now, one, two, three] = [0, 1, 2, 3].map(|back| self.back(back));
        let step = now.key.wrapping_sub(one.key);
        let rhythm = hash(&[now.place, one.length, two.length, three.length]);
        let tune = hash(&[step, one.length, one.key.wrapping_sub(two.key), two.length]);
        let alike = |then: Note, before: Note| then.place == now.place && before.length == one.length;
        let sung = |then: Note, before: Note| {
            then.key.wrapping_sub(before.key) == step && before.length == one.length
        };
        let next = |past: &Self, course: Course, found: u32, same: &dyn Fn(Note, Note) -> bool| {
            let goes_on =
                |then: u32| then > 1 && then <= number && same(past.note(then - 1), past.note(then - 2));
            if course.then > 0 && goes_on(course.then + 1) {
                Course { then: course.then + 1, run: course.run.saturating_add(1) }
            } else if goes_on(found) {
                let mut run = 1;
                while run < 16 && past.agrees(number - run, (found - 1).wrapping_sub(run)) {
                    run += 1;
                }
                Course { then: found, run: run as u8 }
            } else {
                Course::default()
            }
        };
        self.thread.rhythm = next(self, self.thread.rhythm, self.rhythms[rhythm], &alike);
        self.thread.tune = next(self, self.thread.tune, self.tunes[tune], &sung);
        let put = |table: &mut [u32; FINDS], slot: usize| {
            (slot as u8, core::mem::replace(&mut table[slot], number + 1))
        };
        (put(&mut self.rhythms, rhythm), put(&mut self.tunes, tune))
    }

    /// Whether two notes lasted equally long.
    fn agrees(&self, a: u32, b: u32) -> bool {
        let (a, b) = (self.note(a).length, self.note(b).length);
        a == b && a > 0
    }

    /// What came of the same place a number of bars ago.
    pub(super) fn echo(&self, lag: usize) -> Echo {
        let now = self.back(0);
        let then = now.bar.wrapping_sub(i16::from(LAGS[lag]));
        let length = match self.thread.there[lag].checked_sub(1) {
            Some(there) => self.notes[there as usize % NOTES].length,
            None if self.bars[then.rem_euclid(BARS as i16) as usize].0 == then => 0,
            None => 255,
        };
        Echo { length, run: self.thread.runs[lag] }
    }

    /// What came when the same rhythm was played before, and when the same tune was.
    pub(super) fn courses(&self) -> [Echo; 2] {
        [self.thread.rhythm, self.thread.tune].map(|course| match course.then.checked_sub(1) {
            Some(then) => Echo { length: self.note(then).length, run: course.run },
            None => Echo { length: 255, run: 0 },
        })
    }
}

/// The number of the note struck at `now`'s place `lag` bars before.
fn find(notes: &[Note; NOTES], count: u32, bars: &[(i16, u32); BARS], now: Note, lag: u8) -> Option<u32> {
    let bar = now.bar.checked_sub(i16::from(lag))?;
    let (there, first) = bars[bar.rem_euclid(BARS as i16) as usize];
    if there != bar || first + (NOTES as u32) < count {
        return None;
    }
    let mut number = first;
    while number + 1 < count {
        let note = notes[number as usize % NOTES];
        if note.bar != bar || note.place > now.place {
            return None;
        }
        if note.place == now.place {
            return Some(number);
        }
        number += 1;
    }
    None
}

fn hash(parts: &[u8; 4]) -> usize {
    (u32::from_le_bytes(*parts).wrapping_mul(0x9E37_79B1) >> 24) as usize % FINDS
}
