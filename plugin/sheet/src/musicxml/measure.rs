//! One bar of one part, as the file has it: a cursor in divisions that notes move on, `backup` moves back and
//! `forward` moves ahead.
//!
//! All voices are kept, with their staff; which of them is the melody is decided later.

use figwort_theory::{Key, Metre, NoteName, Pitch, Span};

use super::attributes::{self, Transposition};
use super::direction;
use super::element::Element;
use super::harmony::{self, Harmony};
use crate::length::Exact;
use crate::limits;
use crate::written::MarkKind;

/// Most problems kept of one bar.
const MAX_PROBLEMS: usize = 20;
/// Most bars that one sign repeats.
const MAX_REPEATED: usize = 16;

/// What holds from bar to bar.
#[derive(Clone)]
pub(super) struct State {
    /// Divisions of a quarter note, as a fraction.
    divisions: (u32, u32),
    transposition: Transposition,
    key: Key,
    metre: Time,
    /// Where the last note began that was no chord's further note.
    onset: Exact,
    backups: u16,
    at: Exact,
    /// While signs stand for the bars before: how many bars back.
    repeated: Option<usize>,
    /// While slashes stand for notes.
    slashed: bool,
}

impl Default for State {
    fn default() -> Self {
        Self {
            divisions: (1, 1),
            transposition: Transposition::default(),
            key: Key::default(),
            metre: Time::Unstated,
            onset: Exact::ZERO,
            backups: 0,
            at: Exact::ZERO,
            repeated: None,
            slashed: false,
        }
    }
}

impl State {
    /// Comes to a new bar.
    pub(super) fn begin(&mut self) {
        self.onset = Exact::ZERO;
        self.at = Exact::ZERO;
        self.backups = 0;
    }

    /// A length in divisions.
    fn length(&self, text: &str) -> Option<Exact> {
        let (numerator, denominator) = attributes::decimal(text)?;
        let length = Exact::of(Span::QUARTER).times(numerator, denominator);
        let length = length.times(self.divisions.1, self.divisions.0);
        Some(length.at_most(Exact::of(Span::WHOLE * limits::MAX_NOTE_WHOLES)))
    }
}

/// A time signature, or what is there instead.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Time {
    /// The file has not said.
    Unstated,
    /// Without metre.
    Free,
    /// As stated.
    Metre(Metre),
}

/// A note or rest of any voice.
#[derive(Clone, Copy, Debug)]
pub(super) struct Event {
    pub(super) at: Exact,
    pub(super) length: Exact,
    /// Sounding pitch; `None` for rests.
    pub(super) pitch: Option<Pitch>,
    /// Whether a tie leads to the next note.
    pub(super) tied: bool,
    /// Whether a tie leads to it.
    pub(super) held: bool,
    pub(super) voice: u16,
    pub(super) staff: u16,
    /// Whether words are sung to it.
    pub(super) sung: bool,
}

/// Signs at the bar's edges.
#[derive(Clone, Debug, Default)]
pub(super) struct Edges {
    /// `|:`.
    pub(super) starts: bool,
    /// How often the section that ends here is played; 0 where none ends.
    pub(super) ends: u32,
    /// Whether it is repeated after a jump, too.
    pub(super) after_jump: bool,
    /// Double or thick bar lines to the left and right.
    pub(super) double_left: bool,
    pub(super) double_right: bool,
    /// The numbers of the ending that begins.
    pub(super) ending: Vec<u32>,
    /// Whether an ending is over.
    pub(super) ending_over: bool,
}

/// A bar of a part.
#[derive(Clone, Debug)]
pub(super) struct Measure {
    /// Its number, where it has one.
    pub(super) number: Option<u32>,
    /// Whether it is not counted, so that any length is right.
    pub(super) implicit: bool,
    pub(super) time: Time,
    pub(super) key: Key,
    /// How far its notes reach.
    pub(super) length: Exact,
    pub(super) events: Vec<Event>,
    pub(super) harmonies: Vec<(Exact, Harmony)>,
    /// Chord symbols written as words.
    pub(super) worded: Vec<(Exact, Harmony)>,
    /// Microseconds a quarter note.
    pub(super) tempos: Vec<(Exact, u32)>,
    /// Marks, and whether they stand before everything.
    pub(super) marks: Vec<(MarkKind, bool)>,
    pub(super) edges: Edges,
    /// A rehearsal mark or a name of a section.
    pub(super) section: bool,
    /// A sign stands for what is played so many bars before.
    pub(super) repeats: Option<usize>,
    pub(super) problems: Vec<String>,
}

impl Measure {
    pub(super) fn new(heading: &Element, state: &State) -> Self {
        Self {
            number: heading.attribute("number").and_then(|number| number.parse().ok()),
            implicit: heading.is("implicit", "yes"),
            time: state.metre,
            key: state.key,
            length: Exact::ZERO,
            events: Vec::new(),
            harmonies: Vec::new(),
            worded: Vec::new(),
            tempos: Vec::new(),
            marks: Vec::new(),
            edges: Edges::default(),
            section: false,
            repeats: state.repeated,
            problems: Vec::new(),
        }
    }

    fn problem(&mut self, text: impl Into<String>) {
        let text = text.into();
        if self.problems.len() < MAX_PROBLEMS && !self.problems.contains(&text) {
            self.problems.push(text);
        }
    }

    /// Takes up one element of the bar.
    pub(super) fn add(&mut self, element: &Element, state: &mut State) {
        match element.name.as_str() {
            "note" => self.note(element, state),
            "backup" => {
                let (at, too_far) = state.at.less(self.duration(element, state));
                if too_far {
                    self.problem("a voice is set back to before the bar; it begins with the bar");
                }
                state.at = at;
                state.backups = state.backups.saturating_add(1);
            }
            "forward" => {
                state.at = state.at.plus(self.duration(element, state));
                self.length = self.length.at_least(state.at);
            }
            "attributes" => self.attributes(element, state),
            "harmony" => {
                let at = self.place(element, state);
                self.harmonies.push((at, harmony::read(element, state.transposition, state.key)));
            }
            "direction" | "sound" => self.direction(element, state),
            "barline" => self.bar_line(element, state),
            _ => {}
        }
    }

    fn duration(&mut self, element: &Element, state: &State) -> Exact {
        let length = element.text("duration").and_then(|text| state.length(text));
        if length.is_none() {
            self.problem("a note or gap without a right duration takes no time");
        }
        length.unwrap_or(Exact::ZERO)
    }

    /// The cursor, moved by the element's offset.
    fn place(&self, element: &Element, state: &State) -> Exact {
        match element.text("offset") {
            Some(offset) => match offset.strip_prefix('-') {
                Some(back) => state.length(back).map_or(state.at, |back| state.at.less(back).0),
                None => state.length(offset).map_or(state.at, |ahead| state.at.plus(ahead)),
            },
            None => state.at,
        }
    }

    fn note(&mut self, note: &Element, state: &mut State) {
        if note.child("grace").is_some() {
            return;
        }
        let length = self.duration(note, state);
        let is_chord = note.child("chord").is_some();
        let at = if is_chord { state.onset } else { state.at };
        if !is_chord {
            state.onset = at;
            state.at = at.plus(length);
        }
        self.length = self.length.at_least(at.plus(length));
        if length == Exact::ZERO {
            return;
        }
        let is_cue = note.child("cue").is_some();
        // Slashes are beats or rhythms for whoever accompanies; they have no pitch, whatever is written.
        let is_slash = state.slashed || note.text("notehead") == Some("slash");
        let pitch = match note.child("pitch") {
            Some(pitch) if !is_cue && !is_slash => {
                let sounding = sounding(pitch, state.transposition);
                if sounding.is_none() {
                    self.problem("a note without a right pitch is read as a rest");
                }
                sounding
            }
            _ => None,
        };
        let is_tie = |way: &str| {
            let mut signs = note.all("notations").flat_map(|notations| notations.all("tied"));
            note.all("tie").any(|tie| tie.is("type", way)) || signs.any(|sign| sign.is("type", way))
        };
        let (tied, held) = (is_tie("start"), is_tie("stop"));
        // Without voices, each turn back begins another.
        let voice = note.number("voice").unwrap_or(state.backups.saturating_add(1));
        let staff = note.number("staff").unwrap_or(1);
        let sung = note.child("lyric").is_some();
        self.events.push(Event { at, length, pitch, tied, held, voice, staff, sung });
    }

    fn attributes(&mut self, element: &Element, state: &mut State) {
        if let Some(divisions) = element.text("divisions") {
            match attributes::decimal(divisions).filter(|(numerator, _)| *numerator > 0) {
                Some(divisions) => state.divisions = divisions,
                None => self.problem("divisions that are no positive number are passed over"),
            }
        }
        if let Some(transposition) = element.all("transpose").next() {
            state.transposition = attributes::transposition(transposition);
        }
        if let Some(key) = element.child("key") {
            match attributes::key(key) {
                Some(key) => state.key = state.transposition.key(key),
                None => self.problem("a key signature that is not by fifths is passed over"),
            }
        }
        if let Some(time) = element.child("time") {
            match attributes::time(time) {
                Some(time) => state.metre = time,
                // What is taken then, the whole sheet tells.
                None if state.metre == Time::Unstated => {}
                None => self.problem("a time signature is not understood; the one before it stays"),
            }
        }
        for style in element.all("measure-style").flat_map(|style| &style.children) {
            match style.name.as_str() {
                "measure-repeat" if style.is("type", "stop") => state.repeated = None,
                "measure-repeat" => {
                    state.repeated = Some(style.text.parse().unwrap_or(1).clamp(1, MAX_REPEATED));
                }
                "slash" => state.slashed = !style.is("type", "stop"),
                "beat-repeat" if !style.is("type", "stop") => {
                    self.problem("signs that repeat a beat are not played out; write the notes");
                }
                _ => {}
            }
        }
        self.repeats = state.repeated;
        // A change inside the bar holds from the next bar on.
        if self.length == Exact::ZERO {
            self.key = state.key;
            self.time = state.metre;
        }
    }

    fn direction(&mut self, element: &Element, state: &State) {
        let read = direction::read(element);
        let at = self.place(element, state);
        if let Some(tempo) = read.tempo {
            self.tempos.push((at, tempo));
        }
        for mark in read.marks {
            self.marks.push((mark, at == Exact::ZERO));
        }
        if let Some(symbol) = read.worded.filter(|_| state.transposition == Transposition::default()) {
            self.worded.push((at, Harmony { symbol: Some(symbol), doubt: None }));
        }
        if read.no_chord {
            self.harmonies.push((at, Harmony::NO_CHORD));
        }
        self.section |= read.section;
        self.edges.starts |= read.starts;
    }

    fn bar_line(&mut self, element: &Element, state: &State) {
        let is_left = match element.attribute("location") {
            Some(location) => location == "left",
            None => state.at == Exact::ZERO && self.length == Exact::ZERO,
        };
        let style = element.text("bar-style").unwrap_or_default();
        let is_double =
            matches!(style, "light-light" | "light-heavy" | "heavy-light" | "heavy-heavy" | "heavy");
        if element.is("location", "middle") {
            if element.child("repeat").is_some() {
                self.problem("a repeat sign inside a bar is not followed; divide the bar there");
            }
            return;
        }
        if is_left {
            self.edges.double_left |= is_double;
        } else {
            self.edges.double_right |= is_double;
        }
        if let Some(repeat) = element.child("repeat") {
            if repeat.is("direction", "forward") {
                self.edges.starts = true;
            } else {
                let times = repeat.attribute("times").and_then(|times| times.parse().ok());
                self.edges.ends = times.unwrap_or(2).clamp(2, limits::MAX_TIMES);
                self.edges.after_jump = repeat.is("after-jump", "yes");
            }
        }
        for ending in element.all("ending") {
            if ending.is("type", "start") {
                self.edges.ending = attributes::ending_numbers(ending);
            } else {
                self.edges.ending_over = true;
            }
        }
    }
}

/// The sounding pitch of a `pitch` element.
fn sounding(pitch: &Element, transposition: Transposition) -> Option<Pitch> {
    let step = attributes::step(pitch.text("step")?)?;
    // Quarter tones are heard as the semitone towards the natural note.
    let alter = pitch.number::<f64>("alter").unwrap_or(0.0).clamp(-3.0, 3.0) as i32;
    let octave: i32 = pitch.number("octave").filter(|octave| (0..=9).contains(octave))?;
    let natural = i32::from(NoteName::new(step, 0)?.class().number());
    Pitch::from_i32(12 * (octave + 1) + natural + alter + transposition.semitones())
}
