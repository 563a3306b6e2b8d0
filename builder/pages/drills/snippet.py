"""A few notes of a line, to be set in so many voices: from the text of a source to what the page judges."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from builder.analysis import Analysis, analyse
from builder.counterpoint import Realisation, realise
from builder.counterpoint.figured_bass.events import Event
from builder.engraving.hands import hands
from builder.language.texts import Texts
from builder.music import KEYBOARD, VOICES, clipped, notated
from builder.pages.exercise import (
    frequencies,
    given_notes,
    parted,
    rules_on_notes,
    rules_on_pairs,
    sonority,
    variants,
)
from builder.setting.setting import Defaults, with_defaults
from builder.sound import TempoMap, tempo_map
from builder.source import Verset, parse

UPPER: Mapping[int, tuple[str, ...]] = {
    2: ("altus",),
    3: ("cantus", "altus"),
    4: ("cantus", "altus", "tenor"),
}
"""The voices above the bass, by how many sound in all: near enough for two hands."""


@dataclass(frozen=True, slots=True)
class Snippet:
    """Bars of a bass as a source writes them; `tail` bars follow that nobody asks for, so that what is
    asked is not taken for a close."""

    bars: Sequence[str]
    signature: str
    voices: int
    tail: Sequence[str] = ()
    metre: str = "C"

    def text(self) -> str:
        """A source for the reader of sources."""
        front = (
            f"metre: {self.metre}\n  signature: {self.signature}\n  voices: [{', '.join(UPPER[self.voices])}]"
        )
        line = " | ".join((*self.bars, *self.tail))
        return f"---\ntitle: Drill\nverset:\n  {front}\n---\n\n```given\nbassus F4 | {line}\n```\n"


@dataclass(frozen=True, slots=True)
class Framed:
    """A verset with what the sonorities of an exercise are told from."""

    verset: Verset
    analysis: Analysis
    tempo: TempoMap
    realisation: Realisation
    cut: tuple[Event, ...]


def framed(snippet: Snippet, defaults: Defaults) -> Framed | None:
    """A snippet taken as far as its plain setting, one in which each long note is struck once; None where no
    such one is found without an error. Licences of the course do not hold here: what is drilled is lawful
    without."""
    plain = replace(defaults, licences=())
    verset = with_defaults(parse(snippet.text(), "drill.md"), plain)
    analysis = analyse(verset)
    cut = cut_of(snippet, verset, analysis)
    for cheapest in (False, True):
        made = realise(verset, analysis, tuning=verset.settings.tuned, cheapest=cheapest)
        wrong = any(finding.severity == "error" for finding in made.findings)
        if not wrong and _struck_once(made, cut):
            return Framed(verset, analysis, tempo_map(verset, analysis), made, cut)
    return None


def _struck_once(made: Realisation, cut: Sequence[Event]) -> bool:
    """Whether no voice moves on inside a sonority."""
    voicings = {s.onset: s.voices for s in made.sonorities}
    return all(
        voicings[onset] == voicings[event.onset]
        for event in cut
        for onset in voicings
        if event.onset <= onset < event.end
    )


def cut_of(snippet: Snippet, verset: Verset, analysis: Analysis) -> tuple[Event, ...]:
    """The sonorities that a snippet asks for: one over each note and each of its figures. A long note is
    played once, not on every beat."""
    end = verset.bars[len(snippet.bars) - 1].end
    found: list[Event] = []
    for event in parted(verset, analysis, Fraction(0), end):
        if event.still and found:
            found[-1] = replace(found[-1], duration=found[-1].duration + event.duration)
        else:
            found.append(event)
    return tuple(found)


def readings_of(snippet: Snippet, defaults: Defaults) -> dict[float, list[dict[str, Any]]]:
    """By the time of each sonority (quarter notes), how its figure may be read; whether it can be set is
    not asked."""
    verset = with_defaults(parse(snippet.text(), "drill.md"), defaults)
    return {float(e.onset): variants(e) for e in cut_of(snippet, verset, analyse(verset))}


def exercise_of(it: Framed, name: str, words: Texts) -> dict[str, Any]:
    """The exercise of a snippet as the page takes it, without what all exercises of a course share (see
    `shared`)."""
    verset, cut = it.verset, it.cut
    known = {s.onset: dict(s.voices) for s in it.realisation.sonorities}
    score = notated(it.realisation.score)
    above = {bar: [p.voice for p in score.parts[:count]] for bar, count in hands(score).items()}
    voices = [v for v in VOICES if any(v in e.upper for e in cut)]
    end = cut[-1].end
    return {
        "key": name,
        "title": "",
        "metre": [verset.metre.count, verset.metre.unit],
        "symbol": verset.metre.symbol,
        "fifths": verset.signature.fifths,
        "signature": [verset.signature.alter(step) for step in range(7)],
        "voices": voices,
        "order": [v for v in VOICES if v in voices or v == "bassus"],
        "closed": end == verset.end,
        "bars": [
            [b.number, float(b.onset), float(b.length), above[b.number]]
            for b in clipped(verset.bars, Fraction(0), end)
        ],
        "events": [sonority(it, e, cut[n - 1] if n else None, words) for n, e in enumerate(cut)],
        "line": given_notes(notated(verset.score()), it.tempo, Fraction(0), end, verset),
        "ours": {
            v: [[p.diatonic, p.alter] if v in e.upper and (p := known[e.onset].get(v)) else None for e in cut]
            for v in voices
        },
    }


def shared(signatures: Sequence[str], defaults: Defaults) -> dict[str, Any]:
    """What all exercises of a course have in common: compass, frequencies, rules on single notes, and by
    signature (fifths) the rules on what two notes make of it."""
    snippets = {text: parse(Snippet(("D3/1",), text, 4).text(), "drill.md") for text in signatures}
    versets = {text: with_defaults(verset, defaults) for text, verset in snippets.items()}
    first = next(iter(versets.values()))
    bass = [KEYBOARD["bassus"][0]]
    return {
        "compass": {v: [p.diatonic for p in KEYBOARD[v]] for v in VOICES},
        "hertz": frequencies(first, VOICES, bass),
        "notes": {v: rules_on_notes(first, v) for v in VOICES},
        "pairs": {str(v.signature.fifths): rules_on_pairs(v) for v in versets.values()},
    }
