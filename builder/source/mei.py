"""Reads MEI: one stave, one layer, with figured bass.

Source: MEI Guidelines 5.1, CMN; attributes of MEI 4 where their names differ. What is read:

- one stave; changes of clef say which voice has the line, unless a `dir` names the voices (then from
  one name to the next); clefs alone are read as in MusicXML (`builder.source.musicxml`);
- `harm` with `fb` at a time stamp (or at a note): each `f` a figure, `♯6`, `#6`, `6`, a sign alone; `–` a
  dash; in brackets or in `supplied`: the editor's; a number with a stroke is raised; a stack lasts to
  the next or to the end of its note;
- an accidental that is written holds for its bar, then the signature; one with `func="edit"` is
  the editor's and holds for its note;
- of `choice` and `app` the first of `corr`, `reg`, `lem` (else the first reading);
- `extMeta` may hold a source (what the music does not say), or its front matter.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction

from builder.music import Clef, FigureSign, Metre, Pitch
from builder.music.pitch import STEPS
from builder.music.time import VALUES, dotted
from builder.source.encoded import (
    Encoded,
    Event,
    Stack,
    clef_of,
    signature_of,
    usable_tempo,
    verset,
    voice_named,
)
from builder.source.errors import Faults, named, shorten
from builder.source.lost import losses
from builder.source.verset import Verset
from builder.source.xmltree import Element, read_xml

ALTER = {"s": 1, "f": -1, "n": 0, "x": 2, "ss": 2, "ff": -2}
DURATIONS = {**VALUES, "long": VALUES["longa"]}
PLAIN = str.maketrans({"♯": "#", "♭": "b", "♮": "n", "–": "-", "—": "-", "−": "-"})
STROKES = "\u0337\u0338"
"""Combining strokes: a number with one is raised."""
_WRAPPERS = ("beam", "ligature", "supplied", "unclear", "add", "damage", "corr", "reg", "lem", "rdg")


@dataclass(slots=True)
class _State:
    """Where the reading has come to. `signs` are the accidentals written in the bar so far."""

    said: Encoded
    ties: set[str]
    clef: Clef | None = None
    clef_told: bool = False
    named: str = ""
    bar: int = 0
    held: Event | None = None
    signs: dict[int, int] = field(default_factory=dict)
    events: list[Event] = field(default_factory=list)

    def wrong(self, at: Element, found: str, expected: str) -> None:
        self.said.wrong(at, found, expected, self.bar or None)


def parse_mei(data: bytes, path: str = "verset.mei") -> Verset:
    """Read an MEI document; `SourceErrors` with all that is wrong with it."""
    faults = Faults(path)
    root = read_xml(data, faults)
    said = Encoded(path, root, faults)
    score = root.first("music", "body", "mdiv", "score")
    if root.tag != "mei" or score is None:
        said.wrong(root, f"a document <{root.tag}> without a score", "MEI: mei, music, body, mdiv, score")
        faults.stop()
        raise AssertionError("a document without a score has an error")
    said.title = _title(root)
    said.front = next((x for x in root.within("extMeta") if "verset:" in x.raw()), None)
    ties = {tie.get("startid").lstrip("#") for tie in score.within("tie")}
    state = _State(said, ties)
    for element in _flow(score):
        if element.tag == "measure":
            _measure(element, state)
        else:
            _definition(element, state)
    return replace(verset(said), lost=losses([root]))


def _title(root: Element) -> str:
    for path in (("meiHead", "workList", "work", "title"), ("meiHead", "fileDesc", "titleStmt", "title")):
        if title := root.text(*path):
            return title
    return ""


def _flow(score: Element) -> Iterator[Element]:
    """Definitions and measures in order, through sections and endings."""
    for child in score.children:
        if child.tag in ("scoreDef", "staffDef", "measure"):
            yield child
        elif child.tag in ("section", "ending", "supplied", "expansion"):
            yield from _flow(child)


def _definition(at: Element, state: _State) -> None:
    """Metre, signature, clef and tempo, as attributes or as elements."""
    staves = [at] if at.tag == "staffDef" else list(at.within("staffDef"))
    if len({s.get("n") for s in staves}) > 1:
        state.wrong(staves[1], f"{len(staves)} staves", "one stave: the given line with its figures")
        return
    for place in (at, *(s for s in staves if s is not at)):
        _metre(place, state)
        _signature(place, state)
        for clef in (place, *place.all("clef")):
            shape, line = ("shape", "line") if clef.tag == "clef" else ("clef.shape", "clef.line")
            if clef.get(shape):
                _clef(clef, shape, line, state)
        if place.get("trans.semi") not in ("", "0"):
            state.wrong(place, "a transposing stave", "one stave at sounding pitch")
        if place.get("midi.bpm") and state.said.tempo is None:
            state.said.tempo = usable_tempo(Fraction(1), place.get("midi.bpm"))


def _metre(at: Element, state: _State) -> None:
    child = at.first("meterSig")
    source, prefix = (child, "") if child else (at, "meter.")
    symbol = {"common": "C", "cut": "C|"}.get(source.get(f"{prefix}sym"), "")
    count, unit = source.get(f"{prefix}count"), source.get(f"{prefix}unit")
    if not (symbol or count or unit):
        return
    try:
        metre = Metre.parse(symbol or f"{count}/{unit}")
    except ValueError:
        state.wrong(source, f"the metre {named(f'{count}/{unit}')}", "C, C| or a fraction such as 3/2")
        return
    if state.said.metre is not None and state.said.metre != metre:
        state.wrong(source, "a change of metre", "one metre for a verset")
    state.said.metre = metre


def _signature(at: Element, state: _State) -> None:
    child = at.first("keySig")
    text = (child.get("sig") if child else "") or at.get("keysig") or at.get("key.sig")
    if not text:
        return
    match = re.fullmatch(r"0|([1-7])([sf])", text)
    if not match:
        state.wrong(child or at, f"the signature {shorten(text)}", "up to seven sharps or flats, such as 1f")
        return
    fifths = int(match[1] or 0) * (1 if match[2] == "s" else -1)
    if state.said.signature is not None and state.said.signature != signature_of(fifths):
        state.wrong(child or at, "a change of signature", "one signature for a verset")
    state.said.signature = signature_of(fifths)


def _clef(at: Element, shape: str, line: str, state: _State) -> None:
    if at.get("dis") or at.get("clef.dis"):
        state.wrong(at, "a clef with an octave sign", "a plain clef")
    state.clef = clef_of(at.get(shape), at.get(line), at, state.said, state.bar or None)
    state.clef_told = state.clef is None


def _measure(measure: Element, state: _State) -> None:
    state.bar += 1
    state.events, state.signs = [], {}
    staves = measure.all("staff")
    layers = [layer for staff in staves for layer in staff.all("layer")]
    if len(layers) > 1:
        state.wrong(layers[1], "a second stave or layer", "one stave, one layer: the given line")
    names = _names(measure, state)
    for item in _items(layers[0]) if layers else ():
        _item(item, state, names)
    if not state.events:
        state.wrong(measure, "an empty bar", "notes or rests")
        state.events.append(Event(measure, None, rest=True, clef=state.clef))
    state.said.bars.append(state.events)
    state.said.stacks.append(list(_stacks(measure, state)))
    for mark in measure.all("tempo"):
        unit = DURATIONS.get(mark.get("mm.unit"))
        if unit and state.said.tempo is None:
            dots = mark.get("mm.dots")
            beat = dotted(unit, int(dots) if dots in ("1", "2") else 0)
            state.said.tempo = usable_tempo(beat, mark.get("mm"))


def _names(measure: Element, state: _State) -> dict[Fraction, str]:
    """Voices named in a bar by the time at which they are."""
    found = {}
    for words in measure.all("dir"):
        voice = voice_named(words.text())
        if voice:
            found[_offset(words, state) or Fraction(0)] = voice
    return found


def _items(parent: Element) -> Iterator[Element]:
    """Notes, rests and clefs in order, out of beams and editorial markup."""
    for child in parent.children:
        if child.tag in ("choice", "app"):
            chosen = [c for tag in ("corr", "reg", "lem") for c in child.all(tag)] or child.children
            yield from _items(chosen[0]) if chosen else ()
        elif child.tag in _WRAPPERS:
            yield from _items(child)
        else:
            yield child


def _item(item: Element, state: _State, names: dict[Fraction, str]) -> None:
    now = sum((e.length for e in state.events if e.length), Fraction(0))
    if item.tag == "clef":
        _clef(item, "shape", "line", state)
    elif item.tag in ("mRest", "mSpace"):
        metre = state.said.metre
        length = metre.bar if metre else None
        state.events.append(Event(item, length, rest=True, clef=state.clef, named=state.named))
    elif item.tag in ("note", "rest", "space"):
        for time in sorted(t for t in names if t <= now):
            state.named = names.pop(time)
        _note(item, state)
    elif item.tag in ("chord", "tuplet", "bTrem", "fTrem", "multiRest"):
        state.wrong(item, f"<{item.tag}>", "single notes and rests, in values with at most two dots")
        state.events.append(Event(item, None, rest=True, clef=state.clef))


def _note(at: Element, state: _State) -> None:
    value, dots = DURATIONS.get(at.get("dur")), at.get("dots") or str(len(at.all("dot")))
    length = dotted(value, int(dots)) if value is not None and dots in ("0", "1", "2") else None
    if at.get("grace"):
        state.wrong(at, "a grace note", "notes of full value")
        return
    if length is None:
        written = f"{named(at.get('dur'))} with {named(dots)} dots" if at.get("dur") else "none"
        state.wrong(at, f"the value {written}", "breve, 1, 2, 4 … with at most two dots")
    event = Event(at, length, rest=at.tag != "note", clef=state.clef, named=state.named)
    if not event.rest:
        _pitched(at, event, state)
        if state.clef is None and not state.clef_told:
            state.wrong(at, "a note before any clef", "a clef in the definition of the stave")
            state.clef_told = True
    state.events.append(event)
    state.held = event if event.tied else None


def _pitched(at: Element, event: Event, state: _State) -> None:
    step, octave = at.get("pname").upper(), at.get("oct")
    if step not in tuple(STEPS) or not (octave.isascii() and octave.isdigit() and len(octave) == 1):
        state.wrong(
            at,
            f"the pitch {named(step + octave)}" if step or octave else "no pitch",
            "a name from a to g and an octave from 0 to 9",
        )
        return
    diatonic = int(octave) * 7 + STEPS.index(step)
    accidentals = [at, *at.within("accid")]
    written = next((a.get("accid") for a in accidentals if a.get("accid")), "")
    sounding = next((a.get("accid.ges") for a in accidentals if a.get("accid.ges")), "")
    editorial = any(a.get("func") == "edit" for a in accidentals if a.get("accid"))
    for name in (written, sounding):
        if name and name not in ALTER:
            state.wrong(at, f"the accidental {shorten(name)}", "s, f, n, x or ff")
            return
    held = state.held
    unsaid = not (written or sounding)
    if unsaid and held is not None and held.pitch is not None and held.pitch.diatonic == diatonic:
        event.pitch, event.editorial = held.pitch, held.editorial
    else:
        signature = state.said.signature
        meant = state.signs.get(diatonic, signature.alter(diatonic % 7) if signature else 0)
        if sounding or written:
            meant = ALTER[sounding or written]
        event.pitch, event.editorial = Pitch(diatonic, meant), editorial
    if written and not editorial:
        state.signs[diatonic] = ALTER[written]
    event.tied = at.get("id") in state.ties or any(mark in at.get("tie") for mark in "im")


def _offset(at: Element, state: _State) -> Fraction | None:
    """The time of something in its bar: by time stamp, or by the note it names."""
    stamp, unit = at.get("tstamp"), state.said.metre.beat if state.said.metre else Fraction(1)
    if re.fullmatch(r"[0-9]{1,3}(\.[0-9]{1,9})?", stamp):
        return (Fraction(stamp).limit_denominator(64) - 1) * unit
    now = Fraction(0)
    for event in state.events:
        if at.get("startid") and at.get("startid").lstrip("#") == event.at.get("id"):
            return now
        now += event.length or 0
    return None


def _stacks(measure: Element, state: _State) -> Iterator[Stack]:
    for harm in measure.all("harm"):
        stack = next(harm.within("fb"), None)
        if stack is None:
            continue
        offset = _offset(harm, state)
        if offset is None:
            state.wrong(harm, "figures without a time", "a tstamp, or the startid of a note in this bar")
            continue
        rows = list(_rows(stack, False))
        if [text for _, text, _ in rows] == ["-"]:
            yield Stack(harm, offset, (), True)
            continue
        signs = [sign for row in rows if (sign := _sign(*row, state)) is not None]
        if len({s.number for s in signs}) < len(signs):
            state.wrong(harm, "one figure twice in a stack", "each interval once")
        elif signs:
            yield Stack(harm, offset, tuple(signs))


def _rows(parent: Element, supplied: bool) -> Iterator[tuple[Element, str, bool]]:
    """The figures of a stack from the top: element, plain text, whether the editor's."""
    for child in parent.children:
        if child.tag == "f":
            text = child.text().translate(PLAIN).replace(" ", "")
            brackets = re.fullmatch(r"[(\[](.*)[)\]]", text)
            yield child, brackets[1] if brackets else text, supplied or bool(brackets)
        else:
            yield from _rows(child, supplied or child.tag == "supplied")


def _sign(at: Element, text: str, editorial: bool, state: _State) -> FigureSign | None:
    plain = text.strip(STROKES)
    if plain != text and plain.isdigit():
        plain = f"#{plain}"
    match = re.fullmatch(r"(##|bb|[#bn+]?)(1[0-2]|[2-9])|(1[0-2]|[2-9])([#bn+])|(##|bb|[#bn])", plain)
    if not match:
        state.wrong(at, f"the figure {shorten(text)}", "2 to 12, with or without ♯ ♭ ♮, or such a sign")
        return None
    if match[5]:
        return FigureSign(3, match[5], lone=True, editorial=editorial)
    sign = (match[1] or match[4] or "").replace("+", "#")
    return FigureSign(int(match[2] or match[3]), sign, editorial=editorial)
