//! Sheets in the plugin: read off the audio thread, kept with their own bytes, lent to the engine as a chart.
//!
//! Deliberately absent: reading formats (the sheet crate's) and following (the engine's).

use std::collections::BTreeSet;
use std::path::Path;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use figwort_render::chart::OwnedChart;
use figwort_sheet::{Format, Sheet, limits};
use figwort_theory::{Metre, Moment, Span, TICKS_PER_QUARTER};
use serde::{Deserialize, Serialize};

use crate::clock::Bar;
use crate::files;

/// A sheet that was loaded.
#[derive(Clone, Debug)]
pub struct LoadedSheet {
    /// The file's name, without its folder.
    pub file: String,
    /// The sheet in playing order; its time starts at zero with its first bar.
    pub sheet: Sheet,
    /// Number and title of every tune in the file; fewer than two where there is no choice.
    pub tunes: Vec<(usize, String)>,
    /// The number of the tune that is loaded, where there is a choice.
    pub tune: Option<usize>,
    /// What was read with a doubt, and what is missing, in words.
    pub warnings: Vec<String>,
    /// The file itself.
    bytes: Vec<u8>,
}

impl LoadedSheet {
    /// Reads a sheet. `name` is the file's; `tune` chooses among several by number.
    ///
    /// # Errors
    /// In words: the file's name, what is wrong, what to do.
    pub fn read(name: &str, bytes: &[u8], tune: Option<usize>) -> Result<Self, String> {
        let mut tunes = match figwort_sheet::sniff(bytes) {
            Format::Abc => figwort_sheet::abc::tunes(bytes),
            _ => Vec::new(),
        };
        // Tunes are chosen by their numbers, which ABC wants to be different.
        let all = tunes.len();
        let mut seen = BTreeSet::new();
        tunes.retain(|tune| seen.insert(tune.0));
        let hidden = all - tunes.len();
        let tune = tune.or_else(|| tunes.first().map(|tune| tune.0)).filter(|_| tunes.len() > 1);
        let sheet = figwort_sheet::read(bytes, tune).map_err(|error| format!("{name}: {error}"))?;
        let mut warnings: Vec<String> = sheet.warnings.iter().map(ToString::to_string).collect();
        if hidden > 0 {
            warnings.push(format!(
                "{hidden} of the file's {all} tunes have the X: number of one before them and cannot be chosen; number \
                 them apart"
            ));
        }
        // That there are no symbols at all, or no melody, the reader has said.
        if !sheet.chords.is_empty() && sheet.chords.iter().all(|change| change.symbol.chord.is_none()) {
            warnings.push("there is no chord in this sheet: play the chords yourself, or add symbols".into());
        }
        Ok(Self { file: name.to_owned(), sheet, tunes, tune, warnings, bytes: bytes.to_owned() })
    }

    /// Reads a sheet from the disk.
    ///
    /// # Errors
    /// As [`LoadedSheet::read`], and when there is no such file, or it is none or too large.
    pub fn open(path: &Path) -> Result<Self, String> {
        let name = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
        let bytes = files::read(path, limits::MAX_BYTES as u64, "check that it is the right file")
            .map_err(|what| format!("{}: {what}", path.display()))?;
        Self::read(&name, &bytes, None)
    }

    /// Another tune of the same file, by its number.
    ///
    /// # Errors
    /// As [`LoadedSheet::read`].
    pub fn other_tune(&self, number: usize) -> Result<Self, String> {
        Self::read(&self.file, &self.bytes, Some(number))
    }

    /// The title, or the file's name where there is none.
    pub fn title(&self) -> &str {
        if self.sheet.title.is_empty() { &self.file } else { &self.sheet.title }
    }

    /// How many bars are played, repeats included.
    pub fn bars(&self) -> usize {
        self.sheet.bars.len()
    }

    /// The metre at the beginning.
    pub fn metre(&self) -> Metre {
        self.sheet.bars.first().map_or(Metre::FOUR_FOUR, |bar| bar.metre)
    }

    /// The tempo at the beginning, in quarter notes a minute.
    pub fn tempo(&self) -> f64 {
        let micros = self.sheet.tempos.first().map_or(figwort_sheet::DEFAULT_TEMPO, |t| t.micros_per_quarter);
        60e6 / f64::from(micros.max(1))
    }

    /// Where the sheet starts in the host's time when it starts in the host's bar `bar` (from 1): at that
    /// bar's beginning, or with a pick-up so that the pick-up ends with the bar. Bars are those of the sheet's
    /// first metre.
    pub fn start(&self, bar: i32) -> Moment {
        let length = self.metre().bar();
        let lead = match self.sheet.bars.first() {
            Some(first) if first.length < length => length - first.length,
            _ => Span::ZERO,
        };
        Moment::ZERO + length * i64::from(bar - 1) + lead
    }

    /// What the audio thread needs of it.
    pub(crate) fn score(&self) -> Score {
        Score {
            chart: OwnedChart::of(&self.sheet),
            first: self.start(1),
            metre: self.metre(),
            bars: self
                .sheet
                .bars
                .iter()
                .enumerate()
                .map(|(index, bar)| (bar.start, bar.start - self.sheet.place(index, bar.start), bar.metre))
                .collect(),
            tempos: self
                .sheet
                .tempos
                .iter()
                .map(|change| (change.at, 60e6 / f64::from(change.micros_per_quarter.max(1))))
                .collect(),
            finish: figwort_render::perform::finish_at(&self.sheet),
            own_tempo: OwnTempo::Unknown,
        }
    }
}

/// What the player has done about the tempo since a sheet came.
#[derive(Clone, Copy, Debug, PartialEq)]
enum OwnTempo {
    /// Nobody has asked yet.
    Unknown,
    /// Nothing: it stands where it stood, and the sheet's counts.
    Untouched(f64),
    /// It was chosen.
    Chosen,
}

/// A sheet as the audio thread follows it.
#[derive(Debug)]
pub(crate) struct Score {
    pub(crate) chart: OwnedChart,
    /// Where it starts in the host's time when it starts in the host's first bar.
    first: Moment,
    /// Its first metre.
    pub(crate) metre: Metre,
    /// Its bars: where each begins, where it would if it were whole, and its metre.
    bars: Vec<(Moment, Moment, Metre)>,
    /// Its tempos, each with where it begins, in quarter notes a minute.
    tempos: Vec<(Moment, f64)>,
    /// From when on the next chord is the last.
    pub(crate) finish: Option<Moment>,
    /// The player's own tempo when the sheet came, until another is chosen.
    own_tempo: OwnTempo,
}

impl Score {
    /// Where it starts in the host's time when it starts in the host's bar `bar`, from 1.
    pub(crate) fn start(&self, bar: i32) -> Moment {
        self.first + self.metre.bar() * i64::from(bar - 1)
    }

    /// The bar in which our own clock, which begins with the sheet's first bar, is at `position`, in quarter notes; after
    /// the last its metre goes on.
    pub(crate) fn bar_at(&self, position: f64) -> Bar {
        let ticks = (position * TICKS_PER_QUARTER as f64).round() as i64 - self.first.0;
        let count = self.bars.partition_point(|(at, ..)| at.0 <= ticks);
        let Some((_, whole, metre)) = self.bars.get(count.saturating_sub(1)) else {
            return Bar::first(self.metre);
        };
        let start = (*whole - Moment::ZERO + (self.first - Moment::ZERO)).in_quarters();
        Bar { start, metre: *metre }
    }

    /// The tempo where our own clock, which begins with the sheet's first bar, is at `position`, in quarter notes:
    /// the sheet's, until the player chooses an own tempo, which then stands for the sheet's first and takes the
    /// others with it.
    pub(crate) fn tempo_at(&mut self, position: f64, own: f64) -> f64 {
        self.own_tempo = match self.own_tempo {
            OwnTempo::Unknown => OwnTempo::Untouched(own),
            OwnTempo::Untouched(before) if before != own => OwnTempo::Chosen,
            known => known,
        };
        let ticks = position * TICKS_PER_QUARTER as f64 - self.first.0 as f64;
        let count = self.tempos.partition_point(|(at, _)| at.0 as f64 <= ticks);
        let (Some((_, first)), Some((_, here))) =
            (self.tempos.first(), self.tempos.get(count.saturating_sub(1)))
        else {
            return own;
        };
        if self.own_tempo == OwnTempo::Chosen { own * here / first } else { *here }
    }
}

/// A sheet in a project: the file itself.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct SheetTwin {
    file: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    tune: Option<usize>,
    #[serde(flatten)]
    content: Content,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Content {
    /// The file's text.
    Text(String),
    /// The bytes of a file that is no text, in base 64.
    Base64(String),
}

impl SheetTwin {
    pub(crate) fn of(loaded: &LoadedSheet) -> Self {
        let content = match std::str::from_utf8(&loaded.bytes) {
            Ok(text) => Content::Text(text.to_owned()),
            Err(_) => Content::Base64(STANDARD.encode(&loaded.bytes)),
        };
        Self { file: loaded.file.clone(), tune: loaded.tune, content }
    }

    pub(crate) fn load(&self) -> Result<LoadedSheet, String> {
        let bytes = match &self.content {
            Content::Text(text) => text.clone().into_bytes(),
            Content::Base64(text) => STANDARD.decode(text).map_err(|_| {
                format!("{}: the sheet kept in the project is damaged; load it again", self.file)
            })?,
        };
        LoadedSheet::read(&self.file, &bytes, self.tune)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TUNE: &[u8] = b"X:1\nT:Three\nM:3/4\nL:1/4\nK:C\nG|\"C\"CDE|\"F\"F3|\"G\"G3|\"C\"c2|]\n";

    #[test]
    fn a_pick_up_ends_with_the_bar_it_starts_in() {
        let loaded = LoadedSheet::read("three.abc", TUNE, None).expect("a tune");
        assert_eq!(loaded.title(), "Three");
        assert_eq!(loaded.start(1), Moment::quarters(2));
        assert_eq!(loaded.start(5), Moment::quarters(14));
        let score = loaded.score();
        assert_eq!(score.start(5), loaded.start(5));
    }

    #[test]
    fn tempo_is_the_sheets_until_the_player_chooses_one() {
        let tune = b"X:1\nM:4/4\nL:1/4\nQ:1/4=80\nK:C\n\"C\"CDEF|[Q:1/4=60]\"G\"G4|]\n";
        let mut score = LoadedSheet::read("a.abc", tune, None).expect("a tune").score();
        let mut at = |position, own| (score.tempo_at(position, own) * 1e3).round() / 1e3;
        assert_eq!(
            [at(0.0, 120.0), at(3.9, 120.0), at(4.0, 120.0), at(99.0, 120.0)],
            [80.0, 80.0, 60.0, 60.0]
        );
        // Chosen while it runs: half as fast, in proportion.
        assert_eq!([at(0.0, 40.0), at(4.0, 40.0)], [40.0, 30.0]);
        // Also the one that stood there before the sheet came.
        assert_eq!([at(0.0, 120.0), at(4.0, 120.0)], [120.0, 90.0]);
        // A pick-up begins where it lies in the first bar.
        let mut score = LoadedSheet::read("three.abc", TUNE, None).expect("a tune").score();
        let usual = 60e6 / f64::from(figwort_sheet::DEFAULT_TEMPO);
        assert!((score.tempo_at(0.0, 90.0) - usual).abs() < 0.1);
    }

    #[test]
    fn projects_keep_text_as_text_and_the_rest_too() {
        let loaded = LoadedSheet::read("three.abc", TUNE, None).expect("a tune");
        let twin = SheetTwin::of(&loaded);
        let json = serde_json::to_string(&twin).expect("JSON");
        assert!(json.contains("T:Three"), "{json}");
        let back: SheetTwin = serde_json::from_str(&json).expect("the same");
        assert_eq!(back.load().expect("a sheet").sheet, loaded.sheet);
        // A MIDI file is no text.
        let performance = figwort_render::arrange(&loaded.sheet, &Default::default());
        let midi = figwort_render::midi::write(&performance);
        let loaded = LoadedSheet::read("three.mid", &midi, None).expect("a sheet");
        let json = serde_json::to_string(&SheetTwin::of(&loaded)).expect("JSON");
        assert!(json.contains("base64"), "{json}");
        let back: SheetTwin = serde_json::from_str(&json).expect("the same");
        assert_eq!(back.load().expect("a sheet").sheet, loaded.sheet);
        let damaged = json.replace("TVRoZ", "!!!!!");
        let back: SheetTwin = serde_json::from_str(&damaged).expect("still JSON");
        assert!(back.load().expect_err("damaged").contains("three.mid"));
    }

    #[test]
    fn another_tune_of_the_file_is_chosen_and_kept() {
        let one =
            |number, title| format!("X:{number}\nT:{title}\nM:4/4\nL:1/4\nK:C\n\"C\"CDEF|\"G\"G4|]\n\n");
        let file = one(1, "High Tide") + &one(5, "Low Tide") + &one(5, "Slack Water");
        let first = LoadedSheet::read("tides.abc", file.as_bytes(), None).expect("tunes");
        assert_eq!((first.title(), first.tune), ("High Tide", Some(1)));
        assert_eq!(first.tunes, [(1, "High Tide".into()), (5, "Low Tide".into())]);
        assert!(first.warnings.iter().any(|warning| warning.starts_with("1 of the file's 3 tunes")));
        let second = first.other_tune(5).expect("a tune");
        assert_eq!((second.title(), second.tune), ("Low Tide", Some(5)));
        assert!(first.other_tune(7).expect_err("none").starts_with("tides.abc: "));
        let json = serde_json::to_string(&SheetTwin::of(&second)).expect("JSON");
        let back: SheetTwin = serde_json::from_str(&json).expect("the same");
        let back = back.load().expect("a sheet");
        assert_eq!((back.title(), back.tunes.len()), ("Low Tide", 2));
    }

    #[test]
    fn errors_name_the_file() {
        let error = LoadedSheet::read("letter.abc", b"Dear Anna,\n", None).expect_err("no sheet");
        assert!(error.starts_with("letter.abc: "), "{error}");
        let error = LoadedSheet::open(Path::new("no such file.abc")).expect_err("no file");
        assert!(error.starts_with("no such file.abc: "), "{error}");
    }
}
