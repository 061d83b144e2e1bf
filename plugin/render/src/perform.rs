//! The host of the offline world: drives the engine along a tempo map and keeps what it plays.
//!
//! Blocks are cut so that the transport is constant inside each; all cuts lie at frames that follow from the
//! music alone, so the block size changes nothing. Deliberately absent: real time, and sound.

mod excerpt;
mod fold;
mod host;
mod join;
mod keep;

use figwort_engine::{Decision, Figure, Hand, Settings, Source};
use figwort_sheet::take::{Take, TakeMessage};
use figwort_sheet::{Sheet, TempoChange};
use figwort_theory::{Chord, Key, Metre, Moment, Pitch, Span, Velocity};

use crate::chart::OwnedChart;
use crate::perform::host::{Input, Script};
use crate::tempo::TempoMap;

/// How to perform.
#[derive(Clone, Debug)]
pub struct Options {
    /// Frames per second, 1000 to 1 000 000; values outside are brought in.
    pub sample_rate: u32,
    /// Longest block in frames, at least 1. The music does not depend on it.
    pub block: u32,
    /// The engine's settings. [`arrange`] sets `source` and `finish` itself.
    pub settings: Settings,
    /// The figure book.
    pub figures: Vec<Figure>,
}

impl Default for Options {
    fn default() -> Self {
        Self { sample_rate: 48_000, block: 8_192, settings: Settings::default(), figures: Vec::new() }
    }
}

impl Options {
    /// How to perform what is to be written as sheet music: dry, and on a clock on which every tick can be told
    /// from its neighbours.
    #[must_use]
    pub fn notated(&self) -> Self {
        let settings = Settings { dry: true, ..self.settings };
        Self { sample_rate: 1_000_000, block: 1 << 18, settings, figures: self.figures.clone() }
    }

    /// The sample rate, in its range.
    fn rate(&self) -> u32 {
        self.sample_rate.clamp(1_000, 1_000_000)
    }
}

/// What was played, in frames and in musical time.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Performance {
    /// The sheet's title; empty for a take.
    pub title: String,
    /// Who wrote the tune, where the sheet says.
    pub composer: Option<String>,
    /// Frames per second.
    pub sample_rate: u32,
    /// All notes, by onset, then hand, then pitch.
    pub notes: Vec<PlayedNote>,
    /// The accompaniment's pedal, by time; alternately down and up.
    pub pedal: Vec<PedalChange>,
    /// The engine's decisions, in the order they were made.
    pub decisions: Vec<Decision>,
    /// The bars, each beginning where the one before ends, the first at zero.
    pub bars: Vec<PlayedBar>,
    /// Chord symbols, by time.
    pub chords: Vec<ChordMark>,
    /// Headings over the music, by time: what begins there.
    pub headings: Vec<(Moment, String)>,
    /// Tempo changes, by time, the first at zero.
    pub tempos: Vec<TempoChange>,
    /// End of the music in musical time: of the last bar, or of the last note if that is later.
    pub end: Moment,
    /// The frame at which the music is over: `end`, or the last note-off if that is later.
    pub end_frame: u64,
    /// Notes that the engine began and never ended; they are ended at `end_frame` here. Always zero unless
    /// the engine is at fault.
    pub hanging: usize,
}

/// A note that was played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PlayedNote {
    /// Who played it.
    pub hand: Hand,
    /// Which pitch.
    pub pitch: Pitch,
    /// How strong.
    pub velocity: Velocity,
    /// Its first frame.
    pub on: u64,
    /// The frame of its note-off, never before `on`.
    pub off: u64,
    /// `on` in musical time, to the nearest tick.
    pub at: Moment,
    /// From `on` to `off` in musical time.
    pub length: Span,
}

impl PlayedNote {
    /// Where it ends.
    pub fn end(&self) -> Moment {
        self.at + self.length
    }
}

/// A movement of the accompaniment's sustain pedal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PedalChange {
    /// When, in frames.
    pub frame: u64,
    /// When, in musical time.
    pub at: Moment,
    /// Down or up.
    pub down: bool,
}

/// A bar as it was played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PlayedBar {
    /// Its beginning.
    pub start: Moment,
    /// Its actual length.
    pub length: Span,
    /// Its metre.
    pub metre: Metre,
    /// Its key.
    pub key: Key,
    /// Its number as written; a pick-up is 0.
    pub number: u32,
    /// Whether a section begins here.
    pub section: bool,
}

impl PlayedBar {
    /// Where it ends.
    pub fn end(&self) -> Moment {
        self.start + self.length
    }
}

/// A chord symbol over the music.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChordMark {
    /// From when. In [`follow`], on the beat that the chord was played at, where it was near one.
    pub at: Moment,
    /// The symbol in plain text, `b` for flat and `#` for sharp; `N.C.` for no chord.
    pub text: String,
    /// The chord.
    pub chord: Option<Chord>,
}

/// Beats that a sheet's last notes may go on after its last bar.
const SHEET_TAIL: i64 = 8;
/// A change of chord this soon after another is its refinement, not a new chord: hands take time to arrive.
/// In milliseconds; twice the time that the engine takes to commit a chord, and well under a slow semiquaver.
const REFINEMENT_MS: u64 = 70;

/// Plays a whole sheet with everything known: harmony and melody come from the sheet, and the sheet's last
/// change of harmony is the final chord.
pub fn arrange(sheet: &Sheet, options: &Options) -> Performance {
    let map = TempoMap::new(&sheet.tempos, options.rate());
    let chart = OwnedChart::of(sheet);
    let bars: Vec<PlayedBar> = sheet
        .bars
        .iter()
        .map(|bar| PlayedBar {
            start: bar.start,
            length: bar.length,
            metre: bar.metre,
            key: bar.key,
            number: bar.number,
            section: bar.section,
        })
        .collect();
    let beat = bars.last().map_or(Span::QUARTER, |bar| bar.metre.beat());
    let script = Script {
        bars: &bars,
        chart: Some(chart.chart()),
        input: &[],
        finish: finish_at(sheet),
        end: sheet.end,
        latest: sheet.end + beat * SHEET_TAIL,
        beat,
    };
    let options =
        Options { settings: Settings { source: Source::Chart, ..options.settings }, ..options.clone() };
    let kept = host::run(&script, &map, &options);
    let chords = sheet
        .chords
        .iter()
        .map(|change| ChordMark {
            at: change.at,
            text: change.symbol.to_string(),
            chord: change.symbol.chord,
        })
        .collect();
    let mut performance = kept.performance(&map, sheet.end);
    performance.title.clone_from(&sheet.title);
    performance.composer.clone_from(&sheet.composer);
    performance.bars = bars;
    performance.chords = chords;
    performance
}

/// When the final chord begins: at the sheet's last change of harmony where that lies in its last two bars;
/// otherwise (the last chord has long been there) at the beginning of the last bar. `None` without bars or
/// chords.
pub fn finish_at(sheet: &Sheet) -> Option<Moment> {
    let last_bar = sheet.bars.last()?.start;
    let near_end = sheet.bars.iter().rev().nth(1).map_or(last_bar, |bar| bar.start);
    let last_change = sheet.chords.iter().rev().find(|change| change.symbol.chord.is_some())?.at;
    Some(if last_change >= near_end { last_change } else { last_bar })
}

/// Plays a recorded take through the live engine, event by event, knowing nothing of what is to come. The
/// transport runs from zero to the end of the beat in which the take ends, then stops.
pub fn follow(take: &Take, options: &Options) -> Performance {
    let map = TempoMap::new(&take.tempos, options.rate());
    let input: Vec<Input> = take
        .events
        .iter()
        .filter_map(|event| Some((map.frame_at(event.at), event.channel, message(event.message)?)))
        .collect();
    let last = take.events.iter().map(|event| event.at).max().unwrap_or(Moment::ZERO);
    let end = take.end.max(last);
    let bars = bars_of(take, end);
    let (beat, latest) = bars.last().map_or((Span::QUARTER, end), |bar| {
        let beat = bar.metre.beat();
        let into = (end - bar.start).0.rem_euclid(beat.0.max(1));
        (beat, if into == 0 { end } else { end + Span(beat.0 - into) })
    });
    let script = Script { bars: &bars, chart: None, input: &input, finish: None, end, latest, beat };
    let kept = host::run(&script, &map, options);
    let key = take.key.unwrap_or_default();
    let mut chords = kept.chord_marks(key, REFINEMENT_MS * u64::from(options.rate()) / 1_000);
    write_on_the_beat(&mut chords, &bars);
    let bar_end = bars.last().map_or(end, PlayedBar::end);
    let mut performance = kept.performance(&map, bar_end);
    performance.bars = bars;
    performance.chords = chords;
    performance
}

/// Hands come a little before or after the beat; a symbol is written on it. One that is within an eighth of a
/// beat of a felt beat is moved there. Of two on one beat the later stays.
pub fn write_on_the_beat(chords: &mut Vec<ChordMark>, bars: &[PlayedBar]) {
    for mark in chords.iter_mut() {
        let after = bars.partition_point(|bar| bar.start <= mark.at);
        let Some(bar) = bars.get(after.saturating_sub(1)) else { continue };
        let beat = bar.metre.beat().0.max(1);
        let into = (mark.at - bar.start).0;
        // The last beat of a bar may be a short one; the next bar's beginning is a beat too.
        let nearest = bar.start + Span((into + beat / 2).div_euclid(beat) * beat).min(bar.length);
        if (mark.at - nearest).0.abs() * 8 <= beat {
            mark.at = nearest;
        }
    }
    chords.reverse();
    chords.dedup_by_key(|mark| mark.at);
    chords.reverse();
}

/// A player's message as the engine takes it; `None` for what it has no use for.
fn message(message: TakeMessage) -> Option<figwort_engine::InputMessage> {
    use figwort_engine::InputMessage;
    match message {
        TakeMessage::NoteOn { pitch, velocity } => Some(InputMessage::NoteOn { pitch, velocity }),
        TakeMessage::NoteOff { pitch } => Some(InputMessage::NoteOff { pitch }),
        TakeMessage::Sustain(down) => Some(InputMessage::Sustain(down)),
        _ => None,
    }
}

/// The bars that a take's metres make, from zero until `end` lies in or at the end of the last. A metre that
/// changes within a bar cuts it short, as MIDI means it.
fn bars_of(take: &Take, end: Moment) -> Vec<PlayedBar> {
    let key = take.key.unwrap_or_default();
    let mut bars = Vec::new();
    let mut start = Moment::ZERO;
    while start < end || bars.is_empty() {
        let metre = take
            .metres
            .iter()
            .rev()
            .find(|change| change.at <= start)
            .map_or(Metre::FOUR_FOUR, |change| change.metre);
        let full = start + metre.bar();
        let stop = take
            .metres
            .iter()
            .find(|change| change.at > start && change.at < full)
            .map_or(full, |change| change.at);
        let number = u32::try_from(bars.len() + 1).unwrap_or(u32::MAX);
        bars.push(PlayedBar { start, length: stop - start, metre, key, number, section: false });
        start = stop;
    }
    bars
}

#[cfg(test)]
mod tests;
