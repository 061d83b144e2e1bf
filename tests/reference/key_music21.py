"""The key of bars as music21 hears them.

Reads `key_bars.csv`, which `cargo xtask evaluate reading DIR` writes to target/evaluate, and writes
`key_music21.csv`: per hash of bars the key by `analyze('key')` of melody and chords together and of the
melody alone, each as pitch class and mode. music21's own default profiles decide.

    python3 -m venv .venv
    .venv/bin/pip install -r tests/reference/requirements.txt
    .venv/bin/python tests/reference/key_music21.py target/evaluate/key_bars.csv tests/reference/key_music21.csv
"""
import csv
import sys

from music21 import chord, note, stream


def key_of(events):
    part = stream.Stream()
    for at, length, keys in events:
        element = note.Note(keys[0]) if len(keys) == 1 else chord.Chord(keys)
        element.quarterLength = length
        part.insert(at, element)
    found = part.analyze("key")
    return f"{found.tonic.pitchClass} {found.mode}"


def main(source, target):
    bars = {}
    with open(source, newline="") as file:
        for row in csv.DictReader(file):
            event = (float(row["at"]), float(row["length"]), [int(k) for k in row["keys"].split()])
            bars.setdefault(row["bars"], []).append((row["what"], event))
    with open(target, "w", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["bars", "melody and chords", "melody"])
        for name, events in sorted(bars.items()):
            melody = [event for what, event in events if what == "n"]
            if melody:
                writer.writerow([name, key_of([event for _, event in events]), key_of(melody)])


if __name__ == "__main__":
    main(*sys.argv[1:3])
