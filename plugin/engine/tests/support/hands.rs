//! A simulation of hands: players who change chords a little early or late, lift before the next chord or
//! overlap it, with a melody above; and what is heard of them. Seeded, so every run is the same.
//!
//! Times are frames at [`RATE`], spreads are milliseconds. The timing model is the one that the aims are
//! stated for (normal spread around the beat and within a chord); no source, it is a model and no measurement.
#![allow(
    dead_code,
    unreachable_pub,
    unused_imports,
    missing_docs,
    reason = "each test program uses a part of it"
)]

use figwort_engine::{InputMessage, Source};
use figwort_theory::{Pitch, PitchClassSet, Velocity};

mod dice;
mod heard;
mod measure;

pub use dice::Dice;
pub use heard::{Heard, assigned_rightly, listen};
pub use measure::{Tally, percentile, rehearse};

pub const RATE: f64 = 48_000.0;

pub fn frames(millis: f64) -> u64 {
    (millis.max(0.0) * RATE / 1_000.0).round() as u64
}

pub fn millis(frames: f64) -> f64 {
    frames * 1_000.0 / RATE
}

impl Dice {
    /// Even between two numbers.
    pub fn within(&mut self, low: f64, high: f64) -> f64 {
        low + self.unit() * (high - low)
    }

    /// Normal, cut off at three deviations.
    pub fn normal(&mut self, mean: f64, deviation: f64) -> f64 {
        loop {
            let (r, angle) = (self.within(1e-12, 1.0), self.within(0.0, std::f64::consts::TAU));
            let z = (-2.0 * r.ln()).sqrt() * angle.cos();
            if z.abs() <= 3.0 {
                return mean + z * deviation;
            }
        }
    }

    pub fn chance(&mut self, share: f64) -> bool {
        self.within(0.0, 1.0) < share
    }

    pub fn below(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }

    pub fn pick<T: Copy>(&mut self, list: &[T]) -> T {
        list[self.below(list.len())]
    }
}

/// How the chord hand leaves one chord for the next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Leaving {
    /// Lifts 20 to 150 ms before.
    Lifting,
    /// Holds until up to 30 ms after.
    Overlapping,
    /// Lifts soon after striking and relies on the latch.
    Short,
    /// As overlapping, and keys that both chords have stay down.
    KeepingCommonKeys,
    /// Short keys under the sustain pedal, which is changed just after the chord.
    Pedalling,
}

/// How many keys the player's chords have.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Size {
    Triads,
    Sevenths,
    Mixed,
}

/// Where chords change.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Rhythm {
    TwoBars,
    Bar,
    HalfBar,
    /// One a bar, two in every fourth bar.
    Phrase,
    /// No telling: bars without a change, with one on any beat, with two.
    Free,
}

/// A way of playing with the hands.
#[derive(Clone, Copy, Debug)]
pub struct Hands {
    /// Spread of chord times around the beat, and their mean, in milliseconds.
    pub sigma: f64,
    pub bias: f64,
    /// Spread of the keys within a chord.
    pub within: f64,
    pub leaving: Leaving,
    pub size: Size,
    pub rhythm: Rhythm,
    /// Keys come spread evenly over so many milliseconds, in any order, instead of normally spread.
    pub even: Option<f64>,
    /// Chords are rolled from below over 60 to so many milliseconds.
    pub roll: Option<f64>,
    /// Share of the chords with a wrong key slipped in.
    pub slips: f64,
    pub melody: bool,
    pub bars: usize,
}

impl Default for Hands {
    fn default() -> Self {
        Self {
            sigma: 25.0,
            bias: 0.0,
            within: 12.0,
            leaving: Leaving::Lifting,
            size: Size::Mixed,
            rhythm: Rhythm::Bar,
            even: None,
            roll: None,
            slips: 0.0,
            melody: true,
            bars: 32,
        }
    }
}

/// A chord as the player struck it.
#[derive(Clone, Debug)]
pub struct Struck {
    /// The beat that was meant.
    pub meant: u64,
    /// Its keys with their times, rising in time.
    pub keys: Vec<(u64, u8)>,
    /// Those of its keys that were kept down from the chord before.
    pub kept: Vec<u8>,
    pub name: &'static str,
}

impl Struck {
    fn struck(&self) -> impl DoubleEndedIterator<Item = u64> {
        self.keys.iter().filter(|(_, key)| !self.kept.contains(key)).map(|(at, _)| *at)
    }

    pub fn first(&self) -> u64 {
        self.struck().next().expect("a key that was struck")
    }

    pub fn complete(&self) -> u64 {
        self.struck().next_back().expect("a key that was struck")
    }

    pub fn classes(&self) -> PitchClassSet {
        self.keys.iter().map(|(_, key)| Pitch::new(*key).class()).collect()
    }

    pub fn bass(&self) -> Pitch {
        Pitch::new(self.keys.iter().map(|(_, key)| *key).min().expect("keys"))
    }
}

/// Harmony on channel 1, melody on channel 0.
pub const SOURCE: Source = Source::Channels { melody: 0, harmony: 1 };

/// A performance: what the player meant and what the keys did.
#[derive(Clone, Debug)]
pub struct Performance {
    pub chords: Vec<Struck>,
    /// Frame, channel, message.
    pub events: Vec<(u64, u8, InputMessage)>,
    pub tempo: f64,
    pub metre: (u8, u8),
    /// Frames of a beat.
    pub beat: f64,
    pub length: u64,
}

const TRIADS: [(&str, &[u8]); 5] =
    [("", &[0, 4, 7]), ("m", &[0, 3, 7]), ("dim", &[0, 3, 6]), ("sus4", &[0, 5, 7]), ("aug", &[0, 4, 8])];
const SEVENTHS: [(&str, &[u8]); 9] = [
    ("7", &[0, 4, 7, 10]),
    ("maj7", &[0, 4, 7, 11]),
    ("m7", &[0, 3, 7, 10]),
    ("m7b5", &[0, 3, 6, 10]),
    ("dim7", &[0, 3, 6, 9]),
    ("6", &[0, 4, 7, 9]),
    ("m6", &[0, 3, 7, 9]),
    ("9", &[0, 4, 7, 10, 14]),
    ("m9", &[0, 3, 7, 10, 14]),
];
/// Steps of the major scale with the triad and the seventh chord on them, as indices of the lists above.
const SCALE: [(u8, usize, usize); 7] =
    [(0, 0, 1), (2, 1, 2), (4, 1, 2), (5, 0, 1), (7, 0, 0), (9, 1, 2), (11, 2, 3)];

/// The next chord: mostly from the key, at times any root and kind, in any inversion.
fn chord(dice: &mut Dice, tonic: u8, size: Size) -> (Vec<u8>, &'static str) {
    let seventh = match size {
        Size::Triads => false,
        Size::Sevenths => true,
        Size::Mixed => dice.chance(0.5),
    };
    let (root, (name, intervals)) = if dice.chance(0.7) {
        let (step, triad, four) = dice.pick(&SCALE);
        ((tonic + step) % 12, if seventh { SEVENTHS[four] } else { TRIADS[triad] })
    } else {
        let list: &[(&str, &[u8])] = if seventh { &SEVENTHS } else { &TRIADS };
        (dice.below(12) as u8, dice.pick(list))
    };
    let low = 41 + (root + 12 - 41 % 12) % 12;
    let mut keys: Vec<u8> = intervals.iter().map(|i| low + i).collect();
    let turns = if keys.len() > 4 || dice.chance(0.5) { 0 } else { dice.below(keys.len()) };
    for key in keys.iter_mut().take(turns) {
        *key += 12;
    }
    if keys.iter().all(|k| *k >= 48) && dice.chance(0.5) {
        keys.iter_mut().for_each(|k| *k -= 12);
    }
    keys.sort_unstable();
    (keys, name)
}

fn beats_with_chord(dice: &mut Dice, rhythm: Rhythm, bar: usize, beats: usize) -> Vec<usize> {
    let middle = beats / 2 + beats % 2;
    match rhythm {
        Rhythm::TwoBars if bar % 2 == 1 => vec![],
        Rhythm::TwoBars | Rhythm::Bar => vec![0],
        Rhythm::HalfBar => vec![0, middle],
        Rhythm::Phrase if bar % 4 == 3 => vec![0, middle],
        Rhythm::Phrase => vec![0],
        Rhythm::Free => match dice.below(10) {
            0..2 => vec![],
            2..7 => vec![0],
            7..9 => vec![0, middle],
            _ => vec![dice.below(beats)],
        },
    }
}

/// Plays a number of bars.
pub fn perform(hands: &Hands, seed: u64) -> Performance {
    let mut dice = Dice(seed);
    let tempo = dice.within(66.0, 144.0).round();
    let metre = dice.pick(&[(4u8, 4u8), (4, 4), (3, 4)]);
    let beats = usize::from(metre.0);
    let beat = 60.0 * RATE / tempo;
    let tonic = dice.below(12) as u8;
    let mut events = vec![];
    let mut chords: Vec<Struck> = vec![];
    for bar in 0..hands.bars {
        for place in beats_with_chord(&mut dice, hands.rhythm, bar, beats) {
            // Time begins a beat after the transport, so that an early first chord is possible.
            let meant = ((bar * beats + place) as f64 * beat) as u64 + beat as u64 * beats as u64;
            let (keys, name) = loop {
                let (keys, name) = chord(&mut dice, tonic, hands.size);
                let set: PitchClassSet = keys.iter().map(|k| Pitch::new(*k).class()).collect();
                if chords.last().is_none_or(|last| last.classes() != set) {
                    break (keys, name);
                }
            };
            let at = meant as f64 + dice.normal(hands.bias, hands.sigma) * RATE / 1_000.0;
            let roll = hands.roll.map(|longest| dice.within(60.0, longest));
            let count = keys.len();
            let mut timed: Vec<(u64, u8)> = keys
                .iter()
                .enumerate()
                .map(|(n, key)| {
                    let later = match (roll, hands.even) {
                        (Some(all), _) => all * n as f64 / (count - 1) as f64 + dice.normal(0.0, 4.0),
                        (_, Some(all)) => dice.within(0.0, all),
                        _ => dice.normal(0.0, hands.within),
                    };
                    ((at + later * RATE / 1_000.0).round() as u64, *key)
                })
                .collect();
            timed.sort_unstable();
            chords.push(Struck { meant, keys: timed, kept: vec![], name });
        }
    }
    let end = (beat * (hands.bars * beats + beats) as f64) as u64;
    play_chords(&mut dice, hands, &mut chords, end, &mut events);
    if hands.melody {
        play_melody(&mut dice, beat, end, tonic, &mut events);
    }
    events.sort_by_key(|(at, ..)| *at);
    Performance { chords, events, tempo, metre, beat, length: end + RATE as u64 }
}

/// Both hands on one keyboard, each moving up or down an octave now and then, together or alone. The channel
/// still tells the hand; [`on_one_keyboard`] takes it away.
pub fn wander(hands: &Hands, seed: u64) -> Performance {
    let mut performance = perform(hands, seed);
    let mut dice = Dice(seed ^ 0x5eed);
    let bar = performance.beat * f64::from(performance.metre.0);
    let bars = (performance.length as f64 / bar) as usize + 2;
    let mut moves = vec![(0i16, 0i16)];
    for n in 1..bars {
        let stay = moves[n - 1];
        moves.push(if n % 4 != 0 { stay } else { dice.pick(&[(0, 0), (0, 0), (12, 12), (0, 12), (-5, 0)]) });
    }
    // A bar's moves begin an eighth early, so that a chord and its early keys go together.
    let at = |frame: u64| moves[((frame as f64 + performance.beat / 2.0) / bar) as usize];
    let mut down = [[0i16; 128]; 2];
    for (frame, channel, message) in &mut performance.events {
        let by = if *channel == 1 { at(*frame).0 } else { at(*frame).1 };
        let shift = |pitch: Pitch, by: i16| Pitch::new((i16::from(pitch.key()) + by) as u8);
        match message {
            InputMessage::NoteOn { pitch, .. } => {
                down[usize::from(*channel)][pitch.index()] = by;
                *pitch = shift(*pitch, by);
            }
            InputMessage::NoteOff { pitch } => {
                *pitch = shift(*pitch, down[usize::from(*channel)][pitch.index()]);
            }
            _ => {}
        }
    }
    part_hands(&mut performance.events);
    performance
}

/// Takes out melody notes that would lie in the chord or cross it.
fn part_hands(events: &mut Vec<(u64, u8, InputMessage)>) {
    let mut chord = [false; 128];
    let mut dropped = [false; 128];
    events.retain(|(_, channel, message)| match (channel, message) {
        (1, InputMessage::NoteOn { pitch, .. }) => {
            chord[pitch.index()] = true;
            true
        }
        (1, InputMessage::NoteOff { pitch }) => {
            chord[pitch.index()] = false;
            true
        }
        (_, InputMessage::NoteOn { pitch, .. }) => {
            dropped[pitch.index()] = chord[pitch.index()..].contains(&true);
            !dropped[pitch.index()]
        }
        (_, InputMessage::NoteOff { pitch }) => !std::mem::take(&mut dropped[pitch.index()]),
        _ => true,
    });
}

/// The same keys without the channels.
pub fn on_one_keyboard(performance: &Performance) -> Performance {
    let events = performance.events.iter().map(|(frame, _, message)| (*frame, 0, *message)).collect();
    Performance { events, ..performance.clone() }
}

pub fn on(key: u8, velocity: u8) -> InputMessage {
    InputMessage::NoteOn { pitch: Pitch::new(key), velocity: Velocity::new(i32::from(velocity)) }
}

pub fn off(key: u8) -> InputMessage {
    InputMessage::NoteOff { pitch: Pitch::new(key) }
}

fn play_chords(
    dice: &mut Dice,
    hands: &Hands,
    chords: &mut [Struck],
    end: u64,
    events: &mut Vec<(u64, u8, InputMessage)>,
) {
    if hands.leaving == Leaving::Pedalling {
        events.push((0, 1, InputMessage::Sustain(true)));
    }
    if hands.leaving == Leaving::KeepingCommonKeys {
        for n in 1..chords.len() {
            let (before, here) = (&chords[n - 1].keys, &chords[n].keys);
            let kept = here.iter().map(|(_, key)| *key).filter(|key| before.iter().any(|(_, k)| k == key));
            let kept: Vec<u8> = kept.collect();
            if kept.len() < here.len() {
                chords[n].kept = kept;
            }
        }
    }
    for (n, chord) in chords.iter().enumerate() {
        let next = chords.get(n + 1);
        let leave = next.map_or(end, Struck::first);
        let lift = match hands.leaving {
            Leaving::Lifting => leave.saturating_sub(frames(dice.within(20.0, 150.0))),
            Leaving::Overlapping | Leaving::KeepingCommonKeys => leave + frames(dice.within(0.0, 30.0)),
            Leaving::Short | Leaving::Pedalling => chord.complete() + frames(dice.within(80.0, 300.0)),
        };
        for (at, key) in &chord.keys {
            if !chord.kept.contains(key) {
                events.push((*at, 1, on(*key, 70)));
            }
            let again = next.and_then(|c| c.keys.iter().find(|(_, k)| k == key)).map(|(at, _)| *at);
            if next.is_some_and(|next| next.kept.contains(key)) {
                continue;
            }
            let mut up = (lift as f64 + dice.normal(0.0, 5.0) * RATE / 1_000.0).max(0.0) as u64;
            if let Some(again) = again {
                up = up.min(again.saturating_sub(frames(15.0)));
            }
            events.push((up.max(at + 1), 1, off(*key)));
        }
        if dice.chance(hands.slips) {
            let (_, near) = dice.pick(&chord.keys);
            let wrong = (i16::from(near) + dice.pick(&[-2, -1, 1, 2])) as u8;
            let held = |c: &Struck| c.keys.iter().any(|(_, k)| *k == wrong);
            if !held(chord) && !chords.get(n.wrapping_sub(1)).is_some_and(held) {
                let last = chord.complete() - chord.first();
                let at = chord.first() + (dice.within(0.0, 1.0) * last as f64) as u64;
                events.push((at, 1, on(wrong, 40)));
                events.push((at + frames(dice.within(20.0, 80.0)), 1, off(wrong)));
            }
        }
        if hands.leaving == Leaving::Pedalling {
            // Up with the chord, down again after it: the pedal overlaps the change.
            let up = chord.complete() + frames(dice.within(5.0, 40.0));
            events.push((up, 1, InputMessage::Sustain(false)));
            events.push((up + frames(dice.within(20.0, 35.0)), 1, InputMessage::Sustain(true)));
        }
    }
}

fn play_melody(dice: &mut Dice, beat: f64, end: u64, tonic: u8, events: &mut Vec<(u64, u8, InputMessage)>) {
    let scale = [0u8, 2, 4, 5, 7, 9, 11];
    let mut step = 7i32;
    let mut at = beat;
    loop {
        let long = dice.pick(&[0.5, 0.5, 0.5, 0.5, 1.0, 1.0, 2.0, 3.0, 4.0]) * beat;
        let onset = (at + dice.normal(0.0, 15.0) * RATE / 1_000.0) as u64;
        at += long;
        if at as u64 >= end {
            return;
        }
        step = (step + dice.below(5) as i32 - 2).clamp(2, 14);
        let key = 67 + tonic % 5 + scale[step as usize % 7] + 12 * (step as u8 / 7) - 7;
        events.push((onset, 0, on(key, 85)));
        events.push((((at - frames(45.0) as f64) as u64).max(onset + 1), 0, off(key)));
    }
}
