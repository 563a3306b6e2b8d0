"""What the typesetter is told of a verset: facts, critical report, notes for the player."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import Any

from builder.edition.pdf_words import signs, words
from builder.edition.setting import Setting
from builder.music import Clef, Place, Signature
from builder.music.temperament import spoken_letter
from builder.source.verset import Verset

ORDINALS = ("", "First", "Second", "Third", "Fourth", "Fifth", "Sixth", "Seventh", "Eighth")
NUMBERS = ("", "One voice", "Two voices", "Three voices", "Four voices")
_VALUES = {Fraction(8): "breve", Fraction(4): "whole", Fraction(2): "half", Fraction(1): "quarter"}
CAUTIONS = (
    "Practise in short spells and rest hands, wrists and back between them.",
    "With headphones start softly: full organ harms the ear.",
    "Play a historic instrument only with its keeper’s leave and by the keeper’s rules.",
    "Rights in sources and in editions follow local law: ask before you copy or perform from them.",
)


def facts(setting: Setting) -> list[str]:
    """Tone, voices and tempo, a line each."""
    verset, analysis = setting.verset, setting.analysis
    where = f"{ORDINALS[analysis.tone]} tone, closing on {spoken_letter(analysis.final)}"
    lines = [where, f"{NUMBERS[analysis.voices]}: {', '.join(verset.voices)}"]
    if setting.original:
        lines.append(f"Set {setting.original.settings.move} than written")
    return [*lines, tempo(verset)]


def minutes(verset: Verset) -> Fraction:
    """Length in minutes at the verset's tempo."""
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


def tempo(verset: Verset) -> str:
    value, beats = verset.tempo
    name = _VALUES.get(value) or (
        f"dotted {_VALUES[value * 2 / 3]}" if value * 2 / 3 in _VALUES else str(value)
    )
    return f"{name.capitalize()} note = {float(beats):g}, about {spoken_time(minutes(verset))}"


def practice(setting: Setting) -> list[tuple[str, str]]:
    """Registration, tuning and diminution, as label and words."""
    own = setting.verset.settings
    title, why = setting.registration.title, setting.registration_reason
    rows = [("Registration", title[0].upper() + title[1:] + (f" ({why})" if why else ""))]
    if own.tuning:
        rows.append(("Tuning", signs(own.tuning[0].upper() + own.tuning[1:])))
    if own.pitch:
        rows.append(("Pitch", f"A at {own.pitch:g} Hz"))
    return rows


def critical(setting: Setting) -> list[dict[str, Any]]:
    """The critical report: readings, what the editor supplied, licences and what stays unmet.
    Sections with nothing to say are left out."""
    sections = (
        ("Readings", _readings(setting.verset)),
        ("Editorial accidentals", _accidentals(setting.verset)),
        ("Editorial figures", _figures(setting.verset)),
        ("Licences", _licences(setting)),
        ("Rules not kept", _unmet(setting)),
    )
    return [{"title": title, "lines": lines} for title, rows in sections if (lines := list(rows))]


def incipit_alt(verset: Verset) -> str:
    clefs: dict[str, Clef] = {}
    for g in verset.given:
        clefs.setdefault(g.voice, g.clef)
    told = ", ".join(f"{v} {clefs[v].name}" for v in verset.voices)
    return f"Incipit: original clefs {told}; {_signature(verset.signature)}; metre {verset.metre.symbol}"


def intro(verset: Verset) -> list[Any]:
    return words(verset.intro)


def _signature(signature: Signature) -> str:
    signs_of = " ".join(spoken_letter(a) for a in signature.accidentals)
    return f"signature {signs_of}" if signs_of else "no signature"


def _at(place: Place, voice: str = "") -> str:
    text = str(place)[0].upper() + str(place)[1:]
    return f"{text}, {voice}" if voice else text


def _readings(verset: Verset) -> Iterable[str]:
    for r in verset.readings:
        voice = f", {r.voice}" if r.voice else ""
        yield signs(f"Bar {r.bar}{voice}: the source has {r.source}; adopted: {r.adopted}.")


def _accidentals(verset: Verset) -> Iterable[str]:
    for g in verset.given:
        if g.note.editorial and g.note.pitch:
            yield f"{_at(verset.place(g.note.onset), g.voice)}: {spoken_letter(g.note.pitch.letter)}."


def _figures(verset: Verset) -> Iterable[str]:
    for g in verset.given:
        for figure in g.figures:
            if any(s.editorial for s in figure.signs):
                shown = " over ".join(_spoken_sign(s.sign, s.number, s.lone) for s in figure.signs)
                yield f"{_at(verset.place(figure.onset), g.voice)}: {shown}."


def _spoken_sign(sign: str, number: int, lone: bool) -> str:
    name = {"#": "sharp", "b": "flat", "n": "natural"}.get(sign, "")
    return f"{name} third" if lone else f"{name} {number}".strip()


def _licences(setting: Setting) -> Iterable[str]:
    for licence in setting.verset.licences:
        who = f" ({' and '.join(licence.voices)})" if licence.voices else ""
        yield f"Bar {licence.bar}: {licence.rule.replace('-', ' ')}{who}: {licence.because}."


def _unmet(setting: Setting) -> Iterable[str]:
    for version, finding in setting.findings:
        if finding.severity == "error" and not finding.allowed:
            voices = f", {' and '.join(finding.voices)}" if finding.voices else ""
            yield signs(f"{_at(finding.place)}{voices}, {version}: {finding.message}.".replace("..", "."))
