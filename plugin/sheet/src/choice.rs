//! Which of a file's tunes, and which of its lines, is read.

use crate::SheetError;

/// What is chosen of a file; by itself, what the reader thinks best.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Choice<'a> {
    /// The `X:` number of a tune of an ABC file; the first without it. Other formats hold one tune.
    pub tune: Option<usize>,
    /// The melody's part (MusicXML), voice (ABC) or track (MIDI), by its name, part of its name, or its number
    /// from 1.
    pub melody: Option<&'a str>,
}

/// Most lines named in a message, and longest name.
const SHOWN: usize = 20;
const MAX_NAME: usize = 40;

/// The line that is wanted of lines with ids and names, by place.
///
/// # Errors
/// [`SheetError::NoSuchLine`], naming those that there are.
pub(crate) fn line(
    kind: &'static str,
    wanted: &str,
    lines: &[(String, String)],
) -> Result<usize, SheetError> {
    let plain = |text: &str| text.trim().to_lowercase();
    let sought = plain(wanted);
    let by = |is: &dyn Fn(&(String, String)) -> bool| lines.iter().position(is);
    let number = || sought.parse::<usize>().ok()?.checked_sub(1).filter(|place| *place < lines.len());
    let found = by(&|line| plain(&line.0) == sought)
        .or_else(|| by(&|line| plain(&line.1) == sought))
        .or_else(number)
        .or_else(|| by(&|line| !sought.is_empty() && plain(&line.1).contains(&sought)));
    found.ok_or_else(|| {
        let shown = |(place, (id, name)): (usize, &(String, String))| {
            let name = if name.is_empty() { id } else { name };
            let name: String = name.chars().take(MAX_NAME).collect();
            let number = (place + 1).to_string();
            if name.is_empty() || name == number { number } else { format!("{number} ({name})") }
        };
        let mut available: Vec<String> = lines.iter().enumerate().take(SHOWN).map(shown).collect();
        if lines.len() > SHOWN {
            available.push("…".into());
        }
        let wanted = wanted.chars().take(MAX_NAME).collect();
        let last = available.pop().unwrap_or_default();
        let joint = if lines.len() > SHOWN { ", " } else { " or " };
        let available =
            if available.is_empty() { last } else { format!("{}{joint}{last}", available.join(", ")) };
        SheetError::NoSuchLine { kind, wanted, available }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_by_name_and_number() {
        let lines = [("P1", "Piano"), ("P2", "Voice"), ("P3", "Voice 2")];
        let lines = lines.map(|(id, name)| (id.to_owned(), name.to_owned()));
        let found = |wanted| line("part", wanted, &lines);
        assert_eq!((found("P2"), found("voice"), found("3"), found("pia")), (Ok(1), Ok(1), Ok(2), Ok(0)));
        let error = found("flute").map_err(|error| error.to_string());
        let text = "no part \"flute\"; choose 1 (Piano), 2 (Voice) or 3 (Voice 2)";
        assert_eq!(error, Err(text.to_owned()));
        let one = line("voice", "Flute", &[("1".into(), String::new())]).map_err(|error| error.to_string());
        assert_eq!(one, Err("no voice \"Flute\"; choose 1".to_owned()));
        assert!(found("0").is_err() && found("4").is_err() && found("").is_err());
    }
}
