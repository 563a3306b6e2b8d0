"""A finding in the language of the edition: which rule, in which voices and on which notes it is met, and
what would mend it."""

from __future__ import annotations

from fractions import Fraction

from builder.counterpoint import RULES, Finding
from builder.counterpoint.worded import worded
from builder.edition.wording import Words
from builder.music import Note, Part, Score

_NOTES = {"motion": 2, "melody": 2, "line": 3}
"""Notes that a rule of a kind looks at in a voice; one, where the kind is not named here."""
_OF_TWO = ("leading-note",)


def told(finding: Finding, score: Score, w: Words) -> tuple[str, str]:
    """What is met and what would mend it; `score` is the version it is met in.

    The check words both in English, with what else it has seen. Other languages tell the rule, the voices
    and their notes, and what the rule advises.

    >>> from builder.counterpoint import check
    >>> from builder.counterpoint.example import example
    >>> from builder.edition.wording import words
    >>> score = example("cantus A4/2 B4/2\\ntenor D4/2 E4/2")
    >>> told(check(score)[0], score, words("it"))[0]
    'Quinte parallele: canto A4–B4 e tenore D4–E4.'
    """
    if w.language == "en":
        return finding.message, finding.mend
    rule = worded(finding.rule, w.language)
    who = w.listing([_voice(voice, finding, score, w) for voice in finding.voices])
    return f"{rule.title}: {who}." if who else f"{rule.title}.", f"{rule.sentence} {rule.advice}"


def _voice(voice: str, finding: Finding, score: Score, w: Words) -> str:
    count = 2 if finding.rule in _OF_TWO else _NOTES.get(RULES[finding.rule].kind, 1)
    notes = [n for part in score.parts if part.voice == voice for n in _up_to(part, finding.onset, count)]
    return " ".join([w.voice(voice), "–".join(str(n.pitch) for n in notes)]).strip()


def _up_to(part: Part, onset: Fraction, count: int) -> list[Note]:
    """The note that sounds at an onset, after those that lead to it if it begins there: at most `count`."""
    heard = [n for n in part.sounding() if n.onset <= onset]
    if not heard or heard[-1].end <= onset:
        return []
    first = len(heard) - 1
    if heard[first].onset == onset:
        while first and len(heard) - first < count and heard[first - 1].end == heard[first].onset:
            first -= 1
    return heard[first:]
