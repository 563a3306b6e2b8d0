"""The music as an editor chooses to print it: in modern clefs, in halved values, with fewer bar lines."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from builder.language.texts import EditionTexts, opened
from builder.music import Bar, Clef, Figure, Metre, Note, Part, Score, written
from builder.setting.setting import Setting
from builder.source.printing import BARRING, Printing
from builder.source.verset import GivenNote, Verset

MODERN = {"cantus": Clef("G", 2), "altus": Clef("G", 2), "tenor": Clef("F", 4), "bassus": Clef("F", 4)}
"""The clefs of a keyboard player of today, by voice (common practice)."""
HALF = Fraction(1, 2)


def as_printed(setting: Setting, printing: Printing) -> Setting:
    """The setting with the music as it is printed; the same object where nothing is chosen."""
    if printing.modern:
        setting = replace(setting, verset=in_modern_clefs(setting.verset))
    if printing.halved:
        verset = halved_verset(setting.verset)
        setting = replace(setting, verset=verset, scores={v: halved(s) for v, s in setting.scores.items()})
    return setting


def told(printing: Printing, w: EditionTexts) -> str:
    """What a reader must know of these choices, in a sentence; nothing where nothing is chosen."""
    said = [w("print.modern")] if printing.modern else []
    said += [w("print.halved")] if printing.halved else []
    said += [w(f"print.{printing.barring}")] if printing.barring not in ("", BARRING[0]) else []
    return opened(w("print.told", what=w.listing(said))) if said else ""


def in_modern_clefs(verset: Verset) -> Verset:
    """The given line with each voice in the clef of today."""
    return replace(verset, given=tuple(replace(g, clef=MODERN[g.voice]) for g in verset.given))


def halved_metre(metre: Metre) -> Metre:
    """The metre of halved values: bars keep their beats, which are half as long.

    >>> [halved_metre(Metre.parse(m)).symbol for m in ("C", "C|", "3/2", "6/4", "3/1")]
    ['2/4', '2/4', '3/4', '6/8', '3/2']
    """
    if metre.symbol in ("C", "C|") or (metre.count, metre.unit) == (4, 4):
        return Metre.parse("2/4")
    return Metre.parse(f"{metre.count}/{metre.unit * 2}")


def halved_verset(verset: Verset) -> Verset:
    """A verset in half its values: line, figures, readings and tempo."""
    beat, rate = verset.tempo
    return replace(
        verset,
        metre=halved_metre(verset.metre),
        bars=_bars(verset.bars),
        given=tuple(_given(g) for g in verset.given),
        variants=tuple(
            replace(v, start=v.start / 2, end=v.end / 2, notes=tuple(_given(g) for g in v.notes))
            for v in verset.variants
        ),
        ossias=tuple(replace(o, notes=tuple(_note(n) for n in o.notes)) for o in verset.ossias),
        tempo=(beat / 2, rate),
    )


def halved(score: Score) -> Score:
    """A notated score in half its values. A note that no single value writes any more is refused with
    `ValueError`: nothing is shorter than a sixty-fourth."""
    parts = tuple(Part(p.voice, tuple(_note(n) for n in p.notes)) for p in score.parts)
    figures = tuple(_figure(f) for f in score.figures)
    metre = halved_metre(score.metre)
    return replace(score, metre=metre, bars=_bars(score.bars), parts=parts, figures=figures)


def can_be_halved(scores: Iterable[Score]) -> bool:
    """Whether every note of some scores has a value half as long."""
    return all(
        written(n.duration / 2) is not None for s in scores for p in s.parts for n in p.notes if n.pitch
    )


def _bars(bars: Iterable[Bar]) -> tuple[Bar, ...]:
    return tuple(
        replace(b, onset=b.onset * HALF, length=b.length * HALF, skipped=b.skipped * HALF) for b in bars
    )


def _note(note: Note) -> Note:
    return replace(note, onset=note.onset * HALF, duration=note.duration * HALF)


def _figure(figure: Figure) -> Figure:
    return replace(figure, onset=figure.onset * HALF, duration=figure.duration * HALF)


def _given(given: GivenNote) -> GivenNote:
    return replace(given, note=_note(given.note), figures=tuple(_figure(f) for f in given.figures))
