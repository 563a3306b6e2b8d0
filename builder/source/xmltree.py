"""Reads XML into elements that know their line and column; refuses what could do harm.

Entities a file declares itself are refused (they can swell a small file beyond measure, or reach
for other files), and nothing outside the file is ever fetched.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from xml.parsers import expat

from builder.source.errors import Faults, quoted
from builder.source.limits import LARGEST, MOST_ELEMENTS
from builder.source.span import Span

DEEPEST = 200
"""No file of music nests its elements deeper."""


@dataclass(slots=True)
class Element:
    """One element: its name without name space, attributes, children, own text, and place."""

    tag: str
    attributes: Mapping[str, str]
    line: int
    column: int
    children: list[Element] = field(default_factory=list)
    own: list[str] = field(default_factory=list)

    def get(self, name: str) -> str:
        return self.attributes.get(name, "")

    @property
    def span(self) -> Span:
        return Span(self.line, self.column)

    def all(self, tag: str) -> list[Element]:
        return [child for child in self.children if child.tag == tag]

    def first(self, *path: str) -> Element | None:
        """The first element along a path of names."""
        here: Element | None = self
        for tag in path:
            here = next((c for c in here.children if c.tag == tag), None) if here else None
        return here

    def text(self, *path: str) -> str:
        """The text of an element and of those inside it, trimmed; empty when it is not there."""
        found = self.first(*path)
        return " ".join("".join(found._texts()).split()) if found else ""

    def raw(self) -> str:
        return "".join(self._texts())

    def _texts(self) -> Iterator[str]:
        yield from self.own
        for child in self.children:
            yield from child._texts()

    def within(self, tag: str) -> Iterator[Element]:
        """All elements of a name inside this one, in order."""
        for child in self.children:
            if child.tag == tag:
                yield child
            yield from child.within(tag)


class _Refused(Exception):
    """Something that is not read at all."""


class _Builder:
    def __init__(self) -> None:
        self.parser = expat.ParserCreate(namespace_separator=" ")
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self.start
        self.parser.EndElementHandler = self.end
        self.parser.CharacterDataHandler = self.characters
        self.parser.EntityDeclHandler = self.entity
        self.open: list[Element] = []
        self.count = 0
        self.root: Element | None = None

    def start(self, name: str, attributes: dict[str, str]) -> None:
        if len(self.open) >= DEEPEST:
            raise _Refused("elements nested too deeply")
        self.count += 1
        if self.count > MOST_ELEMENTS:
            raise _Refused(f"more than {MOST_ELEMENTS} elements")
        own = {key.rpartition(" ")[2]: value for key, value in attributes.items()}
        made = Element(
            name.rpartition(" ")[2], own, self.parser.CurrentLineNumber, self.parser.CurrentColumnNumber + 1
        )
        if self.open:
            self.open[-1].children.append(made)
        else:
            self.root = made
        self.open.append(made)

    def end(self, name: str) -> None:
        self.open.pop()

    def characters(self, text: str) -> None:
        if self.open:
            self.open[-1].own.append(text)

    def entity(self, *_: object) -> None:
        raise _Refused("an entity of the file's own")


def read_xml(data: bytes, faults: Faults) -> Element:
    """The root of a document; `SourceErrors` when it is not well-formed XML.

    >>> root = read_xml(b"<score>\\n <note>C</note>\\n</score>", Faults("a.xml"))
    >>> [(each.tag, each.text(), each.line) for each in root.children]
    [('note', 'C', 2)]
    """
    if len(data) > LARGEST:
        faults.add(1, 1, f"a file of more than {LARGEST} bytes", "a file of music")
        faults.stop()
    builder = _Builder()
    faults.lines = _lines(data)
    try:
        builder.parser.Parse(data, True)
    except _Refused as refused:
        line, column = builder.parser.CurrentLineNumber, builder.parser.CurrentColumnNumber + 1
        faults.add(line, column, str(refused), "a file of music without one")
    except (expat.ExpatError, ValueError, LookupError) as error:
        line, column = getattr(error, "lineno", 1), getattr(error, "offset", 0) + 1
        code = getattr(error, "code", None)
        said = expat.ErrorString(code) if code is not None else str(error)
        faults.add(line, column, f"no well-formed XML ({quoted(said)})", "a MusicXML or MEI file")
    faults.stop()
    assert builder.root is not None
    return builder.root


def _lines(data: bytes) -> list[str]:
    coding = "utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8"
    return data.decode(coding, "replace").replace("\r\n", "\n").replace("\r", "\n").split("\n")
