//! A small VST3 host: one plugin, one stereo output, one event bus each way.
#![allow(unsafe_code, reason = "VST3 is an interface of raw pointers")]
#![allow(non_snake_case, reason = "the interface's own names")]
#![allow(clippy::unnecessary_cast, reason = "the constants have another type on other systems")]

use std::cell::{Cell, RefCell};
use std::ffi::c_void;
use std::path::Path;

use vst3::Steinberg::Vst::*;
use vst3::Steinberg::*;
use vst3::{ComPtr, ComWrapper, Interface};

use crate::host::{
    Audio, Buffers, Heard, Host, Offsets, Parameter, Script, Send, Transport, bundle, meanwhile,
    velocity_back,
};

mod lent;
mod told;

use lent::{Changes, Events, Queue, Stream};
use told::{context, note};

/// A loaded plugin.
pub struct Vst3Rig {
    component: ComPtr<IComponent>,
    controller: ComPtr<IEditController>,
    audio: AudioSide,
    /// Kept loaded as long as the plugin lives; fields are dropped in order.
    _module: Module,
}

/// A bundle's library between its entry and its exit.
struct Module(libloading::Library);

impl Drop for Module {
    fn drop(&mut self) {
        // SAFETY: the last call into the library; nothing of it is alive any more.
        let left = unsafe {
            self.0.get::<unsafe extern "C" fn() -> bool>(b"ModuleExit\0").is_ok_and(|leave| leave())
        };
        assert!(left || std::thread::panicking(), "the bundle does not let itself be left");
    }
}

/// What belongs to the audio thread; it may be another one than made the plugin.
struct AudioSide {
    processor: ComPtr<IAudioProcessor>,
    mapping: ComPtr<IMidiMapping>,
    /// The sample rate, while it is active.
    active: Option<f64>,
    known: Vec<Parameter>,
    buffers: Buffers,
    peak: f32,
}

/// The audio side on its way to another thread.
struct Across<'a>(&'a mut AudioSide);

// SAFETY: the format has the processor called from the audio thread, the rest from the main thread, at the same
// time; the mapping is a table that never changes.
unsafe impl std::marker::Send for Across<'_> {}

impl Across<'_> {
    /// As a method, so that a closure takes all of it along.
    fn side(&mut self) -> &mut AudioSide {
        self.0
    }
}

impl Vst3Rig {
    /// Loads the bundle that `FIGWORT_VST3` names.
    pub fn new() -> Self {
        Self::load(&bundle("FIGWORT_VST3"))
    }

    /// Loads the only class of a bundle.
    pub fn load(path: &Path) -> Self {
        let (component, module) = made(path);
        let processor: ComPtr<IAudioProcessor> = component.cast().expect("a processor");
        let controller: ComPtr<IEditController> = component.cast().expect("a controller");
        let mapping: ComPtr<IMidiMapping> = component.cast().expect("a controller mapping");
        let audio = AudioSide {
            processor,
            mapping,
            active: None,
            known: Vec::new(),
            buffers: Buffers::default(),
            peak: 0.0,
        };
        let mut rig = Self { component, controller, audio, _module: module };
        rig.audio.known = rig.parameters();
        rig
    }

    /// What a host does that looks for plugins: loads a bundle, asks what is in it, makes its only class and lets it go.
    pub fn scan(path: &Path) {
        let (component, module) = made(path);
        // SAFETY: the last call to the component.
        unsafe { component.terminate() };
        // In this order: the component's code is the library's.
        drop(component);
        drop(module);
    }

    /// All parameters, those for MIDI controllers included.
    pub fn parameter_count(&self) -> i32 {
        // SAFETY: the controller lives.
        unsafe { self.controller.getParameterCount() }
    }
}

/// The only class of a bundle, and the library that has to outlive it.
fn made(path: &Path) -> (ComPtr<IComponent>, Module) {
    let name = path.file_stem().expect("a bundle's name").to_string_lossy().into_owned();
    let file = path.join(format!("Contents/{}-linux/{name}.so", std::env::consts::ARCH));
    // SAFETY: the file is our own plugin; the calls are in the order that the format asks for.
    unsafe {
        let library = libloading::Library::new(&file)
            .unwrap_or_else(|error| panic!("{} can't be loaded: {error}", file.display()));
        let enter =
            library.get::<unsafe extern "C" fn(*mut c_void) -> bool>(b"ModuleEntry\0").expect("ModuleEntry");
        assert!(enter(std::ptr::null_mut()));
        let module = Module(library);
        let get = module
            .0
            .get::<unsafe extern "system" fn() -> *mut IPluginFactory>(b"GetPluginFactory\0")
            .expect("GetPluginFactory");
        let factory = ComPtr::from_raw(get()).expect("a factory");
        let mut class: PClassInfo = std::mem::zeroed();
        assert_eq!((factory.countClasses(), factory.getClassInfo(0, &mut class)), (1, kResultOk));
        let mut object = std::ptr::null_mut();
        let made = factory.createInstance(class.cid.as_ptr(), IComponent::IID.as_ptr().cast(), &mut object);
        assert_eq!(made, kResultOk);
        let component = ComPtr::from_raw(object as *mut IComponent).expect("a component");
        assert_eq!(component.initialize(std::ptr::null_mut()), kResultOk);
        (component, module)
    }
}

impl Default for Vst3Rig {
    fn default() -> Self {
        Self::new()
    }
}

fn utf16(text: &[u16]) -> String {
    let end = text.iter().position(|c| *c == 0).unwrap_or(text.len());
    String::from_utf16_lossy(&text[..end])
}

fn saved(component: &ComPtr<IComponent>) -> Vec<u8> {
    let stream = ComWrapper::new(Stream { bytes: RefCell::default(), place: Cell::new(0) });
    let pointer = stream.to_com_ptr::<IBStream>().unwrap();
    // SAFETY: the component and the stream live.
    assert_eq!(unsafe { component.getState(pointer.as_ptr()) }, kResultOk);
    stream.bytes.borrow().clone()
}

impl AudioSide {
    fn controller_parameter(&self, channel: u8, number: u8) -> ParamID {
        let mut id = 0;
        // SAFETY: the mapping lives and gets a place for the id.
        let found = unsafe {
            self.mapping.getMidiControllerAssignment(0, i16::from(channel), i16::from(number), &mut id)
        };
        assert_eq!(found, kResultOk, "controller {number} is not mapped");
        id
    }

    fn id(&self, name: &str) -> ParamID {
        let known = self.known.iter().find(|p| p.name == name);
        known.unwrap_or_else(|| panic!("no parameter {name:?}")).id
    }

    fn set_processing(&mut self, on: bool) {
        // SAFETY: the processor lives and is active. Plugins may answer that they don't care.
        unsafe { self.processor.setProcessing(on.into()) };
    }

    fn block(
        &mut self,
        at: u64,
        frames: usize,
        transport: Option<Transport>,
        input: &[(u32, Send)],
    ) -> Vec<Heard> {
        let notes = input.iter().filter_map(|(offset, send)| note(*offset, send)).collect();
        let mut queues: Vec<Queue> = Vec::new();
        for (offset, send) in input {
            let (id, value) = match *send {
                Send::Controller(channel, number, value) => {
                    (self.controller_parameter(channel, number), f64::from(value) / 127.0)
                }
                Send::Set(name, value) => (self.id(name), value),
                _ => continue,
            };
            match queues.iter_mut().find(|queue| queue.id == id) {
                Some(queue) => queue.points.push((*offset as i32, value)),
                None => queues.push(Queue { id, points: vec![(*offset as i32, value)] }),
            }
        }
        let queues = queues.into_iter().map(|queue| ComWrapper::new(queue).to_com_ptr().unwrap()).collect();
        let events_in = ComWrapper::new(Events(RefCell::new(notes)));
        let events_out = ComWrapper::new(Events(RefCell::default()));
        let changes = ComWrapper::new(Changes(queues)).to_com_ptr::<IParameterChanges>().unwrap();
        let (input, output) =
            (events_in.to_com_ptr::<IEventList>().unwrap(), events_out.to_com_ptr::<IEventList>().unwrap());
        let mut audio = Audio::of(frames);
        let mut channels = audio.0.each_mut().map(|channel| channel.as_mut_ptr());
        let mut bus = AudioBusBuffers {
            numChannels: 2,
            silenceFlags: 0,
            __field0: AudioBusBuffers__type0 { channelBuffers32: channels.as_mut_ptr() },
        };
        let (outputs, bus_count) = match self.buffers {
            Buffers::Stereo => (&raw mut bus, 1),
            Buffers::NoPorts => (std::ptr::null_mut(), 0),
            Buffers::NoChannels => {
                bus.numChannels = 0;
                bus.__field0.channelBuffers32 = std::ptr::null_mut();
                (&raw mut bus, 1)
            }
        };
        let mut context = context(at, self.active.expect("an active plugin"), transport);
        // Hosts that have nothing to tell leave it out now and then.
        let no_context = transport.is_none() && (at / 64).is_multiple_of(2);
        let mut data = ProcessData {
            processMode: 0,
            symbolicSampleSize: 0,
            numSamples: frames as i32,
            numInputs: 0,
            numOutputs: bus_count,
            inputs: std::ptr::null_mut(),
            outputs,
            inputParameterChanges: changes.as_ptr(),
            outputParameterChanges: std::ptr::null_mut(),
            inputEvents: input.as_ptr(),
            outputEvents: output.as_ptr(),
            processContext: if no_context { std::ptr::null_mut() } else { &mut context },
        };
        // SAFETY: everything that `data` points to lives until the call is over.
        assert_eq!(unsafe { self.processor.process(&mut data) }, kResultOk);
        self.peak = audio.peak();
        let mut offsets = Offsets::of(at, frames);
        let mut heard = Vec::new();
        for event in events_out.0.borrow().iter() {
            let offset = u32::try_from(event.sampleOffset).expect("an event in the block");
            let frame = offsets.frame(offset);
            // SAFETY: each field is read under the type that says it is the one written.
            unsafe {
                match u32::from(event.r#type) {
                    kind if kind == Event_::EventTypes_::kNoteOnEvent as u32 => {
                        let n = event.__field0.noteOn;
                        let velocity = velocity_back(f64::from(n.velocity));
                        heard.push(Heard::On(frame, n.channel as u8, n.pitch as u8, velocity));
                    }
                    kind if kind == Event_::EventTypes_::kNoteOffEvent as u32 => {
                        let n = event.__field0.noteOff;
                        heard.push(Heard::Off(frame, n.channel as u8, n.pitch as u8));
                    }
                    kind if kind == Event_::EventTypes_::kLegacyMIDICCOutEvent as u32 => {
                        let c = event.__field0.midiCCOut;
                        let (channel, value) = (c.channel as u8, c.value as u8);
                        heard.push(Heard::Controller(frame, channel, c.controlNumber, value));
                    }
                    kind => panic!("event of type {kind}"),
                }
            }
        }
        heard
    }
}

impl Host for Vst3Rig {
    fn activate(&mut self, sample_rate: f64) {
        let mut setup = ProcessSetup {
            processMode: 0,
            symbolicSampleSize: 0,
            maxSamplesPerBlock: crate::clap_host::MAX_FRAMES as i32,
            sampleRate: sample_rate,
        };
        // SAFETY: the processor and component live; the calls are in the order that the format asks for.
        unsafe {
            assert_eq!(self.audio.processor.setupProcessing(&mut setup), kResultOk);
            assert_eq!(self.component.setActive(1), kResultOk);
        }
        self.audio.active = Some(sample_rate);
    }

    fn begin(&mut self) {
        self.audio.set_processing(true);
    }

    fn end(&mut self) {
        if self.audio.active.is_some() {
            self.audio.set_processing(false);
        }
    }

    fn deactivate(&mut self) {
        if self.audio.active.take().is_some() {
            // SAFETY: as in `activate`.
            unsafe { self.component.setActive(0) };
        }
    }

    fn set_buffers(&mut self, buffers: Buffers) {
        self.audio.buffers = buffers;
    }

    fn flush(&mut self, name: &str, value: f64) {
        let id = self.audio.id(name);
        if self.audio.active.is_none() {
            // There is no processor to ask yet; the controller keeps it.
            // SAFETY: the controller lives.
            assert_eq!(unsafe { self.controller.setParamNormalized(id, value) }, kResultOk);
            return;
        }
        let queue = ComWrapper::new(Queue { id, points: vec![(0, value)] }).to_com_ptr().unwrap();
        let changes = ComWrapper::new(Changes(vec![queue])).to_com_ptr::<IParameterChanges>().unwrap();
        // SAFETY: zero is a value of all its fields: nothing, nowhere.
        let mut data: ProcessData = unsafe { std::mem::zeroed() };
        data.inputParameterChanges = changes.as_ptr();
        // SAFETY: `data` points to nothing but the changes, which live.
        assert_eq!(unsafe { self.audio.processor.process(&mut data) }, kResultOk);
    }

    fn play_apart(&mut self, script: &Script, sizes: &[usize]) -> (Vec<Heard>, Vec<Vec<u8>>) {
        self.activate(script.sample_rate);
        let Self { component, audio, .. } = self;
        let mut audio = Across(audio);
        let both = std::thread::scope(|scope| {
            let player = scope.spawn(move || {
                let audio = audio.side();
                audio.set_processing(true);
                let heard = script.run_with(sizes, |at, frames, transport, input| {
                    audio.block(at, frames, transport, input)
                });
                audio.set_processing(false);
                heard
            });
            meanwhile(player, || saved(component))
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
        let mut found = Vec::new();
        for index in 0..self.parameter_count() {
            // SAFETY: the controller lives; a parameter's info is plain numbers, for which zero is a value.
            let (info, value) = unsafe {
                let mut info: ParameterInfo = std::mem::zeroed();
                assert_eq!(self.controller.getParameterInfo(index, &mut info), kResultOk);
                (info, self.controller.getParamNormalized(info.id))
            };
            if info.flags & ParameterInfo_::ParameterFlags_::kIsHidden as i32 != 0 {
                continue;
            }
            found.push(Parameter {
                id: info.id,
                name: utf16(&info.title),
                min: 0.0,
                max: 1.0,
                usual: info.defaultNormalizedValue,
                value,
            });
        }
        found
    }

    fn words(&mut self, parameter: &Parameter, value: f64) -> String {
        let mut text: String128 = [0; 128];
        // SAFETY: the controller lives and gets room for the text.
        let told = unsafe { self.controller.getParamStringByValue(parameter.id, value, &mut text) };
        assert_eq!(told, kResultOk);
        utf16(&text)
    }

    fn meant(&mut self, parameter: &Parameter, words: &str) -> Option<f64> {
        let mut text: Vec<u16> = words.encode_utf16().chain([0]).collect();
        let mut value = 0.0;
        // SAFETY: the controller lives; the text ends in zero.
        let told =
            unsafe { self.controller.getParamValueByString(parameter.id, text.as_mut_ptr(), &mut value) };
        (told == kResultOk).then_some(value)
    }

    fn save(&mut self) -> Vec<u8> {
        saved(&self.component)
    }

    fn load(&mut self, state: &[u8]) -> bool {
        let stream = ComWrapper::new(Stream { bytes: RefCell::new(state.to_vec()), place: Cell::new(0) });
        let pointer = stream.to_com_ptr::<IBStream>().unwrap();
        // SAFETY: the component and the stream live.
        unsafe { self.component.setState(pointer.as_ptr()) == kResultOk }
    }
}

impl Drop for Vst3Rig {
    fn drop(&mut self) {
        self.stop();
        // SAFETY: the last call to the component.
        unsafe { self.component.terminate() };
    }
}
