//! The writer against Figwort's own reader.

use super::*;
use crate::sample;

#[test]
fn the_two_bars_come_back() {
    let performance = sample::two_bars();
    let text = musicxml(&performance, &performance);
    let sheet = figwort_sheet::read(text.as_bytes(), None).unwrap();
    assert_eq!(sheet.warnings, []);
    assert_eq!(sheet.title, "Two bars");
    let melody: Vec<_> = sheet.melody.iter().map(|note| (note.at, note.length, note.pitch)).collect();
    let wanted: Vec<_> = performance
        .notes
        .iter()
        .filter(|note| note.hand == figwort_engine::Hand::Melody)
        .map(|note| (note.at, note.length, note.pitch))
        .collect();
    assert_eq!(melody, wanted);
    let packed = figwort_sheet::read(&mxl(&text), None).unwrap();
    assert_eq!(packed.melody, sheet.melody);
    assert_eq!(packed.chords, sheet.chords);
}
