"""Diminutions of the same two bars beside one another, from simple to florid: how far a player may go."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from fractions import Fraction

from builder.music import Score, Version
from builder.setting.setting import Setting

Sounded = tuple[tuple[object, ...], ...]


def sounded(score: Score, start: Fraction, end: Fraction) -> Sounded:
    """What is heard of a score in a stretch: for each voice its notes, ties joined.

    >>> from builder.source import EXAMPLE, parse
    >>> (cantus, _) = sounded(parse(EXAMPLE).score(), Fraction(0), Fraction(3))
    >>> [(str(start), str(end), str(pitch)) for start, end, pitch in cantus]
    [('0', '2', 'D5'), ('2', '3', 'A4')]
    """
    return tuple(
        tuple(
            (max(n.onset, start), min(n.end, end), n.pitch)
            for n in part.sounding()
            if n.onset < end and n.end > start
        )
        for part in score.parts
    )


def distinct(scores: Mapping[Version, Score], start: Fraction, end: Fraction) -> tuple[Version, ...]:
    """The versions of a stretch, without those diminished ones that sound like one before."""
    found: dict[Version, Sounded] = {}
    for version, score in scores.items():
        heard = sounded(score, start, end)
        if version.kind is not Version.DIMINISHED or heard not in found.values():
            found[version] = heard
    return tuple(found)


def side_by_side(setting: Setting, start: Fraction, end: Fraction) -> list[tuple[int, Score]]:
    """The levels of diminution that differ in two bars of a stretch, with the score of these bars: those bars
    in which each level adds most to the one below. Empty where there are not two such levels."""
    own = next(level for level, made in setting.diminutions.items() if made is setting.diminution)
    levels = {
        own if version is Version.DIMINISHED else int(version.rpartition("-")[2]): score
        for version, score in setting.scores.items()
        if version.kind is Version.DIMINISHED
    }
    bars = [b for b in setting.realisation.score.bars if b.onset >= start and b.end <= end]
    best: tuple[int, list[tuple[int, Score]]] = 0, []
    for one, two in itertools.pairwise(bars):
        counts, heard = [], []
        rows: list[tuple[int, Score]] = []
        for level in sorted(levels):
            what = sounded(levels[level], one.onset, two.end)
            if what not in heard:
                heard.append(what)
                counts.append(sum(map(len, what)))
                rows.append((level, levels[level]))
        if len(rows) < 2 or counts != sorted(set(counts)):
            continue
        gain = 1000 * len(rows) + min(b - a for a, b in itertools.pairwise(counts))
        if gain > best[0]:
            best = gain, [(level, score.excerpt(one.onset, two.end)) for level, score in rows]
    return best[1]
