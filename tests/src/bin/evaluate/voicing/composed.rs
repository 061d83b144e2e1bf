//! Songs with written-out accompaniment: a voice, and a piano part of two staves, from MusicXML.
//!
//! Bars as written, once each: no repeats. Grace and cue notes and tremolo strokes are left out, and so are
//! chord symbols, tempo and pedal. The upper staff counts as the right hand.

use std::fs;
use std::io::{Cursor, Read};
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};
use figwort_engine::Hand;
use figwort_theory::Span;
use quick_xml::events::{BytesStart, Event};

use super::piece::{Bar, Piece, Played};

/// Most bytes of an unpacked score.
const MOST: u64 = 64 << 20;

/// The folder of composed songs: in `FIGWORT_CORPUS`, in `../shared/corpus`, or beside the measured folder.
pub(crate) fn folder(measured: &Path) -> Option<PathBuf> {
    const NAME: &str = "openscore_lieder_cc0";
    let corpus = std::env::var_os("FIGWORT_CORPUS").map(PathBuf::from);
    let beside = measured.parent().map(Path::to_path_buf);
    let places = [corpus, beside, Some(PathBuf::from("../shared/corpus"))];
    places.into_iter().flatten().map(|place| place.join(NAME)).find(|folder| folder.is_dir())
}

/// Every song of a folder.
///
/// # Errors
/// The folder or a file in it can't be read.
pub(crate) fn songs(folder: &Path) -> Result<Vec<Piece>> {
    let entries = fs::read_dir(folder).with_context(|| format!("{} can't be read", folder.display()))?;
    let mut paths: Vec<_> = entries.map(|entry| entry.map(|e| e.path())).collect::<Result<_, _>>()?;
    paths.retain(|path| path.extension().is_some_and(|ending| ending == "mxl"));
    paths.sort();
    let song = |path: &PathBuf| {
        let xml = unpack(&fs::read(path)?)?;
        let name = path.file_stem().unwrap_or_default().to_string_lossy();
        read(&name, &xml).with_context(|| path.display().to_string())
    };
    paths.iter().map(song).collect()
}

/// The score in a compressed MusicXML file.
fn unpack(bytes: &[u8]) -> Result<String> {
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes))?;
    for n in 0..archive.len() {
        let file = archive.by_index(n)?;
        let name = String::from_utf8_lossy(file.name_raw()).into_owned();
        if name.starts_with("META-INF") || !(name.ends_with(".xml") || name.ends_with(".musicxml")) {
            continue;
        }
        let mut text = String::new();
        file.take(MOST).read_to_string(&mut text)?;
        return Ok(text);
    }
    bail!("holds no score")
}

/// One part: its notes with staves for hands, its bars' lengths in ticks and their numbers.
#[derive(Default)]
struct Part {
    /// Bar, place in it, length in ticks, key, staff, whether tied to the next, from the one before.
    notes: Vec<Written>,
    bars: Vec<(i64, u32)>,
    staves: u32,
}

#[derive(Clone, Copy, Default)]
struct Written {
    bar: usize,
    place: i64,
    length: i64,
    key: i32,
    staff: u32,
    ties_on: bool,
    tied: bool,
}

/// What is being read.
#[derive(Default)]
struct Reader {
    parts: Vec<Part>,
    divisions: i64,
    place: i64,
    /// Onset of the chord that `<chord/>` adds to, and the furthest place in the bar.
    onset: i64,
    furthest: i64,
    note: Written,
    step: i32,
    in_chord: bool,
    is_rest: bool,
    is_left_out: bool,
    text: String,
}

/// Reads a score.
fn read(name: &str, xml: &str) -> Result<Piece> {
    let mut source = quick_xml::Reader::from_str(xml);
    let mut reader = Reader { divisions: 1, ..Reader::default() };
    loop {
        match source.read_event()? {
            Event::Eof => break,
            Event::Start(tag) => reader.open(&tag),
            Event::Empty(tag) => {
                reader.open(&tag);
                reader.close(tag.name().as_ref());
            }
            Event::Text(text) => reader.text.push_str(&text),
            Event::End(tag) => reader.close(tag.name().as_ref()),
            _ => {}
        }
    }
    let piano = reader.parts.iter().position(|part| part.staves == 2).context("has no part of two staves")?;
    let voice = reader.parts.iter().position(|part| part.staves < 2).context("has no voice")?;
    Ok(piece(name, &reader.parts, voice, piano))
}

impl Reader {
    fn open(&mut self, tag: &BytesStart<'_>) {
        self.text.clear();
        match tag.name().as_ref() {
            "part" => self.parts.push(Part::default()),
            "measure" => {
                let number = tag.try_get_attribute("number").ok().flatten();
                let number = number.and_then(|n| n.value.parse().ok()).unwrap_or(0);
                (self.place, self.onset, self.furthest) = (0, 0, 0);
                if let Some(part) = self.parts.last_mut() {
                    part.bars.push((0, number));
                }
            }
            "note" => {
                self.note = Written { staff: 1, ..Written::default() };
                (self.in_chord, self.is_rest, self.is_left_out) = (false, false, false);
            }
            "chord" => self.in_chord = true,
            "rest" => self.is_rest = true,
            "grace" | "cue" => self.is_left_out = true,
            "tie" => {
                let kind = tag.try_get_attribute("type").ok().flatten();
                let starts = kind.is_some_and(|kind| kind.value.as_ref() == "start");
                self.note.ties_on |= starts;
                self.note.tied |= !starts;
            }
            _ => {}
        }
    }

    fn number(&self) -> i64 {
        self.text.trim().parse::<f64>().unwrap_or(0.0) as i64
    }

    fn close(&mut self, tag: &str) {
        match tag {
            "divisions" => self.divisions = self.number().max(1),
            "staves" => {
                let staves = self.number() as u32;
                if let Some(part) = self.parts.last_mut() {
                    part.staves = staves;
                }
            }
            "step" => {
                let step = "C D EF G A B".find(self.text.trim()).unwrap_or(0);
                self.step = i32::try_from(step).unwrap_or(0);
            }
            "alter" => self.note.key += self.number() as i32,
            "octave" => self.note.key += (self.number() as i32 + 1) * 12 + self.step,
            "duration" => self.note.length = self.number() * Span::QUARTER.0 / self.divisions,
            "staff" => self.note.staff = self.number() as u32,
            "backup" => self.go_to(self.place - self.note.length),
            "forward" => self.go_to(self.place + self.note.length),
            "note" => self.add(),
            "measure" => {
                let furthest = self.furthest;
                if let Some(bar) = self.parts.last_mut().and_then(|part| part.bars.last_mut()) {
                    bar.0 = furthest;
                }
            }
            _ => {}
        }
    }

    fn go_to(&mut self, place: i64) {
        self.place = place.max(0);
        self.furthest = self.furthest.max(self.place);
    }

    fn add(&mut self) {
        if self.is_left_out {
            return;
        }
        if !self.in_chord {
            self.onset = self.place;
            self.go_to(self.place + self.note.length);
        }
        let (onset, note) = (self.onset, self.note);
        if let Some(part) = self.parts.last_mut().filter(|_| !self.is_rest) {
            let bar = part.bars.len().saturating_sub(1);
            part.notes.push(Written { bar, place: onset, ..note });
        }
    }
}

fn piece(name: &str, parts: &[Part], voice: usize, piano: usize) -> Piece {
    let length =
        |n: usize| parts.iter().filter_map(|part| part.bars.get(n)).map(|bar| bar.0).max().unwrap_or(0);
    let mut piece = Piece { name: name.to_owned(), ..Piece::default() };
    let mut start = 0;
    for (n, (_, number)) in parts[piano].bars.iter().enumerate() {
        piece.bars.push(Bar { start, number: *number, key: None });
        start += length(n);
    }
    piece.end = start;
    for (n, is_voice) in [(voice, true), (piano, false)] {
        let mut notes: Vec<Played> = vec![];
        for note in &parts[n].notes {
            let Some(bar) = piece.bars.get(note.bar) else { continue };
            let at = bar.start + note.place;
            let end = at + note.length;
            let hand = match (is_voice, note.staff) {
                (true, _) => Hand::Melody,
                (_, 1) => Hand::Right,
                _ => Hand::Left,
            };
            let before = notes.iter_mut().rev().take(64).find(|n| n.key == note.key && n.end == at);
            match before.filter(|_| note.tied) {
                Some(before) => (before.end, before.silent) = (end, end),
                None => notes.push(Played { hand, key: note.key, at, end, silent: end }),
            }
        }
        piece.notes.extend(notes);
    }
    piece.notes.sort_by_key(|note| (note.at, note.key));
    piece
}

#[cfg(test)]
mod tests {
    use super::*;

    fn note(step: &str, octave: i32, duration: i32, more: &str) -> String {
        format!(
            "<note>{more}<pitch><step>{step}</step><octave>{octave}</octave></pitch>\
             <duration>{duration}</duration></note>"
        )
    }

    /// A voice G4 over C3 tied through both bars, E4 and G4 in a chord, a grace note, and a B♭ in bar 2.
    #[test]
    fn a_song_of_two_bars() {
        let staff = |n: i32, xml: String| xml.replace("</note>", &format!("<staff>{n}</staff></note>"));
        let flat = note("B", 4, 4, "").replace("</step>", "</step><alter>-1</alter>");
        let xml = format!(
            "<score-partwise><part id='1'><measure number='1'><attributes><divisions>1</divisions></attributes>\
             {}</measure><measure number='2'>{}</measure></part>\
             <part id='2'><measure number='1'><attributes><divisions>2</divisions><staves>2</staves></attributes>\
             {}{}{}<backup><duration>4</duration></backup>{}</measure>\
             <measure number='2'>{}<backup><duration>4</duration></backup>{}</measure></part></score-partwise>",
            note("G", 5, 2, ""),
            note("A", 5, 2, ""),
            staff(1, note("D", 4, 0, "<grace/>").replace("<duration>0</duration>", "")),
            staff(1, note("E", 4, 4, "")),
            staff(1, note("G", 4, 4, "<chord/>")),
            staff(2, note("C", 3, 4, "<tie type='start'/>")),
            staff(1, flat),
            staff(2, note("C", 3, 4, "<tie type='stop'/>")),
        );
        let piece = read("song", &xml).unwrap();
        let q = Span::QUARTER.0;
        let found: Vec<_> = piece.notes.iter().map(|n| (n.hand, n.key, n.at / q, n.end / q)).collect();
        assert_eq!(
            found,
            [
                (Hand::Left, 48, 0, 4),
                (Hand::Right, 64, 0, 2),
                (Hand::Right, 67, 0, 2),
                (Hand::Melody, 79, 0, 2),
                (Hand::Right, 70, 2, 4),
                (Hand::Melody, 81, 2, 4),
            ]
        );
        assert_eq!(piece.end, 4 * q);
        assert_eq!(piece.bars.iter().map(|bar| bar.number).collect::<Vec<_>>(), [1, 2]);
    }
}
