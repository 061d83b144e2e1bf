//! An instrument from the user's soundfont (SF2), in place of the audition piano.
//!
//! The font's first piano (bank 0, program 0) plays, or its first preset where there is none. The sound goes
//! through the piano's peak limiter. Notes begin on multiples of [`BLOCK`] frames. Deliberately absent: compressed
//! fonts (SF3), choosing other presets, and files.
//!
//! What the library would stumble over is looked for when a font is read (`structure`, `loops`).
//!
//! Real time: [`Font::read`] and [`Font::instrument`] allocate; an [`Instrument`] allocates nothing and takes
//! bounded time.

use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use rustysynth::{SoundFont, SoundFontError, Synthesizer, SynthesizerSettings};

use crate::piano::limiter::Limiter;

mod loops;
mod structure;

/// Frames from one possible onset to the next: a third of a millisecond at 48 kHz.
pub const BLOCK: usize = 16;
/// Sample rates at which a font can be played, in frames per second.
pub const RATES: core::ops::RangeInclusive<u32> = 16_000..=192_000;
/// Most notes at once, those that ring on included.
const VOICES: usize = 256;
/// How loud the font plays against its own level: about as loud as the audition piano.
const VOLUME: f32 = 0.35;
/// Time for a change of gain to come through, in seconds.
const GAIN_TIME: f32 = 0.01;

/// A soundfont that was read.
#[derive(Clone)]
pub struct Font(Arc<SoundFont>);

impl core::fmt::Debug for Font {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.debug_tuple("Font").field(&self.name()).finish()
    }
}

/// Why a file is no soundfont that can be played.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum FontError {
    /// Another kind of file.
    #[error("this is no soundfont; give a file in the SF2 format (.sf2)")]
    NotAFont,
    /// Compressed samples.
    #[error("its samples are compressed (SF3); unpack it to SF2, or give another soundfont")]
    Compressed,
    /// A damaged or empty one.
    #[error("the soundfont is damaged ({0}); download or copy it again, or give another one")]
    Damaged(String),
    /// The sample rate is outside [`RATES`].
    #[error(
        "a soundfont cannot be played at {0} Hz; choose a rate from {low} to {high}",
        low = RATES.start(),
        high = RATES.end()
    )]
    Rate(u32),
    /// A loop is shorter than one step of its highest note at this sample rate.
    #[error(
        "a loop of the soundfont is too short for its highest notes at {0} Hz, as if it were damaged; give another \
         soundfont, or a higher rate"
    )]
    Loop(u32),
}

impl Font {
    /// Reads a font.
    ///
    /// # Errors
    /// [`FontError`] where the bytes are no SF2, are damaged, hold no preset, hold compressed samples, or have loops
    /// too short to be played at any rate.
    pub fn read(bytes: &[u8]) -> Result<Self, FontError> {
        if !bytes.starts_with(b"RIFF") || bytes.get(8..12) != Some(b"sfbk".as_slice()) {
            return Err(FontError::NotAFont);
        }
        // The library trusts what a font says of itself.
        structure::check(bytes).map_err(|what| FontError::Damaged(what.into()))?;
        let font = SoundFont::new(&mut Cursor::new(bytes)).map_err(|error| match error {
            SoundFontError::UnsupportedSampleFormat => FontError::Compressed,
            SoundFontError::IoError(_) => FontError::Damaged("it breaks off".into()),
            other => FontError::Damaged(other.to_string()),
        })?;
        if !loops::are_long_enough(&font, *RATES.end()) {
            return Err(FontError::Loop(*RATES.end()));
        }
        Ok(Self(Arc::new(font)))
    }

    /// Its name as it states it.
    pub fn name(&self) -> &str {
        self.0.get_info().get_bank_name()
    }

    /// The instrument at a sample rate.
    ///
    /// # Errors
    /// [`FontError::Rate`] for a rate outside [`RATES`], [`FontError::Loop`] where its loops are too short for this one.
    pub fn instrument(&self, rate: u32) -> Result<Instrument, FontError> {
        let mut settings = SynthesizerSettings::new(i32::try_from(rate).unwrap_or(0));
        settings.block_size = BLOCK;
        settings.maximum_polyphony = VOICES;
        let mut synthesizer = Synthesizer::new(&self.0, &settings).map_err(|_| FontError::Rate(rate))?;
        if !loops::are_long_enough(&self.0, rate) {
            return Err(FontError::Loop(rate));
        }
        synthesizer.set_master_volume(VOLUME);
        let gain_step = 1.0 - (-1.0 / (GAIN_TIME * rate as f32)).exp();
        Ok(Instrument {
            synthesizer,
            limiter: Limiter::new(rate as f32),
            gain: 1.0,
            gain_now: 1.0,
            gain_step,
            broken: false,
        })
    }
}

/// A font being played.
pub struct Instrument {
    synthesizer: Synthesizer,
    limiter: Limiter,
    gain: f32,
    gain_now: f32,
    gain_step: f32,
    /// The font made the library stumble; nothing is asked of it any more.
    broken: bool,
}

impl Instrument {
    /// Strikes a key, 0 to 127, at a velocity of 1 to 127.
    pub fn note_on(&mut self, key: u8, velocity: u8) {
        self.synthesizer.note_on(0, i32::from(key), i32::from(velocity));
    }

    /// Lets a key go.
    pub fn note_off(&mut self, key: u8) {
        self.synthesizer.note_off(0, i32::from(key));
    }

    /// Moves the sustain pedal.
    pub fn pedal(&mut self, down: bool) {
        const CONTROL: i32 = 0xb0;
        const SUSTAIN: i32 = 64;
        self.synthesizer.process_midi_message(0, CONTROL, SUSTAIN, if down { 127 } else { 0 });
    }

    /// Lets every key and the pedal go.
    pub fn all_off(&mut self) {
        self.pedal(false);
        self.synthesizer.note_off_all(false);
    }

    /// Loudness as a factor of the usual, taken into 0 to 8 (not-a-number is 1), before the limiter. A change comes
    /// through within some hundredths of a second, without a click.
    pub fn set_gain(&mut self, gain: f32) {
        self.gain = if gain.is_nan() { 1.0 } else { gain.clamp(0.0, 8.0) };
    }

    /// Renders into both channels, which have to be of one length; the shorter counts. A font that makes the
    /// library stumble is silent from then on.
    pub fn render(&mut self, left: &mut [f32], right: &mut [f32]) {
        let length = left.len().min(right.len());
        let (Some(left), Some(right)) = (left.get_mut(..length), right.get_mut(..length)) else { return };
        // The library trusts loops and pitches of a font beyond what its lists show. A damaged font must not end
        // the host: the instrument falls silent instead, and stays so.
        let sounds =
            !self.broken && catch_unwind(AssertUnwindSafe(|| self.synthesizer.render(left, right))).is_ok();
        if !sounds {
            self.broken = true;
            left.fill(0.0);
            right.fill(0.0);
            return;
        }
        self.shape(left, right);
    }

    /// Gain and limiter.
    fn shape(&mut self, left: &mut [f32], right: &mut [f32]) {
        for (left, right) in left.iter_mut().zip(right) {
            self.gain_now += (self.gain - self.gain_now) * self.gain_step;
            [*left, *right] = self.limiter.limit([*left * self.gain_now, *right * self.gain_now]);
        }
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    fn chunk(id: &[u8; 4], content: &[u8]) -> Vec<u8> {
        let mut chunk = id.to_vec();
        chunk.extend((content.len() as u32).to_le_bytes());
        chunk.extend(content);
        if content.len() % 2 == 1 {
            chunk.push(0);
        }
        chunk
    }

    fn list(kind: &[u8; 4], chunks: &[Vec<u8>]) -> Vec<u8> {
        chunk(b"LIST", &[kind.to_vec(), chunks.concat()].concat())
    }

    fn name(text: &str) -> Vec<u8> {
        let mut name = text.as_bytes().to_vec();
        name.resize(20, 0);
        name
    }

    fn words(words: &[u16]) -> Vec<u8> {
        words.iter().flat_map(|word| word.to_le_bytes()).collect()
    }

    /// One preset with one instrument with one looped sample: a sine of 441 Hz at 44.1 kHz for key 69.
    pub(crate) fn tiny_font() -> Vec<u8> {
        const FRAMES: usize = 1_000;
        let wave = (0..FRAMES).map(|i| ((i as f64 * core::f64::consts::TAU / 100.0).sin() * 20_000.0) as i16);
        let mut samples: Vec<u8> = wave.flat_map(i16::to_le_bytes).collect();
        samples.extend([0; 92]);
        let info = list(
            b"INFO",
            &[chunk(b"ifil", &words(&[2, 1])), chunk(b"isng", b"EMU8000\0"), chunk(b"INAM", b"Sine\0\0")],
        );
        let preset = |text: &str, bag: u16| [name(text), words(&[0, 0, bag]), vec![0; 12]].concat();
        let sample = |text: &str, end: u32| {
            let bounds: Vec<u8> = [0, end, 100.min(end), 900.min(end), 44_100]
                .iter()
                .flat_map(|n: &u32| n.to_le_bytes())
                .collect();
            [name(text), bounds, vec![69, 0], words(&[0, 1])].concat()
        };
        let pdta = list(
            b"pdta",
            &[
                chunk(b"phdr", &[preset("Sine", 0), preset("EOP", 1)].concat()),
                chunk(b"pbag", &words(&[0, 0, 1, 0])),
                chunk(b"pmod", &[0; 10]),
                // Instrument 0; then the terminal.
                chunk(b"pgen", &words(&[41, 0, 0, 0])),
                chunk(b"inst", &[name("Sine"), words(&[0]), name("EOI"), words(&[1])].concat()),
                chunk(b"ibag", &words(&[0, 0, 2, 0])),
                chunk(b"imod", &[0; 10]),
                // Looped; sample 0; the terminal.
                chunk(b"igen", &words(&[54, 1, 53, 0, 0, 0])),
                chunk(b"shdr", &[sample("Sine", FRAMES as u32), sample("EOS", 0)].concat()),
            ],
        );
        let content = [b"sfbk".to_vec(), info, list(b"sdta", &[chunk(b"smpl", &samples)]), pdta].concat();
        chunk(b"RIFF", &content)
    }

    #[test]
    fn a_key_sounds_its_pitch_until_it_is_let_go() {
        let font = Font::read(&tiny_font()).unwrap();
        assert_eq!(font.name(), "Sine");
        let mut instrument = font.instrument(48_000).unwrap();
        let (mut left, mut right) = (vec![0.0; 48_000], vec![0.0; 48_000]);
        instrument.render(&mut left[..480], &mut right[..480]);
        assert!(left[..480].iter().all(|sample| *sample == 0.0));
        instrument.note_on(69, 100);
        instrument.render(&mut left, &mut right);
        let rising =
            |samples: &[f32]| samples.windows(2).filter(|pair| pair[0] <= 0.0 && pair[1] > 0.0).count();
        let crossings = rising(&left[24_000..]);
        assert!((218..=222).contains(&crossings), "441 Hz for half a second, not {crossings}");
        instrument.note_off(69);
        instrument.render(&mut left, &mut right);
        instrument.render(&mut left, &mut right);
        let peak = left[40_000..].iter().fold(0.0_f32, |peak, sample| peak.max(sample.abs()));
        assert!(peak < 0.01, "{peak}");
    }

    /// What other crates test with.
    #[test]
    fn the_file_is_the_tiny_font() {
        assert!(include_bytes!("soundfont/sine.sf2")[..] == tiny_font());
    }

    #[test]
    fn gain_and_letting_go_are_heard() {
        let loudest = |gain: f32, go: bool| {
            let mut instrument = Font::read(&tiny_font()).unwrap().instrument(48_000).unwrap();
            instrument.set_gain(gain);
            instrument.pedal(true);
            instrument.note_on(69, 60);
            let (mut left, mut right) = (vec![0.0; 48_000], vec![0.0; 48_000]);
            instrument.render(&mut left, &mut right);
            if go {
                instrument.all_off();
                instrument.render(&mut left, &mut right);
            }
            left[24_000..].iter().fold(0.0_f32, |peak, sample| peak.max(sample.abs()))
        };
        let usual = loudest(1.0, false);
        assert!(usual > 0.01 && (loudest(0.5, false) / usual - 0.5).abs() < 0.01);
        assert!(loudest(0.0, false) < 1e-6 && loudest(f32::NAN, false) == usual);
        assert!(loudest(1.0, true) < 1e-4);
    }

    #[test]
    fn loud_chords_stay_below_the_ceiling() {
        let mut instrument = Font::read(&tiny_font()).unwrap().instrument(44_100).unwrap();
        (60..72).for_each(|key| instrument.note_on(key, 127));
        let (mut left, mut right) = (vec![0.0; 44_100], vec![0.0; 44_100]);
        instrument.render(&mut left, &mut right);
        let peak = left.iter().chain(&right).fold(0.0_f32, |peak, sample| peak.max(sample.abs()));
        assert!((0.3..=0.89).contains(&peak), "{peak}");
    }

    #[test]
    fn what_is_no_font_is_said_to_be_none() {
        assert_eq!(Font::read(b"").unwrap_err(), FontError::NotAFont);
        assert_eq!(Font::read(b"MThd, not a font").unwrap_err(), FontError::NotAFont);
        assert_eq!(Font::read(b"RIFF\0\0\0\0WAVEfmt ").unwrap_err(), FontError::NotAFont);
        let whole = tiny_font();
        for length in [12, 40, 200, whole.len() / 2, whole.len() - 30] {
            let error = Font::read(&whole[..length]).unwrap_err();
            assert!(matches!(error, FontError::Damaged(_)), "{length}: {error:?}");
        }
        assert_eq!(Font::read(&whole).unwrap().instrument(8_000).err(), Some(FontError::Rate(8_000)));
    }

    /// A loop of so many frames in the tiny font, whose one sample plays on all keys.
    fn with_loop(frames: u32) -> Vec<u8> {
        let mut bytes = tiny_font();
        let bounds: Vec<u8> = [1_000u32, 100, 900].iter().flat_map(|n| n.to_le_bytes()).collect();
        let at = bytes.windows(12).position(|window| window == bounds).unwrap();
        bytes[at + 8..at + 12].copy_from_slice(&(100 + frames).to_le_bytes());
        bytes
    }

    /// At 48 kHz the highest key goes through the sample 8.7 frames at a time, at 16 kHz 26.
    #[test]
    fn loops_that_cannot_be_played_are_refused() {
        let loops =
            |frames, rate| Font::read(&with_loop(frames)).and_then(|font| font.instrument(rate)).err();
        assert_eq!(loops(9, 48_000), None);
        assert_eq!(loops(8, 48_000), Some(FontError::Loop(48_000)));
        assert_eq!((loops(27, 16_000), loops(26, 16_000)), (None, Some(FontError::Loop(16_000))));
        assert_eq!(Font::read(&with_loop(1)).err(), Some(FontError::Loop(*RATES.end())));
        let mut instrument = Font::read(&with_loop(9)).unwrap().instrument(48_000).unwrap();
        instrument.note_on(108, 100);
        let (mut left, mut right) = (vec![0.0; 48_000], vec![0.0; 48_000]);
        instrument.render(&mut left, &mut right);
        assert!(!instrument.broken);
    }

    proptest::proptest! {
        /// A byte changed anywhere is an error or a font, never a panic; the guard around the library is not
        /// called on, as what it stumbles over is found when a font is read.
        #[test]
        fn damaged_fonts_do_no_harm(at in 12..2_800usize, byte: u8, key in 21..=108u8) {
            let mut bytes = tiny_font();
            let at = at % bytes.len();
            bytes[at] = byte;
            if let Some(mut instrument) = Font::read(&bytes).ok().and_then(|font| font.instrument(16_000).ok()) {
                instrument.note_on(key, 100);
                let (mut left, mut right) = ([0.0; 2_000], [0.0; 2_000]);
                instrument.render(&mut left, &mut right);
                assert!(!instrument.broken, "byte {byte} at {at}, key {key}");
            }
        }
    }
}
