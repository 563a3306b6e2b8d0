"""The last word: the check of the whole diminished score by the counterpoint room."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from builder.analysis import Analysis
from builder.counterpoint import Finding, Realisation, check
from builder.diminution.offers import Offer
from builder.diminution.texture import Texture
from builder.music import Score
from builder.source import Verset


class Gate:
    """Compares the errors of a diminished score with those the plain one had already."""

    def __init__(self, verset: Verset, analysis: Analysis, realisation: Realisation) -> None:
        self.verset = verset
        self.analysis = analysis
        self.plain = realisation.findings
        self.seen: tuple[Score, tuple[Finding, ...]] | None = None

    def findings(self, score: Score) -> tuple[Finding, ...]:
        if self.seen is None or self.seen[0] is not score:
            self.seen = score, check(score, verset=self.verset, analysis=self.analysis)
        return self.seen[1]

    def new_errors(self, score: Score) -> tuple[Finding, ...]:
        """Errors that the plain score did not have, licences apart."""
        old = {(f.rule, f.voices, f.place.bar) for f in self.plain if f.severity == "error"}
        return tuple(
            f
            for f in self.findings(score)
            if f.severity == "error" and not f.allowed and (f.rule, f.voices, f.place.bar) not in old
        )

    def refused(
        self, score: Score, texture: Texture, chosen: Sequence[Offer]
    ) -> frozenset[tuple[int, int, str]]:
        """The offers to bar: for each new error the dearest figure that can have caused it."""
        beat = int(texture.score.metre.beat * texture.unit)
        barred = set()
        for finding in self.new_errors(score):
            tick = (finding.onset - texture.score.bars[0].onset) * texture.unit
            near = _causes(finding.voices, tick, chosen, texture, 0) or _causes(
                finding.voices, tick, chosen, texture, beat
            )
            if near:
                worst = max(near, key=lambda o: (o.cost, o.stem.voice, o.start))
                barred.add((worst.stem.voice, worst.stem.index, worst.pattern.id))
        return frozenset(barred)


def _causes(
    voices: Sequence[str], tick: Fraction, chosen: Sequence[Offer], texture: Texture, reach: int
) -> list[Offer]:
    return [
        o
        for o in chosen
        if (not voices or texture.voices[o.stem.voice] in voices)
        and o.stem.start - reach <= tick <= o.end + reach
    ]
