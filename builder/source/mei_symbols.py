"""Single symbols of MEI: what stands in a layer, pitches, figures."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction

from builder.music import FigureSign, Metre, Pitch, Signature
from builder.music.pitch import STEPS
from builder.music.time import VALUES, dotted
from builder.source.encoded import Stack, signature_of, usable_tempo
from builder.source.errors import named, shorten
from builder.source.xmltree import Element

Wrong = Callable[[Element, str, str], None]
"""Notes an error: where, what was found, what was expected."""
ALTER = {"s": 1, "f": -1, "n": 0, "x": 2, "ss": 2, "ff": -2}
DURATIONS = {**VALUES, "long": VALUES["longa"]}
PLAIN = str.maketrans({"♯": "#", "♭": "b", "♮": "n", "–": "-", "—": "-", "−": "-"})
BESIDE = "beside"
"""The type of a layer that the carried source has, too: a voice beside the line of a verset."""
STROKES = "\u0337\u0338"
"""Combining strokes: a number with one is raised."""
_WRAPPERS = ("beam", "ligature", "supplied", "unclear", "add", "damage", "corr", "reg", "lem", "rdg", "bTrem")
_SILENT = (
    "accid",
    "annot",
    "artic",
    "barLine",
    "breath",
    "clef",
    "custos",
    "del",
    "dot",
    "dynam",
    "fermata",
    "pad",
)
"""What may stand in a layer and is no note."""
_REFUSED = {
    "tuplet": "a tuplet",
    "fTrem": "a tremolo of two notes",
    "keySig": "a change of signature",
    "meterSig": "a change of metre",
}


@dataclass(slots=True)
class InForce:
    """The accidentals of a stave: its signature as written, those of the bar so far; the note that is held
    into the next."""

    signature: Signature | None = None
    signs: dict[int, int] = field(default_factory=dict)
    held: tuple[Pitch, bool] | None = None


def items(parent: Element) -> Iterator[Element]:
    """Notes, rests and clefs in order, out of beams and editorial markup."""
    for child in parent.children:
        if child.tag in ("choice", "app"):
            chosen = [c for tag in ("corr", "reg", "lem") for c in child.all(tag)] or child.children
            yield from items(chosen[0]) if chosen else ()
        elif child.tag in _WRAPPERS:
            yield from items(child)
        else:
            yield child


def unread(item: Element) -> str:
    """What is said of something in a layer that a line of notes has no place for; empty for what may be left
    out without loss of a note.

    >>> unread(Element("mRpt", {}, 1, 1)), unread(Element("custos", {}, 1, 1))
    ('<mRpt>', '')
    """
    return "" if item.tag in _SILENT else _REFUSED.get(item.tag, f"<{item.tag}>")


def bars_of(text: str) -> int:
    """How many bars a rest of several bars lasts.

    >>> bars_of("4"), bars_of("")
    (4, 1)
    """
    return int(text) if re.fullmatch("[1-9][0-9]{0,2}", text) else 1


def metre_of(at: Element, wrong: Wrong) -> tuple[Metre, Element] | None:
    """The metre that a definition has, as attributes or as an element, and where it stands; None where it has
    none, or (and an error) none that is read."""
    child = at.first("meterSig")
    source, prefix = (child, "") if child else (at, "meter.")
    symbol = {"common": "C", "cut": "C|"}.get(source.get(f"{prefix}sym"), "")
    count, unit = source.get(f"{prefix}count"), source.get(f"{prefix}unit")
    if not (symbol or count or unit):
        return None
    try:
        return Metre.parse(symbol or f"{count}/{unit}"), source
    except ValueError:
        wrong(source, f"the metre {named(f'{count}/{unit}')}", "C, C| or a fraction such as 3/2")
        return None


def key_of(at: Element, wrong: Wrong) -> tuple[Signature, Element] | None:
    """The signature that a definition has, and where it stands; None where it has none, or (and an error)
    none that is read."""
    child = at if at.tag == "keySig" else at.first("keySig")
    text = (child.get("sig") if child else "") or at.get("keysig") or at.get("key.sig")
    if not text:
        return None
    match = re.fullmatch(r"0|([1-7])([sf])", text)
    if not match:
        wrong(child or at, f"the signature {shorten(text)}", "up to seven sharps or flats, such as 1f")
        return None
    return signature_of(int(match[1] or 0) * (1 if match[2] == "s" else -1)), child or at


def tempo_of(mark: Element) -> tuple[Fraction, Fraction] | None:
    """The beat (quarter notes) and beats a minute of a tempo mark; None where it has no such."""
    unit, dots = DURATIONS.get(mark.get("mm.unit")), mark.get("mm.dots")
    if not unit:
        return None
    return usable_tempo(dotted(unit, int(dots) if dots in ("1", "2") else 0), mark.get("mm"))


def pitch_of(at: Element, force: InForce, wrong: Wrong) -> tuple[Pitch, bool] | None:
    """The pitch of a note, and whether its accidental is the editor's; None (and an error) where it is none.
    A written accidental holds for its bar, then the signature."""
    # under a sign such as 8va the sounding octave is said beside the written one
    step, octave = at.get("pname").upper(), at.get("oct.ges") or at.get("oct")
    if step not in tuple(STEPS) or not (octave.isascii() and octave.isdigit() and len(octave) == 1):
        wrong(
            at,
            f"the pitch {named(step + octave)}" if step or octave else "no pitch",
            "a name from a to g and an octave from 0 to 9",
        )
        return None
    diatonic = int(octave) * 7 + STEPS.index(step)
    accidentals = [at, *at.within("accid")]
    written = next((a.get("accid") for a in accidentals if a.get("accid")), "")
    sounding = next((a.get("accid.ges") for a in accidentals if a.get("accid.ges")), "")
    editorial = any(a.get("func") == "edit" for a in accidentals if a.get("accid"))
    for name in (written, sounding):
        if name and name not in ALTER:
            wrong(at, f"the accidental {shorten(name)}", "s, f, n, x or ff")
            return None
    unsaid = not (written or sounding)
    if unsaid and force.held is not None and force.held[0].diatonic == diatonic:
        return force.held
    meant = force.signs.get(diatonic, force.signature.alter(diatonic % 7) if force.signature else 0)
    if not unsaid:
        meant = ALTER[sounding or written]
    if written and not editorial:
        force.signs[diatonic] = ALTER[written]
    return Pitch(diatonic, meant), editorial


def stack_of(at: Element, wrong: Wrong) -> tuple[tuple[FigureSign, ...], bool]:
    """The figures of one stack (an element `fb`), and whether it is a dash alone."""
    found = list(rows(at, False))
    if [text for _, text, _ in found] == ["-"]:
        return (), True
    signs = [sign for row in found if (sign := figure_sign(*row, wrong)) is not None]
    if len({s.number for s in signs}) < len(signs):
        wrong(at, "one figure twice in a stack", "each interval once")
        return (), False
    return tuple(signs), False


def rows(parent: Element, supplied: bool) -> Iterator[tuple[Element, str, bool]]:
    """The figures of a stack from the top: element, plain text, whether the editor's."""
    for child in parent.children:
        if child.tag == "f":
            text = child.text().translate(PLAIN).replace(" ", "")
            brackets = re.fullmatch(r"[(\[](.*)[)\]]", text)
            yield child, brackets[1] if brackets else text, supplied or bool(brackets)
        else:
            yield from rows(child, supplied or child.tag == "supplied")


def figure_sign(at: Element, text: str, editorial: bool, wrong: Wrong) -> FigureSign | None:
    """One figure, or None (and an error)."""
    plain = text.strip(STROKES)
    if plain != text and plain.isdigit():
        plain = f"#{plain}"
    match = re.fullmatch(r"(##|bb|[#bn+]?)(1[0-2]|[2-9])|(1[0-2]|[2-9])([#bn+])|(##|bb|[#bn])", plain)
    if not match:
        wrong(at, f"the figure {shorten(text)}", "2 to 12, with or without ♯ ♭ ♮, or such a sign")
        return None
    if match[5]:
        return FigureSign(3, match[5], lone=True, editorial=editorial)
    sign = (match[1] or match[4] or "").replace("+", "#")
    return FigureSign(int(match[2] or match[3]), sign, editorial=editorial)


Begins = Callable[[str], Fraction | None]
"""When in its bar the note with an id begins."""


def offset_of(at: Element, metre: Metre | None, begins: Begins) -> Fraction | None:
    """The time of something in its bar (quarter notes): by time stamp, or by the note it names."""
    stamp = at.get("tstamp")
    if re.fullmatch(r"[0-9]{1,3}(\.[0-9]{1,9})?", stamp):
        return (Fraction(stamp).limit_denominator(64) - 1) * (metre.beat if metre else 1)
    return begins(at.get("startid").lstrip("#"))


def figures_of(harm: Element, metre: Metre | None, begins: Begins, wrong: Wrong) -> Stack | None:
    """The figures of a `harm` at their time in the bar. None where it has none, or (and an error) no time."""
    fb = next(harm.within("fb"), None)
    if fb is None:
        return None
    offset = offset_of(harm, metre, begins)
    if offset is None:
        wrong(harm, "figures without a time", "a tstamp, or the startid of a note in this bar")
        return None
    signs, dash = stack_of(fb, wrong)
    return Stack(harm, offset, signs, dash) if signs or dash else None
