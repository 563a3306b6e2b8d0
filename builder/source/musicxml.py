"""Reads MusicXML: one part, one voice, with figured bass. Whole scores are read by `musicxml_parts`.

Source: MusicXML 4.0, W3C Music Notation Community Group. What is read:

- one part at sounding pitch, whose notes follow one another; changes of clef say which voice has the line,
  unless words above the notes name the voices (then from one name to the next);
- clefs alone: C1 cantus, C3 altus, C4 tenor, F4 bassus; with C2, or with G2 and neither C1 nor F4, the
  high clefs: G2 cantus, C2 altus, C3 tenor, C4 or F3 bassus;
- `figured-bass` before its note: number, prefix (or suffix) sharp, flat or natural, or a slash, which
  raises; a figure without number alters the third; parentheses, or a `level` in parentheses: the
  editor's; only `extend`: a dash;
- an accidental marked editorial is the editor's;
- a first bar that is `implicit`, or has the number 0, and is short is filled with rests;
- a `miscellaneous-field` named `verset` may hold a source (what the music does not say), or its front matter.
"""

from __future__ import annotations

import io
import zipfile
import zlib
from dataclasses import dataclass, field, replace
from fractions import Fraction

from builder.music import Clef
from builder.source.encoded import (
    SINGLE,
    Encoded,
    Event,
    Stack,
    clef_of,
    fill_upbeat,
    signature_of,
    verset,
    voice_named,
)
from builder.source.errors import Faults, SourceError, SourceErrors, quoted, shorten
from builder.source.limits import LARGEST
from builder.source.lost import kept_by, losses
from builder.source.musicxml_parts import is_whole, whole_of
from builder.source.musicxml_symbols import (
    begins_late,
    metre_of,
    number,
    pitch_of,
    stack_of,
    supplied,
    tempo_of,
    tied,
)
from builder.source.strands import verset_of
from builder.source.verset import Verset
from builder.source.xmltree import Element, read_xml


@dataclass(slots=True)
class _State:
    """Where the reading of a part has come to."""

    said: Encoded
    divisions: Fraction = Fraction(1)
    clef: Clef | None = None
    clef_told: bool = False
    named: str = ""
    now: Fraction = Fraction(0)
    figured: Fraction = Fraction(0)
    bar: int = 0
    upbeat: bool = False
    """Whether the bar is the first and begins later than at its bar line."""
    events: list[Event] = field(default_factory=list)
    stacks: list[Stack] = field(default_factory=list)

    def wrong(self, at: Element, found: str, expected: str) -> None:
        offset = None if self.upbeat or at.tag == "measure" else self.now
        self.said.wrong(at, found, expected, self.bar or None, offset)


def parse_musicxml(data: bytes, path: str = "verset.musicxml") -> Verset:
    """Read a MusicXML document; `SourceErrors` with all that is wrong with it."""
    faults = Faults(path)
    root = read_xml(data, faults)
    said = Encoded(path, root, faults)
    if root.tag != "score-partwise":
        said.wrong(root, f"a document <{root.tag}>", "MusicXML with the root <score-partwise>")
        faults.stop()
    said.title = root.text("work", "work-title") or root.text("movement-title")
    said.front = next((f for f in root.within("miscellaneous-field") if f.get("name") == "verset"), None)
    parts = root.all("part")
    if not parts:
        said.wrong(root, "0 parts", "one part: the given line with its figures")
        faults.stop()
    if is_whole(root):
        whole = whole_of(root, said)
        read = verset_of(whole)
        return replace(read, lost=(*read.lost, *losses(parts, () if whole.free else whole.numbers)))
    state = _State(said)
    for measure in parts[0].all("measure"):
        _measure(measure, state)
    read = verset(said)
    return replace(read, lost=losses([root], kept=kept_by(read)))


class _Unfit(ValueError):
    """Why a packed file is no verset, in a phrase of this room."""


def unpacked(data: bytes, path: str) -> bytes:
    """The document inside a packed file (`.mxl`), or the data as it is."""
    if not data.startswith(b"PK"):
        return data
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            name = _main_file(packed, path)
            if packed.getinfo(name).file_size > LARGEST:
                raise _Unfit("a document too large for a verset")
            with packed.open(name) as file:
                # what the list of contents says of the size may be wrong
                document = file.read(LARGEST + 1)
            if len(document) > LARGEST:
                raise _Unfit("a document too large for a verset")
            return document
    except SourceErrors:
        raise
    except (
        zipfile.BadZipFile,
        zlib.error,
        LookupError,
        ValueError,
        RuntimeError,
        EOFError,
        OSError,
    ) as error:
        said = error if isinstance(error, _Unfit) else quoted(error)
        found = f"a packed file that cannot be read ({said})"
        raise SourceErrors((SourceError(path, 1, 1, found, "MusicXML, packed or plain"),)) from None


def _main_file(packed: zipfile.ZipFile, path: str) -> str:
    """The name that the container gives for the music."""
    if packed.getinfo("META-INF/container.xml").file_size > LARGEST:
        raise _Unfit("a container too large for a verset")
    faults = Faults(path)
    root = read_xml(packed.read("META-INF/container.xml"), faults)
    faults.stop()
    for file in root.within("rootfile") if root else ():
        return file.get("full-path")
    raise _Unfit("its container names no music")


def _measure(measure: Element, state: _State) -> None:
    state.bar += 1
    state.now = state.figured = Fraction(0)
    state.events, state.stacks = [], []
    state.upbeat = state.bar == 1 and begins_late(measure)
    readers = {"attributes": _attributes, "direction": _direction, "note": _note, "figured-bass": _figured}
    for child in measure.children:
        if child.tag in readers:
            readers[child.tag](child, state)
        elif child.tag == "forward":
            state.wrong(child, "<forward>", "one voice, whose notes and rests follow one another")
    if not state.events:
        state.wrong(measure, "an empty bar", "notes or rests")
        state.events.append(Event(measure, None, rest=True, clef=state.clef))
    if state.upbeat:
        fill_upbeat(measure, state.said, state.events, state.stacks)
    state.said.bars.append(state.events)
    state.said.stacks.append(state.stacks)


def _attributes(at: Element, state: _State) -> None:
    said = state.said
    if at.first("divisions"):
        found = number(at.text("divisions"))
        if found is None or found <= 0:
            state.wrong(at, f"divisions of {shorten(at.text('divisions'))}", "how many parts a quarter has")
        else:
            state.divisions = found
    for key in at.all("key"):
        fifths = number(key.text("fifths"))
        if fifths is None or fifths.denominator != 1 or abs(fifths) > 7:
            state.wrong(key, "a signature that is not in fifths", "up to seven sharps or flats")
        elif said.signature_so_far(first=state.bar < 2) not in (None, signature_of(int(fifths))):
            state.wrong(key, "a change of signature", "one signature for a verset")
        else:
            said.signature = signature_of(int(fifths))
    for time in at.all("time"):
        _time(time, state)
    for clef in at.all("clef"):
        state.clef = clef_of(clef.text("sign"), clef.text("line"), clef, said, state.bar)
        state.clef_told = state.clef is None


def _time(time: Element, state: _State) -> None:
    metre = metre_of(time, state.wrong)
    if metre:
        if state.said.metre not in (None, metre):
            state.wrong(time, "a change of metre", "one metre for a verset")
        state.said.metre = state.said.metre or metre


def _direction(at: Element, state: _State) -> None:
    """The name of a voice, or a tempo; other words are passed over."""
    for words in at.within("words"):
        state.named = voice_named(words.text()) or state.named
    state.said.tempo = state.said.tempo or tempo_of(at)


_UNWANTED = {
    "grace": ("a grace note", "notes of full value"),
    "cue": ("a cue note", "notes that sound"),
    "unpitched": ("a note without pitch", "a pitch"),
    "time-modification": ("a tuplet", SINGLE),
}


def _note(at: Element, state: _State) -> None:
    for tag, (found, expected) in _UNWANTED.items():
        if at.first(tag):
            state.wrong(at, found, expected)
            if tag in ("grace", "cue"):
                return
            state.events.append(Event(at, None, rest=True, clef=state.clef, named=state.named))
            return
    ticks = number(at.text("duration"))
    length = ticks / state.divisions if ticks and ticks > 0 else None
    if length is None:
        state.wrong(at, "a note without a duration", "a duration above nought")
    event = Event(at, length, clef=state.clef, named=state.named)
    if at.first("rest"):
        event.rest = True
    else:
        event.pitch = pitch_of(at, state.wrong)
        event.tied, event.editorial = tied(at), supplied(at)
        if state.clef is None and not state.clef_told:
            state.wrong(at, "a note before any clef", "a clef in the first bar")
            state.clef_told = True
    state.events.append(event)
    state.now += length or 0
    state.figured = max(state.figured, state.now)


def _figured(at: Element, state: _State) -> None:
    """One stack; those before one note follow each other by their durations."""
    offset = max(state.now, state.figured)
    ticks = number(at.text("duration"))
    duration = ticks / state.divisions if ticks and ticks > 0 else None
    signs, dash = stack_of(at, state.wrong)
    state.figured = offset + (duration or 0)
    if signs or dash:
        state.stacks.append(Stack(at, offset, signs, dash, duration))
