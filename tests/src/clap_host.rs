//! A small CLAP host: one plugin, one stereo output, one note port each way.
#![allow(unsafe_code, reason = "loading a plugin is")]

use std::ffi::CString;
use std::path::Path;

use clack_extensions::note_ports::{NoteDialects, NotePortInfoBuffer, PluginNotePorts};
use clack_extensions::params::{ParamInfoBuffer, ParamInfoFlags, PluginParams};
use clack_extensions::state::PluginState;
use clack_host::events::event_types::{
    MidiEvent, NoteOffEvent, NoteOnEvent, ParamValueEvent, TransportEvent, TransportFlags,
};
use clack_host::events::spaces::CoreEventSpace;
use clack_host::events::{EventFlags, Match};
use clack_host::prelude::*;
use clack_host::process::PluginAudioProcessor;
use clack_host::process::audio_buffers::OutputAudioBuffers;
use clack_host::utils::{BeatTime, ClapId, SecondsTime};

use crate::host::{
    Audio, Buffers, Heard, Host, Offsets, Parameter, Script, Send, Transport, bundle, meanwhile,
    velocity_back,
};
use crate::stopwatch::{Spent, timed};

/// Longest block.
pub const MAX_FRAMES: u32 = 8192;

/// A loaded plugin.
pub struct ClapRig {
    instance: PluginInstance<()>,
    audio: AudioSide,
    /// The plugin's id.
    pub id: String,
    /// What it says it is.
    pub features: Vec<String>,
}

/// What belongs to the audio thread; it may be another one than made the plugin.
struct AudioSide {
    processor: Option<PluginAudioProcessor<()>>,
    known: Vec<Parameter>,
    buffers: Buffers,
    peak: f32,
    spent: Spent,
}

impl ClapRig {
    /// Loads the bundle that `FIGWORT_CLAP` names.
    pub fn new() -> Self {
        Self::load(&bundle("FIGWORT_CLAP"))
    }

    /// Loads the first plugin of a bundle.
    pub fn load(path: &Path) -> Self {
        let (mut instance, id, features) = Self::made(path);
        let known = parameters(&mut instance);
        let buffers = Buffers::default();
        let audio = AudioSide { processor: None, known, buffers, peak: 0.0, spent: Spent::default() };
        Self { instance, audio, id, features }
    }

    /// What a host does that looks for plugins: loads a bundle, asks what is in it, makes the first plugin and lets it
    /// go.
    pub fn scan(path: &Path) {
        drop(Self::made(path));
    }

    /// The first plugin of a bundle, with its id and what it says it is.
    fn made(path: &Path) -> (PluginInstance<()>, String, Vec<String>) {
        // SAFETY: the file is our own plugin, which does nothing when it is loaded.
        let entry = unsafe { PluginEntry::load(path.as_os_str()) }
            .unwrap_or_else(|error| panic!("{} is no CLAP plugin: {error}", path.display()));
        let factory = entry.get_plugin_factory().expect("a plugin factory");
        let descriptor = factory.plugin_descriptors().next().expect("a plugin");
        let id = descriptor.id().expect("an id");
        let features = descriptor.features().map(|f| f.to_string_lossy().into_owned()).collect();
        let info = HostInfo::new("Figwort's tests", "Figwort", "https://figwort.invalid", "1").unwrap();
        let instance = PluginInstance::<()>::new(|_| (), |_| (), &entry, id, &info).unwrap();
        (instance, id.to_string_lossy().into_owned(), features)
    }

    /// The dialects of the note ports, in and out.
    pub fn dialects(&mut self) -> (NoteDialects, NoteDialects) {
        let handle = self.instance.plugin_handle();
        let ports = handle.get_extension::<PluginNotePorts>().expect("note ports");
        let mut buffer = NotePortInfoBuffer::new();
        let mut dialects = |input| ports.get(&handle, 0, input, &mut buffer).unwrap().supported_dialects;
        (dialects(true), dialects(false))
    }
}

impl ClapRig {
    /// How long the plugin took for the last block, without the host's own work.
    pub fn spent(&self) -> Spent {
        self.audio.spent
    }
}

impl Default for ClapRig {
    fn default() -> Self {
        Self::new()
    }
}

fn parameters(instance: &mut PluginInstance<()>) -> Vec<Parameter> {
    let handle = instance.plugin_handle();
    let params = handle.get_extension::<PluginParams>().expect("parameters");
    let mut found = Vec::new();
    for index in 0..params.count(&handle) {
        let mut buffer = ParamInfoBuffer::new();
        let info = params.get_info(&handle, index, &mut buffer).unwrap();
        if info.flags.contains(ParamInfoFlags::IS_HIDDEN) {
            continue;
        }
        found.push(Parameter {
            id: info.id.get(),
            name: String::from_utf8_lossy(info.name).into_owned(),
            min: info.min_value,
            max: info.max_value,
            usual: info.default_value,
            value: params.get_value(&handle, info.id).unwrap(),
        });
    }
    found
}

fn saved(instance: &mut PluginInstance<()>) -> Vec<u8> {
    let handle = instance.plugin_handle();
    let mut state = Vec::new();
    handle.get_extension::<PluginState>().expect("state").save(&handle, &mut state).unwrap();
    state
}

fn clap_transport(transport: &Transport) -> TransportEvent {
    let mut flags = TransportFlags::HAS_TEMPO
        | TransportFlags::HAS_BEATS_TIMELINE
        | TransportFlags::HAS_SECONDS_TIMELINE
        | TransportFlags::HAS_TIME_SIGNATURE;
    if transport.playing {
        flags |= TransportFlags::IS_PLAYING;
    }
    let nowhere = BeatTime::from_float(0.0);
    let never = SecondsTime::from_float(0.0);
    let bar = 4.0 * f64::from(transport.metre.0) / f64::from(transport.metre.1);
    TransportEvent {
        header: EventHeader::new_core(0, EventFlags::empty()),
        flags,
        song_pos_beats: BeatTime::from_float(transport.beats),
        song_pos_seconds: SecondsTime::from_float(transport.beats * 60.0 / transport.tempo),
        tempo: transport.tempo,
        tempo_inc: 0.0,
        loop_start_beats: nowhere,
        loop_end_beats: nowhere,
        loop_start_seconds: never,
        loop_end_seconds: never,
        bar_start: BeatTime::from_float(transport.bar_start),
        bar_number: (transport.bar_start / bar).round() as i32,
        time_signature_numerator: transport.metre.0,
        time_signature_denominator: transport.metre.1,
    }
}

impl AudioSide {
    /// An event that sets a parameter to a normalised value.
    fn setting(&self, offset: u32, name: &str, value: f64) -> ParamValueEvent {
        let known = self.known.iter().find(|p| p.name == name);
        let p = known.unwrap_or_else(|| panic!("no parameter {name:?}"));
        let value = p.min + (p.max - p.min) * value;
        ParamValueEvent::new(offset, ClapId::new(p.id), Pckn::match_all(), value)
    }

    fn begin(&mut self) {
        self.processor.as_mut().expect("an active plugin").start_processing().unwrap();
    }

    fn end(&mut self) {
        if let Some(processor) = &mut self.processor {
            processor.ensure_processing_stopped();
        }
    }

    fn block(
        &mut self,
        at: u64,
        frames: usize,
        transport: Option<Transport>,
        input: &[(u32, Send)],
    ) -> Vec<Heard> {
        let mut sent = EventBuffer::new();
        for (offset, send) in input {
            match *send {
                Send::On(channel, key, velocity) => sent.push(&NoteOnEvent::new(
                    *offset,
                    Pckn::new(0u16, u16::from(channel), u16::from(key), Match::All),
                    f64::from(velocity) / 127.0,
                )),
                Send::Off(channel, key) => sent.push(&NoteOffEvent::new(
                    *offset,
                    Pckn::new(0u16, u16::from(channel), u16::from(key), Match::All),
                    0.0,
                )),
                Send::Controller(channel, number, value) => {
                    sent.push(&MidiEvent::new(*offset, 0, [0xb0 | channel, number, value]));
                }
                Send::Set(name, value) => sent.push(&self.setting(*offset, name, value)),
            }
        }
        let mut received = EventBuffer::with_capacity(256);
        let mut audio = Audio::of(frames);
        let mut ports = AudioPorts::with_capacity(2, 1);
        let mut output = ports.with_output_buffers([AudioPortBuffer {
            latency: 0,
            channels: AudioPortBufferType::f32_output_only(audio.0.iter_mut().map(|c| c.as_mut_slice())),
        }]);
        match self.buffers {
            Buffers::Stereo => {}
            // SAFETY: no buffers are as long as any number of frames.
            Buffers::NoPorts => {
                output = unsafe { OutputAudioBuffers::from_raw_buffers(&mut [], frames as u32) }
            }
            Buffers::NoChannels => {
                for port in output.as_raw_buffers() {
                    (port.channel_count, port.data32) = (0, std::ptr::null_mut());
                }
            }
        }
        let transport = transport.as_ref().map(clap_transport);
        let processor = self.processor.as_mut().expect("an active plugin").as_started_mut().unwrap();
        let (input, mut out) = (sent.as_input(), received.as_output());
        let none = InputAudioBuffers::empty();
        let (processed, spent) =
            timed(|| processor.process(&none, &mut output, &input, &mut out, Some(at), transport.as_ref()));
        processed.unwrap();
        self.spent = spent;
        self.peak = audio.peak();
        let mut offsets = Offsets::of(at, frames);
        let mut heard = Vec::new();
        for event in &received {
            let frame = offsets.frame(event.header().time());
            match event.as_core_event() {
                Some(CoreEventSpace::NoteOn(n)) => {
                    let (channel, key) = (n.pckn().raw_channel() as u8, n.pckn().raw_key() as u8);
                    heard.push(Heard::On(frame, channel, key, velocity_back(n.velocity())));
                }
                Some(CoreEventSpace::NoteOff(n)) => {
                    heard.push(Heard::Off(frame, n.pckn().raw_channel() as u8, n.pckn().raw_key() as u8));
                }
                Some(CoreEventSpace::Midi(m)) => match m.data() {
                    [status @ 0xb0..=0xbf, number, value] => {
                        heard.push(Heard::Controller(frame, status & 15, number, value));
                    }
                    bytes => heard.push(Heard::Midi(frame, bytes)),
                },
                // What the editor did comes back to the host this way; it has no place in the music.
                Some(CoreEventSpace::ParamValue(_)) => {}
                _ => panic!("event of type {}", event.header().type_id()),
            }
        }
        heard
    }
}

impl Host for ClapRig {
    fn activate(&mut self, sample_rate: f64) {
        let config =
            PluginAudioConfiguration { sample_rate, min_frames_count: 1, max_frames_count: MAX_FRAMES };
        self.audio.processor = Some(self.instance.activate(|_, _| (), config).unwrap().into());
    }

    fn begin(&mut self) {
        self.audio.begin();
    }

    fn end(&mut self) {
        self.audio.end();
    }

    fn deactivate(&mut self) {
        if let Some(processor) = self.audio.processor.take() {
            self.instance.deactivate(processor.into_stopped());
        }
    }

    fn set_buffers(&mut self, buffers: Buffers) {
        self.audio.buffers = buffers;
    }

    fn flush(&mut self, name: &str, value: f64) {
        let mut sent = EventBuffer::new();
        sent.push(&self.audio.setting(0, name, value));
        let mut answered = EventBuffer::new();
        let (input, output) = (&sent.as_input(), &mut answered.as_output());
        if let Some(processor) = &mut self.audio.processor {
            let mut handle = processor.plugin_handle();
            let params = handle.get_extension::<PluginParams>().expect("parameters");
            params.flush_active(&mut handle, input, output);
        } else {
            let mut handle = self.instance.inactive_plugin_handle().unwrap();
            let params = handle.get_extension::<PluginParams>().expect("parameters");
            params.flush(&mut handle, input, output);
        }
    }

    fn play_apart(&mut self, script: &Script, sizes: &[usize]) -> (Vec<Heard>, Vec<Vec<u8>>) {
        self.activate(script.sample_rate);
        let Self { instance, audio, .. } = self;
        let both = std::thread::scope(|scope| {
            let player = scope.spawn(|| {
                audio.begin();
                let heard = script.run_with(sizes, |at, frames, transport, input| {
                    audio.block(at, frames, transport, input)
                });
                audio.end();
                heard
            });
            meanwhile(player, || saved(instance))
        });
        self.deactivate();
        both
    }

    fn block(
        &mut self,
        at: u64,
        frames: usize,
        transport: Option<Transport>,
        input: &[(u32, Send)],
    ) -> Vec<Heard> {
        self.audio.block(at, frames, transport, input)
    }

    fn peak(&self) -> f32 {
        self.audio.peak
    }

    fn parameters(&mut self) -> Vec<Parameter> {
        parameters(&mut self.instance)
    }

    fn words(&mut self, parameter: &Parameter, value: f64) -> String {
        let handle = self.instance.plugin_handle();
        let params = handle.get_extension::<PluginParams>().expect("parameters");
        let mut buffer = [0; 256];
        let words = params.value_to_text(&handle, ClapId::new(parameter.id), value, &mut buffer).unwrap();
        String::from_utf8_lossy(words).into_owned()
    }

    fn meant(&mut self, parameter: &Parameter, words: &str) -> Option<f64> {
        let handle = self.instance.plugin_handle();
        let params = handle.get_extension::<PluginParams>().expect("parameters");
        params.text_to_value(&handle, ClapId::new(parameter.id), &CString::new(words).unwrap())
    }

    fn save(&mut self) -> Vec<u8> {
        saved(&mut self.instance)
    }

    fn load(&mut self, state: &[u8]) -> bool {
        let handle = self.instance.plugin_handle();
        handle.get_extension::<PluginState>().expect("state").load(&handle, &mut &state[..]).is_ok()
    }
}

impl Drop for ClapRig {
    fn drop(&mut self) {
        self.stop();
    }
}
