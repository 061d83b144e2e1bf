//! Figure files, format 2. Format 1 is read too.
//!
//! One figure to a file:
//!
//! ```toml
//! format = 2
//! name = "rising"                  # how manners and listings call it
//! about = "One sentence."
//! family = "broken chord"          # or "block", "repeated chord", "bass line", "inner line", "ending"
//! weight = 60                      # 1 to 100: how readily, among its family in a manner
//!
//! [[pattern]]                      # one for each metre, at most 9; see below for others
//! metre = "4/4"
//! bars = 1                         # 1 to 4; 1 when left out
//! steps = [                        # in order of time, at most 32
//!   { at = "0",   who = "bass",      hold = "through", strength = 2 },
//!   { at = "1/8", who = "inner 1",   hold = "through" },
//!   { at = "3/4", who = "bass line", hold = "1/4", aim = "approach" },
//! ]
//! ```
//!
//! * The families: **block** figures lay out a chord that is held, where the melody moves or the moment is
//!   left still; **endings** the last chord; the other four move while the melody stands.
//! * `at` and lengths are exact fractions of a **whole note**, as notated: `"1/8"` is an eighth note,
//!   `"3/8"` a dotted quarter. `at` counts from the pattern's start and lies inside the pattern, whose
//!   length is `bars` whole bars of its metre, so patterns always tile. A pattern may begin with a rest.
//! * `who` is `"bass"` (lowest part), `"inner 1"` to `"inner 5"` (parts above the bass, from below, counting
//!   back down from the top where there are fewer: of three, `"inner 4"` is the second), `"top"`, `"upper"`
//!   (everything above the bass), `"right"` and `"left"` (a hand's parts), `"all"`;
//!   `"bass line"`, `"inner line"` and `"top line"` (a part moves on by a note that is worked out, letting go
//!   of the one before; the part is struck earlier in the bar);
//!   `"next"` (the parts above the bass as the next bar or chord has them, where that is known, else as they
//!   are: a push; always held `"over"`);
//!   and in endings `"below bass"` (the octave below it) and `"climb 1"` to `"climb 6"` (chord tones above the
//!   melody, from below, on the rung Ornate).
//! * `aim`, for lines only, is what the note is to be: `"step"` (as when left out), `"tone"` (always a chord
//!   tone, another than before), `"passing"`, `"neighbour"`, `"approach"` (by step to what follows),
//!   `"chromatic"` (a semitone from what follows), `"run"` (by the scale to what follows), `"down"`, `"up"`,
//!   `"leap"` (a chord tone by leap), `"tenth"` (over the bass of the time; not for the bass). Aims are
//!   wishes, `"tone"` and `"leap"` excepted: every note is a chord tone or a proper passing note, neighbour,
//!   approach or anticipation, and where no such way is free the part stays where it is.
//! * `hold` is `"through"` (until the chord's time is over), `"over"` (beyond the bar line or the change,
//!   where what follows isn't struck again) or a length that ends inside the pattern.
//! * `strength`, -40 to 40, is added to the velocity that the place in the bar gets; 0 when left out.
//! * In an ending several parts at once are spread upward. In the other families, but for broken chords, what
//!   of the chord isn't struck within a beat of its beginning is struck with it.
//!
//! Format 1 has the families "broken chord", "repeated chord" and "bass line", no `aim`, no `"over"`, and
//! instead of lines `"bass passing"` (a bass line's step with the aim passing) and `"bass goal"` (with the aim
//! tone), which format 2 reads too.
//!
//! A metre that has no pattern borrows that of the metre that is counted alike, in notes of other lengths: 6/4 that of
//! 6/8, 7/4 of 7/8, 9/4 of 9/8, 3/2 and 3/8 of 3/4, 4/2 of 4/4, 5/8 of 5/4; 2/2 that of 4/4 as it is.
//!
//! Figures are entered wherever the melody becomes still, also in the middle of a bar: steps keep their
//! places, those before the entry are not played.

mod lent;
mod who;

use std::ops::Range;

use figwort_engine::{Aim, Family, Figure, Hold, MAX_PATTERNS, MAX_STEPS, Pattern, Step, Thread, Who};
use figwort_theory::Span;
use serde::Deserialize;
use toml::Spanned;

use crate::error::{Page, PresetError};
use crate::notation;
use who::read_who;

/// Most metres that a figure is written for; the others are lent.
const MAX_WRITTEN: usize = MAX_PATTERNS - lent::LENT;
/// Where a figure's writer finds out more.
const EXAMPLE: &str = "`figwort figures --show rising` prints a commented example";

/// The file as written.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FigureFile {
    format: i64,
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
    aim: Option<Spanned<String>>,
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
    if file.format < 2 {
        check_first_format(page, &file, family)?;
    }
    let weight = page.number(&file.weight, "weight", 1..=100)? as u8;
    if file.pattern.is_empty() {
        return Err(page.whole("the figure has no pattern", format!("Write a [[pattern]] table; {EXAMPLE}")));
    }
    let mut figure = Figure { id: 0, family, weight, patterns: Default::default() };
    for table in &file.pattern {
        let pattern = pattern(page, table, family, file.format)?;
        if figure.pattern(pattern.metre).is_some() {
            return Err(page.error(
                table.get_ref().metre.span(),
                format!("the figure has a pattern for {} already", table.get_ref().metre.get_ref()),
                "Keep one pattern for each metre; a second rhythm is a second figure",
            ));
        }
        check_family(page, table, family, &pattern)?;
        if figure.patterns.len() == MAX_WRITTEN || figure.patterns.try_push(pattern).is_err() {
            return Err(page.error(
                table.span(),
                format!("more than {MAX_WRITTEN} patterns"),
                "Spread the metres over two figures",
            ));
        }
    }
    lent::lend(&mut figure);
    Ok(ReadFigure { name, about, figure })
}

fn family(page: Page<'_>, text: &Spanned<String>) -> Result<Family, PresetError> {
    Family::ALL.into_iter().find(|family| family.name() == text.get_ref()).ok_or_else(|| {
        let names: Vec<String> = Family::ALL.iter().map(|family| format!("\"{}\"", family.name())).collect();
        page.error(
            text.span(),
            format!("\"{}\" is no family of figures", text.get_ref()),
            format!("Write one of {}", names.join(", ")),
        )
    })
}

/// What came with format 2 isn't read from a file of format 1, which an older Figwort might be given.
fn check_first_format(page: Page<'_>, file: &FigureFile, family: Family) -> Result<(), PresetError> {
    let later = |span: Range<usize>, what: String| {
        Err(page.error(
            span,
            format!("{what} came with format 2"),
            "Write `format = 2` at the top of the file",
        ))
    };
    if !matches!(family, Family::BrokenChord | Family::RepeatedChord | Family::BassLine) {
        return later(file.family.span(), format!("the family \"{}\"", family.name()));
    }
    for table in &file.pattern {
        for step in table.get_ref().steps.get_ref() {
            let StepTable { who, hold, aim, .. } = step.get_ref();
            if let Some(aim) = aim {
                return later(aim.span(), "`aim`".to_owned());
            }
            if hold.get_ref() == "over" {
                return later(hold.span(), "a step held \"over\"".to_owned());
            }
            let word = who.get_ref();
            if word.ends_with(" line") || word == "next" || word == "below bass" || word.starts_with("climb")
            {
                return later(who.span(), format!("\"{word}\""));
            }
        }
    }
    Ok(())
}

/// What a family promises.
fn check_family(
    page: Page<'_>,
    table: &Spanned<PatternTable>,
    family: Family,
    pattern: &Pattern,
) -> Result<(), PresetError> {
    let any = |wanted: &dyn Fn(Who) -> bool| pattern.steps.iter().any(|step| wanted(step.who));
    let (missing, hint) = match family {
        Family::BassLine if !any(&|who| matches!(who, Who::Line(Thread::Bass, _))) => (
            "a bass line whose bass goes nowhere",
            "Give it a step with who = \"bass line\", or change the family",
        ),
        Family::InnerLine if !any(&|who| matches!(who, Who::Line(Thread::Inner | Thread::Top, _))) => (
            "an inner line without a line",
            "Give it a step with who = \"inner line\" or \"top line\", or change the family",
        ),
        _ => return Ok(()),
    };
    Err(page.error(table.get_ref().steps.span(), missing, hint))
}

fn pattern(
    page: Page<'_>,
    table: &Spanned<PatternTable>,
    family: Family,
    format: i64,
) -> Result<Pattern, PresetError> {
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
    let mut pattern = Pattern { metre, bars, lent: false, steps: Default::default() };
    for step_table in tables {
        let step = step(page, step_table, length)?;
        check_order(page, step_table, &pattern.steps, step)?;
        if format >= 2 {
            check_place(page, step_table, family, &pattern, step)?;
        }
        if pattern.steps.try_push(step).is_err() {
            return Err(page.error(
                step_table.span(),
                format!("more than {MAX_STEPS} steps in a pattern"),
                "Use fewer bars or fewer steps",
            ));
        }
    }
    let of_bass = |step: &Step| matches!(step.who, Who::Line(Thread::Bass, _) | Who::Bass);
    let passing = |step: &Step| step.who == Who::Line(Thread::Bass, Aim::Passing);
    if let Some(last) = pattern.steps.iter().rposition(passing)
        && !pattern.steps.iter().skip(last + 1).any(of_bass)
    {
        return Err(page.error(
            tables[last].span(),
            "a passing bass that leads nowhere",
            "Let a step with who = \"bass line\" and aim = \"tone\" follow it in this pattern",
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
    let same = |a: Who, b: Who| match (a, b) {
        (Who::Line(a, _), Who::Line(b, _)) => a == b,
        _ => a == b,
    };
    if before.iter().any(|other| other.at == step.at && same(other.who, step.who)) {
        return Err(page.error(
            table.span(),
            format!("\"{}\" plays twice at \"{}\"", table.get_ref().who.get_ref(), at.get_ref()),
            "Remove one of the two steps",
        ));
    }
    Ok(())
}

/// A line moves a part that sounds; what climbs belongs to endings; a push is held over.
fn check_place(
    page: Page<'_>,
    table: &Spanned<StepTable>,
    family: Family,
    pattern: &Pattern,
    step: Step,
) -> Result<(), PresetError> {
    let StepTable { at, who, hold, .. } = table.get_ref();
    let bar = pattern.metre.bar().0;
    match step.who {
        Who::Line(thread, _) => {
            let begins = |other: &&Step| match (thread, other.who) {
                (Thread::Bass, Who::Bass | Who::Left | Who::All) => true,
                (Thread::Bass, _) => false,
                (_, who) => {
                    matches!(who, Who::Upper | Who::Right | Who::Left | Who::All | Who::Top | Who::Inner(_))
                }
            };
            let earlier = |other: &&Step| other.at < step.at && other.at.0 / bar == step.at.0 / bar;
            if pattern.steps.iter().filter(earlier).any(|other| begins(&other)) {
                return Ok(());
            }
            Err(page.error(
                at.span(),
                format!("the \"{}\" moves before its part was struck in this bar", who.get_ref()),
                "Let a step with who = \"bass\" (for a bass line) or \"upper\" come first",
            ))
        }
        Who::BelowBass | Who::Climb(_) if family != Family::Ending => Err(page.error(
            who.span(),
            format!("\"{}\" is for endings", who.get_ref()),
            "Write another part, or family = \"ending\"",
        )),
        Who::Next if step.hold != Hold::Over => Err(page.error(
            hold.span(),
            "a push that ends before what it anticipates",
            "Write hold = \"over\"",
        )),
        _ => Ok(()),
    }
}

fn step(page: Page<'_>, table: &Spanned<StepTable>, length: Span) -> Result<Step, PresetError> {
    let StepTable { at, who, hold, aim, strength } = table.get_ref();
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
    } else if hold.get_ref() == "over" {
        Hold::Over
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
    Ok(Step { at: place, who: read_who(page, who, aim.as_ref())?, hold, strength })
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
