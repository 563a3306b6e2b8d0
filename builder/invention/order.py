"""What is asked of a new verset."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import Any

import yaml

from builder.analysis.tone_table import TONES, Form
from builder.language.texts import ENGLISH, Phrase, texts
from builder.music import VOICES, Interval, Metre, Pitch, Signature

ANSWERS = ("any", "exact", "tonal")
"""Kinds of answers that can be asked for; `any`: as the theme and the mode have it."""
CLOSES = ("", "semplice", "composta", "doppia", "mi")
"""Final cadences that can be asked for; empty: as the tone has it."""
MOST_BARS = 60
LEAST_AFTER = 3
"""Bars behind the entries, that of the last note included."""


class OrderError(ValueError):
    """An order that cannot be met, with everything that is wrong with it."""

    def __init__(self, faults: tuple[Phrase, ...]) -> None:
        self.faults = faults
        super().__init__(self.told(ENGLISH))

    def told(self, language: str) -> str:
        """All faults in a language."""
        say = texts("invention", language)
        return "; ".join(say.said(fault) for fault in self.faults)


@dataclass(frozen=True, slots=True)
class Rhythms:
    """The rhythms of a character, lengths in quarter notes: of themes (by bar), of a bar of the line with how
    often it comes beside the others; its metres and its beat."""

    metres: tuple[str, ...]
    tempo: str
    themes: tuple[tuple[tuple[Fraction, ...], ...], ...]
    bars: tuple[tuple[tuple[Fraction, ...], int], ...]


@cache
def characters() -> Mapping[str, Rhythms]:
    """The characters of versets by name, as `rhythms.yaml` has them.

    >>> sorted(characters())
    ['canzona', 'durezze', 'slow', 'tripla']
    """
    text = (files("builder.invention") / "rhythms.yaml").read_text("utf-8")
    return {name: _rhythms(entry) for name, entry in yaml.safe_load(text).items()}


def _rhythms(entry: Mapping[str, Any]) -> Rhythms:
    return Rhythms(
        tuple(entry["metres"]),
        entry["tempo"],
        tuple(tuple(_lengths(bar) for bar in str(theme).split("|")) for theme in entry["themes"]),
        tuple((_lengths(bar), often) for bar, often in entry["bars"].items()),
    )


def _lengths(text: object) -> tuple[Fraction, ...]:
    return tuple(Fraction(word) for word in str(text).split())


def leading(degree: str) -> bool:
    """Whether the usual tunings have the leading note to a degree: one of the scale, or C, F or G sharp.

    >>> leading("A"), leading("E")
    (True, False)
    """
    below = Pitch.parse(f"{degree}4").up(Interval(-1, -1))
    return below.letter in (*"ABDE", "C#", "F#", "G#")


CHARACTERS = ("canzona", "slow", "durezze", "tripla")
"""Lively in quarters; slow and close; long notes and suspensions; triple time."""


@dataclass(frozen=True, slots=True)
class Order:
    """A verset as it is asked for.

    `tone` 1 to 8; `voices` in the order of their entries, the lowest last; `bars` is about how long it is;
    `theme` in the notes of a source (`D5/2 A4/4. B4/8`), empty: drawn; `cadences` the letters of the closes
    inside, in order, empty: chosen among those of the tone; `seed` another number, another verset."""

    tone: int
    voices: tuple[str, ...] = VOICES
    bars: int = 14
    character: str = "canzona"
    metre: str = ""
    answers: str = "any"
    theme: str = ""
    cadences: tuple[str, ...] = ()
    close: str = ""
    seed: int = 0

    @property
    def form(self) -> Form:
        """Where the tone stands: final, close, signature, entries and cadences."""
        return TONES[self.tone - 1].forms[0]

    def least(self, theme: int) -> int:
        """How many bars are needed with a theme of so many."""
        return len(self.voices) * theme + LEAST_AFTER + len(self.cadences)

    @property
    def closes_on_mi(self) -> bool:
        """Whether the tone closes on a note with a semitone above it."""
        signature, goal = Signature.parse(self.form.signature), Pitch.parse(f"{self.form.close}4")
        above = signature.pitch(goal.diatonic + 1)
        return Interval.between(goal, above).semitones == 1

    @property
    def rhythms(self) -> Rhythms:
        return characters()[self.character]

    @property
    def time(self) -> Metre:
        """The metre that is asked for, else the first of the character."""
        return Metre.parse(self.metre or self.rhythms.metres[0])


def checked(order: Order) -> Order:
    """The order itself; `OrderError` with all that is wrong with it.

    >>> checked(Order(9, bars=2))
    Traceback (most recent call last):
    builder.invention.order.OrderError: there are eight tones, 1 to 8; a verset has 4 to 60 bars; so many \
voices need 11 bars at least
    """
    faults = [Phrase.of(key, **values) for key, values in _faults(order)]
    if faults:
        raise OrderError(tuple(faults))
    return order


def _faults(order: Order) -> Iterator[tuple[str, dict[str, object]]]:
    """What is wrong with an order: the key of a text and its values."""
    if order.tone not in range(1, 9):
        yield "tone", {}
    places = [VOICES.index(v) for v in order.voices if v in VOICES]
    if len(places) < len(order.voices):
        yield "voices", {"voices": ", ".join(VOICES)}
    elif len(set(places)) < len(places) or places[-1:] != [max(places, default=0)]:
        yield "entries", {}
    elif len(places) < 2:
        yield "few", {}
    if not 4 <= order.bars <= MOST_BARS:
        yield "bars", {"most": MOST_BARS}
    if order.answers not in ANSWERS:
        yield "answers", {"answers": ", ".join(ANSWERS)}
    if order.character not in CHARACTERS:
        yield "characters", {"characters": ", ".join(CHARACTERS)}
        return
    if order.metre and order.metre not in order.rhythms.metres:
        yield "metres", {"character": order.character, "metres": ", ".join(order.rhythms.metres)}
    elif not order.theme and order.bars < (least := order.least(min(map(len, order.rhythms.themes)))):
        yield "short", {"least": least}
    if order.tone in range(1, 9):
        wrong = [letter for letter in order.cadences if not _closes_on(order, letter)]
        if wrong:
            yield "cadences", {"letters": ", ".join(wrong), "usual": ", ".join(order.form.cadences)}
    if order.close not in CLOSES:
        yield "closes", {"closes": ", ".join(CLOSES[1:])}
    elif order.close == "doppia" and order.character == "tripla":
        yield "doppia", {}
    elif order.close and order.tone in range(1, 9) and (order.close == "mi") != order.closes_on_mi:
        yield "mi", {}


def _closes_on(order: Order, letter: str) -> bool:
    """Whether the scale of a tone has a letter, and a close on it."""
    signature = Signature.parse(order.form.signature)
    scale = {signature.pitch(step).letter: step for step in range(28, 35)}
    if letter not in scale:
        return False
    above = Interval.between(signature.pitch(scale[letter]), signature.pitch(scale[letter] + 1))
    return above.semitones == 1 or leading(letter)
