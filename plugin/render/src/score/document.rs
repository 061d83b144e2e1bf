//! The MusicXML document: a part with the melody and its chord symbols, and a piano part on two staves.

mod edges;

use figwort_sheet::TempoChange;
use figwort_sheet::page::PageBar;
use figwort_theory::{Mode, TICKS_PER_QUARTER};

use super::accidentals::Accidentals;
use super::bars::{VoiceBar, stave_bar};
use super::harmony;
use super::lengths::Value;
use super::marks::Pedal;
use super::page::Page;
use super::xml::Xml;
use crate::perform::Performance;

const DOCTYPE: &str = "score-partwise PUBLIC \"-//Recordare//DTD MusicXML 4.0 Partwise//EN\" \
                       \"http://www.musicxml.org/dtds/partwise.dtd\"";

/// The whole document; `written` where the bars are those of a page with repeat signs.
pub(super) fn write(page: &Page<'_>, notated: &Performance, written: &[PageBar]) -> String {
    let mut xml = Xml::new(DOCTYPE);
    xml.open("score-partwise", &[("version", "4.0")]);
    head(&mut xml, notated);
    let divisions = divisions(page, notated);
    let mut writer = Writer { xml, page, divisions, tempos: &notated.tempos, written };
    writer.melody();
    writer.piano();
    writer.xml.close("score-partwise");
    writer.xml.finish()
}

/// Who the arranger is.
const ARRANGER: &str = "accompaniment by Figwort";

/// A text at the top of the first page, with its place and size; none without text.
fn credit(xml: &mut Xml, kind: &str, (justify, size): (&str, &str), text: &str) {
    if text.is_empty() {
        return;
    }
    xml.open("credit", &[("page", "1")]);
    xml.leaf("credit-type", &[], kind);
    xml.leaf("credit-words", &[("font-size", size), ("justify", justify), ("valign", "top")], text);
    xml.close("credit");
}

fn head(xml: &mut Xml, notated: &Performance) {
    xml.open("work", &[]);
    xml.leaf("work-title", &[], &notated.title);
    xml.close("work");
    xml.open("identification", &[]);
    if let Some(composer) = &notated.composer {
        xml.leaf("creator", &[("type", "composer")], composer);
    }
    xml.leaf("creator", &[("type", "arranger")], ARRANGER);
    xml.open("encoding", &[]);
    xml.leaf("software", &[], concat!("Figwort ", env!("CARGO_PKG_VERSION")));
    for element in ["accidental", "beam", "stem"] {
        xml.empty("supports", &[("element", element), ("type", "yes")]);
    }
    xml.close("encoding");
    xml.close("identification");
    credit(xml, "title", ("center", "24"), &notated.title);
    credit(xml, "composer", ("right", "12"), notated.composer.as_deref().unwrap_or_default());
    credit(xml, "arranger", ("right", "10"), ARRANGER);
    xml.open("part-list", &[]);
    for (id, name, short) in [("P1", "Melody", ""), ("P2", "Piano", "Pno.")] {
        xml.open("score-part", &[("id", id)]);
        xml.leaf("part-name", &[], name);
        if !short.is_empty() {
            xml.leaf("part-abbreviation", &[], short);
        }
        xml.close("score-part");
    }
    xml.close("part-list");
}

/// The fewest divisions of a quarter in which every length and place is whole.
fn divisions(page: &Page<'_>, notated: &Performance) -> i64 {
    let mut common = TICKS_PER_QUARTER;
    let mut add = |ticks: i64| {
        let (mut a, mut b) = (common, ticks.abs());
        while b != 0 {
            (a, b) = (b, a % b);
        }
        common = a.max(1);
    };
    for bar in page.bars {
        add(bar.start.0);
        add(bar.length.0);
    }
    page.chords.iter().for_each(|(at, _)| add(*at));
    page.pedal.iter().for_each(|(at, _)| add(*at));
    page.headings.iter().for_each(|(at, _)| add(*at));
    notated.tempos.iter().for_each(|change| add(change.at.0));
    for voice in page.piano.iter().flatten().chain([&page.melody]) {
        for frame in &page.frames {
            for symbol in super::layout::layout(&voice.line, frame) {
                add(symbol.at);
                add(symbol.length);
            }
        }
    }
    TICKS_PER_QUARTER / common
}

/// A sign with its place in the bar, in ticks.
type Placed<'a> = (i64, Sign<'a>);

/// What is written between the notes.
#[derive(Clone, Copy)]
enum Sign<'a> {
    Chord(&'a figwort_theory::ChordSymbol),
    Heading(&'a str),
    Tempo(u32),
    Dynamic(&'a str),
    Pedal(Pedal),
}

struct Writer<'a> {
    xml: Xml,
    page: &'a Page<'a>,
    divisions: i64,
    tempos: &'a [TempoChange],
    /// The bars of the page with their repeat signs; none where all is written as it is played.
    written: &'a [PageBar],
}

impl<'a> Writer<'a> {
    fn in_divisions(&self, ticks: i64) -> i64 {
        ticks * self.divisions / TICKS_PER_QUARTER
    }

    fn melody(&mut self) {
        let page = self.page;
        self.xml.open("part", &[("id", "P1")]);
        let mut accidentals = Accidentals::default();
        let chords = placed(&page.chords, Sign::Chord);
        let headings = placed(&page.headings, |text| Sign::Heading(text));
        let tempos = self.tempos.iter();
        let tempos: Vec<Placed<'a>> =
            tempos.map(|change| (change.at.0, Sign::Tempo(change.micros_per_quarter))).collect();
        for index in 0..page.bars.len() {
            let Some(frame) = page.frames.get(index) else { continue };
            let Some(bar) = page.bars.get(index) else { continue };
            self.open_bar(index, true);
            self.attributes(index, &[0]);
            self.arrivals(index);
            accidentals.bar(bar.key);
            let mut signs = within(&headings, frame.start, frame.end);
            signs.extend(within(&tempos, frame.start, frame.end));
            signs.extend(within(&chords, frame.start, frame.end));
            signs.sort_by_key(|(at, _)| *at);
            for mut bar in stave_bar(&[&page.melody], frame, &mut accidentals) {
                self.tie_over_edges(index, &mut bar);
                self.voice(&bar, 1, None, &mut signs);
            }
            self.departures(index);
            self.close_bar(index, true);
        }
        self.xml.close("part");
    }

    fn piano(&mut self) {
        let page = self.page;
        self.xml.open("part", &[("id", "P2")]);
        let mut accidentals = [Accidentals::default(), Accidentals::default()];
        let dynamics = placed(&page.dynamics, |name| Sign::Dynamic(name));
        let pedal = placed(&page.pedal, |mark| Sign::Pedal(*mark));
        for index in 0..page.bars.len() {
            let Some(frame) = page.frames.get(index) else { continue };
            let Some(bar) = page.bars.get(index) else { continue };
            self.open_bar(index, false);
            self.attributes(index, &[1, 2]);
            let length = self.in_divisions(frame.end - frame.start);
            let mut is_first = true;
            for (stave, accidentals) in accidentals.iter_mut().enumerate() {
                accidentals.bar(bar.key);
                let marks = if stave == 0 { &dynamics } else { &pedal };
                // The pedal is let go at the end of the last bar, not at the beginning of one that isn't there.
                let end = if index + 1 == page.bars.len() { i64::MAX } else { frame.end };
                let mut signs = within(marks, frame.start, end);
                let Some(voices) = page.piano.get(stave) else { continue };
                let bars = stave_bar(&voices.each_ref(), frame, accidentals);
                for (voice, bar) in bars.iter().enumerate() {
                    if !is_first {
                        self.xml.open("backup", &[]);
                        self.xml.number("duration", length);
                        self.xml.close("backup");
                    }
                    is_first = false;
                    let number = stave * 4 + voice + 1;
                    self.voice(bar, number, Some(stave + 1), &mut signs);
                }
            }
            self.close_bar(index, false);
        }
        self.xml.close("part");
    }

    /// What is new in a bar: key, metre, clefs. `staves` are the indices of the part's clefs.
    fn attributes(&mut self, index: usize, staves: &[usize]) {
        let page = self.page;
        let Some(bar) = page.bars.get(index) else { return };
        let before = index.checked_sub(1).and_then(|before| page.bars.get(before));
        let key = before.is_none_or(|before| before.key != bar.key);
        let metre = before.is_none_or(|before| before.metre != bar.metre);
        let clef_of =
            |stave: usize, index: usize| page.clefs.get(stave).and_then(|clefs| clefs.get(index)).copied();
        let clefs: Vec<_> = staves
            .iter()
            .enumerate()
            .filter_map(|(number, stave)| {
                let clef = clef_of(*stave, index)?;
                let was = index.checked_sub(1).and_then(|before| clef_of(*stave, before));
                (was != Some(clef)).then_some((number, clef))
            })
            .collect();
        if !key && !metre && clefs.is_empty() {
            return;
        }
        let xml = &mut self.xml;
        xml.open("attributes", &[]);
        if index == 0 {
            xml.number("divisions", self.divisions);
        }
        if key {
            xml.open("key", &[]);
            xml.number("fifths", i64::from(bar.key.fifths()));
            xml.leaf("mode", &[], if bar.key.mode == Mode::Minor { "minor" } else { "major" });
            xml.close("key");
        }
        if metre {
            xml.open("time", &[]);
            xml.number("beats", i64::from(bar.metre.numerator()));
            xml.number("beat-type", i64::from(bar.metre.denominator()));
            xml.close("time");
        }
        let is_piano = staves.len() > 1;
        if index == 0 && is_piano {
            xml.number("staves", 2);
        }
        for (number, clef) in clefs {
            let number = (number + 1).to_string();
            let attributes: &[(&str, &str)] = if is_piano { &[("number", &number)] } else { &[] };
            let (sign, line) = clef.sign();
            xml.open("clef", attributes);
            xml.leaf("sign", &[], sign);
            xml.leaf("line", &[], line);
            xml.close("clef");
        }
        xml.close("attributes");
    }

    /// One voice of a bar, with the signs that stand by its notes; those that are written are taken out.
    fn voice(&mut self, bar: &VoiceBar<'_>, voice: usize, staff: Option<usize>, signs: &mut Vec<Placed<'a>>) {
        let count = bar.symbols.len();
        for index in 0..count {
            let Some(symbol) = bar.symbols.get(index) else { continue };
            let is_last = index + 1 == count;
            let until = if is_last { i64::MAX } else { symbol.at + symbol.length };
            let here = signs.iter().take_while(|(at, _)| *at < until).count();
            let here: Vec<Placed<'a>> = signs.drain(..here).collect();
            // What is exactly at the end of the last bar comes after its last note.
            let (before, after): (Vec<_>, Vec<_>) =
                here.into_iter().partition(|(at, _)| *at < symbol.at + symbol.length);
            for (at, sign) in before {
                self.sign(sign, at - symbol.at, staff);
            }
            self.symbol(bar, index, voice, staff);
            for (_, sign) in after {
                self.sign(sign, 0, staff);
            }
        }
    }

    fn symbol(&mut self, bar: &VoiceBar<'_>, index: usize, voice: usize, staff: Option<usize>) {
        let Some(symbol) = bar.symbols.get(index) else { return };
        let duration = self.in_divisions(symbol.length);
        let names = symbol.chord.and_then(|chord| bar.voice.names.get(chord));
        let is_spread =
            symbol.chord.and_then(|chord| bar.voice.spread.get(chord)).is_some_and(|spread| *spread);
        let count = names.map_or(1, Vec::len);
        let xml = &mut self.xml;
        for place in 0..count {
            let hidden: &[(&str, &str)] = if symbol.hidden { &[("print-object", "no")] } else { &[] };
            xml.open("note", hidden);
            if place > 0 {
                xml.empty("chord", &[]);
            }
            match names.and_then(|names| names.get(place)) {
                Some(name) => {
                    xml.open("pitch", &[]);
                    xml.leaf("step", &[], harmony::step(name.name));
                    if name.name.alter() != 0 {
                        xml.number("alter", i64::from(name.name.alter()));
                    }
                    xml.number("octave", i64::from(name.octave));
                    xml.close("pitch");
                }
                None if symbol.whole_bar => xml.empty("rest", &[("measure", "yes")]),
                None => xml.empty("rest", &[]),
            }
            xml.number("duration", duration);
            if symbol.tied_from {
                xml.empty("tie", &[("type", "stop")]);
            }
            if symbol.tied_to {
                xml.empty("tie", &[("type", "start")]);
            }
            xml.number("voice", voice as i64);
            if let Some(value) = symbol.value {
                xml.leaf("type", &[], value.name());
                if value.dotted {
                    xml.empty("dot", &[]);
                }
            }
            let shown = bar.accidentals.get(index).and_then(|shown| shown.get(place)).copied().flatten();
            if let Some(accidental) = shown {
                let attributes: &[(&str, &str)] =
                    if accidental.reminder { &[("cautionary", "yes")] } else { &[] };
                xml.leaf("accidental", attributes, accidental.name());
            }
            if let Some((actual, normal)) = symbol.ratio {
                xml.open("time-modification", &[]);
                xml.number("actual-notes", actual);
                xml.number("normal-notes", normal);
                xml.close("time-modification");
            }
            if let (Some(lower), Some(_)) = (bar.is_lower, names) {
                xml.leaf("stem", &[], if lower { "down" } else { "up" });
            }
            if let Some(staff) = staff {
                xml.number("staff", staff as i64);
            }
            if place == 0 {
                for (level, beam) in bar.beams.get(index).into_iter().flatten().enumerate() {
                    xml.leaf("beam", &[("number", &(level + 1).to_string())], beam.name());
                }
            }
            let ties = symbol.chord.is_some() && (symbol.tied_from || symbol.tied_to);
            let tuplet = place == 0 && (symbol.tuplet_starts || symbol.tuplet_stops);
            let spread = is_spread && !symbol.tied_from && symbol.chord.is_some();
            if ties || tuplet || spread {
                xml.open("notations", &[]);
                if symbol.tied_from {
                    xml.empty("tied", &[("type", "stop")]);
                }
                if symbol.tied_to {
                    xml.empty("tied", &[("type", "start")]);
                }
                if tuplet && symbol.tuplet_starts {
                    xml.empty("tuplet", &[("type", "start"), ("number", "1"), ("bracket", "yes")]);
                }
                if tuplet && symbol.tuplet_stops {
                    xml.empty("tuplet", &[("type", "stop"), ("number", "1")]);
                }
                if spread {
                    xml.empty("arpeggiate", &[]);
                }
                xml.close("notations");
            }
            xml.close("note");
        }
    }

    /// A sign, so many ticks after the place of writing.
    fn sign(&mut self, sign: Sign<'_>, offset: i64, staff: Option<usize>) {
        let offset = self.in_divisions(offset);
        let beat = self.page.bars.first().map_or(TICKS_PER_QUARTER, |bar| bar.metre.beat().0);
        let xml = &mut self.xml;
        let placement = match sign {
            Sign::Chord(symbol) => return harmony::write(xml, symbol, offset),
            Sign::Tempo(_) | Sign::Heading(_) => "above",
            Sign::Dynamic(_) | Sign::Pedal(_) => "below",
        };
        xml.open("direction", &[("placement", placement)]);
        xml.open("direction-type", &[]);
        match sign {
            Sign::Heading(text) => xml.leaf("rehearsal", &[], text),
            Sign::Tempo(micros) => metronome(xml, micros, beat),
            Sign::Dynamic(name) => {
                xml.open("dynamics", &[]);
                xml.empty(name, &[]);
                xml.close("dynamics");
            }
            Sign::Pedal(mark) => xml.empty("pedal", &[("type", mark.name()), ("line", "yes")]),
            Sign::Chord(_) => {}
        }
        xml.close("direction-type");
        if offset != 0 {
            xml.number("offset", offset);
        }
        if let Some(staff) = staff {
            xml.number("staff", staff as i64);
        }
        if let Sign::Tempo(micros) = sign {
            let quarters = 60e6 / f64::from(micros.max(1));
            let exact = format!("{quarters:.4}");
            xml.empty("sound", &[("tempo", exact.trim_end_matches('0').trim_end_matches('.'))]);
        }
        xml.close("direction");
    }
}

/// A metronome mark in felt beats, to the nearest whole number.
fn metronome(xml: &mut Xml, micros: u32, beat: i64) {
    let value = Value::of(beat).or_else(|| Value::of(TICKS_PER_QUARTER));
    let beat = if Value::of(beat).is_some() { beat } else { TICKS_PER_QUARTER };
    let rate = 60e6 / f64::from(micros.max(1)) * TICKS_PER_QUARTER as f64 / beat as f64;
    xml.open("metronome", &[]);
    if let Some(value) = value {
        xml.leaf("beat-unit", &[], value.name());
        if value.dotted {
            xml.empty("beat-unit-dot", &[]);
        }
    }
    xml.leaf("per-minute", &[], &format!("{rate:.0}"));
    xml.close("metronome");
}

fn placed<'a, T>(list: &'a [(i64, T)], sign: impl Fn(&'a T) -> Sign<'a>) -> Vec<Placed<'a>> {
    list.iter().map(|(at, what)| (*at, sign(what))).collect()
}

/// The signs of a bar, from its beginning. What comes before the music is at its beginning.
fn within<'a>(signs: &[Placed<'a>], from: i64, to: i64) -> Vec<Placed<'a>> {
    let first = signs.partition_point(|(at, _)| *at < from);
    let last = signs.partition_point(|(at, _)| *at < to);
    signs
        .get(first..last.max(first))
        .unwrap_or_default()
        .iter()
        .map(|(at, sign)| (at - from, *sign))
        .collect()
}
