"""How a book lies on its pages: share of empty height by page, blank pages, and collisions by geometry.

    .venv/bin/python tests/bench/bench_pages.py [--keep FOLDER] [--paper a4]

Twenty-four versets in odd shapes (`odd_versets.py`) are set, drawn and bound. A page's empty height is what
lies between its last ink and the foot of its column, running foot and margins not counted. Collisions are
those of the drawn systems: figures, numbers, names of voices, accidentals, stems that overlap, by the boxes
of the engraver's glyphs.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import asdict
from itertools import combinations
from pathlib import Path

import pymupdf

sys.path.insert(0, str(Path(__file__).parent))

from odd_versets import odd_versets

from builder.edition.book.book import Book, Chapter, bind, chapter
from builder.edition.pdf.paper import paper
from builder.engraving.glyphs import box
from builder.setting.setting import set_verset
from builder.source import parse

MM = 72 / 25.4
_USE = re.compile(r'<use href="#g(\w+)-(\d+)" x="([-\d.]+)" y="([-\d.]+)"/>')
_TEXT = re.compile(r'<text stroke="none" x="([-\d.]+)" y="([-\d.]+)"[^>]*font-size="(\d+)"[^>]*>([^<]+)<')
_STEM = re.compile(r'<g class="stem"><path[^>]* d="M([-\d.]+) ([-\d.]+)V([-\d.]+)')
_FIGURES = re.compile(r'<g class="harm".*?</g>')
Box = tuple[float, float, float, float]


def chapters(folder: Path, name: str) -> list[Chapter]:
    """The chapters of all versets on a paper, kept in a folder between two runs."""
    made = []
    front = Book("Odd versets")
    for stem, source in odd_versets():
        kept = folder / f"{name}-{stem}.json"
        if not kept.exists():
            started = time.process_time()
            drawn = chapter(set_verset(parse(source, f"{stem}.md")), front, paper_name=name)
            kept.write_text(json.dumps(asdict(drawn)), "utf-8")
            print(f"{stem}: {time.process_time() - started:.1f} s", file=sys.stderr)
        made.append(Chapter(**json.loads(kept.read_text("utf-8"))))
    return made


def empty_shares(pdf: bytes, name: str) -> list[float]:
    """For each page the share of its column that is empty below the last ink; 1 for a blank page."""
    size, found = paper(name), []
    top, foot = size.margin * MM, (size.height - size.margin) * MM
    for page in pymupdf.open(stream=pdf):
        ink = [b[3] for b in page.get_text("blocks") if b[1] < foot - 1 and b[3] <= foot + 12]
        ink += [d["rect"].y1 for d in page.get_drawings() if d["rect"].y0 < foot]
        ink += [i["bbox"][3] for i in page.get_image_info()]
        last = max((y for y in ink if y > top - 12), default=top)
        found.append(max(0.0, min(1.0, (foot - last) / (foot - top))))
    return found


def collisions(svg: str) -> Iterator[str]:
    """What overlaps in one system."""
    figures = [b for part in _FIGURES.findall(svg) for b in _glyphs(part)]
    rest = _FIGURES.sub("", svg)
    signs = [(code, b) for code, b in _named(rest) if "E260" <= code <= "E264"]
    heads = [b for code, b in _named(rest) if "E0A0" <= code <= "E0A4"]
    words = [
        (float(x), float(y) - 0.7 * int(size), float(x) + 0.5 * int(size) * len(text), float(y))
        for x, y, size, text in _TEXT.findall(rest)
    ]
    stems = [
        (float(x) - 10, min(float(a), float(b)), float(x) + 10, max(float(a), float(b)))
        for x, a, b in _STEM.findall(rest)
    ]
    sides = (("figure", figures), ("word", words), ("accidental", [b for _, b in signs]))
    for (one, first), (other, second) in combinations(sides, 2):
        yield from (f"{one} on {other}" for a in first for b in second if _meet(a, b))
    for name, boxes in (("figure", figures), ("word", words)):
        yield from (f"{name} on {name}" for a, b in combinations(boxes, 2) if _meet(a, b))
        yield from (f"{name} on stem" for a in boxes for b in stems if _meet(a, b))
        yield from (f"{name} on notehead" for a in boxes for b in heads if _meet(a, b))
    yield from ("accidental on notehead" for _, a in signs for b in heads if _meet(a, b))
    yield from ("accidental on accidental" for (_, a), (_, b) in combinations(signs, 2) if _meet(a, b))


def _named(svg: str) -> Iterator[tuple[str, Box]]:
    for code, scale, x, y in _USE.findall(svg):
        share = int(scale) / 100
        left, low, wide, high = box(code)
        at, base = float(x), float(y)
        yield code, (at + left * share, base - high * share, at + (left + wide) * share, base - low * share)


def _glyphs(svg: str) -> list[Box]:
    return [b for _, b in _named(svg)]


def _meet(a: Box, b: Box, air: float = 12.0) -> bool:
    """Whether two boxes overlap by more than a hair (in parts of 180 to a stave space)."""
    return a[0] + air < b[2] and b[0] + air < a[2] and a[1] + air < b[3] and b[1] + air < a[3]


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--keep", type=Path, default=Path(tempfile.gettempdir()) / "odd-versets")
    asked.add_argument("--paper", default="a4")
    options = asked.parse_args()
    options.keep.mkdir(parents=True, exist_ok=True)
    made = chapters(options.keep, options.paper)
    pdf = bind(made, Book("Odd versets"), paper_name=options.paper)
    (options.keep / f"book-{options.paper}.pdf").write_bytes(pdf)
    shares = empty_shares(pdf, options.paper)
    print(f"{len(made)} versets, {len(shares)} pages, {sum(shares) / len(shares):.3f} empty on the mean")
    print("more than half empty:", [n for n, share in enumerate(shares, 1) if 0.5 < share < 1])
    print("blank:", [n for n, share in enumerate(shares, 1) if share == 1])
    print(" ".join(f"{share:.2f}" for share in shares))
    found: dict[str, int] = {}
    for each in made:
        for name, svg in each.pictures.items():
            for what in () if "plan" in name else collisions(svg):
                found[what] = found.get(what, 0) + 1
                print(f"  {each.name} {name}: {what}", file=sys.stderr)
    print("collisions:", found or "none")


if __name__ == "__main__":
    main()
