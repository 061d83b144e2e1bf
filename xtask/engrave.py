"""Engraves MusicXML files to PNG, page by page: FILE.musicxml becomes OUT/FILE-1.png, OUT/FILE-2.png …

Run by `cargo xtask pictures`, which makes the virtual environment it needs. Prints a line for each page; what
the engraver complains about goes to standard error. Ends with 1 if a file could not be read.

    engrave.py OUT FILE…
"""
import re
import sys
from pathlib import Path

import cairosvg
import verovio

OPTIONS = {
    # Pixels of a page, with staves that can be read on a screen.
    "pageWidth": 1500,
    "pageHeight": 2000,
    "pageMarginLeft": 40,
    "pageMarginRight": 40,
    "pageMarginTop": 40,
    "scale": 100,
    "unit": 7,
    "footer": "none",
    "justifyVertically": False,
    # Wider bars: chord symbols get no room of their own.
    "spacingLinear": 0.32,
    # Chord symbols are not kept clear of beams: they stand as far up as a beam over high notes reaches.
    "bottomMarginHarm": 2.5,
}

# The engraver's signs within text, in letters that text fonts have.
LETTERS = {"\uea64": "\u266d", "\uea65": "\u266e", "\uea66": "\u266f", "\uea63": "\U0001d12b", "\uea67": "\U0001d12a",
           "\ueca5": "\u2669", "\uecb7": ".", "\ueca3": "half"}


def with_letters(svg):
    """The engraver's own font is not at hand for text."""
    # Its signs are as large as notes; as letters they are a little larger than the text they stand in.
    svg = re.sub(r'(<tspan font-family="Leipzig" font-size=")\d+px', r'\g<1>350px', svg)
    svg = svg.replace('<tspan font-family="Leipzig"', "<tspan")
    # Chord symbols are not given room of their own; smaller ones collide less.
    svg = svg.replace('font-size="315px"', 'font-size="285px"')
    # The title is written as small as the names beside it.
    svg = re.sub(r'(class="pgHead".*?font-size=")[1-9]\d*px', r"\g<1>420px", svg, count=1, flags=re.S)
    for sign, letter in LETTERS.items():
        svg = svg.replace(sign, letter)
    return svg.replace('font-family="Times, serif"', 'font-family="DejaVu Serif"')


def lifted(score):
    """The engraver loses changes of pedal; it draws a stop and a start."""
    change = r'(<direction placement="below">\s*<direction-type>\s*<pedal type=")change(".*?</direction>)'
    return re.sub(change, r"\1stop\2\n\1start\2", score, flags=re.S)


def engrave(toolkit, path, out):
    if not toolkit.loadData(lifted(path.read_text(encoding="utf-8"))):
        print(f"{path}: not read", file=sys.stderr)
        return False
    for page in range(1, toolkit.getPageCount() + 1):
        svg = with_letters(toolkit.renderToSVG(page))
        target = out / f"{path.stem}-{page}.png"
        cairosvg.svg2png(bytestring=svg.encode(), write_to=str(target), background_color="white")
        print(f"wrote {target}")
    return True


def main(out, *files):
    out = Path(out)
    out.mkdir(parents=True, exist_ok=True)
    verovio.enableLog(verovio.LOG_ERROR)
    toolkit = verovio.toolkit()
    toolkit.setOptions(OPTIONS)
    done = [engrave(toolkit, Path(file), out) for file in files]
    return 0 if all(done) else 1


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
