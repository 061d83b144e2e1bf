//! Guards the sheet music: every bar of every voice adds up, every written value is as long as it sounds, and
//! Figwort's own reader finds the tune, the chords and the bars again. All demo songs on all rungs in all manners,
//! and the open collections where they are.

#[path = "../../../tests/src/absent.rs"]
mod absent;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use figwort_engine::{Rung, Settings};
use figwort_preset::Library;
use figwort_render::{Options, Performance, arrange, follow, score};
use figwort_sheet::{Bar, Format, Page, Sheet};
use quick_xml::Reader;
use quick_xml::events::Event;

/// An element with what is in it.
#[derive(Debug, Default)]
struct Element {
    name: String,
    attributes: BTreeMap<String, String>,
    text: String,
    children: Vec<Element>,
}

impl Element {
    fn all<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a Element> {
        self.children.iter().filter(move |child| child.name == name)
    }
    fn child(&self, name: &str) -> Option<&Element> {
        self.children.iter().find(|child| child.name == name)
    }
    fn number(&self, name: &str) -> Option<i64> {
        self.child(name)?.text.parse().ok()
    }
}

fn parse(text: &str) -> Element {
    let mut reader = Reader::from_str(text);
    reader.config_mut().expand_empty_elements = true;
    let mut path = vec![Element::default()];
    loop {
        match reader.read_event().expect("well-formed") {
            Event::Start(start) => {
                let attributes = start.attributes().map(|attribute| {
                    let attribute = attribute.expect("an attribute");
                    (attribute.key.into_inner().to_owned(), attribute.value.into_owned())
                });
                let name = start.name().into_inner().to_owned();
                path.push(Element { attributes: attributes.collect(), name, ..Element::default() });
            }
            Event::End(_) => {
                let done = path.pop().expect("an element");
                path.last_mut().expect("a parent").children.push(done);
            }
            Event::Text(text) => {
                path.last_mut().expect("an element").text.push_str(text.xml10_content().trim())
            }
            Event::Eof => return path.pop().expect("the root"),
            _ => {}
        }
    }
}

/// Ticks of a written value in 256ths of a quarter, before tuplets.
fn value(note: &Element) -> Option<i64> {
    let name = note.child("type")?.text.as_str();
    let names = ["breve", "whole", "half", "quarter", "eighth", "16th", "32nd", "64th", "128th", "256th"];
    let plain = 2048 >> names.iter().position(|known| *known == name)?;
    Some(if note.child("dot").is_some() { plain * 3 / 2 } else { plain })
}

/// What was counted.
#[derive(Debug, Default)]
struct Counts {
    bars: usize,
    notes: usize,
    voices: usize,
}

/// Checks a score against the bars it should have.
fn check(text: &str, bars: &[(i64, i64)], counts: &mut Counts, what: &str) {
    let document = parse(text);
    let root = document.child("score-partwise").expect("a score");
    let has_signs = text.contains("<repeat ");
    let mut divisions = 0;
    for part in root.all("part") {
        let measures: Vec<&Element> = part.all("measure").collect();
        assert_eq!(measures.len(), bars.len(), "{what}: bars");
        let mut tied: BTreeMap<(i64, String), usize> = BTreeMap::new();
        for (index, measure) in measures.iter().enumerate() {
            let at = format!("{what}, part {}, bar {index}", part.attributes["id"]);
            if let Some(found) = measure.child("attributes").and_then(|it| it.number("divisions")) {
                divisions = found;
            }
            let length = bars[index].1 * divisions;
            assert_eq!(length % 20_160, 0, "{at}: divisions");
            let length = length / 20_160;
            let mut now = 0;
            let mut sums: BTreeMap<i64, i64> = BTreeMap::new();
            let mut staves: BTreeMap<i64, Vec<i64>> = BTreeMap::new();
            for element in &measure.children {
                match element.name.as_str() {
                    "note" => {
                        let duration = element.number("duration").expect("a duration");
                        let voice = element.number("voice").expect("a voice");
                        let staff = element.number("staff").unwrap_or(1);
                        assert!(duration > 0, "{at}");
                        if element.child("chord").is_none() {
                            let sum = sums.entry(voice).or_default();
                            assert_eq!(*sum, now, "{at}: a voice with a gap");
                            *sum += duration;
                            now += duration;
                            let voices = staves.entry(staff).or_default();
                            if !voices.contains(&voice) {
                                voices.push(voice);
                            }
                        }
                        let rest = element.child("rest");
                        let whole = rest.is_some_and(|rest| rest.attributes.contains_key("measure"));
                        if whole {
                            assert_eq!(duration, length, "{at}");
                        } else {
                            let written = value(element).unwrap_or_else(|| panic!("{at}: no value"));
                            let (actual, normal) = element.child("time-modification").map_or((1, 1), |it| {
                                (
                                    it.number("actual-notes").expect("a count"),
                                    it.number("normal-notes").expect("a count"),
                                )
                            });
                            assert_eq!(
                                duration * 256 * actual,
                                written * divisions * normal,
                                "{at}: a value"
                            );
                        }
                        if let Some(pitch) = element.child("pitch") {
                            counts.notes +=
                                usize::from(!element.all("tie").any(|tie| tie.attributes["type"] == "stop"));
                            let key = (voice_of_hand(staff), format!("{pitch:?}"));
                            for tie in element.all("tie") {
                                let open = tied.entry(key.clone()).or_default();
                                match tie.attributes["type"].as_str() {
                                    // In a second ending a tie comes from before the first.
                                    "stop" if has_signs => *open = open.saturating_sub(1),
                                    "stop" => {
                                        *open = open
                                            .checked_sub(1)
                                            .unwrap_or_else(|| panic!("{at}: a tie from nowhere"))
                                    }
                                    _ => *open += 1,
                                }
                            }
                        }
                    }
                    "backup" => now -= element.number("duration").expect("a duration"),
                    "forward" => panic!("{at}: a gap"),
                    _ => {}
                }
            }
            counts.bars += 1;
            counts.voices += sums.len();
            for (voice, sum) in sums {
                assert_eq!(sum, length, "{at}: voice {voice}");
            }
            for (staff, voices) in staves {
                assert!(voices.len() <= 2, "{at}: {} voices on stave {staff}", voices.len());
            }
        }
        assert!(has_signs || tied.values().all(|open| *open == 0), "{what}: a tie to nowhere");
    }
}

/// Ties are told apart by stave.
fn voice_of_hand(staff: i64) -> i64 {
    staff
}

fn bars_of(performance: &Performance) -> Vec<(i64, i64)> {
    performance.bars.iter().map(|bar| (bar.start.0, bar.length.0)).collect()
}

/// What has to come back of a sheet: notes; chords without neighbours alike; bars but for their numbers.
fn essence(sheet: &Sheet) -> String {
    let notes: Vec<_> =
        sheet.melody.iter().map(|note| (note.at.0, note.length.0, note.pitch.key())).collect();
    let chords: Vec<_> = sheet.chords.iter().map(|change| (change.at.0, change.symbol.to_string())).collect();
    let bar = |bar: &Bar| (bar.start.0, bar.length.0, bar.metre, bar.key, bar.section);
    let bars: Vec<_> = sheet.bars.iter().map(bar).collect();
    let tempos: Vec<_> = sheet.tempos.iter().map(|tempo| (tempo.at.0, tempo.micros_per_quarter)).collect();
    format!("{notes:?}\n{chords:?}\n{bars:?}\n{tempos:?}")
}

fn songs() -> Vec<(String, Sheet)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../presets/songs");
    let mut songs = Vec::new();
    for entry in fs::read_dir(folder).expect("the songs") {
        let path = entry.expect("an entry").path();
        if path.extension().is_some_and(|ending| ending == "abc") {
            let sheet = figwort_sheet::read(&fs::read(&path).expect("a song"), None).expect("a sheet");
            songs.push((path.file_stem().unwrap_or_default().to_string_lossy().into_owned(), sheet));
        }
    }
    assert!(songs.len() >= 3);
    songs
}

fn options(manner: &str, rung: Rung) -> Options {
    let manner = Library::factory().manner(manner).expect("the manner");
    let settings =
        Settings { elaboration: f32::from(rung as u8), manner: manner.manner, ..Settings::default() };
    Options { settings, figures: manner.figures, ..Options::default() }
}

/// Every demo song on every rung in every manner.
#[test]
fn bars_add_up_and_the_tune_comes_back() {
    let library = Library::factory();
    let mut counts = Counts::default();
    for (name, sheet) in songs() {
        for manner in library.manners() {
            for rung in Rung::ALL {
                let what = format!("{name}, {}, {}", manner.name, rung.name());
                let options = options(manner.name, rung);
                let notated = arrange(&sheet, &options.notated());
                let played = arrange(&sheet, &options);
                let text = score::musicxml(&notated, &played);
                check(&text, &bars_of(&notated), &mut counts, &what);
                let back = figwort_sheet::read(text.as_bytes(), None).expect("a sheet");
                assert_eq!(back.warnings, [], "{what}");
                assert_eq!(essence(&back), essence(&sheet), "{what}");
                assert_eq!(
                    (back.title, back.composer),
                    (sheet.title.clone(), sheet.composer.clone()),
                    "{what}"
                );
            }
        }
    }
    assert!(counts.bars > 10_000 && counts.notes > 50_000 && counts.voices > counts.bars, "{counts:?}");
}

/// What has to come back of a sheet whose repeats are kept as signs: all but where sections begin, as a sign begins
/// one.
fn essence_of_signs(sheet: &Sheet) -> String {
    let mut sheet = sheet.clone();
    sheet.bars.iter_mut().for_each(|bar| bar.section = false);
    essence(&sheet)
}

/// Demo songs with repeats, on one rung, with their repeats kept: bars add up, and by the signs they are played
/// as before.
#[test]
fn kept_repeats_play_the_same() {
    let options = options(Library::DEFAULT_MANNER, Rung::Flowing);
    let mut counts = Counts::default();
    let mut kept = 0;
    for (name, sheet) in songs() {
        let Page::Signs(page) = &sheet.page else { continue };
        kept += 1;
        let (notated, played) = (arrange(&sheet, &options.notated()), arrange(&sheet, &options));
        let text = score::musicxml_on_page(&notated, &played, page);
        check(&text, &bars_of(&notated.on_page(page)), &mut counts, &name);
        assert!(counts.bars < 2 * sheet.bars.len() * kept, "each bar once");
        let back = figwort_sheet::read(text.as_bytes(), None).expect("a sheet");
        assert_eq!(back.warnings, [], "{name}");
        assert_eq!(essence_of_signs(&back), essence_of_signs(&sheet), "{name}");
    }
    assert!(kept > 0 && counts.notes > 300, "{kept} songs, {counts:?}");
}

/// Signs of every kind: repeats without their partner, endings of several numbers, jumps, orders of parts, ties
/// over the edges, chords and tempos that come back with the repeat.
#[test]
fn signs_of_every_kind_come_back() {
    for body in [
        "|: \"C\"CDEF | \"G\"G4 :| \"Am\"ABcA | \"C\"c4 |]",
        "\"C\"CDEF | \"G\"G4 || \"Am\"ABcA | \"C\"c4 :|",
        "\"C\"CDEF |: \"C\"GABc | \"G\"B4 :|",
        "E |: \"C\"CDEF | \"G\"G3 E :| \"Am\"ABcA | \"C\"c3 |]",
        "|: \"C\"CDE-E- |1 \"G\"E4 :|2 \"C\"E2 c2 |]",
        "|: \"C\"CDEG- |1 \"Am\"A4 :|2 \"C\"G4 |]",
        "|: \"C\"CDEF |1,3 \"G\"G4 :|2 \"F\"F4 :|4 \"C\"C4 |] \"F\"A4 |]",
        "|:: \"C\"CDEF ::| \"G\"G4 |]",
        "\"C\"CDEF | \"G\"GABG !fine!|] [Q:1/4=90] \"F\"A4 | \"G7\"B4 !D.C.!|]",
        "\"C\"CDEF | !segno! \"G\"GABG | \"C\"c4 !dacoda!| \"F\"A4 | \"G7\"B4 !D.S.!|] !coda! \"Am\"A4 | \"C\"C4 |]",
        "P:A\n\"C\"CDEF | \"G\"G4 |\nP:B\n\"F\"A4 |",
    ] {
        let order = if body.starts_with("P:") { "P:AABA\n" } else { "" };
        let text = format!("X:1\nT:signs\n{order}M:4/4\nL:1/4\nQ:1/4=120\nK:C\n{body}\n");
        let sheet = figwort_sheet::read(text.as_bytes(), None).expect(body);
        let Page::Signs(page) = &sheet.page else { panic!("{body}: {:?}", sheet.page) };
        let options = options(Library::DEFAULT_MANNER, Rung::Shared).notated();
        let performance = arrange(&sheet, &options);
        let text = score::musicxml_on_page(&performance, &performance, page);
        check(&text, &bars_of(&performance.on_page(page)), &mut Counts::default(), body);
        let back = figwort_sheet::read(text.as_bytes(), None).expect("a sheet");
        assert_eq!(back.warnings, [], "{body}");
        assert_eq!(essence_of_signs(&back), essence_of_signs(&sheet), "{body}\n{text}");
    }
}

/// Every tune of the open collections whose order signs can tell, the melody alone.
#[test]
fn pages_of_the_corpus_come_back() {
    let mut differing = Vec::new();
    let (mut kept, mut beyond) = (0, 0);
    for path in corpus() {
        let bytes = fs::read(&path).expect("a file");
        let sheets = match figwort_sheet::sniff(&bytes) {
            Format::Abc => figwort_sheet::abc::read_all(&bytes).unwrap_or_default(),
            _ => vec![figwort_sheet::read(&bytes, None)],
        };
        for sheet in sheets.into_iter().flatten() {
            let page = match &sheet.page {
                Page::Signs(page) => page,
                Page::AsPlayed => continue,
                Page::BeyondSigns => {
                    beyond += 1;
                    continue;
                }
            };
            kept += 1;
            let bare = Options { figures: Vec::new(), ..Options::default() };
            let text = score::musicxml_on_page(&bars_alone(&sheet, &bare), &Performance::default(), page);
            let back = figwort_sheet::read(text.as_bytes(), None).expect("a sheet");
            if essence_of_signs(&back) != essence_of_signs(&sheet) {
                differing.push(format!("{}: {}", path.display(), sheet.title));
            }
        }
    }
    eprintln!("{kept} kept, {beyond} beyond signs, {} come back otherwise: {differing:#?}", differing.len());
    assert!(differing.len() * 100 <= kept, "{differing:#?}");
}

/// The bars of a sheet without anything played.
fn bars_alone(sheet: &Sheet, options: &Options) -> Performance {
    let silent = Sheet { chords: Vec::new(), melody: Vec::new(), ..sheet.clone() };
    arrange(&silent, options)
}

/// A part that was played by hand can be written down, too.
#[test]
fn a_take_is_written_down() {
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../../presets/songs/lamps-along-the-landing.take.mid");
    let take = figwort_sheet::take::read(&fs::read(path).expect("the take")).expect("a take");
    let mut options = options(Library::DEFAULT_MANNER, Rung::Flowing);
    options.settings.source = figwort_engine::Source::Channels { melody: 0, harmony: 1 };
    let notated = follow(&take, &options.notated());
    let text = score::musicxml(&notated, &follow(&take, &options));
    let mut counts = Counts::default();
    check(&text, &bars_of(&notated), &mut counts, "the take");
    assert!(counts.notes > 200, "{counts:?}");
    // Nothing finer than sixteenths and triplets.
    assert!(!text.contains("<type>32nd") && !text.contains("<type>64th"));
}

/// The files of the open collections; none where they are not.
fn corpus() -> Vec<PathBuf> {
    let corpus = std::env::var_os("FIGWORT_CORPUS")
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared/corpus"), PathBuf::from);
    let mut open = vec![corpus];
    let mut files = Vec::new();
    while let Some(folder) = open.pop() {
        for entry in fs::read_dir(&folder).into_iter().flatten().flatten() {
            let path = entry.path();
            if path.is_dir() {
                open.push(path);
            } else if path.extension().is_some_and(|ending| ending == "abc" || ending == "mxl") {
                files.push(path);
            }
        }
    }
    files.sort();
    files
}

/// The open collections, each sheet on the third rung.
#[test]
fn corpus_parts_add_up_and_come_back() {
    let files = corpus();
    if files.is_empty() {
        return absent::skipped(
            "no open collections in ../shared/corpus; FIGWORT_CORPUS names another folder",
        );
    }
    let options = options(Library::DEFAULT_MANNER, Rung::Flowing).notated();
    let (mut counts, mut sheets) = (Counts::default(), 0);
    let mut differing = Vec::new();
    for path in files {
        let bytes = fs::read(&path).expect("a file");
        for tune in [None, Some(2), Some(3)] {
            let Ok(sheet) = figwort_sheet::read(&bytes, tune) else { continue };
            if sheet.melody.len() > 2_000 {
                continue;
            }
            sheets += 1;
            let what = format!("{}, {tune:?}", path.display());
            let notated = arrange(&sheet, &options);
            let text = score::musicxml(&notated, &notated);
            check(&text, &bars_of(&notated), &mut counts, &what);
            let back = figwort_sheet::read(text.as_bytes(), None).expect("a sheet");
            if essence(&back) != essence(&sheet) {
                differing.push(what);
            }
        }
    }
    eprintln!("{sheets} sheets, {counts:?}, {} come back otherwise: {differing:#?}", differing.len());
    assert!(differing.len() * 100 <= sheets, "{differing:#?}");
}
