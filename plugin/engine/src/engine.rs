//! The engine: holds the state, walks from instant to instant.

use crate::event::{Block, EventSink};
use crate::snapshot::Snapshot;

/// The pianist. One per track; `Send`, not shared.
#[derive(Clone, Debug)]
pub struct Engine {
    snapshot: Snapshot,
}

impl Engine {
    /// An engine at rest. `sample_rate` in frames per second.
    pub fn new(_sample_rate: f64) -> Self {
        Self { snapshot: Snapshot::default() }
    }

    /// Forgets all music. What still sounds gets its note-off at the first frame of the next block.
    pub fn reset(&mut self) {}

    /// Plays one block. Takes bounded time, allocates nothing, cannot fail.
    pub fn process(&mut self, _block: Block<'_>, _sink: &mut impl EventSink) {}

    /// The state at the end of the last block.
    pub fn snapshot(&self) -> Snapshot {
        self.snapshot
    }
}
