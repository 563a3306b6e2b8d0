"""The frame of an MEI document: header, score definition, measures.

Source: MEI Guidelines 5.1, CMN customization.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterable
from fractions import Fraction
from functools import cache

from builder.music import Bar, Clef, Metre, Pitch, Score, Signature, written
from builder.music.pitch import STEPS

NAMESPACE = "http://www.music-encoding.org/ns/mei"
VERSION = "5.1"
XML_ID = "{http://www.w3.org/XML/1998/namespace}id"

SIGNS = {1: "s", -1: "f", 0: "n", 2: "x", -2: "ff"}
"""MEI's names of the accidentals by alteration in semitones."""

_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_VALUES = {"longa": "long"}
_SYMBOLS = {"C": "common", "C|": "cut"}


def element(
    tag: str, *children: ET.Element | None, text: str = "", id: str = "", **attributes: str
) -> ET.Element:
    """An element with its children; underscores in attribute names stand for dots.

    >>> ET.tostring(element("note", element("accid", accid="s"), id="x", stem_dir="up")).decode()
    '<note xml:id="x" stem.dir="up"><accid accid="s" /></note>'
    """
    made = ET.Element(tag, {XML_ID: id} if id else {})
    for name, value in attributes.items():
        if value:
            made.set(name.rstrip("_").replace("_", "."), xml_text(value))
    made.text = xml_text(text) or None
    made.extend([child for child in children if child is not None])
    return made


def xml_text(text: str) -> str:
    """A text without the characters that XML has no way to write (XML 1.0, production 2).

    >>> xml_text("A\x07 & B")
    'A & B'
    """
    return _NOT_XML.sub("", text)


@cache
def _written(length: Fraction) -> tuple[str, int] | None:
    return written(length)


def duration(length: Fraction) -> dict[str, str]:
    """The attributes that write a length; `ValueError` when no single value writes it.

    >>> duration(Fraction(3)), duration(Fraction(8))
    ({'dur': '2', 'dots': '1'}, {'dur': 'breve', 'dots': ''})
    """
    found = _written(length)
    if found is None:
        raise ValueError(f"no single value writes {length} quarter notes: notate the score first")
    value, dots = found
    return {"dur": _VALUES.get(value, value), "dots": str(dots) if dots else ""}


def pitch(of: Pitch) -> dict[str, str]:
    """The attributes of a pitch without its accidental.

    >>> pitch(Pitch.parse("F#4"))
    {'pname': 'f', 'oct': '4'}
    """
    return {"pname": STEPS[of.step].lower(), "oct": str(of.octave)}


def clef(of: Clef) -> dict[str, str]:
    """The attributes of a clef on a staff definition."""
    return {"clef_shape": of.letter, "clef_line": str(of.line)}


def keysig(signature: Signature) -> str:
    """The signature as MEI counts it: `1f`, `2s`, `0`."""
    fifths = signature.fifths
    return f"{abs(fifths)}{'s' if fifths > 0 else 'f'}" if fifths else "0"


def score_definition(metre: Metre, signature: Signature, staves: ET.Element) -> ET.Element:
    """Signature, metre and the group of staves."""
    return element(
        "scoreDef",
        staves,
        keysig=keysig(signature),
        meter_sym=_SYMBOLS.get(metre.symbol, ""),
        meter_count=str(metre.count),
        meter_unit=str(metre.unit),
    )


def beats(metre: Metre, bar: Bar, onset: Fraction) -> str:
    """A time as MEI's time stamp: beats of the metre's unit, the first being 1.

    >>> from builder.music import Metre
    >>> second = Bar(2, Fraction(4), Fraction(4))
    >>> beats(Metre.parse("C"), second, Fraction(13, 2)), beats(Metre.parse("2/2"), second, Fraction(6))
    ('3.5', '2')
    """
    at = (onset - bar.onset) / metre.beat + 1
    return str(at.numerator) if at.denominator == 1 else f"{float(at):.6f}".rstrip("0")


def measure(score: Score, bar: Bar, parts: Iterable[ET.Element]) -> ET.Element:
    """One bar: staves, then what belongs to the bar as a whole. The last bar of a piece closes
    with the final barline; a bar longer or shorter than the metre says so; one that is cut off has no
    bar line behind it."""
    last = bar is score.bars[-1] and score.closed
    cut = bar.skipped + bar.length < score.metre.bar
    return element(
        "measure",
        *parts,
        n=str(bar.number),
        right="end" if last else "invis" if cut else "",
        metcon="false" if bar.length != score.metre.bar else "",
    )


def header(title: str) -> ET.Element:
    """The least header that is valid; the edition writes a full one."""
    return element(
        "meiHead",
        element(
            "fileDesc",
            element("titleStmt", element("title", text=title)),
            element("pubStmt", element("unpub")),
        ),
    )


def document(score: Score, definition: ET.Element, measures: Iterable[ET.Element]) -> ET.Element:
    """A whole MEI document."""
    section = element("section", *measures)
    body = element("body", element("mdiv", element("score", definition, section)))
    root = ET.Element("mei", {"xmlns": NAMESPACE, "meiversion": VERSION})
    root.extend([header(score.title), element("music", body)])
    return root


def text(root: ET.Element) -> str:
    """The document as text.

    >>> print(text(element("note", pname="c", oct="4")))
    <?xml version="1.0" encoding="UTF-8"?>
    <note pname="c" oct="4" />
    """
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="unicode")
