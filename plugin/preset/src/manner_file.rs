//! Manner files, format 1 or 2, which for manners are the same.
//!
//! One manner to a file, every number written out:
//!
//! ```toml
//! format = 1
//! name = "unhurried"
//! about = "When to use it, in a sentence or two."
//! figures = ["rising", "pulse"]    # by name; none means held chords only
//!
//! [texture]                        # how readily, 0 to 100, compared with one another
//! broken-chord = 60
//! repeated-chord = 30
//! bass-line = 40
//! inner-line = 30                  # may be left out: 0; comes in between the rungs Flowing and Ornate
//! ostinato = false                 # whether one figure may run on, bar after bar
//! repeats = 2                      # else so many bars in a row have one figure, 1 to 8
//! motion = 30                      # tenths of onsets a quarter note, melody and figure together, 5 to 80
//!
//! [voicing]
//! parts = [3, 5]                   # fewest and most parts, 3 to 6
//! bass = ["C2", "G3"]              # lowest and highest bass, A0 to C5, 11 semitones apart or more
//!
//! [touch]                          # velocity steps
//! under-melody = 16                # the accompaniment stays below the melody by, 0 to 60
//! bass = 4                         # the bass against the inner parts, -20 to 20
//! accent = 10                      # from the weakest place of a bar to the strongest, 0 to 40
//! spread = 0                       # milliseconds from note to note of a spread chord, 0 to 60
//! left = -3                        # the left hand's parts above the bass against the right's, -20 to 20
//! top = 2                          # the accompaniment's highest part against the others, -20 to 20
//! follow = 50                      # percent: how far loudness follows the melody's rise and fall, 0 to 100
//! shape = 4                        # from a phrase's ends to its height, 0 to 20
//! build = 4                        # from the first section to the last, 0 to 20
//! timing = 0                       # milliseconds that a chord or step may come late, 0 to 12
//! swing = 0                        # percent: how far eighth notes swing, 0 to 100
//! pedal = true                     # whether the sustain pedal belongs to it
//!
//! [weights]                        # may be left out: what matters in a voicing, 0 to 250 each
//! motion = 6                       # names, meanings and usual values: engine/src/settings/weights.rs
//! ```
//!
//! The keys from `repeats` and from `left` on came later: they may be left out and then have the values above.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use figwort_engine::settings::weights::MOST;
use figwort_engine::{Manner, Weights};
use figwort_theory::Pitch;
use serde::Deserialize;
use toml::Spanned;

use crate::error::{Page, PresetError};
use crate::notation;

const EXAMPLE: &str = "`figwort manners --show unhurried` prints a commented example";

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MannerFile {
    #[serde(rename = "format")]
    _format: i64,
    name: Spanned<String>,
    about: Spanned<String>,
    figures: Vec<Spanned<String>>,
    texture: TextureTable,
    voicing: VoicingTable,
    touch: TouchTable,
    #[serde(default)]
    weights: BTreeMap<Spanned<String>, Spanned<i64>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct TextureTable {
    broken_chord: Spanned<i64>,
    repeated_chord: Spanned<i64>,
    bass_line: Spanned<i64>,
    inner_line: Option<Spanned<i64>>,
    ostinato: bool,
    repeats: Option<Spanned<i64>>,
    motion: Option<Spanned<i64>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct VoicingTable {
    parts: Spanned<Vec<i64>>,
    bass: Spanned<Vec<String>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct TouchTable {
    under_melody: Spanned<i64>,
    bass: Spanned<i64>,
    accent: Spanned<i64>,
    spread: Spanned<i64>,
    left: Option<Spanned<i64>>,
    top: Option<Spanned<i64>>,
    follow: Option<Spanned<i64>>,
    shape: Option<Spanned<i64>>,
    build: Option<Spanned<i64>>,
    timing: Option<Spanned<i64>>,
    swing: Option<Spanned<i64>>,
    pedal: Option<bool>,
}

/// A manner file that has been read; its figures are still names.
#[derive(Clone, Debug)]
pub(crate) struct ReadManner {
    pub(crate) name: String,
    pub(crate) about: String,
    pub(crate) manner: Manner,
    /// Names, each with its line.
    pub(crate) figures: Vec<(String, usize)>,
}

/// Reads and checks a manner file whose format number has been checked.
pub(crate) fn read(page: Page<'_>) -> Result<ReadManner, PresetError> {
    let file: MannerFile = toml::from_str(page.text).map_err(|error| page.toml(&error, EXAMPLE))?;
    let name = page.name(&file.name)?;
    let about = page.about(&file.about)?;
    let mut figures: Vec<(String, usize)> = Vec::new();
    for figure in &file.figures {
        if figures.iter().any(|(known, _)| known == figure.get_ref()) {
            return Err(page.error(
                figure.span(),
                format!("the figure \"{}\" is listed twice", figure.get_ref()),
                "Remove one of the two; the figure's weight says how readily it is chosen",
            ));
        }
        figures.push((figure.get_ref().clone(), page.line(figure.span().start)));
    }
    let (parts_min, parts_max) = parts(page, &file.voicing.parts)?;
    let (bass_low, bass_high) = bass(page, &file.voicing.bass)?;
    let TextureTable { broken_chord, repeated_chord, bass_line, inner_line, ostinato, repeats, motion } =
        file.texture;
    let usual = Manner::default();
    let number = |key: &Option<Spanned<i64>>, name: &str, range: RangeInclusive<i64>, usual: i64| match key {
        Some(value) => page.number(value, name, range),
        None => Ok(usual),
    };
    let touch = &file.touch;
    let manner = Manner {
        broken_chord: page.number(&broken_chord, "broken-chord", 0..=100)? as u8,
        repeated_chord: page.number(&repeated_chord, "repeated-chord", 0..=100)? as u8,
        bass_line: page.number(&bass_line, "bass-line", 0..=100)? as u8,
        inner_line: match &inner_line {
            Some(inner_line) => page.number(inner_line, "inner-line", 0..=100)? as u8,
            None => 0,
        },
        parts_min,
        parts_max,
        bass_low,
        bass_high,
        under_melody: page.number(&file.touch.under_melody, "under-melody", 0..=60)? as u8,
        bass_strength: page.number(&file.touch.bass, "bass", -20..=20)? as i8,
        accent: page.number(&file.touch.accent, "accent", 0..=40)? as u8,
        spread_ms: page.number(&file.touch.spread, "spread", 0..=60)? as u8,
        ostinato,
        repeats: number(&repeats, "repeats", 1..=8, usual.repeats.into())? as u8,
        motion: number(&motion, "motion", 5..=80, usual.motion.into())? as u8,
        left_strength: number(&touch.left, "left", -20..=20, usual.left_strength.into())? as i8,
        top_strength: number(&touch.top, "top", -20..=20, usual.top_strength.into())? as i8,
        follow: number(&touch.follow, "follow", 0..=100, usual.follow.into())? as u8,
        shape: number(&touch.shape, "shape", 0..=20, usual.shape.into())? as u8,
        build: number(&touch.build, "build", 0..=20, usual.build.into())? as u8,
        timing_ms: number(&touch.timing, "timing", 0..=12, usual.timing_ms.into())? as u8,
        swing: number(&touch.swing, "swing", 0..=100, usual.swing.into())? as u8,
        pedal: touch.pedal.unwrap_or(usual.pedal),
        weights: weights(page, &file.weights)?,
    };
    Ok(ReadManner { name, about, manner, figures })
}

fn weights(page: Page<'_>, table: &BTreeMap<Spanned<String>, Spanned<i64>>) -> Result<Weights, PresetError> {
    let mut weights = Weights::default();
    for (name, value) in table {
        let amount = page.number(value, name.get_ref(), 0..=i64::from(MOST))?;
        // In files words are joined by hyphens, as everywhere here.
        if !weights.set(&name.get_ref().replace('-', "_"), amount as u8) {
            let names: Vec<String> = Weights::NAMES.iter().map(|known| known.replace('_', "-")).collect();
            return Err(page.error(
                name.span(),
                format!("there is no weight \"{}\"", name.get_ref()),
                format!("The weights are {}", names.join(", ")),
            ));
        }
    }
    Ok(weights)
}

fn parts(page: Page<'_>, parts: &Spanned<Vec<i64>>) -> Result<(u8, u8), PresetError> {
    match parts.get_ref()[..] {
        [fewest, most] if (3..=6).contains(&fewest) && (fewest..=6).contains(&most) => {
            Ok((fewest as u8, most as u8))
        }
        _ => Err(page.error(
            parts.span(),
            "`parts` is not the fewest and the most parts of a voicing",
            "Write two numbers from 3 to 6, the smaller first, such as [3, 5]",
        )),
    }
}

fn bass(page: Page<'_>, bass: &Spanned<Vec<String>>) -> Result<(Pitch, Pitch), PresetError> {
    let (lowest, highest) = (Pitch::new(21), Pitch::new(72));
    let error = |what: String| {
        page.error(
            bass.span(),
            what,
            "Write the lowest and the highest bass, 11 semitones apart or more, such as [\"C2\", \"G3\"]",
        )
    };
    let [low, high] = &bass.get_ref()[..] else {
        return Err(error("`bass` is not two pitches".to_owned()));
    };
    let read = |text: &String| {
        notation::pitch(text)
            .filter(|pitch| (lowest..=highest).contains(pitch))
            .ok_or_else(|| error(format!("\"{text}\" is no pitch from {lowest} to {highest}")))
    };
    let (low, high) = (read(low)?, read(high)?);
    // Every pitch class needs a place.
    if high.above(low) < 11 {
        return Err(error(format!("between {low} and {high} some bass notes find no place")));
    }
    Ok((low, high))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn manner(weights: &str) -> Result<ReadManner, PresetError> {
        let text = format!(
            "format = 1\nname = \"test\"\nabout = \"For tests.\"\nfigures = []\n\
             [texture]\nbroken-chord = 1\nrepeated-chord = 1\nbass-line = 1\nostinato = false\n\
             [voicing]\nparts = [3, 5]\nbass = [\"C2\", \"G3\"]\n\
             [touch]\nunder-melody = 16\nbass = 4\naccent = 10\nspread = 0\n{weights}"
        );
        read(Page { file: "test.toml", text: &text })
    }

    #[test]
    fn weights_may_be_changed_within_their_range() {
        let usual = manner("").expect("no weights");
        assert_eq!(usual.manner.weights, Weights::default());
        let changed = manner("[weights]\nmotion = 20\nleft-hand-full = 0\n").expect("two weights");
        assert_eq!((changed.manner.weights.motion, changed.manner.weights.left_hand_full), (20, 0));
        let unknown = manner("[weights]\nmotion = 20\ncharm = 3\n").expect_err("no such weight");
        assert_eq!(unknown.line, Some(20), "{unknown}");
        let large = manner("[weights]\nmotion = 251\n").expect_err("too large");
        assert_eq!(large.line, Some(19), "{large}");
    }

    /// Files from before these keys keep their meaning; each has its range.
    #[test]
    fn later_keys_may_be_left_out() {
        let usual = manner("").expect("none of them").manner;
        let default = Manner::default();
        assert_eq!((usual.repeats, usual.motion, usual.timing_ms), (default.repeats, default.motion, 0));
        assert_eq!((usual.swing, usual.pedal), (0, true));
        let changed = manner("timing = 6\nswing = 60\nleft = -5\npedal = false\n").expect("four keys").manner;
        assert_eq!((changed.timing_ms, changed.swing, changed.left_strength), (6, 60, -5));
        assert!(!changed.pedal);
        for wrong in ["timing = 13", "swing = 101", "top = 21", "follow = -1", "shape = 21", "build = 21"] {
            let error = manner(&format!("{wrong}\n")).expect_err(wrong);
            assert_eq!(error.line, Some(18), "{error}");
        }
    }
}
