//! The factory set, and every way in which a file can be wrong.

use std::fs;
use std::path::Path;

use figwort_engine::{Family, Hold, Who};
use figwort_theory::{Metre, Span};

use super::*;

/// A correct figure, for breaking. Lines are counted from 1.
const FIGURE: &str = r#"format = 1
name = "test"
about = "A figure."
family = "bass line"
weight = 50
[[pattern]]
metre = "4/4"
bars = 1
steps = [
  { at = "0", who = "bass", hold = "through", strength = 2 },
  { at = "1/4", who = "bass passing", hold = "1/4" },
  { at = "1/2", who = "bass goal", hold = "1/2" },
]
"#;

/// A correct manner, for breaking.
const MANNER: &str = r#"format = 1
name = "test"
about = "A manner."
figures = ["rising",
  "pulse"]
[texture]
broken-chord = 60
repeated-chord = 30
bass-line = 40
ostinato = false
[voicing]
parts = [3, 5]
bass = ["C2", "G3"]
[touch]
under-melody = 16
bass = 4
accent = 10
spread = 0
"#;

fn folder(name: &str) -> Vec<(String, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../presets").join(name);
    let mut files: Vec<(String, String)> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| {
            let path = entry.unwrap().path();
            (path.file_name().unwrap().to_string_lossy().into_owned(), fs::read_to_string(path).unwrap())
        })
        .collect();
    files.sort();
    files
}

#[test]
fn the_embedded_lists_are_the_folders() {
    for (name, list) in [("figures", factory::FIGURES), ("manners", factory::MANNERS)] {
        let mut embedded: Vec<(String, String)> =
            list.iter().map(|(file, text)| ((*file).to_owned(), (*text).to_owned())).collect();
        embedded.sort();
        assert_eq!(embedded, folder(name), "presets/{name}");
    }
}

#[test]
fn every_factory_file_loads_under_a_name_of_its_own() {
    let mut library = Library::empty();
    for (file, text) in factory::FIGURES {
        library.add_figure(file, text).unwrap();
    }
    for (file, text) in factory::MANNERS {
        library.add_manner(file, text).unwrap();
    }
    assert_eq!(library.figures().count(), factory::FIGURES.len());
    assert_eq!(library.manners().count(), factory::MANNERS.len());
    assert_eq!(library.manners().next().unwrap().name, Library::DEFAULT_MANNER);
    for (place, entry) in library.figures().enumerate() {
        let figure = library.figure(entry.name).unwrap();
        assert_eq!(usize::from(figure.id), place);
        assert_eq!(library.figure_name(figure.id), Some(entry.name));
    }
    assert_eq!(library.figure_name(u16::MAX), None);
}

/// Each family that a factory manner wants can be played in each metre of the first version.
#[test]
fn factory_manners_have_figures_for_what_they_want() {
    let library = Library::factory();
    for entry in library.manners() {
        let resolved = library.manner(entry.name).unwrap();
        let wants = [
            (Family::BrokenChord, resolved.manner.broken_chord),
            (Family::RepeatedChord, resolved.manner.repeated_chord),
            (Family::BassLine, resolved.manner.bass_line),
            (Family::InnerLine, resolved.manner.inner_line),
        ];
        for (family, how_readily) in wants {
            for (n, d) in [(2, 4), (3, 4), (4, 4), (6, 8)] {
                let metre = Metre::new(n, d).unwrap();
                let found = resolved
                    .figures
                    .iter()
                    .any(|figure| figure.family == family && figure.pattern(metre).is_some());
                assert!(found || how_readily == 0, "{}: no {} in {n}/{d}", entry.name, family.name());
            }
        }
        let settings = figwort_engine::Settings { manner: resolved.manner, ..Default::default() };
        assert_eq!(
            settings.in_range().manner,
            resolved.manner,
            "{} is out of the engine's range",
            entry.name
        );
    }
}

#[test]
fn steps_lie_inside_patterns_of_whole_bars() {
    for entry in Library::factory().figures() {
        let library = Library::factory();
        let figure = library.figure(entry.name).unwrap();
        for pattern in &figure.patterns {
            let length = pattern.metre.bar() * i64::from(pattern.bars);
            assert!((1..=4).contains(&pattern.bars));
            assert!(pattern.steps.is_sorted_by_key(|step| step.at));
            for step in &pattern.steps {
                assert!((Span::ZERO..length).contains(&step.at), "{}", entry.name);
                if let Hold::For(hold) = step.hold {
                    assert!(hold > Span::ZERO && step.at + hold <= length, "{}", entry.name);
                }
            }
            // The bass begins each factory pattern, alone or with the left hand: a figure carries its chord.
            let first = pattern.steps[0];
            assert_eq!(first.at, Span::ZERO, "{}", entry.name);
            assert!(matches!(first.who, Who::Bass | Who::Left | Who::All | Who::BelowBass), "{}", entry.name);
            // Nobody is struck again while a step of fixed length still holds.
            for (place, step) in pattern.steps.iter().enumerate() {
                let again = pattern.steps[place + 1..].iter().find(|later| later.who == step.who);
                if let (Some(again), Hold::For(hold)) = (again, step.hold) {
                    assert!(step.at + hold <= again.at, "{}: {:?} overlaps itself", entry.name, step.who);
                }
            }
        }
    }
}

/// Replaces one piece of a correct file and compares the error's line and words.
fn broken(text: &str, from: &str, to: &str, line: Option<usize>, what: &str) {
    assert_eq!(text.matches(from).count(), 1, "{from}");
    let error = check("broken.toml", &text.replace(from, to)).expect_err(what);
    assert!(error.what.contains(what), "{to}: {error}");
    assert_eq!(error.line, line, "{to}: {error}");
    assert_eq!(error.file, "broken.toml");
    assert!(!error.hint.is_empty() && !error.hint.ends_with('.') && !error.what.ends_with('.'), "{error}");
}

#[test]
fn broken_figures_are_refused_at_their_line() {
    assert_eq!(check("test.toml", FIGURE), Ok(Added::Figure("test".to_owned())));
    for (from, to, line, what) in [
        ("format = 1", "format = 3", 1, "made by a newer Figwort (format 3"),
        ("format = 1", "format = 0", 1, "no such format"),
        ("format = 1", "format = \"1\"", 1, "no such format"),
        ("format = 1", "", 1, "does not say its format"),
        ("name = \"test\"", "name = \" \"", 2, "does not fit in a list"),
        ("name = \"test\"", "title = \"test\"", 2, "unknown field `title`"),
        ("about = \"A figure.\"", "about = \"\"", 3, "`about` is empty"),
        ("\"bass line\"", "\"bassline\"", 4, "\"bassline\" is no family"),
        ("\"bass line\"", "bass line", 4, "string values must be quoted"),
        ("weight = 50", "weight = 0", 5, "weight is 0"),
        ("weight = 50", "weight = 101", 5, "weight is 101"),
        ("weight = 50", "weight = 0.5", 5, "invalid type"),
        ("metre = \"4/4\"", "metre = \"4/3\"", 7, "\"4/3\" is no metre"),
        ("bars = 1", "bars = 5", 8, "bars is 5"),
        ("strength = 2", "strength = -41", 10, "strength is -41"),
        ("at = \"1/4\"", "at = \"1/4\", when = 3", 11, "unknown field `when`"),
        ("at = \"1/4\"", "at = \"0.25\"", 11, "\"0.25\" is no fraction"),
        ("at = \"1/4\"", "at = \"1/11\"", 11, "falls between two ticks"),
        ("at = \"1/4\"", "at = 0", 11, "invalid type: integer `0`"),
        ("at = \"1/4\"", "at = \"5/8\"", 12, "the step at \"1/2\" stands after a later one"),
        ("at = \"1/2\"", "at = \"1\"", 12, "lies outside the pattern, which ends at \"1\""),
        ("hold = \"1/2\"", "hold = \"5/8\"", 12, "held past the pattern's end"),
        ("hold = \"1/2\"", "hold = \"0\"", 12, "held for no time"),
        (", hold = \"1/2\"", "", 12, "missing field `hold`"),
        ("\"bass goal\"", "\"bass aim\"", 12, "\"bass aim\" is no part"),
        ("\"bass goal\"", "\"inner 6\"", 12, "\"inner 6\" is no part"),
        ("\"bass goal\"", "\"top\"", 11, "leads nowhere"),
        ("at = \"1/4\", who = \"bass passing\"", "at = \"0\", who = \"bass\"", 11, "plays twice at \"0\""),
    ] {
        broken(FIGURE, from, to, Some(line), what);
    }
    broken(FIGURE, "weight = 50\n", "", Some(1), "missing field `weight`");
}

/// What format 2 brought, and what it asks of it; a file of format 1 that uses it is told so.
#[test]
fn lines_and_pushes_belong_to_format_2() {
    let second = FIGURE.replace("format = 1", "format = 2");
    let line = second
        .replace("\"bass passing\", hold = \"1/4\"", "\"bass line\", aim = \"approach\", hold = \"1/4\"")
        .replace("\"bass goal\", hold = \"1/2\"", "\"next\", hold = \"over\"");
    assert_eq!(check("test.toml", &second), Ok(Added::Figure("test".to_owned())));
    assert_eq!(check("test.toml", &line), Ok(Added::Figure("test".to_owned())));
    let mut library = Library::factory();
    library.add("test.toml", &line).unwrap();
    let steps = &library.figure("test").unwrap().patterns[0].steps;
    assert_eq!(steps[1].who, Who::Line(figwort_engine::Thread::Bass, figwort_engine::Aim::Approach));
    assert_eq!((steps[2].who, steps[2].hold), (Who::Next, Hold::Over));
    for (from, to, line_number, what) in [
        ("format = 2", "format = 1", 11, "`aim` came with format 2"),
        ("aim = \"approach\"", "aim = \"home\"", 11, "\"home\" is no aim"),
        ("aim = \"approach\"", "aim = \"tenth\"", 11, "tenths over itself"),
        ("who = \"bass\"", "who = \"bass\", aim = \"up\"", 10, "\"bass\" is no line"),
        ("who = \"bass\"", "who = \"upper\"", 11, "moves before its part was struck"),
        ("hold = \"over\"", "hold = \"1/2\"", 12, "ends before what it anticipates"),
        ("who = \"next\"", "who = \"climb 1\"", 12, "\"climb 1\" is for endings"),
        ("who = \"next\"", "who = \"climb 7\"", 12, "\"climb 7\" is no part"),
        ("\"bass line\"\nweight", "\"inner line\"\nweight", 9, "an inner line without a line"),
        ("\"bass line\", aim = \"approach\"", "\"inner 1\"", 9, "whose bass goes nowhere"),
    ] {
        broken(&line, from, to, Some(line_number), what);
    }
    broken(
        &FIGURE.replace("\"bass line\"", "\"block\""),
        "weight = 50",
        "weight = 51",
        Some(4),
        "came with format 2",
    );
    broken(FIGURE, "hold = \"through\"", "hold = \"over\"", Some(10), "came with format 2");
}

/// Several patterns, and more of everything than there is room for.
#[test]
fn figures_have_limits() {
    let bar = |metre: &str| {
        format!(
            "[[pattern]]\nmetre = \"{metre}\"\nsteps = [{{ at = \"0\", who = \"bass goal\", hold = \"1/8\" }}]\n"
        )
    };
    let with = |more: &str| check("broken.toml", &format!("{FIGURE}{more}"));
    assert!(with(&bar("3/4")).is_ok());
    let twice = with(&format!("{}{}", bar("3/4"), bar("4/4"))).unwrap_err();
    assert_eq!((twice.line, twice.what.as_str()), (Some(18), "the figure has a pattern for 4/4 already"));
    let many: String = ["2/4", "3/4", "5/4", "6/4", "3/8", "6/8", "7/8", "9/8", "12/8"].map(bar).concat();
    let many = with(&many).unwrap_err();
    assert_eq!((many.line, many.what.as_str()), (Some(38), "more than 9 patterns"));
    let none = check("broken.toml", &FIGURE[..FIGURE.find("[[pattern]]").unwrap()]).unwrap_err();
    assert_eq!((none.line, none.what.as_str()), (None, "the figure has no pattern"));
    let step = |n: usize| format!("  {{ at = \"{n}/64\", who = \"top\", hold = \"1/64\" }},\n");
    let crowded: String = (0..33).map(step).collect();
    let crowded = FIGURE.replace("steps = [\n", &format!("steps = [\n{crowded}"));
    let crowded = check("broken.toml", &crowded).unwrap_err();
    assert_eq!((crowded.line, crowded.what.as_str()), (Some(42), "more than 32 steps in a pattern"));
}

#[test]
fn broken_manners_are_refused_at_their_line() {
    assert_eq!(check("test.toml", MANNER), Ok(Added::Manner("test".to_owned())));
    for (from, to, line, what) in [
        ("format = 1", "format = 9", 1, "made by a newer Figwort (format 9"),
        ("\"pulse\"", "\"rising\"", 5, "listed twice"),
        ("\"pulse\"", "\"pluse\"", 5, "there is no figure \"pluse\""),
        ("broken-chord = 60", "broken-chord = 101", 7, "broken-chord is 101"),
        ("bass-line = 40", "bass-line = -1", 9, "bass-line is -1"),
        ("ostinato = false", "ostinato = 0", 10, "invalid type"),
        ("[3, 5]", "[5, 3]", 12, "`parts` is not"),
        ("[3, 5]", "[3, 4, 5]", 12, "`parts` is not"),
        ("[3, 5]", "[3, 7]", 12, "`parts` is not"),
        ("\"C2\"", "\"H2\"", 13, "\"H2\" is no pitch from A0 to C5"),
        ("\"C2\"", "\"C0\"", 13, "\"C0\" is no pitch"),
        ("\"G3\"", "\"Bb2\"", 13, "between C2 and A#2 some bass notes find no place"),
        ("under-melody = 16", "under-melody = 61", 15, "under-melody is 61"),
        ("bass = 4", "bass = 21", 16, "bass is 21"),
        ("accent = 10", "accent = 41", 17, "accent is 41"),
        ("spread = 0", "spread = 61", 18, "spread is 61"),
        ("accent = 10\n", "", 14, "missing field `accent`"),
        ("accent = 10", "accents = 10", 17, "unknown field `accents`"),
    ] {
        broken(MANNER, from, to, Some(line), what);
    }
}

#[test]
fn names_that_there_are_not() {
    let library = Library::factory();
    let near = library.manner("unhuried").unwrap_err();
    assert_eq!(near.to_string(), "there is no manner \"unhuried\". Did you mean \"unhurried\"?");
    let far = library.manner("x").unwrap_err();
    let far = far.to_string();
    assert!(
        far.starts_with("there is no manner \"x\". Choose from \"unhurried\", \"light-footed\", "),
        "{far}"
    );
    assert!(far.ends_with(" and \"late evening\"."), "{far}");
    let error = check("mine.toml", &MANNER.replace("\"pulse\"", "\"pulses\"")).unwrap_err();
    assert_eq!(
        error.to_string(),
        "mine.toml, line 5: there is no figure \"pulses\". Did you mean \"pulse\"?"
    );
}

/// A figure of one's own takes the place of the factory's and keeps its number.
#[test]
fn later_figures_replace_earlier_ones() {
    let mut library = Library::factory();
    let id = library.figure("pulse").unwrap().id;
    library.add("mine.toml", &FIGURE.replace("\"test\"", "\"pulse\"")).unwrap();
    let replaced = library.figure("pulse").unwrap();
    assert_eq!((replaced.id, replaced.family), (id, Family::BassLine));
    assert!(library.add_figure("bad.toml", &FIGURE.replace("50", "500")).is_err());
    assert_eq!(library.figures().count(), factory::FIGURES.len());
}

#[test]
fn files_that_are_no_presets() {
    let empty = check("empty.toml", " \n").unwrap_err();
    assert_eq!(empty.what, "the file is empty");
    let huge = check("huge.toml", &"#".repeat(MAX_BYTES + 1)).unwrap_err();
    assert!(huge.what.starts_with("more than 1 MiB"));
    let binary = check("x.toml", "format = 1\nMThd\u{0}\u{0}").unwrap_err();
    assert_eq!(binary.line, Some(2));
    // Nesting far too deep is an error, not a crash.
    let deep = check("deep.toml", &format!("format = 1\nx = {}", "[".repeat(100_000))).unwrap_err();
    assert_eq!(deep.line, Some(2));
}
