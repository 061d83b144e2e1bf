//! The melody reader: its top note, since when it stands, how busy it is, and whether its note will last.

use arrayvec::ArrayVec;
use figwort_theory::{Moment, Pitch, Span, Velocity};

use super::chance::{Around, Chance, LIKELY, Odds};
use super::clock::Bar;
use super::held::Keys;
use crate::observation::MelodyState;

/// Notes shorter than this are ornaments, in milliseconds, and don't reset stillness.
pub const ORNAMENT_MS: u32 = 60;
/// How long a note is held into the next when it is played legato, at most, in milliseconds. Pianists' overlaps are mostly
/// shorter (Repp, "Acoustics, perception, and production of legato articulation on a digital piano", J. Acoust. Soc. Am.
/// 97, 1995; from memory).
pub const LEGATO_MS: u32 = 120;
/// Onsets remembered for the density.
const MEMORY: usize = 16;

#[derive(Clone, Copy, Debug)]
struct Onset {
    at: Moment,
    frame: u64,
    pitch: Pitch,
}

/// Reads the melody.
#[derive(Clone, Debug, Default)]
pub struct MelodyReader {
    keys: Keys,
    onset: Option<Onset>,
    /// The onset before, for a note that turns out to be an ornament.
    before: Option<Onset>,
    /// The last key that went down under the top one, and how hard: the next note, where the top one comes up soon.
    under: Option<(Onset, Velocity)>,
    recent: ArrayVec<Moment, MEMORY>,
    velocity: Option<u8>,
    height: Option<Height>,
    /// Its level in sixteenths of a semitone: see [`MelodyReader::register`].
    level: Option<i32>,
    chance: Chance,
    /// What the last key press was to the melody.
    struck: Struck,
    /// The present note is taken for a long one, and so stands from its beginning.
    trusted: bool,
}

/// How high the melody lies now, and how high it lies usually: two running means of its pitch, in 1/256
/// semitone.
#[derive(Clone, Copy, Debug)]
struct Height {
    now: i32,
    usual: i32,
}

/// Notes over which the two means are taken.
const NOW: i32 = 4;
const USUAL: i32 = 24;

impl Height {
    fn hear(before: Option<Self>, pitch: Pitch) -> Self {
        let here = i32::from(pitch.key()) * 256;
        let Self { now, usual } = before.unwrap_or(Self { now: here, usual: here });
        Self { now: now + (here - now) / NOW, usual: usual + (here - usual) / USUAL }
    }
}

/// What a key press turned out to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
enum Struck {
    /// A note.
    #[default]
    New,
    /// The note that the one before, an ornament, led to.
    Led,
    /// The note before the ornament again: it goes on.
    Same,
}

impl MelodyReader {
    /// Forgets the past; keys that are down stay known and count as struck now.
    pub fn restart(&mut self, now: Moment, frame: u64) {
        let sounding = self.keys.highest();
        *self = Self { keys: self.keys, velocity: None, ..Self::default() };
        self.onset = sounding.map(|pitch| Onset { at: now, frame, pitch });
    }

    /// Forgets everything.
    pub fn clear(&mut self) {
        *self = Self::default();
    }

    /// A melody key goes down. Returns whether the melody (its top line) has a new note.
    /// `ornament` is [`ORNAMENT_MS`] in frames.
    pub fn press(
        &mut self,
        now: Moment,
        frame: u64,
        pitch: Pitch,
        velocity: Velocity,
        ornament: u64,
    ) -> bool {
        let top = self.keys.highest();
        self.keys.insert(pitch);
        let onset = Onset { at: now, frame, pitch };
        if top.is_some_and(|top| top > pitch) {
            self.under = Some((onset, velocity));
            return false;
        }
        self.begin(onset, velocity, ornament);
        true
    }

    /// The top line has a new note.
    fn begin(&mut self, onset: Onset, velocity: Velocity, ornament: u64) {
        let Onset { at: now, frame, pitch } = onset;
        self.under = None;
        let strength = velocity.value();
        self.velocity = Some(match self.velocity {
            Some(v) => ((u16::from(v) * 3 + u16::from(strength)) / 4) as u8,
            None => strength,
        });
        self.follow(pitch);
        self.height = Some(Height::hear(self.height, pitch));
        self.trusted = false;
        self.struck = Struck::New;
        match self.onset {
            Some(short) if frame.saturating_sub(short.frame) < ornament => {
                // The note before was an ornament: the main note goes on, or begins now.
                match self.before {
                    Some(main) if main.pitch == pitch => {
                        self.onset = Some(main);
                        self.struck = Struck::Same;
                    }
                    _ => {
                        self.onset = Some(onset);
                        self.struck = Struck::Led;
                    }
                }
                if let Some(last) = self.recent.last_mut() {
                    *last = now;
                }
            }
            previous => {
                self.before = previous;
                self.onset = Some(onset);
                if self.recent.is_full() {
                    self.recent.remove(0);
                }
                self.recent.push(now);
            }
        }
    }

    /// Tells where the note just pressed belongs, so that its chance of lasting is known. With `by_chance`,
    /// a note that is likely to last stands from now on.
    pub fn place(&mut self, now: Moment, bar: Bar, around: Around, by_chance: bool) {
        if self.struck != Struck::New {
            self.chance.take_back();
        }
        if self.struck != Struck::Same {
            self.chance.strike(now, bar, around);
        }
        self.trusted = by_chance && self.chance.odds().half >= LIKELY;
    }

    /// The chance that the last note placed will last.
    pub fn odds(&self) -> Odds {
        self.chance.odds()
    }

    /// A written melody note begins: no ornaments to be told apart, no average to be taken.
    pub fn adopt(&mut self, at: Moment, frame: u64, pitch: Pitch, velocity: Velocity) {
        self.keys = Keys::NONE;
        self.keys.insert(pitch);
        self.velocity = Some(velocity.value());
        self.height = Some(Height::hear(self.height, pitch));
        self.follow(pitch);
        self.trusted = false;
        self.before = self.onset;
        self.onset = Some(Onset { at, frame, pitch });
        if self.recent.is_full() {
            self.recent.remove(0);
        }
        self.recent.push(at);
    }

    /// Moves the level an eighth of the way to a new note.
    fn follow(&mut self, pitch: Pitch) {
        let here = i32::from(pitch.key()) * 16;
        self.level = Some(self.level.map_or(here, |level| level + (here - level) / 8));
    }

    /// The melody's level: an average that every note moves an eighth of the way, so that it follows phrases
    /// and not their leaps. `None` before the first note.
    pub fn register(&self) -> Option<Pitch> {
        Pitch::from_i32((self.level? + 8) / 16)
    }

    /// A written melody note is over.
    pub fn release(&mut self, pitch: Pitch) {
        self.keys.remove(pitch);
    }

    /// A melody key comes up. Where that shows that the key under it was the melody's next note, played legato, and not
    /// the lower one of two together: when that note began. `legato` is [`LEGATO_MS`] in frames, `ornament`
    /// [`ORNAMENT_MS`].
    pub fn come_up(&mut self, frame: u64, pitch: Pitch, legato: u64, ornament: u64) -> Option<Moment> {
        let was_top = self.keys.highest() == Some(pitch);
        self.keys.remove(pitch);
        let (under, velocity) = self.under.filter(|(under, _)| self.keys.highest() == Some(under.pitch))?;
        let overlap = frame.saturating_sub(under.frame);
        let after = self.onset.map_or(u64::MAX, |top| under.frame.saturating_sub(top.frame));
        let next = was_top && overlap <= legato && (after >= ornament || overlap < ornament);
        next.then(|| {
            self.begin(under, velocity, ornament);
            under.at
        })
    }

    /// The melody note that sounds.
    pub fn sounding(&self) -> Option<Pitch> {
        self.keys.highest()
    }

    /// The melody's pitch now or last, unless it has been silent for longer than `memory`.
    pub fn pitch(&self, now: Moment, memory: Span) -> Option<Pitch> {
        self.sounding().or_else(|| self.onset.filter(|o| now - o.at <= memory).map(|o| o.pitch))
    }

    /// The velocity at which the melody is played, averaged over the last few notes; 1 to 127.
    pub fn velocity(&self) -> Option<u8> {
        self.velocity
    }

    /// The last onset.
    pub fn last_onset(&self) -> Option<Moment> {
        self.onset.map(|o| o.at)
    }

    /// Time since the last onset.
    pub fn stillness(&self, now: Moment) -> Span {
        self.last_onset().map_or(Span::ZERO, |at| now - at)
    }

    /// Onsets per `beat` over the last four beats.
    pub fn density(&self, now: Moment, beat: Span) -> f32 {
        let window = beat * 4;
        self.recent.iter().filter(|at| now - **at < window).count() as f32 / 4.0
    }

    /// Onsets per quarter note over the last two quarters, the older the less: a melody that has stopped moving
    /// soon counts for little.
    pub fn motion(&self, now: Moment) -> f32 {
        let window = Span::QUARTER * 2;
        let weight = |at: &Moment| (window - (now - *at)).0.clamp(0, window.0) as f32 / window.0 as f32;
        self.recent.iter().map(weight).sum()
    }

    /// How high the melody lies against its own middle, in semitones: -24 to 24.
    pub fn height(&self) -> i8 {
        self.height.map_or(0, |h| ((h.now - h.usual) / 256).clamp(-24, 24) as i8)
    }

    /// What the melody does, when it counts as still after `wait`. See [`stands`] for a known next onset.
    pub fn state(&self, now: Moment, wait: Span, beat: Span, next: Option<Moment>) -> MelodyState {
        let still = self.trusted || self.last_onset().is_none_or(|at| stands(at, now, wait, beat, next));
        match (still, self.sounding()) {
            (false, _) => MelodyState::Moving,
            (true, Some(_)) => MelodyState::Still,
            (true, None) => MelodyState::Resting,
        }
    }

    /// When the present note will have stood for `wait`.
    pub fn threshold(&self, wait: Span) -> Option<Moment> {
        self.last_onset().map(|at| at + wait)
    }
}

/// Whether a melody that had its last onset `at` stands. Where the next onset is known, a note that will
/// outlast the wait by half a beat stands from its beginning, and one that is about to end no longer does.
pub fn stands(at: Moment, now: Moment, wait: Span, beat: Span, next: Option<Moment>) -> bool {
    let half = beat.fraction(1, 2);
    match next {
        Some(next) if next > at => next - at >= wait + half || (now - at >= wait && next - now >= half),
        _ => now - at >= wait,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ORNAMENT: u64 = 60;

    fn press(reader: &mut MelodyReader, at: i64, key: u8) -> bool {
        reader.press(Moment(at), at as u64, Pitch::new(key), Velocity::new(80), ORNAMENT)
    }

    #[test]
    fn an_ornament_does_not_disturb_stillness() {
        let mut reader = MelodyReader::default();
        press(&mut reader, 0, 72);
        press(&mut reader, 1_000, 74);
        reader.release(Pitch::new(74));
        press(&mut reader, 1_050, 72);
        assert_eq!(reader.last_onset(), Some(Moment(0)));
    }

    #[test]
    fn a_grace_note_leads_to_one_onset() {
        let mut reader = MelodyReader::default();
        press(&mut reader, 0, 72);
        press(&mut reader, 1_000, 74);
        press(&mut reader, 1_040, 76);
        assert_eq!(reader.last_onset(), Some(Moment(1_040)));
        assert_eq!(reader.density(Moment(1_040), Span(10_000)), 0.5);
    }

    #[test]
    fn motion_fades_and_height_follows() {
        let mut reader = MelodyReader::default();
        let eighth = Span::EIGHTH.0;
        for n in 0..16 {
            press(&mut reader, n * eighth, 60);
        }
        let last = Moment(15 * eighth);
        assert!((reader.motion(last) - 2.5).abs() < 0.01, "{}", reader.motion(last));
        assert!(reader.motion(last + Span::QUARTER) < 1.0);
        assert_eq!(reader.motion(last + Span::QUARTER * 2), 0.0);
        assert_eq!(reader.height(), 0);
        for n in 16..20 {
            press(&mut reader, n * eighth, 72);
        }
        let risen = reader.height();
        assert!((4..12).contains(&risen), "{risen}");
        for n in 20..120 {
            press(&mut reader, n * eighth, 72);
        }
        assert_eq!(reader.height(), 0);
    }

    #[test]
    fn notes_under_the_top_are_no_melody() {
        let mut reader = MelodyReader::default();
        assert!(press(&mut reader, 0, 72));
        assert!(!press(&mut reader, 500, 67));
        assert_eq!(reader.last_onset(), Some(Moment(0)));
    }

    /// As detached notes are, each from its own beginning; two keys struck together are one note.
    #[test]
    fn legato_is_heard_downwards_too() {
        const LEGATO: u64 = 120;
        let mut reader = MelodyReader::default();
        let up = |reader: &mut MelodyReader, at, key| reader.come_up(at, Pitch::new(key), LEGATO, ORNAMENT);
        press(&mut reader, 0, 76);
        assert!(!press(&mut reader, 1_000, 74));
        assert_eq!(up(&mut reader, 1_030, 76), Some(Moment(1_000)));
        assert_eq!((reader.last_onset(), reader.sounding()), (Some(Moment(1_000)), Some(Pitch::new(74))));
        assert!(!press(&mut reader, 2_000, 72));
        assert_eq!(up(&mut reader, 2_100, 74), Some(Moment(2_000)));
        assert_eq!(reader.density(Moment(2_100), Span(10_000)), 0.75);
        // A third, whose upper note comes up first; and a lower part that moves under a held note.
        press(&mut reader, 3_000, 79);
        up(&mut reader, 3_010, 72);
        press(&mut reader, 3_010, 76);
        assert_eq!(up(&mut reader, 3_500, 79), None);
        assert_eq!(up(&mut reader, 3_510, 76), None);
        press(&mut reader, 4_000, 79);
        press(&mut reader, 4_010, 76);
        assert_eq!(up(&mut reader, 4_115, 79), None, "short, but struck together");
        press(&mut reader, 5_000, 79);
        press(&mut reader, 5_500, 72);
        assert_eq!(up(&mut reader, 5_700, 72), None);
        press(&mut reader, 5_700, 71);
        assert_eq!(up(&mut reader, 6_000, 79), None);
        assert_eq!(reader.last_onset(), Some(Moment(5_000)));
        // A grace note from above.
        press(&mut reader, 7_000, 79);
        press(&mut reader, 7_030, 77);
        assert_eq!(up(&mut reader, 7_050, 79), Some(Moment(7_030)));
        assert_eq!(reader.last_onset(), Some(Moment(7_030)));
    }

    #[test]
    fn a_note_known_to_be_long_is_still_at_once() {
        let mut reader = MelodyReader::default();
        press(&mut reader, 0, 72);
        let beat = Span(100);
        let state = |now, next| reader.state(Moment(now), Span(100), beat, next);
        assert_eq!(state(0, None), MelodyState::Moving);
        assert_eq!(state(100, None), MelodyState::Still);
        assert_eq!(state(0, Some(Moment(150))), MelodyState::Still);
        assert_eq!(state(0, Some(Moment(149))), MelodyState::Moving);
    }

    /// The same notes with and without a mordent on one and a grace note before another.
    #[test]
    fn ornaments_do_not_count_for_the_chance() {
        let bar = Bar {
            start: Moment(0),
            length: figwort_theory::Metre::FOUR_FOUR.bar(),
            metre: figwort_theory::Metre::FOUR_FOUR,
            index: 0,
        };
        let odds = |ornaments: bool| {
            let mut reader = MelodyReader::default();
            // A quarter note lasts 400 frames.
            let mut play = |frame: u64, key: u8| {
                let now = Moment(frame as i64 * figwort_theory::TICKS_PER_QUARTER / 400);
                assert!(reader.press(now, frame, Pitch::new(key), Velocity::new(80), ORNAMENT));
                reader.place(now, bar, Around { key, ..Around::default() }, true);
                reader.release(Pitch::new(key));
                reader.odds()
            };
            if ornaments {
                play(0, 70);
                let plain = play(40, 72);
                play(140, 74);
                assert_eq!(play(180, 72), plain);
                play(440, 76)
            } else {
                play(40, 72);
                play(440, 76)
            }
        };
        assert_eq!(odds(true), odds(false));
        assert!(odds(true).half > 0.0);
    }
}
