//! Events in both directions, with a host that writes down what it gets and may be full.

use std::marker::PhantomData;

use nice_plug::context::PluginApi;

use super::*;
use crate::Figwort;

type Event = NoteEvent<()>;

/// A host that writes down what it gets.
pub(crate) struct Host {
    transport: HostTransport,
    sent: Vec<Event>,
    room: usize,
}

impl Host {
    pub(crate) fn new() -> Self {
        Self { transport: HostTransport::new(48_000.0), sent: Vec::new(), room: usize::MAX }
    }

    /// Takes the memory for what a block may send.
    pub(crate) fn make_room(&mut self) {
        self.sent.reserve(1 << 14);
    }

    /// Notes that began, and those of them that sound on, by channel and key.
    pub(crate) fn notes(&self) -> (usize, Vec<(u8, u8)>) {
        let (mut begun, mut on) = (0, Vec::new());
        for (kind, _, channel, key) in sent(self) {
            match kind {
                '+' => {
                    begun += 1;
                    assert!(!on.contains(&(channel, key)), "{channel} {key} is struck while it sounds");
                    on.push((channel, key));
                }
                '-' => on.retain(|note| *note != (channel, key)),
                _ => {}
            }
        }
        (begun, on)
    }
}

impl ProcessContext<Figwort> for Host {
    fn plugin_api(&self) -> PluginApi {
        PluginApi::Clap
    }
    fn execute_background(&self, _task: ()) {}
    fn execute_gui(&self, _task: ()) {}
    fn transport(&self) -> &HostTransport {
        &self.transport
    }
    fn next_event(&mut self) -> Option<Event> {
        None
    }
    fn try_send_event(&mut self, event: Event) -> Result<(), (Event, SendEventError)> {
        if self.sent.len() >= self.room {
            return Err((event, SendEventError::HostBufferFull));
        }
        self.sent.push(event);
        Ok(())
    }
    fn set_latency_samples(&self, _samples: u32) {}
    fn request_restart(&self) {}
    fn set_current_voice_capacity(&self, _capacity: u32) {}
}

fn on(hand: Hand, channel: u8, key: u8) -> OutputMessage {
    OutputMessage::NoteOn { hand, channel, pitch: Pitch::new(key), velocity: Velocity::new(80) }
}

fn off(hand: Hand, channel: u8, key: u8) -> OutputMessage {
    OutputMessage::NoteOff { hand, channel, pitch: Pitch::new(key) }
}

fn push(host: &mut Host, lanes: &mut Lanes, apart: bool, message: OutputMessage) -> Result<(), Full> {
    let session = Session::new();
    let mut outlet = Outlet {
        context: host,
        lanes,
        apart,
        start: 100,
        audition: None,
        session: &session,
        tape: &mut Tape::new(),
        plugin: PhantomData::<Figwort>,
    };
    outlet.push(OutputEvent { offset: 5, message })
}

/// Sent notes and pedals: kind, frame, channel, key or value.
fn sent(host: &Host) -> Vec<(char, u32, u8, u8)> {
    let told = |event: &Event| match *event {
        NoteEvent::NoteOn { timing, channel, key, .. } => {
            ('+', timing, channel.number().expect("a channel"), key.number().expect("a key"))
        }
        NoteEvent::NoteOff { timing, channel, key, .. } => {
            ('-', timing, channel.number().expect("a channel"), key.number().expect("a key"))
        }
        NoteEvent::MidiCC { timing, channel, value, .. } => ('p', timing, channel, (value * 127.0) as u8),
        _ => panic!("{event:?}"),
    };
    host.sent.iter().map(told).collect()
}

#[test]
fn velocities_are_exact_both_ways() {
    for velocity in 1..=127u8 {
        let mut inlet = Inlet::new();
        let event: Event = NoteEvent::from_midi(0, &[0x90, 60, velocity]).expect("a note");
        inlet.take(&event, 0);
        let expected = InputMessage::NoteOn { pitch: Pitch::C4, velocity: Velocity::new(velocity.into()) };
        assert_eq!(inlet.events()[0].message, expected);

        let mut host = Host::new();
        let message = OutputMessage::NoteOn {
            hand: Hand::Left,
            channel: 0,
            pitch: Pitch::C4,
            velocity: Velocity::new(velocity.into()),
        };
        push(&mut host, &mut Lanes::new(), false, message).expect("room");
        let Some(MidiResult::Basic(bytes)) = host.sent[0].as_midi() else { panic!("no MIDI") };
        assert_eq!(bytes, [0x90, 60, velocity]);
    }
}

/// Every other channel message comes out as it went in.
#[test]
fn other_messages_pass_unchanged() {
    let messages = [[0xb3, 1, 77], [0xe5, 0x12, 0x60], [0xd2, 99, 0], [0xa1, 60, 33], [0xc4, 12, 0]];
    for bytes in messages {
        let mut inlet = Inlet::new();
        inlet.take(&Event::from_midi(7, &bytes).expect("a message"), 3);
        let input = inlet.events()[0];
        assert_eq!(
            input,
            InputEvent { offset: 4, channel: bytes[0] & 15, message: InputMessage::Other(bytes) }
        );
        let mut host = Host::new();
        let message = OutputMessage::Other { channel: input.channel, bytes };
        push(&mut host, &mut Lanes::new(), false, message).expect("room");
        let Some(MidiResult::Basic(out)) = host.sent[0].as_midi() else { panic!("no MIDI") };
        assert_eq!(out, bytes);
        assert_eq!(host.sent[0].timing(), 105);
    }
}

#[test]
fn the_pedal_is_down_from_64_on() {
    for (value, down) in [(0, false), (63, false), (64, true), (127, true)] {
        let mut inlet = Inlet::new();
        inlet.take(&Event::from_midi(0, &[0xb0, 64, value]).expect("a pedal"), 0);
        assert_eq!(inlet.events()[0].message, InputMessage::Sustain(down), "{value}");
    }
}

/// A host may let go of many keys at once, by an event that fits all or by MIDI's all notes off.
#[test]
fn letting_go_of_everything_lets_go_of_what_is_held() {
    let wild: Event = NoteEvent::Choke {
        timing: 9,
        voice_id: VoiceID::Wildcard,
        channel: Channel::Wildcard,
        key: Key::Wildcard,
    };
    let all_off = Event::from_midi(9, &[0xb1, 123, 0]).expect("a controller");
    for (event, released) in [(wild, vec![(1, 48), (1, 52), (4, 70)]), (all_off, vec![(1, 48), (1, 52)])] {
        let mut inlet = Inlet::new();
        for bytes in [[0x91, 48, 80], [0x91, 52, 80], [0x91, 55, 80], [0x94, 70, 80], [0x81, 55, 0]] {
            inlet.take(&Event::from_midi(0, &bytes).expect("a note"), 0);
        }
        inlet.clear();
        inlet.take(&event, 0);
        let offs: Vec<(u8, u8)> = inlet
            .events()
            .iter()
            .filter_map(|event| match event.message {
                InputMessage::NoteOff { pitch } => Some((event.channel, pitch.key())),
                _ => None,
            })
            .collect();
        assert_eq!(offs, released);
        inlet.clear();
        inlet.take(&event, 0);
        assert!(inlet.events().iter().all(|e| matches!(e.message, InputMessage::Other(_))), "held twice");
    }
}

#[test]
fn there_is_room_for_the_worst_host_event() {
    let mut inlet = Inlet::new();
    for channel in 0..16 {
        for key in 0..128 {
            assert!(inlet.has_room());
            inlet.take(&Event::from_midi(0, &[0x90 | channel, key, 1]).expect("a note"), 0);
        }
    }
    inlet.clear();
    assert!(inlet.has_room());
    let everything: Event = NoteEvent::NoteOff {
        timing: 0,
        voice_id: VoiceID::Wildcard,
        channel: Channel::Wildcard,
        key: Key::Wildcard,
        velocity: 0.0,
    };
    inlet.take(&everything, 0);
    assert_eq!(inlet.events().len(), 16 * 128);
    assert!(inlet.events.capacity() == CAPACITY, "the room grew");
}

#[test]
fn a_note_ends_on_the_channel_it_began_on() {
    let (mut host, mut lanes) = (Host::new(), Lanes::new());
    let mut play = |apart, message| push(&mut host, &mut lanes, apart, message).expect("room");
    play(true, on(Hand::Right, 0, 64));
    play(true, on(Hand::Left, 0, 48));
    play(true, on(Hand::Melody, 3, 76));
    play(true, OutputMessage::Pedal(true));
    play(false, off(Hand::Right, 0, 64));
    play(false, off(Hand::Left, 0, 48));
    play(false, off(Hand::Melody, 3, 76));
    play(false, OutputMessage::Pedal(false));
    play(false, on(Hand::Melody, 3, 76));
    play(true, off(Hand::Melody, 3, 76));
    let expected = [
        ('+', 105, 1, 64),
        ('+', 105, 2, 48),
        ('+', 105, 0, 76),
        ('p', 105, 1, 127),
        ('p', 105, 2, 127),
        ('-', 105, 1, 64),
        ('-', 105, 2, 48),
        ('-', 105, 0, 76),
        ('p', 105, 0, 0),
        ('p', 105, 1, 0),
        ('p', 105, 2, 0),
        ('+', 105, 3, 76),
        ('-', 105, 3, 76),
    ];
    assert_eq!(sent(&host), expected);
}

/// What the host refuses is told to the engine and not written down as sounding.
#[test]
fn a_full_host_is_reported() {
    let (mut host, mut lanes) = (Host::new(), Lanes::new());
    host.room = 0;
    assert_eq!(push(&mut host, &mut lanes, false, on(Hand::Left, 0, 48)), Err(Full));
    host.room = 1;
    assert_eq!(push(&mut host, &mut lanes, false, on(Hand::Left, 0, 50)), Ok(()));
    assert_eq!(push(&mut host, &mut lanes, false, off(Hand::Left, 0, 50)), Err(Full));
    host.sent.clear();
    host.room = 100;
    assert!(lanes.finish::<Figwort>(&mut host));
    assert_eq!(sent(&host), [('-', 0, 0, 50)]);
}

#[test]
fn leftovers_are_ended_as_room_comes() {
    let (mut host, mut lanes) = (Host::new(), Lanes::new());
    for key in [40, 50, 60] {
        push(&mut host, &mut lanes, true, on(Hand::Left, 0, key)).expect("room");
    }
    push(&mut host, &mut lanes, true, OutputMessage::Pedal(true)).expect("room");
    host.sent.clear();
    host.room = 2;
    assert!(!lanes.finish::<Figwort>(&mut host));
    host.room = 100;
    assert!(lanes.finish::<Figwort>(&mut host));
    let expected = [('p', 0, 1, 0), ('-', 0, 2, 40), ('-', 0, 2, 50), ('-', 0, 2, 60), ('p', 0, 2, 0)];
    assert_eq!(sent(&host), expected);
    host.sent.clear();
    assert!(lanes.finish::<Figwort>(&mut host));
    assert!(host.sent.is_empty(), "ended twice");
}

#[test]
fn the_transport_tells_only_what_the_host_knows() {
    let mut host = HostTransport::new(48_000.0);
    assert_eq!(transport(&host), Transport::default());
    host.playing = true;
    host.tempo = Some(120.0);
    host.pos_beats = Some(3.0);
    host.time_sig_numerator = Some(6);
    host.time_sig_denominator = Some(8);
    let told = later(transport(&host), 24_000, host.sample_rate);
    assert_eq!(told.position, Some(4.0));
    assert_eq!(told.bar_start, Some(3.0));
    assert_eq!(told.metre, Metre::new(6, 8));
    host.tempo = Some(f64::NAN);
    host.time_sig_denominator = Some(-3);
    host.pos_beats = Some(f64::INFINITY);
    let told = later(transport(&host), 24_000, host.sample_rate);
    assert_eq!((told.tempo, told.position, told.metre), (None, None, None));
}

/// Ardour 7 tells four quarter notes times the bar's number, from 1: heard from it in 4/4, and wrong in 3/4.
#[test]
fn a_bar_that_is_still_to_come_is_not_believed() {
    let mut host = HostTransport::new(48_000.0);
    host.playing = true;
    (host.time_sig_numerator, host.time_sig_denominator) = (Some(3), Some(4));
    let mut told = |position, bar_start| {
        (host.pos_beats, host.bar_start_pos_beats) = (Some(position), Some(bar_start));
        transport(&host).bar_start
    };
    assert_eq!([told(0.77, 4.0), told(5.9, 8.0)], [None, None]);
    // Rounding, a bar of long ago, and a song that begins before zero are all right.
    assert_eq!([told(2.999_999, 3.0), told(7.0, 3.0), told(-1.0, -3.0)], [Some(3.0), Some(3.0), Some(-3.0)]);
}

/// As heard from Ardour 7 when a project is opened: every controller of every channel, in the middle.
#[test]
fn controllers_that_nobody_moved_are_not_passed_on() {
    let mut inlet = Inlet::new();
    let control = |cc, value| NoteEvent::<()>::MidiCC { timing: 0, channel: 0, cc, value };
    for cc in 0..128 {
        inlet.take(&control(cc, 0.5), 0);
    }
    inlet.take(&NoteEvent::<()>::MidiChannelPressure { timing: 0, channel: 0, pressure: 0.5 }, 0);
    assert!(inlet.events().is_empty(), "{:?}", inlet.events());
    // What was played is nearly that at most, and a pitch wheel that comes to rest counts.
    inlet.take(&control(7, 64.0 / 127.0), 0);
    inlet.take(&control(SUSTAIN, 63.0 / 127.0), 0);
    inlet.take(&NoteEvent::<()>::MidiPitchBend { timing: 0, channel: 0, value: 0.5 }, 0);
    let heard: Vec<InputMessage> = inlet.events().iter().map(|event| event.message).collect();
    let expected = [[0xb0, 7, 64], [0xe0, 0, 64]].map(InputMessage::Other);
    assert_eq!(heard, [expected[0], InputMessage::Sustain(false), expected[1]]);
}
