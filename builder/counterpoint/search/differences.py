"""How another setting of the same line differs for the ear, in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby
from typing import NamedTuple

from builder.counterpoint.check.finding import Realisation
from builder.language.texts import Phrase
from builder.music import Pitch
from builder.source import Verset

TOLD = 2
"""So many differences are told."""
LONG = 3
"""A voice lies higher or lower for a while when it does so for as many sonorities."""


class Pair(NamedTuple):
    """What one voice has at a time (quarter notes), and what it has in the other setting."""

    onset: Fraction
    here: Pitch
    there: Pitch

    @property
    def way(self) -> int:
        """Whether the other one is higher (1), lower (-1) or the same."""
        return (self.there.midi > self.here.midi) - (self.there.midi < self.here.midi)


def differences(
    verset: Verset, first: Realisation, other: Realisation, within: tuple[Fraction, Fraction]
) -> tuple[Phrase, ...]:
    """The `TOLD` differences that are heard most, one a voice: it rises to another highest note, it lies
    higher or lower for a while, else the first note that is another. `within`: start and end in quarters.
    Empty when the settings are the same there.

    >>> from builder.analysis import analyse
    >>> from builder.counterpoint import alternatives
    >>> from builder.source import parse
    >>> source = "---\\ntitle: T\\nverset: {metre: C, signature: none}\\n---\\n\\n" + chr(96) * 3
    >>> source += "given\\ncantus C1 | A4/1\\nbassus F4 | D3/2 E3/2{6} | F3/2 G3/2 | D3/1{#}\\n" + chr(96) * 3
    >>> verset = parse(source)
    >>> first, other = alternatives(verset, analyse(verset), 2)
    >>> [p.key for p in differences(verset, first, other, (Fraction(0), verset.end))] != []
    True
    >>> differences(verset, first, first, (Fraction(0), verset.end))
    ()
    """
    told = []
    for place, (voice, pairs) in enumerate(_by_voice(first, other, within)):
        facts = sorted(_facts(verset, voice, pairs), key=lambda fact: -fact[0])
        if facts:
            # The highest voice is heard most.
            weight, phrase = facts[0]
            told.append((weight * (1 if place else 2), phrase))
    told.sort(key=lambda fact: -fact[0])
    return tuple(phrase for _, phrase in told[:TOLD])


def _by_voice(
    first: Realisation, other: Realisation, within: tuple[Fraction, Fraction]
) -> Iterator[tuple[str, list[Pair]]]:
    """Each voice that has notes of ours in both settings, highest first."""
    start, end = within
    found: dict[str, list[Pair]] = {part.voice: [] for part in first.score.parts}
    for here, there in zip(first.sonorities, other.sonorities):
        if start <= here.onset < end:
            then = dict(there.voices)
            for voice, pitch in here.voices:
                if voice in then:
                    found[voice].append(Pair(here.onset, pitch, then[voice]))
    yield from ((voice, pairs) for voice, pairs in found.items() if any(p.way for p in pairs))


def _facts(verset: Verset, voice: str, pairs: Sequence[Pair]) -> Iterator[tuple[float, Phrase]]:
    """What may be said of a voice, with how much it is heard."""
    one = max(pairs, key=lambda p: p.here.midi)
    peak = max(pairs, key=lambda p: p.there.midi)
    rise = peak.there.diatonic - one.here.diatonic
    place = verset.place(peak.onset)
    if rise > 0:
        yield 2.0 + rise, Phrase.of("rises", voice=voice, pitch=peak.there, before=one.here, place=place)
    if rise < 0:
        yield 1.5 - rise, Phrase.of("stays-below", voice=voice, pitch=peak.there, before=one.here)
    for way, run in groupby(pairs, key=lambda p: p.way):
        some = list(run)
        if not way or len(some) < LONG:
            continue
        key = "higher" if way > 0 else "lower"
        lasting = "" if some[-1] is pairs[-1] else "-until"
        yield (
            0.8 * len(some),
            Phrase.of(
                f"{key}{lasting}",
                voice=voice,
                place=verset.place(some[0].onset),
                until=verset.place(some[-1].onset),
            ),
        )
    other = next(p for p in pairs if p.way)
    yield (
        1.0,
        Phrase.of(
            "instead", voice=voice, pitch=other.there, before=other.here, place=verset.place(other.onset)
        ),
    )
