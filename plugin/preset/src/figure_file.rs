//! Figure files, format 1.
//!
//! One figure to a file:
//!
//! ```toml
//! format = 1
//! name = "rising"                  # how manners and listings call it
//! about = "One sentence."
//! family = "broken chord"          # or "repeated chord", "bass line"
//! weight = 60                      # 1 to 100: how readily, among its family in a manner
//!
//! [[pattern]]                      # one for each metre, at most 8
//! metre = "4/4"
//! bars = 1                         # 1 to 4; 1 when left out
//! steps = [                        # in order of time, at most 32
//!   { at = "0",   who = "bass",    hold = "through", strength = 2 },
//!   { at = "1/8", who = "inner 1", hold = "through" },
//! ]
//! ```
//!
//! * `at` and lengths are exact fractions of a **whole note**, as notated: `"1/8"` is an eighth note,
//!   `"3/8"` a dotted quarter. `at` counts from the pattern's start and lies inside the pattern, whose
//!   length is `bars` whole bars of its metre, so patterns always tile. A pattern may begin with a rest.
//! * `who` is `"bass"` (lowest part), `"inner 1"` to `"inner 5"` (parts above the bass, from below, counting
//!   back down from the top where there are fewer: of three, `"inner 4"` is the second), `"top"`, `"upper"`
//!   (everything above the bass), `"right"` and `"left"` (a hand's parts), `"all"`, `"bass passing"` (the
//!   bass on its way by step, letting go of the note before) and `"bass goal"` (where it arrives, a chord
//!   tone). A passing bass needs a later goal in the same pattern.
//! * `hold` is `"through"` (until the chord's time is over) or a length that ends inside the pattern.
//! * `strength`, -40 to 40, is added to the velocity that the place in the bar gets; 0 when left out.
//!
//! Figures are entered wherever the melody becomes still, also in the middle of a bar: steps keep their
//! places, those before the entry are not played.

use std::ops::Range;

use figwort_engine::{Family, Figure, Hold, MAX_PATTERNS, MAX_STEPS, Pattern, Step, Who};
use figwort_theory::Span;
use serde::Deserialize;
use toml::Spanned;

use crate::error::{Page, PresetError};
use crate::notation;

/// Where a figure's writer finds out more.
const EXAMPLE: &str = "`figwort figures --show rising` prints a commented example";

/// The file as written.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FigureFile {
    #[serde(rename = "format")]
    _format: i64,
    name: Spanned<String>,
    about: Spanned<String>,
    family: Spanned<String>,
    weight: Spanned<i64>,
    #[serde(default)]
    pattern: Vec<Spanned<PatternTable>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PatternTable {
    metre: Spanned<String>,
    bars: Option<Spanned<i64>>,
    steps: Spanned<Vec<Spanned<StepTable>>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct StepTable {
    at: Spanned<String>,
    who: Spanned<String>,
    hold: Spanned<String>,
    strength: Option<Spanned<i64>>,
}

/// A figure file that has been read; the engine's figure still lacks its number.
pub(crate) struct ReadFigure {
    pub(crate) name: String,
    pub(crate) about: String,
    /// With id 0, for the library to set.
    pub(crate) figure: Figure,
}

/// Reads and checks a figure file whose format number has been checked.
pub(crate) fn read(page: Page<'_>) -> Result<ReadFigure, PresetError> {
    let file: FigureFile = toml::from_str(page.text).map_err(|error| page.toml(&error, EXAMPLE))?;
    let name = page.name(&file.name)?;
    let about = page.about(&file.about)?;
    let family = family(page, &file.family)?;
    let weight = page.number(&file.weight, "weight", 1..=100)? as u8;
    if file.pattern.is_empty() {
        return Err(page.whole("the figure has no pattern", format!("Write a [[pattern]] table; {EXAMPLE}")));
    }
    let mut figure = Figure { id: 0, family, weight, patterns: Default::default() };
    for table in &file.pattern {
        let pattern = pattern(page, table)?;
        if figure.pattern(pattern.metre).is_some() {
            return Err(page.error(
                table.get_ref().metre.span(),
                format!("the figure has a pattern for {} already", table.get_ref().metre.get_ref()),
                "Keep one pattern for each metre; a second rhythm is a second figure",
            ));
        }
        if family == Family::BassLine && !pattern.steps.iter().any(|step| step.who == Who::BassGoal) {
            return Err(page.error(
                table.get_ref().steps.span(),
                "a bass line whose bass goes nowhere",
                "Give it a step with who = \"bass goal\", or change the family",
            ));
        }
        if figure.patterns.try_push(pattern).is_err() {
            return Err(page.error(
                table.span(),
                format!("more than {MAX_PATTERNS} patterns"),
                "Spread the metres over two figures",
            ));
        }
    }
    Ok(ReadFigure { name, about, figure })
}

fn family(page: Page<'_>, text: &Spanned<String>) -> Result<Family, PresetError> {
    [Family::BrokenChord, Family::RepeatedChord, Family::BassLine]
        .into_iter()
        .find(|family| family.name() == text.get_ref())
        .ok_or_else(|| {
            page.error(
                text.span(),
                format!("\"{}\" is no family of figures", text.get_ref()),
                "Write \"broken chord\", \"repeated chord\" or \"bass line\"",
            )
        })
}

fn pattern(page: Page<'_>, table: &Spanned<PatternTable>) -> Result<Pattern, PresetError> {
    let table = table.get_ref();
    let metre = notation::metre(table.metre.get_ref()).ok_or_else(|| {
        page.error(
            table.metre.span(),
            format!("\"{}\" is no metre", table.metre.get_ref()),
            "Write a time signature such as \"4/4\", \"3/4\" or \"6/8\"",
        )
    })?;
    let bars = match &table.bars {
        Some(bars) => page.number(bars, "bars", 1..=4)? as u8,
        None => 1,
    };
    let length = metre.bar() * i64::from(bars);
    let tables = table.steps.get_ref();
    if tables.is_empty() {
        return Err(page.error(table.steps.span(), "a pattern without steps", "Give it one or remove it"));
    }
    let mut pattern = Pattern { metre, bars, steps: Default::default() };
    for step_table in tables {
        let step = step(page, step_table, length)?;
        check_order(page, step_table, &pattern.steps, step)?;
        if pattern.steps.try_push(step).is_err() {
            return Err(page.error(
                step_table.span(),
                format!("more than {MAX_STEPS} steps in a pattern"),
                "Use fewer bars or fewer steps",
            ));
        }
    }
    let last_passing = pattern.steps.iter().rposition(|step| step.who == Who::BassPassing);
    let last_goal = pattern.steps.iter().rposition(|step| step.who == Who::BassGoal);
    if let Some(passing) = last_passing
        && last_goal.is_none_or(|goal| pattern.steps[goal].at <= pattern.steps[passing].at)
    {
        return Err(page.error(
            tables[passing].span(),
            "a passing bass that leads nowhere",
            "Let a step with who = \"bass goal\" follow it in this pattern",
        ));
    }
    Ok(pattern)
}

/// Steps come in order of time, and nobody is asked to play twice at once.
fn check_order(
    page: Page<'_>,
    table: &Spanned<StepTable>,
    before: &[Step],
    step: Step,
) -> Result<(), PresetError> {
    let at = &table.get_ref().at;
    if before.last().is_some_and(|last| last.at > step.at) {
        return Err(page.error(
            at.span(),
            format!("the step at \"{}\" stands after a later one", at.get_ref()),
            "Put the steps in order of time",
        ));
    }
    if before.iter().any(|other| other.at == step.at && other.who == step.who) {
        return Err(page.error(
            table.span(),
            format!("\"{}\" plays twice at \"{}\"", table.get_ref().who.get_ref(), at.get_ref()),
            "Remove one of the two steps",
        ));
    }
    Ok(())
}

fn step(page: Page<'_>, table: &Spanned<StepTable>, length: Span) -> Result<Step, PresetError> {
    let StepTable { at, who, hold, strength } = table.get_ref();
    let place = read_length(page, at)?;
    let end = notation::written(length);
    if place >= length {
        return Err(page.error(
            at.span(),
            format!("the step at \"{}\" lies outside the pattern, which ends at \"{end}\"", at.get_ref()),
            "Move the step, or raise `bars`",
        ));
    }
    let hold = if hold.get_ref() == "through" {
        Hold::Through
    } else {
        let lasts = read_length(page, hold)?;
        if lasts == Span::ZERO {
            return Err(page.error(hold.span(), "a step held for no time", "Write a length or \"through\""));
        }
        if place + lasts > length {
            return Err(page.error(
                hold.span(),
                format!("the step is held past the pattern's end at \"{end}\""),
                format!("Hold it for \"{}\" at most, or \"through\"", notation::written(length - place)),
            ));
        }
        Hold::For(lasts)
    };
    let strength = match strength {
        Some(strength) => page.number(strength, "strength", -40..=40)? as i8,
        None => 0,
    };
    Ok(Step { at: place, who: read_who(page, who)?, hold, strength })
}

fn read_length(page: Page<'_>, text: &Spanned<String>) -> Result<Span, PresetError> {
    notation::length(text.get_ref()).map_err(|what| {
        page.error(
            text.span(),
            format!("\"{}\" {what}", text.get_ref()),
            "Places and lengths are fractions of a whole note: an eighth note is \"1/8\"",
        )
    })
}

fn read_who(page: Page<'_>, text: &Spanned<String>) -> Result<Who, PresetError> {
    Ok(match text.get_ref().as_str() {
        "bass" => Who::Bass,
        "inner 1" => Who::Inner(1),
        "inner 2" => Who::Inner(2),
        "inner 3" => Who::Inner(3),
        "inner 4" => Who::Inner(4),
        "inner 5" => Who::Inner(5),
        "top" => Who::Top,
        "upper" => Who::Upper,
        "right" => Who::Right,
        "left" => Who::Left,
        "all" => Who::All,
        "bass passing" => Who::BassPassing,
        "bass goal" => Who::BassGoal,
        other => {
            return Err(page.error(
                text.span(),
                format!("\"{other}\" is no part"),
                "Write \"bass\", \"inner 1\" to \"inner 5\", \"top\", \"upper\", \"right\", \"left\", \
                 \"all\", \"bass passing\" or \"bass goal\"",
            ));
        }
    })
}

/// What figure and manner files share.
impl Page<'_> {
    /// A name: 1 to 40 characters on one line, with no space at either end.
    pub(crate) fn name(self, text: &Spanned<String>) -> Result<String, PresetError> {
        let name = text.get_ref();
        let fits = (1..=40).contains(&name.chars().count()) && name.trim() == name;
        if fits && !name.chars().any(char::is_control) {
            Ok(name.clone())
        } else {
            Err(self.error(
                text.span(),
                "the name does not fit in a list",
                "Write 1 to 40 characters, with no space at either end",
            ))
        }
    }

    /// A sentence: not empty, at most 300 characters.
    pub(crate) fn about(self, text: &Spanned<String>) -> Result<String, PresetError> {
        let about = text.get_ref().trim();
        if (1..=300).contains(&about.chars().count()) {
            Ok(about.split_whitespace().collect::<Vec<_>>().join(" "))
        } else {
            Err(self.error(text.span(), "`about` is empty or very long", "Write a sentence or two"))
        }
    }

    /// A whole number within its range.
    pub(crate) fn number(
        self,
        value: &Spanned<i64>,
        what: &str,
        range: std::ops::RangeInclusive<i64>,
    ) -> Result<i64, PresetError> {
        self.in_range(*value.get_ref(), value.span(), what, range)
    }

    /// As [`Page::number`], for a value whose place is known otherwise.
    pub(crate) fn in_range(
        self,
        value: i64,
        span: Range<usize>,
        what: &str,
        range: std::ops::RangeInclusive<i64>,
    ) -> Result<i64, PresetError> {
        if range.contains(&value) {
            Ok(value)
        } else {
            Err(self.error(
                span,
                format!("{what} is {value}"),
                format!("Write a whole number from {} to {}", range.start(), range.end()),
            ))
        }
    }
}
