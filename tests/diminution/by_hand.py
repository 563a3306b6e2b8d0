"""Voices written by hand, for tests that lay out a few notes and say what they are."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from builder.diminution.harmony import natural
from builder.diminution.weave import Tone, Weave
from builder.music import Bar, Metre, Note, Part, Pitch, Score, Signature, Version


def notes(text: str, at: str = "0") -> tuple[Note, ...]:
    """`D5:2 R:1 E5:1/2`: notes and rests with their quarters, one after another."""
    now, found = Fraction(at), []
    for word in text.split():
        name, _, length = word.partition(":")
        if name != "R":
            found.append(Note(now, Fraction(length), Pitch.parse(name)))
        now += Fraction(length)
    return tuple(found)


def score(
    *parts: tuple[str, str], metre: str = "C", bars: int = 2, first: str = "0", flat: bool = False
) -> Score:
    beat = Metre.parse(metre)
    at = Fraction(first)
    row = tuple(Bar(n + 1, at + n * beat.bar, beat.bar) for n in range(bars))
    voices = tuple(Part(voice, notes(text, first)) for voice, text in parts)
    return Score("S", Version.PLAIN, beat, Signature.parse("Bb" if flat else "none"), row, voices)


def woven(*parts: tuple[str, str], **more: Any) -> Weave:
    return Weave(score(*parts, **more))


def tones(steps: str, each: int = 2, at: int = 0) -> list[Tone]:
    found = []
    for word in steps.split():
        step, _, length = word.partition(":")
        size = int(length or each)
        if step != "R":
            d = int(step)
            found.append(Tone(at, at + size, d, natural(d)))
        at += size
    return found
