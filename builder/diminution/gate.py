"""The last word: the check of the whole diminished score by the counterpoint room."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from builder.analysis import Analysis
from builder.counterpoint import Finding, Realisation, check
from builder.diminution.offers import Offer
from builder.diminution.texture import Texture
from builder.music import Score
from builder.source import Verset


@dataclass(frozen=True, slots=True)
class Refusal:
    """A figure refused: voice, number of the plain note, pattern; and the tick at which the plain note
    must sound, if another note there is what is wrong."""

    voice: int
    index: int
    pattern: str
    tick: int | None

    def bars(self, offer: Offer) -> bool:
        """Whether an offer on that plain note is refused with it."""
        return offer.pattern.id == self.pattern or (self.tick is not None and offer.moved(self.tick))


class Gate:
    """Compares the errors of a diminished score with those the plain one had already."""

    def __init__(self, verset: Verset, analysis: Analysis, realisation: Realisation, tuning: str) -> None:
        self.verset, self.tuning = verset, tuning
        self.analysis = analysis
        self.plain = realisation.findings
        self.seen: tuple[Score, tuple[Finding, ...]] | None = None

    def findings(self, score: Score) -> tuple[Finding, ...]:
        if self.seen is None or self.seen[0] is not score:
            found = check(score, verset=self.verset, analysis=self.analysis, tuning=self.tuning)
            self.seen = score, found
        return self.seen[1]

    def new_errors(self, score: Score) -> tuple[Finding, ...]:
        """Errors that the plain score did not have, licences apart."""
        old = {(f.rule, f.voices, f.place.bar) for f in self.plain if f.severity == "error"}
        return tuple(
            f
            for f in self.findings(score)
            if f.severity == "error" and not f.allowed and (f.rule, f.voices, f.place.bar) not in old
        )

    def refused(self, score: Score, texture: Texture, chosen: Sequence[Offer]) -> frozenset[Refusal]:
        """What to bar: for each new error the dearest figure that can have caused it."""
        beat = int(texture.score.metre.beat * texture.unit)
        barred = set()
        for finding in self.new_errors(score):
            tick = int((finding.onset - texture.score.bars[0].onset) * texture.unit)
            concerned = [
                o for o in chosen if not finding.voices or texture.voices[o.stem.voice] in finding.voices
            ]
            for at in (tick, tick - 1):
                moved = [o for o in concerned if o.moved(at)]
                if moved:
                    worst = _dearest(moved)
                    barred.add(Refusal(worst.stem.voice, worst.stem.index, worst.pattern.id, at))
                    break
            else:
                near = _within(concerned, tick, 0) or _within(concerned, tick, beat)
                if near:
                    worst = _dearest(near)
                    barred.add(Refusal(worst.stem.voice, worst.stem.index, worst.pattern.id, None))
        return frozenset(barred)


def _dearest(offers: Sequence[Offer]) -> Offer:
    return max(offers, key=lambda o: (o.cost, o.stem.voice, o.start))


def _within(offers: Sequence[Offer], tick: int, reach: int) -> list[Offer]:
    return [o for o in offers if o.stem.start - reach <= tick <= o.end + reach]
