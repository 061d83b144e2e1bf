//! Standard MIDI Files: any bytes as a sheet.
#![no_main]

use figwort_fuzz::answer;
use figwort_sheet::smf;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| answer(smf::read_sheet(bytes)));
