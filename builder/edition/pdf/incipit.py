"""The incipit: each voice's first note as the source writes it, in its own clef and signature."""

from __future__ import annotations

from xml.sax.saxutils import escape

from builder.edition.pdf.systems import System, systems
from builder.music import Clef, Metre, Note, Signature, written
from builder.source.verset import GivenNote, Verset

_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>'
    '<mei xmlns="http://www.music-encoding.org/ns/mei" meiversion="5.1"><meiHead><fileDesc>'
    "<titleStmt><title/></titleStmt><pubStmt/></fileDesc></meiHead><music><body><mdiv><score>"
)
_FOOT = "</section></score></mdiv></body></music></mei>"
_APART = 9
"""Half spaces between two staves: a clef on the lowest line stands clear of one below that rises high."""


def incipit(verset: Verset, *, space: float = 1.25) -> System:
    """The staves of all voices, one above the other, with the first note of each entry.

    `space` is the distance of two stave lines in millimetres.
    """
    firsts: dict[str, GivenNote] = {}
    for given in verset.given:
        if given.note.pitch is not None:
            firsts.setdefault(given.voice, given)
    staves = [firsts[v] for v in verset.voices if v in firsts]
    defs = "".join(_stave(n, g.voice, g.clef, verset.signature) for n, g in enumerate(staves, 1))
    notes = "".join(
        f'<staff n="{n}"><layer n="1">{_note(g.note, verset.signature)}</layer></staff>'
        for n, g in enumerate(staves, 1)
    )
    mei = (
        f"{_HEAD}<scoreDef {_metre(verset.metre)}>"
        f'<staffGrp symbol="bracket">{defs}</staffGrp></scoreDef>'
        f'<section><measure n="1" right="invis">{notes}</measure>{_FOOT}'
    )
    return systems(mei, width=120, space=space, apart=_APART, justify=False)[0]


def _metre(metre: Metre) -> str:
    if metre.symbol in ("C", "C|"):
        return f'meter.sym="{"common" if metre.symbol == "C" else "cut"}"'
    return f'meter.count="{metre.count}" meter.unit="{metre.unit}"'


def _stave(n: int, voice: str, clef: Clef, signature: Signature) -> str:
    fifths = signature.fifths
    key = f"{abs(fifths)}{'s' if fifths > 0 else 'f'}" if fifths else "0"
    return (
        f'<staffDef n="{n}" lines="5" clef.shape="{clef.letter}" clef.line="{clef.line}" keysig="{key}">'
        f"<label>{escape(voice.capitalize())}</label></staffDef>"
    )


def _note(note: Note, signature: Signature) -> str:
    pitch = note.pitch
    assert pitch is not None
    value, dots = written(note.duration) or ("4", 0)
    sign = {1: "s", -1: "f", 0: "n"}.get(pitch.alter, "")
    plain = pitch.alter == signature.alter(pitch.step)
    editorial = ' func="edit" enclose="brack"' if note.editorial else ""
    drawn = "" if plain else f'<accid accid="{sign}"{editorial}/>'
    dotted = f' dots="{dots}"' if dots else ""
    return (
        f'<note pname="{pitch.letter[0].lower()}" oct="{pitch.octave}" dur="{value}"{dotted}>{drawn}</note>'
    )
