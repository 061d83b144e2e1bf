//! Guards against an allocation that comes in through a dependency: the engine itself can't write one.

mod support;

use assert_no_alloc::{AllocDisabler, assert_no_alloc};
use figwort_engine::{Block, Engine, EventSink, Full, InputEvent, OutputEvent, Settings, Transport};
use support::{off, on};

#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

struct Counter(usize);

impl EventSink for Counter {
    fn push(&mut self, _event: OutputEvent) -> Result<(), Full> {
        self.0 += 1;
        Ok(())
    }
}

#[test]
fn playing_allocates_nothing() {
    let figures = support::book();
    let settings = Settings { elaboration: 4.0, space: 0.0, ..Settings::default() };
    let mut engine = Engine::new(48_000.0);
    let mut sink = Counter(0);
    for block in 0..20_000u64 {
        let position = block as f64 * 64.0 / 24_000.0;
        let transport =
            Transport { playing: true, tempo: Some(120.0), position: Some(position), ..Transport::default() };
        let key = 36 + (block % 50) as u8;
        let events = [
            InputEvent { offset: 0, channel: 0, message: on(key, 90) },
            InputEvent { offset: 30, channel: 0, message: off(key) },
        ];
        let input = if block.is_multiple_of(97) { &events[..] } else { &[] };
        assert_no_alloc(|| {
            engine.process(
                Block { frames: 64, transport, input, settings: &settings, figures: &figures, chart: None },
                &mut sink,
            );
        });
    }
    assert!(sink.0 > 100, "it played only {} events", sink.0);
}
