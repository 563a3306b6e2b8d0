"""What a source says that reaches no page and no ear: headings that name no step, licences that nothing asks
for, a line that stands twice, and two voices that were meant to sound at once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import groupby, pairwise

from builder.analysis import Analysis
from builder.analysis.line import weight_of
from builder.counterpoint import Finding
from builder.engraving.sheet import sheet
from builder.language.texts import EditionTexts, edition_texts
from builder.music import Score, Version
from builder.music.consonance import consonant
from builder.source import GivenNote, Verset

Block = Sequence[GivenNote]

TESTED, MISSES = 8, 12
"""Strong beats that two lines must share to be told, and how many beats may hold one dissonance: by chance
four intervals of seven are consonant, so that eight in a row are one case in ninety."""

TWICE = 2
"""Bars that a line must have, for its repetition to be told."""


def source_warnings(
    verset: Verset, analysis: Analysis, findings: Iterable[Finding], language: str = "en"
) -> Iterator[str]:
    """Sentences, each with the line of the source that it is about."""
    w = edition_texts(language)
    yield from _headings(verset, analysis, w)
    yield from _licences(verset, tuple(findings), w)
    yield from _twice(verset, w)
    yield from _at_once(verset, analysis, w)
    yield from lost_warnings(verset, language)


def lost_warnings(verset: Verset, language: str = "en") -> Iterator[str]:
    """What a file of music has that is not kept, each with its bars.

    >>> from dataclasses import replace
    >>> from builder.source import EXAMPLE, parse
    >>> from builder.source.verset import Loss
    >>> list(lost_warnings(replace(parse(EXAMPLE), lost=(Loss("fermata", (2, 4)),))))
    ['bars with fermatas, which no source keeps: 2 and 4']
    """
    w = edition_texts(language)
    for loss in verset.lost:
        bars = w.listing([str(bar) for bar in loss.bars])
        yield w("source.lost", what=w(f"source.lost-{loss.kind}"), bars=bars)


def fingers_warnings(verset: Verset, scores: Mapping[Version, Score], language: str = "en") -> Iterator[str]:
    """Fingers of a setting for which it has no note.

    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE + "\\n```fingering\\ncantus plain 1 | 3 2 1 2\\n```\\n")
    >>> list(fingers_warnings(verset, {Version.PLAIN: notated(verset.score())}))
    ['fingering in bar 1, cantus, plain: 4 fingers for 3 notes that are struck; the last ones are left out']
    """
    w = edition_texts(language)
    for each in verset.fingers:
        if each.version not in scores:
            continue
        of = sheet(scores[each.version])
        for n, row in enumerate(each.bars, each.first - 1):
            notes = sum(note.id not in of.continued for note in of.bars[each.voice][n])
            if len(row) > notes:
                told = {"voice": w.voice(each.voice), "version": w(f"version.{each.version}").lower()}
                yield w("source.fingers", bar=n + 1, fingers=len(row), notes=notes, **told)


def _headings(verset: Verset, analysis: Analysis, w: EditionTexts) -> Iterator[str]:
    """Words under a heading that names no step stand on no page."""
    names = [step.name for step in analysis.steps]
    names += [name.removesuffix("-1") for name in names if name.endswith("-1")] + ["whole"]
    for heading in verset.words:
        if heading not in names:
            span = verset.headings.get(heading)
            would = w.listing(names, "or")
            yield w("source.heading", line=span.line if span else 0, heading=heading, names=would)


def _licences(verset: Verset, findings: Sequence[Finding], w: EditionTexts) -> Iterator[str]:
    for licence in verset.licences:
        if licence.of_course:
            continue
        if not any(f.allowed and f.rule == licence.rule and licence.holds(f.place.bar) for f in findings):
            key = "source.licence" if licence.bar else "source.licence-throughout"
            yield w(key, line=licence.span.line, rule=licence.rule, bar=licence.bar)


def _twice(verset: Verset, w: EditionTexts) -> Iterator[str]:
    """A line that stands a second time right after itself."""
    lines = [list(block) for _, block in groupby(verset.given, lambda g: (g.span.line, g.voice))]
    for before, after in pairwise(lines):
        long = after[-1].note.end - after[0].note.onset >= TWICE * verset.metre.bar
        if long and _shape(before) == _shape(after):
            yield w("source.twice", line=after[0].span.line, first=before[0].span.line)


def _shape(block: Block) -> tuple[object, ...]:
    start = block[0].note.onset
    return tuple(
        (g.voice, g.clef, g.note.onset - start, g.note.duration, g.note.pitch, [f.signs for f in g.figures])
        for g in block
    )


def _at_once(verset: Verset, analysis: Analysis, w: EditionTexts) -> Iterator[str]:
    """Two stretches of the line that are as long as one another and agree, note against note, where the
    second does not take up the theme: two voices written one below the other."""
    entered = {e.taken for e in analysis.entries if e.matched}
    blocks = [list(block) for _, block in groupby(verset.given, lambda g: g.voice)]
    for one, other in pairwise(blocks):
        starts = one[0].note.onset, other[0].note.onset
        lengths = [block[-1].note.end - block[0].note.onset for block in (one, other)]
        sung = next((g.note.onset for g in other if g.note.pitch), starts[1])
        if lengths[0] != lengths[1] or sung in entered:
            continue
        if _agree(verset, one, other):
            first, second = one[0], other[0]
            yield w(
                "source.at-once",
                line=second.span.line,
                first=first.span.line,
                one=w.voice(first.voice),
                other=w.voice(second.voice),
            )


def _agree(verset: Verset, one: Block, other: Block) -> bool:
    """Whether two stretches are consonant on their strong beats when both begin together."""
    tested = misses = 0
    back = other[0].note.onset - one[0].note.onset
    for g in other:
        if g.note.pitch is None or weight_of(verset, g.note.onset) < 2:
            continue
        above = _sounding(one, g.note.onset - back)
        if above is None or above.note.pitch is None:
            continue
        low, high = sorted((g.note.pitch, above.note.pitch), key=lambda pitch: pitch.midi)
        figured = {s.number for f in g.figures[:1] for s in f.signs}
        steps = high.diatonic - low.diatonic
        tested += 1
        misses += not consonant(steps, high.midi - low.midi) and abs(steps) % 7 + 1 not in figured
    return tested >= TESTED and misses <= tested // MISSES


def _sounding(block: Block, time: Fraction) -> GivenNote | None:
    return next((g for g in block if g.note.onset <= time < g.note.end), None)
