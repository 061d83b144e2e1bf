//! Chord symbols: any text; what is understood is written, and the writing reads back as the same chord.
#![no_main]

use figwort_theory::{ChordSymbol, Key};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    if let Some((_, end)) = ChordSymbol::parse_prefix(text) {
        assert!(text.is_char_boundary(end));
    }
    let Ok(symbol) = ChordSymbol::parse(text) else { return };
    for written in [symbol.to_string(), symbol.unicode().to_string()] {
        assert_eq!(ChordSymbol::parse(&written), Ok(symbol), "{written}");
    }
    if let Some(chord) = symbol.chord {
        let again = ChordSymbol::of(chord, Key::default());
        assert_eq!(again.chord, Some(chord));
        let read = ChordSymbol::parse(&again.to_string()).expect("a symbol that was written");
        assert_eq!(read.chord.map(|chord| chord.intervals()), Some(chord.intervals()), "{again}");
    }
});
