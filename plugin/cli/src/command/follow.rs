//! `figwort follow`: a recorded take through the live engine.

use std::collections::BTreeSet;
use std::path::Path;

use figwort_engine::{Source, Start};
use figwort_sheet::take::{self, Take, TakeMessage};
use figwort_sheet::{Format, sniff};

use crate::args::{Follow, StartWhen};
use crate::command::part::{Order, Pianist, check_duration};
use crate::failure::{Failure, Outcome};
use crate::{input, news};

/// Follows the take that the options name.
pub(crate) fn run(arguments: &Follow) -> Outcome<()> {
    let path = arguments.take.as_path();
    let one_keyboard = arguments.hands || arguments.split.is_some();
    if !one_keyboard && arguments.melody_channel == arguments.chord_channel {
        return Err(Failure::misuse(
            "melody and chords are on the same channel; give two, or --split KEY or --hands for one keyboard",
        ));
    }
    if let [_, ..] = &arguments.others[..] {
        return Err(Failure::misuse(format!("{} takes: give one at a time", 1 + arguments.others.len())));
    }
    let order = Order::new(&arguments.wanted, &arguments.playing, path)?;
    let mut pianist = Pianist::new(&arguments.playing, &arguments.wanted)?;
    let bytes = input::bytes(path, input::MAX_SHEET)?;
    if matches!(sniff(&bytes), Format::Abc | Format::MusicXml | Format::CompressedMusicXml) {
        let text = "this is a lead sheet, not a recorded take; play it with figwort arrange";
        return Err(Failure::file(path, text));
    }
    let take = take::read(&bytes).map_err(|error| Failure::file(path, error))?;
    check_duration(&take.tempos, take.end).map_err(|error| Failure::file(path, error))?;
    for warning in &take.warnings {
        order.warn(warning);
    }
    if !one_keyboard {
        check_channels(path, &take, arguments.melody_channel, arguments.chord_channel)?;
    }
    pianist.options.block = arguments.block;
    pianist.options.settings.source = match arguments.split {
        Some(key) => Source::Split(key),
        None if arguments.hands => Source::Hands,
        None => {
            Source::Channels { melody: arguments.melody_channel - 1, harmony: arguments.chord_channel - 1 }
        }
    };
    pianist.options.settings.start = match arguments.start {
        StartWhen::AfterWait => Start::AfterWait,
        StartWhen::ByChance => Start::ByChance,
    };
    order.fill(&pianist, &[], |options| figwort_render::follow(&take, options))
}

/// Refuses a take with nothing on either channel, and doubts one that lacks one of the two.
fn check_channels(path: &Path, take: &Take, melody: u8, chords: u8) -> Outcome<()> {
    let used: BTreeSet<u8> = take
        .events
        .iter()
        .filter(|event| matches!(event.message, TakeMessage::NoteOn { .. }))
        .map(|event| event.channel + 1)
        .collect();
    let listed = match used.iter().map(u8::to_string).collect::<Vec<_>>().as_slice() {
        [] => return Err(Failure::file(path, "there is no note in this take; record one with notes")),
        [one] => format!("channel {one}"),
        [others @ .., last] => format!("channels {} and {last}", others.join(", ")),
    };
    let advice =
        "choose with --melody-channel and --chord-channel, or give --split KEY or --hands for one keyboard";
    match (used.contains(&melody), used.contains(&chords)) {
        (true, true) => {}
        (false, false) => {
            let message =
                format!("no notes on channel {melody} or {chords}; the take has {listed}, so {advice}");
            return Err(Failure::file(path, message));
        }
        (has_melody, _) => {
            let (what, channel) = if has_melody { ("chords", chords) } else { ("melody", melody) };
            news(&format!(
                "warning: {}: no {what} on channel {channel}; the take has {listed}; {advice}",
                path.display()
            ));
        }
    }
    Ok(())
}
