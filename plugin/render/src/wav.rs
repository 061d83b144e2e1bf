//! Performances as sound: 16-bit stereo WAV through the audition piano or a soundfont.
//!
//! It starts quiet (ordinary playing peaks near -18 dB of full scale) and is peak-limited at 0.89 of full
//! scale, so that it can be opened at any volume setting. After the last note the strings ring out until they
//! are 60 dB below the loudest moment, at most six seconds, and the very end is faded.
//!
//! Deliberately absent: dither, other formats.

use std::io::Cursor;

use crate::perform::Performance;
use crate::piano::Piano;
use crate::soundfont::{Font, FontError, Instrument};

/// Longest ringing out, in seconds.
const TAIL_SECONDS: u64 = 6;
/// What counts as silence, against the loudest moment: -60 dB.
const SILENCE: f32 = 0.001;
/// Frames rendered at a time.
const BLOCK: usize = 256;

/// How loud and how long a rendering came out.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Loudness {
    /// Highest absolute sample of either channel, 0 to 1.
    pub peak: f32,
    /// Length in seconds.
    pub seconds: f64,
}

/// A 16-bit stereo WAV file at the performance's sample rate. Empty if the sound would be longer than the
/// format can hold (4 GiB: six hours at 48 kHz).
pub fn write(performance: &Performance) -> Vec<u8> {
    write_measured(performance).0
}

/// As [`write()`], with how loud and how long it came out.
pub fn write_measured(performance: &Performance) -> (Vec<u8>, Loudness) {
    let piano = Piano::new(performance.sample_rate.max(1) as f32);
    file(performance, Player::Piano(Box::new(piano)))
}

/// As [`write()`], played on a soundfont.
///
/// # Errors
/// [`FontError`] where the font cannot be played at the performance's sample rate.
pub fn write_with(performance: &Performance, font: &Font) -> Result<(Vec<u8>, Loudness), FontError> {
    let instrument = font.instrument(performance.sample_rate.max(1))?;
    Ok(file(performance, Player::Font(Box::new(instrument))))
}

/// What sounds.
enum Player {
    Piano(Box<Piano>),
    Font(Box<Instrument>),
}

impl Player {
    fn take(&mut self, event: Event) {
        match (self, event) {
            (Self::Piano(piano), Event::Off(key)) => piano.note_off(key),
            (Self::Piano(piano), Event::Pedal(down)) => piano.pedal(down),
            (Self::Piano(piano), Event::On(key, velocity)) => piano.note_on(key, velocity),
            (Self::Font(font), Event::Off(key)) => font.note_off(key),
            (Self::Font(font), Event::Pedal(down)) => font.pedal(down),
            (Self::Font(font), Event::On(key, velocity)) => font.note_on(key, velocity),
        }
    }

    /// Renders into channels that are silent.
    fn render(&mut self, left: &mut [f32], right: &mut [f32]) {
        match self {
            Self::Piano(piano) => piano.add_to(left, right),
            Self::Font(font) => font.render(left, right),
        }
    }

    /// Whether nothing will sound any more; a font does not tell.
    fn is_silent(&self) -> bool {
        match self {
            Self::Piano(piano) => piano.is_silent(),
            Self::Font(_) => false,
        }
    }
}

fn file(performance: &Performance, player: Player) -> (Vec<u8>, Loudness) {
    let rate = performance.sample_rate.max(1);
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: rate,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut bytes = Vec::new();
    let mut loudness = Loudness::default();
    let written = || -> Result<(), hound::Error> {
        let mut writer = hound::WavWriter::new(Cursor::new(&mut bytes), spec)?;
        let mut frames = 0_u64;
        sound(performance, player, &mut |left, right| {
            frames += left.len() as u64;
            for sample in left.iter().zip(right).flat_map(|(left, right)| [*left, *right]) {
                loudness.peak = loudness.peak.max(sample.abs());
                writer.write_sample((sample * 32_767.0).round() as i16)?;
            }
            Ok(())
        })?;
        loudness.seconds = frames as f64 / f64::from(rate);
        writer.finalize()
    };
    if written().is_err() {
        bytes.clear();
    }
    (bytes, loudness)
}

/// What the piano is told, in the order of one frame: what ends, the pedal, what begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Event {
    Off(u8),
    Pedal(bool),
    On(u8, u8),
}

/// Takes the sound piece by piece: both channels, of one length.
type Take<'a> = dyn FnMut(&[f32], &[f32]) -> Result<(), hound::Error> + 'a;

/// Plays the performance, ringing out included.
fn sound(performance: &Performance, mut player: Player, take: &mut Take<'_>) -> Result<(), hound::Error> {
    let rate = performance.sample_rate.max(1);
    let mut events: Vec<(u64, Event)> = Vec::new();
    for note in &performance.notes {
        // A note that ends where it begins would otherwise be let go before it is struck.
        events.push((note.off.max(note.on + 1), Event::Off(note.pitch.key())));
        events.push((note.on, Event::On(note.pitch.key(), note.velocity.value())));
    }
    events.extend(performance.pedal.iter().map(|change| (change.frame, Event::Pedal(change.down))));
    events.sort_unstable();
    let mut peak = 0.0_f32;
    let mut now = 0;
    for (frame, event) in events {
        peak = peak.max(render(&mut player, frame.saturating_sub(now), take)?);
        now = now.max(frame);
        player.take(event);
    }
    peak = peak.max(render(&mut player, performance.end_frame.saturating_sub(now), take)?);
    ring_out(&mut player, rate, peak * SILENCE, take)
}

/// Renders frames and hands them on. Returns their peak.
fn render(player: &mut Player, mut frames: u64, take: &mut Take<'_>) -> Result<f32, hound::Error> {
    let mut loudest = 0.0_f32;
    while frames > 0 {
        let count = usize::try_from(frames).unwrap_or(BLOCK).min(BLOCK);
        let (mut left, mut right) = ([0.0; BLOCK], [0.0; BLOCK]);
        let (left, right) = (&mut left[..count], &mut right[..count]);
        player.render(left, right);
        loudest = loudest.max(peak(left)).max(peak(right));
        take(left, right)?;
        frames -= count as u64;
    }
    Ok(loudest)
}

fn peak(samples: &[f32]) -> f32 {
    samples.iter().fold(0.0, |peak, sample| peak.max(sample.abs()))
}

/// Lets the strings ring until they are softer than `silence`, and fades the end.
fn ring_out(player: &mut Player, rate: u32, silence: f32, take: &mut Take<'_>) -> Result<(), hound::Error> {
    // A twentieth of a second holds a whole period of the lowest string.
    let step = (rate as usize / 20).max(1);
    let steps = TAIL_SECONDS * 20;
    for index in 1..=steps {
        if player.is_silent() {
            break;
        }
        let (mut left, mut right) = (vec![0.0; step], vec![0.0; step]);
        player.render(&mut left, &mut right);
        let last = index == steps || player.is_silent() || peak(&left).max(peak(&right)) < silence;
        if last {
            for channel in [&mut left, &mut right] {
                for (place, sample) in channel.iter_mut().enumerate() {
                    *sample *= 1.0 - (place + 1) as f32 / step as f32;
                }
            }
        }
        take(&left, &right)?;
        if last {
            break;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;

    #[test]
    fn the_file_reads_back_and_rings_out() {
        let performance = sample::two_bars();
        let (bytes, loudness) = write_measured(&performance);
        let mut reader = hound::WavReader::new(Cursor::new(&bytes)).unwrap();
        let spec = reader.spec();
        assert_eq!((spec.channels, spec.sample_rate, spec.bits_per_sample), (2, 48_000, 16));
        let frames = f64::from(reader.duration());
        let samples: Vec<i16> = reader.samples::<i16>().map(Result::unwrap).collect();
        assert_eq!(frames / 48_000.0, loudness.seconds);
        assert!((9.0..=15.0).contains(&loudness.seconds), "{} s", loudness.seconds);
        let peak = samples.iter().map(|s| s.unsigned_abs()).max().unwrap();
        assert_eq!(i32::from(peak), (loudness.peak * 32_767.0).round() as i32);
        // At most a decibel below full scale, and no softer than thirty.
        assert!((0.032..=0.89).contains(&loudness.peak), "{}", loudness.peak);
        assert_eq!(samples[samples.len() - 2..], [0, 0]);
        // The first note of the pick-up begins at once.
        assert!(samples[..9_600].iter().any(|sample| sample.unsigned_abs() > 300));
    }

    /// Only what begins in the second bar is left: nothing sounds before it, and it sounds at once.
    #[test]
    fn notes_sound_at_their_frames() {
        let mut performance = sample::two_bars();
        performance.notes.retain(|note| note.on == 5 * 48_000);
        let mut left = Vec::new();
        let piano = Player::Piano(Box::new(Piano::new(48_000.0)));
        sound(&performance, piano, &mut |samples, _| {
            left.extend_from_slice(samples);
            Ok(())
        })
        .unwrap();
        assert!(left[..5 * 48_000].iter().all(|sample| *sample == 0.0));
        assert!(left[5 * 48_000..5 * 48_000 + 2_400].iter().any(|sample| sample.abs() > 0.01));
    }

    #[test]
    fn a_soundfont_plays_at_its_rate_rings_out_and_ends() {
        let font = Font::read(&crate::soundfont::tests::tiny_font()).unwrap();
        let performance = sample::two_bars();
        let (bytes, loudness) = write_with(&performance, &font).unwrap();
        let mut reader = hound::WavReader::new(Cursor::new(&bytes)).unwrap();
        assert_eq!((reader.spec().channels, reader.spec().sample_rate), (2, 48_000));
        assert_eq!(f64::from(reader.duration()) / 48_000.0, loudness.seconds);
        assert!((9.0..=15.0).contains(&loudness.seconds), "{} s", loudness.seconds);
        assert!((0.05..=0.89).contains(&loudness.peak), "{}", loudness.peak);
        let samples: Vec<i16> = reader.samples::<i16>().map(Result::unwrap).collect();
        assert_eq!(samples[samples.len() - 2..], [0, 0]);
        // Key 70 at once, and nothing before it.
        assert!(samples[..9_600].iter().any(|sample| sample.unsigned_abs() > 300));
        let slow = Performance { sample_rate: 8_000, ..performance };
        assert_eq!(write_with(&slow, &font).unwrap_err(), FontError::Rate(8_000));
    }

    #[test]
    fn an_empty_performance_is_a_valid_silent_file() {
        let (bytes, loudness) = write_measured(&Performance::default());
        assert!(hound::WavReader::new(Cursor::new(&bytes)).is_ok());
        assert_eq!(loudness.peak, 0.0);
    }
}
