"""The errata sheet: what changed between two releases, by verset, version, bar and voice, and by reading.

Read from the MEI files of both archives, whose notes tell version, voice and bar in their ids.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

from builder.edition.apparatus import value_name
from builder.edition.release.changes import in_order, version_of
from builder.engraving.tree import NAMESPACE, SIGNS, XML_ID
from builder.language.texts import EditionTexts, opened
from builder.music import VOICES, Pitch
from builder.music.time import VALUES, dotted
from builder.source.errors import Faults, SourceErrors
from builder.source.xmltree import read_xml

_NOTE = re.compile(r"([a-z0-9-]+?)-(cantus|altus|tenor|bassus)-(\d+)-\d+")
_ALTERS = {name: alter for alter, name in SIGNS.items()}
_VALUES = VALUES | {"long": VALUES["longa"]}
_MOST = 400
"""Lines of a sheet; what is beyond is counted."""
Place = tuple[int, str]
"""Bar and voice; the figures, and what holds for all voices from a bar on, have places of their own."""
FIGURES = "figures"
HEADS = ("metre", "signature", "tempo", "clef")
"""What holds from a bar on."""


@dataclass(slots=True)
class Music:
    """What one MEI file says: notes by bar and voice, figures by bar, readings by bar in their order."""

    notes: dict[Place, list[str]] = field(default_factory=dict)
    readings: dict[int, list[str]] = field(default_factory=dict)


def music(text: str, w: EditionTexts) -> Music:
    """Read an MEI file; nothing of one that is none."""
    try:
        read_xml(text.encode(), Faults("-"))  # refuses entities and what is nested without end
        root = ET.fromstring(text.replace(f' xmlns="{NAMESPACE}"', "", 1))
    except (SourceErrors, ET.ParseError):
        return Music()
    found = Music()
    ahead: list[ET.Element] = []
    for measure in root.iter():
        if measure.tag != "measure":
            if measure.tag in ("scoreDef", "staffDef", "meterSig", "keySig"):
                ahead.append(measure)  # holds from the next bar on
            continue
        bar = int(measure.get("n", "0")) if measure.get("n", "0").isdecimal() else 0
        at_end = [e for layer in measure.iter("layer") for e in layer[-1:] if e.tag == "clef"]
        within = [e for e in measure.iter() if e.tag in ("tempo", "clef") and e not in at_end]
        for key, told in _heads([*ahead, *within], w):
            found.notes.setdefault((bar, key), []).append(told)
        ahead = at_end  # a clef behind the last note is that of the next bar
        for note in measure.findall("staff//note"):
            if match := _NOTE.fullmatch(note.get(XML_ID, "")):
                found.notes.setdefault((bar, match[2]), []).append(_note(note, w))
        for harm in measure.findall("harm"):
            told = "/".join("".join(f.itertext()) for f in harm.iter("f"))
            if told:
                found.notes.setdefault((bar, FIGURES), []).append(told)
        for app in measure.findall("app"):
            found.readings.setdefault(bar, []).append(_reading(app, w))
    return found


def _heads(elements: Iterable[ET.Element], w: EditionTexts) -> Iterator[tuple[str, str]]:
    """Metre, signature, tempo and clefs that elements say, each with its place."""
    for e in elements:
        symbol, count = e.get("meter.sym") or e.get("sym"), e.get("meter.count") or e.get("count")
        if symbol or count:
            unit = e.get("meter.unit") or e.get("unit")
            yield "metre", {"common": "C", "cut": "C|"}.get(symbol or "", f"{count}/{unit}")
        if signature := e.get("keysig") or (e.get("sig") if e.tag == "keySig" else None):
            yield "signature", _signature(signature, w)
        if e.get("mm"):
            value = _VALUES.get(e.get("mm.unit", "4"), Fraction(1))
            yield "tempo", f"{value_name(dotted(value, int(e.get('mm.dots', '0'))), w)} = {e.get('mm')}"
        shape = e.get("clef.shape") or e.get("shape")
        if shape and e.tag in ("staffDef", "clef"):
            yield "clef", f"{shape}{e.get('clef.line') or e.get('line', '')}"


def _signature(coded: str, w: EditionTexts) -> str:
    """`2f` as the signs that stand there.

    >>> from builder.language.texts import edition_texts
    >>> _signature("2f", edition_texts("en")), _signature("0", edition_texts("en"))
    ('B♭ and E♭', 'nothing')
    """
    count = int(coded[:-1]) if coded[:-1].isdecimal() else 0
    steps, sign = ("FCGDAEB", "#") if coded.endswith("s") else ("BEADGCF", "b")
    return w.listing([w.written(f"{step}{sign}") for step in steps[:count]]) or w("provenance.nothing")


def _note(note: ET.Element, w: EditionTexts) -> str:
    signs = [e.get("accid") or e.get("accid.ges") for e in (note, *note.iter("accid"))]
    alter = next((_ALTERS.get(s, 0) for s in signs if s), 0)
    name = f"{note.get('pname', '').upper()}{'#' * alter}{'b' * -alter}{note.get('oct', '')}"
    value = _VALUES.get(note.get("dur", ""), Fraction(0))
    length = dotted(value, int(note.get("dots", "0")))
    return f"{_pitch(name, w)} ({value_name(length, w)})"


def _pitch(name: str, w: EditionTexts) -> str:
    try:
        return w.written(Pitch.parse(name))
    except ValueError:
        return name  # of a file that another program wrote


def _reading(app: ET.Element, w: EditionTexts) -> str:
    """Witnesses, their notes, what is said."""
    told = []
    for reading in app.findall("rdg"):
        sigla = " ".join(s.removeprefix("#source-") for s in reading.get("source", "").split())
        notes = [_note(n, w) for n in reading.findall("note")]
        words = [text for p in reading.iter("p") if (text := "".join(p.itertext()).strip())]
        told.append(f"{sigla}: {' '.join(notes) or w('provenance.nothing')} {' '.join(words)}".strip(" :"))
    return "; ".join(told)


def is_errata_source(name: str) -> bool:
    """Whether a file is one that the sheet is read from: those on two staves have the same notes once more.

    >>> is_errata_source("a-plain.mei"), is_errata_source("a-plain-keyboard.mei")
    (True, False)
    """
    return name.endswith(".mei") and not name.endswith("-keyboard.mei")


def encodings(path: Path) -> dict[str, str]:
    """The MEI files of an archive, by their path below its folder; none of what is no archive."""
    if path.suffix != ".zip":
        return {}
    with zipfile.ZipFile(path) as archive:
        names = [name for name in archive.namelist() if is_errata_source(name)]
        return {name.partition("/")[2]: archive.read(name).decode("utf-8", "replace") for name in names}


def errata(
    new: Mapping[str, str], old: Mapping[str, str], index: Mapping[str, Any], last: str, w: EditionTexts
) -> str:
    """The sheet as Markdown, in the language of the words. `new` and `old` are MEI files by path, `index`
    that of the new release, `last` the version of the old one."""
    lines: list[str] = []
    for verset in index["versets"]:
        told: list[str] = []
        heads = True
        own = filter(is_errata_source, verset["files"])
        for path in sorted(own, key=lambda path: in_order(version_of(path))):
            told += _changed(path, new, old, w, heads=heads)
            heads = False
        if told:
            lines += [f"## {verset['title']}", "", *(f"- {line}" for line in told), ""]
    if len(lines) > _MOST:
        lines = [*lines[:_MOST], "", f"- {w('errata.more', count=len(lines) - _MOST)}", ""]
    head = [f"# {w('errata.title', title=index['title'], version=index['version'])}", ""]
    since = [w("release.since", version=last), ""]
    return "\n".join([*head, *since, *(lines or [w("errata.nothing"), ""])])


def _changed(
    path: str, new: Mapping[str, str], old: Mapping[str, str], w: EditionTexts, *, heads: bool
) -> Iterator[str]:
    """What changed in one file; `heads`: metre, signature, tempo and clefs too, which all versions share."""
    if path not in new or path not in old or new[path] == old[path]:
        return
    now, before = music(new[path], w), music(old[path], w)
    version = w.version(version_of(path))
    order = {voice: n for n, voice in enumerate((*HEADS, *VOICES, FIGURES))}
    places = {place for place in (*now.notes, *before.notes) if heads or place[1] not in HEADS}
    for bar, voice in sorted(places, key=lambda place: (place[0], order[place[1]])):
        is_, was = (" ".join(m.notes.get((bar, voice), ())) for m in (now, before))
        if is_ != was:
            who = w.voice(voice) if voice in VOICES else w(f"errata.{voice}")
            yield _line(version, bar, who, was, is_, w)
    for bar in sorted({*now.readings, *before.readings}):
        came = [r for r in now.readings.get(bar, ()) if r not in before.readings.get(bar, ())]
        went = [r for r in before.readings.get(bar, ()) if r not in now.readings.get(bar, ())]
        if came or went:
            yield _line(version, bar, w("errata.reading"), " | ".join(went), " | ".join(came), w)


def _line(version: str, bar: int, who: str, was: str, now: str, w: EditionTexts) -> str:
    nothing = w("provenance.nothing")
    told = w("errata.line", version=version, bar=bar, who=who, was=was or nothing, now=now or nothing)
    return opened(told)
