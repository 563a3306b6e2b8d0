"""Reads MEI: one stave, one layer, with figured bass. Whole scores are read by `mei_staves`.

Source: MEI Guidelines 5.1, CMN; attributes of MEI 4 where their names differ. What is read:

- one stave; changes of clef say which voice has the line, unless a `dir` names the voices (then from
  one name to the next); clefs alone are read as in MusicXML (`builder.source.musicxml`);
- `harm` with `fb` at a time stamp (or at a note): each `f` a figure, `♯6`, `#6`, `6`, a sign alone; `–` a
  dash; in brackets or in `supplied`: the editor's; a number with a stroke is raised; a stack lasts to
  the next or to the end of its note;
- an accidental that is written holds for its bar, then the signature; one with `func="edit"` is
  the editor's and holds for its note;
- of `choice` and `app` the first of `corr`, `reg`, `lem` (else the first reading); what witnesses have, from
  every `app` (`mei_readings`); witnesses, people and pictures from header and facsimile (`mei_provenance`);
- `extMeta` may hold a source (what the music does not say), or its front matter.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import partial

from builder.music import Clef
from builder.music.time import dotted
from builder.source.encoded import (
    SINGLE,
    Encoded,
    Event,
    Stack,
    clef_of,
    fill_upbeat,
    usable_tempo,
    verset,
    voice_named,
)
from builder.source.errors import Faults, named
from builder.source.lost import kept_by, losses
from builder.source.mei_provenance import provenance_of
from builder.source.mei_readings import apparatus_of
from builder.source.mei_staves import is_whole, whole_of
from builder.source.mei_symbols import (
    BESIDE,
    DURATIONS,
    InForce,
    bars_of,
    figures_of,
    items,
    key_of,
    metre_of,
    offset_of,
    pitch_of,
    tempo_of,
    unread,
)
from builder.source.strands import verset_of
from builder.source.verset import Verset
from builder.source.xmltree import Element, read_xml


@dataclass(slots=True)
class _State:
    """Where the reading has come to."""

    said: Encoded
    ties: set[str]
    clef: Clef | None = None
    clef_told: bool = False
    named: str = ""
    bar: int = 0
    now: Fraction | None = None
    """The place in the bar, where a layer is read and the first bar has no pick-up."""
    force: InForce = field(default_factory=InForce)
    events: list[Event] = field(default_factory=list)

    def wrong(self, at: Element, found: str, expected: str) -> None:
        self.said.wrong(at, found, expected, self.bar or None, self.now)


def parse_mei(data: bytes, path: str = "verset.mei") -> Verset:
    """Read an MEI document; `SourceErrors` with all that is wrong with it."""
    faults = Faults(path)
    root = read_xml(data, faults)
    for measure in root.within("measure"):
        # the stave stands among the others; what may be played instead goes behind it
        measure.children = [
            part
            for child in measure.children
            for part in (child.children if child.tag == "ossia" else [child])
        ]
    said = Encoded(path, root, faults)
    score = root.first("music", "body", "mdiv", "score")
    if root.tag != "mei" or score is None:
        said.wrong(root, f"a document <{root.tag}> without a score", "MEI: mei, music, body, mdiv, score")
        faults.stop()
        raise AssertionError("a document without a score has an error")
    said.title = _title(root)
    said.front = next((x for x in root.within("extMeta") if "verset:" in x.raw()), None)
    if is_whole(score):
        whole = whole_of(score, said)
        read = verset_of(whole)
        return replace(read, lost=(*read.lost, *losses([root], whole.numbers)))
    ties = {tie.get("startid").lstrip("#") for tie in score.within("tie")}
    state = _State(said, ties)
    for element in _flow(score):
        if element.tag == "measure":
            _measure(element, state)
        else:
            _definition(element, state)
    read = verset(said)
    found = apparatus_of(root, read, said)
    faults.stop()
    if said.front is None:
        read = replace(read, provenance=provenance_of(root))
    return replace(
        read,
        # a file that has lost its apparatus keeps what it carries
        variants=tuple(found.variants) or read.variants,
        readings=tuple(found.readings) or read.readings,
        lost=(*losses([root], kept=kept_by(read)), *found.lost),
    )


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
    for place in (at, *(s for s in staves if s is not at)):
        _metre(place, state)
        _signature(place, state)
        for clef in (place, *place.all("clef")):
            shape, line = ("shape", "line") if clef.tag == "clef" else ("clef.shape", "clef.line")
            if clef.get(shape):
                _clef(clef, shape, line, state)
        if place.get("midi.bpm") and state.said.tempo is None:
            state.said.tempo = usable_tempo(Fraction(1), place.get("midi.bpm"))


def _metre(at: Element, state: _State) -> None:
    found = metre_of(at, state.wrong)
    if found:
        if state.said.metre not in (None, found[0]):
            state.wrong(found[1], "a change of metre", "one metre for a verset")
        state.said.metre = state.said.metre or found[0]


def _signature(at: Element, state: _State) -> None:
    found = key_of(at, state.wrong)
    if found:
        before = state.said.signature_so_far(first=not state.bar)
        if before not in (None, found[0]):
            state.wrong(found[1], "a change of signature", "one signature for a verset")
        state.said.signature = state.force.signature = before or found[0]


def _clef(at: Element, shape: str, line: str, state: _State) -> None:
    if at.get("dis") or at.get("clef.dis"):
        state.wrong(at, "a clef with an octave sign", "a plain clef")
    state.clef = clef_of(at.get(shape), at.get(line), at, state.said, state.bar or None)
    state.clef_told = state.clef is None


def _measure(measure: Element, state: _State) -> None:
    state.bar += 1
    state.events, state.force.signs = [], {}
    staves = measure.all("staff")
    layers = [layer for staff in staves for layer in staff.all("layer") if layer.get("type") != BESIDE]
    names = _names(measure, state)
    upbeat = state.bar == 1 and measure.get("metcon") == "false"
    for item in items(layers[0]) if layers else ():
        state.now = None if upbeat else sum((e.length for e in state.events if e.length), Fraction(0))
        _item(item, state, names)
    state.now = None
    for mark in measure.all("tupletSpan"):
        state.wrong(mark, "a tuplet", SINGLE)
    if not state.events:
        state.wrong(measure, "an empty bar", "notes or rests")
        state.events.append(Event(measure, None, rest=True, clef=state.clef))
    stacks = list(_stacks(measure, state))
    if upbeat:
        fill_upbeat(measure, state.said, state.events, stacks)
    state.said.bars.append(state.events)
    state.said.stacks.append(stacks)
    for _ in range(_rests_more(layers)):
        state.bar += 1
        state.said.bars.append([replace(state.events[-1])])
        state.said.stacks.append([])
    for mark in measure.all("tempo"):
        state.said.tempo = state.said.tempo or tempo_of(mark)


def _rests_more(layers: list[Element]) -> int:
    """How many bars of rest a bar stands for beside its own."""
    counts = [item.get("num") for item in (items(layers[0]) if layers else ()) if item.tag == "multiRest"]
    return bars_of(counts[0]) - 1 if counts else 0


def _names(measure: Element, state: _State) -> dict[Fraction, str]:
    """Voices named in a bar by the time at which they are."""
    found = {}
    for words in measure.all("dir"):
        voice = voice_named(words.text())
        if voice:
            found[offset_of(words, state.said.metre, partial(_named_at, state)) or Fraction(0)] = voice
    return found


def _item(item: Element, state: _State, names: dict[Fraction, str]) -> None:
    now = sum((e.length for e in state.events if e.length), Fraction(0))
    if item.tag == "clef":
        _clef(item, "shape", "line", state)
    elif item.tag in ("mRest", "mSpace", "multiRest"):
        metre = state.said.metre
        length = metre.bar if metre else None
        state.events.append(Event(item, length, rest=True, clef=state.clef, named=state.named))
    elif item.tag in ("note", "rest", "space"):
        for time in sorted(t for t in names if t <= now):
            state.named = names.pop(time)
        _note(item, state)
    elif item.tag == "graceGrp":
        state.wrong(item, "a grace note", "notes of full value")
    elif found := unread(item):
        state.wrong(item, found, "single notes and rests, in values with at most two dots")
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
        read = pitch_of(at, state.force, state.wrong)
        if read is not None:
            event.pitch, event.editorial = read
            event.tied = at.get("id") in state.ties or any(mark in at.get("tie") for mark in "im")
        if state.clef is None and not state.clef_told:
            state.wrong(at, "a note before any clef", "a clef in the definition of the stave")
            state.clef_told = True
    state.events.append(event)
    state.force.held = (event.pitch, event.editorial) if event.tied and event.pitch else None


def _named_at(state: _State, name: str) -> Fraction | None:
    """When the note with an id begins in its bar."""
    now = Fraction(0)
    for event in state.events:
        if name and name == event.at.get("id"):
            return now
        now += event.length or 0
    return None


def _stacks(measure: Element, state: _State) -> Iterator[Stack]:
    for harm in measure.all("harm"):
        stack = figures_of(harm, state.said.metre, partial(_named_at, state), state.wrong)
        if stack:
            yield stack
