"""Templates, pictures and data to PDF, through the typesetting engine.

No clock is read: the date is the one of `SOURCE_DATE_EPOCH` (reproducible-builds.org), or a fixed one.
"""

from __future__ import annotations

import datetime
import json
import os
import tempfile
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path
from typing import Any

import typst

NO_DATE = datetime.datetime(1980, 1, 1, tzinfo=datetime.UTC)


def typeset(template: str, data: Mapping[str, Any], pictures: Mapping[str, str]) -> bytes:
    """Typeset `template` (a file of `builder/edition/templates`) with its data and pictures, by file
    name. Only fonts that travel with the engine are used, so that every machine gives the same bytes.
    The PDF meets PDF/A-2a (ISO 19005-2, for keeping) and PDF/UA-1 (ISO 14289-1, for reading aloud): the
    engine refuses to make one that does not.
    """
    with tempfile.TemporaryDirectory() as folder:
        room = Path(folder)
        for item in files("builder.edition").joinpath("templates").iterdir():
            if item.name.endswith(".typ"):
                (room / item.name).write_bytes(item.read_bytes())
        for name, svg in pictures.items():
            (room / name).write_text(svg, encoding="utf-8")
        (room / "data.json").write_text(json.dumps(data, ensure_ascii=False), encoding="utf-8")
        made = typst.compile(
            str(room / template),
            root=folder,
            format="pdf",
            ignore_system_fonts=True,
            timestamp=release_date(),
            pdf_standards=["a-2a", "ua-1"],
        )
    assert isinstance(made, bytes)
    return made


def release_date() -> datetime.datetime:
    """The date put on files: `SOURCE_DATE_EPOCH` in seconds, in UTC; the first day of 1980 without it,
    as archives do (PDF/A asks for a date, and a clock would make every build another one)."""
    seconds = os.environ.get("SOURCE_DATE_EPOCH", "")
    if not seconds.isdigit():
        return NO_DATE
    return datetime.datetime.fromtimestamp(int(seconds), datetime.UTC)
