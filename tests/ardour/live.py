"""Player, recorder and judge of the live run; see live.sh.

Time is JACK's transport: the take's frame is the transport's frame, so host, player and recorder agree on it. But the
host makes up for the latency of its outputs: the place in the song that it tells its plugins is that of what will be
heard, some periods later. A player plays to what is heard, so the player here sends every event so much earlier that
it reaches the plugin at its own place in the song, and what comes back is counted in the song's frames too.
"""

import json
import sys
import time

RATE = 48_000
TEMPO = 500_000  # microseconds per quarter: the host's usual 120
TICK = 25  # frames of a tick of the MIDI file that is expected: as exactly as it can say a time


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


def end_of(path):
    """The frame at which `figwort follow` stops its transport: the end of the beat in which the take ends."""
    import mido

    midi = mido.MidiFile(path)
    ticks = max(sum(message.time for message in track) for track in midi.tracks)
    return -(-ticks // midi.ticks_per_beat) * round(TEMPO / 1e6 * RATE)


def host():
    """The latency that the host makes up for, where it is, and whether it moves."""
    with open("host.txt") as file:
        latency, place, state = file.read().split()
    return int(latency), int(place), state


def play(take, out):
    """Plays the take along JACK's transport and records what comes back."""
    import jack

    queue = events(take)
    last = end_of(take)
    heard, place, cycles = [], [0], [0, None, None]
    # Two clients: one that both sends and hears would make a ring, which JACK opens with a period of delay.
    client, recorder = jack.Client("player"), jack.Client("recorder")
    to_host = client.midi_outports.register("out")
    from_host = recorder.midi_inports.register("in")
    lead = [0]

    @recorder.set_process_callback
    def record(frames):
        state, position = recorder.transport_query_struct()
        if state == jack.ROLLING:
            cycles[2] = position.frame
        elif cycles[2] is None:
            return
        else:
            # The last ends come after the stop.
            cycles[2] += frames
        for offset, data in from_host.incoming_midi_events():
            heard.append((cycles[2] + offset + lead[0], list(bytes(data))))

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
        while place[0] < len(queue) and queue[place[0]][0] - lead[0] < start + frames:
            frame, data = queue[place[0]]
            to_host.write_midi_event(max(frame - lead[0] - start, 0), data)
            place[0] += 1
        if start + frames >= last - lead[0]:
            client.transport_stop()

    client.activate()
    recorder.activate()
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
    time.sleep(3)
    lead[0] = host()[0]
    if queue[0][0] < lead[0]:
        sys.exit(f"the host's latency of {lead[0]} frames is longer than the silence at the take's beginning")
    client.transport_start()
    deadline = time.time() + 3 * last / RATE + 60
    moved = False
    while cycles[1] is None and time.time() < deadline:
        time.sleep(0.25)
    while client.transport_state != jack.STOPPED and time.time() < deadline:
        time.sleep(0.25)
        moved = moved or host()[2] == "rolling"
    time.sleep(2)
    client.deactivate()
    recorder.deactivate()
    if not moved:
        sys.exit("the host stood still while JACK's transport ran: what it heard was free playing; see ardour.log")
    told = {"heard": heard, "sent": place[0], "all": len(queue), "slips": cycles[0], "lead": lead[0], "end": last}
    with open(out, "w") as file:
        json.dump(told, file)


def notes(found):
    """Key, velocity, first frame and last frame of every note, and the keys that were never let go."""
    sounding, whole = {}, []
    for frame, data in found:
        kind, where = data[0] & 0xF0, (data[0] & 15, data[1])
        if kind in (0x80, 0x90) and where in sounding:
            velocity, since = sounding.pop(where)
            whole.append((data[1], velocity, since, frame))
        if kind == 0x90 and data[2]:
            sounding[where] = (data[2], frame)
    return sorted(whole), sorted(sounding)


def pedal(found):
    """The pedal's movements: frame, and whether it goes down."""
    moves = sorted({(f, d[2] >= 64) for f, d in found if d[0] & 0xF0 == 0xB0 and d[1] == 64})
    return [move for n, move in enumerate(moves) if n == 0 or moves[n - 1][1] != move[1]]


def compare(expected, heard):
    """Every note of one has its partner in the other: the same key and velocity, begun and ended within a MIDI file's
    tick. The host's transport stops with a period, not on the last beat: from there on nothing is compared."""
    with open(heard) as file:
        told = json.load(file)
    end = told["end"]
    want, (have, hanging) = notes(events(expected))[0], notes(told["heard"])
    print(f"sent {told['sent']} of {told['all']} events, {told['lead']} frames ahead of their places; "
          f"{told['slips']} slips of the transport")
    after = [n for n in have if n[2] >= end - TICK]
    have = [n for n in have if n[2] < end - TICK]
    want = [n for n in want if n[2] < end - TICK]
    print(f"expected {len(want)} notes, heard {len(have)}, and {len(after)} after the end, which don't count")
    left, only_want, starts, ends = list(have), [], [], []
    for key, velocity, on, off in want:
        near = [n for n in left if n[:2] == (key, velocity) and abs(n[2] - on) <= TICK]
        if not near:
            only_want.append((round(on / RATE, 3), key, velocity))
            continue
        best = min(near, key=lambda n: abs(n[2] - on))
        left.remove(best)
        starts.append(abs(best[2] - on))
        if off < end - TICK:
            ends.append(abs(best[3] - off))
    only_heard = [(round(n[2] / RATE, 3), *n[:2]) for n in left]
    print("only expected:", sorted(only_want)[:8], "only heard:", sorted(only_heard)[:8])
    late = [gap for gap in ends if gap > TICK]
    print(f"{len(starts)} notes of the same key and velocity, begun at most {max(starts, default=0)} frames apart; "
          f"{len(ends) - len(late)} of {len(ends)} ends at most {TICK} frames apart")
    moves = [[move for move in pedal(found) if move[0] < end - TICK] for found in (events(expected), told["heard"])]
    pedals = len(moves[0]) == len(moves[1]) and all(
        a[1] == b[1] and abs(a[0] - b[0]) <= TICK for a, b in zip(*moves))
    print(f"{len(moves[0])} movements of the pedal expected, {len(moves[1])} heard,", "equal" if pedals else "different")
    print("keys that never came up:", hanging)
    same = bool(starts) and not only_want and not left and not late and pedals
    print("EQUAL" if same else "DIFFERENT")
    sys.exit(0 if same and not hanging and told["sent"] == told["all"] else 1)


if __name__ == "__main__":
    {"prepare": prepare, "play": play, "compare": compare}[sys.argv[1]](*sys.argv[2:])
