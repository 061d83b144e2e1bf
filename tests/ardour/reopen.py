"""Preset, recorder and judge of the rendered run; see reopen.sh.

While Ardour renders, JACK runs free of real time: the recorder counts the frames of its own cycles from then on, so
that what it hears has one constant delay, which is found by comparing and told.
"""

import base64
import json
import re
import struct
import sys
import time

import live

CLASS = b"466967776F72745069616E6973743031"  # "FigwortPianist01"
SECONDS = 75  # of the tune at the host's tempo, with its end
SIZE = {"width": 1234.0, "height": 777.0, "dark": True, "scale": 1.25}


def preset(tune, out):
    """A state in a file as the VST3 documentation's "Preset Format" lays it out: a head, the data, a list of chunks."""
    with open(tune, encoding="utf-8") as file:
        text = file.read()
    session = {"version": 1, "sheet": {"file": "tune.abc", "text": text}}
    fields = {"session": json.dumps(session), "desk": json.dumps(SIZE)}
    state = json.dumps({"version": "0.1.0", "params": {"manner": {"string": "rippling"}}, "fields": fields}).encode()
    head = b"VST3" + struct.pack("<i", 1) + CLASS + struct.pack("<q", 48 + len(state))
    chunks = b"List" + struct.pack("<i", 1) + b"Comp" + struct.pack("<qq", 48, len(state))
    with open(out, "wb") as file:
        file.write(head + state + chunks)


def record(out):
    """Waits for the host's port, listens, and keeps what is played while JACK runs free."""
    import jack

    heard, frame, free, over = [], [0], [False], [False]
    # One client after the other.
    for _ in range(120):
        with open("render.log") as file:
            if "opened" in file.read():
                break
        time.sleep(0.5)
    client = jack.Client("recorder")
    port = client.midi_inports.register("in")

    @client.set_freewheel_callback
    def freewheel(starting):
        over[0] = over[0] or (free[0] and not starting)
        free[0] = starting

    @client.set_process_callback
    def process(frames):
        if free[0]:
            for offset, data in port.incoming_midi_events():
                heard.append((frame[0] + offset, list(bytes(data))))
            frame[0] += frames

    client.activate()
    for _ in range(120):
        ports = client.get_ports("figwort.*midi_out", is_midi=True)
        if ports:
            break
        time.sleep(0.5)
    else:
        sys.exit("the host's port did not appear; see render.log")
    time.sleep(3)
    client.connect(ports[0], port)
    time.sleep(2)
    with open("ready", "w") as file:
        print(SECONDS, file=file)
    for _ in range(400):
        if over[0]:
            break
        time.sleep(0.5)
    time.sleep(1)
    client.deactivate()
    with open(out, "w") as file:
        json.dump(heard, file)


def states(session):
    """Every state of the plugin in an Ardour session file."""
    with open(session, encoding="utf-8") as file:
        found = re.findall(r">([A-Za-z0-9+/=\s]{200,})<", file.read())
    texts = [base64.b64decode(text) for text in found]
    return [json.loads(text[text.index(b'{"version"'):text.rindex(b"}") + 1]) for text in texts if b'{"version"' in text]


def compare(expected, rendered, first, second):
    """The same keys and velocities, each at the same place but for one constant delay and a MIDI file's tick."""
    with open(rendered) as file:
        heard = json.load(file)
    # While Ardour 7 renders, most events are on its port twice, in the same frame; the plugin sent them once (that was
    # counted in the plugin).
    once = [event for n, event in enumerate(heard) if event not in heard[max(n - 40, 0):n]]
    print(f"{len(heard) - len(once)} of {len(heard)} events are on the host's port a second time in the same frame")
    want = live.notes(live.events(expected))[0]
    have, hanging = live.notes(once)
    if not want or not have:
        sys.exit(f"expected {len(want)} notes, heard {len(have)}")
    delay = min(n[2] for n in have) - min(n[2] for n in want)
    print(f"expected {len(want)} notes, heard {len(have)}, with a constant delay of about {delay} frames")
    left, only_want, gaps, ends = list(have), [], [], []
    for key, velocity, on, off in want:
        near = [n for n in left if n[:2] == (key, velocity) and abs(n[2] - delay - on) <= 2 * live.TICK]
        if not near:
            only_want.append((round(on / live.RATE, 3), key, velocity))
            continue
        best = min(near, key=lambda n: abs(n[2] - delay - on))
        left.remove(best)
        gaps.append(best[2] - delay - on)
        ends.append(abs(best[3] - delay - off))
    print("only expected:", only_want[:8], "only heard:",
          [(round((n[2] - delay) / live.RATE, 3), *n[:2]) for n in left][:8])
    spread = max(gaps, default=0) - min(gaps, default=0)
    late = sum(gap > 2 * live.TICK for gap in ends)
    print(f"{len(gaps)} notes of the same key and velocity, their beginnings within {spread} frames; {late} of "
          f"{len(ends)} ends elsewhere; keys that never came up: {hanging}")
    kept = [states(session) for session in (first, second)]
    same_state = len(kept[0]) == len(kept[1]) == 1 and kept[0] == kept[1]
    desk = json.loads(kept[1][0]["fields"]["desk"]) if kept[1] else {}
    manner = kept[1][0]["params"]["manner"] if kept[1] else None
    print(f"state saved twice: {'the same' if same_state else 'not the same'}; window {desk}, manner {manner}")
    good = not only_want and not left and not hanging and late == 0 and spread <= 2 * live.TICK
    good = good and same_state and desk == SIZE and manner == {"string": "rippling"}
    print("EQUAL" if good else "DIFFERENT")
    sys.exit(0 if good else 1)


if __name__ == "__main__":
    {"preset": preset, "record": record, "compare": compare}[sys.argv[1]](*sys.argv[2:])
