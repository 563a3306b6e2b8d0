"""What overlaps in a drawn system, which accidental stands nearer to another note than to its own, and how
near rests are to voices, by the boxes of the engraver's glyphs."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from itertools import combinations
from math import hypot

from builder.engraving.glyphs import box

_USE = re.compile(r'<use href="#g(\w+)-(\d+)" x="([-\d.]+)" y="([-\d.]+)"/>')
_TEXT = re.compile(r'<text stroke="none" x="([-\d.]+)" y="([-\d.]+)"([^>]*)>([^<]+)<')
_SIZE = re.compile(r' font-size="(\d+)"')
_ANCHOR = re.compile(r' text-anchor="(start|middle|end)"')
_STEM = re.compile(r'<g class="stem"><path[^>]* d="M([-\d.]+) ([-\d.]+)V([-\d.]+)')
_FIGURES = re.compile(r'<g class="harm".*?</g>')
_VOICE = re.compile(r"(?:cantus|altus|tenor|bassus)")
_BEAM = re.compile(r'<polygon[^>]* points="([^"]+)"')
Box = tuple[float, float, float, float]


def collisions(svg: str) -> Iterator[str]:
    """What overlaps in one system."""
    figures = [b for part in _FIGURES.findall(svg) for b in _glyphs(part)]
    rest = _FIGURES.sub("", svg)
    signs = [(code, b) for code, b in named_boxes(rest) if "E260" <= code <= "E264"]
    heads = [b for code, b in named_boxes(rest) if "E0A0" <= code <= "E0A4"]
    words = list(_words(rest))
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
    rests = [b for code, b in named_boxes(rest) if "E4E2" <= code <= "E4E7"]
    beams = [_corners(points) for points in _BEAM.findall(rest)]
    for name, boxes in (("figure", figures), ("word", words), ("rest", rests)):
        yield from (f"{name} on beam" for a in boxes for b in beams if _under(b, a))
    yield from ("beam on beam" for a, b in combinations(beams, 2) if _crossed(a, b))
    for name, boxes in (("notehead", heads), ("stem", stems), ("accidental", [b for _, b in signs])):
        yield from (f"rest on {name}" for a in rests for b in boxes if _meet(a, b))
    yield from ("rest on rest" for a, b in combinations(rests, 2) if _meet(a, b))
    yield from ("accidental on notehead" for _, a in signs for b in heads if _meet(a, b))
    yield from ("accidental on accidental" for (_, a), (_, b) in combinations(signs, 2) if _meet(a, b))


def _words(svg: str) -> Iterator[Box]:
    """The boxes of texts, half their size to a letter: each begins, is centred or ends at its `x`, as its
    anchor says (SVG 2, 11.10.1)."""
    for x, y, attributes, text in _TEXT.findall(svg):
        size, anchor = _SIZE.search(attributes), _ANCHOR.search(attributes)
        if size:
            high = int(size[1])
            wide = 0.5 * high * len(text)
            left = (
                float(x) - wide * {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor[1] if anchor else "start"]
            )
            yield left, float(y) - 0.7 * high, left + wide, float(y)


def named_boxes(svg: str) -> Iterator[tuple[str, Box]]:
    """Each sign of the music font in a picture, by its code, with the box around it."""
    for code, scale, x, y in _USE.findall(svg):
        share = int(scale) / 100
        left, low, wide, high = box(code)
        at, base = float(x), float(y)
        yield code, (at + left * share, base - high * share, at + (left + wide) * share, base - low * share)


def _glyphs(svg: str) -> list[Box]:
    return [b for _, b in named_boxes(svg)]


def _meet(a: Box, b: Box, air: float = 12.0) -> bool:
    """Whether two boxes overlap by more than a hair (in parts of 180 to a stave space)."""
    return a[0] + air < b[2] and b[0] + air < a[2] and a[1] + air < b[3] and b[1] + air < a[3]


def _corners(points: str) -> list[tuple[float, float]]:
    """The corners of a beam."""
    numbers = [float(n) for n in re.findall(r"-?[\d.]+", points)]
    return list(zip(numbers[::2], numbers[1::2], strict=True))


def _edges(beam: list[tuple[float, float]], x: float) -> tuple[float, float] | None:
    """The upper and lower edge of a beam at a place along the stave."""
    sides = [(a, b) for a, b in zip(beam, beam[1:] + beam[:1]) if a[0] != b[0]]
    at = [a[1] + (b[1] - a[1]) * (x - a[0]) / (b[0] - a[0]) for a, b in sides if (x - a[0]) * (x - b[0]) <= 0]
    return (min(at), max(at)) if len(at) > 1 else None


def _under(beam: list[tuple[float, float]], thing: Box) -> bool:
    """Whether a beam runs over the middle of a box."""
    edges = _edges(beam, (thing[0] + thing[2]) / 2)
    return edges is not None and thing[1] + 12 < edges[1] and edges[0] + 12 < thing[3]


def _crossed(one: list[tuple[float, float]], other: list[tuple[float, float]]) -> bool:
    """Whether two beams touch anywhere."""
    start = max(min(x for x, _ in beam) for beam in (one, other))
    end = min(max(x for x, _ in beam) for beam in (one, other))
    places = [start + (end - start) * n / 8 for n in range(1, 8)] if end - start > 12 else []
    both = [(_edges(one, x), _edges(other, x)) for x in places]
    return any(a and b and a[0] + 12 < b[1] and b[0] + 12 < a[1] for a, b in both)


def _inside(element: ET.Element) -> list[tuple[str, Box]]:
    """Each sign of the music font in an element, by its code, with the box around it."""
    text = re.sub(r"ns0:| xmlns:ns0=\S+?(?=[ >])", "", ET.tostring(element, encoding="unicode"))
    return list(named_boxes(text.replace(" />", "/>")))


def astray(svg: str) -> Iterator[str]:
    """Every accidental to which another head than its note's is the nearest on its line or space: it would be
    read as that one's."""
    notes = []
    for group in ET.fromstring(svg).iter("{http://www.w3.org/2000/svg}g"):
        if group.get("class") == "note":
            named = _inside(group)
            heads = [b for code, b in named if "E0A0" <= code <= "E0A4"]
            signs = [b for code, b in named if "E260" <= code <= "E264"]
            notes.append((heads, signs))
    for own, signs in notes:
        for sign in signs:
            for other, theirs in notes:
                if other is own or not own:
                    continue
                # two voices on one note share its sign
                unison = not theirs and any(head[2] >= own[0][0] - 12 for head in other)
                if not unison and any(_nearer(sign, head, own[0]) for head in other):
                    yield "accidental nearest to another note"


def _nearer(sign: Box, head: Box, own: Box) -> bool:
    """Whether a head on the line or space of a sign stands to its right and before the sign's own head."""
    same_line = abs((head[1] + head[3]) - (own[1] + own[3])) / 2 < 60
    return same_line and sign[2] - 12 <= head[0] < own[0] - 12


def rests(svg: str) -> Iterator[tuple[float, float]]:
    """Of every rest on a stave that voices share, in stave spaces: how far the nearest head of another voice
    is, and by how much its middle lies above or below both heads of its own voice beside it."""
    for measure in ET.fromstring(svg).iter("{http://www.w3.org/2000/svg}g"):
        staves = measure.findall("*[@class='staff']") if measure.get("data-n") else ()
        for stave in staves:
            row = list(_row(stave))
            for n, (voice, rest) in enumerate(row):
                # the drawing has voice after voice, each from left to right
                before = next((one for one in row[:n][::-1] if one[0]), None)
                after = next((one for one in row[n + 1 :] if one[0]), None)
                own = [one for one in (before, after) if one and (one is after) == (one[1][0] > rest[0])]
                others = [b for v, b in row if v and own and v != own[0][0]]
                if voice or not others:
                    continue
                heads, middle = [(b[1] + b[3]) / 2 for _, b in own], (rest[1] + rest[3]) / 2
                near = min(_apart(rest, b) for b in others)
                yield near / 180, max(middle - max(heads), min(heads) - middle, 0.0) / 180


def _row(stave: ET.Element) -> Iterator[tuple[str, Box]]:
    """The heads of a stave in one bar with their voices, and its rests without, as they are drawn."""
    for child in stave:
        if child.get("class") == "note":
            found = _VOICE.search(child.get("data-id", ""))
            heads = [b for code, b in _inside(child) if "E0A0" <= code <= "E0A4"]
            yield from ((found[0] if found else "", b) for b in heads)
        elif child.tag.endswith("use"):
            yield from (("", b) for code, b in _inside(child) if "E4E2" <= code <= "E4E7")
        else:
            yield from _row(child)


def _apart(a: Box, b: Box) -> float:
    """How far two boxes are from each other."""
    return hypot(max(a[0] - b[2], b[0] - a[2], 0.0), max(a[1] - b[3], b[1] - a[3], 0.0))
