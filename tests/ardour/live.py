"""Player, recorder and judge of the live run; see live.sh.

Time is JACK's transport: the take's frame is the transport's frame, so host, player and recorder agree on it.
"""

import json
import sys
import time

RATE = 48_000
TEMPO = 500_000  # microseconds per quarter: the host's usual 120
LEAD = 4.0  # seconds of transport before the take would have to begin again; unused bars are harmless


def prepare(source, target):
    """The same take at the host's tempo, its chords an octave lower, so that the usual split key tells the hands
    apart and no setting has to be made."""
    import mido

    take = mido.MidiFile(source)
    for track in take.tracks:
        for message in track:
            if message.type == "set_tempo":
                message.tempo = TEMPO
            if message.type in ("note_on", "note_off"):
                chords = message.channel == 1
                message.note -= 12 * chords
                if (message.note < 60) != chords:
                    sys.exit(f"key {message.note} on channel {message.channel + 1} is on the other side of C4")
    take.save(target)


def events(path):
    """Frame and bytes of every channel message."""
    import mido

    midi = mido.MidiFile(path)
    per_tick = TEMPO / 1e6 * RATE / midi.ticks_per_beat
    found = []
    for track in midi.tracks:
        tick = 0
        for message in track:
            tick += message.time
            if not message.is_meta and message.type in ("note_on", "note_off", "control_change"):
                found.append((round(tick * per_tick), message.bytes()))
    order = {0x80: 0, 0xB0: 1, 0x90: 2}
    return sorted(found, key=lambda event: (event[0], order[event[1][0] & 0xF0]))


def play(take, out):
    """Plays the take along JACK's transport and records what comes back."""
    import jack

    queue = events(take)
    last = queue[-1][0]
    heard, place, cycles = [], [0], [0, None]
    # Two clients: one that both sends and hears would make a ring, which JACK opens with a period of delay.
    client, recorder = jack.Client("player"), jack.Client("recorder")
    to_host = client.midi_outports.register("out")
    from_host = recorder.midi_inports.register("in")

    @recorder.set_process_callback
    def record(frames):
        state, position = recorder.transport_query_struct()
        if state == jack.ROLLING:
            for offset, data in from_host.incoming_midi_events():
                heard.append((position.frame + offset, list(bytes(data))))

    @client.set_process_callback
    def process(frames):
        state, position = client.transport_query_struct()
        to_host.clear_buffer()
        if state != jack.ROLLING:
            return
        start = position.frame
        if cycles[1] is not None and start != cycles[1]:
            cycles[0] += 1
        cycles[1] = start + frames
        while place[0] < len(queue) and queue[place[0]][0] < start + frames:
            frame, data = queue[place[0]]
            to_host.write_midi_event(max(frame - start, 0), data)
            place[0] += 1

    client.activate()
    recorder.activate()
    ports = None
    for _ in range(120):
        ports = [client.get_ports(name, is_midi=True) for name in ("figwort.*midi_in", "figwort.*midi_out")]
        if all(ports):
            break
        time.sleep(0.5)
    else:
        sys.exit("the host's ports did not appear; see ardour.log")
    time.sleep(2)
    client.connect(to_host, ports[0][0])
    recorder.connect(ports[1][0], from_host)
    client.transport_frame = 0
    time.sleep(1)
    client.transport_start()
    deadline = time.time() + 3 * last / RATE + 60
    while client.transport_frame < last + LEAD * RATE and time.time() < deadline:
        time.sleep(0.25)
    client.transport_stop()
    time.sleep(0.5)
    client.deactivate()
    recorder.deactivate()
    with open(out, "w") as file:
        json.dump({"heard": heard, "sent": place[0], "all": len(queue), "slips": cycles[0]}, file)


def notes(found):
    """Key, velocity and first frame of every note."""
    return sorted((d[1], d[2], f) for f, d in found if d[0] & 0xF0 == 0x90 and d[2])


def compare(expected, heard):
    """Every note of one has its partner in the other, within a MIDI file's tick and JACK's constant delay."""
    with open(heard) as file:
        told = json.load(file)
    want, have = notes(events(expected)), notes(told["heard"])
    print(f"sent {told['sent']} of {told['all']} events, {told['slips']} slips of the transport")
    print(f"expected {len(want)} notes, heard {len(have)}")
    pairs, delays, only_want = list(have), [], []
    for key, velocity, frame in want:
        near = [n for n in pairs if n[0] == key and n[1] == velocity and abs(n[2] - frame) < 3_000]
        if near:
            best = min(near, key=lambda n: abs(n[2] - frame))
            pairs.remove(best)
            delays.append(best[2] - frame)
        else:
            only_want.append((frame / RATE, key, velocity))
    delay = sorted(delays)[len(delays) // 2] if delays else 0
    late = [d - delay for d in delays if abs(d - delay) > 25]
    print(f"constant delay {delay} frames; {len(late)} notes more than 25 frames from it", late[:8])
    print("only expected:", sorted(only_want)[:8], "only heard:", sorted((n[2] / RATE, *n[:2]) for n in pairs)[:8])
    ended = {}
    for _, d in told["heard"]:
        kind, where = d[0] & 0xF0, (d[0] & 15, d[1])
        if kind == 0x90 and d[2]:
            ended[where] = ended.get(where, 0) + 1
        elif kind in (0x80, 0x90):
            ended[where] = ended.get(where, 0) - 1
    hanging = {where: n for where, n in ended.items() if n}
    print("notes without their end:", hanging)
    same = not only_want and not pairs and not late
    print("EQUAL" if same else "DIFFERENT")
    sys.exit(0 if same and not hanging else 1)


if __name__ == "__main__":
    {"prepare": prepare, "play": play, "compare": compare}[sys.argv[1]](*sys.argv[2:])
