//! The voices of a tune, and the one that is chosen.

use super::header::Header;
use super::text::{self, Line};
use crate::{SheetError, choice};

/// Most voices told apart.
const MAX_VOICES: usize = 64;

/// The voice that is wanted, by its `V:` id, its `name=` or its number in the order of the tune.
///
/// # Errors
/// [`SheetError::NoSuchLine`] where there is none.
pub(super) fn chosen(wanted: &str, header: &Header, music: &[Line<'_>]) -> Result<String, SheetError> {
    let mut voices = header.voice_names.clone();
    for line in music {
        let line = text::without_comment(line.text);
        let own = text::field_in_body(line).filter(|(letter, _)| *letter == 'V').map(|(_, value)| value);
        let inline = line.split("[V:").skip(1).filter_map(|rest| Some(rest.split_once(']')?.0));
        for value in own.into_iter().chain(inline) {
            let voice = named(value);
            if let Some(known) = voices.iter_mut().find(|(id, _)| *id == voice.0) {
                if known.1.is_empty() {
                    known.1 = voice.1;
                }
            } else if voices.len() < MAX_VOICES {
                voices.push(voice);
            }
        }
    }
    if voices.is_empty() {
        voices.push(("1".into(), String::new()));
    }
    let place = choice::line("voice", wanted, &voices)?;
    Ok(voices.into_iter().nth(place).map(|(id, _)| id).unwrap_or_default())
}

/// The id and name of a `V:` field.
pub(super) fn named(value: &str) -> (String, String) {
    let id = value.split_whitespace().next().unwrap_or("").chars().take(40).collect();
    let name = ["name=", "nm="].iter().find_map(|key| {
        let rest = value.split_once(key)?.1;
        match rest.strip_prefix('"') {
            Some(quoted) => quoted.split('"').next(),
            None => rest.split_whitespace().next(),
        }
    });
    (id, name.unwrap_or_default().chars().take(40).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_and_names() {
        assert_eq!(named("T1 clef=treble name=\"Tenor solo\" snm=T"), ("T1".into(), "Tenor solo".into()));
        assert_eq!(named("2 nm=Alt"), ("2".into(), "Alt".into()));
        assert_eq!(named(""), (String::new(), String::new()));
    }
}
