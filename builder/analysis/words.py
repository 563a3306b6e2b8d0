"""Tells an analysis in plain sentences, for the overview of a verset."""

from __future__ import annotations

from builder.analysis.findings import Analysis, Cadence, Entry, ToneReading
from builder.language.texts import Texts, opened, texts


def as_words(analysis: Analysis, *, language: str = "en") -> dict[str, tuple[str, ...]]:
    """Sentences by topic: `entries`, `tone`, `cadences`, `warnings`. The evidence inside them is in
    the language in which the verset was analysed.

    >>> from builder.analysis.analyse import analyse
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> as_words(analyse(verset), language="de")["entries"][0]
    'Zwei Stimmen setzen in dieser Folge ein: Cantus und Altus.'
    """
    say = texts("analysis", language)
    return {
        "entries": _entries(analysis, say),
        "tone": _tone(analysis, say),
        "cadences": tuple(_cadence(c, say) for c in analysis.cadences) or (say("words.cadence.none"),),
        "warnings": analysis.warnings,
    }


def _entries(analysis: Analysis, say: Texts) -> tuple[str, ...]:
    if not analysis.entries:
        return ()
    order = list(dict.fromkeys(e.voice for e in analysis.entries))
    voices = (
        say("words.voices.1")
        if analysis.voices == 1
        else say(
            "words.voices",
            count=opened(say(f"count.{analysis.voices}")),
            voices=say.listing([say(f"voice.{v}") for v in order]),
        )
    )
    names = say.listing([say.written(p.letter) for p in analysis.theme.pitches])
    key = "words.theme.1" if analysis.theme.notes == 1 else "words.theme"
    theme = say(key, notes=analysis.theme.notes, pitches=names)
    return voices, theme, *(_entry(e, say) for e in analysis.entries)


def _entry(entry: Entry, say: Texts) -> str:
    return say(
        "words.entry",
        voice=opened(say(f"voice.{entry.voice}")),
        place=say.where(entry.place),
        pitch=say.written(entry.pitch.letter),
        kind=say(f"words.kind.{entry.kind}"),
        evidence=entry.evidence,
    )


def _tone(analysis: Analysis, say: Texts) -> tuple[str, ...]:
    told = [say("words.final", final=say.written(analysis.final))] if analysis.final else []
    for n, reading in enumerate(analysis.tones):
        key = "words.tone.other" if n else "words.tone"
        reasons = "; ".join((*reading.told, *_against(reading, say)))
        told.append(say(key, tone=say(f"tone.{reading.tone}"), reasons=reasons))
    chosen = analysis.chosen
    if chosen and chosen.tone != analysis.tones[0].tone:
        against = "; ".join(_against(chosen, say)) or say("words.tone.fits")
        told.append(say("words.tone.given", tone=say(f"tone.{chosen.tone}"), against=against))
    return tuple(told)


def _against(reading: ToneReading, say: Texts) -> list[str]:
    """What speaks against a tone, as one phrase; nothing where nothing does."""
    return [say("words.tone.against", reasons=say.listing(reading.against))] if reading.against else []


def _cadence(cadence: Cadence, say: Texts) -> str:
    return say(
        "words.cadence",
        place=opened(say.where(cadence.place)),
        degree=say.written(cadence.degree),
        kind=say(f"words.kind.{cadence.kind}"),
        evidence=cadence.evidence,
    )
