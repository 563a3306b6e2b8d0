"""What the drills take from a course: its tones, its figures, its themes, its tuning."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from builder.analysis import Analysis, analyse
from builder.analysis.tone_table import TONES, moved
from builder.music import Pitch
from builder.setting.setting import Defaults
from builder.source import Verset

USUAL = ("", "6", "#", "4 3", "7 6", "6/5", "4/2", "7", "9 8")
"""Figures that every course drills, whether its versets have them or not."""


@dataclass(frozen=True, slots=True)
class Theme:
    """A theme as a verset gives it out: pitches with their lengths in quarter notes, its voice and clef, the
    signature, the tone and its final."""

    notes: tuple[tuple[str, str], ...]
    """Pitch and length of each note, as a source writes them: ("D5", "2")."""
    voice: str
    clef: str
    signature: str
    tone: int
    title: str


@dataclass(frozen=True, slots=True)
class CourseMusic:
    """What a course drills: its choices, its tones in the order in which they are first met (all others
    after them), the figures of its versets, its themes."""

    defaults: Defaults = field(default_factory=Defaults)
    tones: tuple[int, ...] = tuple(tone.number for tone in TONES)
    figures: tuple[str, ...] = USUAL
    themes: tuple[Theme, ...] = ()


def course_music(
    versets: Iterable[Verset], tones: Iterable[int], defaults: Defaults, *, themes: bool = True
) -> CourseMusic:
    """What the drills take from the versets of a course: the tones as they were judged, in their order; the
    figures; with `themes` also those, which takes an analysis of each.

    >>> from builder.source import EXAMPLE, parse
    >>> found = course_music([parse(EXAMPLE)], [8], Defaults())
    >>> found.tones[:3], found.figures[-1], len(found.themes[0].notes)
    ((8, 1, 2), '7 #6', 6)
    """
    figures: dict[str, None] = dict.fromkeys(USUAL)
    known = []
    for verset in versets:
        for given in verset.given:
            stacks = ["/".join(str(sign) for sign in figure.signs) for figure in given.figures]
            if all(stacks) and 1 <= len(stacks) <= 2:
                figures[" ".join(stacks)] = None
        if themes:
            known += list(_theme(verset, analyse(verset)))
    every = dict.fromkeys((*tones, *(tone.number for tone in TONES)))
    return CourseMusic(defaults, tuple(every), tuple(figures), tuple(known))


def _theme(verset: Verset, analysis: Analysis) -> Iterator[Theme]:
    heads = [given for given in verset.given if given.note.pitch][: analysis.theme.notes]
    if len(heads) >= 3 and len({given.voice for given in heads}) == 1:
        notes = tuple((str(given.note.pitch), str(given.note.duration)) for given in heads)
        yield Theme(
            notes, heads[0].voice, heads[0].clef.name, str(verset.signature), analysis.tone, verset.title
        )


def finals(music: CourseMusic) -> list[tuple[str, str]]:
    """Signature and degree of every usual cadence of the tones, those of the course first.

    >>> finals(CourseMusic())[:4]
    [('none', 'D'), ('none', 'A'), ('none', 'F'), ('Bb', 'G')]
    """
    found: dict[tuple[str, str], None] = {}
    for number in music.tones:
        form = TONES[number - 1].forms[0]
        for letter in form.cadences:
            found[form.signature, letter] = None
    return list(found)


UNTRANSPOSED = ("none", "Bb")
"""Signatures of the tones at the organ."""
SIGNATURES = ("F#", *UNTRANSPOSED, "Bb Eb")
"""The same with those of transposed tones: from one sharp down to two flats."""


def transposed(music: CourseMusic) -> list[tuple[str, str]]:
    """Signature and degree of the usual cadences of the tones where they stand otherwise: in their other
    forms, and moved a fifth or a tone down (one flat more, two), as organs do to suit a choir (common
    practice). Those of `finals` are not among them.

    >>> transposed(CourseMusic(tones=(1, 7)))[:5]
    [('Bb', 'G'), ('Bb', 'Bb'), ('Bb Eb', 'C'), ('Bb Eb', 'G'), ('Bb Eb', 'Eb')]
    """
    found: dict[tuple[str, str], None] = {}
    for number in music.tones:
        first, *others = TONES[number - 1].forms
        for flats in (1, 2):
            place = SIGNATURES.index(first.signature) + flats
            if place < len(SIGNATURES):
                found |= {(SIGNATURES[place], moved(letter, -flats)): None for letter in first.cadences}
        found |= {(form.signature, letter): None for form in others for letter in form.cadences}
    return [each for each in found if each not in finals(music)]


def bass_of(letter: str, low: str = "F2") -> Pitch:
    """The lowest note of a letter at or above one of the bass.

    >>> bass_of("D"), bass_of("F"), bass_of("Bb")
    (Pitch('D3'), Pitch('F2'), Pitch('Bb2'))
    """
    least = Pitch.parse(low).diatonic
    pitch = Pitch.parse(f"{letter}2")
    return pitch if pitch.diatonic >= least else Pitch.parse(f"{letter}3")
