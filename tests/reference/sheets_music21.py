"""Sheets as music21 reads them, against what Figwort plays of them: MusicXML and ABC.

Per sheet the melody (onset and pitch, ties joined, grace notes aside, top notes of chords) and the chord changes
(onset, root, bass, kind or the same notes) of music21's first part are compared with Figwort's (the lines that the
sheet crate's example `played` prints), twice: played, after `expandRepeats`, with onsets from the beginning; and as
written, from copies without repeat signs, endings and jumps. Sheets whose repeats music21 cannot expand are compared
by what stands in their written bars, notes only. What differs goes to a list, sheet by sheet, with why and who is
right where a rule below knows it; the counts are printed.

    python3 -m venv .venv
    .venv/bin/pip install -r tests/reference/requirements.txt
    .venv/bin/python tests/reference/sheets_music21.py prepare target/reference/sheets FILE…
    cargo run --release -p figwort-sheet --example played -- target/reference/sheets/*.* target/reference/sheets/written/* \
        > played.jsonl
    .venv/bin/python tests/reference/sheets_music21.py compare played.jsonl target/reference/differences.txt

Both have to read the same line. A MusicXML part may hold several voices, and Figwort reads one melody; so of music21's
bars that have voices the one with the lowest number is taken of those with notes, and cue notes, which music21 does
not tell from others, are rests (they are no sound of the part's: MusicXML 4.0, `cue`). "all voices' notes" has them in, for comparison. As
written, a MusicXML note's onset is its bar and its place in that, for music21 makes a rest with `measure="yes"` as long
as the metre's bar whatever its `duration`, and the bars of one part then come later than the other parts'.

Of 891 ABC tunes as written, 89250 of 89654 notes and 19252 of 19491 chords agree (99.55 % and 98.77 %). Of 135
MusicXML scores as written 16940 of 16941 notes (99.99 %) and 2565 of 2591 chords (99.00 %). Played, 2645 of 2664 chords
(99.29 %) and all notes of 127; 8 differ: two by bars that music21 makes too long, three in the order of play (one of
them has 1633 notes more in music21), three by a cue note or a tie. With their notes in, 18798 of 20882 agree (90.02 %),
and of all voices' 18798 of 21013 (89.46 %). The rules in `judge` say of every difference who is right. Repeats are
checked against `order`, too, as music21 goes back too far.

`prepare` copies MusicXML as it is and writes each tune of an ABC file to a file of its own, without the order of
parts in its header (`P:AABB`), which music21 does not follow. What music21 read is kept beside the list, as that
takes long.
"""
import bisect
import json
import re
import shutil
import sys
import warnings
import zipfile
from collections import Counter
from fractions import Fraction
from pathlib import Path

from music21 import chord, converter, harmony, note, repeat

# music21's own names and MusicXML's.
KINDS = {"dominant-seventh": "dominant", "minor-major": "major-minor", "minor-major-seventh": "major-minor"}


def place(offset):
    return round(float(Fraction(offset)), 3)


def prepare(out, paths):
    out = Path(out)
    written = out / "written"
    written.mkdir(parents=True, exist_ok=True)
    for path in map(Path, paths):
        if path.suffix != ".abc":
            shutil.copy(path, out / path.name)
            (written / path.name).with_suffix(".musicxml").write_text(unrepeated(text_of(str(path))))
            continue
        text = path.read_text(encoding="utf-8", errors="replace").replace("\r\n", "\n").replace("\r", "\n")
        head, *tunes = ("\n" + text).split("\nX:")
        for index, tune in enumerate(tunes):
            # A tune ends with an empty line; its header with K:.
            lines = ("X:" + tune).split("\n\n")[0].rstrip().split("\n")
            key = next((i for i, line in enumerate(lines) if line.startswith("K:")), len(lines))
            lines = [line for i, line in enumerate(lines) if i > key or not line.startswith("P:")]
            name = f"{path.stem}-{index + 1:03}.abc"
            for folder, music in ((out, lines), (written, [plain(line) for line in lines])):
                (folder / name).write_text((head.strip() + "\n\n" + "\n".join(music) + "\n").lstrip())


def plain(line):
    """A line of music without its repeat signs and endings; fields and quoted texts as they are."""
    if line[1:2] == ":" and line[:1].isalpha() and line[2:3] != "|":
        return line
    pieces = line.split('"')
    for i in range(0, len(pieces), 2):
        piece = re.sub(r"\|*:+\|*:*|\|+:+", "||", re.sub(r"\[[A-Za-z]:[^]]*\]", lambda m: m[0].replace(":", "\0"), pieces[i]))
        piece = re.sub(r"\[\d[\d,\-]*", " ", re.sub(r"\|\d[\d,\-]*", "| ", piece))
        pieces[i] = piece.replace("\0", ":")
    return '"'.join(pieces)


def unrepeated(text):
    """A MusicXML score without repeat signs, endings and jumps."""
    text = re.sub(r"<repeat\b[^>]*/>|<ending\b[^>]*/>|<ending\b[^>]*>[^<]*</ending>", "", text)
    text = re.sub(r"<(segno|coda)\b[^>]*/>|<(segno|coda)\b[^>]*>\s*</(segno|coda)>", "<dashes type=\"stop\"/>", text)
    text = re.sub(r' (dacapo|dalsegno|tocoda|coda|segno|fine|forward-repeat)="[^"]*"', "", text)
    return re.sub(r"(?is)(<words\b[^>]*>)[^<]*(D\.\s*[CS]\.|da capo|dal segno|\bfine\b|coda)[^<]*(?=</words>)", r"\1", text)


def read(path):
    """What music21 reads of a sheet, as plain values."""
    if "/written/" in path and not path.endswith(".abc"):
        part = converter.parse(uncued(text_of(path)), format="musicxml").parts[0]
        melody_only(part)
        return {"placed": list(placed_notes(part)), "chords": list(placed_chords(part))}
    score = converter.parse(path, format="abc" if path.endswith(".abc") else None)
    score = getattr(score, "scores", [score])[0]
    part = score.parts[0]
    try:
        played = part.expandRepeats()
        found = {"notes": list(notes_of(played)), "chords": list(chords_of(played))}
        if not path.endswith(".abc"):
            melody_only(part)
            found["melody"] = list(notes_of(part.expandRepeats()))
        return found
    except repeat.ExpanderException:
        return {"bars": list(by_bar(part))}


def melody_only(part):
    """Leaves of each bar the voice with the lowest number of those with notes."""
    for measure in part.getElementsByClass("Measure"):
        number = lambda voice: (not voice.notes, int(voice.id) if str(voice.id).isdigit() else 99)
        for voice in sorted(measure.voices, key=number)[1:]:
            measure.remove(voice)


def uncued(text):
    """A MusicXML score with rests for its cue notes, as music21 does not tell them from others."""

    def silent(note):
        if not re.search(r"<cue\b", note[0]):
            return note[0]
        if re.search(r"<chord\b", note[0]):
            return ""
        return re.sub(r"(?s)<pitch>.*?</pitch>", "<rest/>", re.sub(r"<tie\b[^>]*/>|<cue\b[^>]*/>", "", note[0]))

    return re.sub(r"(?s)<note\b.*?</note>", silent, text)


def placed_notes(part):
    """Notes with the index of their bar and their place in it, ties joined."""
    for index, measure in enumerate(part.stripTies().getElementsByClass("Measure")):
        for at, key in notes_in(measure):
            yield index, at, key


def placed_chords(part):
    """The same of chord changes; what stands at the end of a bar begins the next."""
    last, last_at = None, None
    for index, measure in enumerate(part.getElementsByClass("Measure")):
        length = measure.duration.quarterLength
        for element in measure.flatten().getElementsByClass(harmony.Harmony):
            late = element.offset >= length > 0
            at = (index + late, 0.0 if late else place(element.offset))
            found = chord_of(element)
            if found != last and at != last_at:
                yield at, *found
                last = found
            last_at = at


def notes_of(part):
    yield from notes_in(part.stripTies())


def notes_in(stream):
    for element in stream.flatten().notes:
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
    last, last_at = None, None
    for element in part.flatten().getElementsByClass(harmony.Harmony):
        found = chord_of(element)
        if found != last and element.offset != last_at:
            yield place(element.offset), *found
            last = found
        last_at = element.offset


def text_of(path):
    """The text of a sheet, unpacked."""
    if not path.endswith(".mxl"):
        return Path(path).read_text(errors="replace")
    with zipfile.ZipFile(path) as archive:
        names = [name for name in archive.namelist() if not name.startswith("META-INF") and name.endswith("xml")]
        return archive.read(names[0]).decode(errors="replace") if names else ""


def by_bar(part):
    """The sounding notes of each written bar, with their places in it."""
    for measure in part.getElementsByClass("Measure"):
        bar = []
        for element in measure.flatten().notes:
            starts = element.tie is None or element.tie.type == "start"
            if isinstance(element, (note.Note, chord.Chord)) and starts and not element.duration.isGrace:
                if not isinstance(element, harmony.Harmony):
                    bar.append((place(element.offset), max(pitch.midi for pitch in element.pitches)))
        yield bar


def figwort_by_bar(sheet):
    bars = [[] for _ in sheet["bars"]]
    index = 0
    for at, _, key in sheet["notes"]:
        while index + 1 < len(bars) and sheet["bars"][index + 1][0] <= at:
            index += 1
        bars[index].append((place(at - sheet["bars"][index][0]), key))
    return bars


def figwort_places(sheet, times):
    """The bars and places in them of moments."""
    starts = [bar[0] for bar in sheet["bars"]]
    for at in times:
        index = bisect.bisect_right(starts, at + 1e-6) - 1
        yield index, place(at - starts[index])


def settle(theirs, ours):
    """Chords alike by name or by notes, and a foreign bass counted or not, become equal."""
    known = {(at, root, bass): (kind, bits) for at, _, root, bass, kind, bits in ours}
    for at, root, bass, kind, bits in theirs:
        our_kind, our_bits = known.get((at, root, bass), (None, None))
        foreign = 1 << ((bass - root) % 12)
        alike = our_kind == kind or bits in (our_bits, (our_bits or 0) | foreign)
        yield at, root, bass, our_kind if alike else kind


def shifted(theirs, ours):
    """Whether the same notes come some time earlier or later."""
    pairs = list(zip(sorted(theirs), sorted(ours)))
    same = sum(a[1] == b[1] for a, b in pairs)
    return min(len(theirs), len(ours)) > 20 and same > len(pairs) // 3


def judge_musicxml(what, theirs, ours, text):
    """The same for MusicXML; `text` is the whole file."""
    part = text[: text.find("</part>")]
    if what.endswith("chords"):
        if not theirs and re.search(r">\s*N\.?C\.?\s*<", part) and all(chord[3] == "none" for chord in ours):
            return "Figwort: N.C. written as words; music21 reads harmony elements only"
        if "<degree-type" in part and theirs and {chord[:2] for chord in theirs} <= {chord[:2] for chord in ours}:
            return "Figwort: an added seventh is a dominant's (MusicXML 4.0, degree-value); music21 adds a major one"
        if not theirs:
            return "either: of two symbols at one place Figwort plays both, the comparison takes the first"
        return None
    if what.endswith("notes"):
        if re.search(r"dacapo=|dalsegno=", part) or part.count('direction="backward"') > 1:
            return "order: Figwort follows a D.C. once, without repeats, and goes back to after the last :|; music21 does not"
        if theirs and ours and shifted(theirs, ours):
            return "Figwort: a short bar is as long as its parts have notes; music21 makes its rest a whole bar"
        if not ours and re.search(r"<voice>[2-4]</voice>|<cue", part):
            return "Figwort: one melody, without notes of another voice or cue notes; music21 has them all"
        if "<cue" in part:
            return "Figwort: cue notes are not the part's own; music21 takes them for it"
        if not theirs and "<tie " in part:
            return "Figwort: a tie over a rest joins nothing; music21 joins what it ties"
    return None


def judge(what, theirs, ours, text):
    """Why they differ and who is right, by rule; None where no rule knows."""
    if what.startswith("musicxml"):
        return judge_musicxml(what, theirs, ours, text)
    if what.endswith("notes"):
        alike = len(theirs) == len(ours) and all(
            a[0] == b[0] and abs(a[1] - b[1]) in (1, 2) for a, b in zip(sorted(theirs), sorted(ours))
        )
        if alike and re.search(r"[_=^]+[A-Ga-g]", text):
            return "Figwort: an accidental holds to the bar line, in all octaves (ABC 2.1, 11.3); music21 forgets it"
        if not theirs and re.search(r"([A-Ga-g])[,']*[\d/]*\s*-\s*(?!\1)[A-Ga-g]", text):
            return "Figwort: - between two pitches is a slur in older files; music21 joins them into one note"
        if alike and "[K:" in text:
            return "Figwort: a key inside a line holds at once (ABC 2.1, 3.2); music21 misses it before a bar line"
        if re.search(r"\[[^]|\n]*-[^]|\n]*\][^|\n]*\[|\]-\[", text) and len(theirs) > len(ours):
            return "Figwort: note chords that are tied sound once; music21 strikes their tops again"
    if re.search(r"\[[A-Ga-g][^]|\n]*\|", text):
        return "neither: a note chord is not closed in the file, of which Figwort warns"
    if what.endswith("chords"):
        older = all(kind.startswith("augmented") for _, _, _, kind in theirs)
        if theirs and older and re.search(r"/[a-g]\+\"", text):
            return "Figwort: the collection writes the bass C sharp as c+; music21 takes + for augmented"
        if not theirs and re.search(r'"[A-G][#b]?[da]7?[/"]', text):
            return "Figwort: the collection writes d for diminished, a for augmented; music21 leaves the chord out"
        if not theirs and re.search(r'/[a-g]\+"', text):
            return "Figwort: the collection writes the bass D sharp as d+; music21 leaves the chord out"
        if not theirs and re.search(r'"[^"]+"\s*"[A-G]', text):
            return "either: of two symbols over a long note Figwort plays both, the comparison takes the first"
    return None


ORDER = (
    "as written alike, so only the order differs. Figwort, whose order is that of `order` below: a :| without its |:"
    " goes back to the last :| or double bar (ABC 2.1, 4.8); music21 goes back further"
)


SIGN = r"(:*\|[|\]:]*(?:\d[\d,\-]*)?|::+|\[\d[\d,\-]*)"


def order(text):
    """The order in which the bars of an ABC tune are played, by its signs: a second opinion in few lines."""
    music = re.split(r"(?m)^K:.*$", text, maxsplit=1)[-1]
    music = re.sub(r"(?m)^[A-Za-z+]:(?![|:]).*$|%.*$|\\\\$", "", music)
    music = re.sub(r'"[^"]*"|![^!\n]*!|\[[A-Za-z]:[^]]*\]|\{[^}]*\}', "", music)
    bars, starts, ending = [], False, []
    for i, piece in enumerate(re.split(SIGN, music)):
        if i % 2 == 0:
            if re.search("[A-Ga-gz]", piece):
                bars.append({"starts": starts, "ends": False, "double": False, "ending": ending})
                starts, ending = False, []
            continue
        if numbers := re.search(r"\d[\d,\-]*$", piece):
            ending = [int(n) for n in re.findall(r"\d", numbers[0])]
        signs = piece[: numbers.start()] if numbers else piece
        if bars:
            bars[-1]["ends"] |= signs.startswith(":")
            bars[-1]["double"] |= "||" in signs or "|]" in signs
        starts |= signs.endswith(":")
    played, i, begin, passes = [], 0, 0, 1
    while i < len(bars) and len(played) < 5000:
        bar = bars[i]
        if bar["starts"] and i != begin:
            begin, passes = i, 1
        if bar["ending"] and passes not in bar["ending"]:
            while i < len(bars):
                over = bars[i]["ends"] or bars[i]["double"]
                i += 1
                if over or (i < len(bars) and (bars[i]["ending"] or bars[i]["starts"])):
                    break
            continue
        played.append(i)
        follows = i + 1 < len(bars) and bars[i + 1]["ending"]
        if bar["ends"] and passes < 2:
            i, passes = begin, passes + 1
            continue
        if bar["ends"] or (bar["double"] and not follows and not bars[begin]["starts"]):
            begin, passes = i + 1, 1
        i += 1
    return len(bars), played


def compare_orders(sheets, listing):
    """Figwort's order of bars against `order`, bar lengths and numbers told apart by how the tune is written."""
    written = {sheet["file"].rsplit("/", 1)[-1]: sheet for sheet in sheets if "/written/" in sheet["file"]}
    alike = unclear = tunes = 0
    for sheet in sheets:
        name = sheet["file"].rsplit("/", 1)[-1]
        if sheet["file"].endswith(".abc") and "/written/" not in sheet["file"] and name in written:
            tunes += 1
            count, played = order(Path(sheet["file"]).read_text(errors="replace"))
            bars = [bar[1:] for bar in written[name]["bars"]]
            if count != len(bars):
                unclear += 1
            elif [bars[i] for i in played] == [bar[1:] for bar in sheet["bars"]]:
                alike += 1
            else:
                listing.write(f"abc order: {name}: {played}\n    Figwort {[bar[2] for bar in sheet['bars']]}\n")
    print(f"abc order: {tunes} tunes, {alike} in the same order, {unclear} whose bars are counted otherwise")


class Comparison:
    """Counts by collection and kind, and the list of differences."""

    def __init__(self, out):
        self.totals = {}
        self.verdicts = Counter()
        self.doubtful = set()
        self.out = out

    def add(self, kind, name, theirs, ours, text):
        both = sum((theirs & ours).values())
        total = self.totals.setdefault(kind, [0, 0, 0])
        for i, count in enumerate((sum(theirs.values()), sum(ours.values()), both)):
            total[i] += count
        only, own = theirs - ours, ours - theirs
        if only or own:
            verdict = judge(kind, list(only.elements()), list(own.elements()), text)
            is_played = "written" not in kind and kind.startswith("abc")
            if verdict is None and is_played and name not in self.doubtful:
                verdict = ORDER
            if verdict is None:
                self.doubtful.add(name)
                verdict = "not judged"
            self.verdicts[f"{kind}: {verdict}"] += 1
            self.out.write(f"{kind}: {name}: {verdict}\n")
            self.out.write(f"    only music21 ({sum(only.values())}): {sorted(only)[:8]}\n")
            self.out.write(f"    only Figwort ({sum(own.values())}): {sorted(own)[:8]}\n")


def compare(source, out):
    warnings.simplefilter("ignore")
    out = Path(out)
    kept = out.with_suffix(".music21.json")
    theirs = json.loads(kept.read_text()) if kept.exists() else {}
    with open(source) as file:
        sheets = [json.loads(line) for line in file]
    # Written first: what is alike there and not in playing differs in the order alone.
    sheets.sort(key=lambda sheet: "/written/" not in sheet["file"])
    failed = 0
    with open(out, "w") as listing:
        comparison = Comparison(listing)
        for done, sheet in enumerate(sheets):
            path = sheet["file"]
            if path not in theirs:
                try:
                    theirs[path] = read(path)
                except Exception as error:  # music21 raises many kinds
                    theirs[path] = {"error": f"{type(error).__name__}: {error}"}
                if done % 100 == 99:
                    kept.write_text(json.dumps(theirs))
            found, name = theirs[path], path.rsplit("/", 1)[-1]
            kind = "abc" if name.endswith(".abc") else "musicxml"
            kind += " written" if "/written/" in path else ""
            text = text_of(path)
            if "error" in found:
                failed += 1
                listing.write(f"unread: {name}: music21 cannot read it ({found['error'][:200]})\n")
            elif "bars" in found:
                listing.write(f"repeats: {name}: music21 cannot expand them; written bars are compared\n")
                bars = Counter((i, *n) for i, n in enumerate(unmatched(found["bars"], figwort_by_bar(sheet))))
                total = Counter((i, *n) for i, bar in enumerate(found["bars"]) for n in bar)
                comparison.add(f"{kind} notes by bar", name, total, total - Counter(dict(bars)), text)
            elif "placed" in found:
                at = figwort_places(sheet, (at for at, _, _ in sheet["notes"]))
                ours = Counter((*at, key) for at, (_, _, key) in zip(at, sheet["notes"]))
                comparison.add(f"{kind} notes", name, Counter(map(tuple, found["placed"])), ours, text)
                at = figwort_places(sheet, (at for at, *_ in sheet["chords"]))
                ours = [(at, *chord[1:]) for at, chord in zip(at, sheet["chords"])]
                theirs_here = [(tuple(chord[0]), *chord[1:]) for chord in found["chords"]]
                chords = Counter(settle(theirs_here, ours))
                comparison.add(f"{kind} chords", name, chords, Counter((at, r, b, k) for at, _, r, b, k, _ in ours), text)
            else:
                ours = Counter((place(at), key) for at, _, key in sheet["notes"])
                notes = Counter(tuple(n) for n in found["notes"])
                if "melody" in found:
                    comparison.add(f"{kind} all voices' notes", name, notes, ours, text)
                    notes = Counter(tuple(n) for n in found["melody"])
                comparison.add(f"{kind} notes", name, notes, ours, text)
                ours = [(place(at), t, r, b, k, bits) for at, t, r, b, k, bits in sheet["chords"]]
                chords = Counter(settle(map(tuple, found["chords"]), ours))
                comparison.add(
                    f"{kind} chords", name, chords, Counter((at, r, b, k) for at, _, r, b, k, _ in ours), text
                )
        compare_orders(sheets, listing)
    kept.write_text(json.dumps(theirs))
    print(f"{len(sheets)} sheets, {failed} of them not read by music21")
    for kind, (theirs, ours, both) in sorted(comparison.totals.items()):
        print(f"{kind}: music21 {theirs}, Figwort {ours}, alike {both} ({100 * both / max(theirs, ours, 1):.2f} %)")
    for verdict, count in sorted(comparison.verdicts.items()):
        print(f"{count:>5} {verdict}")


def unmatched(theirs, ours):
    """The notes of music21's bars that no bar of Figwort's is like."""
    played = {tuple(map(tuple, bar)) for bar in ours}
    for bar in theirs:
        if tuple(map(tuple, bar)) not in played:
            yield from map(tuple, bar)


if __name__ == "__main__":
    if sys.argv[1:2] == ["prepare"]:
        prepare(sys.argv[2], sys.argv[3:])
    else:
        compare(*sys.argv[2:4])
