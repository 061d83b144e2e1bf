//! What tests and demonstrations share: two hosts in one process, and ears.
//!
//! The hosts are [`clap_host::ClapRig`] and [`vst3_host::Vst3Rig`], both driven through [`host::Host`]. The
//! ears measure what was played: [`movement`] against the melody, [`nonchord`] against the harmony.
//!
//! The hosts load built bundles from the paths in `FIGWORT_CLAP` and `FIGWORT_VST3`, as a DAW would, and panic
//! with what to do when something is missing: a host that fails is a failed test.
//!
//! [`soak`] needs no host: it drives the engine itself. [`stopwatch`] tells what something costs from how long it took.
//!
//! Deliberately absent from the hosts: knowledge of the plugin's insides.
#![allow(clippy::unwrap_used, reason = "a host that fails is a failed test")]

pub mod checks;
pub mod clap_host;
pub mod host;
pub mod life_checks;
pub mod movement;
pub mod nonchord;
pub mod sheet_checks;
pub mod soak;
pub mod songs;
pub mod stopwatch;
pub mod vst3_host;
