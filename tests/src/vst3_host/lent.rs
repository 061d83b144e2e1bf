//! What a VST3 host lends the plugin for one call: events, parameter changes, a stream of bytes.

use std::cell::{Cell, RefCell};
use std::ffi::c_void;

use vst3::Steinberg::Vst::*;
use vst3::Steinberg::*;
use vst3::{Class, ComPtr};

pub(super) struct Events(pub(super) RefCell<Vec<Event>>);

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
pub(super) struct Queue {
    pub(super) id: ParamID,
    pub(super) points: Vec<(i32, f64)>,
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

pub(super) struct Changes(pub(super) Vec<ComPtr<IParamValueQueue>>);

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
pub(super) struct Stream {
    pub(super) bytes: RefCell<Vec<u8>>,
    pub(super) place: Cell<usize>,
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
