//! The words for parts and for the aims of lines. What they mean is told at the head of the file format.

use figwort_engine::{Aim, Thread, Who};
use toml::Spanned;

use crate::error::{Page, PresetError};

/// The part that a step's word stands for, with its aim where it is a line.
pub(super) fn read_who(
    page: Page<'_>,
    text: &Spanned<String>,
    aim: Option<&Spanned<String>>,
) -> Result<Who, PresetError> {
    let word = text.get_ref().as_str();
    let thread = match word {
        "bass line" => Some(Thread::Bass),
        "inner line" => Some(Thread::Inner),
        "top line" => Some(Thread::Top),
        _ => None,
    };
    if let Some(thread) = thread {
        let chosen = aim.map_or(Ok(Aim::Step), |aim| read_aim(page, aim))?;
        if let (Thread::Bass, Aim::Tenth, Some(aim)) = (thread, chosen, aim) {
            return Err(page.error(
                aim.span(),
                "the bass can't go in tenths over itself",
                "Write who = \"inner line\" or \"top line\", or another aim",
            ));
        }
        return Ok(Who::Line(thread, chosen));
    }
    if let Some(aim) = aim {
        return Err(page.error(
            aim.span(),
            format!("\"{word}\" is no line and has no aim"),
            "Remove `aim`, or write \"bass line\", \"inner line\" or \"top line\"",
        ));
    }
    let counted = |prefix: &str, most: u8| {
        let digits = word.strip_prefix(prefix)?;
        digits.parse::<u8>().ok().filter(|n| (1..=most).contains(n) && digits.len() == 1)
    };
    Ok(match word {
        "bass" => Who::Bass,
        "top" => Who::Top,
        "upper" => Who::Upper,
        "right" => Who::Right,
        "left" => Who::Left,
        "all" => Who::All,
        "bass passing" => Who::Line(Thread::Bass, Aim::Passing),
        "bass goal" => Who::Line(Thread::Bass, Aim::Tone),
        "next" => Who::Next,
        "below bass" => Who::BelowBass,
        other => match (counted("inner ", 5), counted("climb ", 6)) {
            (Some(n), _) => Who::Inner(n),
            (_, Some(n)) => Who::Climb(n),
            _ => {
                return Err(page.error(
                    text.span(),
                    format!("\"{other}\" is no part"),
                    "Write \"bass\", \"inner 1\" to \"inner 5\", \"top\", \"upper\", \"right\", \"left\", \
                     \"all\", \"bass line\", \"inner line\", \"top line\" or \"next\"; in endings also \
                     \"below bass\" and \"climb 1\" to \"climb 6\"",
                ));
            }
        },
    })
}

/// The aims' words.
const AIMS: [(&str, Aim); 11] = [
    ("step", Aim::Step),
    ("tone", Aim::Tone),
    ("passing", Aim::Passing),
    ("neighbour", Aim::Neighbour),
    ("approach", Aim::Approach),
    ("chromatic", Aim::Chromatic),
    ("run", Aim::Run),
    ("down", Aim::Down),
    ("up", Aim::Up),
    ("leap", Aim::Leap),
    ("tenth", Aim::Tenth),
];

fn read_aim(page: Page<'_>, text: &Spanned<String>) -> Result<Aim, PresetError> {
    AIMS.into_iter().find(|(word, _)| word == text.get_ref()).map(|(_, aim)| aim).ok_or_else(|| {
        let words: Vec<String> = AIMS.iter().map(|(word, _)| format!("\"{word}\"")).collect();
        page.error(
            text.span(),
            format!("\"{}\" is no aim of a line", text.get_ref()),
            format!("Write one of {}", words.join(", ")),
        )
    })
}
