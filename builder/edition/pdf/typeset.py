"""Templates, pictures and data to PDF, through the typesetting engine.

No clock is read: the date is the one of `SOURCE_DATE_EPOCH` (reproducible-builds.org), or a fixed one.
"""

from __future__ import annotations

import datetime
import json
import os
import re
import tempfile
import unicodedata
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import typst

from builder.edition.pdf.metadata import with_metadata
from builder.language.glyphs import STAND_IN, changed, font_folders, printable, typographic

NO_DATE = datetime.datetime(1980, 1, 1, tzinfo=datetime.UTC)


def typeset(template: str, data: Mapping[str, Any], pictures: Mapping[str, str]) -> bytes:
    """Typeset `template` (a file of `builder/edition/pdf/templates`) with its data and pictures, by file
    name. Only fonts that are installed with it are used, so that every machine gives the same bytes; a
    character that none of them has is printed as `STAND_IN`. The PDF is made as PDF/A-2a (ISO 19005-2, for
    keeping) and PDF/UA-1 (ISO 14289-1, for reading aloud): the engine refuses what it knows to break them.
    What `data` has under `metadata` goes into the file's own metadata (see `with_metadata`) alone;
    a file that is not dated has no date in it.
    """
    known = dict(data.get("metadata", {}))
    with _room(pictures) as room:
        told = _in_print({name: value for name, value in data.items() if name != "metadata"})
        while True:
            (room / "data.json").write_text(json.dumps(told, ensure_ascii=False), encoding="utf-8")
            try:
                made = _compiled(room / template)
                return with_metadata(made, known, dated=release_date() != NO_DATE)
            except typst.TypstError as refused:
                # A sign may be in a font alone and not together with the letter that it is set to.
                simpler = _without(told, str(refused))
                if simpler == told:
                    raise
                told = simpler


def measured(template: str, data: Mapping[str, Any], pictures: Mapping[str, str], label: str) -> Any:
    """What a template says of itself under a label, such as heights of what it sets."""
    with _room(pictures) as room:
        (room / "data.json").write_text(json.dumps(_in_print(data), ensure_ascii=False), encoding="utf-8")
        found = typst.query(
            str(room / template),
            f"<{label}>",
            field="value",
            one=True,
            root=str(room),
            font_paths=_fonts(),
            ignore_system_fonts=True,
        )
        return json.loads(found)


def _in_print(data: Mapping[str, Any]) -> Any:
    """The data as it is printed; the document's own title stays as it was typed, for `named`."""
    return printable(typographic(data) | {"named": data["title"]})


@contextmanager
def _room(pictures: Mapping[str, str]) -> Iterator[Path]:
    """A folder with the templates and the pictures."""
    with tempfile.TemporaryDirectory() as folder:
        room = Path(folder)
        for item in files("builder.edition.pdf").joinpath("templates").iterdir():
            if item.name.endswith(".typ"):
                (room / item.name).write_bytes(item.read_bytes())
        for name, svg in pictures.items():
            (room / name).write_text(svg, encoding="utf-8")
        yield room


def _compiled(template: Path) -> bytes:
    made = typst.compile(
        str(template),
        root=str(template.parent),
        format="pdf",
        font_paths=_fonts(),
        ignore_system_fonts=True,
        timestamp=release_date(),
        pdf_standards=["a-2a", "ua-1"],
    )
    assert isinstance(made, bytes)
    return made


@cache
def _fonts() -> typst.Fonts:
    return typst.Fonts(include_system_fonts=False, font_paths=font_folders())


_UNSHOWN = re.compile(r'the (?:text|PDF contains the codepoint) `"(.+?)"`', re.DOTALL)


def _without(data: Any, refusal: str) -> Any:
    """The data with the stand-in for the characters that the typesetter could not show; where it names only
    the letter that a mark is set to, without any marks."""
    found = _UNSHOWN.search(refusal)
    shown = re.sub(r"\\u\{([0-9a-f]+)\}", lambda m: chr(int(m[1], 16)), found[1]) if found else ""
    table = {ord(c): STAND_IN for c in shown if not c.isascii()}
    simpler = changed(data, lambda text: text.translate(table))
    if simpler != data or not found:
        return simpler
    return changed(data, lambda text: "".join(c for c in text if unicodedata.category(c) not in _MARKS))


_MARKS = ("Mn", "Me", "Mc", "Cf")


def release_date() -> datetime.datetime:
    """The date put on files: `SOURCE_DATE_EPOCH` in seconds, in UTC; the first day of 1980 without it,
    as archives do (PDF/A asks for a date, and a clock would make every build another one)."""
    seconds = os.environ.get("SOURCE_DATE_EPOCH", "")
    if not seconds.isdigit():
        return NO_DATE
    return datetime.datetime.fromtimestamp(int(seconds), datetime.UTC)
