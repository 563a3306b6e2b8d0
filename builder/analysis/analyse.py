"""From a verset to its analysis."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from builder.analysis import tones
from builder.analysis.cadences import cadences
from builder.analysis.entries import theme_and_entries
from builder.analysis.findings import Analysis, Cadence, Step, Theme, ToneReading
from builder.analysis.lesson import sections, steps, useless_cuts
from builder.analysis.line import Sung, heard
from builder.language.texts import Texts, texts
from builder.source import Verset


def analyse(verset: Verset, *, language: str = "en") -> Analysis:
    """Theme, entries, tone, cadences, sections and steps of a verset, each with its evidence in
    the words of `language` (`KeyError` when there is no table for it).

    Never refuses a verset: what cannot be found is said in `warnings`. `tone` is the one the
    source names, or else the likeliest; `tones` is always what the music says, the likeliest
    first, with those that come near it.

    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> found = analyse(verset)
    >>> found.tone, [(entry.voice, entry.kind) for entry in found.entries]
    (1, [('cantus', 'theme'), ('altus', 'tonal')])
    """
    say = texts("analysis", language)
    notes = heard(verset)
    if not notes:
        return _silence(verset, say)
    final = notes[-1].pitch.letter
    theme, entries = theme_and_entries(verset, notes, say, final)
    found = cadences(verset, notes, say)
    material = tones.material(verset, notes, entries, found)
    readings = tones.weigh(material, say)
    if readings[0].final != final:
        # the last note is not the final: answers and half cadences are judged by the tone's
        theme, entries = theme_and_entries(verset, notes, say, readings[0].final)
        found = cadences(verset, notes, say, tones.rests_on_fifth(final, readings))
    tone = verset.tone or readings[0].tone
    lesson = steps(verset, notes, entries, found)
    return Analysis(
        theme=theme,
        entries=entries,
        voices=len({n.voice for n in notes}),
        final=final,
        tones=tones.near(readings),
        tone=tone,
        cadences=found,
        sections=sections(verset, notes, found, lesson),
        steps=lesson,
        warnings=(*_warnings(verset, notes, readings, found, say), *_cut_warnings(verset, lesson, say)),
        chosen=tones.chosen(tone, readings, material, say),
    )


def _cut_warnings(verset: Verset, lesson: Sequence[Step], say: Texts) -> tuple[str, ...]:
    return tuple(
        say("warn.cut", place=say.where(verset.place(cut.onset))) for cut in useless_cuts(verset, lesson)
    )


def _silence(verset: Verset, say: Texts) -> Analysis:
    whole = ((verset.bars[0].onset, verset.end),) if verset.bars else ()
    nothing = Theme(0, Fraction(0), ())
    return Analysis(nothing, (), 0, "", (), verset.tone or 0, (), whole, (), (say("warn.silent"),))


def _warnings(
    verset: Verset,
    notes: tuple[Sung, ...],
    readings: tuple[ToneReading, ...],
    found: tuple[Cadence, ...],
    say: Texts,
) -> tuple[str, ...]:
    told = []
    likely, final = readings[0], notes[-1].pitch.letter
    if verset.tone and tones.contradicted(verset.tone, readings):
        reasons = "; ".join(likely.told)
        told.append(say("warn.tone", given=verset.tone, found=likely.tone, reasons=reasons))
    if not tones.in_table(verset, final):
        signature = say.listing([say.written(a) for a in verset.signature.accidentals]) or say("none")
        told.append(say("warn.tone.table", final=say.written(final), signature=signature, tone=likely.tone))
    closing = [c for c in found if c.onset + verset.metre.bar >= notes[-1].onset]
    if not closing:
        told.append(say("warn.close"))
    return tuple(told)
