"""The tuner: reads the words that ask for a tuning, and says what a tuning lacks for a piece.

A tuning is asked for in words: its name, then what the tuner changed.

- `quarter-comma`: the twelve keys from E flat to G sharp along the line of fifths, wolf between the ends
- `quarter-comma, Ab for G#`: that key is tuned as A flat, so the wolf moves to C sharp–A flat
- `quarter-comma, split D# Ab`: two keys are split; each has its old note and the new one
- `0 76 193.2 310.3 386.3 503.4 579.5 696.6 772.6 889.7 1006.8 1082.9`: a course's own list of cents above
  C for the keys C C# D Eb E F F# G G# A Bb B
- `C 0 C# 76 D 193.2 … G# 772.6 Ab 814`: the same with its own spelling, split keys by naming both
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from types import MappingProxyType
from typing import NamedTuple

from builder.music.pitch import Pitch
from builder.music.temperament import (
    LETTERS,
    QUARTER_COMMA,
    TUNINGS,
    Tuning,
    fifths_from_c,
    just,
    key_of,
    regular,
)

_LETTER = re.compile(r"[A-G](##|#|bb|b)?$")
_NUMBER = re.compile(r"-?\d+(\.\d+)?$")


def read_tuning(text: str, own: Mapping[str, str] = MappingProxyType({})) -> Tuning:
    """The tuning that words ask for (see the head of this module). `own` holds a course's own lists of
    cents by name. `ValueError` says what is wrong and what could stand there.

    >>> read_tuning("quarter-comma, Ab for G#").wolves()[0][:2]
    ('C#', 'Ab')
    >>> read_tuning("quarter-comma, split D# Ab").split
    (('D#', 'Eb'), ('G#', 'Ab'))
    >>> read_tuning("quarter-coma")
    Traceback (most recent call last):
    ...
    ValueError: tuning 'quarter-coma' is unknown; known are quarter-comma, two-sevenths-comma, third-comma, \
sixth-comma, pythagorean, just, equal, or a list of twelve numbers in cents
    """
    name, *changes = (part.strip() for part in text.strip().split(","))
    if name in own:
        return _own(name, own[name])
    if name in TUNINGS:
        return _changed(TUNINGS[name], text, changes)
    words = text.replace(",", " ").split()
    if len(words) > 1 and any(_NUMBER.match(w) for w in words):
        return _own("own", text)
    known = ", ".join((*TUNINGS, *own))
    raise ValueError(f"tuning {name!r} is unknown; known are {known}, or a list of twelve numbers in cents")


@lru_cache(maxsize=64)
def tuning_for(words: str) -> Tuning:
    """The tuning that words ask for; quarter-comma when they are empty or not understood (whoever reads a
    source has told so).

    >>> tuning_for("sixth-comma").name, tuning_for("sixth-coma").name
    ('sixth-comma', 'quarter-comma')
    """
    try:
        return read_tuning(words)
    except ValueError:
        return QUARTER_COMMA


def _changed(tuning: Tuning, text: str, changes: list[str]) -> Tuning:
    if not changes:
        return tuning
    if tuning.enharmonic:
        raise ValueError(f"tuning {text!r}: {tuning.name} has no wolf to move and no key to split")
    letters = [letter for letter, _ in tuning.keys]
    for change in changes:
        words = change.split()
        if len(words) == 3 and words[1] == "for" and words[2] in letters and _twin(words[0], words[2]):
            letters[letters.index(words[2])] = words[0]
        elif len(words) > 1 and words[0] == "split" and _split_once(words[1:], letters):
            for word in words[1:]:
                at = next(n for n, letter in enumerate(letters) if key_of(letter) == key_of(word))
                pair = sorted((letters[at], word), key=fifths_from_c, reverse=True)
                letters[at : at + 1] = pair
        else:
            raise ValueError(
                f"tuning {text!r}: {change!r} is not a change such as 'Ab for G#' or 'split D# Ab'"
                " of keys that are there"
            )
    made = just(letters) if tuning.fifth is None else regular(tuning.name, tuning.fifth, letters)
    return replace(made, name=text.strip())


def _twin(new: str, old: str) -> bool:
    return bool(_LETTER.match(new)) and new != old and key_of(new) == key_of(old) and len(new) <= 2


def _split_once(new: list[str], letters: list[str]) -> bool:
    """Whether each of the new notes shares a whole key with one that is there, no key twice."""
    if not all(_LETTER.match(n) for n in new) or len({key_of(n) for n in new}) < len(new):
        return False
    there = [[letter for letter in letters if key_of(letter) == key_of(n)] for n in new]
    return all(len(old) == 1 and _twin(n, old[0]) for n, old in zip(new, there))


def _own(name: str, text: str) -> Tuning:
    words = text.replace(",", " ").split()
    if all(_NUMBER.match(w) for w in words):
        if len(words) != 12:
            raise ValueError(f"tuning {name!r}: {len(words)} numbers where twelve are needed, from C to B")
        keys = tuple(zip(LETTERS, map(float, words)))
    else:
        pairs = list(zip(words[::2], words[1::2]))
        if len(words) % 2 or not all(_LETTER.match(a) and _NUMBER.match(b) for a, b in pairs):
            raise ValueError(
                f"tuning {name!r}: a list of cents is letters and numbers in turn, 'C 0 C# 76 D 193.2 …'"
            )
        keys = tuple((a, float(b)) for a, b in pairs)
    letters = [letter for letter, _ in keys]
    lacking = [LETTERS[n] for n in range(12) if all(key_of(letter) != n for letter in letters)]
    if lacking:
        raise ValueError(f"tuning {name!r}: no cents for the key {lacking[0]}")
    if "A" not in letters or len(set(letters)) < len(letters):
        raise ValueError(f"tuning {name!r}: each note stands once, and A must be there")
    for letter, cents in keys:
        if abs(cents - 100 * key_of(letter)) > 60:
            raise ValueError(f"tuning {name!r}: {letter} at {cents:g} cents is not near its key")
    return Tuning(name, keys)


class Remedy(NamedTuple):
    """What puts a lack right. `kind`: `retune` the key, `split` it, or `move` the piece; `asked`: the words
    that ask for it, of the tuning or of the interval."""

    kind: str
    asked: str


@dataclass(frozen=True, slots=True)
class Missing:
    """A note that a tuning lacks: the letter, what sounds instead, how many cents too high that is
    (None when it cannot be said), and what puts it right."""

    letter: str
    instead: str
    off: float | None
    remedies: tuple[Remedy, ...]


def missing(pitches: Iterable[Pitch], tuning: Tuning) -> tuple[Missing, ...]:
    """The notes of a piece that a tuning lacks, in the order of the line of fifths, each with its remedies.

    >>> lacks = missing(map(Pitch.parse, ("D4", "Ab4", "F4")), TUNINGS["quarter-comma"])
    >>> [(m.letter, m.instead, round(m.off or 0, 1)) for m in lacks]
    [('Ab', 'G#', -41.1)]
    >>> [tuple(remedy) for remedy in lacks[0].remedies]
    [('retune', 'quarter-comma, Ab for G#'), ('split', 'quarter-comma, split Ab'), ('move', 'a tone higher')]
    """
    used = sorted({p.letter for p in pitches}, key=fifths_from_c)
    found = []
    for letter in used:
        pitch = Pitch.parse(f"{letter}4")
        if tuning.has(pitch):
            continue
        instead = tuning.sounds_as(pitch)
        off = None
        if tuning.fifth is not None:
            wanted = fifths_from_c(letter) * tuning.fifth
            off = (tuning.cents(instead) - wanted + 600.0) % 1200.0 - 600.0
        found.append(Missing(letter, instead.letter, off, _remedies(letter, instead.letter, used, tuning)))
    return tuple(found)


_SHIFTS = (
    ("a tone higher", 2),
    ("a tone lower", -2),
    ("a fourth higher", -1),
    ("a fourth lower", 1),
    ("a minor third higher", -3),
    ("a minor third lower", 3),
)


def _remedies(letter: str, instead: str, used: list[str], tuning: Tuning) -> tuple[Remedy, ...]:
    base, _, changes = tuning.name.partition(",")
    found = []
    if base in TUNINGS and len(letter) == 2:
        if instead not in used:
            found.append(Remedy("retune", f"{tuning.name}, {letter} for {instead}"))
        if instead not in changes:
            found.append(Remedy("split", f"{tuning.name}, split {letter}"))
    places = [fifths_from_c(u) for u in used]
    there = {fifths_from_c(u) for u in tuning.letters}
    for words, shift in _SHIFTS:
        if all(place + shift in there for place in places):
            found.append(Remedy("move", words))
            break
    return tuple(found)
