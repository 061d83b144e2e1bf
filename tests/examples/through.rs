//! A plugin that passes notes through and does nothing else: the floor that Figwort's cost is measured against.
//!
//! Same framework, same ports, same silent stereo output; no engine, no editor. `cargo xtask bench` loads it.

use std::sync::Arc;

use nice_plug::prelude::*;

/// The plugin.
#[derive(Default)]
struct Through {
    params: Arc<Nothing>,
}

/// No parameters.
#[derive(Default, Params)]
struct Nothing {}

impl Plugin for Through {
    const NAME: &'static str = "Through";
    const VENDOR: &'static str = "Figwort";
    const URL: &'static str = "https://figwort.invalid";
    const EMAIL: &'static str = "nobody@figwort.invalid";
    const VERSION: &'static str = env!("CARGO_PKG_VERSION");
    const AUDIO_IO_LAYOUTS: &'static [AudioIOLayout] = &[AudioIOLayout {
        main_input_channels: None,
        main_output_channels: NonZeroU32::new(2),
        ..AudioIOLayout::const_default()
    }];
    const MIDI_INPUT: MidiConfig = MidiConfig::MidiCCs;
    const MIDI_OUTPUT: MidiConfig = MidiConfig::MidiCCs;

    type Editor = ();
    type SysExMessage = ();
    type BackgroundTask = ();

    fn params(&self) -> Arc<dyn Params> {
        self.params.clone()
    }

    fn process(
        &mut self,
        buffer: &mut Buffer,
        _aux: &mut AuxiliaryBuffers,
        context: &mut impl ProcessContext<Self>,
    ) -> ProcessStatus {
        for channel in buffer.as_slice() {
            channel.fill(0.0);
        }
        while let Some(event) = context.next_event() {
            // A full queue loses it; there is nothing else to do with it.
            let _ = context.try_send_event(event);
        }
        ProcessStatus::KeepAlive
    }
}

impl ClapPlugin for Through {
    const CLAP_ID: &'static str = "org.figwort.through";
    const CLAP_DESCRIPTION: Option<&'static str> = Some("Passes notes through");
    const CLAP_MANUAL_URL: Option<&'static str> = None;
    const CLAP_SUPPORT_URL: Option<&'static str> = None;
    const CLAP_FEATURES: &'static [ClapFeature] = &[ClapFeature::NoteEffect, ClapFeature::Utility];
}

/// The symbols that hosts look for.
mod export {
    #![allow(clippy::disallowed_types, reason = "the framework's macros check ids with a set")]

    use nice_plug::prelude::*;

    use super::Through;

    nice_export_clap!(Through);
}
