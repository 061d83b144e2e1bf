//! ABC: any bytes as a file of tunes; the first, by number, and all.
#![no_main]

use figwort_fuzz::answer;
use figwort_sheet::abc;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    answer(abc::read(bytes, None));
    answer(abc::read(bytes, Some(1)));
    let names = abc::tunes(bytes);
    if let Ok(sheets) = abc::read_all(bytes) {
        assert_eq!(names.len(), sheets.len());
        sheets.into_iter().for_each(answer);
    }
});
