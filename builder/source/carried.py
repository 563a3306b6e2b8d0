"""What a file of another format carries of the source it was made from: all that MusicXML and MEI have
no words for (settings, licences, readings, pinned notes, the teacher's words)."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from builder.music import Metre, Signature
from builder.source.errors import Faults
from builder.source.front import Front, read_front
from builder.source.page import front_matter, lines_of
from builder.source.parse import parse
from builder.source.span import Span
from builder.source.verset import GivenNote, Verset
from builder.source.write import pinned_blocks, write

_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def carried_text(verset: Verset) -> str:
    """The source as a file of another format carries it: whole, without characters that XML has not.

    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> "cantus C1 | D5/2" in carried_text(verset)
    True
    """
    return _NOT_XML.sub("", write(verset))


@dataclass(frozen=True, slots=True)
class Carried:
    """What a file carries: its front matter, and the whole source where it carries that."""

    front: Front = field(default_factory=Front)
    source: Verset | None = None


def read_carried(text: str, metre: Metre | None, signature: Signature) -> Carried:
    """Read what a file carries beside music in this metre and signature; `SourceErrors` with all that is
    wrong with it."""
    whole = text.strip()
    lines = lines_of(whole)
    count = front_matter(lines)
    faults = Faults("verset.md")
    front = read_front(text.strip("\n") if count is None else "\n".join(lines[1 : count - 1]), faults)
    if front and metre and front.metre and front.metre != metre:
        faults.add(1, 1, f"the metre {front.metre.symbol}", f"{metre.symbol}, as the music has")
    if front and front.signature and front.signature != signature:
        faults.add(1, 1, f"the signature {front.signature}", f"{signature}, as the music has")
    faults.stop()
    return Carried(front or Front(), None if count is None else parse(whole))


def joined(line: Verset, carried: Carried, at: Span) -> Verset:
    """The line as the file's music has it, with all that the file carries. `at`: where the carried text
    stands. Where someone has changed the music, what was pinned and noted must still fit it:
    `SourceErrors` when it does not."""
    front, source = carried.front, carried.source
    if source is None:
        return replace(
            line,
            title=front.title or line.title,
            tone=front.tone,
            tempo=front.tempo or line.tempo,
            settings=front.asked(),
            licences=front.licences,
            from_start=front.from_start,
            readings=front.readings,
            provenance=front.provenance,
            playing=front.playing,
        )
    same = line.bars == source.bars and list(_heard(line)) == list(_heard(source))
    if not same:
        beside = tuple(pin for pin in source.pins if pin.beside)
        changed = replace(source, bars=line.bars, given=line.given, pins=beside)
        parse("\n\n".join((write(changed), *pinned_blocks(source))))
    # the carried line tells in which values its rests are written
    given = _placed(source.given, line.given, at) if same else line.given
    starts = {g.note.onset for g in given}
    return replace(
        source,
        name=line.name,
        path=line.path,
        bars=line.bars,
        given=given,
        cuts=tuple(replace(cut, span=at) for cut in source.cuts if cut.onset in starts),
        pins=tuple(replace(pin, spans=(at,) * len(pin.notes)) for pin in source.pins),
        licences=tuple(replace(x, span=at) for x in source.licences),
        readings=tuple(replace(x, span=at) for x in source.readings),
        variants=tuple(replace(x, span=at) for x in source.variants),
        fingers=tuple(replace(x, span=at) for x in source.fingers),
        ossias=tuple(replace(x, span=at) for x in source.ossias),
        headings=dict.fromkeys(source.words, at),
    )


def _heard(verset: Verset) -> Iterator[tuple[object, ...]]:
    """The notes with their figures; silences may be divided otherwise from format to format."""
    for g in verset.given:
        if g.note.pitch:
            yield g.voice, g.clef, g.note, tuple((f.onset, f.duration, f.signs, f.dash) for f in g.figures)


def _placed(given: tuple[GivenNote, ...], music: tuple[GivenNote, ...], at: Span) -> tuple[GivenNote, ...]:
    """The line with the places of its notes in the file."""
    spans = {g.note.onset: g.span for g in music if g.note.pitch}
    return tuple(replace(g, span=spans.get(g.note.onset, at)) for g in given)
