//! The cues: everything known at an onset that may tell how long the note will last, each as one byte.

use super::Struck;
use super::counts::{CIRCUMSTANCES, Count};
use super::past::{LAGS, Past};

/// Cues that are no counts.
const PLAIN: usize = 31;
const ECHOES: usize = (LAGS.len() + 3) * 2;
/// How many cues there are.
pub const CUES: usize = PLAIN + ECHOES + CIRCUMSTANCES * 4;

/// The state that cues need beyond the notes themselves.
#[derive(Clone, Copy, Debug)]
pub(super) struct Course {
    /// Time since the last long note ended, in twelfths of a beat.
    since_long: u32,
    /// Notes since then.
    notes_since_long: u8,
    /// Bar in which the present phrase began.
    phrase_bar: i16,
    /// Where in its bar it began.
    phrase_place: u8,
    /// Places struck in this bar, as a hash, and in the bar before.
    pattern: u32,
    pattern_before: u32,
    pattern_bar: i16,
    onsets: u8,
    /// Mean key, of 256.
    register: u32,
    long_key: u8,
    long_place: u8,
    long_bar: i16,
    lows: (u8, u8),
}

impl Course {
    pub(super) const NONE: Self = Self {
        since_long: 0,
        notes_since_long: 0,
        phrase_bar: 0,
        phrase_place: 0,
        pattern: 0,
        pattern_before: 0,
        pattern_bar: i16::MIN,
        onsets: 0,
        register: 0,
        long_key: 0,
        long_place: 0,
        long_bar: i16::MIN,
        lows: (127, 0),
    };

    /// Takes in the note just added to the past, `length` being that of the one before.
    pub(super) fn strike(&mut self, past: &Past, length: u8) {
        let (now, before) = (past.back(0), past.back(1));
        if past.count() > 1 {
            if length >= super::HALF {
                self.since_long = 0;
                self.notes_since_long = 0;
                self.phrase_bar = now.bar;
                self.phrase_place = now.place;
                self.long_key = before.key;
                self.long_place = before.place;
                self.long_bar = before.bar;
            } else {
                self.since_long += u32::from(length);
                self.notes_since_long = self.notes_since_long.saturating_add(1);
            }
        } else {
            self.phrase_bar = now.bar;
            self.phrase_place = now.place;
            self.register = u32::from(now.key) * 256;
        }
        if self.pattern_bar != now.bar {
            self.pattern_before = if self.pattern_bar + 1 == now.bar { self.pattern } else { 0 };
            self.pattern = 0;
            self.onsets = 0;
            self.pattern_bar = now.bar;
        }
        self.pattern = self.pattern.wrapping_mul(31).wrapping_add(u32::from(now.place) + 1);
        self.onsets = self.onsets.saturating_add(1);
        self.register = (self.register * 15 + u32::from(now.key) * 256) / 16;
        self.lows = (self.lows.0.min(now.key), self.lows.1.max(now.key));
    }

    /// Hashes of the circumstances under which what this tune did is counted; the first is the place alone.
    pub(super) fn circumstances(&self, past: &Past, struck: &Struck) -> [u32; CIRCUMSTANCES] {
        let [now, one, two, three] = [0, 1, 2, 3].map(|back| past.back(back));
        let place = u32::from(now.place) + 256 * u32::from(struck.beats);
        let bar = now.bar.rem_euclid(8) as u32;
        let step = u32::from(now.key.wrapping_sub(one.key));
        let way = (i32::from(now.key) - i32::from(one.key)).signum() as u32 & 3;
        let [a, b, c] = [one, two, three].map(|note| u32::from(note.length));
        let mix = |parts: [u32; 3]| {
            parts.iter().fold(17_u32, |hash, part| (hash ^ part).wrapping_mul(0x0100_0193).rotate_left(7))
        };
        [
            place,
            mix([place, a, 0]),
            mix([place, a, b]),
            mix([place, bar & 1, 0]),
            mix([place, bar & 3, 0]),
            mix([a, b, c]),
            mix([place, way, a]),
            mix([place, u32::from(struck.degree), 0]),
            mix([self.pattern, u32::from(struck.beats), 0]),
            mix([self.pattern, self.pattern_before, 0]),
            mix([place, bar, 0]),
            mix([place, u32::from(struck.fresh), u32::from(struck.chord_degree)]),
            mix([place, u32::from(now.key), 0]),
            mix([self.pattern, bar & 3, 0]),
            mix([step, u32::from(one.key.wrapping_sub(two.key)), a]),
            mix([0, 0, 0]),
        ]
    }

    /// All cues.
    pub(super) fn cues(&self, past: &Past, struck: &Struck, counts: &[Count; CIRCUMSTANCES]) -> [u8; CUES] {
        let [now, one, two, three] = [0, 1, 2, 3].map(|back| past.back(back));
        let step = i32::from(now.key) - i32::from(one.key);
        let small = |n: i32| n.clamp(0, 255) as u8;
        let bar_in_phrase = i32::from(now.bar) - i32::from(self.phrase_bar);
        let length = i32::from(struck.beats) * 12;
        let in_phrase = bar_in_phrase * length + i32::from(now.place) - i32::from(self.phrase_place);
        let mut cues = [0; CUES];
        let plain: [u8; PLAIN] = [
            now.place % 12,
            now.place / 12,
            struck.beats,
            u8::from(struck.compound),
            struck.level,
            small(length - i32::from(now.place)),
            now.place,
            one.length,
            two.length,
            three.length,
            small(step + 128),
            step.unsigned_abs().min(255) as u8,
            small(i32::from(one.key) - i32::from(two.key) + 128),
            small((i32::from(now.key) * 256 - self.register as i32) / 128 + 128),
            struck.degree,
            struck.chord_degree,
            struck.chord_age,
            self.onsets,
            (self.since_long / 6).min(255) as u8,
            self.notes_since_long,
            now.bar.rem_euclid(2) as u8,
            now.bar.rem_euclid(4) as u8,
            now.bar.rem_euclid(8) as u8,
            small(bar_in_phrase),
            small(in_phrase / 6 + 8),
            past.count().min(255) as u8,
            small(i32::from(now.bar) + 1),
            small(i32::from(now.bar) - i32::from(self.long_bar)),
            small(i32::from(now.place) - i32::from(self.long_place) + 128),
            small(i32::from(now.key) - i32::from(self.long_key) + 128),
            small(
                (i32::from(now.key) - i32::from(self.lows.0)) * 100
                    / i32::from(self.lows.1 - self.lows.0).max(1),
            ),
        ];
        let (plains, rest) = cues.split_at_mut(PLAIN);
        plains.copy_from_slice(&plain);
        let (echoes, tallies) = rest.split_at_mut(ECHOES);
        let (mut best, mut best_run) = (255, 0);
        let courses = past.courses();
        for (n, pair) in echoes.chunks_exact_mut(2).enumerate() {
            let echo = match n.checked_sub(LAGS.len()) {
                None => {
                    let echo = past.echo(n);
                    // On equal runs the longer distance says more: it is the later one here.
                    if echo.length < 255 && echo.run >= best_run {
                        (best, best_run) = (echo.length, echo.run);
                    }
                    echo
                }
                Some(n) => match courses.get(n) {
                    Some(course) => *course,
                    None => super::past::Echo { length: best, run: best_run },
                },
            };
            pair.copy_from_slice(&[echo.length, echo.run]);
        }
        for (four, count) in tallies.chunks_exact_mut(4).zip(counts) {
            let last = if count.times == 0 { 255 } else { count.last };
            four.copy_from_slice(&[(count.half >> 8) as u8, (count.two >> 8) as u8, count.times, last]);
        }
        cues
    }
}
