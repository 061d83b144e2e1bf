//! Random players and a random host around them.

use figwort_engine::{
    Chart, Colour, Figure, InputEvent, InputMessage, Manner, Settings, Source, Start, Transport,
};
use figwort_preset::Library;
use figwort_render::chart::OwnedChart;
use figwort_theory::{Metre, Pitch, Velocity};

use super::{FRAMES, RATE};

/// The one that the engine's own tests throw.
#[path = "../../../plugin/engine/tests/support/dice.rs"]
mod dice;

use dice::Dice;

/// Beats and beat values that the host's metre is drawn from; some have no figures.
const METRES: [(u8, u8); 12] =
    [(4, 4), (4, 4), (3, 4), (2, 4), (6, 8), (9, 8), (12, 8), (5, 4), (7, 8), (2, 2), (11, 16), (1, 32)];

/// A key that is down, and the frame at which it comes up.
#[derive(Clone, Copy, Debug)]
struct Down {
    key: u8,
    channel: u8,
    until: u64,
}

/// The player, the automation and the host's transport.
pub(super) struct Player<'a> {
    dice: Dice,
    frame: u64,
    manners: Vec<(Manner, Vec<Figure>)>,
    own: usize,
    manner: usize,
    charts: &'a [OwnedChart],
    chart: Option<usize>,
    settings: Settings,
    transport: Transport,
    told: Transport,
    beats: f64,
    looped: Option<(f64, f64)>,
    down: Vec<Down>,
    pedal: bool,
    next_chord: u64,
    next_note: u64,
    /// Beats between melody notes: whether the player runs or stands.
    pace: f64,
    input: Vec<InputEvent>,
    room: usize,
    cramped: u32,
    reset: bool,
    sent: u64,
    turns: u64,
    changes: u64,
}

impl<'a> Player<'a> {
    pub(super) fn new(library: &Library, manner: &str, charts: &'a [OwnedChart], seed: u64) -> Self {
        let names: Vec<String> = library.manners().map(|entry| entry.name.to_owned()).collect();
        let own = names.iter().position(|name| name == manner).unwrap();
        let manners = names
            .iter()
            .map(|name| library.manner(name).unwrap())
            .map(|resolved| (resolved.manner, resolved.figures))
            .collect();
        let mut player = Self {
            dice: Dice(seed),
            frame: 0,
            manners,
            own,
            manner: own,
            charts,
            chart: None,
            settings: Settings::default(),
            transport: Transport::default(),
            told: Transport::default(),
            beats: 0.0,
            looped: None,
            down: Vec::with_capacity(256),
            pedal: false,
            next_chord: 0,
            next_note: 0,
            pace: 0.5,
            input: Vec::with_capacity(256),
            room: usize::MAX,
            cramped: 0,
            reset: false,
            sent: 0,
            turns: 0,
            changes: 0,
        };
        player.transport =
            Transport { playing: true, tempo: Some(100.0), metre: Metre::new(4, 4), ..Transport::default() };
        player.use_manner(own);
        player
    }

    pub(super) fn settings(&self) -> &Settings {
        &self.settings
    }

    pub(super) fn figures(&self) -> &[Figure] {
        &self.manners[self.manner].1
    }

    pub(super) fn chart(&self) -> Option<Chart<'a>> {
        self.chart.map(|index| self.charts[index].chart())
    }

    /// What the host tells of its transport in this block.
    pub(super) fn told(&self) -> Transport {
        self.told
    }

    pub(super) fn input(&self) -> &[InputEvent] {
        &self.input
    }

    /// Events that the host takes in this block.
    pub(super) fn room(&self) -> usize {
        self.room
    }

    /// Whether the host resets the engine before this block.
    pub(super) fn resets(&self) -> bool {
        self.reset
    }

    /// Events sent, turns of the transport, changes of settings.
    pub(super) fn counts(&self) -> (u64, u64, u64) {
        (self.sent, self.turns, self.changes)
    }

    /// Thinks up the next block.
    pub(super) fn prepare(&mut self) {
        self.input.clear();
        self.turn();
        self.automate();
        self.play();
        self.input.sort_by_key(|event| event.offset);
        self.sent += self.input.len() as u64;
        self.advance();
    }

    /// All keys come up, the transport stops, and the settings are those in which silence follows.
    pub(super) fn lift_everything(&mut self) {
        self.input.clear();
        self.transport.playing = false;
        (self.settings.latch, self.settings.bypass) = (false, false);
        for key in self.down.drain(..) {
            let message = InputMessage::NoteOff { pitch: Pitch::new(key.key) };
            self.input.push(InputEvent { offset: 0, channel: key.channel, message });
        }
        for channel in 0..2 {
            let message = InputMessage::Sustain(false);
            self.input.push(InputEvent { offset: 0, channel, message });
        }
        self.pedal = false;
        self.sent += self.input.len() as u64;
        self.advance();
    }

    /// A block in which nobody does anything.
    pub(super) fn wait(&mut self) {
        self.input.clear();
        self.advance();
    }

    fn advance(&mut self) {
        // What the host tells is the state at the block's start, sometimes with parts left out.
        self.told = Transport { position: Some(self.beats), bar_start: self.bar_start(), ..self.transport };
        match self.dice.below(400) {
            0 => self.told = Transport { playing: self.transport.playing, ..Transport::default() },
            1 => self.told.bar_start = None,
            2 => self.told.metre = None,
            _ => {}
        }
        self.frame += u64::from(FRAMES);
        if self.transport.playing {
            let tempo = self.transport.tempo.unwrap_or(100.0);
            self.beats += f64::from(FRAMES) / RATE * tempo / 60.0;
            if let Some((from, to)) = self.looped
                && self.beats >= to
            {
                self.beats = from + (self.beats - to);
                self.turns += 1;
            }
        }
    }

    fn bar_start(&self) -> Option<f64> {
        let metre = self.transport.metre?;
        let bar = f64::from(metre.numerator()) * 4.0 / f64::from(metre.denominator());
        Some((self.beats / bar).floor() * bar)
    }

    /// The transport's surprises: about one in ten seconds.
    fn turn(&mut self) {
        if self.dice.below(7_500) > 0 {
            return;
        }
        self.turns += 1;
        match self.dice.below(7) {
            0 => self.transport.playing = !self.transport.playing,
            1 => self.beats = f64::from(self.dice.below(400)) * 0.5,
            2 => self.beats = self.dice.unit() * 200.0,
            3 => {
                let from = (self.beats / 4.0).floor() * 4.0;
                let length = [0.5, 1.0, 4.0, 8.0, 13.0][self.dice.below(5) as usize];
                self.looped = Some((from, from + length));
            }
            4 => {
                self.looped = None;
                self.transport.playing = true;
            }
            5 => self.transport.tempo = Some(30.0 + self.dice.unit() * 270.0),
            _ => {
                let (beats, value) = METRES[self.dice.below(METRES.len() as u32) as usize];
                self.transport.metre = Metre::new(beats, value);
            }
        }
    }

    fn use_manner(&mut self, index: usize) {
        self.manner = index;
        self.settings.manner = self.manners[index].0;
    }

    /// Settings, manners, sheets, a host without room, a reset.
    fn automate(&mut self) {
        self.reset = self.dice.below(200_000) == 0;
        if self.cramped > 0 {
            self.cramped -= 1;
            self.room = self.dice.below(3) as usize;
        } else {
            self.room = usize::MAX;
            if self.dice.below(40_000) == 0 {
                self.cramped = self.dice.below(40);
            }
        }
        if self.dice.below(1_500) > 0 {
            return;
        }
        self.changes += 1;
        let unit = self.dice.unit() as f32;
        let coin = self.dice.below(2) == 0;
        let wild = if self.dice.below(40) == 0 { f32::NAN } else { unit };
        let settings = &mut self.settings;
        match self.dice.below(21) {
            0 => settings.bypass = coin && unit < 0.3,
            1 => settings.source = source(&mut self.dice),
            2 => settings.latch = coin,
            3 => settings.elaboration = wild * 4.4 - 0.2,
            4 => settings.wait = wild * 4.0,
            5 => settings.start = if coin { Start::AfterWait } else { Start::ByChance },
            6 => settings.space = wild,
            7 => settings.reach = 10 + (unit * 8.0) as u8,
            8 => settings.clarity = (unit * 12.0) as i8 - 6,
            9 => settings.colour = [Colour::Plain, Colour::FromMelody, Colour::Added][(unit * 2.99) as usize],
            10 => settings.one_player = coin,
            11 => settings.level = (unit * 100.0) as i8 - 50,
            12 => settings.pedal = coin,
            13 => settings.dry = coin,
            14 => settings.tempo = f64::from(wild) * 400.0,
            15 => settings.seed = (unit * 1e6) as u32,
            16 => settings.finish = coin && unit < 0.3,
            17 => {
                let own = self.dice.below(3) > 0;
                let other = self.dice.below(self.manners.len() as u32) as usize;
                self.use_manner(if own { self.own } else { other });
            }
            18 | 19 => {
                self.chart = match self.charts.len() as u32 {
                    0 => None,
                    n => Some(self.dice.below(n) as usize).filter(|_| coin),
                };
            }
            _ => {
                let manner = &mut settings.manner;
                manner.parts_min = (unit * 8.0) as u8;
                manner.bass_low = Pitch::new((unit * 127.0) as u8);
                manner.accent = (unit * 60.0) as u8;
                manner.ostinato = coin;
            }
        }
    }

    fn play(&mut self) {
        let (from, to) = (self.frame, self.frame + u64::from(FRAMES));
        let mut index = 0;
        while index < self.down.len() {
            if self.down[index].until < to {
                let key = self.down.swap_remove(index);
                let offset = key.until.saturating_sub(from) as u32;
                self.send(offset, key.channel, InputMessage::NoteOff { pitch: Pitch::new(key.key) });
            } else {
                index += 1;
            }
        }
        if self.next_chord < to {
            self.chord();
        }
        if self.next_note < to {
            self.note();
        }
        match self.dice.below(6_000) {
            0 => {
                self.pedal = !self.pedal;
                self.send(0, 1, InputMessage::Sustain(self.pedal));
            }
            1 => {
                let value = self.dice.below(128) as u8;
                self.send(63, 0, InputMessage::Other([0xb0, 1, value]));
            }
            // A cat on the keyboard.
            2 => {
                for _ in 0..self.dice.below(30) {
                    let (key, offset) = (self.dice.below(128) as u8, self.dice.below(FRAMES));
                    self.press(offset, key, self.frame.is_multiple_of(128), 0.4);
                }
            }
            _ => {}
        }
    }

    fn beat(&self) -> f64 {
        RATE * 60.0 / self.transport.tempo.unwrap_or(100.0)
    }

    fn chord(&mut self) {
        let root = 36 + self.dice.below(20) as u8;
        let shapes: [&[u8]; 8] = [
            &[0, 4, 7],
            &[0, 3, 7],
            &[0, 4, 7, 10],
            &[0, 3, 7, 10],
            &[0, 4, 10],
            &[0, 7],
            &[0, 3, 6, 9],
            &[0, 4, 7, 11, 14],
        ];
        let shape = shapes[self.dice.below(8) as usize];
        let beats = [0.5, 1.0, 2.0, 4.0, 4.0, 8.0][self.dice.below(6) as usize];
        let held = beats * (0.5 + self.dice.unit() * 0.6);
        for step in shape {
            let late = self.dice.below(FRAMES);
            self.press(late, root + step, true, held);
        }
        let early = self.dice.unit() * 0.1 - 0.05;
        self.next_chord = self.frame + ((beats + early) * self.beat()) as u64 + 1;
    }

    fn note(&mut self) {
        if self.dice.below(12) == 0 {
            self.pace = [0.02, 0.25, 0.5, 1.0, 3.0, 6.0][self.dice.below(6) as usize];
        }
        let key = 55 + self.dice.below(36) as u8;
        let held = self.pace * (0.3 + self.dice.unit());
        let offset = self.dice.below(FRAMES);
        self.press(offset, key, false, held);
        self.next_note = self.frame + (self.pace * self.beat()) as u64 + 1;
    }

    /// A key goes down for a number of beats; a hand strikes no key that it holds.
    fn press(&mut self, offset: u32, key: u8, chord_hand: bool, beats: f64) {
        let channel = u8::from(chord_hand);
        if key > 127 || self.down.iter().any(|down| (down.key, down.channel) == (key, channel)) {
            return;
        }
        let velocity = Velocity::new(20 + self.dice.below(108) as i32);
        self.send(offset, channel, InputMessage::NoteOn { pitch: Pitch::new(key), velocity });
        // It comes up in a later block: within one, sorting might turn the two around.
        let until = self.frame + u64::from(FRAMES) + (beats * self.beat()) as u64;
        self.down.push(Down { key, channel, until });
    }

    fn send(&mut self, offset: u32, channel: u8, message: InputMessage) {
        self.input.push(InputEvent { offset, channel, message });
    }
}

fn source(dice: &mut Dice) -> Source {
    match dice.below(6) {
        0 => Source::Split(Pitch::new(dice.below(128) as u8)),
        1 | 2 => Source::Channels { melody: 0, harmony: 1 },
        3 => Source::Hands,
        4 => [Source::ChartHarmony, Source::ChartMelody][dice.below(2) as usize],
        _ => Source::Chart,
    }
}

impl Dice {
    fn below(&mut self, n: u32) -> u32 {
        (self.next() >> 32) as u32 % n
    }
}
