"""Single symbols of MusicXML: numbers, pitches, figures."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from builder.music import FigureSign, Metre, Pitch
from builder.music.pitch import STEPS
from builder.music.time import dotted
from builder.source.encoded import usable_tempo
from builder.source.errors import named
from builder.source.front import BEATS
from builder.source.stacks import NUMBERS
from builder.source.xmltree import Element

Wrong = Callable[[Element, str, str], None]
"""Notes an error: where, what was found, what was expected."""
SIGNS = {
    "sharp": "#",
    "flat": "b",
    "natural": "n",
    "slash": "#",
    "back-slash": "#",
    "backslash": "#",
    "cross": "#",
    "plus": "#",
    "double-sharp": "##",
    "sharp-sharp": "##",
    "flat-flat": "bb",
    "double-flat": "bb",
}
"""Prefixes and suffixes of a figure, as MusicXML 4.0 names them and as programs write them. Every stroke
raises."""


def begins_late(measure: Element) -> bool:
    """Whether a first bar may be a pick-up.

    >>> begins_late(Element("measure", {"number": "0"}, 1, 1))
    True
    """
    return measure.get("implicit") == "yes" or measure.get("number") == "0"


def metre_of(time: Element, wrong: Wrong) -> Metre | None:
    """The metre of a `time`, or None (and an error)."""
    symbol = {"common": "C", "cut": "C|"}.get(time.get("symbol"), "")
    text = symbol or f"{time.text('beats')}/{time.text('beat-type')}"
    try:
        return Metre.parse(text)
    except ValueError:
        wrong(time, f"the metre {named(text)}", "C, C| or a fraction such as 3/2")
        return None


def tempo_of(direction: Element) -> tuple[Fraction, Fraction] | None:
    """The beat (quarter notes) and beats a minute of a direction; None where it has no tempo."""
    for mark in direction.within("metronome"):
        unit = BEATS.get(mark.text("beat-unit"))
        beat = dotted(unit, min(len(mark.all("beat-unit-dot")), 2)) if unit else None
        if beat and (tempo := usable_tempo(beat, mark.text("per-minute"))):
            return tempo
    sounds = (usable_tempo(Fraction(1), s.get("tempo")) for s in direction.all("sound") if s.get("tempo"))
    return next((tempo for tempo in sounds if tempo), None)


def pitch_of(at: Element, wrong: Wrong) -> Pitch | None:
    """The pitch of a note as it is written, or None (and an error)."""
    step, octave = at.text("pitch", "step"), at.text("pitch", "octave")
    alter = number(at.text("pitch", "alter") or "0")
    if step not in tuple(STEPS) or not (octave.isascii() and octave.isdigit() and len(octave) == 1):
        wrong(
            at,
            f"the pitch {named(step + octave)}" if step or octave else "no pitch",
            "a step from A to G and an octave from 0 to 9",
        )
        return None
    if alter is None or alter.denominator != 1 or abs(alter) > 2:
        wrong(at, f"an alteration of {named(at.text('pitch', 'alter'))}", "whole semitones, at most two")
        return None
    return Pitch(int(octave) * 7 + STEPS.index(step), int(alter))


def tied(at: Element) -> bool:
    """Whether a note is held into the next one."""
    return "start" in {tie.get("type") for tie in (*at.all("tie"), *at.within("tied"))}


def supplied(at: Element) -> bool:
    """Whether the accidental of a note is the editor's."""
    marked = any(a.get("editorial") == "yes" for a in at.all("accidental"))
    return marked or any(True for _ in at.within("accidental-mark"))


def stack_of(at: Element, wrong: Wrong) -> tuple[tuple[FigureSign, ...], bool]:
    """The figures of one stack, and whether it is a dash alone."""
    signs: list[FigureSign] = []
    dash = False
    for figure in at.all("figure"):
        sign = figure_sign(figure, at, wrong)
        dash = dash or (sign is None and figure.first("extend") is not None)
        if sign is not None:
            signs.append(sign)
    if len({s.number for s in signs}) < len(signs):
        wrong(at, "one figure twice in a stack", "each interval once")
        return (), False
    return tuple(signs), dash and not signs


def figure_sign(figure: Element, stack: Element, wrong: Wrong) -> FigureSign | None:
    """One figure, or None where it has neither number nor sign (or an error)."""
    text, marks = figure.text("figure-number"), [figure.text(tag) for tag in ("prefix", "suffix")]
    level = figure.first("level")
    editorial = stack.get("parentheses") == "yes" or (level is not None and level.get("parentheses") == "yes")
    given = [mark for mark in marks if mark]
    if not text and not given:
        return None
    if len(given) > 1 or any(mark not in SIGNS for mark in given):
        wrong(figure, f"a figure with {named(' and '.join(given))}", "sharp, flat, natural or a slash")
        return None
    sign = SIGNS[given[0]] if given else ""
    if not text:
        return FigureSign(3, sign, lone=True, editorial=editorial)
    if text not in NUMBERS:
        wrong(figure, f"the figure {named(text)}", "a figure from 2 to 12")
        return None
    return FigureSign(int(text), sign, editorial=editorial)


def number(text: str) -> Fraction | None:
    """A number of the file, or None where it is none."""
    try:
        return Fraction(text) if len(text) < 20 and "e" not in text.lower() else None
    except (ValueError, ZeroDivisionError):
        return None
