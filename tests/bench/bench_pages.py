"""How a book lies on its pages: share of empty height by page, blank pages, and collisions by geometry.

    .venv/bin/python tests/bench/bench_pages.py [--keep FOLDER] [--paper a4 --paper tablet …] [--course]

Twenty-four versets in odd shapes (`odd_versets.py`) are set, drawn and bound. A page's empty height is what
lies between its last ink and the foot of its column, running foot and margins not counted. Collisions are
those of the drawn systems: figures, numbers, names of voices, accidentals, stems, rests that overlap, by the
boxes of the engraver's glyphs. `--course` looks at all versets of the demonstration course instead: given,
plain and every level of diminution, and the student's sheet.
"""

from __future__ import annotations

import argparse
import pickle
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

import pymupdf

sys.path.insert(0, str(Path(__file__).parent))

from geometry import astray, collisions, rests
from odd_versets import odd_versets

from builder.edition.book.book import Book, Chapter, bind, chapter
from builder.edition.pdf.paper import PAPERS, paper
from builder.edition.pdf.student import with_empty_staves
from builder.edition.pdf.systems import systems
from builder.engraving.given import given_mei
from builder.engraving.openscore import clefs_of
from builder.music import Version
from builder.setting.setting import Setting, set_verset
from builder.source import parse, read

MM = 72 / 25.4


def settings(folder: Path, only: Sequence[str]) -> Iterator[Setting]:
    """The odd versets, all or those named, each set once and kept in a folder between two runs."""
    for stem, source in odd_versets():
        if only and stem not in only:
            continue
        kept = folder / f"{stem}.pickle"
        if not kept.exists():
            started = time.process_time()
            kept.write_bytes(pickle.dumps(set_verset(parse(source, f"{stem}.md"))))
            print(f"{stem}: {time.process_time() - started:.1f} s", file=sys.stderr)
        yield pickle.loads(kept.read_bytes())


def empty_shares(pdf: bytes, name: str) -> list[float]:
    """For each page the share of its column that is empty below the last ink; 1 for a blank page."""
    size, found = paper(name), []
    top, foot = size.margin * MM, (size.height - size.margin) * MM
    for page in pymupdf.open(stream=pdf):
        ink = [b[3] for b in page.get_text("blocks") if b[1] < foot - 1 and b[3] <= foot + 12]
        ink += [d["rect"].y1 for d in page.get_drawings() if d["rect"].y0 < foot]
        ink += [i["bbox"][3] for i in page.get_image_info()]
        last = max((y for y in ink if y > top - 12), default=top)
        found.append(max(0.0, min(1.0, (foot - last) / (foot - top))))
    return found


def _no_music(name: str) -> bool:
    return any(part in name for part in ("plan", "tempo", "plate"))


def tell_rests(pictures: Sequence[str]) -> None:
    """Tell how near the rests on shared staves are to other voices, and how far from their own."""
    found = [one for svg in pictures for one in rests(svg)]
    near, off = sum(a < 0.4 for a, _ in found), sum(b > 2 for _, b in found)
    mean = sum(b for _, b in found) / max(1, len(found))
    print(
        f"{len(found)} rests on shared staves: {near} nearer than .4 of a space to another voice,"
        f" {off} more than 2 spaces off their own, {mean:.2f} on the mean"
    )


def look_at_the_course() -> None:
    """Tell what overlaps or goes astray in the pictures of every verset of the course."""
    count, found, drawn_music = 0, [], list[str]()
    for path in sorted((Path(__file__).parents[2] / "content").rglob("*.md")):
        if path.parent.name not in ("versets", "tones") or "```given" not in path.read_text("utf-8"):
            continue
        own = set_verset(read(path))
        drawn = dict(chapter(own, Book(""), versions=tuple(own.scores)).pictures)
        clefs = [clef for voice, clef in clefs_of(own.verset).items() if voice != own.verset.voices[-1]]
        empty = with_empty_staves(given_mei(own.verset, own.scores[Version.GIVEN]), clefs)
        student = systems(empty, width=paper("a4").column, apart=10, room=1.5)
        drawn |= {f"student-{n}": system.svg for n, system in enumerate(student, 1)}
        music = {name: svg for name, svg in drawn.items() if not _no_music(name)}
        count += len(music)
        drawn_music += music.values()
        found += [
            (path.stem, k, what) for k, svg in music.items() for what in (*collisions(svg), *astray(svg))
        ]
        print(f"{path.stem}: {len(music)} pictures", file=sys.stderr)
    print(f"{count} pictures, collisions:", found or "none")
    tell_rests(drawn_music)


def look_at_the_book(made: list[Chapter], name: str, folder: Path) -> None:
    """Bind a book and tell how full its pages are, and what overlaps on them."""
    pdf = bind(made, Book("Odd versets"), paper_name=name)
    (folder / f"book-{name}.pdf").write_bytes(pdf)
    shares = empty_shares(pdf, name)
    mean = sum(shares) / len(shares)
    print(f"{name}: {len(made)} versets, {len(shares)} pages, {mean:.3f} empty on the mean")
    print("more than half empty:", [n for n, share in enumerate(shares, 1) if 0.5 < share < 1])
    print("blank:", [n for n, share in enumerate(shares, 1) if share == 1])
    print(" ".join(f"{share:.2f}" for share in shares))
    found: dict[str, int] = {}
    for each in made:
        for picture, svg in each.pictures.items():
            for what in () if _no_music(picture) else (*collisions(svg), *astray(svg)):
                found[what] = found.get(what, 0) + 1
                print(f"  {each.name} {picture}: {what}", file=sys.stderr)
    print("collisions:", found or "none")
    tell_rests([svg for each in made for name, svg in each.pictures.items() if not _no_music(name)])


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--keep", type=Path, default=Path(tempfile.gettempdir()) / "odd-versets")
    asked.add_argument("--paper", action="append", choices=PAPERS, help="without it A4; may come again")
    asked.add_argument("--only", action="append", metavar="NAME", help="without it all; may come again")
    asked.add_argument("--course", action="store_true")
    options = asked.parse_args()
    if options.course:
        look_at_the_course()
        return
    options.keep.mkdir(parents=True, exist_ok=True)
    own = list(settings(options.keep, options.only or ()))
    for name in options.paper or ["a4"]:
        made = [chapter(setting, Book("Odd versets"), paper_name=name) for setting in own]
        look_at_the_book(made, name, options.keep)


if __name__ == "__main__":
    main()
