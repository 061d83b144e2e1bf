"""MusicXML sheets as music21 reads them, against what Figwort plays of them.

Reads the lines that the sheet crate's example `played` prints. Per sheet the melody (onset and pitch, ties
joined, grace notes aside, top notes of chords) and the chord changes (onset, root, bass, kind or the same
notes) of music21's first part after `expandRepeats` are compared with Figwort's; what differs is printed.
Sheets whose repeats music21 cannot expand are compared bar by bar, each written bar once.

    python3 -m venv .venv
    .venv/bin/pip install -r tests/reference/requirements.txt
    cargo run -p figwort-sheet --example played -- FILE… > played.jsonl
    .venv/bin/python tests/reference/sheets_music21.py played.jsonl
"""
import json
import sys
import warnings
from collections import Counter
from fractions import Fraction

from music21 import chord, converter, harmony, note, repeat

# music21's own names and MusicXML's.
KINDS = {"dominant-seventh": "dominant", "minor-major": "major-minor", "minor-major-seventh": "major-minor"}


def place(offset):
    return round(float(Fraction(offset)), 3)


def read(path):
    part = converter.parse(path).parts[0]
    try:
        return part.expandRepeats(), True
    except repeat.ExpanderException:
        return part, False


def notes_of(part):
    for element in part.stripTies().flatten().notes:
        if isinstance(element, harmony.Harmony) or element.duration.isGrace:
            continue
        if isinstance(element, note.Note):
            yield place(element.offset), element.pitch.midi
        elif isinstance(element, chord.Chord):
            yield place(element.offset), max(pitch.midi for pitch in element.pitches)


def chord_of(element):
    """Root, bass, kind, and intervals above the root without a foreign bass."""
    if isinstance(element, harmony.NoChord):
        return -1, -1, "none", 0
    root, bass = element.root().pitchClass, element.bass().pitchClass
    kind = KINDS.get(element.chordKind, element.chordKind)
    intervals = sum(1 << i for i in {(pitch.pitchClass - root) % 12 for pitch in element.pitches})
    return root, bass, kind, intervals


def chords_of(part):
    """Changes only; of several at one place the first, which Figwort keeps or puts first."""
    last = None
    for element in part.flatten().getElementsByClass(harmony.Harmony):
        found = chord_of(element)
        if found != last:
            yield place(element.offset), *found
        last = found


def by_bar(part):
    """Every sounding note of each written bar, with its place in the bar."""
    for measure in part.getElementsByClass("Measure"):
        for element in measure.flatten().notes:
            starts = element.tie is None or element.tie.type == "start"
            if isinstance(element, note.Note) and starts and not element.duration.isGrace:
                yield measure.number, place(element.offset), element.pitch.midi


def figwort_by_bar(sheet):
    for at, _, key in sheet["notes"]:
        start, _, number = [bar for bar in sheet["bars"] if bar[0] <= at][-1]
        yield number, place(at - start), key


def compare(kind, name, theirs, ours, totals):
    both = sum((theirs & ours).values())
    total = totals.setdefault(kind, [0, 0, 0])
    for i, count in enumerate((sum(theirs.values()), sum(ours.values()), both)):
        total[i] += count
    for who, only in (("music21", theirs - ours), ("Figwort", ours - theirs)):
        if only:
            print(f"{kind}: {name}: only {who} ({sum(only.values())}): {sorted(only)[:6]}")


def settle(theirs, ours):
    """Chords alike by name or by notes, and a foreign bass counted or not, become equal."""
    known = {(at, root, bass): (kind, bits) for at, _, root, bass, kind, bits in ours}
    for at, root, bass, kind, bits in theirs:
        our_kind, our_bits = known.get((at, root, bass), (None, None))
        foreign = 1 << ((bass - root) % 12)
        alike = our_kind == kind or bits in (our_bits, (our_bits or 0) | foreign)
        yield at, root, bass, our_kind if alike else kind


def main(source):
    warnings.simplefilter("ignore")
    totals = {}
    with open(source) as file:
        sheets = [json.loads(line) for line in file]
    for sheet in sheets:
        name = sheet["file"].rsplit("/", 1)[-1]
        part, expanded = read(sheet["file"])
        if not expanded:
            print(f"repeats: {name}: music21 cannot expand them")
            compare("bars", name, Counter(set(by_bar(part))), Counter(set(figwort_by_bar(sheet))), totals)
            continue
        ours = Counter((place(at), key) for at, _, key in sheet["notes"])
        compare("notes", name, Counter(notes_of(part)), ours, totals)
        ours = [(place(at), text, root, bass, kind, bits) for at, text, root, bass, kind, bits in sheet["chords"]]
        theirs = Counter(settle(chords_of(part), ours))
        compare("chords", name, theirs, Counter((at, r, b, kind) for at, _, r, b, kind, _ in ours), totals)
    for kind, (theirs, ours, both) in totals.items():
        print(f"{kind}: music21 {theirs}, Figwort {ours}, alike {both} ({100 * both / max(theirs, ours, 1):.2f} %)")


if __name__ == "__main__":
    main(*sys.argv[1:2])
