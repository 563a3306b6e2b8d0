"""How long the printed edition takes: `python tests/bench/bench_edition.py`.

Prints the time of engraving and of typesetting for a book of 24 versets on each paper, and of archives
of growing size, with the archive's bytes beyond its content.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
import zipfile
from dataclasses import replace
from pathlib import Path

from builder.edition.book.book import Book, book
from builder.edition.pdf import incipit as pdf_incipit
from builder.edition.pdf import sheet as pdf_room
from builder.edition.release.release import About, release
from builder.setting.setting import set_verset
from builder.source import read

VERSETS = sorted((Path(__file__).parents[2] / "content" / "versets").glob("*.md"))
COUNT = 24
LIMIT = 20.0
"""Seconds for the book beyond the engraving itself."""


class Clock:
    """Adds up the time spent in a function."""

    def __init__(self) -> None:
        self.seconds = 0.0

    def around(self, function):
        def timed(*args, **named):
            start = time.perf_counter()
            try:
                return function(*args, **named)
            finally:
                self.seconds += time.perf_counter() - start

        return timed


def books(settings) -> bool:
    """Time the book on each paper; whether all are within the limit."""
    engraving = Clock()
    pdf_room.systems = engraving.around(pdf_room.systems)
    pdf_incipit.systems = engraving.around(pdf_incipit.systems)
    good = True
    for paper in ("a4", "tablet"):
        engraving.seconds = 0.0
        start = time.perf_counter()
        made = book(settings, Book("Twenty-four versets"), paper_name=paper)
        whole = time.perf_counter() - start
        beyond = whole - engraving.seconds
        good &= beyond < LIMIT
        print(
            f"book of {len(settings)}, {paper:<6}: {whole:6.2f} s, engraving {engraving.seconds:5.2f} s, "
            f"the rest {beyond:5.2f} s; {len(made) / 1e6:.2f} MB"
        )
    return good


def archives() -> None:
    about = About("v", "V", "1.0.0", (), "MIT", "text")
    with tempfile.TemporaryDirectory() as folder:
        for count in (100, 200, 400, 800):
            site = Path(folder) / f"site{count}"
            site.mkdir()
            (site / "index.html").write_text("<html/>")
            for n in range(count):
                (site / f"{n:04}.mp3").write_bytes(os.urandom(20_000))
            start = time.perf_counter()
            made = release(about, site, {}, Path(folder))
            took = time.perf_counter() - start
            with zipfile.ZipFile(made.path) as found:
                inside = sum(i.file_size for i in found.infolist() if "/site/" in i.filename)
            over = made.path.stat().st_size - inside
            print(f"archive of {count:4} files: {took:5.2f} s; {over / count:6.1f} bytes beyond each file")


def main() -> int:
    start = time.perf_counter()
    settings = [
        set_verset(replace(source, settings=replace(source.settings, move=words)))
        for words in ("", "a tone lower", "a tone higher", "a fourth lower", "a fourth higher")
        for source in map(read, VERSETS)
    ][:COUNT]
    print(f"{len(settings)} different versets set in {time.perf_counter() - start:.2f} s")
    good = books(settings)
    archives()
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
