//! A small VST3 host: one plugin, one stereo output, one event bus each way.
#![allow(unsafe_code, reason = "VST3 is an interface of raw pointers")]
#![allow(non_snake_case, reason = "the interface's own names")]
#![allow(clippy::unnecessary_cast, reason = "the constants have another type on other systems")]

use std::cell::{Cell, RefCell};
use std::ffi::c_void;
use std::path::Path;

use vst3::Steinberg::Vst::*;
use vst3::Steinberg::*;
use vst3::{Class, ComPtr, ComWrapper, Interface};

use crate::host::{Heard, Host, Parameter, Send, Transport, bundle, velocity_back};

struct Events(RefCell<Vec<Event>>);

impl Class for Events {
    type Interfaces = (IEventList,);
}

impl IEventListTrait for Events {
    unsafe fn getEventCount(&self) -> int32 {
        self.0.borrow().len() as i32
    }
    unsafe fn getEvent(&self, index: int32, event: *mut Event) -> tresult {
        let Some(found) = self.0.borrow().get(index as usize).copied() else { return kResultFalse };
        // SAFETY: the caller gives a place for one event.
        unsafe { *event = found };
        kResultOk
    }
    unsafe fn addEvent(&self, event: *mut Event) -> tresult {
        // SAFETY: the caller gives one event.
        self.0.borrow_mut().push(unsafe { *event });
        kResultOk
    }
}

/// The points of one parameter in a block.
struct Queue {
    id: ParamID,
    points: Vec<(i32, f64)>,
}

impl Class for Queue {
    type Interfaces = (IParamValueQueue,);
}

impl IParamValueQueueTrait for Queue {
    unsafe fn getParameterId(&self) -> ParamID {
        self.id
    }
    unsafe fn getPointCount(&self) -> int32 {
        self.points.len() as i32
    }
    unsafe fn getPoint(&self, index: int32, offset: *mut int32, value: *mut ParamValue) -> tresult {
        let Some(point) = self.points.get(index as usize) else { return kResultFalse };
        // SAFETY: the caller gives places for both.
        unsafe { (*offset, *value) = *point };
        kResultOk
    }
    unsafe fn addPoint(&self, _: int32, _: ParamValue, _: *mut int32) -> tresult {
        kResultFalse
    }
}

struct Changes(Vec<ComPtr<IParamValueQueue>>);

impl Class for Changes {
    type Interfaces = (IParameterChanges,);
}

impl IParameterChangesTrait for Changes {
    unsafe fn getParameterCount(&self) -> int32 {
        self.0.len() as i32
    }
    unsafe fn getParameterData(&self, index: int32) -> *mut IParamValueQueue {
        self.0.get(index as usize).map_or(std::ptr::null_mut(), |queue| queue.as_ptr())
    }
    unsafe fn addParameterData(&self, _: *const ParamID, _: *mut int32) -> *mut IParamValueQueue {
        std::ptr::null_mut()
    }
}

/// A state in memory.
struct Stream {
    bytes: RefCell<Vec<u8>>,
    place: Cell<usize>,
}

impl Class for Stream {
    type Interfaces = (IBStream,);
}

impl IBStreamTrait for Stream {
    unsafe fn read(&self, buffer: *mut c_void, wanted: int32, read: *mut int32) -> tresult {
        let bytes = self.bytes.borrow();
        let count = (wanted as usize).min(bytes.len() - self.place.get());
        // SAFETY: the caller gives room for `wanted` bytes; `read` may be null.
        unsafe {
            std::ptr::copy_nonoverlapping(bytes[self.place.get()..].as_ptr(), buffer.cast(), count);
            if !read.is_null() {
                *read = count as i32;
            }
        }
        self.place.set(self.place.get() + count);
        kResultOk
    }
    unsafe fn write(&self, buffer: *mut c_void, count: int32, written: *mut int32) -> tresult {
        // SAFETY: the caller gives `count` bytes; `written` may be null.
        unsafe {
            let bytes = std::slice::from_raw_parts(buffer as *const u8, count as usize);
            self.bytes.borrow_mut().extend_from_slice(bytes);
            if !written.is_null() {
                *written = count;
            }
        }
        self.place.set(self.bytes.borrow().len());
        kResultOk
    }
    unsafe fn seek(&self, offset: int64, mode: int32, result: *mut int64) -> tresult {
        let length = self.bytes.borrow().len();
        let base = match mode {
            1 => self.place.get() as i64,
            2 => length as i64,
            _ => 0,
        };
        let place = (base + offset).clamp(0, length as i64);
        self.place.set(place as usize);
        // SAFETY: `result` may be null.
        unsafe {
            if !result.is_null() {
                *result = place;
            }
        }
        kResultOk
    }
    unsafe fn tell(&self, place: *mut int64) -> tresult {
        // SAFETY: the caller gives a place for it.
        unsafe { *place = self.place.get() as i64 };
        kResultOk
    }
}

/// A loaded plugin.
pub struct Vst3Rig {
    component: ComPtr<IComponent>,
    audio: ComPtr<IAudioProcessor>,
    controller: ComPtr<IEditController>,
    mapping: ComPtr<IMidiMapping>,
    started: Option<f64>,
    known: Vec<Parameter>,
    peak: f32,
    /// Kept loaded as long as the plugin lives; fields are dropped in order.
    _library: libloading::Library,
}

impl Vst3Rig {
    /// Loads the bundle that `FIGWORT_VST3` names.
    pub fn new() -> Self {
        Self::load(&bundle("FIGWORT_VST3"))
    }

    /// Loads the only class of a bundle.
    pub fn load(path: &Path) -> Self {
        let name = path.file_stem().expect("a bundle's name").to_string_lossy().into_owned();
        let file = path.join(format!("Contents/{}-linux/{name}.so", std::env::consts::ARCH));
        // SAFETY: the file is our own plugin; the calls are in the order that the format asks for.
        unsafe {
            let library = libloading::Library::new(&file)
                .unwrap_or_else(|error| panic!("{} can't be loaded: {error}", file.display()));
            let enter = library
                .get::<unsafe extern "C" fn(*mut c_void) -> bool>(b"ModuleEntry\0")
                .expect("ModuleEntry");
            assert!(enter(std::ptr::null_mut()));
            let get = library
                .get::<unsafe extern "system" fn() -> *mut IPluginFactory>(b"GetPluginFactory\0")
                .expect("GetPluginFactory");
            let factory = ComPtr::from_raw(get()).expect("a factory");
            let mut class: PClassInfo = std::mem::zeroed();
            assert_eq!((factory.countClasses(), factory.getClassInfo(0, &mut class)), (1, kResultOk));
            let mut object = std::ptr::null_mut();
            let made =
                factory.createInstance(class.cid.as_ptr(), IComponent::IID.as_ptr().cast(), &mut object);
            assert_eq!(made, kResultOk);
            let component = ComPtr::from_raw(object as *mut IComponent).expect("a component");
            assert_eq!(component.initialize(std::ptr::null_mut()), kResultOk);
            let audio: ComPtr<IAudioProcessor> = component.cast().expect("a processor");
            let controller: ComPtr<IEditController> = component.cast().expect("a controller");
            let mapping: ComPtr<IMidiMapping> = component.cast().expect("a controller mapping");
            let mut rig = Self {
                component,
                audio,
                controller,
                mapping,
                started: None,
                known: Vec::new(),
                peak: 0.0,
                _library: library,
            };
            rig.known = rig.parameters();
            rig
        }
    }

    /// All parameters, those for MIDI controllers included.
    pub fn parameter_count(&self) -> i32 {
        // SAFETY: the controller lives.
        unsafe { self.controller.getParameterCount() }
    }

    fn controller_parameter(&self, channel: u8, number: u8) -> ParamID {
        let mut id = 0;
        // SAFETY: the mapping lives and gets a place for the id.
        let found = unsafe {
            self.mapping.getMidiControllerAssignment(0, i16::from(channel), i16::from(number), &mut id)
        };
        assert_eq!(found, kResultOk, "controller {number} is not mapped");
        id
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

fn note(offset: u32, send: &Send) -> Option<Event> {
    // SAFETY: an event is plain numbers, for which zero is a value.
    let mut event: Event = unsafe { std::mem::zeroed() };
    event.sampleOffset = offset as i32;
    match *send {
        Send::On(channel, key, velocity) => {
            event.r#type = Event_::EventTypes_::kNoteOnEvent as u16;
            event.__field0.noteOn = NoteOnEvent {
                channel: i16::from(channel),
                pitch: i16::from(key),
                tuning: 0.0,
                velocity: f32::from(velocity) / 127.0,
                length: 0,
                noteId: -1,
            };
        }
        Send::Off(channel, key) => {
            event.r#type = Event_::EventTypes_::kNoteOffEvent as u16;
            event.__field0.noteOff = NoteOffEvent {
                channel: i16::from(channel),
                pitch: i16::from(key),
                velocity: 0.0,
                noteId: -1,
                tuning: 0.0,
            };
        }
        _ => return None,
    }
    Some(event)
}

fn context(at: u64, sample_rate: f64, transport: Option<Transport>) -> ProcessContext {
    use ProcessContext_::StatesAndFlags_ as Flag;
    // SAFETY: a context is plain numbers, for which zero is a value.
    let mut context: ProcessContext = unsafe { std::mem::zeroed() };
    context.sampleRate = sample_rate;
    context.projectTimeSamples = at as i64;
    if let Some(transport) = transport {
        context.state = (Flag::kTempoValid
            | Flag::kTimeSigValid
            | Flag::kProjectTimeMusicValid
            | Flag::kBarPositionValid
            | if transport.playing { Flag::kPlaying } else { 0 }) as u32;
        context.tempo = transport.tempo;
        context.timeSigNumerator = i32::from(transport.metre.0);
        context.timeSigDenominator = i32::from(transport.metre.1);
        context.projectTimeMusic = transport.beats;
        context.barPositionMusic = transport.bar_start;
    }
    context
}

impl Host for Vst3Rig {
    fn start(&mut self, sample_rate: f64) {
        let mut setup = ProcessSetup {
            processMode: 0,
            symbolicSampleSize: 0,
            maxSamplesPerBlock: crate::clap_host::MAX_FRAMES as i32,
            sampleRate: sample_rate,
        };
        // SAFETY: the processor and component live; the calls are in the order that the format asks for.
        unsafe {
            assert_eq!(self.audio.setupProcessing(&mut setup), kResultOk);
            assert_eq!(self.component.setActive(1), kResultOk);
            self.audio.setProcessing(1);
        }
        self.started = Some(sample_rate);
    }

    fn stop(&mut self) {
        if self.started.take().is_some() {
            // SAFETY: as in `start`.
            unsafe {
                self.audio.setProcessing(0);
                self.component.setActive(0);
            }
        }
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
                Send::Set(name, value) => {
                    let known = self.known.iter().find(|p| p.name == name);
                    (known.unwrap_or_else(|| panic!("no parameter {name:?}")).id, value)
                }
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
        // Not silent beforehand: the plugin has to write its silence.
        let mut audio = [vec![1.0f32; frames], vec![1.0f32; frames]];
        let mut channels = [audio[0].as_mut_ptr(), audio[1].as_mut_ptr()];
        let mut bus = AudioBusBuffers {
            numChannels: 2,
            silenceFlags: 0,
            __field0: AudioBusBuffers__type0 { channelBuffers32: channels.as_mut_ptr() },
        };
        let mut context = context(at, self.started.expect("a started plugin"), transport);
        let mut data = ProcessData {
            processMode: 0,
            symbolicSampleSize: 0,
            numSamples: frames as i32,
            numInputs: 0,
            numOutputs: 1,
            inputs: std::ptr::null_mut(),
            outputs: &mut bus,
            inputParameterChanges: changes.as_ptr(),
            outputParameterChanges: std::ptr::null_mut(),
            inputEvents: input.as_ptr(),
            outputEvents: output.as_ptr(),
            processContext: &mut context,
        };
        // SAFETY: everything that `data` points to lives until the call is over.
        assert_eq!(unsafe { self.audio.process(&mut data) }, kResultOk);
        self.peak = audio.iter().flatten().fold(0.0, |peak, sample| peak.max(sample.abs()));

        let mut last = 0;
        let mut heard = Vec::new();
        for event in events_out.0.borrow().iter() {
            let offset = event.sampleOffset;
            assert!(
                offset >= last && (offset as usize) < frames,
                "event at {offset} after {last} of {frames}"
            );
            last = offset;
            let frame = at + offset as u64;
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

    fn peak(&self) -> f32 {
        self.peak
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
        let stream = ComWrapper::new(Stream { bytes: RefCell::default(), place: Cell::new(0) });
        let pointer = stream.to_com_ptr::<IBStream>().unwrap();
        // SAFETY: the component and the stream live.
        assert_eq!(unsafe { self.component.getState(pointer.as_ptr()) }, kResultOk);
        stream.bytes.borrow().clone()
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
