"""Reads source files from a disk: Markdown, MusicXML or MEI, one or many."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

from builder.source.errors import Faults, SourceError, SourceErrors
from builder.source.limits import LARGEST
from builder.source.mei import parse_mei
from builder.source.musicxml import parse_musicxml, unpacked
from builder.source.parse import parse
from builder.source.verset import Verset
from builder.source.xmltree import read_xml

MUSICXML = (".musicxml", ".xml", ".mxl")
MEI = (".mei",)
ENCODED = (*MUSICXML, *MEI)
"""Endings of files that are no Markdown."""


def decode(data: bytes, path: str) -> str:
    """Text of a file as UTF-8; a `SourceErrors` that names the first byte that is not.

    >>> decode("Più".encode(), "a.md")
    'Più'
    >>> try:
    ...     decode(b"title: A\\nPi\\xf9", "a.md")
    ... except SourceErrors as refused:
    ...     print(refused.errors[0].line, refused.errors[0].column, refused.errors[0].found)
    2 3 the byte 0xf9
    """
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        good = data[: error.start].decode("utf-8")
        line, column = good.count("\n") + 1, len(good) - (good.rfind("\n") + 1) + 1
        text = data.split(b"\n")[line - 1].decode("utf-8", "replace").rstrip("\r")
        found = (
            "a UTF-16 file"
            if data[:2] in (b"\xff\xfe", b"\xfe\xff")
            else f"the byte {data[error.start]:#04x}"
        )
        text = "" if found.startswith("a UTF-16") else text
        expected = "text in UTF-8: save the file again in that encoding"
        raise SourceErrors((SourceError(path, line, column, found, expected, text),)) from None


def _bytes(path: str | Path) -> bytes:
    try:
        with Path(path).open("rb") as file:
            data = file.read(LARGEST + 1)
    except (OSError, ValueError) as error:
        found = f"no file that can be read ({getattr(error, 'strerror', None) or error})"
        raise SourceErrors((SourceError(str(path), 1, 1, found, "a verset source"),)) from None
    if len(data) > LARGEST:
        found = f"a file of more than {LARGEST} bytes"
        raise SourceErrors((SourceError(str(path), 1, 1, found, "a verset source"),))
    return data


def read(path: str | Path) -> Verset:
    """Read a source file: MEI or MusicXML by its ending (`.mei`, `.musicxml`, `.xml`, `.mxl`), else
    Markdown. `SourceErrors` with all that is wrong with it.

    >>> [entry.voice for entry in read("content/versets/eighth.md").given[:1]]
    ['cantus']
    """
    ending = Path(path).suffix.lower()
    if ending in MUSICXML:
        return read_musicxml(path)
    if ending in MEI:
        return read_mei(path)
    return parse(decode(_bytes(path), str(path)), str(path))


def read_musicxml(path: str | Path) -> Verset:
    """Read a MusicXML file, plain or packed (`.mxl`): see `builder.source.musicxml`.

    >>> from pathlib import Path
    >>> from tempfile import TemporaryDirectory
    >>> from builder.edition.exchange.musicxml import given_musicxml
    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> with TemporaryDirectory() as folder:
    ...     file = Path(folder) / "two.musicxml"
    ...     _ = file.write_text(given_musicxml(verset, notated(verset.score())))
    ...     read_musicxml(file).figures == verset.figures
    True
    """
    return parse_musicxml(unpacked(_bytes(path), str(path)), str(path))


def document(path: str | Path) -> str:
    """The text of a MusicXML file, plain or packed, once it is known to be XML, of a bounded size, without
    entities of its own; `SourceErrors` when it is not.

    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     path = Path(folder) / "a.musicxml"
    ...     _ = path.write_text("<score-partwise/>")
    ...     document(path)
    '<score-partwise/>'
    """
    data = unpacked(_bytes(path), str(path))
    read_xml(data, Faults(str(path)))
    coding = "utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    return data.decode(coding, "replace")


def parts_of(path: str | Path) -> int:
    """How many parts (MusicXML) or staves (MEI) a file has; `SourceErrors` when it cannot be read.

    >>> from pathlib import Path
    >>> from tempfile import TemporaryDirectory
    >>> from builder.edition.exchange.mei import mei
    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> with TemporaryDirectory() as folder:
    ...     file = Path(folder) / "two.mei"
    ...     _ = file.write_text(mei(verset, notated(verset.score())))
    ...     parts_of(file)
    1
    """
    data = _bytes(path)
    root = read_xml(unpacked(data, str(path)), Faults(str(path)))
    staves = {staff.get("n") for staff in root.within("staffDef")}
    return len(staves) if staves else len(root.all("part"))


def read_mei(path: str | Path) -> Verset:
    """Read an MEI file: see `builder.source.mei`.

    >>> from pathlib import Path
    >>> from tempfile import TemporaryDirectory
    >>> from builder.edition.exchange.mei import mei
    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> with TemporaryDirectory() as folder:
    ...     file = Path(folder) / "two.mei"
    ...     _ = file.write_text(mei(verset, notated(verset.score())))
    ...     read_mei(file).figures == verset.figures
    True
    """
    return parse_mei(_bytes(path), str(path))


def read_all(
    paths: Iterable[str | Path], reading: Callable[[str | Path], Verset] = read
) -> tuple[tuple[Verset, ...], tuple[SourceError, ...]]:
    """Read many files: those that are right, and all errors of the others. `reading` reads one.

    >>> versets, errors = read_all(["content/versets/first.md", "no-such-file.md"])
    >>> len(versets), [error.path for error in errors]
    (1, ['no-such-file.md'])
    """
    versets: list[Verset] = []
    errors: list[SourceError] = []
    for path in paths:
        try:
            versets.append(reading(path))
        except SourceErrors as wrong:
            errors += wrong.errors
    return tuple(versets), tuple(errors)
