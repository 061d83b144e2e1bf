//! Preset files: any text as a figure or manner, alone and added to the factory set, then played with.
#![no_main]

use figwort_preset::{Added, Library, check};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    if let Err(error) = check("some.toml", text) {
        assert!(error.to_string().contains("some.toml"), "{error}");
        return;
    }
    // A factory figure or manner of the same name is replaced.
    let mut library = Library::factory();
    match library.add("some.toml", text) {
        Ok(Added::Manner(name)) => {
            if let Ok(manner) = library.manner(&name) {
                assert!(!manner.figures.is_empty());
            }
        }
        Ok(Added::Figure(name)) => {
            let figure = library.figure(&name).expect("the figure just added");
            for pattern in &figure.patterns {
                let end = pattern.metre.bar() * i64::from(pattern.bars);
                assert!(pattern.steps.iter().all(|step| step.at.0 >= 0 && step.at < end));
            }
        }
        Err(error) => assert!(error.to_string().len() > 10),
    }
});
