"""What a verset that was moved cannot keep of its setting: notes beyond a voice's compass, and notes that the
tuning does not have. The rules are the same at every pitch, so that nothing else forces a change."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import groupby
from typing import NamedTuple

from builder.counterpoint.check.finding import Realisation
from builder.language.texts import Phrase
from builder.music import KEYBOARD, Pitch
from builder.source import Verset


class Lost(NamedTuple):
    """A note of the written setting, at the new pitch, that is not there. `why`: `compass` or `tuning`."""

    onset: Fraction
    voice: str
    pitch: Pitch
    why: str


def lost(verset: Verset, before: Realisation, now: Realisation) -> tuple[Lost, ...]:
    """What the setting of a moved verset has lost of that at the written pitch (`before`), in time.

    >>> from dataclasses import replace
    >>> from builder.analysis import analyse
    >>> from builder.counterpoint import realise
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> plain = realise(verset, analyse(verset))
    >>> lost(verset, plain, plain)
    ()
    """
    return tuple(_lost(verset, before, now))


def _lost(verset: Verset, before: Realisation, now: Realisation) -> Iterator[Lost]:
    there = {sonority.onset: dict(sonority.voices) for sonority in now.sonorities}
    for sonority in before.sonorities:
        # The last voice has the given line.
        for voice, pitch in sonority.voices[:-1]:
            due = pitch.up(verset.moved_by)
            low, high = KEYBOARD[voice]
            if there.get(sonority.onset, {}).get(voice) == due:
                continue
            if not low.diatonic <= due.diatonic <= high.diatonic:
                yield Lost(sonority.onset, voice, due, "compass")
            elif not verset.settings.tuned.has(due):
                yield Lost(sonority.onset, voice, due, "tuning")


def reasons_lost(found: tuple[Lost, ...]) -> tuple[Phrase, ...]:
    """Why a setting could not be kept: of each voice the note furthest beyond its compass, and the notes that
    the tuning does not have.

    >>> from builder.counterpoint import said
    >>> notes = (("C6", 4), ("D6", 8), ("Bb5", 9))
    >>> beyond = tuple(Lost(Fraction(n), "cantus", Pitch.parse(name), "compass") for name, n in notes)
    >>> [said(phrase) for phrase in reasons_lost(beyond)]
    ['cantus D6 is beyond the compass']
    """
    told = []
    beyond = sorted((each for each in found if each.why == "compass"), key=_order)
    for voice, some in groupby(beyond, key=lambda each: each.voice):
        low, high = KEYBOARD[voice]
        furthest = max(
            (each.pitch for each in some), key=lambda p: max(p.midi - high.midi, low.midi - p.midi)
        )
        told.append(Phrase.of("lost-compass", note=(voice, furthest)))
    letters = dict.fromkeys(each.pitch.letter for each in found if each.why == "tuning")
    told += [Phrase.of("lost-tuning", letter=letter) for letter in letters]
    return tuple(told or [Phrase("lost-otherwise")])


def _order(each: Lost) -> tuple[int, Fraction]:
    return tuple(KEYBOARD).index(each.voice), each.onset


def last_lost(found: tuple[Lost, ...], onset: Fraction) -> Lost | None:
    """The note whose loss is felt at a time: the last one until then."""
    return max((each for each in found if each.onset <= onset), key=lambda each: each.onset, default=None)
