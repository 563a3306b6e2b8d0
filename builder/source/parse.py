"""Reads a source file from its text to a `Verset`, or tells everything that is wrong with it."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import yaml

from builder.music import VOICES, Metre, Version
from builder.source.aids import read_fingers, read_ossias
from builder.source.errors import Faults
from builder.source.front import Front, read_front
from builder.source.given import Given, set_in_time
from builder.source.items import composed
from builder.source.limits import MOST_BARS, MOST_BYTES, MOST_NOTES, MOST_SYMBOLS
from builder.source.lines import Line, read_lines
from builder.source.page import FINGERING, OSSIA, READINGS, SourcePage, front_matter, lines_of, take_apart
from builder.source.pins import read_pins
from builder.source.playing import check_points
from builder.source.provenance import Provenance
from builder.source.variants import read_variants
from builder.source.verset import Fingers, Ossia, Pin, Variant, Verset

TEMPO = (Fraction(2), Fraction(52))
"""Where a source gives none: a half note at 52, a calm beat (common practice, no source)."""


def is_source(text: str) -> bool:
    """Whether a Markdown file is a verset source: its front matter has the key `verset`.

    Front matter that is broken counts when a line of it begins with the key, so that its errors
    are told and not passed over.

    >>> is_source("---\\ntitle: A\\nverset: {metre: C}\\n---\\n"), is_source("# A page about verset:")
    (True, False)
    """
    lines = lines_of(text)
    count = front_matter(lines)
    if count is None:
        count = len(lines) if lines[0].rstrip() == "---" else 0
    front = "\n".join(lines[1 : max(count - 1, 0)])
    try:
        node = composed(front)
    except yaml.YAMLError:
        return bool(re.search(r"^verset[ \t]*:", front, re.MULTILINE))
    return isinstance(node, yaml.MappingNode) and any(key.value == "verset" for key, _ in node.value)


def parse(text: str, path: str = "verset.md") -> Verset:
    """Read the text of a source; `SourceErrors` with all its errors when there are any.

    >>> verset = parse('''---
    ... title: Two bars
    ... verset: {metre: C, signature: none}
    ... ---
    ... ```given
    ... cantus C1 | D5/2 A4/2 | B4/4{6} C5/4 D5/2 |
    ... ```
    ... ''')
    >>> [str(g.note.pitch) for g in verset.given], verset.bars[-1].end
    (['D5', 'A4', 'B4', 'C5', 'D5'], Fraction(8, 1))
    """
    lines = lines_of(text)
    faults = Faults(path, lines)
    if len(text) > MOST_BYTES:
        faults.add(1, 1, f"a source of {len(text)} characters", f"a verset, up to {MOST_BYTES}")
        faults.stop()
    page = take_apart(lines, faults)
    front = read_front(page.front, faults) if page else None
    if page is None:
        faults.stop()
        raise AssertionError("a file without parts has an error")
    _check_symbols(page, faults)
    given, pins, variants = _music(page, front, faults)
    fingers, ossias = _above(page, front, given, pins, faults)
    if front is not None:
        _check_bars_named(front, given, faults)
    _check_length(given, pins, variants, faults)
    faults.stop()
    assert front is not None and front.metre is not None and front.signature is not None
    return Verset(
        name=Path(path).stem,
        path=path,
        title=front.title,
        metre=front.metre,
        signature=front.signature,
        bars=given.bars,
        given=given.notes,
        tone=front.tone,
        tempo=front.tempo or TEMPO,
        settings=front.asked(),
        pins=pins,
        cuts=given.cuts,
        licences=front.licences,
        readings=front.readings,
        variants=variants,
        fingers=fingers,
        ossias=ossias,
        provenance=front.provenance,
        playing=front.playing,
        from_start=front.from_start,
        intro=page.intro,
        words=dict(page.words),
        headings=dict(page.headings),
    )


def _music(
    page: SourcePage, front: Front | None, faults: Faults
) -> tuple[Given, tuple[Pin, ...], tuple[Variant, ...]]:
    """The given line, the pins and the variants of a file."""
    metre = front.metre if front else None
    before = len(faults.errors)
    given_lines: list[Line] = []
    for block in page.blocks:
        if block.kind is Version.GIVEN:
            given_lines += read_lines(block, faults)
    beyond = {x.bar for x in front.licences if x.rule == "compass"} if front else set()
    beside = [line for line in given_lines if line.beside]
    given_lines = [line for line in given_lines if not line.beside]
    given = set_in_time(given_lines, metre, faults, beyond)
    if not any(b.kind is Version.GIVEN for b in page.blocks):
        line = page.front.count("\n") + 3
        faults.add(line, 1, "no given line", "a block ```given with the given line, after the front matter")
    elif not any(s.symbols for line in given_lines for s in line.segments) and len(faults.errors) == before:
        block = next(b for b in page.blocks if b.kind is Version.GIVEN)
        faults.add(block.line, 1, "a given block without music", "a line such as: cantus C1 | D5/2 A4/2")
    elif metre and len(faults.errors) == before and not any(g.note.pitch for g in given.notes):
        block = next(b for b in page.blocks if b.kind is Version.GIVEN)
        faults.add(block.line, 1, "a given line of rests alone", "at least one note")
    sure = metre is not None and len(faults.errors) == before
    # a voice beside the line is above it what a pinned one is: notes that stay
    pinned: list[tuple[Version, list[Line]]] = [(Version.PLAIN, beside)] if beside else []
    for block in page.blocks:
        if isinstance(block.kind, Version) and block.kind is not Version.GIVEN:
            pinned.append((block.kind, read_lines(block, faults)))
    if not given.bars:
        given.slack = 10**6
    from_start = front.from_start if front else ()
    beats = metre or Metre.parse("C")
    apparatus = [block for block in page.blocks if block.kind == READINGS]
    said = front.provenance if front else Provenance()
    variants = read_variants(apparatus, given, beats, said, faults, sure=sure)
    pins = read_pins(pinned, given, beats, faults, sure=sure, from_start=from_start)
    return given, pins, variants


def _above(
    page: SourcePage, front: Front | None, given: Given, pins: tuple[Pin, ...], faults: Faults
) -> tuple[tuple[Fingers, ...], tuple[Ossia, ...]]:
    """What the editor sets above notes."""
    sure = bool(front and front.metre) and not faults.errors
    metre = front.metre if front and front.metre else Metre.parse("C")
    fingering, ossia = ([b for b in page.blocks if b.kind == kind] for kind in (FINGERING, OSSIA))
    fingers = read_fingers(fingering, given, pins, faults, sure=sure)
    return fingers, read_ossias(ossia, given, metre, faults, sure=sure)


def _check_symbols(page: SourcePage, faults: Faults) -> None:
    """More than any verset has is not read at all."""
    count = 0
    for block in page.blocks:
        for number, text in block.lines:
            count += len(text.split()) + text.count("|") + text.count("{")
            if count > MOST_SYMBOLS:
                faults.add(
                    number, 1, f"more than {MOST_SYMBOLS} symbols of music", "a verset, which is shorter"
                )
                faults.stop()


def _check_length(given: Given, pins: tuple[Pin, ...], variants: tuple[Variant, ...], faults: Faults) -> None:
    """A verset has an end: told where it goes on too long."""
    notes, bars = given.notes, len(given.bars)
    count = len(notes) + sum(len(p.notes) for p in pins) + sum(len(v.notes) for v in variants)
    beyond = [g for g in notes if g.note.onset >= given.bars[MOST_BARS].onset] if bars > MOST_BARS else []
    if beyond:
        at = beyond[0].span
        faults.add(at.line, at.column, f"{bars} bars", f"a verset of up to {MOST_BARS} bars")
    elif count > MOST_NOTES:
        at = notes[min(MOST_NOTES, len(notes) - 1)].span
        faults.add(at.line, at.column, f"{count} notes", f"a verset of up to {MOST_NOTES} notes")


def _check_bars_named(front: Front, given: Given, faults: Faults) -> None:
    """Licences, readings and tasks name bars that are there, voices from the start lie above the line."""
    lowest = max((VOICES.index(g.voice) for g in given.notes if g.note.pitch), default=len(VOICES))
    for voice in front.from_start:
        if VOICES.index(voice) > lowest:
            at, found = front.voices_at, f"the {voice} from the start, below the given line"
            assert at is not None
            faults.add(at.line, at.column, found, f"voices above the {VOICES[lowest]}, which has the line")
    count = len(given.bars)
    check_points(front.playing, count + given.slack, faults)
    for _, picture in front.provenance.facsimiles:
        for zone in picture.zones:
            if zone.last > count + given.slack:
                found, expected = (
                    f"a zone for bar {zone.last}",
                    f"a bar from 1 to {count}, which the line has",
                )
                faults.add(zone.span.line, zone.span.column, found, expected)
    blanks = front.settings.get("exercise", ())
    for kind, items in (("licence", front.licences), ("reading", front.readings), ("task", blanks)):
        for item in items:
            if item.bar > count + given.slack:
                found = f"a {kind} for bar {item.bar}"
                faults.add(
                    item.span.line, item.span.column, found, f"a bar from 1 to {count}, which the line has"
                )
