"""Figwort's MusicXML parts as music21 reads them.

Every file has to load without a warning; every bar of every part has to last what its time signature says (or,
where the bar is marked as not counted, as long in every part and no longer), and so has every voice in it; no note
may lack a written value. Prints a line for each fault and the counts; ends with 1 if there was a fault.

    python3 -m venv .venv
    .venv/bin/pip install -r tests/reference/requirements.txt
    .venv/bin/python tests/reference/score_music21.py PART.musicxml…
"""
import sys
import warnings
import xml.etree.ElementTree as ElementTree
from fractions import Fraction

from music21 import chord, converter, harmony, note, stream


def length(elements):
    """End of the last element, from the bar's beginning."""
    ends = [Fraction(e.offset) + Fraction(e.duration.quarterLength) for e in elements]
    return max(ends, default=Fraction(0))


def gaps(voice):
    """Places in a voice where one note or rest does not follow on another."""
    now = Fraction(0)
    for element in voice.notesAndRests:
        if isinstance(element, harmony.Harmony) or element.duration.isGrace:
            continue
        if Fraction(element.offset) != now:
            yield now
        now = Fraction(element.offset) + Fraction(element.duration.quarterLength)


def check(path):
    faults = []
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        score = converter.parse(path)
    faults += [f"warning: {warning.message}" for warning in caught]
    counts = {"bars": 0, "voices": 0, "notes": 0}
    bars = ElementTree.parse(path).getroot().find("part").findall("measure")
    uncounted = {index for index, bar in enumerate(bars) if bar.get("implicit") == "yes"}
    lengths = {}
    for part in score.parts:
        for index, measure in enumerate(part.getElementsByClass(stream.Measure)):
            counts["bars"] += 1
            voices = list(measure.voices) or [measure]
            here = length(measure.flatten().notesAndRests)
            full = Fraction(measure.barDuration.quarterLength)
            if here != lengths.setdefault(index, here):
                faults.append(f"bar {measure.number}: {here} here, {lengths[index]} in another stave")
            if here != full and index not in uncounted:
                faults.append(f"bar {measure.number}: {here} quarters, not {full}")
            for voice in voices:
                counts["voices"] += 1
                if length(voice.notesAndRests) != here:
                    faults.append(f"bar {measure.number}: a voice of {length(voice.notesAndRests)}, not {here}")
                faults += [f"bar {measure.number}: a gap at {at}" for at in gaps(voice)]
            for element in measure.flatten().notes:
                if isinstance(element, (note.Note, chord.Chord)) and not isinstance(element, harmony.Harmony):
                    counts["notes"] += 1
                    if element.duration.type in ("inexpressible", "complex", "zero"):
                        faults.append(f"bar {measure.number}: a note without a written value")
    return faults, counts


def main(paths):
    totals, bad = {}, 0
    for path in paths:
        faults, counts = check(path)
        bad += len(faults)
        for fault in faults:
            print(f"{path}: {fault}")
        for kind, count in counts.items():
            totals[kind] = totals.get(kind, 0) + count
    print(f"{len(paths)} parts, " + ", ".join(f"{n} {kind}" for kind, n in totals.items()) + f": {bad} faults")
    return 1 if bad or not paths else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
