"""Writes a `Verset` as the text of a source, in one canonical form."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import groupby

import yaml

from builder.music import Bar, Figure, Note, Version, bar_at, written
from builder.music.score import split
from builder.source.front import BEATS
from builder.source.page import FINGERING, OSSIA, READINGS
from builder.source.stacks import FINEST
from builder.source.symbols import CUT
from builder.source.verset import Fingers, GivenNote, Licence, Ossia, Pin, Reading, Verset
from builder.source.write_provenance import playing_lines, provenance_lines, variant_lines

WIDTH = 100
"""A line of music is broken at a bar line before it grows longer than this."""
_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9' -]*[A-Za-z0-9]")


def write(verset: Verset) -> str:
    """The source text of a verset: `parse` gives the same verset back, but for positions.

    `ValueError` when something has no written form: a length that no value with two dots has, a
    tempo whose beat has no name.

    >>> from builder.source.parse import parse
    >>> front = "---\\ntitle: Amen\\nverset: {metre: C, signature: none}\\n---\\n"
    >>> print(write(parse(front + "```given\\ncantus C1 | D5/1~|D5/1\\n```")))
    ---
    title: Amen
    verset:
      metre: C
      signature: none
      beat: half = 52
    ---
    <BLANKLINE>
    ```given
    cantus C1 | D5/1~ | D5/1
    ```
    <BLANKLINE>
    """
    parts = [f"---\n{front_text(verset)}---"]
    if verset.intro:
        parts.append(verset.intro)
    beside = [pin_line(pin, verset) for pin in verset.pins if pin.beside]
    parts.append(_fence(Version.GIVEN, [*_given_lines(verset), *beside]))
    parts += pinned_blocks(verset)
    if verset.variants:
        parts.append(_fence(READINGS, variant_lines(verset, lambda g: _written_note(g, verset))))
    if verset.fingers:
        parts.append(_fence(FINGERING, [_fingers_line(fingers) for fingers in verset.fingers]))
    if verset.ossias:
        parts.append(_fence(OSSIA, [_ossia_line(ossia, verset) for ossia in verset.ossias]))
    mark = "#" * _level(verset)
    for heading, words in verset.words.items():
        parts.append(f"{mark} {heading}")
        if words:
            parts.append(words)
    return "\n\n".join(parts) + "\n"


def front_text(verset: Verset) -> str:
    """The front matter alone, as YAML. Files of other formats can carry it, so that what they have
    no words for is kept: see `read_musicxml` and `read_mei`.

    >>> from builder.source import EXAMPLE, parse
    >>> front_text(parse(EXAMPLE)).splitlines()[0]
    'title: Two voices'
    """
    return "\n".join((f"title: {yaml_text(verset.title)}", "verset:", *_settings(verset), ""))


def pinned_blocks(verset: Verset) -> list[str]:
    """The blocks of a source that pin notes of a version, a text each.

    >>> from builder.source import EXAMPLE, parse
    >>> pinned = parse(EXAMPLE + "\\n```plain\\ncantus 3 | F5/2 D5/2\\n```\\n")
    >>> print(*pinned_blocks(pinned))
    ```plain
    cantus 3 | F5/2 D5/2
    ```
    """
    return [
        _fence(version, [pin_line(pin, verset) for pin in pins])
        for version, pins in groupby((p for p in verset.pins if not p.beside), lambda pin: pin.version)
    ]


def _level(verset: Verset) -> int:
    """The level of headings: above those that stand inside the words."""
    inner = re.compile(r"^ {0,3}(##([ \t]|$)|-+[ \t]*$)", re.MULTILINE)
    return 1 if any(inner.search(words) for words in verset.words.values()) else 2


def _fence(kind: str, lines: Sequence[str]) -> str:
    return "\n".join((f"```{kind}", *lines, "```"))


def yaml_text(text: str) -> str:
    """A text as YAML: plain where that is safe anywhere, else in quotes.

    >>> print(yaml_text("Gloria Patri"), yaml_text("yes"), yaml_text("one, two"))
    Gloria Patri "yes" "one, two"
    """
    if _PLAIN.fullmatch(text) and yaml.safe_load(text) == text:
        return text
    quoted: str = yaml.safe_dump(text, default_style='"', allow_unicode=True, width=10**9)
    return quoted.rstrip("\n")


def _number(value: float) -> str:
    number: str = yaml.safe_dump(value)
    return number.split("\n")[0]


def _settings(verset: Verset) -> Iterator[str]:
    asked = verset.settings
    yield f"  metre: {verset.metre.symbol}"
    yield f"  signature: {verset.signature}"
    if verset.tone is not None:
        yield f"  tone: {verset.tone}"
    yield f"  beat: {tempo_text(verset.tempo)}"
    if asked.tuning:
        yield f"  tuning: {yaml_text(asked.tuning)}"
    if asked.pitch is not None:
        yield f"  pitch: {_number(asked.pitch)}"
    if asked.registration:
        yield f"  registration: {yaml_text(asked.registration)}"
    if asked.level is not None:
        yield f"  level: {asked.level}"
    if asked.density is not None:
        yield f"  density: {_number(asked.density)}"
    if asked.seed:
        yield f"  seed: {asked.seed}"
    if asked.move:
        yield f"  move: {yaml_text(asked.move)}"
    if asked.moved:
        yield f"  moved: {yaml_text(asked.moved)}"
    if asked.costs:
        yield "  costs:"
        yield from (f"    {yaml_text(name)}: {_number(weight)}" for name, weight in asked.costs.items())
    if asked.exercise:
        yield f"  exercise: [{', '.join(map(str, asked.exercise))}]"
    if asked.unfinished:
        yield "  unfinished: true"
    if verset.from_start:
        yield f"  voices: [{', '.join(verset.from_start)}]"
    if licences := [x for x in verset.licences if not x.of_course]:
        yield "  allow:"
        yield from (f"    - {_licence(item)}" for item in licences)
    if verset.readings:
        yield "  readings:"
        yield from (f"    - {_reading(item)}" for item in verset.readings)
    yield from playing_lines(verset.playing, yaml_text, _number)
    yield from provenance_lines(verset.provenance, yaml_text)


def tempo_text(tempo: tuple[Fraction, Fraction]) -> str:
    """A tempo as it is written; `ValueError` when its beat has no name.

    >>> tempo_text((Fraction(3), Fraction(81, 2)))
    'dotted half = 40.5'
    """
    beat, rate = tempo
    for name, value in BEATS.items():
        for dotted, factor in (("", Fraction(1)), ("dotted ", Fraction(3, 2))):
            if value * factor == beat:
                return f"{dotted}{name} = {_decimal(rate)}"
    raise ValueError(f"a beat of {beat} quarters has no name")


def _decimal(number: Fraction) -> str:
    if 10**6 % number.denominator:
        raise ValueError(f"{number} beats a minute cannot be written as a decimal")
    return f"{number.numerator / number.denominator:.6f}".rstrip("0").rstrip(".")


def _licence(item: Licence) -> str:
    voices = f", voices: [{', '.join(item.voices)}]" if item.voices else ""
    bar = f", bar: {item.bar}" if item.bar else ""
    return f"{{rule: {yaml_text(item.rule)}{bar}{voices}, because: {yaml_text(item.because)}}}"


def _reading(item: Reading) -> str:
    voice = f", voice: {item.voice}" if item.voice else ""
    return f"{{bar: {item.bar}{voice}, source: {yaml_text(item.source)}, adopted: {yaml_text(item.adopted)}}}"


def _given_lines(verset: Verset) -> list[str]:
    """A line for each stretch of one voice in one clef, its bars divided by bar lines."""
    lines = []
    width = max(len(g.voice) for g in verset.given)
    for (voice, clef), notes in groupby(verset.given, lambda g: (g.voice, g.clef)):
        head = f"{voice:<{width}} {clef.name}"
        bars = [
            " ".join(_given_symbol(g, verset) for g in bar)
            for _, bar in groupby(notes, lambda g: bar_at(verset.bars, g.note.onset).number)
        ]
        line = head
        for bar in bars:
            if len(line) + len(bar) + 3 > WIDTH and line != head:
                lines.append(line)
                line = head
            line += f" | {bar}"
        lines.append(line)
    return lines


def _written_note(given: GivenNote, verset: Verset) -> str:
    """A note or rest with its figures."""
    text = _symbol(given.note, verset)
    return f"{text}{{{_stacks(given.figures, verset)}}}" if given.figures else text


def _given_symbol(given: GivenNote, verset: Verset) -> str:
    text = _written_note(given, verset)
    cut = any(cut.onset == given.note.onset for cut in verset.cuts)
    return f"{CUT} {text}" if cut else text


def _symbol(note: Note, verset: Verset) -> str:
    tie = "~" if note.tied else ""
    return f"{_name(note)}/{_value(note.duration, note.onset, verset)}{tie}"


def _name(note: Note) -> str:
    if note.pitch is None:
        return "R"
    if not note.editorial:
        return note.pitch.name
    letter, sign = note.pitch.letter[0], note.pitch.letter[1:]
    return f"{letter}({sign or 'n'}){note.pitch.octave}"


def _value(length: Fraction, onset: Fraction, verset: Verset) -> str:
    value = written(length)
    if value is None:
        raise ValueError(f"{verset.place(onset)}: no value with dots lasts {length} quarters")
    return value[0] + "." * value[1]


def _stacks(figures: Sequence[Figure], verset: Verset) -> str:
    even = len({f.duration for f in figures}) == 1 and FINEST % figures[0].duration.denominator == 0
    if even:
        return " ".join(map(str, figures))
    return " ".join(f"{f}:{_value(f.duration, f.onset, verset)}" for f in figures)


def pin_line(pin: Pin, verset: Verset) -> str:
    """One line of pinned notes; what lies between them is left open.

    >>> from builder.music import Pitch
    >>> from builder.source import EXAMPLE, parse
    >>> pin = Pin(Version.PLAIN, "cantus", (Note(Fraction(5), Fraction(1), Pitch.parse("C5")),))
    >>> pin_line(pin, parse(EXAMPLE))
    'cantus 2 | _/4 C5/4 _/2'
    """
    first = bar_at(verset.bars, pin.notes[0].onset)
    last = bar_at(verset.bars, pin.notes[-1].onset)
    bars = [_pin_bar(pin, bar, verset) for bar in verset.bars[first.number - 1 : last.number]]
    return f"{pin.voice} {first.number} | {' | '.join(bars)}"


def _of_version(voice: str, version: Version) -> str:
    return voice if version is Version.GIVEN else f"{voice} {version}"


def _fingers_line(fingers: Fingers) -> str:
    bars = (" ".join(finger or "_" for finger in bar) for bar in fingers.bars)
    return f"{_of_version(fingers.voice, fingers.version)} {fingers.first} | {' | '.join(bars)}"


def _ossia_line(ossia: Ossia, verset: Verset) -> str:
    line = pin_line(Pin(Version.PLAIN, ossia.voice, ossia.notes), verset)
    return _of_version(ossia.voice, ossia.version) + line.removeprefix(ossia.voice)


def _pin_bar(pin: Pin, bar: Bar, verset: Verset) -> str:
    symbols: list[str] = []
    now = bar.onset
    for note in pin.notes:
        if bar.onset <= note.onset < bar.end:
            symbols += _open(now, note.onset, verset)
            symbols += _tied_symbols(note, verset)
            now = note.end
    if not symbols:
        return "_"
    return " ".join([*symbols, *_open(now, bar.end, verset)])


def _tied_symbols(note: Note, verset: Verset) -> list[str]:
    """A note in one value, or in several that are tied where no value lasts so long."""
    if written(note.duration) is not None:
        return [_symbol(note, verset)]
    pieces = list(split(note.onset, note.duration, verset.bars))
    tied = [note.tied or n < len(pieces) - 1 for n in range(len(pieces))]
    return [
        _symbol(replace(note, onset=onset, duration=length, tied=tie and note.pitch is not None), verset)
        for (onset, length), tie in zip(pieces, tied)
    ]


def _open(start: Fraction, end: Fraction, verset: Verset) -> list[str]:
    """A stretch left open, in values that can be written."""
    return [f"_/{_value(d, o, verset)}" for o, d in split(start, end - start, verset.bars)]
