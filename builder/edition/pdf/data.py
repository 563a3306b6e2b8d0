"""What the typesetter is told of a verset: facts, critical report, notes for the player."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import Any

from builder.counterpoint.rules.phrases import worded
from builder.edition.apparatus import readings, witnesses
from builder.edition.pdf.markdown import signs
from builder.language.texts import EditionTexts, opened
from builder.music import Clef, Place
from builder.setting.setting import Setting
from builder.source.verset import Verset

_VALUES = {
    Fraction(8): "breve",
    Fraction(4): "whole",
    Fraction(2): "half",
    Fraction(1): "quarter",
    Fraction(1, 2): "eighth",
}


def facts(setting: Setting, w: EditionTexts) -> list[str]:
    """Tone, voices and length, a line each."""
    verset, analysis = setting.verset, setting.analysis
    final = w.written(analysis.final)
    names = ", ".join(w.voice(v) for v in verset.voices)
    lines = [
        w("fact.tone", tone=w(f"tone.{analysis.tone}"), final=final),
        w("fact.voices", number=w(f"number.{analysis.voices}"), names=names),
    ]
    if setting.original:
        told = w("fact.moved", move=w.move(setting.original.settings.move))
        lines.append(opened(told))
    return [*lines, w("fact.length", time=spoken_time(minutes(verset)))]


def minutes(verset: Verset) -> Fraction:
    """The length of a verset in minutes at its tempo: here sixteen quarters at 52 halves a minute.

    >>> from builder.source import EXAMPLE, parse
    >>> minutes(parse(EXAMPLE))
    Fraction(2, 13)
    """
    value, beats = verset.tempo
    return Fraction(verset.end) / Fraction(value) / Fraction(beats)


def spoken_time(length: Fraction) -> str:
    """Minutes as a player reads them, to five seconds.

    >>> spoken_time(Fraction(7, 6)), spoken_time(Fraction(1, 2)), spoken_time(Fraction(2))
    ('1 min 10 s', '30 s', '2 min')
    """
    whole, seconds = divmod(round(length * 12) * 5, 60)
    parts = [f"{whole} min"] if whole else []
    return " ".join(parts + ([f"{seconds} s"] if seconds or not whole else []))


def tempo(verset: Verset, w: EditionTexts) -> str:
    """The metronome mark in words: the value that is counted, and how many a minute."""
    value, beats = verset.tempo
    key = _VALUES.get(value) or f"dotted-{_VALUES[value * 2 / 3]}"
    return w("fact.tempo", value=w(f"value.{key}"), rate=f"{float(beats):g}")


def practice(setting: Setting, w: EditionTexts) -> list[tuple[str, str]]:
    """Registration, tuning and pitch, as label and words."""
    own = setting.verset.settings
    rows = [(w("practice.registration"), opened(setting.registration_told(w)))]
    if own.tuning:
        rows.append((w("practice.tuning"), opened(w.as_tuning(own.tuning))))
    if own.pitch:
        rows.append((w("practice.pitch"), w("practice.a4", hertz=f"{own.pitch:g}")))
    return rows


def critical(setting: Setting, w: EditionTexts) -> list[dict[str, Any]]:
    """The critical report: sources, method, readings, what the editor supplied, licences and what
    stays unmet. Sections with nothing to say are left out."""
    said = setting.verset.provenance
    given = setting.original or setting.verset
    numbered = [{"n": told.number, "text": told.text} for told in readings(given, w)]
    sections = (
        ("sources", witnesses(said, w)),
        ("method", [said.method] if said.method else []),
        ("readings", _readings(setting, w)),
        ("accidentals", _accidentals(setting.verset, w)),
        ("figures", _figures(setting.verset, w)),
        ("licences", _licences(setting, w)),
        ("unmet", _unmet(setting, w)),
    )
    told = []
    for key, rows in sections:
        own = numbered if key == "readings" else []
        if (lines := list(rows)) or own:
            told.append({"title": w(f"critical.{key}"), "lines": lines, "readings": own})
    return told


def written_pitch(setting: Setting, w: EditionTexts) -> str:
    """A warning over words of a moved verset: they name pitches as the source writes them."""
    if not setting.original:
        return ""
    return w("critical.written-pitch", move=w.move(setting.original.settings.move))


def incipit_alt(verset: Verset, w: EditionTexts) -> str:
    clefs: dict[str, Clef] = {}
    for g in verset.given:
        clefs.setdefault(g.voice, g.clef)
    told = ", ".join(f"{w.voice(v)} {clefs[v].name}" for v in verset.voices if v in clefs)
    letters = " ".join(w.written(a) for a in verset.signature.accidentals)
    signature = w("alt.signature", signs=letters) if letters else w("alt.no-signature")
    return w("alt.incipit", clefs=told, signature=signature, metre=verset.metre.symbol)


def _at(place: Place, w: EditionTexts, voice: str = "") -> str:
    text = opened(w.where(place))
    return f"{text}, {w.voice(voice)}" if voice else text


def _readings(setting: Setting, w: EditionTexts) -> Iterable[str]:
    readings = setting.verset.readings
    if readings and (told := written_pitch(setting, w)):
        yield told
    for r in readings:
        voice = f", {w.voice(r.voice)}" if r.voice else ""
        yield signs(w("critical.reading", bar=r.bar, voice=voice, source=r.source, adopted=r.adopted))


def _accidentals(verset: Verset, w: EditionTexts) -> Iterable[str]:
    for g in verset.given:
        if g.note.editorial and g.note.pitch:
            yield f"{_at(verset.place(g.note.onset), w, g.voice)}: {w.written(g.note.pitch.letter)}."


def _figures(verset: Verset, w: EditionTexts) -> Iterable[str]:
    for g in verset.given:
        for figure in g.figures:
            if any(s.editorial for s in figure.signs):
                yield f"{_at(verset.place(figure.onset), w, g.voice)}: {figure.shown}."


def _licences(setting: Setting, w: EditionTexts) -> Iterable[str]:
    for licence in setting.verset.licences:
        who = f" ({w.listing([w.voice(v) for v in licence.voices])})" if licence.voices else ""
        rule = worded(licence.rule, w.language).title
        key = "critical.licence" if licence.bar else "critical.licence-throughout"
        yield w(key, bar=licence.bar, rule=rule, voices=who, because=licence.because)


def _unmet(setting: Setting, w: EditionTexts) -> Iterable[str]:
    for version, finding in setting.findings:
        if finding.severity == "error" and not finding.allowed:
            voices = f", {w.listing([w.voice(v) for v in finding.voices])}" if finding.voices else ""
            name = w(f"version.{version.partition('-')[0]}").lower()
            message, *_ = finding.told(w.language)
            yield f"{_at(finding.place, w)}{voices}, {name}: {message}.".replace("..", ".")
