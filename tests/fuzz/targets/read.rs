//! Any bytes as a sheet of whatever kind they look like.
#![no_main]

use figwort_fuzz::answer;
use figwort_sheet::{Format, read, sniff};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let format = sniff(bytes);
    let sheet = read(bytes, None);
    assert!(sheet.is_err() || !matches!(format, Format::Empty | Format::Other(_)));
    answer(sheet);
});
