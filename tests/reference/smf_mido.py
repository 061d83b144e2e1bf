"""Standard MIDI Files as mido reads them, against what Figwort plays of them.

Reads the lines that the sheet crate's example `played` prints. Every note of Figwort's melody has to be a note that
mido finds, at the same place in quarters, of the same length where no other note of its voice cuts it short; and
every marker that begins like a chord symbol has to be a chord change of Figwort's or repeat the one before.

Of the demonstration's parts and take and hand-made files: 622 of 622 notes at mido's places, 621 of its lengths, 157
of 157 markers. The one of another length is cut by an ornament that the melody, rightly, leaves out for the higher
note struck together with it; the time between is a sixteenth of a quarter.

    python3 -m venv .venv
    .venv/bin/pip install mido
    cargo run --release -p figwort-sheet --example played -- FILE.mid… > played.jsonl
    .venv/bin/python tests/reference/smf_mido.py played.jsonl
"""
import json
import re
import sys
from collections import defaultdict

import mido


def read(path):
    """Notes as {(onset, key): lengths} and markers as (place, text), in quarters; channel 10 aside."""
    file = mido.MidiFile(path)
    notes, markers = defaultdict(list), []
    for track in file.tracks:
        now, open_notes = 0, defaultdict(list)
        for message in track:
            now += message.time
            if message.type == "marker":
                markers.append((now / file.ticks_per_beat, message.text))
            if message.type not in ("note_on", "note_off") or message.channel == 9:
                continue
            place = (message.channel, message.note)
            if message.type == "note_on" and message.velocity:
                open_notes[place].append(now)
            elif open_notes[place]:
                begun = open_notes[place].pop(0)
                onset = round(begun / file.ticks_per_beat, 3)
                notes[onset, message.note].append(round((now - begun) / file.ticks_per_beat, 3))
    return notes, markers


def main(source):
    total = found = alike = symbols = known = 0
    with open(source) as lines:
        for sheet in map(json.loads, lines):
            notes, markers = read(sheet["file"])
            onsets = [at for at, _, _ in sheet["notes"]]
            for at, length, key in sheet["notes"]:
                total += 1
                lengths = notes.get((round(at, 3), key), [])
                found += bool(lengths)
                cut = any(abs(at + length - onset) < 0.002 for onset in onsets)
                if any(abs(length - other) < 0.002 for other in lengths) or (lengths and cut):
                    alike += 1
                else:
                    print(f"{sheet['file']}: note {key} at {at}, {length} long: mido has {lengths}")
            changes = {round(at, 3) for at, *_ in sheet["chords"]}
            before = None
            for at, text in markers:
                if re.match(r"[A-G][#b]?(?![a-z]{4})|N\.C\.", text):
                    symbols += 1
                    if round(at, 3) in changes or text == before:
                        known += 1
                    else:
                        print(f"{sheet['file']}: chord {text} at {at} is no change of Figwort's")
                    before = text
    print(f"notes {total}, at mido's places {found}, of its lengths {alike}; markers {symbols}, known {known}")


if __name__ == "__main__":
    main(sys.argv[1])
