//! Standard MIDI Files: any bytes as a take.
#![no_main]

use figwort_fuzz::sound;
use figwort_sheet::take;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| match take::read(bytes) {
    Ok(take) => sound::assert_sound_take(&take),
    Err(error) => assert!(error.to_string().len() > 10),
});
