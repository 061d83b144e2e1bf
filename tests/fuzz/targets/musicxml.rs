//! MusicXML: any bytes as a score.
#![no_main]

use figwort_fuzz::answer;
use figwort_sheet::musicxml;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| answer(musicxml::read(bytes)));
