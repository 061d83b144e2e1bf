"""Figwort's MIDI parts as mido reads them, against midly's reading of the same files.

Reads the lines that the render crate's example `part_events` prints (a file's path and what midly finds in it:
notes, pedal, tempo, metre, key, markers, names, in ticks) and reads the files again with mido. Prints what differs
and the counts; ends with 1 if anything did.

    python3 -m venv .venv
    .venv/bin/pip install -r tests/reference/requirements.txt
    cargo run -p figwort-render --example part_events -- PART.mid… > parts.jsonl
    .venv/bin/python tests/reference/parts_mido.py parts.jsonl
"""
import json
import sys

import mido

# Sharps of the keys as mido names them.
FIFTHS = {name: n - 7 for n, name in enumerate("Cb Gb Db Ab Eb Bb F C G D A E B F# C#".split())}
FIFTHS |= {name + "m": n - 7 for n, name in enumerate("Ab Eb Bb F C G D A E B F# C# G# D# A#".split())}


def events(path):
    file = mido.MidiFile(path, charset="utf-8")
    yield ["header", file.type, file.ticks_per_beat, len(file.tracks)]
    for number, track in enumerate(file.tracks):
        now, sounding = 0, {}
        for message in track:
            now += message.time
            kind = message.type
            if kind == "note_on" and message.velocity > 0:
                if message.note in sounding:
                    yield ["struck while sounding", number, now, message.note]
                sounding[message.note] = (now, message.velocity)
            elif kind in ("note_on", "note_off"):
                at, velocity = sounding.pop(message.note)
                yield ["note", number, message.channel, message.note, at, now, velocity]
            elif kind == "control_change":
                yield ["control", number, message.channel, message.control, message.value, now]
            elif kind == "program_change":
                yield ["program", number, message.channel, message.program, now]
            elif kind == "set_tempo":
                yield ["tempo", number, message.tempo, now]
            elif kind == "time_signature":
                yield ["metre", number, message.numerator, message.denominator, now]
            elif kind == "key_signature":
                yield ["key", number, FIFTHS[message.key], message.key.endswith("m"), now]
            elif kind == "marker":
                yield ["marker", number, message.text, now]
            elif kind == "cue_marker":
                yield ["cue", number, message.text, now]
            elif kind == "track_name":
                yield ["name", number, message.name, now]
            elif kind == "end_of_track":
                yield ["end", number, now]
            else:
                yield ["other", number, str(message)]
        if sounding:
            yield ["never ended", number, sorted(sounding)]


def main(source):
    files = differing = total = 0
    with open(source, encoding="utf-8") as lines:
        for line in lines:
            part = json.loads(line)
            ours = sorted(map(json.dumps, part["events"]))
            theirs = sorted(map(json.dumps, events(part["file"])))
            files += 1
            total += len(theirs)
            if ours != theirs:
                differing += 1
                only = [event for event in theirs if event not in ours][:3]
                other = [event for event in ours if event not in theirs][:3]
                print(f"{part['file']}: only mido {only}, only midly {other}")
    print(f"{files} parts, {total} events, {differing} parts differ")
    return 1 if differing or not files else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:2]))
