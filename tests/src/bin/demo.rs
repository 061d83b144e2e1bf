//! The demonstration: the built plugin plays a recorded take in a host, and a lead sheet is arranged offline.
//!
//! Writes what was played as MIDI, WAV and pictures and prints it bar by bar. `FIGWORT_CLAP` names the
//! plugin, `FIGWORT_DEMO` the folder for the files; `cargo xtask demo` sets both. Ends with an error when
//! the plugin in its host played anything else than the engine offline.
#![allow(clippy::print_stdout, reason = "talking to the terminal is its job")]

use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use anyhow::{Context, Result, bail};
use figwort_engine::{Hand, Settings, Source};
use figwort_preset::Library;
use figwort_render::perform::{PedalChange, PlayedNote};
use figwort_render::picture::PictureOptions;
use figwort_render::tempo::TempoMap;
use figwort_render::{Options, Performance, arrange, follow, midi, picture, report, wav};
use figwort_sheet::take::{Take, TakeMessage};
use figwort_theory::{Metre, Moment, Pitch, Span, Velocity};
use tests::clap_host::ClapRig;
use tests::host::{Heard, Host, Send, Transport, bundle};

const SONGS: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../presets/songs");
const TAKE: &str = "lamps-along-the-landing.take.mid";
const SHEET: &str = "fog-bell-slack-water.abc";
const SAMPLE_RATE: u32 = 48_000;
const BLOCK: u64 = 64;
/// As a take is recorded: melody on MIDI channel 1, chords on 2.
const SOURCE: Source = Source::Channels { melody: 0, harmony: 1 };

fn main() -> Result<()> {
    let folder = std::env::var_os("FIGWORT_DEMO").map_or_else(|| PathBuf::from("target/demo"), PathBuf::from);
    fs::create_dir_all(&folder).with_context(|| format!("{} can't be made", folder.display()))?;
    let manner = Library::factory().manner(Library::DEFAULT_MANNER)?;
    let options = Options {
        sample_rate: SAMPLE_RATE,
        block: 512,
        settings: Settings { source: SOURCE, manner: manner.manner, ..Settings::default() },
        figures: manner.figures,
    };

    println!("1. A take, played through the plugin in a CLAP host in blocks of {BLOCK} frames\n");
    let bytes = read(TAKE)?;
    let take = figwort_sheet::take::read(&bytes).with_context(|| TAKE.to_owned())?;
    let offline = follow(&take, &options);
    let hosted = in_host(&take, &offline)?;
    print!("{}", report::table(&hosted.performance));
    hosted.print_times();
    let mut files = write(&folder, "take", &hosted.performance)?;
    let differences = compare(&hosted.performance, &offline);

    println!("\n2. A lead sheet, arranged offline\n");
    let sheet = figwort_sheet::read(&read(SHEET)?, None).with_context(|| SHEET.to_owned())?;
    let arranged = arrange(&sheet, &options);
    println!("{}", arranged.title);
    print!("{}", report::table(&arranged));
    files.extend(write(&folder, "sheet", &arranged)?);

    println!("\nTo hear and see it:");
    for file in files {
        println!("  {}", file.display());
    }
    if differences > 0 {
        bail!("the plugin in its host and the engine offline differ in {differences} events");
    }
    println!(
        "\nThe plugin in its host played what the engine plays offline, note for note: {} notes, {} pedal \
         changes, every frame and velocity the same.",
        offline.notes.len(),
        offline.pedal.len()
    );
    Ok(())
}

fn read(name: &str) -> Result<Vec<u8>> {
    let path = Path::new(SONGS).join(name);
    fs::read(&path).with_context(|| format!("{} can't be read", path.display()))
}

/// Writes a performance as MIDI, WAV, SVG and PNG.
fn write(folder: &Path, name: &str, performance: &Performance) -> Result<Vec<PathBuf>> {
    let svg = picture::svg(performance, &PictureOptions::default());
    let files = [
        ("mid", midi::write(performance)),
        ("wav", wav::write(performance)),
        ("png", picture::png(&svg, 1.0)?),
        ("svg", svg.into_bytes()),
    ];
    let mut paths = Vec::new();
    for (ending, bytes) in files {
        let path = folder.join(format!("{name}.{ending}"));
        fs::write(&path, bytes).with_context(|| format!("{} can't be written", path.display()))?;
        paths.push(path);
    }
    Ok(paths)
}

/// What the plugin played, and how long it took.
struct Hosted {
    performance: Performance,
    times: Vec<Duration>,
}

impl Hosted {
    /// The time of each block, against the time it lasts.
    fn print_times(&self) {
        let mut times = self.times.clone();
        times.sort();
        let micros = |part: f64| {
            let index = ((times.len().saturating_sub(1)) as f64 * part).round() as usize;
            times.get(index).map_or(0.0, |time| time.as_secs_f64() * 1e6)
        };
        println!(
            "\n{} blocks, each {:.0} us of music, took {:.1} us (median), {:.1} us (999 of 1000), {:.1} us (longest), \
             the host's part included.",
            times.len(),
            BLOCK as f64 / f64::from(SAMPLE_RATE) * 1e6,
            micros(0.5),
            micros(0.999),
            micros(1.0)
        );
    }
}

/// Plays a take through the plugin, transport and all, as a DAW would. Everything but notes and pedal is
/// taken over from `offline`.
fn in_host(take: &Take, offline: &Performance) -> Result<Hosted> {
    let map = TempoMap::new(&take.tempos, SAMPLE_RATE);
    let mut input: Vec<(u64, Send)> =
        vec![(0, Send::Set("Input", 0.5)), (0, Send::Set("Output channels", 1.0))];
    for event in &take.events {
        let send = match event.message {
            TakeMessage::NoteOn { pitch, velocity } => Send::On(event.channel, pitch.key(), velocity.value()),
            TakeMessage::NoteOff { pitch } => Send::Off(event.channel, pitch.key()),
            TakeMessage::Sustain(down) => Send::Controller(event.channel, 64, if down { 127 } else { 0 }),
            _ => continue,
        };
        input.push((map.frame_at(event.at), send));
    }

    let mut rig = ClapRig::load(&bundle("FIGWORT_CLAP"));
    rig.start(f64::from(SAMPLE_RATE));
    let (mut heard, mut times) = (Vec::new(), Vec::new());
    let (mut at, mut next) = (0, 0);
    let mut play = |until: u64, playing: bool, heard: &mut Vec<Heard>| {
        while at < until {
            let frames = BLOCK.min(until - at);
            let mut now = Vec::new();
            while let Some((frame, send)) = input.get(next).filter(|event| event.0 < at + frames) {
                now.push(((frame - at) as u32, send.clone()));
                next += 1;
            }
            let transport = transport(&map, offline, at, playing);
            let begun = Instant::now();
            let new = rig.block(at, frames as usize, Some(transport), &now);
            times.push(begun.elapsed());
            heard.extend(new);
            at += frames;
        }
        at
    };
    // The transport runs to the end of the take, and to the end of its beat if something still sounds then.
    let last = take.events.iter().map(|event| event.at).max().unwrap_or(Moment::ZERO);
    let end = take.end.max(last);
    let beat = offline.bars.last().map_or(Metre::FOUR_FOUR, |bar| bar.metre).beat();
    let into = offline.bars.last().map_or(0, |bar| (end - bar.start).0.rem_euclid(beat.0.max(1)));
    let mut stop = play(map.first_frame_from(end) + 1, true, &mut heard);
    if into > 0 && sounds(&heard) {
        let late = Moment(end.0 + beat.0 - into);
        stop = play(map.first_frame_from(late) + 1, true, &mut heard);
    }
    play(stop + u64::from(SAMPLE_RATE), false, &mut heard);
    rig.stop();

    let (notes, pedal) = performed(&heard, &map)?;
    Ok(Hosted { performance: Performance { notes, pedal, ..offline.clone() }, times })
}

/// The host's transport at a frame.
fn transport(map: &TempoMap, offline: &Performance, frame: u64, playing: bool) -> Transport {
    let bar = offline.bars.iter().rev().find(|bar| map.first_frame_from(bar.start) <= frame);
    let metre = bar.map_or(Metre::FOUR_FOUR, |bar| bar.metre);
    let mut start = bar.map_or(Moment::ZERO, |bar| bar.start);
    if let Some(last) = offline.bars.last().filter(|last| map.first_frame_from(last.end()) <= frame) {
        start = last.end();
    }
    Transport {
        playing,
        beats: map.quarters_at(frame),
        bar_start: start.since_zero().in_quarters(),
        tempo: 60_000_000.0 / f64::from(map.micros_at(frame)),
        metre: (u16::from(metre.numerator()), u16::from(metre.denominator())),
    }
}

fn sounds(heard: &[Heard]) -> bool {
    let on = heard.iter().filter(|event| matches!(event, Heard::On(..))).count();
    let off = heard.iter().filter(|event| matches!(event, Heard::Off(..))).count();
    on > off
}

/// The notes and pedal that came out, each hand by its channel.
fn performed(heard: &[Heard], map: &TempoMap) -> Result<(Vec<PlayedNote>, Vec<PedalChange>)> {
    let hand = |channel: u8| match channel {
        0 => Ok(Hand::Melody),
        1 => Ok(Hand::Right),
        2 => Ok(Hand::Left),
        other => bail!("a note on channel {}", other + 1),
    };
    let mut open: Vec<PlayedNote> = Vec::new();
    let (mut notes, mut pedal) = (Vec::new(), Vec::new());
    for event in heard {
        match *event {
            Heard::On(frame, channel, key, velocity) => {
                let at = map.moment_at(frame);
                open.push(PlayedNote {
                    hand: hand(channel)?,
                    pitch: Pitch::new(key),
                    velocity: Velocity::new(i32::from(velocity)),
                    on: frame,
                    off: frame,
                    at,
                    length: Span::ZERO,
                });
            }
            Heard::Off(frame, channel, key) => {
                let hand = hand(channel)?;
                let found = open.iter().position(|note| note.hand == hand && note.pitch.key() == key);
                let Some(index) = found else { bail!("{event:?} ends a note that does not sound") };
                let mut note = open.remove(index);
                note.off = frame;
                note.length = map.moment_at(frame) - note.at;
                notes.push(note);
            }
            // Right and left hand have a channel each, but one pedal.
            Heard::Controller(frame, 1, 64, value) => {
                pedal.push(PedalChange { frame, at: map.moment_at(frame), down: value >= 64 });
            }
            _ => {}
        }
    }
    if !open.is_empty() {
        bail!("{} notes never end", open.len());
    }
    notes.sort_by_key(|note| (note.on, note.hand, note.pitch));
    Ok((notes, pedal))
}

/// Says where two performances differ, the first few places only; answers how many there are.
fn compare(hosted: &Performance, offline: &Performance) -> usize {
    let mut differences = hosted.notes.len().abs_diff(offline.notes.len());
    differences += hosted.pedal.len().abs_diff(offline.pedal.len());
    for (hosted, offline) in hosted.notes.iter().zip(&offline.notes) {
        if hosted != offline {
            differences += 1;
            if differences <= 5 {
                println!("in the host: {hosted:?}\n    offline: {offline:?}");
            }
        }
    }
    differences + hosted.pedal.iter().zip(&offline.pedal).filter(|(a, b)| a != b).count()
}
