//! Naming held chords, over `chord_id.csv`: 2,820 voicings with the chord each was made from and what music21
//! 10.5.1 and pychord called it, and `chord_kinds.csv`, the kinds' notes.
//!
//! What counts as a *reading* of held notes decides what can be asked. A reading is a chord of a list that, on
//! some root, has exactly the held notes; here are two lists. The *narrow* one holds the table's kinds but the
//! five names that only context gives (Neapolitan, the three augmented sixths, Tristan). The *wide* one adds
//! eight altered dominants that players use and that share their notes with rarer kinds: G B D F A♭ is G7(♭9)
//! before it is a diminished chord with a minor ninth on F or any other root.

use std::fs;
use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::time::Instant;

use anyhow::{Context as _, Result, bail};
use figwort_theory::identify::{Context, identify, identify_keys};
use figwort_theory::{Chord, ChordSymbol, Kind, Pitch, PitchClass, PitchClassSet};

const FLAT_NINTH: &str = "C7(b9)";
const ALTERED: [&str; 8] =
    ["C7(b9)", "C7(b13)", "C7(b9,b13)", "C7(b9,add13)", "Caug7(b9)", "Caug7(b9,#9)", "C9(#11)", "C13(#11)"];
const CONTEXT_ONLY: [&str; 5] = ["Neapolitan", "Italian", "French", "German", "Tristan"];

/// A chord of a list: its notes above the root, and how plain it is.
struct Shape {
    name: String,
    notes: PitchClassSet,
    plainness: Plainness,
}

/// The plainest first.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Plainness {
    MusicXml,
    FlatNinth,
    Rare,
    AlteredDominant,
}

/// A row of `chord_id.csv`.
struct Row {
    kind: String,
    root: PitchClass,
    keys: Vec<Pitch>,
    /// music21 from keys: root, kind; from spelled notes: root, kind; pychord: first root, any root.
    others: [bool; 6],
    micros: [f64; 2],
}

/// Rows and how many of them are right in each column.
#[derive(Default)]
struct Count {
    rows: usize,
    root: usize,
    kind: usize,
    reading: usize,
    rule: usize,
    others: [usize; 6],
}

/// The tables, where the files are found beside the folder, where `FIGWORT_SOURCES` says, or beside the
/// workspace.
pub(crate) fn evaluate(folder: &Path) -> Result<()> {
    println!("\nNaming held chords");
    let Some(sources) = find(folder) else {
        println!("  no chord_id.csv beside the folder (../sources); FIGWORT_SOURCES may name its place");
        return Ok(());
    };
    let shapes = shapes(&sources.join("chord_kinds.csv"))?;
    let rows = rows(&sources.join("chord_id.csv"))?;
    let in_context = |name: &str| CONTEXT_ONLY.contains(&name);
    let narrow: Vec<&Shape> = shapes.iter().filter(|shape| !in_context(&shape.name)).collect();
    let altered = ALTERED.iter().map(|text| {
        let chord = ChordSymbol::parse(text).ok().and_then(|symbol| symbol.chord);
        let chord = chord.with_context(|| format!("{text} is no chord symbol"))?;
        let flat_ninth = *text == FLAT_NINTH;
        let plainness = if flat_ninth { Plainness::FlatNinth } else { Plainness::AlteredDominant };
        Ok(Shape { name: (*text).to_owned(), notes: chord.intervals(), plainness })
    });
    let altered = altered.collect::<Result<Vec<Shape>>>()?;
    let wide: Vec<&Shape> = narrow.iter().copied().chain(&altered).collect();

    let usual: Vec<&Row> = rows.iter().filter(|row| !in_context(&row.kind)).collect();
    for (name, list) in [("wide list", &wide), ("narrow list", &narrow)] {
        let (mut one, mut several) = (Count::default(), Count::default());
        for row in &usual {
            let readings = readings(row, list);
            let count = if readings.len() == 1 { &mut one } else { &mut several };
            count.add(row, &shapes, &readings);
        }
        println!("  {name}, {} chords:", list.len());
        one.print("one reading");
        several.print("several readings");
    }
    let mut context = Count::default();
    for row in rows.iter().filter(|row| in_context(&row.kind)) {
        context.add(row, &shapes, &readings(row, &wide));
    }
    println!("  names that only context gives (answered by their ordinary names, on purpose):");
    context.print("rows");
    times(&rows);
    Ok(())
}

fn find(folder: &Path) -> Option<PathBuf> {
    let beside = folder.parent().map(|parent| parent.join("sources"));
    let named = std::env::var_os("FIGWORT_SOURCES").map(PathBuf::from);
    let usual = Some(Path::new(env!("CARGO_MANIFEST_DIR")).join("../../shared/sources"));
    [named, beside, usual].into_iter().flatten().find(|place| place.join("chord_id.csv").exists())
}

/// The fields of a line; quotation marks keep commas together.
fn fields(line: &str) -> Vec<String> {
    let mut quoted = false;
    let mut fields = vec![String::new()];
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => fields.push(String::new()),
            _ => fields.last_mut().into_iter().for_each(|field| field.push(c)),
        }
    }
    fields
}

/// A file's lines as rows of named fields, each read by `row`.
fn read<T>(path: &Path, row: impl Fn(&dyn Fn(&str) -> Option<String>) -> Option<T>) -> Result<Vec<T>> {
    let text = fs::read_to_string(path).with_context(|| format!("{} can't be read", path.display()))?;
    let mut lines = text.lines();
    let names = fields(lines.next().unwrap_or_default());
    let mut rows = vec![];
    for (n, line) in lines.enumerate() {
        let fields = fields(line);
        let field = |name: &str| fields.get(names.iter().position(|n| n == name)?).cloned();
        match row(&field) {
            Some(row) => rows.push(row),
            None => bail!("{} line {}: a field is missing or no number", path.display(), n + 2),
        }
    }
    Ok(rows)
}

fn shapes(path: &Path) -> Result<Vec<Shape>> {
    let rows = read(path, |field| {
        let name = field("music21_key")?;
        let classes = field("music21_pcs")?;
        let known = field("in_MusicXML_4.0_kind-value")? == "yes";
        let plainness = if known { Plainness::MusicXml } else { Plainness::Rare };
        let classes = classes.split_whitespace().map(|n| n.parse().ok().map(PitchClass::new));
        Some(Shape { name, plainness, notes: classes.collect::<Option<PitchClassSet>>()? })
    })?;
    // "other" and "none" have no notes.
    Ok(rows.into_iter().filter(|shape| !shape.notes.is_empty()).collect())
}

fn rows(path: &Path) -> Result<Vec<Row>> {
    const OTHERS: [&str; 6] = [
        "m21_root_ok",
        "m21_kind_ok",
        "m21_spelled_root_ok",
        "m21_spelled_kind_ok",
        "pychord_root_first_ok",
        "pychord_root_any_ok",
    ];
    read(path, |field| {
        let keys = field("midi")?;
        let keys = keys.split(' ').map(|key| key.parse().ok().map(Pitch::new));
        Some(Row {
            kind: field("kind")?,
            root: PitchClass::new(field("root_pc")?.parse().ok()?),
            keys: keys.collect::<Option<_>>()?,
            others: OTHERS.map(|name| field(name).is_some_and(|value| value == "1")),
            micros: [field("m21_us")?.parse().ok()?, field("pychord_us")?.parse().ok()?],
        })
    })
}

fn held(row: &Row) -> PitchClassSet {
    row.keys.iter().map(|key| key.class()).collect()
}

/// Roots and shapes that have exactly the held notes.
fn readings<'a>(row: &Row, list: &[&'a Shape]) -> Vec<(PitchClass, &'a Shape)> {
    let held = held(row);
    let on = |root: i32| {
        list.iter()
            .filter(move |shape| shape.notes.transpose(root) == held)
            .map(move |shape| (PitchClass::new(root), *shape))
    };
    (0..12).flat_map(on).collect()
}

/// The written rule without key or previous chord: the reading whose root is the bass; else the plainest
/// (MusicXML's kinds, the dominant with a flat ninth, rarer kinds, other altered dominants); else the one
/// whose root lies nearest above the bass.
fn by_rule(readings: &[(PitchClass, &Shape)], bass: PitchClass) -> Option<PitchClass> {
    let rank = |(root, shape): &&(PitchClass, &Shape)| (*root != bass, shape.plainness, root.above(bass));
    readings.iter().min_by_key(rank).map(|(root, _)| *root)
}

impl Count {
    fn add(&mut self, row: &Row, shapes: &[Shape], readings: &[(PitchClass, &Shape)]) {
        let Some(found) = name(row) else { return };
        let bass = row.keys.iter().min().map_or(found.bass, |key| key.class());
        let made_from = shapes.iter().find(|shape| shape.name == row.kind).map(|shape| shape.notes);
        self.rows += 1;
        self.root += usize::from(found.root == row.root);
        self.kind += usize::from(found.root == row.root && Some(found.intervals()) == made_from);
        let is_reading =
            |(root, shape): &(PitchClass, &Shape)| found.root == *root && found.intervals() == shape.notes;
        self.reading += usize::from(readings.iter().any(is_reading));
        let by_rule = by_rule(readings, bass) == Some(found.root);
        self.rule += usize::from(by_rule);
        for (count, right) in self.others.iter_mut().zip(row.others) {
            *count += usize::from(right);
        }
    }

    fn print(&self, name: &str) {
        let share = |n: usize| format!("{:.1} %", 100.0 * n as f64 / self.rows.max(1) as f64);
        println!("    {name}: {} rows", self.rows);
        println!(
            "      Figwort   root as made {:>8}, root and kind {:>8}; a reading of the list {:>8}, by the rule {:>8}",
            share(self.root),
            share(self.kind),
            share(self.reading),
            share(self.rule)
        );
        let [m21_root, m21_kind, spelled_root, spelled_kind, first, any] = self.others.map(share);
        println!(
            "      music21   root as made {m21_root:>8}, kind {m21_kind:>8}; from spelled notes {spelled_root:>8}, {spelled_kind:>8}"
        );
        println!("      pychord   root as made {first:>8} first, {any:>8} among its answers");
    }
}

fn name(row: &Row) -> Option<Chord> {
    identify_keys(row.keys.iter().copied(), &Context::default())
}

/// Calls per measurement: one is too short for the clock.
const TOGETHER: u32 = 16;

fn times(rows: &[Row]) {
    let context = Context { key: None, previous: Some(Chord::new(PitchClass::C, Kind::Dominant)) };
    let mut ours = vec![];
    for _ in 0..20 {
        for row in rows {
            let (held, bass) = (held(row), row.keys.iter().min().map_or(PitchClass::C, |key| key.class()));
            let start = Instant::now();
            for _ in 0..TOGETHER {
                black_box(identify(black_box(held), black_box(bass), black_box(&context)));
            }
            ours.push(start.elapsed().as_nanos() as f64 / f64::from(TOGETHER) / 1_000.0);
        }
    }
    println!("  microseconds per naming:");
    print_times("Figwort, here and now", ours);
    print_times("music21 10.5.1, as in the table", rows.iter().map(|row| row.micros[0]).collect());
    print_times("pychord, as in the table", rows.iter().map(|row| row.micros[1]).collect());
}

fn print_times(name: &str, mut values: Vec<f64>) {
    values.sort_by(f64::total_cmp);
    let at = |share: f64| {
        let index = (values.len().saturating_sub(1)) as f64 * share;
        values.get(index as usize).copied().unwrap_or_default()
    };
    println!("    {name:<34} median {:>10.3}, 99.9 in 100 under {:>10.3}", at(0.5), at(0.999));
}
